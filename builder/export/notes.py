"""Writes the notes and rests of a MusicXML part, with the signs on each."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction

from ..music.accidentals import BRACKETS, COURTESY, Signs
from ..music.beams import Beam, beams
from ..music.event import SLUR, Event
from ..music.pitch import LETTERS, Pitch
from ..music.score import Bar, Meter
from ..music.signs import (
    CROSS,
    FERMATAS,
    FLUTTER,
    GLISSANDO,
    HARMONIC,
    ORNAMENTS,
    TIMBRAL_TRILL,
    TRIANGLE,
    TRILL,
    head_of,
)
from ..music.winds.fingering_tables import fingerings
from .elements import child, clean

_NAMES = ("whole", "half", "quarter", "eighth", "16th", "32nd", "64th", "128th")
TYPES: dict[Fraction, str] = {Fraction(1, 2**power): name for power, name in enumerate(_NAMES)}
"""MusicXML's names of the note values."""

_ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
_ARTICULATIONS = {
    "staccato": "staccato",
    "tenuto": "tenuto",
    "portato": "detached-legato",
    "accent": "accent",
    "marcato": "strong-accent",
    "breath": "breath-mark",
    "bend-up": "doit",
    "bend-down": "falloff",
}
_FERMATAS = {"short-fermata": "angled", "fermata": "", "long-fermata": "square"}
_HEADS = {CROSS: "x", TRIANGLE: "triangle"}
_SLURS = 6
"""MusicXML numbers at most this many slurs at a time; a line of one voice needs two."""


