\version "2.24.0"
\language "english"

% Signs that last: hairpins, levels within a note, vibrato. They hang between the columns of the notes and
% are drawn when those have their places, so that they take no room: lines that differ in signs alone have
% their notes and bar lines at the same places. A row beside the staff has one skip for each note with signs,
% `\shade MARK PART` for each sign, `PART` from 0/1 to 1/1 of the note's time.

#(set-object-property! 'sign 'music-type? list?)
#(set-object-property! 'sign 'music-doc "A mark and its place in its note's time.")

shade =
#(define-event-function (mark part) (string? fraction?)
   (make-music 'CrescendoEvent
               'span-direction START
               'sign (list mark (/ (car part) (cdr part)))))

% A place in time is a list: the column of its note, the two columns at the note's end, the part of its time,
% and the note's signs, each with its part.

#(define (system-of grob) (ly:grob-system grob))

#(define (where grob common) (ly:grob-relative-coordinate grob common X))

% The left edge of a column's ink, or its place where it has none.
#(define (left-edge column common)
   (let ((extent (ly:grob-extent column common X)))
     (if (interval-sane? extent) (car extent) (where column common))))

% Where a note's time ends: at the bar line or breath before the next note, or at that note itself.
#(define (note-end place system)
   (let* ((next (cadr place))
          (gap (caddr place))
          (last (ly:spanner-bound system RIGHT)))
     (cond
      ((not (and next (eq? (system-of next) system))) (left-edge last system))
      ((and gap (eq? (system-of gap) system)
            (interval-sane? (ly:grob-extent gap system X)))
       (min (where next system) (car (ly:grob-extent gap system X))))
      (else (where next system)))))

#(define (x-of place system)
   (let ((from (where (car place) system))
         (part (cadddr place)))
     (if (zero? part)
         from
         (+ from (* part (- (note-end place system) from))))))

#(define (on? place system) (eq? (system-of (car place)) system))

% The pieces of a sign that a line's end has cut, each with the edges of what it covers.
#(define (edges-of piece from until)
   (let ((system (system-of piece)))
     (cons (if (on? from system)
               (x-of from system)
               (let ((bound (ly:spanner-bound piece LEFT)))
                 (cdr (ly:grob-extent bound system X))))
           (if (on? until system)
               (x-of until system)
               (left-edge (ly:spanner-bound system RIGHT) system)))))

#(define (pieces-of grob)
   (let* ((whole (ly:grob-original grob))
          (broken (ly:spanner-broken-into whole)))
     (filter (lambda (piece) (ly:grob? (system-of piece)))
             (if (null? broken) (list grob) broken))))

% The part of a sign's whole length before a piece of it, and that up to the piece's end.
#(define (share-of grob from until)
   (if (eq? grob (ly:grob-original grob))
       '(0 . 1)
       (share-of-broken grob from until)))

#(define (share-of-broken grob from until)
   (let* ((lengths (map (lambda (piece)
                          (let ((edges (edges-of piece from until)))
                            (cons piece (max 0 (- (cdr edges) (car edges))))))
                        (pieces-of grob)))
          (total (max 0.01 (apply + (map cdr lengths)))))
     (let next ((rest lengths) (before 0))
       (cond
        ((null? rest) (cons 0 1))
        ((eq? (caar rest) grob)
         (cons (/ before total) (/ (+ before (cdar rest)) total)))
        (else (next (cdr rest) (+ before (cdar rest))))))))

#(define (sign-of grob) (assq-ref (ly:grob-property grob 'details) 'sign))

% A stencil drawn in its system's coordinates, moved to its own spanner's.
#(define (settled stencil grob system)
   (ly:stencil-translate-axis stencil (- (where grob system)) X))

#(define half-head 0.65)
#(define level-gap 0.35)

#(define (level? mark)
   (and (char-alphabetic? (string-ref mark 0)) (not (string=? mark "o<"))))

% The levels' letters, drawn once: an engraver has one size of staff.
#(define level-letters (make-hash-table))

#(define (letters grob mark)
   (or (hash-ref level-letters mark)
       (let ((made (grob-interpret-markup grob (make-dynamic-markup mark))))
         (hash-set! level-letters mark made)
         made)))

#(define (level-width grob mark)
   (interval-length (ly:stencil-extent (letters grob mark) X)))

% How large a note's levels are: smaller where they and their hairpins have little room.
#(define (level-scale grob place system)
   (let ((signs (list-ref place 4)))
     (if (< (count (lambda (sign) (level? (car sign))) signs) 2)
         1
         (let* ((levels (filter level? (map car signs)))
                (hairpins (count (lambda (sign) (not (or (level? (car sign)) (string=? (car sign) "!"))))
                                 signs))
                (needed (+ 1 (apply + (map (lambda (mark) (level-width grob mark)) levels))
                           (* 1.4 hairpins)))
                (room (- (note-end place system) (where (car place) system))))
           (max 0.6 (min 1 (/ room needed)))))))

