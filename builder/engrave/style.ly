% The house style of every page: what holds for all pieces, whatever they say.
\version "2.24.0"
\language "english"

% For each system, a row with its top, bottom, left and right edge on the page in millimetres, and the height of
% its highest staff's middle line where it has one, so that print can lay systems out anew, a screen can leave out the empty paper beside a short piece, and a line that is wider
% than its paper is seen. Below it, a row for each note head of the player's staff: its moment, the middle of
% its width, its height and its left edge.
#(define (write-systems layout pages)
   (let ((port (open-file (string-append (ly:output-def-lookup layout 'piece-name) ".txt") "w"))
         (scale (ly:output-def-lookup layout 'output-scale)))
     (define (staff-middle system offset)
       (let ((heights
              (filter-map
               (lambda (grob)
                 (and (grob::has-interface grob 'staff-symbol-interface)
                      (ly:grob-relative-coordinate grob system Y)))
               (ly:grob-array->list (ly:grob-object system 'all-elements)))))
         (if (pair? heights) (* scale (- offset (apply max heights))) "")))
     (define (write-heads system offset)
       (for-each
        (lambda (head)
          (if (and (grob::has-interface head 'note-head-interface)
                   (assq-ref (ly:grob-property head 'details) 'played))
              (let ((left (ly:grob-relative-coordinate head system X))
                    (moment (grob::when head)))
                (format port "note ~a ~a ~a ~a ~a\n"
                        (ly:moment-main moment) (ly:moment-grace moment)
                        (* scale (+ left (interval-center (ly:grob-extent head head X))))
                        (* scale (- offset (ly:grob-relative-coordinate head system Y)))
                        (* scale left)))))
        (ly:grob-array->list (ly:grob-object system 'all-elements))))
     (for-each
      (lambda (page)
        (for-each
         (lambda (line)
           (let ((offset (ly:prob-property line 'Y-offset))
                 (extent (ly:stencil-extent (ly:prob-property line 'stencil) Y))
                 (width (ly:stencil-extent (ly:prob-property line 'stencil) X))
                 (system (ly:prob-property line 'system-grob)))
             (format port "system ~a ~a ~a ~a ~a\n"
                     (* scale (- offset (cdr extent))) (* scale (- offset (car extent)))
                     (* scale (car width)) (* scale (cdr width))
                     (if (ly:grob? system) (staff-middle system offset) ""))
             (if (ly:grob? system) (write-heads system offset))))
         (ly:prob-property page 'lines)))
      pages)
     (close-port port)))

% A piece that is only printed needs no SVG, and one that is never printed needs no PDF.
#(if (defined? 'ly:cairo-output-stencils)
   (module-define!
    (resolve-module '(lily framework-cairo)) 'output-stencils
    (lambda (name stencils header paper formats)
      (ly:cairo-output-stencils
       name stencils header paper (ly:output-def-lookup paper 'piece-files formats)))))

% Words take no room either: one that would leave the paper is moved back, and broken into lines where it is
% longer than the paper is wide. Their columns know nothing of their width (`X-extent` below).
#(define lean 0.4) % italics lean out of their box

#(define (keep-on-paper grob)
   (let* ((system (ly:grob-system grob))
          (stencil (and (ly:grob? system) (ly:grob-property grob 'stencil)))
          (own (if (ly:stencil? stencil) (ly:stencil-extent stencil X) '(+inf.0 . -inf.0))))
     (if (interval-sane? own)
         (let* ((width (- (ly:output-def-lookup (ly:grob-layout grob) 'line-width) lean))
                (from (where grob system))
                (back (min 0 (- width (+ from (cdr own)))))
                (forth (max 0 (- (+ from (car own) back)))))
           (ly:grob-translate-axis! grob (+ back forth) X)))))

#(define-markup-command (words layout props text) (string?)
   (let* ((width (- (ly:output-def-lookup layout 'line-width) lean))
          (whole (interpret-markup layout props text)))
     (if (<= (interval-length (ly:stencil-extent whole X)) width)
         whole
         (let* ((rows (interpret-markup
                       layout (prepend-alist-chain 'line-width (* 0.98 width) props)
                       (make-wordwrap-string-markup text)))
                (wide (interval-length (ly:stencil-extent rows X))))
           (if (<= wide width)
               rows
               (ly:stencil-scale rows (/ width wide) (/ width wide)))))))

% A syllable takes room; one that no line could hold beside its clef and key is made smaller.
#(define (small-enough grob)
   (let* ((stencil (lyric-text::print grob))
          (most (- (ly:output-def-lookup (ly:grob-layout grob) 'line-width) 16))
          (wide (interval-length (ly:stencil-extent stencil X))))
     (if (> wide most) (ly:stencil-scale stencil (/ most wide) (/ most wide)) stencil)))

#(set-object-property! 'lineNumber 'translation-type? integer?)
#(set-object-property! 'lineNumber 'translation-doc "The number of the bar with which a line begins.")

% Where in its meter a bar begins that is not as long as that. The bar before has ended, however short it was.
barFrom =
#(define-music-function (part) (fraction?)
   (context-spec-music
    (make-apply-context
     (lambda (context)
       (let ((timing (ly:context-property-where-defined context 'measurePosition))
             (old (ly:context-property context 'measurePosition)))
         (if (not (zero? (ly:moment-main old)))
             (ly:context-set-property! timing 'currentBarNumber
                                       (1+ (ly:context-property context 'currentBarNumber))))
         (ly:context-set-property! timing 'measurePosition
                                   (ly:make-moment (/ (car part) (cdr part)))))))
    'Timing))

% The number above a line's beginning.
lineNumber =
#(define-music-function (number) (integer?)
   #{
     \set Score.lineNumber = #number
     \once \set Score.barNumberVisibility = #all-bar-numbers-visible
   #})

\paper {
  indent = 0
  left-margin = 1\mm
  right-margin = 1\mm
  top-margin = 0
  bottom-margin = 0
  ragged-bottom = ##t
  page-breaking = #ly:one-page-breaking
  page-post-process = #write-systems
  oddHeaderMarkup = ##f
  evenHeaderMarkup = ##f
  oddFooterMarkup = ##f
  evenFooterMarkup = ##f
  bookTitleMarkup = ##f
  scoreTitleMarkup = ##f
  system-system-spacing.padding = 2.5
  top-system-spacing.padding = 0.5
  last-bottom-spacing.padding = 0.5
}

% No signature, no bar lines and no accidentals but those that the notation asks for.
freeTime = {
  \cadenzaOn
  \omit Staff.TimeSignature
  \set Staff.autoAccidentals = #'()
}

% A line behind an open head, up to what comes next: the note is held as long as the breath. It is drawn when
% the notes have their places, and takes no room.
#(define (draw-extender grob)
   (let ((system (ly:grob-system grob)))
     (if (ly:grob? system)
         (ly:grob-set-property! grob 'stencil (extender grob system)))))

#(define (extender grob system)
   (let* ((following
           (memq (ly:item-get-column grob)
                 (ly:grob-array->list (ly:grob-object system 'columns))))
          (edges
           (filter-map
            (lambda (other)
              (let ((extent (ly:grob-extent other system X)))
                (and (interval-sane? extent) (car extent))))
            (if following (cdr following) '())))
          (head (ly:grob-object grob 'note-head))
          (staff (ly:grob-common-refpoint grob head Y))
          (height (lambda (each) (ly:grob-relative-coordinate each staff Y)))
          (left (+ (cdr (ly:grob-extent head system X)) 0.25))
          (right (- (if (pair? edges) (apply min edges) left) 0.7)))
     (if (> (- right left) 0.3)
         (ly:stencil-translate
          (make-line-stencil 0.3 left 0 right 0)
          (cons (- (where grob system)) (- (height head) (height grob))))
         empty-stencil)))

heldOn =
#(define-event-function () ()
   #{
     -\tweak stencil ##f
     -\tweak after-line-breaking #draw-extender
     -\tweak X-extent #'(+inf.0 . -inf.0)
     -\tweak Y-extent #'(-0.1 . 0.1)
     \laissezVibrer
   #})

% The room of the next note, which is held, in staff spaces from its column to the next, whatever its height.
heldRoom =
#(define-music-function (width) (number?)
   #{
     \once \override NoteHead.extra-spacing-width = #(cons 0 (- width 3))
     \once \override NoteHead.extra-spacing-height = #'(-inf.0 . +inf.0)
   #})

% A breath mark so many staff spaces above the middle line.
breatheAt =
#(define-music-function (height) (number?)
   #{ \once \override BreathingSign.Y-offset = #height \breathe #})

% A hold stands above the slurs, farther from the notes.
#(define (hold-priority script)
   (let ((cause (event-cause script)))
     (if (and cause (memq (ly:event-property cause 'articulation-type) '(fermata shortfermata longfermata "fermata" "shortfermata" "longfermata"))) 60 #f)))

% A trill whose upper note has an accidental of its own: its sign stands over the middle of the trill's.
trillWith =
#(define-event-function (sign) (markup?)
   #{
     -\tweak stencil
       #(lambda (grob)
          (grob-interpret-markup grob
            #{
              \markup \override #'(baseline-skip . 1.6)
                \center-column { \teeny #sign \musicglyph "scripts.trill" }
            #}))
     \trill
   #})

optionalPart =
#(define-music-function (words) (string?)
   #{
     \once \override TextSpanner.bound-details.left.text =
       \markup { \draw-line #'(0 . -1) \hspace #0.4 \small \italic #(string-append words " ") }
   #})

\layout {
  % What this notation never asks for takes no time.
  \context {
    \Voice
    \remove Ligature_bracket_engraver
    \remove Cluster_spanner_engraver
    \remove Pitched_trill_engraver
    \remove Arpeggio_engraver
    \remove Percent_repeat_engraver
    \remove Slash_repeat_engraver
    \remove Chord_tremolo_engraver
    \remove Double_percent_repeat_engraver
    \remove Part_combine_engraver
    \remove Melody_engraver
    \remove Instrument_switch_engraver
    \remove Auto_beam_engraver
    \remove Phrasing_slur_engraver
    \remove Dynamic_engraver
    \remove Dynamic_align_engraver
    \remove Finger_glide_engraver
    \remove Duration_line_engraver
    \remove Bend_spanner_engraver
    \remove Fingering_engraver
    \remove New_fingering_engraver
    \remove Grace_auto_beam_engraver
    \remove Concurrent_hairpin_engraver
    \remove Repeat_tie_engraver
  }
  \context {
    \Score
    \remove Mark_engraver
    \remove Jump_engraver
    \remove Parenthesis_engraver
    \remove Stanza_number_align_engraver
    \remove Footnote_engraver
    \remove Show_control_points_engraver
    \accepts Waves
    barNumberVisibility = ##f
    barNumberFormatter =
      #(lambda (number position other context)
         (number->string (ly:context-property context 'lineNumber number)))
    \override BarNumber.self-alignment-X = #LEFT
    \override BarNumber.padding = #0.6
    \override TextSpanner.bound-details.right.text = \markup { \draw-line #'(0 . -1) }
    \override TextSpanner.bound-details.left.stencil-align-dir-y = #UP
    \override TextSpanner.bound-details.right.stencil-align-dir-y = #UP
    \override TextSpanner.style = #'dashed-line
    \override TextSpanner.to-barline = ##f
    \override TextSpanner.bound-details.left-broken.text = ##f
    \override TextSpanner.bound-details.right-broken.text = ##f
    \override TextScript.after-line-breaking = #keep-on-paper
    \override TextScript.X-extent = #'(+inf.0 . -inf.0)
    \override TextSpanner.after-line-breaking = #keep-on-paper
    \override MetronomeMark.after-line-breaking = #keep-on-paper
    \override MetronomeMark.X-extent = #'(+inf.0 . -inf.0)
    \override SpacingSpanner.common-shortest-duration = #(ly:make-moment 1/8)
    \override SpacingSpanner.spacing-increment = #1.7
    \accepts SmallStaff
    \accepts Duet
    \accepts ChordRow
  }
  \context {
    \Dynamics
    \remove Dynamic_engraver
    \remove Dynamic_align_engraver
    \consists #levels-engraver
    \override Hairpin.springs-and-rods = ##f
    \override Hairpin.minimum-length = ##f
    \override Hairpin.Y-offset = #0
    \override Hairpin.Y-extent = #sign-height
  }
  \context {
    \Dynamics
    \name Waves
    \alias Dynamics
    \description "A row above the staff: where vibrato begins, how it goes on, and where it ends."
    \remove #levels-engraver
    \consists #vibrato-engraver
    \override VerticalAxisGroup.staff-affinity = #DOWN
    \override VerticalAxisGroup.nonstaff-relatedstaff-spacing.padding = #0.9
    \override TrillSpanner.stencil = #draw-vibrato
    \override TrillSpanner.springs-and-rods = ##f
    \override TrillSpanner.outside-staff-priority = ##f
    \override TrillSpanner.Y-offset = #0
    \override TrillSpanner.Y-extent = #sign-height
    \override TrillSpanner.vertical-skylines = #unpure-box-skylines
  }
  \context {
    \Dynamics
    % Syllables come below the levels, clear of them.
    \override VerticalAxisGroup.nonstaff-nonstaff-spacing.padding = #0.8
  }
  \context {
    \Lyrics
    \override LyricText.font-shape = #'italic
    \override LyricText.font-size = #0
    \override LyricText.stencil = #small-enough
    \override LyricSpace.minimum-distance = #0.8
  }
  \context {
    \Lyrics
    \name ChordRow
    \alias Lyrics
    \description "Names of chords above a staff, each from where it begins."
    \override VerticalAxisGroup.staff-affinity = #DOWN
    \override VerticalAxisGroup.nonstaff-relatedstaff-spacing.padding = #0.9
    \override LyricText.font-shape = #'upright
    \override LyricText.font-size = #1
    \override LyricText.self-alignment-X = #LEFT
    \override LyricSpace.minimum-distance = #1.4
  }
  \context {
    \StaffGroup
    \accepts SmallStaff
    \accepts Waves
    systemStartDelimiter = #'SystemStartBar
    % Levels stand between the staves, and no bar line runs through them.
    \remove Span_bar_engraver
    \accepts Duet
    \accepts ChordRow
  }
  \context {
    \StaffGroup
    \name Duet
    \alias StaffGroup
    \description "The staves of two players, with a bracket and common bar lines."
    systemStartDelimiter = #'SystemStartBracket
    \consists Span_bar_engraver
    \accepts SecondStaff
  }
  \context {
    \Staff
    \remove Figured_bass_engraver
    \remove Figured_bass_position_engraver
    \remove Ottava_spanner_engraver
    \remove Piano_pedal_engraver
    \remove Piano_pedal_align_engraver
    \remove Staff_highlight_engraver
    \remove Fingering_column_engraver
    \remove Instrument_name_engraver
    \remove Cue_clef_engraver
    \remove Collision_engraver
    \remove Merge_mmrest_numbers_engraver
    \remove Signum_repetitionis_engraver
    \override NoteHead.details.played = ##t
    % The notation says where each beam begins and ends.
    autoBeaming = ##f
    % A phrase keeps its slur's side in every key. Holds and breaths stand above it, and it clears accidentals.
    \override Slur.direction = #UP
    \override Slur.details.accidental-collision = #30
    \override Slur.details.free-head-distance = #0.5
    % It begins and ends at a stem's tip rather than beside the stem.
    \override Slur.details.edge-attraction-factor = #0.3
    \override Slur.details.stem-encompass-penalty = #300
    \override Script.outside-staff-priority = #hold-priority
  }
  \context {
    \Staff
    \name SecondStaff
    \alias Staff
    \description "The second player's staff: the page's mark goes along the first."
    \override NoteHead.details.played = ##f
  }
  \context {
    \Staff
    \name SmallStaff
    \alias Staff
    \description "A smaller staff, for what is heard and not played."
    \override NoteHead.details.played = ##f
    fontSize = #-4
    \override StaffSymbol.staff-space = #(magstep -4)
    \override StaffSymbol.thickness = #(magstep -3)
  }
}
