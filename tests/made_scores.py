"""Scores made at random, and the same scores built anew in music21, for tests that compare the two."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from random import Random
from typing import TYPE_CHECKING

from stavewright.music.event import (
    HAIRPIN_END,
    HAIRPINS,
    LEVELS,
    SLUR,
    WAVE,
    DynamicMark,
    Event,
    Tempo,
    Value,
    tuplet,
)
from stavewright.music.keys import MODES, Key, spellings
from stavewright.music.pitch import Pitch
from stavewright.music.score import Bar, Meter, Score, Staff, each_event, each_pitch, held
from stavewright.music.settings.second_part import joined
from stavewright.music.winds.instruments import INSTRUMENTS
from stavewright.variations import Unsuitable, apply, variations

if TYPE_CHECKING:
    from music21.stream import Part

_METERS = (Meter(4, 4), Meter(3, 4), Meter(2, 2), Meter(6, 8), Meter(5, 8), Meter(9, 8))
_BASES = tuple(Fraction(1, 2**power) for power in range(6))
_TUPLETS = ((3, 2), (5, 4), (7, 4), (6, 4))
SIGNS = {
    "staccato": "Staccato",
    "tenuto": "Tenuto",
    "portato": "DetachedLegato",
    "accent": "Accent",
    "marcato": "StrongAccent",
    "breath": "BreathMark",
}
"""What music21 calls the articulations."""

_MARKS = (*SIGNS, "fermata", "trill")


def made_score(random: Random, plain: bool = False) -> Score:
    """A score of up to eight bars with a little of everything; `plain` leaves out grace notes and trills."""
    key = random.choice(spellings(random.randrange(12), random.choice(tuple(MODES))))
    meter = random.choice(_METERS)
    pickup = Fraction(1, meter.unit) if random.random() < 0.3 else Fraction(0)
    bars = _bars(random, key, meter, pickup, plain)
    line = Staff(bars, clef=random.choice(("treble", "bass", "alto", "tenor")))
    lines: tuple[Staff, ...] = (line,)
    if random.random() < 0.3:
        low = Staff((Bar((Event(_pitch(random, key), Value(Fraction(1))),)),), label="drone", small=True)
        lines = (line, Staff(held(low, bars), clef="treble", label="drone", small=True))
    compass = INSTRUMENTS["flute"].compass
    return Score(key, meter, _tempo(random), lines, compass, pickup)


def made_duet(random: Random) -> Score:
    """A made score with a second part: other notes of its own below the first one's bar lines."""
    score = made_score(random)
    below = each_pitch(score.line.bars, lambda pitch: replace(pitch, octave=pitch.octave - 1))
    plain = each_event(below, lambda event: replace(event, dynamic_marks=(), vibrato=(), above=""))
    second = replace(score.line, bars=joined(score.line.bars, plain), part=2)
    return replace(score, lines=(replace(score.line, part=1), second, *score.lines[1:]))


def _tempo(random: Random) -> Tempo:
    low = random.randrange(40, 120)
    base = random.choice((Fraction(1, 2), Fraction(1, 4), Fraction(1, 8)))
    return Tempo(Value(base, random.choice((0, 0, 1))), low, low + random.randrange(0, 40))


def _bars(random: Random, key: Key, meter: Meter, pickup: Fraction, plain: bool) -> tuple[Bar, ...]:
    lengths = ([pickup] if pickup else []) + [meter.length] * random.randrange(1, 8)
    bars: list[Bar] = []
    for length in lengths:
        changed = bool(bars) and random.random() < 0.15
        now = random.choice(_METERS) if changed else None
        meter = now or meter
        events = _events(random, key, meter.length if bars else length)
        faster = _tempo(random) if bars and random.random() < 0.15 else None
        bars.append(Bar(events, meter=now, tempo=faster))
    if not any(event.pitch for bar in bars for event in bar.events):
        return _bars(random, key, meter, Fraction(0), plain)
    return _repeated(random, tuple(_dressed(random, bars, key, plain)))


def _events(random: Random, key: Key, length: Fraction) -> tuple[Event, ...]:
    events: list[Event] = []
    rest = length
    while rest:
        base = random.choice([base for base in _BASES if base <= rest])
        if base >= Fraction(1, 8) and random.random() < 0.15:
            many, time = random.choice(_TUPLETS)
            value = Value(base / 4, scale=Fraction(time, many))
            group = [Event(_pitch(random, key), value) for _ in range(many)]
            if group[0].length * many <= rest:
                group[0] = replace(group[0], opens=(tuplet(many, time),))
                group[-1] = replace(group[-1], closes=(tuplet(many, time),))
                events += group
                rest -= sum(event.length for event in group)
                continue
        dots = random.choice((0, 0, 1, 2))
        value = Value(base, dots)
        left = rest - value.length
        if left < 0 or left % _BASES[-1]:
            value = Value(base)
        pitch = None if random.random() < 0.12 else _pitch(random, key)
        events.append(Event(pitch, value))
        rest -= value.length
    return tuple(events)


def _pitch(random: Random, key: Key) -> Pitch:
    octave, letter = divmod(random.randrange(4 * 7, 6 * 7), 7)
    change = random.choice((0, 0, 0, 0, -1, 1))
    return Pitch(letter, max(-2, min(2, key.alteration(letter) + change)), octave)