#(define (level-stencil grob mark place system)
   (let ((scale (level-scale grob place system)))
     (if (= scale 1)
         (letters grob mark)
         (ly:stencil-scale (letters grob mark) scale scale))))

% The left edge of the level at a note's end, or where that note's time ends.
#(define (closing-edge grob place system)
   (let ((last (find (lambda (sign) (and (level? (car sign)) (>= (cdr sign) 7/8))) (list-ref place 4)))
         (end (note-end place system)))
     (if last
         (- end 0.3 (* (level-scale grob place system) (level-width grob (car last))))
         end)))

#(define (opening-edge grob place system)
   (let ((first (find (lambda (sign) (and (level? (car sign)) (zero? (cdr sign)))) (list-ref place 4)))
         (start (where (car place) system)))
     (if first
         (+ start half-head (/ (* (level-scale grob place system) (level-width grob (car first))) 2))
         start)))

% The edges of a level: below the middle of its note's head, within the note's time, or at its end. One
% within the time leaves room for a hairpin on either side.
#(define (level-edges grob mark place system)
   (let* ((width (* (level-scale grob place system) (level-width grob mark)))
          (part (cadddr place))
          (x (x-of place system))
          (left (cond
                 ((zero? part) (- (+ x half-head) (/ width 2)))
                 ((>= part 7/8) (- (note-end place system) width 0.3))
                 (else
                  (let ((least (+ 1 (opening-edge grob place system)))
                        (most (- (closing-edge grob place system) width 1)))
                    (if (< least most)
                        (max least (min most (- x (/ width 2))))
                        (/ (+ least most) 2)))))))
     (cons left (+ left width))))

#(define (draw-level grob)
   (let* ((sign (sign-of grob))
          (system (system-of grob))
          (mark (car sign))
          (at (cadr sign)))
     (if (on? at system)
         (settled
          (let ((level (level-stencil grob mark at system)))
            (ly:stencil-translate
             level
             (cons (- (car (level-edges grob mark at system)) (car (ly:stencil-extent level X)))
                   -0.6)))
          grob system)
         empty-stencil)))

