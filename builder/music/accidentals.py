"""Decides which notes have an accidental, and which a courtesy one, for paper, screen and files alike.

A note needs an accidental where it differs from its signature and from what stood before it on the same line
or space in the bar; a note tied over the bar line needs none, and the next on its line or space does. That is
the old rule of every primer. A courtesy accidental is restated where a reader at sight would take the other
note. The rules:

1. In a bar: the letter was last altered otherwise in another octave.
2. In the next bar: the same line or space was last altered otherwise, at its first note there.
3. In the next bar, in another octave: the letter was last altered otherwise, at its first note in the bar.
   A second ending follows the bar before the first ending as well.
4. After a line that ends within a bar: an alteration that is still in force, at the next note it holds for.

In free time an accidental holds for its note and for that note's immediate repetitions, and never over a
breath or a written division. A note that cancels one within a breath has its sign as well. E. Gould,
"Behind Bars" (2011), and K. Stone (1980), on music without bar lines, from memory.

The engraver itself restates a note tied over a line's end. Rests and bars of rest are not notes: an
alteration of two bars ago is not restated. Small staves have no courtesy accidentals, because nobody plays
them.

Sources, from memory: G. Read, "Music Notation" (2nd ed., 1969), and K. Stone, "Music Notation in the
Twentieth Century" (1980), for 1 and 2, which LilyPond's manual calls the style `modern`; E. Gould, "Behind
Bars" (2011), for ties, ends of lines and other octaves. Rule 3 is what editors of studies do; common
practice, no source. They are printed like any other accidental: brackets take room and say that something is
an editor's, and studies, as far as memory goes, print them plain. A book may ask for brackets, or for none.
"""

from __future__ import annotations

from collections.abc import Container, Iterator
from dataclasses import dataclass, field

from .event import Event
from .keys import Key
from .pitch import Pitch
from .score import Bar, Staff

PLAIN, BRACKETS, NONE = COURTESIES = ("plain", "brackets", "none")
"""How a book prints courtesy accidentals: like any other, in brackets, or not at all."""

NEEDED = "needed"
COURTESY = "courtesy"

Signs = tuple[tuple[str, ...], ...]
"""For each event of a bar a word for each of its pitches: NEEDED, COURTESY or empty.

Grace notes come first, then the other notes of a chord or the fundamental of a harmonic, and last the note
itself.
"""


@dataclass(slots=True)
class _Heard:
    """The last alteration in a bar on each line or space, and of each letter."""

    steps: dict[int, int] = field(default_factory=dict)
    letters: dict[int, int] = field(default_factory=dict)

    def add(self, pitch: Pitch) -> None:
        self.steps[pitch.step] = self.letters[pitch.letter] = pitch.alter


def accidentals(
    line: Staff,
    key: Key,
    courtesy: bool = True,
    line_ends: Container[tuple[int, int]] = (),
    free: bool = False,
) -> tuple[Signs, ...]:
    """For each bar of a staff, which notes have an accidental and why.

    `line_ends` are the places (bar and event, from 0) after which a printed line ends; `free` is free time.
    """
    return tuple(_Staff(line, key, courtesy and not line.small, line_ends, free).bars())


class _Staff:
    """Goes through a staff from left to right."""

    def __init__(
        self, line: Staff, key: Key, courtesy: bool, line_ends: Container[tuple[int, int]], free: bool
    ) -> None:
        self.line, self.key, self.courtesy, self.line_ends = line, key, courtesy, line_ends
        self.free = free
        self.latest: Pitch | None = None
        self.tied: Pitch | None = None
        self.here = _Heard()
        self.before: tuple[_Heard, ...] = ()
        # The alteration in force on a line or space; None if a tie left it open.
        self.stands: dict[int, int | None] = {}
        self.broken: set[int] = set()

    def bars(self) -> Iterator[Signs]:
        before_ending: tuple[_Heard, ...] = ()
        last: Bar | None = None
        for number, bar in enumerate(self.line.bars):
            self.before = (self.here,) if last else ()
            ending = last.ending if last else 0
            if bar.ending == 1 and ending != 1:
                before_ending = self.before
            elif bar.ending == 2 and ending == 1:
                self.before += before_ending
            self.here, self.stands, last = _Heard(), {}, bar
            self.latest = None
            self.broken.clear()
            yield tuple(self._event(event, number, place) for place, event in enumerate(bar.events))

    def _event(self, event: Event, bar: int, place: int) -> tuple[str, ...]:
        signs = [self._sign(pitch) for pitch in event.graces]
        for pitch in (*event.under, event.fundamental, event.pitch):
            if pitch is not None:
                signs.append(self._held(pitch) if event.pitch == self.tied else self._sign(pitch))
        self.tied = event.pitch if event.tie else None
        if self.free and "breath" in event.marks:
            self.before = (self.here,)
            self.here, self.stands, self.latest = _Heard(), {}, None
            self.broken.clear()
        if (bar, place) in self.line_ends:
            self.broken = {
                step for step, alter in self.stands.items() if alter != self.key.alteration(step % 7)
            }
        return tuple(signs)

    def _held(self, pitch: Pitch) -> str:
        """Keep a tied note's accidental over the bar line without a sign, for that note only."""
        if pitch.step not in self.stands and pitch.alter != self.key.alteration(pitch.letter):
            self.stands[pitch.step] = None
        self.here.add(pitch)
        return ""

    def _sign(self, pitch: Pitch) -> str:
        sign = ""
        own = self.key.alteration(pitch.letter)
        again = self.free and pitch.alter != own and pitch != self.latest
        if self.stands.get(pitch.step, own) != pitch.alter or again:
            sign = NEEDED
        elif self.courtesy and self._misleads(pitch):
            sign = COURTESY
        self.stands[pitch.step] = pitch.alter
        self.latest = pitch
        self.broken.discard(pitch.step)
        self.here.add(pitch)
        return sign

    def _misleads(self, pitch: Pitch) -> bool:
        step, letter, alter = pitch.step, pitch.letter, pitch.alter
        if step in self.broken or self.here.letters.get(letter, alter) != alter:
            return True
        new_step, new_letter = step not in self.here.steps, letter not in self.here.letters
        return any(
            (new_step and heard.steps.get(step, alter) != alter)
            or (new_letter and heard.letters.get(letter, alter) != alter)
            for heard in self.before
        )
