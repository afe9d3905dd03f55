"""Makes bars of the language from a melody as a file has it: its pick-up, meters, endings, groups and key."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from ..music.event import HAIRPIN_END, SLUR, DynamicMark, Event, Span, Tempo, Value, tuplet, values_for
from ..music.exercise import Exercise, Form, KeySequence
from ..music.keys import MODES, Key
from ..music.pitch import Pitch
from ..music.score import Bar, Meter, each_pitch
from ..music.sounding.tempos import ACCELERANDO, RITARDANDO
from .note_signs import without_faults
from .raw_melody import LOUDER, SOFTER, TUPLET, RawBar, RawMelody, RawSpan
from .raw_melody import SLUR as SLURRED
from .remarks import Remarks
from .tune_file import Unreadable

_DEFAULT_TEMPO = Tempo(Value(Fraction(1, 4)), 54, 66)
_MOST_BEATS, _FINEST = 32, 32
"""The most beats of a meter, and the shortest value that one counts in."""
_ENDING = "ending"
_CHANGE = "change it in its own program"


def shaped(melody: RawMelody, spelled: bool, remarks: Remarks) -> Exercise:
    """The melody as an exercise without title, in twelve keys. Raises Unreadable."""
    bars = _without_empty(melody.bars, remarks)
    first = bars[0].meter
    if first is None:
        remarks.add("the file names no meter; 4/4 is taken")
        first = Meter(4, 4)
    bars = _joined(bars, first, remarks)
    _check_endings(bars, remarks)
    pickup = bars[0].length if len(bars) > 1 and bars[0].length < first.length else Fraction(0)
    if pickup and any(value.base < Fraction(1, _FINEST) for value in _values(pickup)):
        raise Unreadable("the pick-up has a length that the language cannot write", _CHANGE)
    _set_meters(bars, first, pickup, remarks)
    tempo = _set_tempos(bars, melody.spans, remarks)
    _group(bars, melody.spans, remarks)
    made = without_faults(_finished(bars), tempo, remarks)
    key = _key(melody, made, remarks)
    if not spelled:
        remarks.add(
            "the file has no names of notes; they are spelled by the key: look through the accidentals"
        )
        made = each_pitch(made, lambda pitch: _spelled(pitch, key))
    return Exercise(
        slug="",
        title="",
        home=_home(made, key),
        key=key,
        meter=first,
        tempo=tempo,
        forms=(Form("", made),),
        travel=KeySequence(),
        pickup=pickup,
    )


def _values(length: Fraction) -> tuple[Value, ...]:
    try:
        return values_for(length)
    except ValueError as error:
        raise Unreadable(f"a bar cannot be written: {error}", _CHANGE) from None


# -- bars -------------------------------------------------------------------------------------------------


def _without_empty(bars: Iterable[RawBar], remarks: Remarks) -> list[RawBar]:
    """The bars that hold anything; what an empty one says goes to its neighbours."""
    kept: list[RawBar] = []
    meter, tempo, opens = None, None, False
    for number, made in enumerate(bars, start=1):
        meter, tempo, opens = made.meter or meter, made.tempo or tempo, made.opens_repeat or opens
        if not made.events:
            remarks.add("nothing in the bar; left out", number)
            if kept and made.end != "|":
                kept[-1].end = made.end
            if kept:
                kept[-1].jump = kept[-1].jump or made.jump
            continue
        kept.append(replace(made, meter=meter, tempo=tempo, opens_repeat=opens))
        meter, tempo, opens = None, None, False
    return kept


def _joined(bars: list[RawBar], meter: Meter, remarks: Remarks) -> list[RawBar]:
    """The bars, where two that make up one (a line within the bar) are one."""
    result: list[RawBar] = []
    for number, made in enumerate(bars, start=1):
        before = result[-1] if result else None
        if (
            before is not None
            and len(result) > 1
            and made.meter is None
            and made.tempo is None
            and not (made.opens_repeat or made.sign or before.jump)
            and before.end != ":|"
            and before.ending == made.ending
            and before.length < meter.length
            and before.length + made.length == meter.length
        ):
            remarks.add("a bar line within the bar; left out", len(result))
            result[-1] = replace(before, events=before.events + made.events, end=made.end, jump=made.jump)
            continue
        meter = made.meter or meter
        result.append(made)
        if number < len(bars) and made.end == "|.":
            made.end = "||"
    return result


def _check_endings(bars: list[RawBar], remarks: Remarks) -> None:
    """Take out endings that are not a first one that repeats, followed by a second one."""
    runs: list[tuple[int, int, int]] = []
    for number, made in enumerate(bars):
        if runs and made.ending == runs[-1][0] and bars[number - 1].end != ":|":
            runs[-1] = (made.ending, runs[-1][1], number)
        else:
            runs.append((made.ending, number, number))
    good: set[int] = set()
    for index, (ending, first, last) in enumerate(runs[:-1]):
        after = runs[index + 1]
        if ending == 1 and bars[last].end == ":|" and after[0] == 2:
            good.update(range(first, after[2] + 1))
    for number, made in enumerate(bars):
        if made.ending and number not in good:
            remarks.add("an ending without its other one; its number is left out", number + 1)
            made.ending = 0


def _set_meters(bars: list[RawBar], first: Meter, pickup: Fraction, remarks: Remarks) -> None:
    """Give each bar the change of meter that it needs: the file's, or its own if it is incomplete."""
    meter = printed = first
    for number, made in enumerate(bars):
        meter = made.meter or meter
        last = number + 1 == len(bars)
        fits = made.length == (pickup if pickup and not number else meter.length) or (
            pickup > 0 and made.length == meter.length - pickup and (last or made.end != "|")
        )
        needed = meter if fits else _meter_of(made.length, meter, number + 1)
        if not fits:
            remarks.add("the bar does not fill its meter; it has a meter of its own here", number + 1)
        made.meter = needed if needed != printed else None
        printed = needed


