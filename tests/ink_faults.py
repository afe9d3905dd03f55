"""What of a piece's ink is not what its score says: one sentence for each difference."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from ink_reader import Head, Ink, Sign, Staff, read_ink, systems

from stavewright.engrave.drawings.svg import numbered_heads
from stavewright.engrave.piece import MARGIN, Engraved, Layout
from stavewright.music.event import HAIRPIN_END, HAIRPINS, DynamicMark, Event
from stavewright.music.score import Score

POINTS = 72 / 25.4
_HAIR = 0.5
"""Millimetres that a bar line or a first line may stand beside the music's width."""

_LOWEST = {"treble": 30, "bass": 18, "alto": 24, "tenor": 22}
"""The step of each clef's lowest line, in letters from C0: E4 is 4 x 7 + 2."""


@dataclass(frozen=True)
class _Placed:
    """A head on its system, and where the next head or the bar line stands: the end of its time."""

    head: Head
    staff: Staff
    end: float
    last: bool


def ink_faults(score: Score, engraved: Engraved, layout: Layout) -> list[str]:
    """Every difference between a piece's PDF and its score; scores without rests and grace notes."""
    ink = read_ink(engraved.pdf, len(score.lines))
    staves = list(systems(ink, len(score.lines)))
    faults = list(_margin_faults(ink, layout))
    faults += _svg_faults(score, engraved)
    bars, written = list(_heads_before(staves)), list(_notes_before(score))
    if bars != written:
        faults.append(f"bar lines after heads {bars} where the bars end after {written}")
    placed = list(_placed(staves))
    events = list(score.line.events())
    wanted = [_head_of(event, _LOWEST[score.line.clef]) for event in events if event.pitch is not None]
    found = [(each.head.step, each.head.over, _kind(each.head.shape)) for each in placed]
    if found != wanted:
        return [*faults, f"heads on {found} where {wanted} are written"]
    faults += _touching(placed)
    hairpins = list(_hairpins(events))
    breaths = {number for number, event in enumerate(events) if "breath" in event.marks}
    faults += _sign_faults("hairpin", [s.hairpins for s in staves], staves, placed, hairpins, breaths)
    faults += _vibrato_faults(staves, placed, events)
    return faults


def _head_of(event: Event, lowest: int) -> tuple[int, int | None, str]:
    """Where a note's head stands, where a smaller one over it stands, and its kind."""
    assert event.pitch is not None
    step = event.pitch.step - lowest
    if event.fundamental is not None:
        return event.fundamental.step - lowest, step, "diamond"
    kinds = {"air-tone": "cross", "key-click": "cross", "tongue-ram": "triangle"}
    return step, None, next((kinds[mark] for mark in event.marks if mark in kinds), "")


def _kind(shape: str) -> str:
    return next((kind for kind in ("diamond", "cross", "triangle") if kind in shape), "")


def _heads_before(staves: list[Staff]) -> Iterator[int]:
    """How many heads stand before each bar line."""
    count = 0
    for staff in staves:
        for bar in staff.bars:
            yield count + sum(head.left < bar for head in staff.heads)
        count += len(staff.heads)


def _notes_before(score: Score) -> Iterator[int]:
    """How many notes there are up to the end of each bar."""
    count = 0
    for bar in score.line.bars:
        count += sum(event.pitch is not None for event in bar.events)
        yield count


def _margin_faults(ink: Ink, layout: Layout) -> Iterator[str]:
    left, right = (edge / POINTS for edge in ink.edges)
    if left < MARGIN - _HAIR:
        yield f"ink {MARGIN - left:.2f} mm left of the music"
    if right > layout.width + MARGIN + _HAIR:
        yield f"ink {right - layout.width - MARGIN:.2f} mm right of the music"


def _svg_faults(score: Score, engraved: Engraved) -> Iterator[str]:
    """The drawing for the screen numbers every head, and is as wide as the paper."""
    numbers = numbered_heads(engraved.drawing.body)
    notes = sum(1 for _ in score.line.notes())
    if numbers != list(range(notes)):
        yield f"the drawing numbers {len(numbers)} of {notes} heads"


def _placed(staves: list[Staff]) -> Iterator[_Placed]:
    for staff in staves:
        for number, head in enumerate(staff.heads):
            following = staff.heads[number + 1].left if number + 1 < len(staff.heads) else staff.right
            bar = next((x for x in staff.bars if x > head.right), following)
            yield _Placed(head, staff, min(following, bar), number + 1 == len(staff.heads))


def _touching(placed: list[_Placed]) -> Iterator[str]:
    for number, each in enumerate(placed):
        if each.end - each.head.right < 0.25 * each.staff.space:
            yield f"head {number} touches what follows it"


_Moment = tuple[int, Fraction]
"""A note by its number, and the part of its time."""


def _hairpins(events: list[Event]) -> Iterator[tuple[str, _Moment, _Moment]]:
    """Each hairpin with its beginning and its end."""
    begun: tuple[str, _Moment] | None = None
    for number, shade in _shades(events, lambda event: event.dynamic_marks):
        if begun and (shade.mark == HAIRPIN_END or shade.mark in HAIRPINS):
            yield (*begun, (number, shade.at))
            begun = None
        if shade.mark in HAIRPINS:
            begun = shade.mark, (number, shade.at)


