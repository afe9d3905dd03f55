"""Writes a score as MusicXML 4.0 (W3C Music Notation Community Group, 2021), partwise, in written pitches.

Each staff is a part: the player's, then a second player's, a drone or a staff to sing. A transposing
instrument's parts say how they sound. The same score gives the same bytes: there is no date in them.

A sign within a note (a swell's end, vibrato that begins late) has an offset. Accidentals and courtesy
accidentals follow the rules of builder/music/accidentals.py, except those for the ends of lines, which a file
does not know.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from .. import __version__
from ..music.accidentals import NONE, accidentals
from ..music.bars import BarPlace, bar_places
from ..music.event import Tempo
from ..music.pitch import Interval
from ..music.printed_words import HELD_NOTES, TIMES
from ..music.score import Meter, Score, Staff
from ..music.signs import technique_words
from ..music.sounding.repeats import words_at_end
from ..music.sounding.tempos import tempo_change, tempo_steps
from ..music.sounding.timing import beats_a_minute, steps_of, unfold
from ..music.winds.instruments import Instrument
from .directions import Directions
from .elements import child, clean
from .harmony import harmony
from .metronome import metronome
from .notes import Notes
from .programs import program, staff_name, staff_program

_DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
_CLEFS = {"treble": ("G", 2), "bass": ("F", 4), "alto": ("C", 3), "tenor": ("C", 4)}
_BAR_STYLES = {"||": "light-light", "|.": "light-heavy", ":|": "light-heavy"}
_FREE_BAR_STYLES = {"|": "dashed", **_BAR_STYLES}
_SMALL = "65"
"""A small staff's size in hundredths of a full one."""


@dataclass(frozen=True, slots=True)
class WorkInfo:
    """The file's information about the work, in plain text; only the title is required."""

    title: str
    rights: str = ""
    source: str = ""


def musicxml(score: Score, about: WorkInfo, instrument: Instrument) -> bytes:
    """The file's bytes, in UTF-8."""
    root = ET.Element("score-partwise", version="4.0")
    child(child(root, "work"), "work-title", clean(about.title))
    identification = child(root, "identification")
    if about.rights:
        child(identification, "rights", clean(about.rights))
    child(child(identification, "encoding"), "software", f"Stavewright {__version__}")
    if about.source:
        child(identification, "source", clean(about.source))
    parts = child(root, "part-list")
    for number, line in enumerate(score.lines):
        if score.second and not number:
            _bracket(parts)
        _announced(parts, number, score, instrument)
        if line is score.second:
            child(parts, "part-group", type="stop", number="1")
    for number, line in enumerate(score.lines):
        part = child(root, "part", id=f"P{number + 1}")
        _Staff(score, line, number, instrument).write(part)
    # Lines, but no steps: a site has several such files for each key.
    ET.indent(root, "")
    return (_DOCTYPE + ET.tostring(root, encoding="unicode") + "\n").encode()


def _bracket(parts: ET.Element) -> None:
    """Begin the group of a duet's two parts."""
    group = child(parts, "part-group", type="start", number="1")
    child(group, "group-symbol", "bracket")
    child(group, "group-barline", "yes")


def _announced(parts: ET.Element, number: int, score: Score, instrument: Instrument) -> None:
    line = score.lines[number]
    name = staff_name(score, line, instrument)
    sounds = staff_program(line, instrument) if number else program(instrument)
    part = child(parts, "score-part", id=f"P{number + 1}")
    child(part, "part-name", clean(name))
    child(child(part, "score-instrument", id=f"P{number + 1}-I1"), "instrument-name", clean(name))
    midi = child(part, "midi-instrument", id=f"P{number + 1}-I1")
    child(midi, "midi-channel", str(number + 1))
    child(midi, "midi-program", str(sounds))


def divisions(score: Score) -> int:
    """Divisions of a quarter: every length and every place within a note is a whole number of them."""
    found = lcm(1, *((4 * mark.at).denominator for mark in score.chords))
    for line in score.lines:
        for event in line.events():
            shades = (*event.dynamic_marks, *event.vibrato)
            times = [event.length, *(shade.at * event.length for shade in shades)]
            found = lcm(found, *((4 * time).denominator for time in times))
    return found


