"""Reads from MusicXML the signs that music21 passes over or has no class for, before it sees the file.

Each is taken out of the file. Signs of a note are kept by a name, which the note gets as the `id` of a
technical mark, because music21 hands on no `id` of a note; signs of a bar are kept by the bar's number. The
elements are those of MusicXML 4.0 (W3C Music Notation Community Group, 2021).
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Any

from ..music.event import Tempo, Value
from ..music.pitch import LETTERS, Pitch
from ..music.signs import (
    CROSS,
    FLUTTER,
    GLISSANDO,
    HARMONIC,
    TECHNIQUES,
    TIMBRAL_TRILL,
    TRIANGLE,
    USUAL_WAY,
)
from ..music.sounding.repeats import CODA, DA_CAPO, DAL_SEGNO, FINE, SEGNO, TO_CODA
from ..music.sounding.tempos import ACCELERANDO, RITARDANDO

_JUMP_SOUNDS = {"dacapo": DA_CAPO, "dalsegno": DAL_SEGNO, "fine": FINE, "tocoda": TO_CODA}
_JUMP_WORDS = (
    (re.compile(r"(d\.? ?c\.?|da capo)( al .*)?", re.IGNORECASE), DA_CAPO),
    (re.compile(r"(d\.? ?s\.?|dal segno)( al .*)?", re.IGNORECASE), DAL_SEGNO),
    (re.compile(r"fine", re.IGNORECASE), FINE),
    (re.compile(r"to coda", re.IGNORECASE), TO_CODA),
)
"""Words at the end of a bar, as they are printed (common practice, no source)."""

_TIMES = re.compile(r"(\d{1,2})[ -]?(times|x|mal|fois|volte|veces|keer)|x ?(\d{1,2})", re.IGNORECASE)
_CHANGES = (
    (re.compile(r"(rit|ritard|ritardando|rall|rallentando)\.?", re.IGNORECASE), RITARDANDO),
    (re.compile(r"(accel|accelerando)\.?", re.IGNORECASE), ACCELERANDO),
)
_WORDS = {
    **{technique.word.casefold(): name for name, technique in TECHNIQUES.items()},
    **dict.fromkeys(("flutter", "flz", "flatterzunge", "frull.", "frullato"), FLUTTER),
    **dict.fromkeys((USUAL_WAY, "ord", "ordinario", "norm."), ""),
}
"""Words over the staff for a technique, or for the usual way again."""

_NAME = "stavewright-note-"
_HEADS = {"x": CROSS, "triangle": TRIANGLE}
_STROKES = ("0", "3")
"""The strokes of a tremolo on one note that a wind player reads as flutter: unmeasured ones, and three."""
_BASES = {"whole": 1, "half": 2, "quarter": 4, "eighth": 8, "16th": 16, "32nd": 32}


@dataclass(frozen=True, slots=True)
class NoteSigns:
    """What a note has beside what music21 reads: marks, a harmonic's fingered note, a fingering.

    From ABC also its dynamic `level`, and what stands at the beginning of its bar (`sign`) and at the end
    (`jump`).
    """

    marks: tuple[str, ...] = ()
    fundamental: Pitch | None = None
    fingering: str = ""
    level: str = ""
    sign: str = ""
    jump: str = ""

    def with_mark(self, mark: str) -> NoteSigns:
        """The same with one more mark."""
        return replace(self, marks=(*self.marks, mark))

    def with_level(self, level: str) -> NoteSigns:
        """The same with a dynamic."""
        return replace(self, level=level)

    def with_sign(self, sign: str) -> NoteSigns:
        """The same with a sign at the beginning of its bar."""
        return replace(self, sign=sign)

    def with_jump(self, jump: str) -> NoteSigns:
        """The same with a word at the end of its bar."""
        return replace(self, jump=jump)


@dataclass(frozen=True, slots=True)
class Change:
    """A ritardando or an accelerando (`kind`) to a tempo, over the notes of two ids and all between them."""

    kind: str
    tempo: Tempo
    first: str
    last: str


@dataclass(slots=True)
class FileSigns:
    """The signs of a file. Bars are counted from 1.

    `notes` are by their names, or `by_order` by their numbers from 0, of which there are `count`.
    """

    notes: dict[str, NoteSigns] = field(default_factory=dict)
    signs: dict[int, str] = field(default_factory=dict)
    jumps: dict[int, str] = field(default_factory=dict)
    changes: list[Change] = field(default_factory=list)
    by_order: bool = False
    count: int = 0


def take_signs(root: ET.Element, say: Callable[[str], str] = str) -> FileSigns:
    """The signs of a file, which are taken out of it; the notes that they are for get names.

    `say` says a word in the language of the book, in which our own files have the words of techniques.
    """
    found = FileSigns()
    words = {**{say(each.word).casefold(): name for name, each in TECHNIQUES.items()}, **_WORDS}
    names = {id(note): f"{_NAME}{number}" for number, note in enumerate(root.iter("note"))}
    for part in root.iter("part"):
        _Taker(found, names, words).take(part)
    wanted = {*found.notes, *(name for change in found.changes for name in (change.first, change.last))}
    for note in root.iter("note"):
        if (name := names.get(id(note), "")) in wanted:
            technical = ET.SubElement(ET.SubElement(note, "notations"), "technical")
            ET.SubElement(technical, "other-technical", id=name)
    return found


def name_of_note(note: Any) -> str:
    """The name that one of music21's notes has got; empty if it has none."""
    return next((str(sign.id) for sign in note.articulations if is_name(sign)), "")


