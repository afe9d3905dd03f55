"""A melody as a file has it, in plain values: bars of any length, and what stands over several notes.

Lengths are in whole notes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from ..music.event import Event, Tempo
from ..music.score import Meter

TUPLET, SLUR, LOUDER, SOFTER = "tuplet", "slur", "<", ">"
"""The kinds of a `RawSpan`; a ritardando and an accelerando are two more."""


@dataclass(slots=True)
class RawBar:
    """A bar as the file has it: of any length, with what its lines say. `ending` is 0, 1 or 2.

    `times`, `sign` and `jump` are as in `music.score.Bar`.
    """

    events: list[Event] = field(default_factory=list)
    meter: Meter | None = None
    tempo: Tempo | None = None
    opens_repeat: bool = False
    end: str = "|"
    ending: int = 0
    times: int = 2
    sign: str = ""
    jump: str = ""

    @property
    def length(self) -> Fraction:
        """What its events last, in whole notes."""
        return sum((event.length for event in self.events), Fraction(0))


@dataclass(frozen=True, slots=True)
class RawSpan:
    """Something over events `first` to `last`, both counted from 0 over all bars."""

    kind: str
    first: int
    last: int
    ratio: tuple[int, int] | None = None
    tempo: Tempo | None = None


@dataclass(slots=True)
class RawMelody:
    """A part as the file has it. `fifths` is its signature and `mode` its mode, None where it names none."""

    bars: list[RawBar] = field(default_factory=list)
    spans: list[RawSpan] = field(default_factory=list)
    fifths: int | None = None
    mode: str | None = None
    key_guessed: bool = False
