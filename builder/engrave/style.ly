% The house style of every page: what holds for all pieces, whatever they say.
\version "2.24.0"
\language "english"

% For each system, a row with its top, bottom and right edge on the page in millimetres, so that print can
% lay systems out anew and a screen can leave out the empty paper beside a short piece. Below it, a row for
% each note head of the player's staff: its moment, the middle of its width, its height and its left edge.
#(define (write-systems layout pages)
   (let ((port (open-file (string-append (ly:output-def-lookup layout 'piece-name) ".txt") "w"))
         (scale (ly:output-def-lookup layout 'output-scale)))
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
             (format port "system ~a ~a ~a\n"
                     (* scale (- offset (cdr extent))) (* scale (- offset (car extent)))
                     (* scale (cdr width)))
             (if (ly:grob? system) (write-heads system offset))))
         (ly:prob-property page 'lines)))
      pages)
     (close-port port)))

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

% A breath mark so many staff spaces above the middle line.
breatheAt =
#(define-music-function (height) (number?)
   #{ \once \override BreathingSign.Y-offset = #height \breathe #})

% A hold stands above the slurs, farther from the notes.
#(define (hold-priority script)
   (let ((cause (event-cause script)))
     (if (and cause (memq (ly:event-property cause 'articulation-type) '(fermata "fermata"))) 60 #f)))

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
  \once \override TextSpanner.bound-details.left.text =
    \markup { \draw-line #'(0 . -1) \hspace #0.4 \small \italic "may be left out " }

\layout {
  \context {
    \Score
    \accepts Waves
    \remove Bar_number_engraver
    \override TextSpanner.bound-details.right.text = \markup { \draw-line #'(0 . -1) }
    \override TextSpanner.bound-details.left.stencil-align-dir-y = #UP
    \override TextSpanner.bound-details.right.stencil-align-dir-y = #UP
    \override TextSpanner.style = #'dashed-line
    \override TextSpanner.to-barline = ##f
    \override Hairpin.minimum-length = #8
    \override SpacingSpanner.common-shortest-duration = #(ly:make-moment 1/8)
    \override SpacingSpanner.spacing-increment = #1.7
    \accepts SmallStaff
  }
  \context {
    \Dynamics
    \name Waves
    \alias Dynamics
    \description "A row above the staff: where vibrato begins and ends."
    \consists Trill_spanner_engraver
    \override VerticalAxisGroup.staff-affinity = #DOWN
    \override TrillSpanner.bound-details.left.text = \markup \italic "vib. "
    \override TrillSpanner.bound-details.left-broken.text = ##f
    \override TrillSpanner.minimum-length = #16
    \override TrillSpanner.springs-and-rods = #ly:spanner::set-spacing-rods
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
    \override LyricSpace.minimum-distance = #0.8
  }
  \context {
    \StaffGroup
    \accepts SmallStaff
    \accepts Waves
    systemStartDelimiter = #'SystemStartBar
    % Levels stand between the staves, and no bar line runs through them.
    \remove Span_bar_engraver
  }
  \context {
    \Staff
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
    \name SmallStaff
    \alias Staff
    \description "A smaller staff, for what is heard and not played."
    \override NoteHead.details.played = ##f
    fontSize = #-4
    \override StaffSymbol.staff-space = #(magstep -4)
    \override StaffSymbol.thickness = #(magstep -3)
  }
}
