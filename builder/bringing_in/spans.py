"""What goes over several notes of a part: ties, slurs, hairpins, tuplets; read when the notes are known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from music21 import dynamics, spanner

from ..music.pitch import Pitch
from .part_values import name_of, quarters
from .raw_melody import LOUDER, SLUR, SOFTER, TUPLET, RawBar, RawMelody, RawSpan
from .remarks import Remarks

_ENDS = ("stop", "startStop")
"""music21's words for the end of a tuplet's bracket."""


@dataclass(slots=True)
class Places:
    """Where a part's notes lie: the first and the last event of each of music21's notes, by its identity.

    `starts` is when each event begins. Events are counted from 0 over all bars.
    """

    firsts: dict[int, int] = field(default_factory=dict)
    lasts: dict[int, int] = field(default_factory=dict)
    starts: list[Fraction] = field(default_factory=list)

    @property
    def count(self) -> int:
        """How many events there are."""
        return len(self.starts)


def mend_ties(melody: RawMelody, remarks: Remarks) -> None:
    """Take out the ties that lead to another pitch, from the last note to the first."""
    after: Pitch | None = None
    for at, made in reversed(list(enumerate(melody.bars, start=1))):
        for place, event in reversed(list(enumerate(made.events))):
            if event.tie and event.pitch != after:
                made.events[place] = replace(event, tie=False)
                remarks.add("a tie to no note of the same pitch; left out", at)
            after = event.pitch


def read_spans(score: Any, part: Any, places: Places, remarks: Remarks) -> list[RawSpan]:
    """The slurs and hairpins over a part's notes, each once. Remark the signs that have no word."""
    found: list[RawSpan] = []
    for each in score.recurse().getElementsByClass(spanner.Spanner):
        ends = each.getSpannedElements()
        if not ends or isinstance(each, spanner.RepeatBracket):
            continue
        hairpin = {dynamics.Crescendo: LOUDER, dynamics.Diminuendo: SOFTER}.get(type(each), "")
        if not any(id(end) in places.firsts or _is_anchor_of(part, end) for end in ends):
            continue
        if isinstance(each, spanner.Slur) or hairpin:
            span = _span(hairpin or SLUR, part, ends, places)
            if span is None:
                remarks.add("a slur over one note; left out")
            elif span not in found:
                found.append(span)
        else:
            remarks.add(f"{name_of(each)}; left out")
    return found


def _is_anchor_of(part: Any, end: Any) -> bool:
    return isinstance(end, spanner.SpannerAnchor) and any(part is each for each in _containers(end))


def _span(kind: str, part: Any, ends: list[Any], places: Places) -> RawSpan | None:
    firsts = [_place(part, end, False, places) for end in ends]
    lasts = [_place(part, end, True, places) for end in ends]
    known = [place for place in (*firsts, *lasts) if place is not None]
    if not known:
        return None
    first = min(place for place in firsts if place is not None)
    last = min(max(place for place in lasts if place is not None), places.count - 1)
    if last < first or (kind == SLUR and last == first):
        return None
    return RawSpan(kind, first, last)


def _place(part: Any, end: Any, at_end: bool, places: Places) -> int | None:
    """The event at which a spanner begins or ends; at an anchor, the one before or after the moment."""
    if id(end) in places.firsts:
        return (places.lasts if at_end else places.firsts)[id(end)]
    if not isinstance(end, spanner.SpannerAnchor):
        return None
    moment = quarters(end.getOffsetInHierarchy(part)) / 4
    if at_end:
        before = [n for n, start in enumerate(places.starts) if start < moment]
        return before[-1] if before else 0
    after = [n for n, start in enumerate(places.starts) if start >= moment]
    return after[0] if after else places.count - 1


def read_tuplets(part: Any, places: Places, melody: RawMelody) -> list[RawSpan]:
    """The tuplets of a melody, grouped by the file's brackets where they fit, else by the shortest sum."""
    written: dict[int, str] = {}
    ratios: dict[int, tuple[int, int]] = {}
    for each in part.recurse().notesAndRests:
        if id(each) in places.firsts and each.duration.tuplets:
            ratio = each.duration.tuplets[0]
            for where in range(places.firsts[id(each)], places.lasts[id(each)] + 1):
                written[where] = ratio.type or ""
                ratios[where] = (ratio.numberNotesActual, ratio.numberNotesNormal)
    found: list[RawSpan] = []
    number = 0
    for made in melody.bars:
        start: int | None = None
        total = Fraction(0)
        for place, event in enumerate(made.events):
            here = number + place
            scale = event.value.scale
            if start is not None and scale != made.events[start - number].value.scale:
                found.append(_tuplet(start, here - 1, made.events[start - number].value.scale, ratios))
                start = None
            if scale == 1:
                continue
            if start is None:
                start, total = here, Fraction(0)
            total += event.length
            whole = total.denominator & (total.denominator - 1) == 0
            to_come = _rest_of(made, number, here, scale)
            if whole and (written.get(here) in _ENDS or not any(written.get(n) in _ENDS for n in to_come)):
                found.append(_tuplet(start, here, scale, ratios))
                start = None
        if start is not None:
            last = number + len(made.events) - 1
            found.append(_tuplet(start, last, made.events[start - number].value.scale, ratios))
        number += len(made.events)
    return found


def _rest_of(made: RawBar, number: int, here: int, scale: Fraction) -> list[int]:
    """The events from `here` on that go on with the same scale in the bar."""
    found = []
    for place in range(here - number, len(made.events)):
        if made.events[place].value.scale != scale:
            break
        found.append(number + place)
    return found


def _tuplet(first: int, last: int, scale: Fraction, ratios: Mapping[int, tuple[int, int]]) -> RawSpan:
    """A tuplet with the ratio that the file writes, if that is its scale."""
    ratio = ratios.get(first, (scale.denominator, scale.numerator))
    if Fraction(ratio[1], ratio[0]) != scale:
        ratio = scale.denominator, scale.numerator
    return RawSpan(TUPLET, first, last, ratio)


def _containers(anchor: Any) -> list[Any]:
    """The streams that hold an element of music21's, from the innermost outward."""
    return list(anchor.containerHierarchy())
