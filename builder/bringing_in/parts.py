"""Reads one part of what music21 made of a file into plain values; whatever has no word here is remarked.

music21's objects end here. Lengths are in whole notes; music21 counts in quarters.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
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

from ..music.pitch import LETTERS, Pitch
from ..music.score import LEVELS, DynamicMark, Event, Meter, Tempo, Value, values_for
from .remarks import Remarks, plain
from .tune_file import Unreadable

TUPLET, SLUR, LOUDER, SOFTER = "tuplet", "slur", "<", ">"
"""The kinds of a `RawSpan`."""

_SHORTEST = Fraction(1, 32)
_FINEST_DIVISION = 960
"""The most divisions of a quarter in a place or a length; music21 has rounding errors below it."""
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
)
"""Articulations, each exact class with its word; Staccatissimo, a kind of Staccato, is none of them."""
_PLAYED = (Fraction(1), Fraction(2, 3))
"""The factors of what is played and not written: plain values and triplets."""
_SCALES = (*_PLAYED, Fraction(4, 5), Fraction(4, 7), Fraction(8, 9), Fraction(3, 2))
"""The factors to try where a length is written without its tuplet."""
_SYLLABLE, _WORDS = 12, 80
"""The most letters of a syllable and of words on the staff in the language."""
_SIGNED = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}


@dataclass(slots=True)
class RawBar:
    """A bar as the file has it: of any length, with what its lines say. `ending` is 0, 1 or 2."""

    events: list[Event] = field(default_factory=list)
    meter: Meter | None = None
    tempo: Tempo | None = None
    opens_repeat: bool = False
    end: str = "|"
    ending: int = 0

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


@dataclass(slots=True)
class RawMelody:
    """A part as the file has it. `fifths` is its signature and `mode` its mode, None where it names none."""

    bars: list[RawBar] = field(default_factory=list)
    spans: list[RawSpan] = field(default_factory=list)
    fifths: int | None = None
    mode: str | None = None
    key_guessed: bool = False


def read_part(score: Any, part: Any, spelled: bool, remarks: Remarks) -> RawMelody:
    """A part of music21's score as plain values. `spelled` is false where the file has no names of notes.

    Raises Unreadable where the part has no notes with a pitch, or lengths that the language cannot write.
    """
    return _PartReader(score, part, spelled, remarks).read()


class _PartReader:
    """Reads a part bar by bar."""

    def __init__(self, score: Any, part: Any, spelled: bool, remarks: Remarks) -> None:
        self.score, self.remarks, self.spelled = score, remarks, spelled
        self.part = part if part.getElementsByClass(stream.Measure) else part.makeNotation()
        self.melody = RawMelody()
        self.at = 0
        """The number of the bar at work, from 1."""
        self.count = 0
        self.firsts: dict[int, int] = {}
        self.lasts: dict[int, int] = {}
        """The first and the last event of each of music21's notes, by its identity."""
        self.starts: list[Fraction] = []
        self.graces: list[Pitch] = []
        self.waiting: list[Any] = []
        self.ratios: dict[int, tuple[int, int]] = {}
        """The ratio of each event in a tuplet, as the file writes it."""

    def read(self) -> RawMelody:
        melody = self.melody
        measures = list(self.part.getElementsByClass(stream.Measure))
        endings = self._endings()
        for self.at, measure in enumerate(measures, start=1):
            made = RawBar(ending=endings.get(id(measure), 0))
            melody.bars.append(made)
            self._bar_lines(measure, made)
            self._bar(measure, made)
        if not any(event.pitch for made in melody.bars for event in made.events):
            raise Unreadable("the part has no notes", "choose another with --part")
        if self.graces:
            self.remarks.add("grace notes at the end lead to no note; they are left out")
        self._mend_ties()
        self._spanners()
        self._tuplets()
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
            if (right.times or 2) != 2:
                self.remarks.add(f"the passage is played {right.times} times; here twice", self.at)
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
            (_quarters(box.elementOffset(each)) / 4, each)
            for box in boxes
            for each in box.elements
            if not isinstance(each, stream.Voice)
        ]
        elements.sort(key=lambda pair: pair[0])
        base = _quarters(measure.offset) / 4
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
                self.firsts[id(each)] = self.lasts[id(each)] = self.count
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
        values = self._values(_quarters(each.quarterLength) / 4, each)
        self.firsts[id(each)] = self.count
        tied = pitch is not None and each.tie is not None and each.tie.type in ("start", "continue")
        for number, value in enumerate(values, start=1):
            last = number == len(values)
            event = Event(pitch, value, tie=pitch is not None and (tied if last else True))
            if number == 1:
                event = self._begun(event, each)
            if last:
                event = self._ended(event, each)
            self._add(made, event, base + now)
            now += value.length
        self.lasts[id(each)] = self.count - 1
        return now

    def _add(self, made: RawBar, event: Event, start: Fraction) -> None:
        made.events.append(event)
        self.starts.append(start)
        self.count += 1

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
            elif not isinstance(sign, articulations.Fingering):
                self.lost(_name(sign))
            else:
                self.lost("fingerings")
        return event

    def _ended(self, event: Event, each: Any) -> Event:
        """The event with what stands at its end or on all of it."""
        if any(type(sign) is articulations.BreathMark for sign in each.articulations):
            event = event.marked("breath")
        for sign in each.expressions:
            if isinstance(sign, expressions.Fermata):
                event = event.marked("fermata")
            elif type(sign) is expressions.Trill and event.pitch is not None:
                event = self._trilled(event, sign)
            elif isinstance(sign, expressions.TextExpression):
                self.waiting.append((Fraction(0), sign))
            else:
                self.lost(_name(sign))
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
            self.lost(_name(each))

    def _signature(self, each: Any, offset: Fraction) -> None:
        melody = self.melody
        mode = getattr(each, "mode", None)
        if each.sharps is None:
            return
        if melody.fifths is None and not self.count:
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
        first = self.count - len(made.events)
        for offset, each in self.waiting:
            moment = base + offset
            places = [n for n in range(len(made.events)) if self.starts[first + n] <= moment] or [0]
            place = places[-1]
            event = made.events[place]
            if isinstance(each, dynamics.Dynamic):
                if each.value not in LEVELS:
                    self.lost(f"the dynamic {plain(each.value, 12)}")
                    continue
                if self.starts[first + place] != moment:
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

    # -- what goes over several notes -----------------------------------------------------------------

    def _mend_ties(self) -> None:
        """Take out the ties that lead to another pitch, from the last note to the first."""
        after: Pitch | None = None
        for at, made in reversed(list(enumerate(self.melody.bars, start=1))):
            for place, event in reversed(list(enumerate(made.events))):
                if event.tie and event.pitch != after:
                    made.events[place] = replace(event, tie=False)
                    self.remarks.add("a tie to no note of the same pitch; left out", at)
                after = event.pitch

    def _spanners(self) -> None:
        own = set(self.firsts)
        for each in self.score.recurse().getElementsByClass(spanner.Spanner):
            ends = each.getSpannedElements()
            if not ends or isinstance(each, spanner.RepeatBracket):
                continue
            hairpin = {dynamics.Crescendo: LOUDER, dynamics.Diminuendo: SOFTER}.get(type(each), "")
            mine = any(id(end) in own or self._holds(end) for end in ends)
            if not mine:
                continue
            if isinstance(each, spanner.Slur) or hairpin:
                span = self._span(hairpin or SLUR, ends)
                if span is None:
                    self.remarks.add("a slur over one note; left out")
                elif span not in self.melody.spans:
                    self.melody.spans.append(span)
            else:
                self.remarks.add(f"{_name(each)}; left out")

    def _holds(self, end: Any) -> bool:
        return isinstance(end, spanner.SpannerAnchor) and any(self.part is each for each in _containers(end))

    def _span(self, kind: str, ends: list[Any]) -> RawSpan | None:
        firsts = [self._place(end, False) for end in ends]
        lasts = [self._place(end, True) for end in ends]
        known = [place for place in (*firsts, *lasts) if place is not None]
        if not known:
            return None
        first = min(place for place in firsts if place is not None)
        last = min(max(place for place in lasts if place is not None), self.count - 1)
        if last < first or (kind == SLUR and last == first):
            return None
        return RawSpan(kind, first, last)

    def _place(self, end: Any, at_end: bool) -> int | None:
        """The event at which a spanner begins or ends; at an anchor, the one before or after the moment."""
        if id(end) in self.firsts:
            return (self.lasts if at_end else self.firsts)[id(end)]
        if not isinstance(end, spanner.SpannerAnchor):
            return None
        moment = _quarters(end.getOffsetInHierarchy(self.part)) / 4
        if at_end:
            before = [n for n, start in enumerate(self.starts) if start < moment]
            return before[-1] if before else 0
        after = [n for n, start in enumerate(self.starts) if start >= moment]
        return after[0] if after else self.count - 1

    def _tuplets(self) -> None:
        """Group the notes of tuplets by the file's brackets where they fit, else by the shortest sum."""
        written: dict[int, str] = {}
        for each in self.part.recurse().notesAndRests:
            if id(each) in self.firsts and each.duration.tuplets:
                for where in range(self.firsts[id(each)], self.lasts[id(each)] + 1):
                    written[where] = each.duration.tuplets[0].type or ""
                    ratio = each.duration.tuplets[0]
                    self.ratios[where] = (ratio.numberNotesActual, ratio.numberNotesNormal)
        number = 0
        for made in self.melody.bars:
            start: int | None = None
            total = Fraction(0)
            for place, event in enumerate(made.events):
                here = number + place
                scale = event.value.scale
                if start is not None and scale != made.events[start - number].value.scale:
                    self._close(start, here - 1, made.events[start - number].value.scale)
                    start = None
                if scale == 1:
                    continue
                if start is None:
                    start, total = here, Fraction(0)
                total += event.length
                whole = total.denominator & (total.denominator - 1) == 0
                to_come = self._rest_of(made, number, here, scale)
                if whole and (
                    written.get(here) in _ENDS or not any(written.get(n) in _ENDS for n in to_come)
                ):
                    self._close(start, here, scale)
                    start = None
            if start is not None:
                self._close(start, number + len(made.events) - 1, made.events[start - number].value.scale)
            number += len(made.events)

    @staticmethod
    def _rest_of(made: RawBar, number: int, here: int, scale: Fraction) -> list[int]:
        """The events from `here` on that go on with the same scale in the bar."""
        found = []
        for place in range(here - number, len(made.events)):
            if made.events[place].value.scale != scale:
                break
            found.append(number + place)
        return found

    def _close(self, first: int, last: int, scale: Fraction) -> None:
        ratio = self.ratios.get(first, (scale.denominator, scale.numerator))
        if Fraction(ratio[1], ratio[0]) != scale:
            ratio = scale.denominator, scale.numerator
        self.melody.spans.append(RawSpan(TUPLET, first, last, ratio))

    # -- the key --------------------------------------------------------------------------------------

    def _key(self) -> None:
        if self.melody.fifths is not None:
            return
        if self.spelled:
            self.melody.fifths = 0
            return
        guess = self.part.analyze("key")
        self.melody.fifths, self.melody.mode, self.melody.key_guessed = guess.sharps, guess.mode, True


_ENDS = ("stop", "startStop")
"""music21's words for the end of a tuplet's bracket."""

_BESIDE = (dynamics.Dynamic, expressions.TextExpression, expressions.RehearsalMark, tempo.TempoText)
"""Classes of music21 that stand beside a note as words or dynamics."""

_SILENT = (bar.Barline, instrument.Instrument, layout.LayoutBase, spanner.SpannerAnchor)
"""Classes of music21 that are no music of their own."""


def _containers(anchor: Any) -> list[Any]:
    """The streams that hold an element of music21's, from the innermost outward."""
    return list(anchor.containerHierarchy())


def _quarters(number: Any) -> Fraction:
    """A place or length of music21's as a fraction of a quarter; it has floats, with rounding errors."""
    return Fraction(number).limit_denominator(_FINEST_DIVISION)


def _name(each: Any) -> str:
    """A class of music21 as words: `InvertedMordent` is `inverted mordent`."""
    name = type(each).__name__
    spaced = "".join(f" {letter.lower()}" if letter.isupper() else letter for letter in name).strip()
    return f"a sign that has no word here ({spaced})"
