"""Variations of dynamics."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import accumulate, groupby, pairwise

from ..music.event import HAIRPIN_END, LEVELS, OPTIONAL, DynamicMark, Event, Value
from ..music.score import Bar, Meter, Score
from ..translation.said import phrase, term
from .phrases import chains, change_groups, change_phrases, phrases
from .registry import Unsuitable, variation

_MOST_NOTES = 6
_ROW = 3
"""If this many notes in a row have a level each, the author wants these steps, and a swell keeps them."""

_EARLY = "by last note"
_LEVEL = f"({'|'.join(LEVELS)})"
_LEVEL_OR_NONE = f"({'|'.join(LEVELS)}|silence)"
_FROM_TO = rf"from {_LEVEL_OR_NONE}( to {_LEVEL_OR_NONE}){{1,4}}"
_EARLY_OR_NOT = rf"({_EARLY})?"
SILENCE = "silence"


_LEVELS_OF = {
    "swell up": ("p", "f"),
    "swell down": ("f", "p"),
    "from silence": (SILENCE, "mf"),
    "to silence": ("mf", SILENCE),
}


def levels_of(name: str) -> tuple[str, ...]:
    """The levels that a variation gives to a breath, in order; empty if it is neither a swell nor a level."""
    plain = name.removesuffix(f" {_EARLY}")
    if plain in _LEVELS_OF:
        return _LEVELS_OF[plain]
    first, *words = plain.split()
    if first not in ("swell", "level") or words[:2] == ["each", "note"]:
        return ()
    return tuple(word for word in words if word in (*LEVELS, SILENCE))


def _hairpin(first: str, last: str) -> str:
    """The hairpin from one level to another, with a small circle if it is from or to silence."""
    if first == SILENCE:
        return "o<"
    if last == SILENCE:
        return ">o"
    return "<" if LEVELS.index(last) > LEVELS.index(first) else ">"


def _shaped(
    notes: list[Event], levels: Sequence[str], closes: bool = True, early: bool = False
) -> list[Event]:
    """Notes without a rest between them, which pass from level to level in equal parts of their time.

    The last level is reached at the end of the last note, or with `early` where the last note begins. A turn
    within several notes falls on a note's beginning. With `closes` false the last level is not printed: the
    next note's first level stands at once.
    """
    bare = [note.bare for note in notes]
    starts = list(accumulate((note.length for note in bare[:-1]), initial=Fraction(0)))
    begun = [start for index, start in enumerate(starts) if not index or not bare[index - 1].tie]
    total = starts[-1] + bare[-1].length
    end = begun[-1] if early and begun[-1] else total
    points = [Fraction(0)]
    for number in range(1, len(levels) - 1):
        wanted = end * number / (len(levels) - 1)
        turns = [start for start in begun if points[-1] < start < end]
        points.append(min(turns, key=lambda start: abs(start - wanted)) if turns else wanted)
    points.append(end)

    def put(moment: Fraction, *marks: str) -> None:
        index = max(index for index, start in enumerate(starts) if start <= moment and start < total)
        at = (moment - starts[index]) / bare[index].length
        bare[index] = bare[index].with_dynamic_marks(*(DynamicMark(at, mark) for mark in marks))

    for number, (moment, level) in enumerate(zip(points, levels, strict=True)):
        marks = [HAIRPIN_END] if number else []
        ends = number + 1 == len(levels)
        marks += [level] if level != SILENCE and (closes or not ends) else []
        marks += [_hairpin(level, levels[number + 1])] if number + 1 < len(levels) else []
        put(moment, *marks)
    return bare


def _swelled(score: Score, swell_notes: Callable[[list[Event]], list[Event]]) -> Score:
    """Each phrase swelled, except those with the author's own levels.

    A phrase ends before and after a passage that may be left out. Raises Unsuitable if no phrase is left.
    """
    optional = _optional(score)
    groups = [
        list(part)
        for phrase in phrases(score)
        for _, part in groupby(phrase, lambda index: index in optional)
    ]
    stepped = _stepped(score)
    kept = {number for number, group in enumerate(groups) if set(group) <= optional or set(group) <= stepped}
    if len(kept) == len(groups):
        raise Unsuitable(term("its author wrote all its dynamics"))
    return change_groups(score, groups, lambda number, notes: notes if number in kept else swell_notes(notes))


def _each_breath(score: Score, levels: Sequence[str], words: str) -> Score:
    """Each breath swelled through levels; with `by last note`, its last note begins at the last level."""
    early = words.endswith(_EARLY)
    return _swelled(score, lambda notes: _shaped(notes, levels, early=early))


def _optional(score: Score) -> set[int]:
    """The places of the events of all passages that may be left out."""
    optional, inside = set(), 0
    for index, event in enumerate(score.line.events()):
        inside += OPTIONAL in event.opens
        if inside > 0:
            optional.add(index)
        inside -= OPTIONAL in event.closes
    return optional


def _stepped(score: Score) -> set[int]:
    """The places of the notes in rows of three or more with a level each, over rests too."""
    events = list(score.line.events())
    stepped: set[int] = set()
    row: list[list[int]] = []
    for chain in [*chains(score), []]:
        levels = {shade.mark for index in chain for shade in events[index].dynamic_marks} & set(LEVELS)
        if levels:
            row.append(chain)
            continue
        if len(row) >= _ROW:
            stepped |= {index for each in row for index in each}
        row = []
    return stepped


@variation(
    "swell up",
    "Grow from soft to loud over each breath, without letting the pitch rise.",
    takes=_EARLY,
    pattern=_EARLY_OR_NOT,
    shapes="dynamics",
)
def swell_up(score: Score, words: str) -> Score:
    """Each phrase from p to f, instead of the dynamics that it had."""
    return _each_breath(score, _LEVELS_OF["swell up"], words)


@variation(
    "swell down",
    "Fade from loud to soft over each breath, without letting the pitch sink.",
    takes=_EARLY,
    pattern=_EARLY_OR_NOT,
    shapes="dynamics",
)
def swell_down(score: Score, words: str) -> Score:
    """Each phrase from f to p, instead of the dynamics that it had."""
    return _each_breath(score, _LEVELS_OF["swell down"], words)


def _each_shaped(notes: list[Event], levels: list[str]) -> list[Event]:
    """Every note of a phrase swelled by itself; only the last one prints its last level."""
    result: list[Event] = []
    start = 0
    for index, note in enumerate(notes):
        if not note.tie or index + 1 == len(notes):
            result += _shaped(notes[start : index + 1], levels, closes=index + 1 == len(notes))
            start = index + 1
    return result


@variation(
    "swell",
    "Carry the sound from dynamic to dynamic as written, with one colour and one pitch.",
    takes="each note from pp to f to pp",
    pattern=rf"each note {_FROM_TO}|(each breath )?{_FROM_TO}( {_EARLY})?",
    shapes="dynamics",
    harder=(("silence", 3),),
)
def swell(score: Score, words: str) -> Score:
    """Each breath (or each note) through two to five levels; `silence` begins or ends in nothing.

    The last level is reached at the end of the breath; with `by last note`, where its last note begins.
    """
    levels = [word for word in words.split() if word in (*LEVELS, SILENCE)]
    same = any(here == there for here, there in pairwise(levels))
    if same or SILENCE in levels[1:-1]:
        raise Unsuitable(term("a swell goes from one dynamic to another, and uses silence only at its ends"))
    if words.startswith("each note"):
        return _swelled(score, lambda notes: _each_shaped(notes, levels))
    return _each_breath(score, levels, words)


@variation(
    "from silence",
    "Begin each breath out of nothing, so that no one can tell when it began.",
    takes=_EARLY,
    pattern=_EARLY_OR_NOT,
    shapes="dynamics",
    grade=3,
)
def from_silence(score: Score, words: str) -> Score:
    """Each phrase from silence to mf."""
    return _each_breath(score, _LEVELS_OF["from silence"], words)


@variation(
    "to silence", "Let each breath end in nothing, the pitch held up to the last.", shapes="dynamics", grade=3
)
def to_silence(score: Score, words: str) -> Score:
    """Each phrase from mf to silence."""
    return _each_breath(score, _LEVELS_OF["to silence"], "")


@variation(
    "level", "One dynamic from the first note to the last.", takes="pp", pattern=_LEVEL, shapes="dynamics"
)
def level(score: Score, words: str) -> Score:
    """The level at the first note, instead of all other dynamics."""
    return _levelled(score, [words])


@variation(
    "terraces",
    "Terraced dynamics: each phrase has its own dynamic, without crescendo or diminuendo between them.",
    takes="p mf f",
    pattern=rf"{_LEVEL}( {_LEVEL})+",
    shapes="dynamics",
)
def terraces(score: Score, words: str) -> Score:
    """Each phrase takes the next level, in a circle; if there is only one phrase, each bar does."""
    levels = words.split()
    if len(phrases(score)) > 1:
        return _levelled(score, levels)
    if len(score.line.bars) < 2:
        raise Unsuitable(term("there is only one phrase of one bar, and terraces need two"))
    bars = []
    for number, bar in enumerate(score.line.bars):
        events = [event.bare for event in bar.events]
        place = next((index for index, event in enumerate(events) if event.pitch), None)
        if place is not None:
            events[place] = events[place].with_dynamic_marks(
                DynamicMark(Fraction(0), levels[number % len(levels)])
            )
        bars.append(replace(bar, events=tuple(events)))
    return score.with_line(replace(score.line, bars=tuple(bars)))


def _levelled(score: Score, levels: list[str]) -> Score:
    """Each phrase with the next level on its first note; with one level, only the first phrase."""

    def change(number: int, notes: list[Event]) -> list[Event]:
        bare = [note.bare for note in notes]
        if number == 0 or len(levels) > 1:
            bare[0] = bare[0].with_dynamic_marks(DynamicMark(Fraction(0), levels[number % len(levels)]))
        return bare

    return change_phrases(score, change)


def _eightfold(note: Event) -> tuple[Bar, ...]:
    quarter = Value(Fraction(1, 4))
    plain = Event(note.pitch, quarter, place=note.place)
    events = [plain.with_dynamic_marks(DynamicMark(Fraction(0), level)) for level in LEVELS]
    events[-1] = events[-1].marked("breath")
    return Bar(tuple(events[:4])), Bar(tuple(events[4:]))


@variation(
    "eight levels",
    "Play each note eight times, from ppp to fff: eight steps, not a crescendo.",
    takes="on last note",
    pattern=r"(on last note)?",
    shapes="dynamics",
    grade=3,
)
def eight_levels(score: Score, words: str) -> Score:
    """Eight quarter notes from ppp to fff on each new pitch, or on the last alone; in 4/4."""
    if score.meter.is_free:
        raise Unsuitable(term("it is counted in 4/4, and this is in free time"))
    notes = list(score.line.notes())
    chosen = [note for before, note in zip([None, *notes], notes, strict=False) if _new(before, note)]
    if words:
        chosen = notes[-1:]
    if len(chosen) > _MOST_NOTES:
        raise Unsuitable(
            phrase(
                "it is for cells of at most {most} notes, and this has {count}",
                most=_MOST_NOTES,
                count=len(chosen),
            )
        )
    bars = [bar for note in chosen for bar in _eightfold(note)]
    bars[-1] = replace(bars[-1], end="|.")
    return replace(score, meter=Meter(4, 4), pickup=Fraction(0)).with_bars(tuple(bars))


def _new(before: Event | None, note: Event) -> bool:
    return before is None or before.pitch != note.pitch