def _dressed(random: Random, bars: list[Bar], key: Key, plain: bool) -> list[Bar]:
    """Ties, slurs, marks, dynamics, vibrato, words and grace notes on bars of bare notes."""
    events = [event for bar in bars for event in bar.events]
    for place in range(len(events) - 1):
        event, after = events[place], events[place + 1]
        both = event.pitch is not None and after.pitch is not None
        if both and random.random() < 0.12:
            events[place] = replace(event, tie=True)
            events[place + 1] = replace(after, pitch=event.pitch)
    marks = [mark for mark in _MARKS if not (plain and mark == "trill")]
    slur = False
    wave = False
    hairpin = False
    for place, event in enumerate(events):
        if event.pitch is None:
            continue
        tied = place > 0 and events[place - 1].tie
        if random.random() < 0.25 and not tied and not event.tie:
            event = event.marked(*random.sample(marks, random.choice((1, 1, 2))))
        if random.random() < 0.1 and not plain and not tied:
            count = random.choice((1, 2, 3))
            event = replace(event, graces=tuple(_pitch(random, key) for _ in range(count)))
        last = all(later.pitch is None for later in events[place + 1 :])
        if slur and (last or random.random() < 0.4):
            event = replace(event, closes=(*event.closes, SLUR))
            slur = False
        elif not slur and not last and random.random() < 0.25:
            event = replace(event, opens=(*event.opens, SLUR))
            slur = True
        if random.random() < 0.2:
            event = event.with_dynamic_marks(DynamicMark(Fraction(0), random.choice(LEVELS)))
        if hairpin and random.random() < 0.5:
            event = event.with_dynamic_marks(DynamicMark(Fraction(random.choice((1, 2, 7)), 8), HAIRPIN_END))
            hairpin = False
        elif not hairpin and random.random() < 0.15:
            event = event.with_dynamic_marks(DynamicMark(Fraction(0), random.choice(HAIRPINS)))
            hairpin = True
        if random.random() < 0.1:
            wave = not wave
            event = event.with_vibrato(DynamicMark(Fraction(1, 2), WAVE if wave else HAIRPIN_END))
        if random.random() < 0.1:
            event = replace(event, syllable=random.choice(("doo", "goo", "té")))
        if random.random() < 0.1:
            event = replace(event, above=random.choice(("still", '<b>"dark" & bright</b>')))
        events[place] = event
    found = []
    for bar in bars:
        found.append(replace(bar, events=tuple(events[: len(bar.events)])))
        events = events[len(bar.events) :]
    return found


def _with_events(bar: Bar, events: list[Event]) -> Bar:
    return replace(bar, events=tuple(events))


def _repeated(random: Random, bars: tuple[Bar, ...]) -> tuple[Bar, ...]:
    """A repeat with or without endings in half of the scores, and a final bar line."""
    found = list(bars)
    count = len(found)
    found[-1] = replace(found[-1], end="|.")
    if count >= 4 and random.random() < 0.3:
        begin = random.randrange(1, count - 2)
        found[begin] = replace(found[begin], opens_repeat=True)
        found[-2] = replace(found[-2], end=":|", ending=1)
        found[-1] = replace(found[-1], ending=2)
    elif count >= 3 and random.random() < 0.4:
        begin = random.randrange(1, count - 1)
        end = random.randrange(begin, count)
        found[begin] = replace(found[begin], opens_repeat=True)
        found[end] = replace(found[end], end=":|")
    return tuple(found)


def in_music21(score: Score, fastest: bool = False) -> Part:
    """The player's line built in music21 from the score's values, repeats played out by music21 itself.

    Every bar has a tempo of its own, the one in force on the page, so that a bar heard again keeps it.
    """
    from music21 import articulations, bar, expressions, note, spanner, stream, tempo, tie
    from music21.duration import Duration

    part = stream.Part()
    endings: dict[int, list[stream.Measure]] = {1: [], 2: []}
    speed = score.tempo
    for number, found in enumerate(score.line.bars, start=1):
        measure = stream.Measure(number=number)
        speed = found.tempo or speed
        beat = Duration(float(speed.beat.length * 4))
        measure.append(tempo.MetronomeMark(number=speed.high if fastest else speed.low, referent=beat))
        for event in found.events:
            quarters = event.length * 4
            sound = note.Rest(quarterLength=quarters)
            if event.pitch is not None:
                sound = note.Note(str(event.pitch).replace("b", "-"), quarterLength=quarters)
                if event.tie:
                    sound.tie = tie.Tie("start")
            for mark, name in SIGNS.items():
                if mark in event.marks:
                    sound.articulations.append(getattr(articulations, name)())
            if "fermata" in event.marks:
                sound.expressions.append(expressions.Fermata())
            measure.append(sound)
        if found.opens_repeat:
            measure.leftBarline = bar.Repeat(direction="start")
        if found.end == ":|":
            measure.rightBarline = bar.Repeat(direction="end")
        if found.ending:
            endings[found.ending].append(measure)
        part.append(measure)
    for number, measures in endings.items():
        if measures:
            part.insert(0, spanner.RepeatBracket(measures, number=number))
    return part.expandRepeats()


def without_ladder(score: Score) -> Score:
    """The score without a ladder of tempos, which is no part of what is printed."""
    return score.with_line(replace(score.line, ladder=None))


def varied_score(name: str, plain: bool = False) -> Score:
    """A made score in the variation of a name, with the words of its own example."""
    variation = variations()[name]
    wish = f"{name} {variation.takes}".strip()
    for seed in range(200):
        try:
            return apply(made_score(Random(seed), plain), (wish,))
        except Unsuitable:
            continue
    raise LookupError(f"no made score suits {wish!r}")