def _meter_of(length: Fraction, near: Meter, bar: int) -> Meter:
    for unit in (max(near.unit, length.denominator), length.denominator):
        beats = length * unit
        if beats.denominator == 1 and 1 <= beats <= _MOST_BEATS and unit in (1, 2, 4, 8, 16, _FINEST):
            return Meter(int(beats), unit)
    what = f"bar {bar} lasts {length} of a whole note, which no meter of the language makes up"
    raise Unreadable(what, _CHANGE)


def _set_tempos(bars: list[RawBar], spans: Iterable[RawSpan], remarks: Remarks) -> Tempo:
    tempo = bars[0].tempo
    if tempo is None:
        tempo = _DEFAULT_TEMPO
        remarks.add("the file names no tempo; a quarter of 54 to 66 is taken")
    bars[0].tempo = None
    place = [number for number, made in enumerate(bars) for _ in made.events]
    goals = {place[span.last]: span.tempo for span in spans if span.tempo}
    now = goals.get(0, tempo)
    for number, made in enumerate(bars[1:], start=1):
        if made.tempo == now:
            made.tempo = None
        now = goals.get(number) or made.tempo or now
    return tempo


def _finished(bars: list[RawBar]) -> tuple[Bar, ...]:
    last = len(bars) - 1
    return tuple(
        Bar(
            tuple(made.events),
            "|." if number == last and made.end != ":|" else made.end,
            opens_repeat=made.opens_repeat,
            ending=made.ending,
            meter=made.meter,
            tempo=made.tempo,
            times=made.times,
            sign=made.sign,
            jump=made.jump,
        )
        for number, made in enumerate(bars)
    )


# -- groups -----------------------------------------------------------------------------------------------


def _group(bars: list[RawBar], spans: Iterable[RawSpan], remarks: Remarks) -> None:
    """Put tuplets, slurs and hairpins on the events. Groups of the language lie in one another or apart."""
    place = [number for number, made in enumerate(bars, start=1) for _ in made.events]
    kept = _ending_spans(bars)
    order = {TUPLET: 0, SLURRED: 1, LOUDER: 2, SOFTER: 2, RITARDANDO: 3, ACCELERANDO: 3}
    wanted = sorted(spans, key=lambda span: (order[span.kind], span.first, -span.last))
    for span in wanted:
        bar = place[span.first]
        hairpin = span.kind in (LOUDER, SOFTER)
        fitting = _shortened(span, kept) if hairpin else span
        if hairpin and fitting != span and fitting is not None:
            remarks.add("a hairpin is shortened, because it crosses another group", bar)
        if fitting is None or any(_cross(fitting, other) for other in kept) or _too_deep(fitting, kept):
            if span.kind == TUPLET:
                raise Unreadable(f"bar {bar} has tuplets that cross an ending", _CHANGE)
            what = "hairpin" if hairpin else span.kind
            remarks.add(f"a {what} that crosses another group; left out", bar)
            continue
        kept.append(fitting)
    events = [event for made in bars for event in made.events]
    # From the outermost inward: a span opened first closes last.
    for span in sorted(kept, key=lambda span: (span.first, -span.last)):
        _put(events, span)
    start = 0
    for made in bars:
        made.events = events[start : start + len(made.events)]
        start += len(made.events)


def _ending_spans(bars: list[RawBar]) -> list[RawSpan]:
    """The endings as spans over events; between a first and a second one there is a boundary."""
    found: list[RawSpan] = []
    count, before = 0, 0
    for made in bars:
        last = count + len(made.events) - 1
        if made.ending and made.ending == before:
            found[-1] = replace(found[-1], last=last)
        elif made.ending:
            found.append(RawSpan(_ENDING, count, last))
        before, count = made.ending, last + 1
    return found


