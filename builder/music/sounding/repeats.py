"""Repeats, and the ways back and out of them: in which order the bars of a page are heard.

The rules are common practice; E. Gould, "Behind Bars" (2011), on repeat signs, from memory:

1. A repeated passage is heard twice, or as often as is written over its end, with its endings in turn: the
   second ending the last time, the first ending each time before.
2. Da capo leads back to the beginning, and dal segno to the segno. From there on nothing is repeated, and of
   two endings only the second is heard.
3. The music then ends at `fine`, or goes from `to-coda` to the coda and on to the end.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..printed_words import TIMES

if TYPE_CHECKING:
    from ..score import Bar

SEGNO, CODA = "segno", "coda"
"""Signs at the beginning of a bar: where `dal-segno` and `to-coda` lead."""

FINE, TO_CODA, DA_CAPO, DAL_SEGNO = "fine", "to-coda", "da-capo", "dal-segno"
"""What may stand at the end of a bar."""

SIGNS_BEFORE = (SEGNO, CODA)
WORDS_AFTER = (FINE, TO_CODA, DA_CAPO, DAL_SEGNO)
WAYS_BACK = (DA_CAPO, DAL_SEGNO)


def way_back(bars: tuple[Bar, ...]) -> int | None:
    """The number of the bar that ends with da capo or dal segno, from 0; None if there is none."""
    return next((number for number, bar in enumerate(bars) if bar.jump in WAYS_BACK), None)


def playback_order(bars: tuple[Bar, ...]) -> tuple[int, ...]:
    """The numbers of bars, from 0, in the order they are played.

    `:|` leads back to the nearest `|:` before it, or to where the last repeat ended, or to the beginning.
    """
    back = way_back(bars)
    if back is None:
        return tuple(_repeated(bars, 0, len(bars)))
    coda = next((number for number, bar in enumerate(bars) if bar.sign == CODA), None)
    order = _repeated(bars, 0, back + 1)
    start = 0
    if bars[back].jump == DAL_SEGNO:
        start = next((number for number, bar in enumerate(bars) if bar.sign == SEGNO), 0)
    for number in range(start, len(bars)):
        if bars[number].ending == 1:
            continue
        order.append(number)
        if bars[number].jump == FINE:
            break
        if bars[number].jump == TO_CODA and coda is not None:
            order += _repeated(bars, coda, len(bars))
            break
    return tuple(order)


def _repeated(bars: tuple[Bar, ...], begin: int, end: int) -> list[int]:
    """The bars of a stretch with its repeats played."""
    order: list[int] = []
    start = begin
    for index in range(begin, end):
        if bars[index].opens_repeat:
            start = index
        order.append(index)
        if bars[index].end == ":|":
            passage = range(start, index + 1)
            order += [*passage] * (bars[index].times - 2)
            order += [again for again in passage if not bars[again].ending]
            start = index + 1
    return order


def words_at_end(bars: tuple[Bar, ...], number: int, times: str = TIMES) -> str:
    """What is printed over the end of a bar: `D.C. al Fine`, `To Coda`, `4 times`; empty if nothing is.

    `times` is how the last of these is said.
    """
    bar = bars[number]
    found = [times.format(count=bar.times)] if bar.end == ":|" and bar.times != 2 else []
    if bar.jump in WAYS_BACK:
        jumps = [each.jump for each in bars]
        to = " al Coda" if TO_CODA in jumps else " al Fine" if FINE in jumps else ""
        found.append(("D.C." if bar.jump == DA_CAPO else "D.S.") + to)
    elif bar.jump:
        found.append("Fine" if bar.jump == FINE else "To Coda")
    return ", ".join(found)
