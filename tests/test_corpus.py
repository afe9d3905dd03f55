"""A thousand traditional melodies in all twelve keys, by the project and by music21, note by note.

An everyday run compares one of six of them; a run of the tests marked `exhaustive` compares all.

The melodies are the dance tunes and airs that music21 carries from three printed collections: James Aird's
"Selection of Scotch, English, Irish and Foreign Airs" (1782 to 1801), "Ryan's Mammoth Collection" (1883)
and Francis O'Neill's "Music of Ireland" (1903). All are traditional or by composers dead for more than a
century, in print for more than a century, and so in the public domain; nothing of the encodings is copied
here. music21's large collection of folk songs is left out, because its licence says that its legal status
is unclear.

music21 reads the melodies and transposes them by the interval from tonic to tonic. Where the project
differs, the difference must be one of the rules stated in builder/music/settings/transpositions.py:

- the signature with the fewest accidentals, and in a tie the one with fewer double accidentals, then sharps;
- no double accidental where the home key has none, but for a leading note's, and where that mixes sharps and
  flats in a chromatic run, the run spelled by its direction; never a triple accidental;
- whole octaves, to stay within the instrument's range; where none holds the melody, it says so.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache, cached_property
from pathlib import Path

import pytest
from conftest import sweep
from music21 import abcFormat, corpus
from music21 import interval as m21_interval
from music21 import key as m21_key
from music21 import pitch as m21_pitch

from stavewright.music.event import Event, Tempo, Value
from stavewright.music.exercise import RISING, Exercise, Form, KeySequence
from stavewright.music.keys import MODES, Key
from stavewright.music.pitch import LETTERS, Pitch
from stavewright.music.score import Bar, Meter
from stavewright.music.settings.transpositions import Setting, settings_of
from stavewright.music.winds.instruments import FLUTE

EVERY = 4
"""One tune in so many is compared: 4 gives a thousand melodies of all three collections, 1 every one."""

SAMPLE = 24
"""The same for an everyday run, which has the melodies of RARE besides."""

RARE = frozenset(
    {
        "airdsAirs/book2.abc 0205",
        "airdsAirs/book3.abc 0473",
        "ryansMammoth/BlodgettsReel.abc 1",
        "ryansMammoth/NicodemusJohnsons.abc 1",
    }
)
"""The first of the thousand melodies that meet a rule which no other of their collection's sample meets."""

HOW_MANY = pytest.mark.parametrize(
    "every", [SAMPLE, pytest.param(EVERY, marks=pytest.mark.exhaustive)], ids=["sample", "thousand"]
)

COLLECTIONS = {
    "airdsAirs": ("signature", "leading", "double", "octave"),
    "oneills1850": ("signature", "leading", "double", "octave", "too wide"),
    "ryansMammoth": ("signature", "leading", "double", "octave", "too wide", "run"),
}
"""The collections, each with the rules that its melodies must meet."""
A6 = Pitch.parse("A6")
PLAYER = replace(FLUTE, compass=replace(FLUTE.compass, easy_high=A6))
QUARTER = Value(Fraction(1, 4))


@dataclass(frozen=True, slots=True)
class Note:
    """A pitch as music21 says it is, asked once: its properties take music21 long to work out.

    `alter` and `ps` are in semitones, `ps` as in MIDI; `number` counts letters, that of C0 is 1.
    """

    name: str
    letter: str
    alter: float
    octave: int
    ps: float
    number: int

    @property
    def without_octave(self) -> str:
        """Its letter and accidental, as music21 writes them."""
        return self.name.rstrip("0123456789")


def note_of(pitch: m21_pitch.Pitch) -> Note:
    """What music21 says of a pitch; one without an octave is in its implicit one."""
    octave = pitch.implicitOctave
    name = f"{pitch.name}{octave}"
    return Note(name, pitch.step, pitch.alter, octave, pitch.ps, pitch.diatonicNoteNum)