def _strokes(events: list[Event]) -> Iterator[tuple[str, _Moment, _Moment]]:
    """Each stroke of vibrato with its beginning and its end."""
    begun: tuple[str, _Moment] | None = None
    for number, shade in _shades(events, lambda event: event.vibrato):
        if begun:
            yield (*begun, (number, shade.at))
        begun = None if shade.mark == HAIRPIN_END else (shade.mark, (number, shade.at))


def _shades(events: list[Event], of: object) -> Iterator[tuple[int, DynamicMark]]:
    order = {HAIRPIN_END: 0}
    for number, event in enumerate(events):
        for shade in sorted(of(event), key=lambda each: (each.at, order.get(each.mark, 1))):  # type: ignore[operator]
            yield number, shade


def _x(placed: list[_Placed], moment: _Moment) -> float:
    """Where a moment is on its system."""
    each = placed[moment[0]]
    return each.head.left + float(moment[1]) * (each.end - each.head.left)


def _sign_faults(
    what: str,
    found: list[list[Sign]],
    staves: list[Staff],
    placed: list[_Placed],
    wanted: list[tuple[str, _Moment, _Moment]],
    breaths: set[int],
) -> Iterator[str]:
    """Whether each sign is there, within the notes that it names; one over a line's end in parts."""
    left_over = {
        id(staff): sorted(signs, key=lambda s: s.left) for staff, signs in zip(staves, found, strict=True)
    }
    for mark, first, last in wanted:
        begin, end = placed[first[0]], placed[last[0]]
        # What ends where a line begins has ended on the line before.
        before = last[1] == 0 and end.head is end.staff.heads[0] and end.staff is not begin.staff
        end = placed[last[0] - 1] if before else end
        moment = (last[0] - 1, Fraction(1)) if before else last
        space = begin.staff.space
        covered = staves[staves.index(begin.staff) : staves.index(end.staff) + 1]
        for staff in covered:
            signs = left_over[id(staff)]
            if not signs:
                yield f"the {what} {mark} from note {first[0]} is not drawn"
                break
            sign = signs.pop(0)
            left = _x(placed, first) - space if staff is begin.staff else staff.left
            right = _x(placed, moment) + 0.7 * space if staff is end.staff else staff.right
            # A level at either end takes up to three spaces of a hairpin's room, a breath two.
            slack = (4.5 + 2.5 * (moment[0] in breaths)) * space
            name = f"the {what} {mark} from note {first[0]}"
            if not left <= sign.left <= left + slack + 6 * space * (staff is not begin.staff):
                yield f"{name} begins {(sign.left - left) / space:.1f} spaces off"
            if not right - slack <= sign.right <= right:
                yield f"{name} ends {(sign.right - right) / space:.1f} spaces off"
    rest = sum(map(len, left_over.values()))
    if rest:
        yield f"{rest} parts of a {what} that no sign asks for"


def _vibrato_faults(staves: list[Staff], placed: list[_Placed], events: list[Event]) -> Iterator[str]:
    strokes = list(_strokes(events))
    for straight in (False, True):
        wanted = [stroke for stroke in strokes if (stroke[0] == "-") == straight]
        if straight and not strokes:
            continue
        found = [staff.straight if straight else staff.waves for staff in staves]
        yield from _stroke_faults(found, staves, placed, wanted)


def _stroke_faults(
    found: list[list[Sign]],
    staves: list[Staff],
    placed: list[_Placed],
    wanted: list[tuple[str, _Moment, _Moment]],
) -> Iterator[str]:
    """Whether each stroke is where its time is, to a space and a half, and grows or dies as it should."""
    number_of = {id(staff): 0 for staff in staves}
    if sum(map(len, found)) < len(wanted):
        yield f"{sum(map(len, found))} strokes of vibrato for {len(wanted)}"
        return
    for mark, first, last in wanted:
        begin, end = placed[first[0]], placed[last[0]]
        if begin.staff is not end.staff:
            continue
        signs = found[staves.index(begin.staff)]
        sign = signs[number_of[id(begin.staff)]]
        number_of[id(begin.staff)] += 1
        space = begin.staff.space
        # A breath or a fermata at the note's end ends the stroke a little sooner.
        for name, is_at, should in (
            ("begins", sign.left, _x(placed, first)),
            ("ends", sign.right, _x(placed, last)),
        ):
            if abs(is_at - should) > 2.2 * space:
                yield f"the stroke {mark} of note {first[0]} {name} {(is_at - should) / space:.1f} spaces off"
        if (mark == "~<" and sign.first >= sign.last) or (mark == "~>" and sign.first <= sign.last):
            yield f"the stroke {mark} of note {first[0]} does not grow or die"
        if mark[1:].isdigit() and sign.curves != int(mark[1:]):
            yield f"the stroke {mark} of note {first[0]} has {sign.curves} waves"


def grid(engraved: Engraved, lines: int) -> list[tuple[float, ...]]:
    """The places of the heads and bar lines of each system, in tenths of a point."""
    return [
        tuple(round(x, 1) for x in (*staff.bars, *(head.left for head in staff.heads)))
        for staff in systems(read_ink(engraved.pdf, lines), lines)
    ]


def differs(one: list[tuple[float, ...]], other: list[tuple[float, ...]]) -> bool:
    """Whether two grids differ by more than half a point, a fifth of a millimetre."""
    if [len(row) for row in one] != [len(row) for row in other]:
        return True
    pairs = ((a, b) for row, beside in zip(one, other, strict=True) for a, b in zip(row, beside, strict=True))
    return any(abs(a - b) > 0.5 for a, b in pairs)


__all__ = ["differs", "grid", "ink_faults"]
