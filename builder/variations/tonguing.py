"""A tonguing figure on the last note, with its syllables below and a ladder of tempos."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from itertools import cycle

from ..music.event import LEVELS, SLUR, Event, Tempo, Value, tuplet
from ..music.score import Ladder, Score
from ..music.signs import FERMATAS, technique_of
from ..music.winds.fingering import FINGERING_CHART
from ..translation.said import joined, phrase, term
from .phrases import chains, check_goes_on, without
from .registry import Unsuitable, variation

_KINDS = {
    "double": ("tu", "ku"),
    "reverse double": ("ku", "tu"),
    "triple": ("tu", "tu", "ku"),
    "back": ("ku",),
    "single": ("tu",),
}
_DIVISIONS = {
    "eighths": Value(Fraction(1, 8)),
    "sixteenths": Value(Fraction(1, 16)),
    "triplets": Value(Fraction(1, 8), scale=Fraction(2, 3)),
}
_WORDS = re.compile(
    rf"(?P<kind>{'|'.join(_KINDS)})"
    rf"( in (?P<division>{'|'.join(_DIVISIONS)}))?"
    r"( ladder (?P<low>\d{2,3}) to (?P<high>\d{2,3}) by (?P<step>\d{1,2}))?"
)
_BEAT = Fraction(1, 4)
_MOST_RUNGS = 8


@variation(
    "tonguing",
    "The last note as repeated notes on the syllables below it, through the tempos of the ladder: the air "
    "goes on as if it were one note.",
    takes="double in sixteenths ladder 60 to 96 by 12",
    pattern=_WORDS.pattern,
    grade=3,
    harder=(("double", 4), ("triple", 4), ("reverse", 5)),
)
def tonguing(score: Score, words: str) -> Score:
    """The last note (with its ties) repeated in a division; a longer note keeps its last quarter undivided.

    The default division is sixteenths, or triplets for triple tonguing. The default ladder rises in sixes
    from the exercise's slowest tempo to its fastest.
    """
    match = _WORDS.fullmatch(words)
    assert match is not None  # the registry has matched the pattern
    division = _DIVISIONS[match["division"] or ("triplets" if match["kind"] == "triple" else "sixteenths")]
    rungs = _ladder(score.tempo, match["low"], match["high"], match["step"])
    events = list(score.line.events())
    chain = chains(score)[-1]
    check_goes_on(score)
    if any(events[index].value.held for index in chain):
        raise Unsuitable(
            term("its last note is held as long as the breath, and the figure divides a counted note")
        )
    for index in chain:
        if technique := technique_of(events[index]):
            raise Unsuitable(
                phrase("its last note is for another technique, {technique}", technique=term(technique))
            )
    made = {index: _repeated(events[index], division, final=index == chain[-1]) for index in chain}
    # The syllables continue over a bar line.
    syllables = cycle(_KINDS[match["kind"]])
    made = {
        index: [replace(note, syllable=next(syllables)) for note in notes] for index, notes in made.items()
    }
    head = made[chain[0]][0]
    ladder = joined((term(score.tempo.beat.name), f"= {', '.join(map(str, rungs))}"))
    made[chain[0]][0] = replace(head, above=joined((head.above, ladder), "; "))
    if chain[0]:
        made[chain[0] - 1] = [_slur_ends(events, chain[0] - 1)]
    bars, place = [], 0
    for bar in score.line.bars:
        inside = range(place, place + len(bar.events))
        bars.append(
            replace(bar, events=tuple(note for index in inside for note in made.get(index, [events[index]])))
        )
        place += len(bar.events)
    changed = score.with_bars(tuple(bars))
    return changed.with_line(replace(changed.line, ladder=Ladder(chain[0], tuple(rungs))))


def _slur_ends(events: list[Event], last: int) -> Event:
    """The note before the figure; a slur that would reach into the figure ends on it."""
    event = events[last]
    open_slurs = sum((SLUR in note.opens) - (SLUR in note.closes) for note in events[: last + 1])
    if open_slurs <= 0:
        return event
    if SLUR in event.opens:
        return without(event, SLUR)
    return replace(event, closes=(*event.closes, SLUR))


def _ladder(tempo: Tempo, low: str | None, high: str | None, step: str | None) -> list[int]:
    start, end, by = (int(low), int(high), int(step)) if low and high and step else (tempo.low, tempo.high, 6)
    rungs = list(range(start, end + 1, by)) if by else []
    if not rungs or len(rungs) > _MOST_RUNGS or not 20 <= start <= end <= 400:
        raise Unsuitable(
            phrase(
                "a ladder from {start} to {end} by {step} has no rungs, or more than {most}",
                start=start,
                end=end,
                step=by,
                most=_MOST_RUNGS,
            )
        )
    return rungs


def _repeated(event: Event, division: Value, final: bool) -> list[Event]:
    length = event.length
    kept = _BEAT if final and length > _BEAT else Fraction(0)
    count = (length - kept) / division.length
    if count.denominator != 1 or count < 1:
        raise Unsuitable(term("its last note does not divide into the notes of the figure"))
    plain = without(
        replace(
            event, tie=False, marks=(), dynamic_marks=(), graces=(), vibrato=(), trilled=None, lowered=None
        ),
        SLUR,
    )
    bare = replace(plain, opens=(), closes=(), above="", below="", fingering="", chart="", clef="")
    notes = [replace(bare, value=division) for _ in range(int(count))]
    if division.scale != 1:
        if count % 3:
            raise Unsuitable(term("its last note does not divide into triplets"))
        triplet = tuplet(3, 2)
        for place in range(0, len(notes), 3):
            notes[place] = replace(notes[place], opens=(triplet,))
            notes[place + 2] = replace(notes[place + 2], closes=(triplet,))
    if kept:
        notes.append(replace(bare, value=Value(_BEAT)))
    notes[0] = replace(
        notes[0],
        marks=tuple(mark for mark in event.marks if mark == FINGERING_CHART),
        opens=(*plain.opens, *notes[0].opens),
        dynamic_marks=tuple(shade for shade in event.dynamic_marks if shade.at == 0 and shade.mark in LEVELS),
        above=event.above,
        below=event.below,
        fingering=event.fingering,
        chart=event.chart,
        clef=event.clef,
    )
    ends = tuple(mark for mark in event.marks if mark in ("breath", *FERMATAS))
    marks = (*notes[-1].marks, *ends)
    notes[-1] = replace(notes[-1], closes=(*notes[-1].closes, *plain.closes), marks=marks)
    return notes
