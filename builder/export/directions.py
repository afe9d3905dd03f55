"""Writes the directions of a MusicXML part: levels, hairpins, words, vibrato and brackets."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from ..music.event import HAIRPIN_END, LEVELS, OPTIONAL, Event, Tempo, is_wave
from ..music.printed_words import MAY_BE_LEFT_OUT, PrintedWords
from ..music.sounding.repeats import CODA, DA_CAPO, DAL_SEGNO, FINE, SEGNO, TO_CODA
from ..music.sounding.tempos import TEMPO_CHANGES, tempo_change
from .elements import child, clean
from .metronome import metronome
from .velocity import velocity

_JUMPS = {
    FINE: ("fine", "yes"),
    TO_CODA: ("tocoda", CODA),
    DA_CAPO: ("dacapo", "yes"),
    DAL_SEGNO: ("dalsegno", SEGNO),
}
"""What MusicXML's `sound` says of each: an attribute and its value."""

_GROWS = ("<", "o<")
_FORTE = 90
"""MusicXML counts loudness in hundredths of a velocity of 90."""


class Directions:
    """Writes the directions of one part, from its first event to its last.

    Each is written before its note with its distance from the note's beginning. `finish` closes what is still
    open at the end.
    """

    def __init__(self, divisions: int, words: PrintedWords) -> None:
        self.divisions = divisions
        self._words = words
        self._wedge = ""
        self._wave = False

    def words_above(self, measure: ET.Element, text: str) -> None:
        """Write words above the staff, if there are any."""
        if text:
            child(_kind(_direction(measure, "above")), "words", clean(text), font_style="italic")

    def sign(self, measure: ET.Element, sign: str) -> None:
        """Write the sign at a bar's beginning, if there is one: `segno` or `coda`."""
        if sign:
            direction = _direction(measure, "above")
            child(_kind(direction), sign)
            child(direction, "sound", **{sign: sign})

    def jump(self, measure: ET.Element, jump: str, words: str) -> None:
        """Write the words at a bar's end, and what a program that plays the file does there."""
        if not words:
            return
        direction = _direction(measure, "above")
        child(_kind(direction), "words", words, font_style="italic")
        if jump:
            child(direction, "sound", **dict([_JUMPS[jump]]))

    def before(self, measure: ET.Element, event: Event) -> None:
        """Write the directions of an event that go before it in the file."""
        # An end stands before a level, and a level before a beginning, as on the page.
        order = {HAIRPIN_END: 0} | dict.fromkeys(LEVELS, 1)
        # Signs for one time only are written as words.
        drawn = (shade for shade in event.dynamic_marks if not shade.time)
        for shade in sorted(drawn, key=lambda shade: (shade.at, order.get(shade.mark, 2))):
            offset = int(shade.at * event.length * 4 * self.divisions)
            self._shade(measure, shade.mark, offset)
        for wave in event.vibrato:
            offset = int(wave.at * event.length * 4 * self.divisions)
            if is_wave(wave.mark) or self._wave:
                self._vibrato(measure, is_wave(wave.mark), offset)
        for text, placement in ((event.above, "above"), (event.below, "below")):
            if text:
                child(_kind(_direction(measure, placement)), "words", clean(text), font_style="italic")
        if change := tempo_change(event):
            self._tempo_change(measure, TEMPO_CHANGES[change.kind], change.tempo)
            child(_kind(_direction(measure, "above")), "dashes", type="start", number="2")
        if OPTIONAL in event.opens:
            said = f"({self._words.of(MAY_BE_LEFT_OUT)})"
            words = child(_kind(_direction(measure, "above")), "words", said, font_style="italic")
            words.set("font-size", "small")
            if OPTIONAL not in event.closes:
                child(_kind(_direction(measure, "above")), "bracket", type="start", line_end="down")

    def _tempo_change(self, measure: ET.Element, word: str, goal: Tempo | None) -> None:
        """Write the word of a change of tempo and, in brackets as on the page, where it leads."""
        direction = _direction(measure, "above")
        child(_kind(direction), "words", word, font_style="italic")
        if goal:
            metronome(_kind(direction), goal, parentheses="yes")

    def after(self, measure: ET.Element, event: Event) -> None:
        """Write the directions of an event that go after it in the file."""
        if any(span.tempo for span in event.closes):
            child(_kind(_direction(measure, "above")), "dashes", type="stop", number="2")
        if OPTIONAL in event.closes and OPTIONAL not in event.opens:
            child(_kind(_direction(measure, "above")), "bracket", type="stop", line_end="down")

    def finish(self, measure: ET.Element) -> None:
        """Close hairpins and vibrato that no sign has closed."""
        self._stop_wedge(measure, 0)
        if self._wave:
            self._vibrato(measure, False, 0)

    def _shade(self, measure: ET.Element, mark: str, offset: int) -> None:
        self._stop_wedge(measure, offset)
        if mark == HAIRPIN_END:
            return
        direction = _direction(measure, "below")
        if mark in LEVELS:
            child(child(_kind(direction), "dynamics"), mark)
            self._at(direction, offset)
            child(direction, "sound", dynamics=f"{velocity(LEVELS.index(mark)) / _FORTE * 100:.2f}")
            return
        wedge = child(_kind(direction), "wedge", type="crescendo" if mark in _GROWS else "diminuendo")
        if mark == "o<":
            wedge.set("niente", "yes")
        self._at(direction, offset)
        self._wedge = mark

    def _stop_wedge(self, measure: ET.Element, offset: int) -> None:
        if not self._wedge:
            return
        direction = _direction(measure, "below")
        stop = child(_kind(direction), "wedge", type="stop")
        if self._wedge == ">o":
            stop.set("niente", "yes")
        self._at(direction, offset)
        self._wedge = ""

    def _vibrato(self, measure: ET.Element, begins: bool, offset: int) -> None:
        direction = _direction(measure, "above")
        if begins:
            child(_kind(direction), "words", "vib.", font_style="italic")
        child(_kind(direction), "dashes", type="start" if begins else "stop")
        self._at(direction, offset)
        self._wave = begins

    def _at(self, direction: ET.Element, offset: int) -> None:
        if offset:
            child(direction, "offset", str(offset), sound="yes")


def _direction(measure: ET.Element, placement: str) -> ET.Element:
    return child(measure, "direction", placement=placement)


def _kind(direction: ET.Element) -> ET.Element:
    return child(direction, "direction-type")