@cache
def note_named(name: str) -> Note:
    """A pitch by its name as music21 writes it, octave included."""
    return note_of(m21_pitch.Pitch(name))


@dataclass(frozen=True)
class Melody:
    """A melody as music21 reads it: bars of (pitch, or None for a rest; length in whole notes)."""

    name: str
    tonic: Note
    mode: str
    bars: tuple[tuple[tuple[Note | None, Fraction], ...], ...]

    @cached_property
    def pitches(self) -> list[Note]:
        """Its pitches in order."""
        return [pitch for bar in self.bars for pitch, _ in bar if pitch is not None]


def tunes_in(path: Path) -> Iterator[tuple[str, str]]:
    """The text of every tune of a file, by a name that says where it is."""
    parts = re.split(r"^(?=X:)", path.read_text(encoding="utf-8", errors="replace"), flags=re.MULTILINE)
    for part in parts:
        if part.startswith("X:"):
            number = part.split("\n", 1)[0].removeprefix("X:").strip()
            yield f"{path.parent.name}/{path.name} {number}", part


@cache
def tonic_of(sharps: int, mode: str) -> Note:
    """The tonic of a key by its signature, in the octave from middle C."""
    return note_of(m21_key.KeySignature(sharps).asKey(mode).tonic)


def melody_of(name: str, text: str) -> Melody | None:
    """A tune's melody without its grace notes; None where it changes key, names no mode, or has chords."""
    tune = abcFormat.ABCFile().readstr(text)
    heads = [token for token in tune.tokens if isinstance(token, abcFormat.ABCMetadata) and token.isKey()]
    if not heads or len({head.getKeySignatureParameters() for head in heads}) != 1:
        return None
    sharps, mode = heads[0].getKeySignatureParameters()
    if mode not in MODES or any(isinstance(token, abcFormat.ABCChord) for token in tune.tokens):
        return None
    bars: list[list[tuple[Note | None, Fraction]]] = [[]]
    for token in tune.tokens:
        if isinstance(token, abcFormat.ABCBar):
            bars.append([])
        elif isinstance(token, abcFormat.ABCNote) and not token.inGrace and token.quarterLength:
            pitch = None if token.isRest else note_named(token.pitchName)
            bars[-1].append((pitch, Fraction(token.quarterLength) / 4))
    found = tuple(tuple(bar) for bar in bars if bar)
    melody = Melody(name, tonic_of(sharps, mode), mode, found)
    return melody if len(melody.pitches) > 8 else None


@cache
def melodies_of(collection: str, every: int) -> tuple[Melody, ...]:
    """Melodies of a collection: one tune in so many, counted through all three."""
    root = Path(corpus.__file__).parent
    paths = [path for name in COLLECTIONS for path in sorted((root / name).glob("*.abc"))]
    every_tune = [tune for path in paths for tune in tunes_in(path)]
    added = RARE if every == SAMPLE else frozenset()
    tunes = [tune for n, tune in enumerate(every_tune) if n % every == 0 or tune[0] in added]
    own = (tune for tune in tunes if tune[0].startswith(f"{collection}/"))
    return tuple(melody for name, text in own if (melody := melody_of(name, text)))


def spread(every: int) -> tuple[Melody, ...]:
    """Melodies of all three collections: one tune in so many."""
    return tuple(melody for name in COLLECTIONS for melody in melodies_of(name, every))


# -- the project's side ---------------------------------------------------------------------------------


@cache
def ours(pitch: Note) -> Pitch:
    """A pitch read by music21 as one of the project's."""
    return Pitch(LETTERS.index(pitch.letter), int(pitch.alter), pitch.octave)


def exercise_of(melody: Melody, keep_doubles: bool = False) -> Exercise:
    """A melody as an exercise that goes up through the twelve keys."""
    bars = tuple(
        Bar(
            tuple(
                # One event a note, of the melody's length; how it would be printed is no matter here.
                Event(None if pitch is None else ours(pitch), Value(Fraction(1), scale=length))
                for pitch, length in bar
            )
        )
        for bar in melody.bars
    )
    home = ours(melody.tonic)
    return Exercise(
        slug="melody",
        title=melody.name,
        home=home,
        key=Key(home.letter, home.alter, melody.mode),
        meter=Meter(4, 4),
        tempo=Tempo(QUARTER, 60, 60),
        forms=(Form("", bars),),
        travel=KeySequence(step=1, directions=(RISING,)),
        keep_doubles=keep_doubles,
    )


