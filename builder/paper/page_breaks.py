"""Page-making: where pages end, and how the lines on each are spread.

A pure function over heights. Every way to break the lines into pages is weighed and the best one taken, as
a paragraph is broken into lines by the method of D. E. Knuth and M. F. Plass ("Breaking paragraphs into
lines", 1981): a page costs more the emptier it is, and a break costs what its place costs.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from math import inf

FORBIDDEN = 1e6
"""The cost of a break that is made only where there is no other way."""


@dataclass(frozen=True, slots=True)
class BreakableBlock:
    """A line of the page, in millimetres.

    `space` is the room above it, none at the top of a page; `stretch` how willingly that room grows, 0 not
    at all. `cost` is that of a page beginning here, `turn` what comes on top where the leaf must be turned
    to see it. `system` marks a line of music. `opens` demands a new page, `opens_right` a right-hand one. A
    page that opens may have a blank one before it, where that spares turns that cost more than `blank`; none
    where this is 0.
    """

    height: float
    space: float = 0.0
    stretch: float = 0.0
    cost: float = 0.0
    turn: float = 0.0
    system: bool = False
    opens: bool = False
    opens_right: bool = False
    blank: float = 0.0

    @property
    def must_open(self) -> bool:
        """Whether a page has to begin here."""
        return self.opens or self.opens_right


@dataclass(frozen=True, slots=True)
class PageFill:
    """A page: the place in the flow of its first box and one past its last, and each box's top."""

    first: int
    end: int
    tops: tuple[float, ...]


_LONE_SYSTEM = 1e5
_OVERFULL = 1e9
_UNFILLED = 600.0
_LAST_UNFILLED = 60.0
_SPREAD = 40.0
_TIGHT = 30.0

_MOST_GROWTH = 1.8
"""Room above a line grows at most by this many times its size."""

_MOST_LOSS = 0.2
"""And shrinks at most by this part of it."""


def paginate(
    boxes: Sequence[BreakableBlock], depth: float, first: int = 1, single_sided: bool = False
) -> list[PageFill]:
    """Pages of the given depth in millimetres for all boxes, in order.

    `first` is the number of the first page: odd pages lie on the right of an open book. A page without a
    box is a blank one before an opening. A box taller than the page has one to itself.
    """
    if not boxes:
        return []
    count = len(boxes)
    so_far = _Sums.of(boxes)
    # For each place a page may begin at and each side it may lie on (1 is right): cost, and where from.
    best: list[dict[int, tuple[float, int, int]]] = [{} for _ in range(count + 1)]
    best[0][first % 2] = (0.0, -1, -1)
    openings = [place for place in range(1, count) if boxes[place].must_open]
    for begin, over in pairwise((0, *openings, count)):
        places = range(begin + 1, over + 1)
        # What is forbidden is tried only where there is no other way: most places are.
        good = [place for place in places if place == over or boxes[place].cost < FORBIDDEN]
        _weigh(boxes, begin, good, so_far, depth, single_sided, best)
        if not best[over]:
            _weigh(boxes, begin, places, so_far, depth, single_sided, best)
    breaks: list[tuple[int, int, int]] = []
    at = count
    side = min(best[at], key=lambda on: best[at][on][0])
    while at > 0:
        _, start, before = best[at][side]
        breaks.append((start, at, before))
        at, side = start, before
    pages: list[PageFill] = []
    spread = 0.0
    for start, end, on in reversed(breaks):
        if boxes[start].must_open and not single_sided and (first + len(pages)) % 2 != on:
            pages.append(PageFill(start, start, ()))
        spread = _share(boxes, start, end, depth, 0.0 if boxes[start].must_open else spread)
        pages.append(PageFill(start, end, _tops(boxes, start, end, spread)))
    return pages


@dataclass(frozen=True, slots=True)
class _Sums:
    """Before each place in the flow, and at its end: heights with the room above, its growth, and systems."""

    height: list[float]
    growth: list[float]
    systems: list[int]

    @classmethod
    def of(cls, boxes: Sequence[BreakableBlock]) -> _Sums:
        return cls(
            list(accumulate((box.height + box.space for box in boxes), initial=0.0)),
            list(accumulate((box.space * box.stretch for box in boxes), initial=0.0)),
            list(accumulate((box.system for box in boxes), initial=0)),
        )