class Notes:
    """Writes the notes of one part, from its first event to its last."""

    def __init__(self, divisions: int, courtesy: str, family: str = "") -> None:
        self.divisions, self.courtesy, self.family = divisions, courtesy, family
        self._beams: tuple[tuple[Beam, ...], ...] = ()
        self._signs: Signs = ()
        self._tied: Pitch | None = None
        self._slurs: list[int] = []
        self._ratio = (1, 1)
        self._slides = False

    def bar(self, bar: Bar, meter: Meter, upbeat: bool, signs: Signs) -> None:
        """Begin a bar; `upbeat` if it is short and stands before the first full one.

        `signs` say which of its notes have an accidental.
        """
        self._beams = beams(bar, meter, upbeat)
        self._signs = signs

    def write(self, measure: ET.Element, event: Event, place: int) -> None:
        """Write an event of the bar, `place` from 0, with the grace notes before it."""
        signs = self._signs[place]
        for number, pitch in enumerate(event.graces):
            self._grace(measure, pitch, number, len(event.graces), signs[number])
        continues = event.pitch is not None and self._tied == event.pitch
        note = child(measure, "note")
        if event.pitch is None:
            child(note, "rest")
        else:
            _pitch(note, event.pitch)
        child(note, "duration", str(int(event.length * 4 * self.divisions)))
        if continues:
            child(note, "tie", type="stop")
        if event.tie:
            child(note, "tie", type="start")
        child(note, "voice", "1")
        child(note, "type", TYPES[event.value.base])
        for _ in range(event.value.dots):
            child(note, "dot")
        if event.pitch is not None:
            self._accidental(note, event.pitch, signs[-1])
        self._tuplet_ratio(note, event)
        if shape := head_of(event):
            child(note, "notehead", _HEADS[shape])
        for level, word in self._beams[place]:
            child(note, "beam", word, number=str(level))
        self._notations(note, event, continues)
        for pitch, sign in zip(event.under, signs[-1 - len(event.under) :], strict=False):
            self._chord_note(measure, event, pitch, sign, continues)
        if event.fundamental is not None:
            self._fundamental(measure, event, event.fundamental, signs[-2])
        if event.syllable:
            lyric = child(note, "lyric", number="1")
            child(lyric, "syllabic", "single")
            child(lyric, "text", clean(event.syllable))
        self._tied = event.pitch if event.tie else None

    def _grace(self, measure: ET.Element, pitch: Pitch, number: int, count: int, sign: str) -> None:
        note = child(measure, "note")
        child(note, "grace", slash="yes" if count == 1 else "no")
        _pitch(note, pitch)
        child(note, "voice", "1")
        child(note, "type", "eighth" if count == 1 else "16th")
        self._accidental(note, pitch, sign)
        if count > 1:
            word = "end" if number + 1 == count else "continue" if number else "begin"
            for level in ("1", "2"):
                child(note, "beam", word, number=level)

    def _chord_note(
        self, measure: ET.Element, event: Event, pitch: Pitch, sign: str, continues: bool
    ) -> None:
        """Write another note of a block chord, under the one that is written already."""
        note = child(measure, "note")
        child(note, "chord")
        _pitch(note, pitch)
        child(note, "duration", str(int(event.length * 4 * self.divisions)))
        ties = [*(["stop"] if continues else []), *(["start"] if event.tie else [])]
        for word in ties:
            child(note, "tie", type=word)
        child(note, "voice", "1")
        child(note, "type", TYPES[event.value.base])
        for _ in range(event.value.dots):
            child(note, "dot")
        self._accidental(note, pitch, sign)
        if ties:
            notations = child(note, "notations")
            for word in ties:
                child(notations, "tied", type=word)

    def _fundamental(self, measure: ET.Element, event: Event, pitch: Pitch, sign: str) -> None:
        """Write the fingered note of a harmonic, which makes no sound, as a cue note below it."""
        note = child(measure, "note")
        child(note, "cue")
        child(note, "chord")
        _pitch(note, pitch)
        child(note, "duration", str(int(event.length * 4 * self.divisions)))
        child(note, "voice", "1")
        child(note, "type", TYPES[event.value.base], size="full")
        for _ in range(event.value.dots):
            child(note, "dot")
        self._accidental(note, pitch, sign)
        self._tuplet_ratio(note, event)
        child(note, "notehead", "diamond")
        found = child(child(child(note, "notations"), "technical"), "harmonic")
        child(found, "natural")
        child(found, "base-pitch")

    def _accidental(self, note: ET.Element, pitch: Pitch, sign: str) -> None:
        if not sign:
            return
        accidental = child(note, "accidental", _ACCIDENTALS[pitch.alter])
        if sign == COURTESY:
            accidental.set("cautionary", "yes")
            if self.courtesy == BRACKETS:
                accidental.set("parentheses", "yes")

    def _tuplet_ratio(self, note: ET.Element, event: Event) -> None:
        scale = event.value.scale
        if scale == 1:
            return
        if event.opened_tuplet and event.opened_tuplet.ratio:
            self._ratio = event.opened_tuplet.ratio
        if Fraction(self._ratio[1], self._ratio[0]) != scale:
            self._ratio = scale.denominator, scale.numerator
        change = child(note, "time-modification")
        child(change, "actual-notes", str(self._ratio[0]))
        child(change, "normal-notes", str(self._ratio[1]))

    def _notations(self, note: ET.Element, event: Event, continues: bool) -> None:
        found = ET.Element("notations")
        if continues:
            child(found, "tied", type="stop")
        if event.tie:
            child(found, "tied", type="start")
        self._slur(found, event)
        for span, word in ((event.opened_tuplet, "start"), (event.closed_tuplet, "stop")):
            if span:
                child(found, "tuplet", type=word, number="1")
        if self._slides:
            child(found, GLISSANDO, type="stop", number="1")
        if self._slides_on(event):
            child(found, GLISSANDO, type="start", number="1", line_type="solid")
        self._ornaments(found, event)
        self._technical(found, event)
        signs = [_ARTICULATIONS[mark] for mark in event.marks if mark in _ARTICULATIONS]
        if signs:
            articulations = child(found, "articulations")
            for sign in signs:
                child(articulations, sign)
        for mark in event.marks:
            if mark in FERMATAS:
                child(found, "fermata", _FERMATAS[mark], type="upright")
        if len(found):
            note.append(found)

    def _technical(self, found: ET.Element, event: Event) -> None:
        is_harmonic = HARMONIC in event.marks or event.fundamental
        charted = fingerings(self.family).chart(event) if self.family else None
        if not (is_harmonic or event.fingering or charted):
            return
        technical = child(found, "technical")
        if event.fingering:
            child(technical, "fingering", clean(event.fingering))
        if charted:
            child(technical, "fingering", str(charted))
        if is_harmonic:
            harmonic = child(technical, "harmonic")
            child(harmonic, "natural")
            if event.fundamental:
                child(harmonic, "sounding-pitch")

    def _slides_on(self, event: Event) -> bool:
        """Whether a slide begins on an event; the next one ends it."""
        self._slides = GLISSANDO in event.marks
        return self._slides

    def _ornaments(self, found: ET.Element, event: Event) -> None:
        signs = [mark for mark in event.marks if mark in (*ORNAMENTS, FLUTTER)]
        if not signs:
            return
        ornaments = child(found, "ornaments")
        for mark in signs:
            if mark == TRILL:
                child(ornaments, "trill-mark")
            elif mark == TIMBRAL_TRILL:
                child(ornaments, "other-ornament", "timbral trill")
            elif mark == FLUTTER:
                child(ornaments, "tremolo", "0", type="unmeasured")
            else:
                child(ornaments, mark)
        if not set(ORNAMENTS).isdisjoint(signs):
            for pitch, side in ((event.trilled, "above"), (event.lowered, "below")):
                if pitch:
                    child(ornaments, "accidental-mark", _ACCIDENTALS[pitch.alter], placement=side)

    def _slur(self, found: ET.Element, event: Event) -> None:
        opens, closes = event.opens.count(SLUR), event.closes.count(SLUR)
        if opens and closes:
            # As in print, a slur that begins and ends on one note is not drawn.
            return
        for _ in range(min(closes, len(self._slurs))):
            child(found, "slur", type="stop", number=str(self._slurs.pop()))
        for _ in range(min(opens, _SLURS - len(self._slurs))):
            self._slurs.append(len(self._slurs) + 1)
            child(found, "slur", type="start", number=str(self._slurs[-1]))


def _pitch(note: ET.Element, pitch: Pitch) -> None:
    element = child(note, "pitch")
    child(element, "step", LETTERS[pitch.letter])
    if pitch.alter:
        child(element, "alter", str(pitch.alter))
    child(element, "octave", str(pitch.octave))
