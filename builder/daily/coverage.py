"""Counts what is practised: notes of the range, intervals, levels in each register, and attacks.

It counts the moments of stavewright.daily.measure. It also names what is missing: a hole is not a fault, but
an author or a player may want to know it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Any, TypeVar

from ..book.durations import duration_in_units
from ..music.event import LEVELS
from ..music.pitch import Pitch
from ..music.winds.instruments import Instrument
from ..translation.said import Said, joined, noted, phrase, term
from .measure import ATTACKS, Moment, register_of, register_order

K = TypeVar("K")

_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")
_WIDTHS = (
    noted("repeated note"),
    noted("minor second"),
    noted("major second"),
    noted("minor third"),
    noted("major third"),
    noted("fourth"),
    noted("tritone"),
    noted("fifth"),
    noted("minor sixth"),
    noted("major sixth"),
    noted("minor seventh"),
    noted("major seventh"),
    noted("octave"),
    noted("wider than an octave"),
)
_SELDOM = 0.1
"""Less than this share of the median time of the notes that are played is called seldom."""


@dataclass(frozen=True, slots=True)
class Tally:
    """How often something is played, and for how many seconds."""

    count: int = 0
    seconds: float = 0.0

    def __add__(self, other: Tally) -> Tally:
        return Tally(self.count + other.count, self.seconds + other.seconds)


@dataclass(frozen=True, slots=True)
class NoteRow:
    """A note of the instrument; `asked` if it lies in the preferred range."""

    pitch: Pitch
    register: str
    asked: bool
    tally: Tally


@dataclass(frozen=True, slots=True)
class StepRow:
    """An interval between neighbours by its width, how often upward and how often downward."""

    name: str
    up: Tally
    down: Tally


@dataclass(frozen=True, slots=True)
class LevelRow:
    """A register, and seconds at each of LEVELS; `unknown` where the music names no level."""

    register: str
    seconds: tuple[float, ...]
    unknown: float


@dataclass(frozen=True, slots=True)
class AttackRow:
    """A kind of attack."""

    name: str
    tally: Tally


@dataclass(frozen=True, slots=True)
class Coverage:
    """What some pieces practise on one instrument."""

    pieces: int
    seconds: float
    notes: tuple[NoteRow, ...]
    steps: tuple[StepRow, ...]
    levels: tuple[LevelRow, ...]
    attacks: tuple[AttackRow, ...]

    @property
    def holes(self) -> tuple[Said, ...]:
        """What is missing, in sentences; empty if nothing is."""
        return tuple(_holes(self))


class Counts:
    """Counts what pieces practise, one after the other; a piece played twice counts twice.

    Counts of parts of a book are joined to those of the whole, and can be written as JSON (`plain`).
    """

    def __init__(self, instrument: Instrument) -> None:
        self.instrument = instrument
        self.pieces = 0
        self.seconds = 0.0
        self.notes: dict[int, Tally] = {}
        """By MIDI number."""
        self.up: dict[int, Tally] = {}
        """By semitones, as is `down`."""
        self.down: dict[int, Tally] = {}
        self.attacks: dict[str, Tally] = {}
        self.levels = {register: [0.0] * (len(LEVELS) + 1) for register in register_order(instrument)}

    def add(self, piece: Iterable[Moment]) -> None:
        """Count one more piece."""
        self.pieces += 1
        for moment in piece:
            one = Tally(1, moment.seconds)
            self.seconds += moment.seconds
            _more(self.notes, moment.pitch.midi, one)
            _more(self.attacks, moment.attack, one)
            if moment.step is not None:
                way = self.up if moment.step.semitones >= 0 else self.down
                _more(way, min(abs(moment.step.semitones), len(_WIDTHS) - 1), one)
            if row := self.levels.get(register_of(moment.pitch, self.instrument)):
                for level, share in moment.levels:
                    row[level] += share
                row[-1] += max(0.0, moment.seconds - sum(share for _, share in moment.levels))

    def join(self, plain: dict[str, Any]) -> None:
        """Add other counts for the same instrument, in the form of `plain`."""
        self.pieces += plain["pieces"]
        self.seconds += plain["seconds"]
        for name in ("notes", "up", "down", "attacks"):
            for key, count, seconds in plain[name]:
                _more(getattr(self, name), key, Tally(count, seconds))
        for register, row in plain["levels"]:
            self.levels[register] = [a + b for a, b in zip(self.levels[register], row, strict=True)]

    @property
    def plain(self) -> dict[str, Any]:
        """The counts as JSON values."""
        rows = {
            name: [[key, tally.count, tally.seconds] for key, tally in getattr(self, name).items()]
            for name in ("notes", "up", "down", "attacks")
        }
        levels = [list(row) for row in self.levels.items()]
        return {"pieces": self.pieces, "seconds": self.seconds, "levels": levels, **rows}

    @property
    def coverage(self) -> Coverage:
        """The coverage so far."""
        instrument, compass = self.instrument, self.instrument.compass
        reach = range(
            min([compass.low.midi, *self.notes], default=compass.low.midi),
            max([compass.high.midi, *self.notes], default=compass.high.midi) + 1,
        )
        none = Tally()
        return Coverage(
            pieces=self.pieces,
            seconds=self.seconds,
            notes=tuple(_note(midi, instrument, self.notes.get(midi, none)) for midi in reach),
            steps=tuple(
                StepRow(name, self.up.get(width, none), self.down.get(width, none))
                for width, name in enumerate(_WIDTHS)
            ),
            levels=tuple(
                LevelRow(register, tuple(row[:-1]), row[-1]) for register, row in self.levels.items()
            ),
            attacks=tuple(AttackRow(name, self.attacks.get(name, none)) for name in ATTACKS),
        )


def _more(tallies: dict[K, Tally], key: K, one: Tally) -> None:
    tallies[key] = tallies.get(key, Tally()) + one


def coverage(pieces: Iterable[Iterable[Moment]], instrument: Instrument) -> Coverage:
    """What pieces practise; a piece played twice counts twice."""
    counts = Counts(instrument)
    for piece in pieces:
        counts.add(piece)
    return counts.coverage


def _note(midi: int, instrument: Instrument, tally: Tally) -> NoteRow:
    pitch = Pitch.parse(f"{_NAMES[midi % 12]}{midi // 12 - 1}")
    asked = instrument.compass.easy_low.midi <= midi <= instrument.compass.easy_high.midi
    return NoteRow(pitch, register_of(pitch, instrument), asked, tally)


def _holes(found: Coverage) -> Iterable[Said]:
    asked = [row for row in found.notes if row.asked]
    silent = _runs(asked, lambda row: not row.tally.count)
    if silent:
        yield phrase("Never played: {notes}.", notes=joined(silent, ", "))
    usual = median([row.tally.seconds for row in asked if row.tally.count] or [0.0])
    seldom = _runs(asked, lambda row: 0 < row.tally.seconds < _SELDOM * usual)
    if seldom:
        yield phrase(
            "Seldom played, less than a tenth of the usual time: {notes}.", notes=joined(seldom, ", ")
        )
    steps = found.steps[1:-1]
    both = [term(row.name) for row in steps if not row.up.count and not row.down.count]
    if both:
        yield phrase("Between neighbouring notes never: {intervals}.", intervals=joined(both, ", "))
    for message, rare in (
        (
            noted("Never upward: {intervals}."),
            [term(row.name) for row in steps if row.down.count and not row.up.count],
        ),
        (
            noted("Never downward: {intervals}."),
            [term(row.name) for row in steps if row.up.count and not row.down.count],
        ),
    ):
        if rare:
            yield phrase(message, intervals=joined(rare, ", "))
    for row in found.levels:
        missing = [level for level, seconds in zip(LEVELS, row.seconds, strict=True) if not seconds]
        if len(missing) == len(LEVELS):
            yield phrase("In the {register} register no dynamic is written.", register=term(row.register))
        elif missing:
            yield phrase(
                "In the {register} register never {levels}.",
                register=term(row.register),
                levels=", ".join(missing),
            )
    attacks = [term(row.name) for row in found.attacks if not row.tally.count]
    if attacks:
        yield phrase("No note begins like this: {attacks}.", attacks=joined(attacks, ", "))


def _runs(rows: Sequence[NoteRow], chosen: Callable[[NoteRow], bool]) -> list[Said]:
    """The chosen notes as text, with neighbours joined: `C4 to E4`."""
    found: list[list[NoteRow]] = []
    before = -2
    for number, row in enumerate(rows):
        if not chosen(row):
            continue
        if number == before + 1:
            found[-1].append(row)
        else:
            found.append([row])
        before = number
    return [
        run[0].pitch.spoken
        if len(run) == 1
        else phrase("{low} to {high}", low=run[0].pitch.spoken, high=run[-1].pitch.spoken)
        for run in found
    ]


def as_json(found: Coverage) -> dict[str, Any]:
    """The whole as JSON values; times are in seconds at the slowest tempo."""

    def tally(of: Tally) -> dict[str, Any]:
        return {"times": of.count, "seconds": round(of.seconds, 3)}

    return {
        "pieces": found.pieces,
        "seconds": round(found.seconds, 3),
        "notes": [
            {
                "note": row.pitch.spoken,
                "midi": row.pitch.midi,
                "register": row.register,
                "preferred": row.asked,
                **tally(row.tally),
            }
            for row in found.notes
        ],
        "intervals": [
            {"name": row.name, "up": tally(row.up), "down": tally(row.down)} for row in found.steps
        ],
        "dynamics": [
            {
                "register": row.register,
                "seconds": {
                    level: round(seconds, 3) for level, seconds in zip(LEVELS, row.seconds, strict=True)
                },
                "unwritten": round(row.unknown, 3),
            }
            for row in found.levels
        ],
        "attacks": [{"name": row.name, **tally(row.tally)} for row in found.attacks],
        "holes": list(found.holes),
    }


def coverage_text(found: Coverage, heading: str) -> str:
    """The whole as plain text, for a terminal."""
    most = max((row.tally.seconds for row in found.notes), default=0) or 1
    sound = duration_in_units(found.seconds)
    rows = [heading, f"{found.pieces} versions, {sound} of sound at the slowest tempo", ""]
    rows += [f"{'note':<12} {'register':<10} {'times':>6}   time"]
    rows += [
        f"{row.pitch.spoken:<12.12} {row.register:<10.10} {row.tally.count:>6}   "
        f"{duration_in_units(row.tally.seconds):<12} {'=' * round(24 * row.tally.seconds / most)}".rstrip()
        for row in reversed(found.notes)
        if row.asked or row.tally.count
    ]
    rows += ["", f"{'between neighbours':<22} {'up':>6} {'down':>6}"]
    rows += [f"{row.name:<22} {row.up.count:>6} {row.down.count:>6}" for row in found.steps]
    rows += ["", f"{'time at each dynamic':<22} " + " ".join(f"{level:>11}" for level in LEVELS)]
    rows += [
        f"{row.register:<22} " + " ".join(f"{duration_in_units(seconds):>11}" for seconds in row.seconds)
        for row in found.levels
    ]
    rows += ["", f"{'attack':<26} {'times':>6}"]
    rows += [f"{row.name:<26} {row.tally.count:>6}" for row in found.attacks]
    rows += ["", *(found.holes or ("Nothing is missing.",))]
    return "\n".join(rows)