def written(setting: Setting) -> list[Pitch]:
    """A setting's pitches in order."""
    return [event.pitch for bar in setting.bars for event in bar.events if event.pitch is not None]


# -- music21's side -------------------------------------------------------------------------------------

TONICS = [m21_pitch.Pitch(step + sign) for step in LETTERS for sign in ("-", "", "#")]


@cache
def signatures(pitch_class: int, mode: str) -> dict[str, int]:
    """Every tonic on a pitch class by name, with the sharps (flats negative) of its signature, at most 7."""
    found = {}
    for tonic in TONICS:
        sharps = m21_key.Key(tonic, mode).sharps
        if tonic.pitchClass == pitch_class and abs(sharps) <= 7:
            found[tonic.name] = sharps
    return found


@cache
def signature_of(tonic: str, mode: str) -> dict[int, int]:
    """What a key does to each letter, 0 being C."""
    pitches = m21_key.Key(tonic, mode).getPitches()
    return {LETTERS.index(pitch.step): int(pitch.alter) for pitch in pitches}


@cache
def unheeding(tonic: str, mode: str, semitones: int) -> m21_key.Key:
    """music21's own choice of a key so many semitones higher, without regard to its signature."""
    found = m21_key.Key(tonic, mode).transpose(m21_interval.Interval(semitones))
    assert isinstance(found, m21_key.Key)
    return found


@cache
def tonic_to_tonic(old: str, new: str, semitones: int) -> m21_interval.Interval:
    """The interval from a tonic to another so many semitones above it."""
    low, high = m21_pitch.Pitch(old, octave=4), m21_pitch.Pitch(new, octave=4)
    high.octave = 4 + round((low.ps + semitones - high.ps) / 12)
    found = m21_interval.Interval(low, high)
    assert found.semitones == semitones
    return found


@cache
def moved(pitch: str, old: str, new: str, semitones: int) -> Note:
    """A pitch transposed by music21 from tonic to tonic."""
    interval = tonic_to_tonic(old, new, semitones)
    found = interval.transposePitch(m21_pitch.Pitch(pitch), maxAccidental=None)
    assert isinstance(found, m21_pitch.Pitch)
    return note_of(found)


def by_music21(melody: Melody, tonic: str, semitones: int) -> list[Note]:
    """The whole melody transposed to a tonic."""
    old = melody.tonic.without_octave
    return [moved(pitch.name, old, tonic, semitones) for pitch in melody.pitches]


def doubles(pitches: list[Note]) -> int:
    """How many of the pitches carry a double accidental."""
    return sum(abs(pitch.alter) > 1 for pitch in pitches)


def expected_tonics(melody: Melody, semitones: int) -> set[str]:
    """The tonic that the rule of signatures asks for, worked out from music21's keys and pitches."""
    found = signatures(int(melody.tonic.ps + semitones) % 12, melody.mode)
    fewest = min(map(abs, found.values()))
    tied = {name: sharps for name, sharps in found.items() if abs(sharps) == fewest}
    cost = {name: (doubles(by_music21(melody, name, semitones)), -sharps) for name, sharps in tied.items()}
    return {name for name in tied if cost[name] == min(cost.values())}


def possible_shifts(pitches: list[Note]) -> list[int]:
    """Octaves to move so that all is within the instrument; those within its easy part alone, if any are."""
    low, high = min(pitch.ps for pitch in pitches), max(pitch.ps for pitch in pitches)
    compass = PLAYER.compass
    inside: dict[bool, list[int]] = {True: [], False: []}
    for shift in range(-5, 6):
        bottom, top = low + 12 * shift, high + 12 * shift
        if compass.low.midi <= bottom and top <= compass.high.midi:
            easy = compass.easy_low.midi <= bottom and top <= compass.easy_high.midi
            inside[easy].append(shift)
    return inside[True] or inside[False]


