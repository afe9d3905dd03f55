"""Measures what is played, note by note: its length, its loudness, its attack, and its interval.

The rules, all common practice, no source:

1. Times are seconds at the slowest tempo of the range, repeats played, as music.timing counts them.
2. Notes sound as `music.performance` says, without grace notes and trills. Each level that a hairpin
   passes has its share of a note. Before the first sign no level is known.
3. Two notes are neighbours if no rest and no breath mark stands between them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from ..music.event import LEVELS, Event
from ..music.pitch import Interval, Pitch
from ..music.score import Score
from ..music.settings.transpositions import Setting
from ..music.sounding.dynamics import DynamicCurve
from ..music.sounding.performance import PerformedNote, perform
from ..music.sounding.timing import Clock, clock
from ..music.winds.instrument import Instrument, Register
from ..translation.said import noted

SLURRED = noted("slurred")
SOFT = noted("soft-tongued under a slur")
TONGUED = noted("tongued")
_ATTACKS = {
    "marcato": noted("marcato"),
    "accent": noted("accented"),
    "portato": noted("portato"),
    "staccato": noted("detached"),
    "tenuto": noted("tongued, held full length"),
}
SYLLABLES = noted("with a tonguing syllable")
ATTACKS = (TONGUED, *_ATTACKS.values(), SYLLABLES, SLURRED, SOFT)
"""Every kind of attack that is counted."""


@dataclass(frozen=True, slots=True)
class Moment:
    """A note as it is heard, with its ties joined.

    `seconds` is its length; `levels` the seconds of it at each level as a number in LEVELS (none where no
    level is known); `step` the interval from its neighbour before it, None where it begins after a breath.
    """

    pitch: Pitch
    seconds: float
    levels: tuple[tuple[int, float], ...]
    attack: str
    step: Interval | None


@dataclass(frozen=True, slots=True)
class _Slope:
    """A stretch from `start` to `end` (seconds) in which loudness goes evenly from one step to another."""

    start: float
    end: float
    first: float
    last: float


def _slopes(curve: DynamicCurve, time: Clock) -> Iterator[_Slope]:
    """The loudness of a line from its first sign to its end."""
    if curve.known_from is None:
        return
    known_from, end = curve.known_from, time.end
    # Even in the note values, a slope is even in seconds only as long as the tempo stays.
    turns = {stretch.start for stretch in time.stretches} | set(curve.times) | {known_from, end}
    moments = sorted(turn for turn in turns if known_from <= turn <= end)
    for start, stop in pairwise(moments):
        yield _Slope(
            float(time.seconds(start)), float(time.seconds(stop)), curve.at(start), curve.until(stop)
        )


def _shares(slope: _Slope, start: float, end: float) -> Iterator[tuple[int, float]]:
    """The seconds at each level between two moments on one slope; silence counts as the softest level."""
    begin, stop = max(start, slope.start), min(end, slope.end)
    if begin >= stop:
        return
    if slope.first == slope.last:
        yield max(0, round(slope.first)), stop - begin
        return
    rise = (slope.last - slope.first) / (slope.end - slope.start)
    one, other = sorted(slope.first + rise * (moment - slope.start) for moment in (begin, stop))
    for level in range(len(LEVELS)):
        inside = min(other, level + 0.5) - (max(one, level - 0.5) if level else one)
        if inside > 0:
            yield level, inside / abs(rise)


def _attack(event: Event, in_slur: bool) -> str:
    if event.syllable:
        return SYLLABLES
    if in_slur:
        if "tenuto" in event.marks:
            return SOFT
        return _ATTACKS["portato"] if {"staccato", "portato"} & set(event.marks) else SLURRED
    return next((name for mark, name in _ATTACKS.items() if mark in event.marks), TONGUED)


def moments(score: Score) -> tuple[Moment, ...]:
    """Every note of the player's line in the order it is heard."""
    performance = perform(score.line, score.key, ornaments=False)
    time = clock(score)
    slopes = list(_slopes(performance.dynamics, time))
    found: list[Moment] = []
    before: PerformedNote | None = None
    first = 0
    for note in performance.notes:
        start, end = float(time.seconds(note.heads[0].start)), float(time.seconds(note.heads[-1].end))
        while first + 1 < len(slopes) and slopes[first].end <= start:
            first += 1
        levels: dict[int, float] = {}
        for slope in slopes[first:]:
            if slope.start >= end:
                break
            for level, share in _shares(slope, start, end):
                levels[level] = levels.get(level, 0) + share
        step = Interval.between(before.pitch, note.pitch) if before and _joins(before, note) else None
        attack = _attack(note.event, note.from_slur)
        found.append(Moment(note.pitch, end - start, tuple(sorted(levels.items())), attack, step))
        before = note
    return tuple(found)