class _Staff:
    """Writes one part, bar by bar."""

    def __init__(self, score: Score, line: Staff, number: int, instrument: Instrument) -> None:
        self.score, self.line, self.number, self.instrument = score, line, number, instrument
        self.divisions = divisions(score)
        self.notes = Notes(self.divisions, score.courtesy, score.fingerings)
        self.signs = accidentals(line, score.key, score.courtesy != NONE, free=score.meter.is_free)
        self.directions = Directions(self.divisions, score.words)
        self.techniques = technique_words(line)
        # The quarters a minute of each event to come, where not every bar has one tempo.
        self.speeds = [] if number else _speeds(score)
        self.speed = 0.0

    def write(self, part: ET.Element) -> None:
        first = 0 if self.score.pickup else 1
        for index, place in enumerate(bar_places(self.line, self.score.meter)):
            measure = child(part, "measure", number=str(first + index))
            if self.line.bars[index].length != place.meter.length:
                measure.set("implicit", "yes")
            self._left(measure, index)
            self._bar(measure, index, place)
            self._right(measure, index)

    def _bar(self, measure: ET.Element, index: int, at: BarPlace) -> None:
        bar = self.line.bars[index]
        if index == 0:
            self._opening(measure)
        elif bar.meter:
            attributes = child(measure, "attributes")
            _time(attributes, bar.meter)
        if self.number == 0:
            self.directions.sign(measure, bar.sign)
        tempo = self.score.tempo if index == 0 else bar.tempo
        if tempo and self.number == 0 and any(not event.value.held for event in self.line.events()):
            _tempo(measure, tempo)
        if index == 0 and self.number == 0 and _has_held_notes(self.line):
            shortest, longest = self.score.breath
            words = self.score.words.of(HELD_NOTES).format(shortest=shortest, longest=longest)
            child(child(child(measure, "direction", placement="above"), "direction-type"), "words", words)
        self.notes.bar(bar, at.meter, at.upbeat, self.signs[index])
        names = [mark for mark in self.score.chords if mark.bar == index and not self.number]
        now = Fraction(0)
        for place, event in enumerate(bar.events):
            for mark in names:
                if now <= mark.at < now + event.length:
                    harmony(measure, mark, (mark.at - now) * 4 * self.divisions)
            now += event.length
            if event.clef:
                _clef(child(measure, "attributes"), event.clef)
            self._speed(measure)
            self.directions.words_above(measure, self.score.words.of(next(self.techniques)))
            self.directions.before(measure, event)
            self.notes.write(measure, event, place)
            self.directions.after(measure, event)
        if self.number == 0:
            words = words_at_end(self.line.bars, index, self.score.words.of(TIMES))
            self.directions.jump(measure, bar.jump, words)
        if index + 1 == len(self.line.bars):
            self.directions.finish(measure)

    def _speed(self, measure: ET.Element) -> None:
        """How fast the next event is heard, where that changes: a held note has a tempo of its own."""
        if self.speeds and (speed := self.speeds.pop(0)) != self.speed:
            child(measure, "sound", tempo=f"{speed:g}")
            self.speed = speed

    def _opening(self, measure: ET.Element) -> None:
        attributes = child(measure, "attributes")
        child(attributes, "divisions", str(self.divisions))
        key = child(attributes, "key")
        child(key, "fifths", str(self.score.key.fifths))
        child(key, "mode", self.score.key.mode or "none")
        _time(attributes, self.line.bars[0].meter or self.score.meter)
        _clef(attributes, self.line.clef)
        if self.line.small:
            child(child(attributes, "staff-details"), "staff-size", _SMALL)
        if self.instrument.transposition != Interval(0, 0):
            _transpose(attributes, self.instrument.transposition)

    def _left(self, measure: ET.Element, index: int) -> None:
        bar = self.line.bars[index]
        begins = bar.ending and (index == 0 or self.line.bars[index - 1].ending != bar.ending)
        if not (bar.opens_repeat or begins):
            return
        line = child(measure, "barline", location="left")
        if bar.opens_repeat:
            child(line, "bar-style", "heavy-light")
        if begins:
            child(line, "ending", number=str(bar.ending), type="start")
        if bar.opens_repeat:
            child(line, "repeat", direction="forward")

    def _right(self, measure: ET.Element, index: int) -> None:
        bars = self.line.bars
        bar = bars[index]
        ends = bar.ending and (index + 1 == len(bars) or bars[index + 1].ending != bar.ending)
        styles = _FREE_BAR_STYLES if self.score.meter.is_free else _BAR_STYLES
        if bar.end not in styles and not ends:
            return
        line = child(measure, "barline", location="right")
        if bar.end in styles:
            child(line, "bar-style", styles[bar.end])
        if ends:
            # The second ending's bracket stays open on the right: the music goes on.
            last = "stop" if bar.end == ":|" else "discontinue"
            child(line, "ending", number=str(bar.ending), type=last)
        if bar.end == ":|":
            repeat = child(line, "repeat", direction="backward")
            if bar.times != 2:
                repeat.set("times", str(bar.times))


def _has_held_notes(line: Staff) -> bool:
    return any(event.value.held for event in line.events())


def _speeds(score: Score) -> list[float]:
    """Quarters a minute at the beginning of each event of the page, at the middle of its range.

    Empty if no note is held as long as the breath and the tempo changes at bar lines alone.
    """
    if not _has_held_notes(score.line) and not any(map(tempo_change, score.line.events())):
        return []
    in_force = tempo_steps(score)
    found = {item.index: item for item in reversed(unfold(score.line))}
    return [_quarters(steps_of(found[index], score, in_force)[0][1]) for index in sorted(found)]


def _quarters(tempo: Tempo) -> float:
    return float(beats_a_minute(tempo, Fraction(1, 2)) * tempo.beat.length * 4)


def _time(attributes: ET.Element, meter: Meter) -> None:
    if meter.is_free:
        child(child(attributes, "time", print_object="no"), "senza-misura")
        return
    time = child(attributes, "time")
    child(time, "beats", str(meter.beats))
    child(time, "beat-type", str(meter.unit))


def _clef(attributes: ET.Element, name: str) -> None:
    clef = child(attributes, "clef")
    sign, line = _CLEFS[name]
    child(clef, "sign", sign)
    child(clef, "line", str(line))


def _transpose(attributes: ET.Element, interval: Interval) -> None:
    """Write the interval from the page to the sound, with whole octaves apart."""
    octaves = int(interval.semitones / 12)
    transpose = child(attributes, "transpose")
    child(transpose, "diatonic", str(interval.steps - 7 * octaves))
    child(transpose, "chromatic", str(interval.semitones - 12 * octaves))
    if octaves:
        child(transpose, "octave-change", str(octaves))


def _tempo(measure: ET.Element, tempo: Tempo) -> None:
    direction = child(measure, "direction", placement="above")
    metronome(child(direction, "direction-type"), tempo)
    child(direction, "sound", tempo=f"{_quarters(tempo):g}")
