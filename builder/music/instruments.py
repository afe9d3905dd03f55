"""Instruments as data: an instrument is one entry here and no edit elsewhere."""

from __future__ import annotations

from dataclasses import dataclass

from .pitch import Pitch
from .score import Compass


@dataclass(frozen=True, slots=True)
class Register:
    """A part of the range under its name in the trade, by written pitches, both included."""

    name: str
    low: Pitch
    high: Pitch


@dataclass(frozen=True, slots=True)
class Instrument:
    """A wind instrument in written pitches; `sounds` is how many semitones above the page it sounds."""

    slug: str
    name: str
    compass: Compass
    registers: tuple[Register, ...]
    source: str
    sounds: int = 0
    clef: str = "treble"

    def register(self, pitch: Pitch) -> str:
        """The name of the register a written pitch lies in, or an empty string outside all of them."""
        for register in self.registers:
            if register.low.midi <= pitch.midi <= register.high.midi:
                return register.name
        return ""


def _compass(low: str, high: str, easy_low: str, easy_high: str) -> Compass:
    return Compass(*map(Pitch.parse, (low, high, easy_low, easy_high)))


def _registers(*rows: tuple[str, str, str]) -> tuple[Register, ...]:
    return tuple(Register(name, Pitch.parse(low), Pitch.parse(high)) for name, low, high in rows)


FLUTE = Instrument(
    "flute",
    "Flute",
    _compass("C4", "D7", "C4", "A6"),
    _registers(("low", "C4", "C#5"), ("middle", "D5", "C#6"), ("high", "D6", "D7")),
    source="C4 to C7 in N. Rimsky-Korsakov, Principles of Orchestration (1913), table of wind ranges, from "
    "memory; D7 and the preferred top are common practice, no source",
)

INSTRUMENTS: dict[str, Instrument] = {instrument.slug: instrument for instrument in (FLUTE,)}
