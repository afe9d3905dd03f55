"""What a page needs to sound: each piece as a play-through, and the ground that drone and pulse stand on.

Pure functions: a score in, plain values and their JSON out. The page's scripts (site_src/assets/sound) make
the sound of it and move the mark along the notes. What sounds is its performance
(`music/sounding/performance.py`). Time is the page's own (`music/sounding/timing.py`): a note under a fermata
waits, and a change of tempo keeps its place within its range. Printed levels are `STEP` decibels apart.

Times are exact in Python and whole ticks in JSON, `whole` of them to a whole note.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import lcm

from ..engrave.drawings.svg import Drawing, numbered_heads
from ..music.accompaniment import sounding_chords
from ..music.bars import bar_places
from ..music.event import LEVELS, Tempo
from ..music.pitch import A4_HERTZ, Pitch
from ..music.score import Meter, Score, Staff
from ..music.settings.transpositions import Setting
from ..music.settings.tuning import tuned
from ..music.sounding.dynamics import FIRST, DynamicCurve
from ..music.sounding.performance import Performance, PerformedNote, perform
from ..music.sounding.tempos import tempos
from ..music.sounding.timing import UnfoldedEvent, heard_bars, speeds
from ..music.winds.instrument import Instrument
from ..translation.catalog import TO_ENGLISH, Translation

STEP = 2.5
"""Decibels from one printed level to the next. Small beside a real player's, so that pp is still heard from
a telephone's loudspeaker; no source."""

CHORDS = -16.0
"""Decibels from mf at which each note of a chord is heard: together they are softer than the melody."""

SILENCE = -40.0
"""Decibels below mf where a hairpin begins or ends with nothing: a small circle on the page."""

JOINED = 1
ACCENTED = 2
FAINT = 4


@dataclass(frozen=True, slots=True)
class Tone:
    """A note head of the player's line as it is heard.

    `start` and `length` are in whole notes, repeats counted; `head` is the number that the drawing gives the
    head (`data-n`). `sounds` is how long the tone sounds from `start`, in whole notes, and 0 where a tie
    carries it on. `midi` is the sounding pitch, and `cents` how far above it the note lies in just intonation
    from the keynote, by its spelling. `touch` adds up JOINED (it lasts until the next begins), ACCENTED and
    FAINT. `bend` is how many semitones its pitch moves from its middle to its end.
    """

    start: Fraction
    length: Fraction
    midi: int
    head: int
    sounds: Fraction
    touch: int
    cents: float
    bend: int = 0


@dataclass(frozen=True, slots=True)
class Beats:
    """A bar as it is heard: it begins at `start`, `offset` after where its first beat would be (a pick-up's
    is not 0), and its pulse is `unit` long. All in whole notes."""

    start: Fraction
    length: Fraction
    offset: Fraction
    unit: Fraction


@dataclass(frozen=True, slots=True)
class Speed:
    """From `start` in whole notes on, the tempo of this number holds, slower by `factor` under a fermata."""

    start: Fraction
    tempo: int
    factor: Fraction


@dataclass(frozen=True, slots=True)
class Level:
    """At `at` in whole notes the level is `decibels` above or below mf, reached evenly from the level before
    where `gradual`, else at once."""

    at: Fraction
    decibels: float
    gradual: bool


@dataclass(frozen=True, slots=True)
class OtherPart:
    """What sounds beside the first part; the heads of a duet's second part are counted on its own staff."""

    tones: tuple[Tone, ...]
    levels: tuple[Level, ...]
    vibrato: tuple[tuple[Fraction, Fraction], ...]


@dataclass(frozen=True, slots=True)
class PlayThrough:
    """A score as it is heard.

    `vibrato` holds the spans in which the tone waves, in whole notes. `drone` is the written pitch of the
    drone's staff, None where there is none. `free` is free time: it has no beats to click. `second` is the
    second part of a duet, and `chords` are an accompaniment.
    """

    tones: tuple[Tone, ...]
    bars: tuple[Beats, ...]
    speeds: tuple[Speed, ...]
    tempos: tuple[Tempo, ...]
    levels: tuple[Level, ...]
    vibrato: tuple[tuple[Fraction, Fraction], ...]
    drone: Pitch | None
    end: Fraction
    free: bool = False
    second: OtherPart | None = None
    chords: OtherPart | None = None


def pulse(tempo: Tempo, meter: Meter) -> Fraction:
    """The length of a beat, in whole notes: the tempo's where it fills a bar, else the meter's own unit.

    In free time it is the tempo's.
    """
    beat = tempo.beat.length
    return Fraction(1, meter.unit) if meter.length % beat else beat


