% The house style of every page: what holds for all pieces, whatever they say.
\version "2.24.0"
\language "english"

% For each system, its top, bottom and right edge on the page in millimetres, so that print can lay
% systems out anew and a screen can leave out the empty paper beside a short piece.
#(define (write-systems layout pages)
   (let ((port (open-file "systems.txt" "a"))
         (piece (ly:output-def-lookup layout 'piece-name))
         (scale (ly:output-def-lookup layout 'output-scale)))
     (for-each
      (lambda (page)
        (for-each
         (lambda (line)
           (let ((offset (ly:prob-property line 'Y-offset))
                 (extent (ly:stencil-extent (ly:prob-property line 'stencil) Y))
                 (width (ly:stencil-extent (ly:prob-property line 'stencil) X)))
             (format port "~a ~a ~a ~a\n" piece
                     (* scale (- offset (cdr extent))) (* scale (- offset (car extent)))
                     (* scale (cdr width)))))
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

optionalPart =
  \once \override TextSpanner.bound-details.left.text =
    \markup { \draw-line #'(0 . -1) \hspace #0.4 \small \italic "may be left out " }

\layout {
  \context {
    \Score
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
    \StaffGroup
    \accepts SmallStaff
    systemStartDelimiter = #'SystemStartBar
  }
  \context {
    \Staff
    \name SmallStaff
    \alias Staff
    \description "A smaller staff, for what is heard and not played."
    fontSize = #-4
    \override StaffSymbol.staff-space = #(magstep -4)
    \override StaffSymbol.thickness = #(magstep -3)
  }
}