@cache
def degree(tonic: str, pitch: str) -> str:
    """The interval from a tonic up to a pitch within an octave, both without their octaves: M7, m2 ..."""
    low, high = m21_pitch.Pitch(tonic, octave=4), m21_pitch.Pitch(pitch, octave=6)
    return str(m21_interval.Interval(low, high).simpleName)


@cache
def way(low: str, high: str) -> str:
    """The interval from one pitch to another, with its direction: m2, A1, m-2 ..."""
    return str(m21_interval.Interval(m21_pitch.Pitch(low), m21_pitch.Pitch(high)).directedName)


def leading_notes(pitches: list[Note], tonic: str) -> set[int]:
    """Which double sharps, by number, lead: a seventh or sixth step raised, or a note to the letter above.

    The notes before and after are the nearest that differ. What comes from its own letter is passed through.
    """
    found = set()
    for number, pitch in enumerate(pitches):
        if pitch.alter != 2:
            continue
        after = next((p for p in pitches[number:] if p != pitch), None)
        before = next((p for p in reversed(pitches[:number]) if p != pitch), None)
        up = after is not None and way(pitch.name, after.name) == "m2"
        passed = before is not None and way(before.name, pitch.name) == "A1"
        if degree(tonic, pitch.without_octave) in ("M7", "M6") or (up and not passed):
            found.add(number)
    return found


def shape(bar: Bar) -> list[tuple[bool, Value]]:
    """A bar without its pitches: for each event, whether it is a note, and its length."""
    return [(event.pitch is not None, event.value) for event in bar.events]


@dataclass(frozen=True)
class Run:
    """Notes of a melody, by number, that go four or more in a row by semitone in one direction."""

    notes: range
    rising: bool


def runs_in(melody: Melody) -> list[Run]:
    """The chromatic runs of a melody, which a rest breaks."""
    found: list[Run] = []
    line = [pitch for bar in melody.bars for pitch, _ in bar]
    number, start, way = 0, 0, 0
    for before, here in zip([None, *line], [*line, None], strict=True):
        step = int(here.ps - before.ps) if here and before else 0
        if step != way or abs(step) != 1:
            if way and number - start >= 4:
                found.append(Run(range(start, number), way > 0))
            start, way = (number - 1, step) if abs(step) == 1 else (number, 0)
        number += here is not None
    return found


def mixed(pitches: list[Note]) -> bool:
    """Whether sharps and flats stand together."""
    return min(pitch.alter for pitch in pitches) < 0 < max(pitch.alter for pitch in pitches)


@cache
def simple(pitch: Note) -> Note:
    """The pitch, or the plain name of its sound where it has a double accidental."""
    return pitch if abs(pitch.alter) <= 1 else note_of(m21_pitch.Pitch(pitch.name).simplifyEnharmonic())


@cache
def m21_name(pitch: Pitch) -> str:
    """A pitch of the project's as music21 writes its name, octave included."""
    return m21_pitch.Pitch(
        step=LETTERS[pitch.letter], accidental=pitch.alter or None, octave=pitch.octave
    ).nameWithOctave