def play_through(score: Score, instrument: Instrument) -> PlayThrough:
    """The player's line of a score as it is heard on an instrument."""
    performance = perform(score.line, score.key)
    passages = list(speeds(score, performance.heard))
    # The first is the one that a player sets.
    kinds = tuple(dict.fromkeys((score.tempo, *(tempo for _, _, tempo, _ in passages))))
    return PlayThrough(
        tones=_tones(score, score.line, instrument, performance),
        bars=_bars(score, performance.heard),
        speeds=_speeds(passages, kinds),
        tempos=kinds,
        levels=_levels(performance.dynamics),
        vibrato=performance.vibrato,
        drone=_drone(score),
        end=performance.end,
        free=score.meter.is_free,
        second=_second(score, instrument),
        chords=_chords(score, instrument),
    )


def _chords(score: Score, instrument: Instrument) -> OtherPart | None:
    """The chords as tones without heads; in just intonation they stay tempered, as a keyboard is."""
    found = sounding_chords(score)
    if not found:
        return None
    tones = (
        Tone(each.start, each.end - each.start, note, 0, each.end - each.start, 0, 0.0)
        for each in found
        for note in each.sounding(instrument.sounds)
    )
    return OtherPart(tuple(tones), (Level(Fraction(0), CHORDS, False),), ())


def _second(score: Score, instrument: Instrument) -> OtherPart | None:
    if score.second is None or score.second.chords:
        return None
    performance = perform(score.second, score.key)
    tones = _tones(score, score.second, instrument, performance)
    return OtherPart(tones, _levels(performance.dynamics), performance.vibrato)


def _drone(score: Score) -> Pitch | None:
    lines = (line for line in score.lines[1:] if line.label == "drone")
    return next((note.pitch for line in lines for note in line.notes()), None)


def _first_heads(line: Staff) -> list[int]:
    """For each event of a line, how many heads stand before its own: the grace notes' come first."""
    count, firsts = 0, []
    for event in line.events():
        firsts.append(count)
        count += len(event.pitches)
    return firsts


def _tones(score: Score, line: Staff, instrument: Instrument, performance: Performance) -> tuple[Tone, ...]:
    """The tones of a line in the order of hearing, a row for each head that the mark visits."""
    heads = _first_heads(line)
    keynote = Pitch(score.key.letter, score.key.alter, 4)

    def tone(note: PerformedNote, start: Fraction, length: Fraction, head: int, sounds: Fraction) -> Tone:
        touch = (JOINED if note.to_slur else 0) | (ACCENTED if note.accent else 0)
        touch |= FAINT if note.faint else 0
        cents = round(tuned(keynote, note.pitch).cents, 2)
        return Tone(start, length, note.pitch.midi + instrument.sounds, head, sounds, touch, cents, note.bend)

    tones: list[Tone] = []
    for note in performance.notes:
        first = note.heads[0]
        sounds = note.end - note.start
        graces = len(first.event.graces)
        if note.grace is not None:
            tones.append(tone(note, note.start, sounds, heads[first.index] + note.grace, sounds))
            continue
        if note.stroke is None:
            tones.append(tone(note, note.start, first.end - note.start, heads[first.index] + graces, sounds))
        else:
            at = next(head for head in reversed(note.heads) if head.start <= note.start or head is first)
            graces = graces if at is first else 0
            tones.append(tone(note, note.start, sounds, heads[at.index] + graces, sounds))
        if not note.stroke:
            # A tie carries it on: the mark visits its other heads.
            for head in note.heads[1:]:
                carried = tone(note, head.start, head.event.length, heads[head.index], Fraction(0))
                tones.append(replace(carried, touch=0, bend=0))
    return tuple(sorted(tones, key=lambda each: each.start))


def _bars(score: Score, heard: tuple[UnfoldedEvent, ...]) -> tuple[Beats, ...]:
    """Bars as they are heard; a ladder that begins within a bar makes a part of one."""
    places = list(bar_places(score.line, score.meter))
    in_force = tempos(score)
    return tuple(
        Beats(
            bar.start,
            bar.end - bar.start,
            places[bar.number].start + bar.offset,
            pulse(in_force[bar.number], places[bar.number].meter),
        )
        for bar in heard_bars(score.line, heard)
    )


def _speeds(
    passages: Sequence[tuple[Fraction, Fraction, Tempo, Fraction]], kinds: tuple[Tempo, ...]
) -> tuple[Speed, ...]:
    found: list[Speed] = []
    for begin, _, tempo, factor in passages:
        number = kinds.index(tempo)
        if not found or (found[-1].tempo, found[-1].factor) != (number, factor):
            found.append(Speed(begin, number, factor))
    return tuple(found)


def decibels(step: float) -> float:
    """A step's distance from mf in decibels: -1 is silence, 0 to 7 are the printed levels from ppp to fff."""
    return SILENCE if step < 0 else (step - LEVELS.index(FIRST)) * STEP