def _joins(before: PerformedNote, note: PerformedNote) -> bool:
    """Whether two notes follow each other without a rest or a breath."""
    last = before.heads[-1]
    return last.end == note.heads[0].start and "breath" not in last.event.marks


def longest_breath(notes: tuple[Moment, ...]) -> float:
    """The longest span without a breath, in seconds."""
    longest = span = 0.0
    for note in notes:
        span = note.seconds + (span if note.step is not None else 0)
        longest = max(longest, span)
    return longest


WHOLE = "whole range"
"""The name of the only register of an instrument without registers."""

_FIFTH = 7


def register_of(pitch: Pitch, instrument: Instrument) -> str:
    """The register of a pitch, or the nearest one if it lies in none."""

    def distance(register: Register) -> int:
        return max(register.low.midi - pitch.midi, pitch.midi - register.high.midi, 0)

    nearest = min(instrument.registers, key=distance, default=None)
    return instrument.register(pitch) or (nearest.name if nearest else WHOLE)


def main_register(notes: tuple[Moment, ...], instrument: Instrument) -> str:
    """The register with most of the sounding time, the lower of two equal ones; empty without notes."""
    times = {register.name: 0.0 for register in sorted(instrument.registers, key=lambda r: r.low.midi)}
    for note in notes:
        name = register_of(note.pitch, instrument)
        times[name] = times.get(name, 0.0) + note.seconds
    return max(times, key=lambda name: times[name]) if any(times.values()) else ""


def register_of_setting(setting: Setting) -> str:
    """The register in which most of a setting's time as written lies, as daily sets count it.

    Empty if it cannot be played or the instrument has no registers.
    """
    if not setting.fits or not setting.instrument.registers:
        return ""
    return main_register(moments(setting.score()), setting.instrument)


def registers_passed(settings: Sequence[Setting]) -> tuple[str, ...]:
    """The registers that the notes of one instrument's settings pass through, in the instrument's order.

    Empty if none can be played or the instrument has no registers.
    """
    found = {
        register_of(note.pitch, setting.instrument)
        for setting in settings
        if setting.fits
        for note in setting.score().line.notes()
        if note.pitch is not None
    }
    named = (register for setting in settings[:1] for register in setting.instrument.registers)
    return tuple(register.name for register in named if register.name in found)


def register_order(instrument: Instrument) -> tuple[str, ...]:
    """The order in which a set goes through the registers: middle, low, high.

    The middle register comes first; of an even number, the one nearest to the middle of the preferred range
    that is at least a fifth wide, so that no set begins on three throat tones. Then come those below it,
    going down, then those above it, going up.
    """
    compass = instrument.compass
    centre = (compass.easy_low.midi + compass.easy_high.midi) / 2
    rows = sorted(instrument.registers, key=lambda register: register.low.midi)
    if not rows:
        return (WHOLE,)
    wide = [row for row in rows if row.high.midi - row.low.midi >= _FIFTH] or rows
    nearest = min(wide, key=lambda row: max(row.low.midi - centre, centre - row.high.midi, 0))
    home = len(rows) // 2 if len(rows) % 2 else rows.index(nearest)
    order = [rows[home], *reversed(rows[:home]), *rows[home + 1 :]]
    return tuple(dict.fromkeys(register.name for register in order))
