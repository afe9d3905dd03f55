"""Travel: an exercise in every key it asks for, spelled and placed for one instrument.

The rules of spelling, in order:

1. The key takes the signature with the fewest accidentals. Six sharps and six flats tie: then the key
   that needs fewer double accidentals for this music, then the sharp one; `spelling: flats` in the
   exercise turns ties the other way.
2. Every note keeps its letter's distance from the tonic, so an augmented second stays one.
3. Where that would print a double accidental and the home key has none, the note takes the plain name of
   the same sound (G instead of F double sharp), unless the exercise says `doubles: keep`. A chromatic run
   that comes to mix sharps and flats by this is spelled anew by its direction.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from .exercise import DIRECTIONS, FALLING, Exercise, Form
from .instruments import Instrument
from .keys import Key, spellings
from .pitch import Interval, Pitch
from .score import Bar, Event, Line, Score, each_pitch, held, span, transposed
from .spell import mixed_runs, tidy_runs


@dataclass(frozen=True, slots=True)
class Setting:
    """An exercise in one key from one start pitch, in written pitches of one instrument.

    `shift` counts the octaves it had to move from the line of travel. Where `fits` is false no octave
    holds it, and `remarks` says so.
    """

    exercise: Exercise
    instrument: Instrument
    key: Key
    start: Pitch
    direction: str
    bars: tuple[Bar, ...]
    drone: Pitch | None
    shift: int
    fits: bool
    remarks: tuple[str, ...]

    @property
    def name(self) -> str:
        """Unique within the exercise and instrument, safe in an address: `d-flat-5-falling`."""
        parts = [self.key.slug, str(self.start.octave)]
        if self.start.name != self.key.tonic[0] + {0: "", 1: "#", -1: "b"}[self.key.alter]:
            parts.append(f"from-{self.start.spoken.lower().replace(' ', '-')}")
        return "-".join([*parts, self.direction] if self.direction else parts)

    def score(self) -> Score:
        """The score of the plain setting, with a drone's staff below where the exercise has one."""
        exercise = self.exercise
        line = Line(self.bars, clef=self.instrument.clef)
        lines: tuple[Line, ...] = (line,)
        if self.drone is not None:
            low = Event(self.drone, exercise.tempo.beat)
            seed = Line((Bar((low,)),), clef=self.instrument.clef, label="drone", small=True)
            lines = (line, replace(seed, bars=held(seed, self.bars)))
        return Score(
            key=self.key,
            meter=exercise.meter,
            tempo=exercise.tempo,
            lines=lines,
            compass=self.instrument.compass,
            pickup=exercise.pickup,
        )


def interval_to(old: Key, new: Key, semitones: int) -> Interval:
    """The spelled interval that carries one key to another in a distance of so many semitones.

    Raises ValueError where the keys are not that distance apart.
    """
    if (new.pitch_class - old.pitch_class - semitones) % 12:
        raise ValueError(f"{old.name} to {new.name} is not {semitones} semitones")
    letters = (new.letter - old.letter) % 7
    near = round((semitones * 7 / 12 - letters) / 7)
    return Interval(letters + 7 * near, semitones)


def count_doubles(bars: tuple[Bar, ...]) -> int:
    """How many notes carry a double accidental (or worse)."""
    return sum(1 for bar in bars for event in bar.events for pitch in event.pitches if abs(pitch.alter) > 1)


def plain(pitch: Pitch) -> Pitch:
    """The pitch without a double accidental: G for F double sharp, A for B double flat."""
    while abs(pitch.alter) > 1:
        pitch = pitch.respelled(1 if pitch.alter > 0 else -1)
    return pitch


def without_doubles(bars: tuple[Bar, ...]) -> tuple[Bar, ...]:
    """Bars with every double accidental written under its plain name."""
    return each_pitch(bars, plain)


def choose_key(exercise: Exercise, pitch_class: int) -> Key:
    """The key of the exercise's mode on a pitch class, by the rules at the top of this module."""
    keys = spellings(pitch_class, exercise.key.mode)
    tied = [key for key in keys if abs(key.fifths) == abs(keys[0].fifths)]
    if exercise.prefer:
        wanted = 1 if exercise.prefer == "sharps" else -1
        return max(tied, key=lambda key: key.fifths * wanted)
    distance = (pitch_class - exercise.key.pitch_class) % 12

    def cost(key: Key) -> tuple[int, int]:
        interval = interval_to(exercise.key, key, distance)
        doubles = sum(count_doubles(transposed(form.bars, interval)) for form in exercise.forms)
        return doubles, -key.fifths

    return min(tied, key=cost)