def _cross(one: RawSpan, other: RawSpan) -> bool:
    """Whether two spans have events in common and neither can be written inside the other."""
    if other.kind == _ENDING and one.first <= other.last and other.first <= one.last:
        return one.first < other.first or other.last < one.last
    first, second = sorted((one, other), key=lambda span: (span.first, -span.last))
    return first.first < second.first <= first.last < second.last


def _too_deep(span: RawSpan, kept: list[RawSpan]) -> bool:
    """Whether hairpins would lie in one another, or more groups than the language nests."""
    hairpins = (LOUDER, SOFTER)
    around = [other for other in kept if other.first <= span.last and span.first <= other.last]
    if span.kind in hairpins and any(other.kind in hairpins for other in around):
        return True
    same = [other for other in around if other.kind == span.kind == SLURRED]
    return len(same) > 1 or any((other.first, other.last) == (span.first, span.last) for other in same)


def _shortened(span: RawSpan, kept: list[RawSpan]) -> RawSpan | None:
    """A hairpin without the events that make it cross another group or share a note with a hairpin."""
    for other in kept:
        hairpin = other.kind in (LOUDER, SOFTER)
        if _cross(span, other) or (hairpin and other.first <= span.last and span.first <= other.last):
            if other.first <= span.first:
                span = replace(span, first=other.last + 1)
            else:
                span = replace(span, last=other.first - 1)
            if span.first > span.last:
                return None
    return span


def _put(events: list[Event], span: RawSpan) -> None:
    first, last = span.first, span.last
    if span.kind in (TUPLET, SLURRED):
        assert span.kind != TUPLET or span.ratio
        mark = tuplet(*span.ratio) if span.kind == TUPLET and span.ratio else SLUR
        events[first] = replace(events[first], opens=(*events[first].opens, mark))
        events[last] = replace(events[last], closes=(mark, *events[last].closes))
    elif span.tempo:
        mark = Span(span.kind, tempo=span.tempo)
        events[first] = replace(events[first], opens=(*events[first].opens, mark))
        events[last] = replace(events[last], closes=(mark, *events[last].closes))
    elif span.kind != _ENDING:
        events[first] = events[first].with_dynamic_marks(DynamicMark(Fraction(0), span.kind))
        events[last] = events[last].with_dynamic_marks(DynamicMark(Fraction(1), HAIRPIN_END))


# -- the key ----------------------------------------------------------------------------------------------


def _key(melody: RawMelody, bars: tuple[Bar, ...], remarks: Remarks) -> Key:
    """The key by the signature and the mode; where no mode is named, by the last note."""
    fifths = melody.fifths or 0
    notes = [event.pitch for made in bars for event in made.events if event.pitch]
    if melody.mode == "none" and abs(notes[0].alter) <= 1:
        return Key(notes[0].letter, notes[0].alter, "")
    if abs(fifths) > 7:
        raise Unreadable(f"the key has {abs(fifths)} accidentals", "write it in a key of at most seven")
    mode = melody.mode if melody.mode in MODES else ""
    if melody.key_guessed:
        remarks.add(f"the file names no key; {_of(fifths, mode or 'major').name} is a guess from its notes")
    if not mode:
        minor = _of(fifths, "minor")
        mode = "minor" if notes[-1].pitch_class == minor.pitch_class else "major"
        said = _of(fifths, mode).name
        remarks.add(f"the file names no mode; {said} is taken from the signature and the last note")
    return _of(fifths, mode)


def _of(fifths: int, mode: str) -> Key:
    keys = (Key(letter, alter, mode) for letter in range(7) for alter in (-1, 0, 1))
    return next(key for key in keys if key.fifths == fifths)


def _home(bars: tuple[Bar, ...], key: Key) -> Pitch:
    """The tonic in the octave nearest to the last note."""
    last = [event.pitch for made in bars for event in made.events if event.pitch][-1]
    octaves = (Pitch(key.letter, key.alter, octave) for octave in range(10))
    return min(octaves, key=lambda pitch: (abs(pitch.midi - last.midi), pitch.midi))


_FIFTHS = (0, 2, 4, -1, 1, 3, 5)


def _spelled(pitch: Pitch, key: Key) -> Pitch:
    """A pitch by the name that lies nearest to the middle of the key's scale on the circle of fifths.

    Common practice, no source; in a tie (the raised seventh in minor) the sharp.
    """
    found = [
        Pitch(letter, alter, octave)
        for letter in range(7)
        for alter in (-1, 0, 1)
        for octave in (pitch.octave - 1, pitch.octave, pitch.octave + 1)
    ]
    same = [each for each in found if each.midi == pitch.midi]
    return min(
        same, key=lambda each: (abs(_FIFTHS[each.letter] + 7 * each.alter - key.fifths - 2), -each.alter)
    )
