"""One small piece by which an engraver shows that it can engrave. It goes all the way to ink."""

from __future__ import annotations

from ..piece import Failure, Piece
from .lilypond import Engraver
from .worker import Worker

TRIAL = Piece(
    "the builder's own small piece",
    r"""
\score {
  <<
    \new Staff {
      \key d \major \time 4/4
      d''4 ( fs''8 ) [ a''8 ] \tuplet 3/2 { b''8 a''8 g''8 } fs''4 -. ^ \markup { "softly" } | d''1 \fermata
    }
    \new Dynamics { s1 \shade "mf" 0/1 \shade "<" 1/4 | s1 \shade "!" 0/1 \shade "f" 0/1 }
  >>
}
""",
)


def find_trial_failure(engraver: Engraver) -> Failure | None:
    """What keeps an engraver from this piece; None where it engraves it."""
    worker = Worker(engraver)
    try:
        [result] = worker.engrave([TRIAL])
    finally:
        worker.close()
    return result if isinstance(result, Failure) else None