def _placed(exercise: Exercise, form: Form, instrument: Instrument, semitones: int, fixed: bool) -> Setting:
    key = choose_key(exercise, (exercise.key.pitch_class + semitones) % 12)
    direct = interval_to(exercise.key, key, semitones)
    bars = transposed(form.bars, direct)
    drone = exercise.drone.up(direct) if exercise.drone else None
    if not exercise.keep_doubles and not count_doubles(form.bars):
        bars = without_doubles(bars)
        drone = plain(drone) if drone else None
        if mixed_runs(bars) > mixed_runs(form.bars):
            bars = tidy_runs(bars, key)
    compass = instrument.compass
    low, high = span(bars)

    def rank(shift: int) -> tuple[bool, int, int]:
        lowest, highest = low.octaves(shift), high.octaves(shift)
        return (not compass.prefers(lowest, highest), abs(shift), shift)

    shifts = [0] if fixed else range(-5, 6)
    fitting = [s for s in shifts if compass.holds(low.octaves(s), high.octaves(s))]
    shift = min(fitting, key=rank) if fitting else 0
    octaves = Interval(7 * shift, 12 * shift)
    bars, low, high = transposed(bars, octaves), low.octaves(shift), high.octaves(shift)
    remarks = []
    if shift:
        count = "an octave" if abs(shift) == 1 else f"{abs(shift)} octaves"
        way = "higher" if shift > 0 else "lower"
        remarks.append(
            f"Written {count} {way} than the line of travel, to stay between "
            f"{compass.easy_low.spoken} and {compass.easy_high.spoken}."
        )
    if not fitting:
        remarks.append(
            f"Cannot be played here: it would go from {low.spoken} to {high.spoken}, and the "
            f"{instrument.name.lower()} is written from {compass.low.spoken} to {compass.high.spoken}."
        )
    elif not compass.prefers(low, high):
        beyond = high if high.midi > compass.easy_high.midi else low
        remarks.append(f"Goes to {beyond.spoken}, beyond the preferred range.")
    return Setting(
        exercise=exercise,
        instrument=instrument,
        key=key,
        start=plain(exercise.home.up(direct)).octaves(shift),
        direction=form.direction,
        bars=bars,
        drone=drone.octaves(shift) if drone else None,
        shift=shift,
        fits=bool(fitting),
        remarks=tuple(remarks),
    )


def _semitones(exercise: Exercise, instrument: Instrument, form: Form, falling: bool) -> Iterator[int]:
    """Distances from the home pitch, in the order of travel."""
    travel, home = exercise.travel, exercise.home.midi
    sign = -1 if falling else 1
    if not travel.by_pitch:
        yield from (_nearest(sign * travel.step * number) for number in range(12))
        return
    if travel.first is not None and travel.last is not None:
        ends = (travel.first.midi, travel.last.midi)
        low, high = min(ends), max(ends)
    else:
        lowest, highest = span(form.bars)
        low = instrument.compass.easy_low.midi + home - lowest.midi
        high = instrument.compass.easy_high.midi + home - highest.midi
    pitches = range(low, high + 1, travel.step)
    yield from (pitch - home for pitch in (reversed(pitches) if falling else pitches))


def _nearest(semitones: int) -> int:
    """A circle's jump folded to within an octave of home, keeping its sign: -14 becomes -2."""
    return semitones % 12 if semitones > 0 else -(-semitones % 12)


def settings(exercise: Exercise, instrument: Instrument) -> tuple[Setting, ...]:
    """Every setting of an exercise for an instrument, in the order of travel.

    Both ways where the exercise has a form for each; where no octave fits, a setting that says so.
    """
    ways = list(exercise.travel.directions)
    ways += [
        form.direction
        for form in exercise.forms
        if form.direction in DIRECTIONS and form.direction not in ways
    ]
    found: dict[tuple[int, str], Setting] = {}
    for way in ways:
        form = exercise.form(way)
        for semitones in _semitones(exercise, instrument, form, way == FALLING):
            if (semitones, form.direction) not in found:
                setting = _placed(exercise, form, instrument, semitones, exercise.travel.by_pitch)
                found[semitones, form.direction] = setting
    return tuple(found.values())


def in_keys(all_settings: tuple[Setting, ...]) -> dict[str, tuple[Setting, ...]]:
    """Settings by key page, keys in the order in which travel first reaches them."""
    pages: dict[str, list[Setting]] = {}
    for setting in all_settings:
        pages.setdefault(setting.key.page, []).append(setting)
    return {page: tuple(group) for page, group in pages.items()}
