"""Swells and levels."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from builder.music.score import HAIRPIN_END, LEVELS, Bar, Event, Meter, Score, Shade, Value

from .phrases import change_phrases
from .registry import Unsuitable, variation

_MOST_NOTES = 6
_NEAR_THE_END = Fraction(7, 8)


def _swell(score: Score, first: str, hairpin: str, last: str) -> Score:
    def change(notes: list[Event]) -> list[Event]:
        bare = [replace(note, shades=()) for note in notes]
        bare[0] = bare[0].with_shades(Shade(Fraction(0), first), Shade(Fraction(0), hairpin))
        # A phrase swells into its last note; a note alone, or tied, to just before its end, where the next
        # phrase's first level does not stand yet.
        at = _NEAR_THE_END if len(bare) == 1 or bare[-2].tie else Fraction(0)
        bare[-1] = bare[-1].with_shades(Shade(at, HAIRPIN_END), Shade(at, last))
        return bare

    return change_phrases(score, change)


@variation("swell up", "Grow from soft to loud over each breath, without letting the pitch rise.")
def swell_up(score: Score, words: str) -> Score:
    """Each phrase from p to f; dynamics that stood there go."""
    return _swell(score, "p", "<", "f")


@variation("swell down", "Fade from loud to soft over each breath, without letting the pitch sink.")
def swell_down(score: Score, words: str) -> Score:
    """Each phrase from f to p; dynamics that stood there go."""
    return _swell(score, "f", ">", "p")


def _eightfold(note: Event) -> tuple[Bar, ...]:
    quarter = Value(Fraction(1, 4))
    plain = Event(note.pitch, quarter, place=note.place)
    events = [plain.with_shades(Shade(Fraction(0), level)) for level in LEVELS]
    events[-1] = events[-1].marked("breath")
    return Bar(tuple(events[:4])), Bar(tuple(events[4:]))


@variation(
    "eight levels",
    "Each note eight times, one printed level a note from softest to loudest: eight steps, not a slope.",
    takes="on last note",
)
def eight_levels(score: Score, words: str) -> Score:
    """Eight quarter notes from ppp to fff on each new pitch, or on the last alone; in 4/4."""
    notes = list(score.line.notes())
    chosen = [note for before, note in zip([None, *notes], notes, strict=False) if _new(before, note)]
    if words == "on last note":
        chosen = notes[-1:]
    elif words:
        raise Unsuitable(f"{words!r} says nothing to it; it takes `on last note`")
    if len(chosen) > _MOST_NOTES:
        raise Unsuitable(f"it is for cells of at most {_MOST_NOTES} notes, and this has {len(chosen)}")
    bars = [bar for note in chosen for bar in _eightfold(note)]
    bars[-1] = replace(bars[-1], end="|.")
    return replace(score, meter=Meter(4, 4), pickup=Fraction(0)).with_bars(tuple(bars))


def _new(before: Event | None, note: Event) -> bool:
    return before is None or before.pitch != note.pitch
