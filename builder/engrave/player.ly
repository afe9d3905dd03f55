% A wind player's signs that the engraver has no command for.

% A trill between two fingerings of one pitch: a word over the trill's sign.
timbralTrill =
#(define-event-function () ()
   #{
     -\tweak stencil
       #(lambda (grob)
          (grob-interpret-markup grob
            #{
              \markup \override #'(baseline-skip . 1.8)
                \center-column { \normal-text \teeny \italic "timbral" \musicglyph "scripts.trill" }
            #}))
     \trill
   #})

% An ornament with the accidentals of its other notes, in a column.
ornamentWith =
#(define-event-function (column sign) (markup? ly:event?)
   #{
     -\tweak stencil
       #(lambda (grob)
          (grob-interpret-markup grob #{ \markup \override #'(baseline-skip . 1.6) #column #}))
     #sign
   #})

% Where a way back or out leads, and the words over the end of a bar that send the player there.
segnoSign = \textMark \markup \musicglyph "scripts.segno"
codaSign = \textMark \markup \musicglyph "scripts.coda"
barEndWords =
#(define-music-function (words) (string?)
   #{ \textEndMark \markup { \italic #words \hspace #0.5 } #})

% A tempo that changes by and by: words and a dashed line, and the tempo that it comes to.
tempoChange =
#(define-event-function (words) (markup?)
   #{
     -\tweak style #'dashed-line
     -\tweak dash-period #1.6
     -\tweak bound-details.left.text #words
     -\tweak bound-details.left.stencil-align-dir-y #CENTER
     -\tweak bound-details.left.stencil-offset #'(0 . 0)
     -\tweak bound-details.left-broken.text ##f
     -\tweak bound-details.right.padding #0.6
     -\tweak to-barline ##f
     -\tweak after-line-breaking #keep-on-paper
     % Farther from the notes than words and fingerings.
     -\tweak outside-staff-priority #500
     \startTrillSpan
   #})

\layout {
  \context {
    \Voice
    % A slide between neighbours has room to be seen.
    \override Glissando.minimum-length = #4
    \override Glissando.springs-and-rods = #ly:spanner::set-spacing-rods
    \override Glissando.thickness = #1.5
    % Strokes have one shape on stems with and without beams.
    \override StemTremolo.shape = #'beam-like
  }
}

% A fingering over its note: it has room of its own, and stands over the middle of the head.
fingeringChart =
#(define-event-function (chart) (markup?)
   #{
     -\tweak X-extent #ly:grob::stencil-width
     -\tweak extra-spacing-width #'(-0.4 . 0.4)
     -\tweak extra-spacing-height #'(-inf.0 . +inf.0)
     -\tweak self-alignment-X #CENTER
     -\tweak parent-alignment-X #CENTER
     -\tweak staff-padding #2.5
     % Farther from the notes than words.
     -\tweak outside-staff-priority #460
     -\tweak outside-staff-padding #0.9
     ^\markup #chart
   #})

fingeringNumbers =
#(define-event-function (numbers) (markup?)
   #{
     -\tweak X-extent #ly:grob::stencil-width
     -\tweak extra-spacing-width #'(-0.2 . 0.2)
     -\tweak self-alignment-X #CENTER
     -\tweak parent-alignment-X #CENTER
     ^\markup #numbers
   #})
