"""What is played, note by note: how long, how loud, how begun, and how far from the note before.

The rules, all common practice, no source:

1. Times are seconds at the slowest tempo of the range, repeats played, as builder.music.timing counts them.
2. A dynamic level holds until the next. A hairpin goes evenly from the level before it to the one written at
   its end; where none is written there, one level. Of a note within it each level passed has its share.
   Before the first sign no level is known.
3. Two notes are neighbours where no rest and no breath mark stands between them. Tied notes are one note.
   Grace notes are left out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from builder.music.instrument import Instrument, Register
from builder.music.pitch import Interval, Pitch
from builder.music.score import HAIRPIN_END, HAIRPINS, LEVELS, Event, Score
from builder.music.settings import Setting
from builder.music.timing import Heard, clock, hearing

SLURRED = "slurred"
SOFT = "soft-tongued under a slur"
TONGUED = "tongued"
_ATTACKS = {
    "marcato": "marcato",
    "accent": "accented",
    "portato": "portato",
    "staccato": "detached",
    "tenuto": "tongued, held full length",
}
SYLLABLES = "with a tonguing syllable"
ATTACKS = (TONGUED, *_ATTACKS.values(), SYLLABLES, SLURRED, SOFT)
"""Every kind of attack that is told apart."""

_FROM_SILENCE, _TO_SILENCE = HAIRPINS[2], HAIRPINS[3]
_GROWS = (HAIRPINS[0], _FROM_SILENCE)


@dataclass(frozen=True, slots=True)
class Moment:
    """A note as it is heard, ties joined.

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
    """From `start` to `end` (seconds) a level goes evenly from `first` to `last`, None where not known."""

    start: float
    end: float
    first: int | None
    last: int | None


def _slopes(items: tuple[Heard, ...], times: list[float]) -> Iterator[_Slope]:
    """The levels of a line from beginning to end; `times` are when its events begin, and its end."""
    signs: list[tuple[float, int, str]] = []
    for item, start, stop in zip(items, times, times[1:], strict=False):
        for shade in item.event.shades:
            # Of signs at one moment the end of a hairpin comes first and its beginning last.
            rank = 0 if shade.mark == HAIRPIN_END else 1 if shade.mark in LEVELS else 2
            signs.append((start + (stop - start) * float(shade.at), rank, shade.mark))
    signs.sort(key=lambda sign: sign[:2])
    now: float = 0
    level: int | None = None
    for index, (time, _, mark) in enumerate(signs):
        if mark in LEVELS:
            yield _Slope(now, time, level, level)
            now, level = time, LEVELS.index(mark)
        elif mark in HAIRPINS:
            yield _Slope(now, time, level, level)
            later = signs[index + 1 :]
            stop = later[0][0] if later else times[-1]
            goal = next((m for at, _, m in later if at == stop and m in LEVELS), None)
            first = 0 if mark == _FROM_SILENCE else level
            last = LEVELS.index(goal) if goal else 0 if mark == _TO_SILENCE else _beyond(first, mark)
            if first is None and last is not None:
                first = _beyond(last, HAIRPINS[1] if mark in _GROWS else HAIRPINS[0])
            yield _Slope(time, stop, first, last)
            now, level = stop, last
    yield _Slope(now, times[-1], level, level)


def _beyond(level: int | None, hairpin: str) -> int | None:
    """One level further, within those there are."""
    if level is None:
        return None
    return min(level + 1, len(LEVELS) - 1) if hairpin in _GROWS else max(level - 1, 0)


def _shares(slope: _Slope, start: float, end: float) -> Iterator[tuple[int, float]]:
    """The seconds at each level between two moments on one slope."""
    begin, stop = max(start, slope.start), min(end, slope.end)
    if begin >= stop or slope.first is None or slope.last is None:
        return
    if slope.first == slope.last:
        yield slope.first, stop - begin
        return
    rise = (slope.last - slope.first) / (slope.end - slope.start)
    one, other = sorted(slope.first + rise * (moment - slope.start) for moment in (begin, stop))
    for level in range(len(LEVELS)):
        inside = min(other, level + 0.5) - max(one, level - 0.5)
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
    """Every note of the player's line in the order of hearing."""
    items = hearing(score.line)
    time = clock(score)
    times = [float(time.seconds(item.start)) for item in items] + [float(time.length)]
    slopes = [slope for slope in _slopes(items, times) if slope.end > slope.start]
    found: list[Moment] = []
    before: Pitch | None = None
    start: float | None = None
    attack = TONGUED
    slurs = first = 0
    for number, item in enumerate(items):
        event = item.event
        inside = slurs > 0
        slurs += event.opens.count("slur") - event.closes.count("slur")
        if event.pitch is None:
            before = start = None
            continue
        if start is None:
            start, attack = times[number], _attack(event, inside)
        following = items[number + 1].event.pitch if number + 1 < len(items) else None
        if event.tie and following == event.pitch:
            continue
        end = times[number + 1]
        while slopes[first].end <= start and first + 1 < len(slopes):
            first += 1
        levels: dict[int, float] = {}
        for slope in slopes[first:]:
            if slope.start >= end:
                break
            for level, share in _shares(slope, start, end):
                levels[level] = levels.get(level, 0) + share
        step = Interval.between(before, event.pitch) if before else None
        found.append(Moment(event.pitch, end - start, tuple(sorted(levels.items())), attack, step))
        before, start = None if "breath" in event.marks else event.pitch, None
    return tuple(found)


def longest_breath(notes: tuple[Moment, ...]) -> float:
    """The longest span without a breath, in seconds."""
    longest = span = 0.0
    for note in notes:
        span = note.seconds + (span if note.step is not None else 0)
        longest = max(longest, span)
    return longest


WHOLE = "whole range"
"""What stands for a register where an instrument has none."""

_FIFTH = 7


def register_of(pitch: Pitch, instrument: Instrument) -> str:
    """The register of a pitch, or the nearest one where it lies in none."""

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

    Empty where it cannot be played, or the instrument has no registers.
    """
    if not setting.fits or not setting.instrument.registers:
        return ""
    return main_register(moments(setting.score()), setting.instrument)


def register_order(instrument: Instrument) -> tuple[str, ...]:
    """The order in which a set goes through the registers: middle, low, high.

    First the middle one; of an even number the one nearest to the middle of the preferred range that is at
    least a fifth wide, so that no set begins on three throat tones. Then those below it going down, then
    those above it going up.
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