def is_name(sign: Any) -> bool:
    """Whether one of music21's articulations is only there for the name."""
    return str(sign.id).startswith(_NAME)


class _Taker:
    """Takes the signs out of one part, from its first note to its last."""

    def __init__(self, found: FileSigns, names: Mapping[int, str], words: Mapping[str, str]) -> None:
        self.found, self.names, self.words = found, names, words
        self.technique = ""
        self.change: tuple[str, Tempo] | None = None
        self.first = self.last = ""
        self.goal: Tempo | None = None

    def take(self, part: ET.Element) -> None:
        for at, measure in enumerate(part.iter("measure"), start=1):
            for each in list(measure):
                if each.tag == "direction":
                    self._direction(measure, each, at)
                elif each.tag == "sound" and each.get("tempo") and self._is_of_change(each):
                    measure.remove(each)
                elif each.tag == "note" and each.find("chord") is None and each.find("grace") is None:
                    self._note(measure, each)

    # -- directions -----------------------------------------------------------------------------------

    def _direction(self, measure: ET.Element, direction: ET.Element, at: int) -> None:
        kinds = [kind for each in direction.findall("direction-type") for kind in each]
        words = " ".join("".join(kind.itertext()).strip() for kind in kinds if kind.tag == "words").strip()
        sound = direction.find("sound")
        sign = next((kind.tag for kind in kinds if kind.tag in (SEGNO, CODA)), "")
        if sign and not words:
            self.found.signs[at] = sign
        elif jump := _jump_of(words, sound):
            self.found.jumps[at] = jump
        elif _TIMES.fullmatch(words) and _repeats(measure):
            pass
        elif (name := self.words.get(words.casefold())) is not None and len(kinds) == 1:
            self.technique = name
        elif change := _change_of(kinds, words):
            self.change, self.first = change, ""
            _take_speed_before(measure, direction)
        elif self.change and any(kind.tag == "dashes" for kind in kinds):
            if any(kind.get("type") == "stop" for kind in kinds):
                self._end_change()
        else:
            return
        measure.remove(direction)

    def _end_change(self) -> None:
        if self.change and self.first:
            self.found.changes.append(Change(*self.change, self.first, self.last))
            self.goal = self.change[1]
        self.change = None

    def _is_of_change(self, sound: ET.Element) -> bool:
        """Whether a tempo for the sound alone is a step of a change, or where one has just led."""
        goal, self.goal = self.goal, None
        if self.change:
            return True
        return goal is not None and abs(float(sound.get("tempo", 0)) - _quarters(goal)) < 1

    # -- notes ----------------------------------------------------------------------------------------

    def _note(self, measure: ET.Element, note: ET.Element) -> None:
        if note.find("rest") is not None:
            return
        name = self.names[id(note)]
        self.first, self.last = self.first or name, name
        marks = [*self._technique(note), *_taken_marks(note)]
        fundamental = _taken_fundamental(measure, note) if HARMONIC in marks else None
        fingering = _taken(note, "notations/technical", "fingering")
        text = " ".join("".join(fingering[0].itertext()).split()) if fingering else ""
        signs = NoteSigns(tuple(dict.fromkeys(marks)), fundamental, text)
        if signs != NoteSigns():
            self.found.notes[name] = signs

    def _technique(self, note: ET.Element) -> Iterator[str]:
        """The technique of a note: that of the last word, if its head is the one for it."""
        head = _HEADS.get((note.findtext("notehead") or "").strip(), "")
        tremolo = next(_tremolos(note), None)
        if tremolo is not None:
            _remove(note, tremolo)
            self.technique = self.technique or FLUTTER
        if not self.technique:
            return
        if (self.technique == FLUTTER and tremolo is None) or TECHNIQUES[self.technique].head != head:
            self.technique = ""
        else:
            yield self.technique