def _levels(curve: DynamicCurve) -> tuple[Level, ...]:
    points = list(zip(curve.times, map(decibels, curve.steps), strict=True))
    levels: list[Level] = []
    for (before, was), (at, now) in pairwise(points):
        gradual = at > before and now != was
        if gradual and (not levels or levels[-1].gradual or levels[-1].at != before):
            levels.append(Level(before, was, False))
        if now != was:
            levels.append(Level(at, now, gradual))
    return tuple(levels)


def play_through_json(piece: PlayThrough, translation: Translation = TO_ENGLISH) -> str:
    """A play-through as the page's scripts read it: rows in the order of the fields, times in ticks."""
    parts = [part for part in (piece, piece.second, piece.chords) if part]
    tones = [tone for part in parts for tone in part.tones]
    times = [time for tone in tones for time in (tone.start, tone.length, tone.sounds)]
    times += [time for bar in piece.bars for time in (bar.start, bar.length, bar.offset, bar.unit)]
    times += [level.at for part in parts for level in part.levels]
    times += [time for part in parts for span in part.vibrato for time in span]
    times += [tempo.beat.length for tempo in piece.tempos] + [speed.start for speed in piece.speeds]
    whole = lcm(1, *(time.denominator for time in times))

    def ticks(time: Fraction) -> int:
        return int(time * whole)

    def row(tone: Tone) -> list[float]:
        start, length, sounds = map(ticks, (tone.start, tone.length, tone.sounds))
        cents = int(tone.cents) if tone.cents == int(tone.cents) else tone.cents
        found = [start, length, tone.midi, tone.head, sounds, tone.touch, cents]
        return [*found, tone.bend] if tone.bend else found

    def sound_of(part: PlayThrough | OtherPart) -> dict[str, object]:
        return {
            "tones": [row(tone) for tone in part.tones],
            "levels": [[ticks(level.at), level.decibels, int(level.gradual)] for level in part.levels],
            "vibrato": [[ticks(begin), ticks(until)] for begin, until in part.vibrato],
        }

    rows = {
        "whole": whole,
        "end": ticks(piece.end),
        "beat": translation.gettext(piece.tempos[0].beat.name),
        "tempos": [[ticks(tempo.beat.length), tempo.low, tempo.high] for tempo in piece.tempos],
        "speeds": [[ticks(speed.start), speed.tempo, float(speed.factor)] for speed in piece.speeds],
        "bars": [[ticks(t) for t in (bar.start, bar.length, bar.offset, bar.unit)] for bar in piece.bars],
        **sound_of(piece),
        "drone": [piece.drone.midi, translation.note(piece.drone.spoken)] if piece.drone else None,
    }
    rows |= {"free": 1} if piece.free else {}
    rows |= {"second": sound_of(piece.second)} if piece.second else {}
    rows |= {"chords": sound_of(piece.chords)} if piece.chords else {}
    return json.dumps(rows, separators=(",", ":"))


def heads(drawing: Drawing) -> str:
    """Where the heads are, for a drawing that does not number them all itself: `x,y x,y ...` in points.

    Empty where every head can be found by its number.
    """
    if numbered_heads(drawing.body) == list(range(len(drawing.notes))):
        return ""
    return " ".join(f"{note.x:g},{note.y:g}" for note in drawing.notes)


def _key_ground(setting: Setting, a4: float, translation: Translation) -> dict[str, object]:
    return {
        "a4": a4,
        "sounds": setting.instrument.sounds,
        "tonic": setting.key.pitch_class,
        "tonicName": translation.note(setting.key.tonic),
    }


def key_ground_json(setting: Setting, a4: float = A4_HERTZ, translation: Translation = TO_ENGLISH) -> str:
    """What the drone of a key's page begins with, from any setting on it.

    `a4` is the frequency of A4 in hertz, where the player has chosen none. `sounds` is how many semitones
    above the page the instrument sounds, `tonic` a written pitch class from C (0 to 11) with its name.
    """
    return json.dumps(_key_ground(setting, a4, translation), separators=(",", ":"))


def ground_json(setting: Setting, a4: float = A4_HERTZ, translation: Translation = TO_ENGLISH) -> str:
    """What the drone and the pulse of an exercise's page begin with: its key's ground and more.

    `drone` is the written MIDI number of the exercise's own drone or null. `units` is how many beats make a
    bar, 0 in free time, each `slower` beats of the tempo long.
    """
    exercise, drone = setting.exercise, setting.drone
    tempo, beat = exercise.tempo, pulse(exercise.tempo, exercise.meter)
    values = {
        **_key_ground(setting, a4, translation),
        "exercise": exercise.slug,
        "drone": drone.midi if drone else None,
        "droneName": translation.note(drone.spoken) if drone else "",
        "beat": translation.gettext(tempo.beat.name),
        "low": tempo.low,
        "high": tempo.high,
        "units": int(exercise.meter.length / beat),
        "slower": float(beat / tempo.beat.length),
    }
    return json.dumps(values, separators=(",", ":"))
