"""What a page needs to sound: each piece as a play-through, and the ground that drone and pulse stand on.

Pure functions: a score in, plain values and their JSON out. The page's scripts (site_src/assets/sound) make
the sound of it and move the mark along the notes. What is heard follows the page by these rules:

1. Time is the page's own (`builder.music.timing`): repeats and endings are played, a note under a fermata
   waits, and a change of tempo keeps its place within its range.
2. Notes tied together are begun once, and the mark still visits every head.
3. Under a slur a note lasts until the next begins; elsewhere the tongue parts them. A dot halves a note, a
   line and dot take a quarter of it away, and a breath takes its time from the note before it. Common
   practice, no source.
4. Grace notes come before the beat, a thirty-second note each where the note before has room for them. A
   trill is heard as its main note.
5. Printed dynamics shape the level, `STEP` decibels from each to the next around mf; a hairpin that ends
   without a level goes `HAIRPIN` of these steps.

Times are exact in Python and whole ticks in JSON, `whole` of them to a whole note.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import lcm

from builder.engrave.svg import Drawing
from builder.music.instrument import Instrument
from builder.music.pitch import A4_HERTZ, Pitch
from builder.music.score import HAIRPIN_END, HAIRPINS, LEVELS, Event, Line, Meter, Score, Tempo, is_wave
from builder.music.score import heard as bars_heard
from builder.music.settings import Setting
from builder.music.timing import FERMATA, Heard, hearing, tempos
from builder.music.tuning import tuned

STEP = 2.5
"""Decibels from one printed level to the next. Small beside a real player's, so that pp is still heard from
a telephone's loudspeaker; no source."""

HAIRPIN = 2
SILENCE = -40.0
"""Decibels below mf where a hairpin begins or ends with nothing: a small circle on the page."""

GRACE = Fraction(1, 32)

JOINED = 1
ACCENTED = 2


@dataclass(frozen=True, slots=True)
class Tone:
    """A note head of the player's line as it is heard.

    `start` and `length` are in whole notes, repeats counted; `head` is the number that the drawing gives the
    head (`data-n`). `sounds` is how long the tone sounds from `start`, in whole notes, and 0 where a tie
    carries it on. `midi` is the sounding pitch, and `cents` how far above it the note lies in just intonation
    from the keynote, by its spelling. `touch` adds up JOINED (it lasts until the next begins) and ACCENTED.
    """

    start: Fraction
    length: Fraction
    midi: int
    head: int
    sounds: Fraction
    touch: int
    cents: float


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
class PlayThrough:
    """A score as it is heard. `vibrato` holds the spans in which the tone waves, in whole notes."""

    tones: tuple[Tone, ...]
    bars: tuple[Beats, ...]
    speeds: tuple[Speed, ...]
    tempos: tuple[Tempo, ...]
    levels: tuple[Level, ...]
    vibrato: tuple[tuple[Fraction, Fraction], ...]
    end: Fraction


def pulse(tempo: Tempo, meter: Meter) -> Fraction:
    """The length of a beat, in whole notes: the tempo's where it fills a bar, else the meter's own unit."""
    beat = tempo.beat.length
    return Fraction(1, meter.unit) if meter.length % beat else beat


def play_through(score: Score, instrument: Instrument) -> PlayThrough:
    """The player's line of a score as it is heard on an instrument."""
    found = hearing(score.line)
    end = found[-1].end if found else Fraction(0)
    in_force = tempos(score)
    kinds = tuple(dict.fromkeys(in_force))
    return PlayThrough(
        tones=_Tones(score, instrument).of(found),
        bars=_bars(score),
        speeds=_speeds(found, [kinds.index(tempo) for tempo in in_force]),
        tempos=kinds,
        levels=_levels(found),
        vibrato=_vibrato(found, end),
        end=end,
    )


def _heads(line: Line) -> list[int]:
    """For each event of a line, how many heads stand before its own: the grace notes' come first."""
    count, firsts = 0, []
    for event in line.events():
        firsts.append(count)
        count += len(event.pitches)
    return firsts


def _share(event: Event) -> Fraction:
    """The part of its length that a note sounds, by its marks."""
    if "staccato" in event.marks:
        return Fraction(1, 2)
    return Fraction(3, 4) if "portato" in event.marks else Fraction(1)


def _sounds(event: Event, goes_on: bool) -> Fraction:
    """How long a note sounds; one whose tie goes on, to its end."""
    sounds = event.length if goes_on else event.length * _share(event)
    return sounds - min(event.length / 4, Fraction(1, 16)) if "breath" in event.marks else sounds


def _touch(event: Event, slurred: bool) -> int:
    begun_anew = {"tenuto", "breath"} & set(event.marks) or _share(event) != 1
    joined = JOINED if slurred and not begun_anew else 0
    return joined | (ACCENTED if {"accent", "marcato"} & set(event.marks) else 0)


