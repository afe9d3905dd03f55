"""Compares notes with a drone: which intervals lock, their just tuning, and how they beat if tempered.

A note is tuned by its place above the drone, whatever its octave, to the ratio in `JUST`. That is five-limit
just intonation as A. J. Ellis tabulates it in his translation of H. Helmholtz, "On the Sensations of Tone"
(second English edition, 1885), appendix XX, section D (from memory). Where musicians differ, the table takes
the simpler ratio: 9/5 for the minor seventh, a just minor third over a just fifth, and not 16/9.

An interval locks where two low partials of its notes coincide, so that a player hears the beating stop:
strongly the unison, octave, fifth and fourth, weakly the thirds and sixths (common practice; Helmholtz,
chapter X, orders the consonances so, from memory). The spelling counts: an augmented second is no third.

Beats are counted between the lowest partials that coincide if the interval is just. For a just ratio p/q the
q-th partial of the note meets the p-th of the drone; their distance in hertz is the number of beats a second.
Partials above `HEARD` are too weak for that on a wind instrument (from memory). All frequencies are those of
the sound, so a transposing instrument's notes are given as they sound.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from math import log2

from ...translation.said import Said, counted, joined, noted, phrase, term
from ..exercise import Exercise
from ..pitch import A4_HERTZ, Interval, Pitch
from ..score import Bar
from .transpositions import Setting

STRONG = ("P1", "P5", "P4")
"""The intervals within an octave that lock strongly; any octaves may be added."""

WEAK = ("m3", "M3", "m6", "M6")

JUST: dict[str, Fraction] = {
    "P1": Fraction(1),
    "A1": Fraction(25, 24),
    "m2": Fraction(16, 15),
    "M2": Fraction(9, 8),
    "A2": Fraction(75, 64),
    "m3": Fraction(6, 5),
    "M3": Fraction(5, 4),
    "d4": Fraction(32, 25),
    "P4": Fraction(4, 3),
    "A4": Fraction(45, 32),
    "d5": Fraction(64, 45),
    "P5": Fraction(3, 2),
    "A5": Fraction(25, 16),
    "m6": Fraction(8, 5),
    "M6": Fraction(5, 3),
    "A6": Fraction(225, 128),
    "d7": Fraction(128, 75),
    "m7": Fraction(9, 5),
    "M7": Fraction(15, 8),
}
"""The just ratio of each interval above the drone, within an octave."""

HEARD = 10
"""The highest partial whose beats count."""

_BY_SOUND = ("P1", "m2", "M2", "m3", "M3", "P4", "A4", "P5", "m6", "M6", "m7", "M7")

_QUALITIES = {
    "P": "",
    "M": noted("major {interval}"),
    "m": noted("minor {interval}"),
    "A": noted("augmented {interval}"),
    "d": noted("diminished {interval}"),
}
_ALTERED = noted("altered {interval}")
_NUMBERS = (
    noted("unison"),
    noted("second"),
    noted("third"),
    noted("fourth"),
    noted("fifth"),
    noted("sixth"),
    noted("seventh"),
    noted("octave"),
    noted("ninth"),
    noted("tenth"),
    noted("eleventh"),
    noted("twelfth"),
    noted("thirteenth"),
    noted("fourteenth"),
    noted("double octave"),
)


@dataclass(frozen=True, slots=True)
class Tuned:
    """A note over a drone, both as they sound.

    `interval` goes from the drone to the note. `locks` is `strong`, `weak` or empty. `ratio` is just.
    """

    drone: Pitch
    note: Pitch
    interval: Interval
    locks: str
    ratio: Fraction

    @property
    def name(self) -> Said:
        """`fifth`, `major tenth`, `fourth below`, `twelfth and 2 octaves`."""
        steps, more = abs(self.interval.steps), 0
        while steps >= len(_NUMBERS):
            steps, more = steps - 7, more + 1
        quality = _QUALITIES.get(self.interval.name.rstrip("0123456789"), _ALTERED)
        number = term(_NUMBERS[steps])
        words = [phrase(quality, interval=number) if quality else number]
        if more:
            words.append(counted("and an octave", "and {count} octaves", more))
        if self.interval.steps < 0 or (self.interval.steps == 0 and self.interval.semitones < 0):
            words.append(term("below"))
        return joined(words)

    @property
    def cents(self) -> float:
        """How far the just note lies above the tempered one, in hundredths of a tempered semitone."""
        return 1200 * log2(self.ratio) - 100 * self.interval.semitones

    def beats(self, a4: float = A4_HERTZ) -> float:
        """Beats a second if the note is played in equal temperament, with `a4` hertz for A4."""
        drone, note = self.drone.hertz(a4), self.note.hertz(a4)
        return abs(self.ratio.denominator * note - self.ratio.numerator * drone)

    @property
    def heard(self) -> bool:
        """Whether the partials that meet are low enough for audible beats."""
        return max(self.ratio.numerator, self.ratio.denominator) <= HEARD


def _within_an_octave(interval: Interval) -> tuple[Interval, int]:
    """The interval brought to less than an octave upward, and the octaves that this took away."""
    octaves, steps = divmod(interval.steps, 7)
    return Interval(steps, interval.semitones - 12 * octaves), octaves


def tuned(drone: Pitch, note: Pitch, meant: Interval | None = None) -> Tuned:
    """A note over a drone. `meant` is the interval in the text, if the two pitches are spelled otherwise.

    An interval that `JUST` lacks is tuned as its plain sound.
    """
    interval = meant or Interval.between(drone, note)
    inner, octaves = _within_an_octave(interval)
    name = inner.name if 0 <= inner.semitones < 12 else ""
    locks = "strong" if name in STRONG else "weak" if name in WEAK else ""
    if name not in JUST:
        octaves, sound = divmod(interval.semitones, 12)
        name = _BY_SOUND[sound]
    return Tuned(drone, note, interval, locks, JUST[name] * Fraction(2) ** octaves)


@dataclass(frozen=True, slots=True)
class ConsonanceShare:
    """How much of a melody can be tuned: its time in whole notes on intervals of each kind."""

    strong: Fraction
    weak: Fraction
    free: Fraction

    @property
    def share(self) -> Fraction:
        """The part of its sounding time that locks at all, 0 to 1."""
        return self._of_all(self.strong + self.weak)

    @property
    def strong_share(self) -> Fraction:
        """The part of its sounding time that locks strongly, 0 to 1."""
        return self._of_all(self.strong)

    def _of_all(self, part: Fraction) -> Fraction:
        whole = self.strong + self.weak + self.free
        return part / whole if whole else Fraction(0)


def consonance_share(bars: Iterable[Bar], drone: Pitch) -> ConsonanceShare:
    """The consonance share of a melody over a drone. Each bar counts once, rests and grace notes not at all.

    Both pitches must be written ones, or both sounding ones.
    """
    times = {"strong": Fraction(0), "weak": Fraction(0), "": Fraction(0)}
    for bar in bars:
        for event in bar.events:
            if event.pitch is not None:
                times[tuned(drone, event.pitch).locks] += event.length
    return ConsonanceShare(times["strong"], times["weak"], times[""])


def offered(exercise: Exercise) -> ConsonanceShare | None:
    """The consonance share of an exercise over its own drone, in all its forms; None if it has no drone."""
    if exercise.drone is None:
        return None
    return consonance_share([bar for form in exercise.forms for bar in form.bars], exercise.drone)


def over_drone(setting: Setting) -> tuple[tuple[Pitch, Tuned], ...]:
    """Each written pitch of a setting, lowest first, with its tuning over the sounding drone.

    The intervals are those of the author's text, in every key. Empty if there is no drone.
    """
    exercise, drone = setting.exercise, setting.drone
    if exercise.drone is None or drone is None:
        return ()
    meant: dict[Pitch, Interval] = {}
    form = exercise.form(setting.direction)
    # In a canon the first part has rests after the author's music.
    for bar, home in zip(setting.bars, form.bars, strict=False):
        for event, original in zip(bar.events, home.events, strict=False):
            if event.pitch is not None and original.pitch is not None:
                meant.setdefault(event.pitch, Interval.between(exercise.drone, original.pitch))
    sounding = setting.instrument.sounding
    return tuple(
        (pitch, tuned(sounding(drone), sounding(pitch), meant[pitch]))
        for pitch in sorted(meant, key=lambda pitch: (pitch.midi, pitch.step))
    )
