"""Reads one part of what music21 made of a file into plain values; whatever has no word here is remarked.

music21's objects end here. Lengths are in whole notes; music21 counts in quarters.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from music21 import (
    articulations,
    bar,
    chord,
    clef,
    dynamics,
    expressions,
    instrument,
    key,
    layout,
    meter,
    note,
    spanner,
    stream,
    tempo,
)

from ..language.notes.repeat_words import MOST_TIMES
from ..music.event import LEVELS, DynamicMark, Event, Tempo, Value, values_for
from ..music.pitch import LETTERS, Pitch
from ..music.score import Meter
from .note_signs import PartSigns
from .part_values import name_of, quarters
from .raw_melody import RawBar, RawMelody
from .remarks import Remarks, plain
from .spans import Places, mend_ties, read_spans, read_tuplets
from .tune_file import Unreadable
from .xml_signs import FileSigns, is_name

_SHORTEST = Fraction(1, 32)
_BASES = {
    name: Fraction(1, 2**power)
    for power, name in enumerate(("whole", "half", "quarter", "eighth", "16th", "32nd"))
}
_MARKS = (
    (articulations.DetachedLegato, "portato"),
    (articulations.StrongAccent, "marcato"),
    (articulations.Staccato, "staccato"),
    (articulations.Tenuto, "tenuto"),
    (articulations.Accent, "accent"),
    (articulations.BreathMark, "breath"),
    (articulations.Doit, "bend-up"),
    (articulations.Falloff, "bend-down"),
)
"""Articulations, each exact class with its word; Staccatissimo, a kind of Staccato, is none of them."""
_ORNAMENTS = {
    expressions.Mordent: "mordent",
    expressions.InvertedMordent: "inverted-mordent",
    expressions.Turn: "turn",
}
_FERMATAS = {"angled": "short-fermata", "square": "long-fermata"}
"""The words of fermatas by their shape; every other one is an ordinary one."""
_PLAYED = (Fraction(1), Fraction(2, 3))
"""The factors of what is played and not written: plain values and triplets."""
_SCALES = (*_PLAYED, Fraction(4, 5), Fraction(4, 7), Fraction(8, 9), Fraction(3, 2))
"""The factors to try where a length is written without its tuplet."""
_SYLLABLE, _WORDS = 12, 80
"""The most letters of a syllable and of words on the staff in the language."""
_SIGNED = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}


def read_part(score: Any, part: Any, spelled: bool, signs: FileSigns, remarks: Remarks) -> RawMelody:
    """A part of music21's score as plain values. `spelled` is false where the file has no names of notes.

    `signs` are those that were read from the file before music21 read it. Raises Unreadable where the part
    has no notes with a pitch, or lengths that the language cannot write.
    """
    return _PartReader(score, part, spelled, signs, remarks).read()


class _PartReader:
    """Reads a part bar by bar."""

    def __init__(self, score: Any, part: Any, spelled: bool, signs: FileSigns, remarks: Remarks) -> None:
        self.score, self.remarks, self.spelled = score, remarks, spelled
        self.signs = PartSigns(signs)
        self.part = part if part.getElementsByClass(stream.Measure) else part.makeNotation()
        self.melody = RawMelody()
        self.at = 0
        """The number of the bar at work, from 1."""
        self.places = Places()
        self.graces: list[Pitch] = []
        self.waiting: list[Any] = []

    def read(self) -> RawMelody:
        melody = self.melody
        measures = list(self.part.getElementsByClass(stream.Measure))
        endings = self._endings()
        for self.at, measure in enumerate(measures, start=1):
            made = RawBar(ending=endings.get(id(measure), 0))
            melody.bars.append(made)
            self._bar_lines(measure, made)
            self._bar(measure, made)
            made.sign, made.jump = self.signs.of_bar(self.at)
        if not any(event.pitch for made in melody.bars for event in made.events):
            raise Unreadable("the part has no notes", "choose another with --part")
        if self.graces:
            self.remarks.add("grace notes at the end lead to no note; they are left out")
        mend_ties(melody, self.remarks)
        melody.spans += read_spans(self.score, self.part, self.places, self.remarks)
        melody.spans += read_tuplets(self.part, self.places, melody)
        melody.spans += self.signs.changes()
        self._key()
        return melody

    def lost(self, what: str) -> None:
        """Remark that a thing of the bar at work is left out."""
        self.remarks.add(f"{what}; left out", self.at)

    # -- bars -----------------------------------------------------------------------------------------

    def _endings(self) -> dict[int, int]:
        found: dict[int, int] = {}
        for bracket in self.part.recurse().getElementsByClass(spanner.RepeatBracket):
            number = str(bracket.number).strip(" .")
            if number in ("1", "2"):
                found.update({id(measure): int(number) for measure in bracket.getSpannedElements()})
            else:
                said = f"an ending is numbered {plain(number, 20)}, and there are 1 and 2 alone; left out"
                self.remarks.add(said)
        return found

    def _bar_lines(self, measure: Any, made: RawBar) -> None:
        left, right = measure.leftBarline, measure.rightBarline
        if isinstance(left, bar.Repeat):
            if left.direction == "start":
                made.opens_repeat = True
            elif len(self.melody.bars) > 1:
                self.melody.bars[-2].end = ":|"
        elif left is not None and left.type in ("double", "light-light") and len(self.melody.bars) > 1:
            before = self.melody.bars[-2]
            before.end = "||" if before.end == "|" else before.end
        if isinstance(right, bar.Repeat) and right.direction == "end":
            made.end = ":|"
            made.times = right.times or 2
            if not 2 <= made.times <= MOST_TIMES:
                self.remarks.add(f"the passage is played {made.times} times; here twice", self.at)
                made.times = 2
        elif isinstance(right, bar.Repeat):
            self.lost("a repeat that begins at the end of a bar")
        elif right is not None and right.type in ("double", "final", "light-light", "light-heavy"):
            made.end = "||"

    def _bar(self, measure: Any, made: RawBar) -> None:
        voices = list(measure.voices)
        voice = self._voice(voices)
        if len(voices) > 1:
            self.remarks.add("several voices; one of them is kept", self.at)
        boxes = [measure] + [voice] * (voice is not None)
        elements = [
            (quarters(box.elementOffset(each)) / 4, each)
            for box in boxes
            for each in box.elements
            if not isinstance(each, stream.Voice)
        ]
        elements.sort(key=lambda pair: pair[0])
        base = quarters(measure.offset) / 4
        now = Fraction(0)
        for offset, each in elements:
            if isinstance(each, note.GeneralNote):
                now = self._sounding(made, each, offset, now, base)
            else:
                self._beside(made, each, offset)
        if not made.events:
            return
        self._place_waiting(made, base)

    def _voice(self, voices: list[Any]) -> Any:
        """The voice to keep: the first of a score, and where nobody wrote voices, the one with most notes."""
        if not voices or self.spelled:
            return voices[0] if voices else None
        return max(voices, key=lambda voice: len(list(voice.getElementsByClass(note.NotRest))))

    # -- notes ----------------------------------------------------------------------------------------

    def _sounding(self, made: RawBar, each: Any, offset: Fraction, now: Fraction, base: Fraction) -> Fraction:
        """Add a note or rest; return where the bar has come to."""
        if type(each).__name__ in ("ChordSymbol", "NoChord", "RomanNumeral", "FiguredBass"):
            self.lost("names of chords")
            return now
        if isinstance(each, (note.Unpitched, chord.ChordBase)) and not isinstance(each, chord.Chord):
            what = f"bar {self.at} has notes without a pitch"
            raise Unreadable(what, "choose a part with pitches by --part")
        pitch = None if each.isRest else self._pitch(each)
        if each.duration.isGrace or (each.quarterLength == 0 and not each.isRest):
            if pitch is not None:
                self.graces.append(pitch)
                self.places.firsts[id(each)] = self.places.lasts[id(each)] = self.places.count
            return now
        if each.quarterLength == 0:
            return now
        if offset < now:
            self.lost("notes that sound together with others")
            return now
        if offset > now:
            for value in self._values(offset - now, None):
                self._add(made, Event(None, value), base + now)
                now += value.length
        values = self._values(quarters(each.quarterLength) / 4, each)
        self.places.firsts[id(each)] = self.places.count
        tied = pitch is not None and each.tie is not None and each.tie.type in ("start", "continue")
        for number, value in enumerate(values, start=1):
            last = number == len(values)
            event = Event(pitch, value, tie=pitch is not None and (tied if last else True))
            if number == 1:
                event = self._begun(event, each)
            if last:
                event = self._ended(event, each)
            event = self.signs.on(event, each, self.at, self.places.count, number == 1, last)
            self._add(made, event, base + now)
            now += value.length
        self.places.lasts[id(each)] = self.places.count - 1
        return now

    def _add(self, made: RawBar, event: Event, start: Fraction) -> None:
        made.events.append(event)
        self.places.starts.append(start)

    def _pitch(self, each: Any) -> Pitch:
        if isinstance(each, chord.Chord):
            self.remarks.add("chords; only the upper note of each is kept", self.at)
        found = max(each.pitches, key=lambda pitch: pitch.ps)
        alter = found.alter
        if alter != int(alter):
            nearest = int(alter + 0.5 if alter > 0 else alter - 0.5)
            self.remarks.add("microtones; each is the nearest semitone here", self.at)
        else:
            nearest = int(alter)
        octave = found.implicitOctave
        letter = LETTERS.index(found.step)
        pitch = Pitch(letter, nearest, octave)
        if abs(nearest) > 2:
            plainer = found.simplifyEnharmonic()
            pitch = Pitch(LETTERS.index(plainer.step), int(plainer.alter), plainer.implicitOctave)
            self.remarks.add("triple accidentals; written by a plainer name", self.at)
        if not 0 <= pitch.octave <= 9:
            raise Unreadable(f"bar {self.at} has a pitch in octave {pitch.octave}", "octaves go from 0 to 9")
        return pitch

    def _values(self, length: Fraction, each: Any) -> tuple[Value, ...]:
        """The written values of a length: as the file writes it, or else the fewest that make it up."""
        duration = each.duration if each is not None else None
        tuplets = duration.tuplets if duration is not None else ()
        if duration is not None and duration.type in _BASES and duration.dots <= 2 and len(tuplets) <= 1:
            scale = (
                Fraction(tuplets[0].numberNotesNormal, tuplets[0].numberNotesActual)
                if tuplets
                else Fraction(1)
            )
            value = Value(_BASES[duration.type], duration.dots, scale)
            if value.length == length and (self.spelled or scale in _PLAYED):
                return (value,)
        for scale in _SCALES if self.spelled else _PLAYED:
            try:
                values = values_for(length / scale)
            except ValueError:
                continue
            if all(value.base >= _SHORTEST for value in values):
                return tuple(replace(value, scale=scale) for value in values)
        what = f"bar {self.at} has a length of {length} of a whole note, which the language cannot write"
        mend = "the shortest value is a thirty-second note; change the bar in its own program"
        if not self.spelled:
            mend = "play it in strict time, or have its program quantize it"
        raise Unreadable(what, mend)

    def _begun(self, event: Event, each: Any) -> Event:
        """The event with the grace notes before it and what stands at its beginning."""
        if self.graces:
            if event.pitch is None:
                self.remarks.add("grace notes before a rest; left out", self.at)
            else:
                event = replace(event, graces=tuple(self.graces))
            self.graces = []
        lyrics = [lyric for lyric in each.lyrics if lyric.text] if event.pitch is not None else []
        if lyrics:
            text = plain(lyrics[0].text, 200).replace('"', "'")
            if len(text) <= _SYLLABLE:
                event = replace(event, syllable=text)
                self.remarks.add("the words of the song stand below the notes as syllables (`say`)")
            else:
                self.lost(f"a syllable of more than {_SYLLABLE} letters")
            if len(lyrics) > 1:
                self.remarks.add("further verses are left out")
        for sign in each.articulations:
            if word := next((word for kind, word in _MARKS if type(sign) is kind), ""):
                event = event.marked(word) if word != "breath" and event.pitch is not None else event
            elif not is_name(sign):
                self.lost(name_of(sign))
        return event

    def _ended(self, event: Event, each: Any) -> Event:
        """The event with what stands at its end or on all of it."""
        if any(type(sign) is articulations.BreathMark for sign in each.articulations):
            event = event.marked("breath")
        for sign in each.expressions:
            if isinstance(sign, expressions.Fermata):
                event = event.marked(_FERMATAS.get(sign.shape, "fermata"))
            elif type(sign) in _ORNAMENTS and event.pitch is not None:
                event = event.marked(_ORNAMENTS[type(sign)])
            elif type(sign) is expressions.Trill and event.pitch is not None:
                event = self._trilled(event, sign)
            elif isinstance(sign, expressions.TextExpression):
                self.waiting.append((Fraction(0), sign))
            else:
                self.lost(name_of(sign))
        return event

    def _trilled(self, event: Event, trill: Any) -> Event:
        event = event.marked("trill")
        assert event.pitch is not None
        sign = getattr(trill, "accidental", None)
        if sign is not None:
            upper = replace(event.pitch.next_letter, alter=int(sign.alter))
            if upper.midi - event.pitch.midi in (1, 2):
                return replace(event, trilled=upper)
            self.lost("the accidental of a trill")
        return event

    # -- what stands beside notes ---------------------------------------------------------------------

    def _beside(self, made: RawBar, each: Any, offset: Fraction) -> None:
        if isinstance(each, meter.TimeSignature):
            self._meter(made, each, offset)
        elif isinstance(each, tempo.MetronomeMark):
            self._tempo(made, each, offset)
        elif isinstance(each, _BESIDE):
            self.waiting.append((offset, each))
        elif isinstance(each, key.KeySignature):
            self._signature(each, offset)
        elif isinstance(each, clef.Clef):
            if self.at > 1 or offset > 0:
                self.remarks.add("the clef changes; the book sets clefs by the instrument", self.at)
        elif not isinstance(each, _SILENT):
            self.lost(name_of(each))

    def _signature(self, each: Any, offset: Fraction) -> None:
        melody = self.melody
        mode = getattr(each, "mode", None)
        if each.sharps is None:
            return
        if melody.fifths is None and not self.places.count:
            melody.fifths, melody.mode = each.sharps, mode
        elif melody.fifths != each.sharps or (mode and melody.mode and mode != melody.mode):
            said = "the key signature changes; the notes keep their pitches and the first signature"
            self.remarks.add(said, self.at)

    def _meter(self, made: RawBar, each: Any, offset: Fraction) -> None:
        beats, unit = int(each.numerator), int(each.denominator)
        if offset > 0 and made.events:
            self.lost("a change of meter within a bar")
        elif 1 <= beats <= 32 and unit in (1, 2, 4, 8, 16, 32):
            made.meter = Meter(beats, unit)
        else:
            self.lost(f"the meter {beats}/{unit}, which the language does not have")

    def _tempo(self, made: RawBar, each: Any, offset: Fraction) -> None:
        if each.text and not each.textImplicit:
            self.waiting.append((offset, each))
        number, referent = each.number, each.referent
        base = Fraction(referent.quarterLength).limit_denominator(64) / 4
        if number is None and each.numberSounding is not None:
            number = each.numberSounding / float(base * 4)
        if number is None:
            return
        values = values_for(base) if base.denominator & (base.denominator - 1) == 0 else ()
        beat = values[0] if len(values) == 1 and values[0].base >= _SHORTEST else Value(Fraction(1, 4))
        if beat.length != base:
            number = number * float(base / beat.length)
        rounded = round(number)
        if offset > 0 and made.events:
            self.lost("a change of tempo within a bar")
        elif not 20 <= rounded <= 400:
            self.lost(f"a tempo of {number:g}")
        else:
            if each.numberImplicit and each.text:
                words = plain(each.text, 40)
                said = f"the file gives the tempo as {words} alone; {rounded} is a usual number for it"
                self.remarks.add(said, self.at)
            elif abs(rounded - number) > 0.01:
                self.remarks.add(f"the tempo {number:g} is rounded", self.at)
            made.tempo = Tempo(beat, rounded, rounded)

    def _place_waiting(self, made: RawBar, base: Fraction) -> None:
        """Give the dynamics and words of the bar to the events that they stand at."""
        first = self.places.count - len(made.events)
        for offset, each in self.waiting:
            moment = base + offset
            places = [n for n in range(len(made.events)) if self.places.starts[first + n] <= moment] or [0]
            place = places[-1]
            event = made.events[place]
            if isinstance(each, dynamics.Dynamic):
                if each.value not in LEVELS:
                    self.lost(f"the dynamic {plain(each.value, 12)}")
                    continue
                if self.places.starts[first + place] != moment:
                    self.remarks.add("a dynamic within a note; it stands at the note's beginning", self.at)
                if any(mark.mark in LEVELS for mark in event.dynamic_marks):
                    self.lost("a second dynamic on one note")
                    continue
                made.events[place] = event.with_dynamic_marks(DynamicMark(Fraction(0), each.value))
                continue
            words = each.text if isinstance(each, tempo.MetronomeMark) else getattr(each, "content", "")
            if isinstance(each, tempo.TempoText):
                words = each.text
            text = plain(words, 200).replace('"', "'")
            side = "below" if getattr(each, "placement", None) == "below" else "above"
            whole = ", ".join(filter(None, (getattr(event, side), text)))
            if not text:
                continue
            if len(whole) > _WORDS:
                self.lost(f"words of more than {_WORDS} letters")
            elif side == "below":
                made.events[place] = replace(event, below=whole)
            else:
                made.events[place] = replace(event, above=whole)
        self.waiting.clear()

    # -- the key --------------------------------------------------------------------------------------

    def _key(self) -> None:
        if self.melody.fifths is not None:
            return
        if self.spelled:
            self.melody.fifths = 0
            return
        guess = self.part.analyze("key")
        self.melody.fifths, self.melody.mode, self.melody.key_guessed = guess.sharps, guess.mode, True


_BESIDE = (dynamics.Dynamic, expressions.TextExpression, expressions.RehearsalMark, tempo.TempoText)
"""Classes of music21 that stand beside a note as words or dynamics."""

_SILENT = (bar.Barline, instrument.Instrument, layout.LayoutBase, spanner.SpannerAnchor)
"""Classes of music21 that are no music of their own."""
