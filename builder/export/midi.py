"""Writes a score as a MIDI file (Standard MIDI File, format 1), as it sounds.

The first track holds tempo, key and time signatures; then a track for each staff. The tempo is the middle of
the score's range. A fermata is a slower tempo while its note lasts, so that notes keep their printed lengths
and every staff waits.

A note's velocity is its loudest moment; a swell within it is drawn with controller 11 (expression), as a part
of the velocity. The same score gives the same bytes.
"""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO

from mido import Message, MetaMessage, MidiFile, MidiTrack

from ..music.accompaniment import sounding_chords
from ..music.event import LEVELS
from ..music.printed_words import CHORDS as CHORDS_TRACK
from ..music.score import Score
from ..music.sounding.dynamics import DynamicCurve
from ..music.sounding.performance import Performance, held_until, perform
from ..music.sounding.timing import UnfoldedEvent, clock, unfold
from ..music.winds.instruments import Instrument
from .programs import PIANO, program, staff_name, staff_program
from .velocity import FAINT, STRESS, velocity

TICKS = 3360
"""Ticks a quarter: 32 times 3, 5 and 7, so that triplets, fives and sevens of short notes are exact."""

MIDDLE = Fraction(1, 2)

_GLIDE = TICKS // 8
"""Ticks between two steps of a swell: a thirty-second note."""

_WHEEL, _WHEEL_SEMITONES = 8191, 2
"""The pitch wheel's farthest, and the semitones it bends there unless a file says otherwise (General MIDI,
from memory)."""

_EXPRESSION = 11
_FULL = 127

CHORDS = "pp"
"""The level at which chords are heard, below a melody at mf."""

_Timed = list[tuple[int, int, Message | MetaMessage]]
"""Messages with their time in ticks and, among those of one time, their rank."""

_MAJOR = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
_MINOR = ("Abm", "Ebm", "Bbm", "Fm", "Cm", "Gm", "Dm", "Am", "Em", "Bm", "F#m", "C#m", "G#m", "D#m", "A#m")


def midi(score: Score, title: str, instrument: Instrument, pace: Fraction = MIDDLE) -> bytes:
    """The file's bytes; `pace` from 0 (the slowest tempo of the range) to 1 (the fastest)."""
    # Text is UTF-8: the standard names no encoding, and titles are in any language.
    file = MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    file.tracks.append(_track(title, _conductor(score, instrument, pace)))
    # Block chords sound as the names do, softly on a piano.
    lines = [line for line in score.lines if not line.chords]
    performances = [perform(line, score.key) for line in lines]
    end = performances[0].end
    for number, (line, performance) in enumerate(zip(lines, performances, strict=True)):
        name = staff_name(score, line, instrument)
        sounds = staff_program(line, instrument) if number else program(instrument)
        if number and performance.end < end:
            performance = held_until(performance, end)
        messages = _words(performance.heard) + _played(performance, number, instrument.sounds)
        messages.append((0, 0, Message("program_change", channel=number, program=sounds - 1)))
        file.tracks.append(_track(name, messages))
    if score.chords:
        name = score.words.of(CHORDS_TRACK)
        file.tracks.append(_track(name, _chords(score, len(lines), instrument.sounds)))
    buffer = BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


def _ticks(time: Fraction) -> int:
    return round(time * 4 * TICKS)


def _track(name: str, messages: _Timed) -> MidiTrack:
    track = MidiTrack([MetaMessage("track_name", name=name, time=0)])
    now = 0
    for time, _, message in sorted(messages, key=lambda row: row[:2]):
        message.time = time - now
        track.append(message)
        now = time
    track.append(MetaMessage("end_of_track", time=0))
    return track


def sounding_fifths(fifths: int, semitones: int) -> int:
    """The signature of a key moved by semitones, with at most seven accidentals and mostly six."""
    moved = fifths + (semitones * 7 + 5) % 12 - 5
    return moved - 12 * (moved > 7) + 12 * (moved < -7)


def _conductor(score: Score, instrument: Instrument, pace: Fraction) -> _Timed:
    key = score.key
    fifths = sounding_fifths(key.fifths, instrument.sounds) if key.mode else 0
    names = _MINOR if key.mode in ("minor", "aeolian") else _MAJOR
    rows: _Timed = [(0, 0, MetaMessage("key_signature", key=names[fifths + 7]))]
    for stretch in clock(score, pace).stretches:
        tempo = round(stretch.seconds_a_whole / 4 * 1_000_000)
        rows.append((_ticks(stretch.start), 2, MetaMessage("set_tempo", tempo=tempo)))
    return rows + _meters(score)