class _Tones:
    """Makes tones of events: pitches as they sound on an instrument, and tuned to the score's keynote."""

    def __init__(self, score: Score, instrument: Instrument) -> None:
        self.heads = _heads(score.line)
        self.shift = instrument.sounds
        self.keynote = Pitch(score.key.letter, score.key.alter, 4)

    def _tone(
        self, pitch: Pitch, start: Fraction, length: Fraction, head: int, sounds: Fraction, touch: int
    ) -> Tone:
        cents = tuned(self.keynote, pitch).cents
        return Tone(start, length, pitch.midi + self.shift, head, sounds, touch, round(cents, 2))

    def _graces(self, item: Heard, before: Heard | None, head: int) -> Iterable[Tone]:
        """The grace notes before a note: all together they leave the event before at least half its time."""
        count = len(item.event.graces)
        long = min(GRACE, before.event.length / 2 / count) if before and count else GRACE
        for place, grace in enumerate(item.event.graces):
            yield self._tone(grace, item.start - long * (count - place), long, head + place, long, JOINED)

    def of(self, found: tuple[Heard, ...]) -> tuple[Tone, ...]:
        """The tones of a line in the order of hearing."""
        tones: list[Tone] = []
        slurs = 0
        begun: int | None = None
        for before, item, after in zip((None, *found), found, (*found[1:], None), strict=False):
            event = item.event
            slurs += event.opens.count("slur") - event.closes.count("slur")
            if event.pitch is None:
                begun = None
                continue
            head = self.heads[item.index]
            tones += self._graces(item, before, head)
            head += len(event.graces)
            # At the end of a repeat a tie may lead nowhere: what is heard next is not what is printed next.
            goes_on = event.tie and after is not None and after.index == item.index + 1
            sounds, touch = _sounds(event, goes_on), _touch(event, slurs > 0)
            if begun is None:
                begun = len(tones)
            else:
                # A tie carries it: the first head's tone lasts on, and is let go as the last one is.
                first = tones[begun]
                whole, kept = item.start - first.start + sounds, first.touch & ACCENTED | touch & JOINED
                tones[begun] = replace(first, sounds=whole, touch=kept)
                sounds = Fraction(0)
            tones.append(self._tone(event.pitch, item.start, event.length, head, sounds, touch))
            if not goes_on:
                begun = None
        return tuple(_with_room(tones))


def _with_room(tones: list[Tone]) -> Iterable[Tone]:
    """No tone lasts into the next one that is begun."""
    begins = [tone.start for tone in tones if tone.sounds]
    after = dict(pairwise(begins))
    for tone in tones:
        if tone.sounds and tone.start in after:
            yield replace(tone, sounds=min(tone.sounds, after[tone.start] - tone.start))
        else:
            yield tone


def _bars(score: Score) -> tuple[Beats, ...]:
    meters: list[Meter] = []
    meter = score.meter
    for bar in score.line.bars:
        meter = bar.meter or meter
        meters.append(meter)
    in_force = tempos(score)
    now = Fraction(0)
    bars = []
    for index in bars_heard(score.line.bars):
        bar, meter = score.line.bars[index], meters[index]
        picked_up = index == 0 and score.pickup > 0
        offset = meter.length - bar.length if picked_up else Fraction(0)
        bars.append(Beats(now, bar.length, offset, pulse(in_force[index], meter)))
        now += bar.length
    return tuple(bars)


def _speeds(found: tuple[Heard, ...], tempo_of_bar: list[int]) -> tuple[Speed, ...]:
    speeds: list[Speed] = []
    for item in found:
        factor = FERMATA if "fermata" in item.event.marks else Fraction(1)
        tempo = tempo_of_bar[item.bar]
        if not speeds or (speeds[-1].tempo, speeds[-1].factor) != (tempo, factor):
            speeds.append(Speed(item.start, tempo, factor))
    return tuple(speeds)


def decibels(level: str) -> float:
    """A printed level's distance from mf."""
    return (LEVELS.index(level) - LEVELS.index("mf")) * STEP


def _levels(found: tuple[Heard, ...]) -> tuple[Level, ...]:
    signs: dict[Fraction, list[str]] = {}
    for item in found:
        for shade in item.event.shades:
            signs.setdefault(item.start + shade.at * item.event.length, []).append(shade.mark)
    points: list[Level] = []
    now, hairpin = 0.0, ""
    for at in sorted(signs):
        marks = signs[at]
        level = next((decibels(mark) for mark in reversed(marks) if mark in LEVELS), None)
        opening = next((mark for mark in marks if mark in HAIRPINS), "")
        if hairpin and (level is not None or opening or HAIRPIN_END in marks):
            now = _reached(hairpin, now, level)
            points.append(Level(at, now, True))
            hairpin = ""
        if level is not None and level != now:
            now = level
            points.append(Level(at, now, False))
        if opening:
            points.append(Level(at, SILENCE if opening == "o<" else now, False))
            hairpin = opening
    return tuple(points)