def _quarters(tempo: Tempo) -> float:
    return float(tempo.low * tempo.beat.length * 4)


def _take_speed_before(measure: ET.Element, direction: ET.Element) -> None:
    """Take out how fast the first note of a change is heard, where that stands just before its word."""
    children = list(measure)
    before = children[: children.index(direction)]
    if before and before[-1].tag == "sound" and before[-1].get("tempo"):
        measure.remove(before[-1])


def _jump_of(words: str, sound: ET.Element | None) -> str:
    """What a direction at the end of a bar leads to: by its sound, or by its words."""
    if sound is not None:
        for name, jump in _JUMP_SOUNDS.items():
            if sound.get(name):
                return jump
    found = (jump for part in words.split(",") for form, jump in _JUMP_WORDS if form.fullmatch(part.strip()))
    return next(found, "")


def _repeats(measure: ET.Element) -> bool:
    """Whether a bar ends a repeated passage, so that the words of its number say what the line says."""
    return any(line.get("times") for line in measure.iter("repeat"))


def _change_of(kinds: Iterable[ET.Element], words: str) -> tuple[str, Tempo] | None:
    """A change of tempo by and by that says where it leads; without that, its words stay words."""
    name = next((name for form, name in _CHANGES if form.fullmatch(words)), "")
    metronome = next((kind for kind in kinds if kind.tag == "metronome"), None)
    if not name or metronome is None:
        return None
    number = (metronome.findtext("per-minute") or "").strip()
    base = _BASES.get(metronome.findtext("beat-unit") or "", 0)
    if not (base and number.isdigit() and 20 <= int(number) <= 400):
        return None
    beat = Value(Fraction(1, base), len(metronome.findall("beat-unit-dot")))
    return name, Tempo(beat, int(number), int(number))


def _tremolos(note: ET.Element) -> Iterator[ET.Element]:
    for tremolo in note.iterfind("notations/ornaments/tremolo"):
        kind = tremolo.get("type", "single")
        if kind in ("single", "unmeasured") and (tremolo.text or "").strip() in _STROKES:
            yield tremolo


def _taken_marks(note: ET.Element) -> Iterator[str]:
    for tag in ("glissando", "slide"):
        for line in _taken(note, "notations", tag):
            if line.get("type") == "start":
                yield GLISSANDO
    for ornament in note.findall("notations/ornaments/other-ornament"):
        if "".join(ornament.itertext()).strip().casefold() == "timbral trill":
            _remove(note, ornament)
            yield TIMBRAL_TRILL
    for harmonic in note.findall("notations/technical/harmonic"):
        if harmonic.find("artificial") is None:
            _remove(note, harmonic)
            yield HARMONIC


def _taken_fundamental(measure: ET.Element, note: ET.Element) -> Pitch | None:
    """The fingered note of a harmonic, which stands as a diamond in a chord with it."""
    children = list(measure)
    for other in children[children.index(note) + 1 :]:
        if other.tag != "note" or other.find("chord") is None:
            return None
        if (other.findtext("notehead") or "").strip() != "diamond":
            continue
        measure.remove(other)
        pitch = other.find("pitch")
        if pitch is None:
            return None
        letter, octave = pitch.findtext("step") or "C", int(pitch.findtext("octave") or 4)
        return Pitch(LETTERS.index(letter), int(float(pitch.findtext("alter") or 0)), octave)
    return None


def _taken(note: ET.Element, path: str, tag: str) -> list[ET.Element]:
    """The elements of this name at a place below a note, which are taken out."""
    found = [each for parent in note.iterfind(path) for each in parent.findall(tag)]
    for each in found:
        _remove(note, each)
    return found


def _remove(note: ET.Element, element: ET.Element) -> None:
    for parent in note.iter():
        if element in list(parent):
            parent.remove(element)
            return