#(define (draw-hairpin grob)
   (let* ((sign (sign-of grob))
          (system (system-of grob))
          (mark (car sign))
          (from (list-ref sign 1))
          (until (list-ref sign 2))
          (left-level (list-ref sign 3))
          (right-level (list-ref sign 4))
          (edges (edges-of grob from until))
          (starts (on? from system))
          (ends (on? until system))
          (least (cond
                  ((and starts left-level) (cdr (level-edges grob left-level from system)))
                  (starts (+ (car edges) (if (zero? (cadddr from)) 0 0.25)))
                  (else (car edges))))
          (most (if (and right-level (on? (cdr right-level) system))
                    (min (cdr edges)
                         (car (level-edges grob (car right-level) (cdr right-level) system)))
                    (- (cdr edges) 0.15)))
          (free (if (< (- most least) (* 4 level-gap)) 0.12 level-gap))
          (middle (/ (+ least most) 2))
          ;; However little room there is, there is a wedge to be seen.
          (left (min (- middle 0.3) (if (and starts left-level) (+ least free) least)))
          (right (max (+ middle 0.3) (- most (if right-level free 0.15))))
          (share (share-of grob from until))
          (grows (if (member mark '("<" "o<")) #t #f))
          (height (ly:grob-property grob 'height 0.6666))
          (thick (* (ly:grob-property grob 'thickness 1) (ly:staff-symbol-line-thickness grob)))
          (open-at (lambda (part) (* height (if grows part (- 1 part)))))
          (near (open-at (car share)))
          (far (open-at (cdr share)))
          (circle (and (string-contains mark "o") (if grows starts ends)))
          (radius 0.25)
          (tip-left (if (and circle grows) (+ left (* 2 radius)) left))
          (tip-right (if (and circle (not grows)) (- right (* 2 radius)) right))
          (line (lambda (side)
                  (make-line-stencil thick tip-left (* side near) tip-right (* side far)))))
     (if (> (- tip-right tip-left) 0.2)
         (settled
          (apply ly:stencil-add (line 1) (line -1)
                 (if circle
                     (list (ly:stencil-translate-axis
                            (make-circle-stencil radius thick #f)
                            (if grows (+ left radius) (- right radius)) X))
                     '()))
          grob system)
         empty-stencil)))

% Vibrato: one stroke as long as its time. It is level where the tone is straight, and its waves grow, die
% or are counted as those of the tone do.
#(define wave-length 1.15)
#(define wave-height 0.55)
#(define wave-thickness 0.17)

#(define (wave-path left right count height-of)
   (let ((half (/ (- right left) (* 2 count))))
     (append
      (list 'moveto left 0)
      (append-map
       (lambda (number)
         (let* ((from (+ left (* number half)))
                (swing (* 4/3 (if (even? number) 1 -1)
                          (height-of (/ (+ number 1/2) (* 2 count))))))
           (list 'curveto
                 (+ from (* 0.3642 half)) swing
                 (+ from (* 0.6358 half)) swing
                 (+ from half) 0)))
       (iota (* 2 count))))))

% Counted waves are arches side by side.
#(define (arches-path left right count)
   (let ((width (/ (- right left) count)))
     (append
      (list 'moveto left (- wave-height))
      (append-map
       (lambda (number)
         (let* ((from (+ left (* number width)))
                (top (- (* 4/3 2 wave-height) wave-height)))
           (list 'curveto
                 (+ from (* 0.1 width)) top
                 (+ from (* 0.9 width)) top
                 (+ from width) (- wave-height))))
       (iota count)))))

#(define (draw-vibrato grob)
   (let* ((sign (sign-of grob))
          (system (system-of grob))
          (mark (car sign))
          (from (list-ref sign 1))
          (until (list-ref sign 2))
          (word (list-ref sign 3))
          (joins (list-ref sign 4))
          (count (list-ref sign 5))
          (edges (edges-of grob from until))
          (left (car edges))
          (right (- (cdr edges)
                    (if (and joins (on? until system)) 0 0.5)))
          (share (share-of grob from until))
          (part (lambda (own)
                  (+ (car share) (* own (- (cdr share) (car share))))))
          (waves (max 1 (inexact->exact (round (/ (- right left) wave-length)))))
          (path (cond
                 ((string=? mark "-") (list 'moveto left 0 'lineto right 0))
                 ((string=? mark "~<")
                  (wave-path left right waves
                             (lambda (own) (* wave-height 1.25 (part own)))))
                 ((string=? mark "~>")
                  (wave-path left right waves
                             (lambda (own) (* wave-height 1.25 (- 1 (part own))))))
                 (count
                  (arches-path left right
                               (max 1 (inexact->exact
                                       (round (* count (- (cdr share) (car share))))))))
                 (else (wave-path left right waves (lambda (own) wave-height)))))
          (stroke (lambda () (make-path-stencil path wave-thickness 1 1 #f))))
     (if (> (- right left) 0.3)
         (settled
          (if (and word (on? from system))
              (let* ((text (grob-interpret-markup grob (make-italic-markup "vib.")))
                     (width (cdr (ly:stencil-extent text X)))
                     (most (- (ly:output-def-lookup (ly:grob-layout grob) 'line-width) width)))
                (ly:stencil-add
                 (stroke)
                 (ly:stencil-translate text (cons (min left most) (+ wave-height 0.7)))))
              (stroke))
          grob system)
         empty-stencil)))

% A sign's height, about, before lines have ended and it can be drawn.
#(define sign-height
   (ly:make-unpure-pure-container
    ly:grob::stencil-height
    (lambda (grob start end) '(-0.9 . 0.9))))

% A wave keeps clear as the box it is in: its many bends would cost more time than they are worth.
#(define unpure-box-skylines
   (ly:make-unpure-pure-container
    ly:grob::simple-vertical-skylines-from-extents
    ly:grob::pure-simple-vertical-skylines-from-extents))

% Reads a row's signs, and hangs each between its columns. `handle` says what each mark does.
#(define (make-signs-engraver handle)
   (lambda (context)
     (let ((events '())
           (length 0)
           (waiting '()))
       (define (now) (ly:moment-main (ly:context-current-moment context)))
       (define (column) (ly:context-property context 'currentMusicalColumn))
       (define (gap) (ly:context-property context 'currentCommandColumn))
       ;; Give the columns at their notes' ends to places that wait for them, and its right bound to a sign.
       (define (end-waiting engraver next at)
         (set! waiting
               (filter
                (lambda (each)
                  (let ((moment (car each)) (act (cdr each)))
                    (if (or (not at) (>= at moment))
                        (begin (act engraver next) #f)
                        #t)))
                waiting)))
       (define (wait moment act) (set! waiting (append waiting (list (cons moment act)))))
       (define (place-of part)
         (let ((found (list (column) #f #f part
                            (map (lambda (event)
                                   (let ((sign (ly:event-property event 'sign)))
                                     (cons (car sign) (cadr sign))))
                                 (reverse events)))))
           (wait (+ (now) length)
                 (lambda (engraver next)
                   (set-car! (cdr found) next)
                   (set-car! (cddr found) (gap))))
           found))
       (define (bound engraver grob part)
         (if (zero? part)
             (begin
               (ly:spanner-set-bound! grob RIGHT (column))
               (ly:engraver-announce-end-grob engraver grob '()))
             (wait (+ (now) length)
                   (lambda (engraver next)
                     (ly:spanner-set-bound! grob RIGHT next)
                     (ly:engraver-announce-end-grob engraver grob '())))))
       (let ((act (handle column place-of bound)))
         (make-engraver
          (listeners
           ((crescendo-event engraver event) (set! events (cons event events)))
           ((skip-event engraver event)
            (set! length (ly:moment-main (ly:event-property event 'length)))))
          ((process-music engraver)
           (end-waiting engraver (column) (now))
           (if (pair? events)
               (act engraver
                    (map (lambda (event) (cons event (ly:event-property event 'sign)))
                         (reverse events)))))
          ((stop-translation-timestep engraver) (set! events '()))
          ((finalize engraver)
           (act engraver #f)
           (end-waiting engraver (gap) #f)))))))

#(define (levels-and-hairpins column place-of bound)
   (let ((open #f) (closed #f))
     (define (spanner engraver event place part sign draw)
       (let ((grob (ly:engraver-make-grob engraver 'Hairpin event)))
         (ly:spanner-set-bound! grob LEFT (column))
         (ly:grob-set-nested-property! grob '(details sign) sign)
         (ly:grob-set-property! grob 'stencil draw)
         grob))
     (define (close engraver place part level)
       (if open
           (let ((sign (assq-ref (ly:grob-property open 'details) 'sign)))
             (set-car! (cddr sign) place)
             (set-car! (cddddr sign) (and level (cons level place)))
             (bound engraver open part)
             (set! closed sign)
             (set! open #f))))
     ;; A hairpin that ends with a note makes room for the level at the beginning of the next.
     (define (meet level place)
       (if closed
           (let ((until (caddr closed)))
             (if (and (= 1 (cadddr until)) (eq? (cadr until) (car place)) (not (list-ref closed 4)))
                 (set-car! (cddddr closed) (cons level place))))))
     (lambda (engraver signs)
       (if (not signs)
           (if open (close engraver (list (column) #f #f 0 '()) 0 #f))
           (for-each
            (lambda (part)
              (let* ((here (filter (lambda (each) (= (caddr each) part)) signs))
                     (marks (map cadr here))
                     (place (place-of part))
                     (level (find level? marks)))
                (close engraver place part level)
                (if (and level (zero? part)) (meet level place))
                (for-each
                 (lambda (each)
                   (let ((event (car each)) (mark (cadr each)))
                     (cond
                      ((equal? mark level)
                       (bound engraver
                              (spanner engraver event place part (list mark place) draw-level)
                              1))
                      ((string=? mark "!") #f)
                      (else
                       (set! open (spanner engraver event place part
                                           (list mark place #f level #f) draw-hairpin))))))
                 here)))
            (sort (delete-duplicates (map caddr signs)) <))))))

#(define levels-engraver (make-signs-engraver levels-and-hairpins))

#(define (vibrato-strokes column place-of bound)
   (let ((open #f) (worded #f))
     (define (close engraver place part joins)
       (if open
           (let ((sign (assq-ref (ly:grob-property open 'details) 'sign)))
             (set-car! (cddr sign) place)
             (set-car! (cddddr sign) joins)
             (bound engraver open part)
             (set! open #f))))
     (lambda (engraver signs)
       (if (not signs)
           (if open (close engraver (list (column) #f #f 0 '()) 0 #f))
           (for-each
            (lambda (each)
              (let* ((mark (cadr each)) (part (caddr each)) (place (place-of part))
                     (count (string->number (substring mark 1)))
                     (grob #f))
                (close engraver place part (not (string=? mark "!")))
                (if (not (string=? mark "!"))
                    (begin
                      (set! grob (ly:engraver-make-grob engraver 'TrillSpanner (car each)))
                      (ly:spanner-set-bound! grob LEFT (column))
                      (ly:grob-set-nested-property!
                       grob '(details sign)
                       (list mark place #f
                             (and (not worded) (not count) (not (string=? mark "-")))
                             #f count))
                      (if (not (string=? mark "-")) (set! worded #t))
                      (set! open grob)))))
            signs)))))

#(define vibrato-engraver (make-signs-engraver vibrato-strokes))