def _weigh(
    boxes: Sequence[BreakableBlock],
    begin: int,
    ends: Sequence[int],
    so_far: _Sums,
    depth: float,
    single_sided: bool,
    best: list[dict[int, tuple[float, int, int]]],
) -> None:
    """Find the best way to each of the places in a section at which its pages may end; `best` grows."""
    over = ends[-1]
    for start in (begin, *ends[:-1]):
        ways = list(_ways_on(boxes, start, ends, so_far, depth)) if best[start] else []
        for side, (cost, _, _) in sorted(best[start].items()):
            for end, price in ways:
                total = cost + price
                on = 1 - side
                if end == over:
                    on = 1 if end < len(boxes) and boxes[end].opens_right else on
                else:
                    total += boxes[end].cost + (boxes[end].turn if side == 1 and not single_sided else 0)
                if total < best[end].get(on, (inf,))[0]:
                    best[end][on] = (total, start, side)
                blank = boxes[end].blank if end == over < len(boxes) and not single_sided else 0.0
                if blank and total + blank < best[end].get(1 - on, (inf,))[0]:
                    best[end][1 - on] = (total + blank, start, side)


def _ways_on(
    boxes: Sequence[BreakableBlock], start: int, ends: Sequence[int], so_far: _Sums, depth: float
) -> Iterator[tuple[int, float]]:
    """Every end a page that begins at `start` may have, with the cost of its looks."""
    over = ends[-1]
    # Nothing stands above the first line of a page.
    above = so_far.height[start] + boxes[start].space
    growing = so_far.growth[start] + boxes[start].space * boxes[start].stretch
    systems = so_far.systems[start]
    for place in range(bisect_right(ends, start), len(ends)):
        end = ends[place]
        natural = so_far.height[end] - above
        growth = so_far.growth[end] - growing
        if natural - growth * _MOST_LOSS > depth:
            if end == start + 1:
                yield end, _OVERFULL
            return
        price = _looks(depth - natural, growth, depth, end == over)
        if so_far.systems[end] - systems == 1 and not (end == over and boxes[start].must_open):
            price += _LONE_SYSTEM
        yield end, price


def _looks(free: float, growth: float, depth: float, last: bool) -> float:
    """The cost of a page's empty room or its tightness: what is spread costs less than what stays blank."""
    if free < 0:
        return _TIGHT * (free / (growth * _MOST_LOSS)) ** 2
    if last:
        return _LAST_UNFILLED * (free / depth) ** 2
    taken = min(free, growth * _MOST_GROWTH)
    spread = _SPREAD * (taken / (growth * _MOST_GROWTH)) ** 2 if growth else 0.0
    return _UNFILLED * ((free - taken) / depth) ** 2 + spread


def _share(boxes: Sequence[BreakableBlock], start: int, end: int, depth: float, before: float) -> float:
    """How much of the room above each line is added to it; what is left at a section's end is not filled.

    A section's last page is no looser than the one before it, whose share is `before`.
    """
    inside = range(start + 1, end)
    natural = sum(box.height for box in boxes[start:end]) + sum(boxes[place].space for place in inside)
    growth = sum(boxes[place].space * boxes[place].stretch for place in inside)
    last = end == len(boxes) or boxes[end].must_open
    most = min(max(before, 0.0), _MOST_GROWTH) if last else _MOST_GROWTH
    return max(-_MOST_LOSS, min(most, (depth - natural) / growth)) if growth else 0.0


def _tops(boxes: Sequence[BreakableBlock], start: int, end: int, share: float) -> tuple[float, ...]:
    tops = [0.0]
    for place in range(start + 1, end):
        space = boxes[place].space * (1 + boxes[place].stretch * share)
        tops.append(tops[-1] + boxes[place - 1].height + space)
    return tuple(tops)