def _reached(hairpin: str, before: float, level: float | None) -> float:
    """Where a hairpin leads: to the level printed at its end if that lies its way."""
    if hairpin == ">o":
        return SILENCE
    grows = "<" in hairpin
    if level is not None and (level > before if grows else level < before):
        return level
    if hairpin == "o<":
        return before
    change = HAIRPIN * STEP if grows else -HAIRPIN * STEP
    return max(decibels(LEVELS[0]), min(decibels(LEVELS[-1]), before + change))


def _vibrato(found: tuple[Heard, ...], end: Fraction) -> tuple[tuple[Fraction, Fraction], ...]:
    spans: list[tuple[Fraction, Fraction]] = []
    begun: Fraction | None = None
    for item in found:
        for shade in item.event.vibrato:
            at = item.start + shade.at * item.event.length
            if is_wave(shade.mark) and begun is None:
                begun = at
            elif not is_wave(shade.mark) and begun is not None:
                spans.append((begun, at))
                begun = None
    if begun is not None:
        spans.append((begun, end))
    return tuple(spans)


def play_through_json(piece: PlayThrough) -> str:
    """A play-through as the page's scripts read it: rows in the order of the fields, times in ticks."""
    times = [time for tone in piece.tones for time in (tone.start, tone.length, tone.sounds)]
    times += [time for bar in piece.bars for time in (bar.start, bar.length, bar.offset, bar.unit)]
    times += [level.at for level in piece.levels] + [time for span in piece.vibrato for time in span]
    times += [tempo.beat.length for tempo in piece.tempos] + [speed.start for speed in piece.speeds]
    whole = lcm(1, *(time.denominator for time in times))

    def ticks(time: Fraction) -> int:
        return int(time * whole)

    def row(tone: Tone) -> list[float]:
        start, length, sounds = map(ticks, (tone.start, tone.length, tone.sounds))
        return [start, length, tone.midi, tone.head, sounds, tone.touch, tone.cents]

    rows = {
        "whole": whole,
        "end": ticks(piece.end),
        "beat": piece.tempos[0].beat.name,
        "tempos": [[ticks(tempo.beat.length), tempo.low, tempo.high] for tempo in piece.tempos],
        "speeds": [[ticks(speed.start), speed.tempo, float(speed.factor)] for speed in piece.speeds],
        "bars": [[ticks(t) for t in (bar.start, bar.length, bar.offset, bar.unit)] for bar in piece.bars],
        "tones": [row(tone) for tone in piece.tones],
        "levels": [[ticks(level.at), level.decibels, int(level.gradual)] for level in piece.levels],
        "vibrato": [[ticks(begin), ticks(until)] for begin, until in piece.vibrato],
    }
    return json.dumps(rows, separators=(",", ":"))


def heads(drawing: Drawing) -> str:
    """Where the heads are, for a drawing that does not number them all itself: `x,y x,y ...` in points.

    Empty where every head can be found by its number.
    """
    if all(f'data-n="{number}"' in drawing.body for number in range(len(drawing.notes))):
        return ""
    return " ".join(f"{note.x:g},{note.y:g}" for note in drawing.notes)


def _key_ground(setting: Setting, a4: float) -> dict[str, object]:
    return {
        "a4": a4,
        "sounds": setting.instrument.sounds,
        "tonic": setting.key.pitch_class,
        "tonicName": setting.key.tonic,
    }


def key_ground_json(setting: Setting, a4: float = A4_HERTZ) -> str:
    """What the drone of a key's page begins with, from any setting on it.

    `a4` is the frequency of A4 in hertz, where the player has chosen none. `sounds` is how many semitones
    above the page the instrument sounds, `tonic` a written pitch class from C (0 to 11) with its name.
    """
    return json.dumps(_key_ground(setting, a4), separators=(",", ":"))


def ground_json(setting: Setting, a4: float = A4_HERTZ) -> str:
    """What the drone and the pulse of an exercise's page begin with: its key's ground and more.

    `drone` is the written MIDI number of the exercise's own drone or null. `units` is how many beats make a
    bar, each `slower` beats of the tempo long.
    """
    exercise, drone = setting.exercise, setting.drone
    tempo, beat = exercise.tempo, pulse(exercise.tempo, exercise.meter)
    values = {
        **_key_ground(setting, a4),
        "exercise": exercise.slug,
        "drone": drone.midi if drone else None,
        "droneName": drone.spoken if drone else "",
        "beat": tempo.beat.name,
        "low": tempo.low,
        "high": tempo.high,
        "units": int(exercise.meter.length / beat),
        "slower": float(beat / tempo.beat.length),
    }
    return json.dumps(values, separators=(",", ":"))
