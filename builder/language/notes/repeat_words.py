"""Reads the words of repeats (`segno`, `fine`, `da-capo`, `4 times`), and checks where they lead."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from lark import Token

from ...music.score import Bar
from ...music.sounding.repeats import (
    CODA,
    DA_CAPO,
    DAL_SEGNO,
    FINE,
    SEGNO,
    SIGNS_BEFORE,
    TO_CODA,
    WORDS_AFTER,
)
from ..faults import shown
from .bar_builder import BarBuilder

REPEAT_WORDS = (*SIGNS_BEFORE, *WORDS_AFTER)
MOST_TIMES = 16


def put_repeat_word(builder: BarBuilder, token: Token, name: str) -> None:
    """Put a word of `REPEAT_WORDS` at the beginning of the next bar, or at the end of the newest one."""
    if name in SIGNS_BEFORE:
        if builder.in_bar:
            builder.fault(token, f"{shown(name)} stands inside a bar", "put it after a bar line")
        elif builder.next_sign:
            builder.fault(token, f"{shown(builder.next_sign)} stands there already", "take one of them out")
        else:
            builder.next_sign = name
        return
    if builder.in_bar:
        before, builder.next_jump = builder.next_jump, name
        builder.jump_at = builder.count, token
    elif builder.bars:
        before = builder.bars[-1].jump
        builder.bars[-1] = replace(builder.bars[-1], jump=name)
    else:
        builder.fault(token, f"{shown(name)} comes before the first bar", "put it at the end of a bar")
        return
    if before:
        builder.fault(token, f"{shown(before)} stands at the end of this bar already", "take one of them out")


def put_times(builder: BarBuilder, token: Token) -> None:
    """Let the repeat that has just ended be played so many times."""
    times = int(token.split()[0])
    if builder.in_bar or not builder.bars or builder.bars[-1].end != ":|":
        builder.fault(
            token, f"{shown(str(token))} follows no repeat", "write it after `:|`, as in `:| 3 times`"
        )
    elif not 2 <= times <= MOST_TIMES:
        what = f"a passage cannot be repeated {times} times"
        builder.fault(token, what, f"write a number from 2 to {MOST_TIMES}")
    else:
        builder.bars[-1] = replace(builder.bars[-1], times=times)


def repeat_faults(bars: Sequence[Bar]) -> Iterator[tuple[Bar, str, str]]:
    """Ways back and out that lead nowhere, each with the bar it stands at."""
    places: dict[str, list[int]] = {name: [] for name in REPEAT_WORDS}
    for number, bar in enumerate(bars):
        for name in filter(None, (bar.sign, bar.jump)):
            places[name].append(number)
    for name in (SEGNO, CODA, TO_CODA, FINE):
        for _, again in pairwise(places[name]):
            yield bars[again], f"{name!r} stands there a second time", "keep one of them"
    ways = sorted(places[DA_CAPO] + places[DAL_SEGNO])
    for _, again in pairwise(ways):
        yield bars[again], "this goes back a second time", "keep one `da-capo` or `dal-segno`"
    if not ways:
        for name in (SEGNO, CODA, TO_CODA, FINE):
            for number in places[name][:1]:
                what = f"{name!r} is there, but no way back leads to it"
                yield bars[number], what, "write `da-capo` or `dal-segno` at the end of a bar"
        return
    yield from _faults_of_way(bars, places, ways[0])


def _faults_of_way(
    bars: Sequence[Bar], places: dict[str, list[int]], back: int
) -> Iterator[tuple[Bar, str, str]]:
    here = bars[back]
    segno, coda, out, fine = (places[name][:1] for name in (SEGNO, CODA, TO_CODA, FINE))
    if here.jump == DAL_SEGNO and not (segno and segno[0] <= back):
        yield here, "'dal-segno' has no segno before it", "write `segno` at the beginning of a bar"
    if here.jump == DA_CAPO and segno:
        yield bars[segno[0]], "'segno' is there, and 'da-capo' goes to the beginning", "write `dal-segno`"
    if bool(coda) != bool(out):
        number = (coda or out)[0]
        mend = "write `to-coda` at the end of a bar and `coda` at the beginning of a later one"
        yield bars[number], "'to-coda' and 'coda' belong together", mend
    elif coda and not (out[0] <= back < coda[0]):
        mend = "write `to-coda` before the way back, and `coda` after it"
        yield bars[coda[0]], "the coda is on the wrong side of the way back", mend
    for name, place in ((TO_CODA, out), (FINE, fine)):
        if place and segno and here.jump == DAL_SEGNO and place[0] < segno[0]:
            what = f"{name!r} stands before the segno, and the music never comes back to it"
            yield bars[place[0]], what, "put it after the segno"
    if fine and out:
        yield bars[fine[0]], "'fine' and 'to-coda' are two ways to end", "keep one of them"
    if fine and fine[0] >= back:
        yield bars[fine[0]], "'fine' stands after the way back", "put it at the end of an earlier bar"
    last = coda[0] - 1 if coda and back < coda[0] else len(bars) - 1
    if back != last:
        mend = "let it be the last bar, or the last before `coda`"
        yield here, f"after {here.jump!r} there are bars that nobody plays", mend