def differences(melody: Melody, keep_doubles: bool) -> Counter[str]:
    """Compare all twelve keys of a melody; fail on a difference that no rule explains, count the others."""
    rules: Counter[str] = Counter()
    kept = keep_doubles or doubles(melody.pitches) > 0
    runs = runs_in(melody)
    exercise = exercise_of(melody, keep_doubles)
    shapes = [shape(bar) for bar in exercise.forms[0].bars]
    found = settings_of(exercise, PLAYER)
    compass = PLAYER.compass
    tones = [pitch.ps for pitch in melody.pitches]
    well = any(
        compass.easy_low.midi <= min(tones) + n and max(tones) + n <= compass.easy_high.midi
        for n in range(12)
    )
    assert len(found) == 12, melody.name
    for semitones, setting in enumerate(found):
        where = f"{melody.name}, up {semitones} semitones"
        tonic = m21_name(Pitch(setting.key.letter, setting.key.alter, 4)).rstrip("4")
        assert tonic in expected_tonics(melody, semitones), where
        plain = unheeding(melody.tonic.without_octave, melody.mode, semitones)
        assert abs(setting.key.fifths) <= abs(plain.sharps), where
        signature = signature_of(tonic, melody.mode)
        rules["signature"] += plain.tonic.name != tonic
        theirs = by_music21(melody, tonic, semitones)
        shifts = possible_shifts(theirs)
        assert setting.fits == bool(shifts), where
        if shifts:
            assert setting.shift in shifts, where
            if well:  # the line of travel itself lies well, so nothing moves further than it must
                assert abs(setting.shift) == min(map(abs, shifts)), where
        rules["octave"] += setting.shift != 0
        rules["too wide"] += not setting.fits
        notes = written(setting)
        assert len(notes) == len(theirs), where
        leading = leading_notes(theirs, tonic)
        tidied = [
            run
            for run in runs
            if not kept and mixed([theirs[n] if n in leading else simple(theirs[n]) for n in run.notes])
        ]
        for number, (note, original, other) in enumerate(zip(notes, tones, theirs, strict=True)):
            note = note.octaves(-setting.shift)
            assert note.midi == original + semitones == other.ps, where
            if m21_name(note) == other.name:
                assert kept or abs(other.alter) <= 1 or number in leading, where
                rules["leading"] += not kept and abs(other.alter) > 1
                continue
            # Three rules change a note's letter, all to its neighbour's, and none to a double accidental.
            assert abs(note.alter) <= 1, where
            assert abs(note.step + 1 - other.number) == 1, where
            inside = [run for run in tidied if number in run.notes]
            if inside:
                # Within the run, what the key has not is raised on the way up and lowered on the way down.
                change = note.alter - signature[note.letter]
                assert change == 0 or (change > 0) in {run.rising for run in inside}, where
                rules["run"] += 1
            elif kept:
                assert abs(other.alter) > 2, where
                rules["triple"] += 1
            else:
                assert abs(other.alter) > 1 and number not in leading, where
                rules["double"] += 1
        # Everything but the pitches is as it was: the rests, the lengths, the bars.
        assert [shape(bar) for bar in setting.bars] == shapes, where
    return rules


@HOW_MANY
def test_the_melodies_are_as_many_and_as_various_as_claimed(every: int) -> None:
    melodies = spread(every)
    assert len({melody.name for melody in melodies}) == len(melodies) >= 1000 * EVERY / every
    assert {melody.mode for melody in melodies} >= {"major", "minor", "dorian", "mixolydian"}
    assert len({melody.tonic.without_octave for melody in melodies}) >= 7


@HOW_MANY
@sweep("collection", COLLECTIONS, every_day=1)
def test_every_melody_in_every_key_note_by_note(collection: str, every: int) -> None:
    rules: Counter[str] = Counter()
    for melody in melodies_of(collection, every):
        rules += differences(melody, keep_doubles=False)
    # Each rule was met in one of them; a rule that never applies has not been tested.
    assert min(rules[rule] for rule in COLLECTIONS[collection]) > 0


@HOW_MANY
def test_with_double_accidentals_kept_every_letter_is_the_same(every: int) -> None:
    chromatic = [
        melody for melody in spread(every) if len({pitch.without_octave for pitch in melody.pitches}) > 8
    ]
    assert len(chromatic) >= 20 * EVERY / every
    rules: Counter[str] = Counter()
    for melody in chromatic:
        rules += differences(melody, keep_doubles=True)
    assert rules["double"] == rules["run"] == 0
    # What the rule is for is rare: a note already doubly raised where its melody stands.
    assert rules["triple"] < 50