def _meters(score: Score) -> _Timed:
    """Time signatures in the order they are heard; a bar that is not full, such as a pick-up, has its own.

    There are none in free time.
    """
    if score.meter.is_free:
        return []
    printed = score.meter
    meters = []
    for bar in score.line.bars:
        printed = bar.meter or printed
        units = bar.length * printed.unit
        meters.append((int(units), printed.unit) if units.denominator == 1 else (printed.beats, printed.unit))
    rows: _Timed = []
    before: tuple[int, int] | None = None
    for item in unfold(score.line):
        meter = meters[item.bar]
        if item.place == 0 and meter != before:
            beats, unit = before = meter
            signature = MetaMessage("time_signature", numerator=beats, denominator=unit)
            rows.append((_ticks(item.start), 1, signature))
    return rows


def _words(items: tuple[UnfoldedEvent, ...]) -> _Timed:
    """Words on the staff, and syllables as lyrics."""
    rows: _Timed = []
    for item in items:
        texts = [MetaMessage("text", text=text) for text in (item.event.above, item.event.below) if text]
        if item.event.syllable:
            texts.append(MetaMessage("lyrics", text=item.event.syllable))
        rows += [(_ticks(item.start), 1, text) for text in texts]
    return rows


def _played(performance: Performance, channel: int, sounds: int) -> _Timed:
    rows: _Timed = []
    curve = performance.dynamics
    expression = _FULL
    for performed in performance.notes:
        start, end = _ticks(performed.start), _ticks(performed.end)
        levels = tuple(map(velocity, curve.over(performed.start, performed.end)))
        for time, value in _swell(curve, start, end, levels):
            if value != expression:
                change = Message("control_change", channel=channel, control=_EXPRESSION, value=value)
                rows.append((time, 3, change))
                expression = value
        stress = STRESS[performed.accent] - FAINT * performed.faint
        loudest = max(1, min(_FULL, round(max(levels)) + stress))
        note = performed.pitch.midi + sounds
        on = Message("note_on", channel=channel, note=note, velocity=loudest)
        off = Message("note_off", channel=channel, note=note, velocity=0)
        # At one time: what ends comes before what begins, and a swell's first step before its note.
        rows += [(start, 4, on), (end, 0, off)]
        if performed.bend:
            rows += _bend(start, end, channel, performed.bend)
    return rows


def _bend(start: int, end: int, channel: int, semitones: int) -> _Timed:
    """The pitch wheel from the middle of a note to its end, and back to rest before what comes next."""
    middle = (start + end) // 2
    steps = range(middle, end, _GLIDE)
    whole = _WHEEL * semitones / _WHEEL_SEMITONES
    rows = [(time, round(whole * (time - middle) / (end - middle))) for time in steps]
    return [
        *((time, 3, Message("pitchwheel", channel=channel, pitch=pitch)) for time, pitch in rows),
        (end, 1, Message("pitchwheel", channel=channel, pitch=0)),
    ]


def _chords(score: Score, channel: int, sounds: int) -> _Timed:
    """Chords on a piano, softly."""
    rows: _Timed = [(0, 0, Message("program_change", channel=channel, program=PIANO - 1))]
    loud = round(velocity(LEVELS.index(CHORDS)))
    for sounding in sounding_chords(score):
        for note in sounding.sounding(sounds):
            on = Message("note_on", channel=channel, note=note, velocity=loud)
            off = Message("note_off", channel=channel, note=note, velocity=0)
            rows += [(_ticks(sounding.start), 4, on), (_ticks(sounding.end), 0, off)]
    return rows


def _swell(curve: DynamicCurve, start: int, end: int, levels: tuple[float, ...]) -> list[tuple[int, int]]:
    """Expression during a note, relative to its loudest moment.

    The first tick may lie before the note itself, where the curve is higher still.
    """
    loudest = max(levels)
    if loudest == min(levels):
        return [(start, _FULL)]
    return [
        (time, min(_FULL, round(_FULL * velocity(curve.at(Fraction(time, 4 * TICKS))) / loudest)))
        for time in range(start, end, _GLIDE)
    ]
