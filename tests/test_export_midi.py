"""MIDI files: what is heard, compared with music21's playing out of the page, and the rules by example."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from io import BytesIO
from pathlib import Path
from random import Random

import pytest
from conftest import examples
from hypothesis import given
from hypothesis import strategies as st
from made_scores import in_music21, made_score, varied_score, without_ladder
from mido import MidiFile

from stavewright.book.pieces import AS_WRITTEN, instrument_books_of
from stavewright.book.read import open_book
from stavewright.export.midi import TICKS, midi
from stavewright.export.programs import program
from stavewright.export.velocity import velocity
from stavewright.language.read import read
from stavewright.music.event import LEVELS
from stavewright.music.score import Score, Staff
from stavewright.music.settings.transpositions import settings_of as all_settings
from stavewright.music.sounding.performance import perform
from stavewright.music.sounding.timing import FASTEST, SLOWEST, clock
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS, Instrument
from stavewright.variations import variations

BOOK = Path(__file__).parent.parent
Rows = list[tuple[Fraction, Fraction, int]]


def written(music: str, fields: str = "tempo: quarter = 60\n") -> Score:
    """The score of a few words of music in D major."""
    reading = read(
        "example.warmup", f"title: Example\nhome: D5 in D major\n{fields}music:\n  {music}\n".encode()
    )
    assert reading.exercise is not None, reading.faults
    return all_settings(reading.exercise, FLUTE)[0].score()


def opened(data: bytes) -> MidiFile:
    return MidiFile(file=BytesIO(data), charset="utf-8")


def played(file: MidiFile, track: int) -> Rows:
    """A track's notes as mido reads them: start and length in whole notes, and the note's number."""
    now, found, sounding = 0, [], {}
    for message in file.tracks[track]:
        now += message.time
        if message.type == "note_on" and message.velocity:
            assert message.note not in sounding, "a note begins while it still sounds"
            sounding[message.note] = now
        elif message.type in ("note_off", "note_on"):
            start = sounding.pop(message.note)
            found.append((Fraction(start, 4 * TICKS), Fraction(now - start, 4 * TICKS), message.note))
    assert not sounding
    return sorted(found)


def in_seconds(file: MidiFile, track: int) -> list[tuple[float, float]]:
    """Start and length in seconds of a track's notes, by mido's reading of the tempo track."""
    both = MidiFile(type=1, ticks_per_beat=file.ticks_per_beat)
    both.tracks = [file.tracks[0], file.tracks[track]]
    now, found, sounding = 0.0, [], {}
    for message in both:
        now += message.time
        if message.type == "note_on":
            sounding[message.note] = now
        elif message.type == "note_off":
            found.append((sounding[message.note], now - sounding.pop(message.note)))
    return sorted(found)


def music21_plays(score: Score, line: Staff, sounds: int) -> Rows:
    """What music21 makes of the page: repeats expanded, ties joined, then shortened by the stated table."""
    part = in_music21(replace(score, lines=(line,)))
    rows: Rows = []
    joined = False
    for sound in part.flatten().notesAndRests:
        if sound.isRest:
            joined = False
            continue
        length = Fraction(sound.quarterLength) / 4
        start = Fraction(sound.offset) / 4
        name = sound.pitch.midi + sounds
        if joined and rows[-1][2] == name:
            rows[-1] = (rows[-1][0], start + length - rows[-1][0], name)
        else:
            rows.append((start, length, name))
        joined = sound.tie is not None
        silent = Fraction(0)
        for sign in sound.articulations:
            kind = type(sign).__name__
            silent = max(silent, {"Staccato": length / 2, "DetachedLegato": length / 4}.get(kind, silent))
            if kind == "BreathMark":
                silent = max(silent, min(length / 4, Fraction(1, 16)))
        rows[-1] = (rows[-1][0], rows[-1][1] - silent, name)
    return rows


def near(ours: Rows, theirs: Rows) -> bool:
    """The same notes, at most a tick apart where a tuplet falls between ticks."""
    tick = Fraction(1, 4 * TICKS)
    assert [note for _, _, note in ours] == [note for _, _, note in theirs]
    for our, their in zip(ours, theirs, strict=True):
        assert abs(our[0] - their[0]) <= tick
        assert abs(our[1] - their[1]) <= 2 * tick
    return True


def compare(score: Score, instrument: Instrument) -> None:
    file = opened(midi(score, "Example", instrument))
    assert len(file.tracks) == 1 + len(score.lines)
    for number, line in enumerate(score.lines, start=1):
        assert near(played(file, number), music21_plays(score, line, instrument.sounds))


def book_scores() -> Iterator[tuple[str, Score, Instrument]]:
    """Every setting of the demo book as written, and every variation in one setting of each exercise."""
    seen = set()
    for instrument_book in instrument_books_of(open_book(BOOK)):
        for _, pages in instrument_book.exercises:
            for page in pages:
                for placed in page.placed:
                    for part in placed.parts:
                        exercise, *_, variation = part.name.split(", ")
                        wanted = variation == AS_WRITTEN or (exercise, variation) not in seen
                        if part.score and wanted:
                            seen.add((exercise, variation))
                            yield part.name, part.score, instrument_book.instrument


@examples(30)
@given(st.integers(0, 10**9), st.sampled_from(sorted(INSTRUMENTS)))
def test_made_scores_sound_as_music21_plays_them(seed: int, slug: str) -> None:
    compare(made_score(Random(seed), plain=True), INSTRUMENTS[slug])


@pytest.mark.parametrize("name", sorted(variations()))
def test_every_variation_sounds_as_music21_plays_it(name: str) -> None:
    compare(without_ladder(varied_score(name, plain=True)), FLUTE)


@pytest.mark.exhaustive
def test_the_demo_book_sounds_as_music21_plays_it() -> None:
    count = 0
    for _, score, instrument in book_scores():
        compare(without_ladder(score), instrument)
        count += 1
    assert count > 100


@examples(10)
@given(st.integers(0, 10**9))
def test_music21_opens_the_file_and_finds_the_same_notes(seed: int) -> None:
    """Pitches, starts and lengths through music21's own reading of MIDI."""
    from music21 import converter

    score = made_score(Random(seed), plain=True)
    data = midi(score, "Example", FLUTE)
    found = converter.parseData(data, format="midi", quantizePost=False)
    theirs: Rows = []
    for part in found.parts:
        whole = part.stripTies().flatten()
        theirs += [(Fraction(n.offset) / 4, Fraction(n.quarterLength) / 4, n.pitch.midi) for n in whole.notes]
    file = opened(data)
    ours = [row for track in range(1, len(file.tracks)) for row in played(file, track)]
    assert near(sorted(ours), sorted(theirs))


@examples(20)
@given(st.integers(0, 10**9))
def test_the_file_lasts_as_long_as_the_page_says(seed: int) -> None:
    """By mido's own count of tempo changes, fermatas among them; tempos are whole microseconds a quarter."""
    score = made_score(Random(seed), plain=True)
    for pace in (SLOWEST, Fraction(1, 2), FASTEST):
        rows = in_seconds(opened(midi(score, "Example", FLUTE, pace)), 1)
        time = clock(score, pace)
        wanted = [
            (float(time.seconds(tone.start)), float(time.seconds(tone.end) - time.seconds(tone.start)))
            for tone in perform(score.line, score.key).notes
        ]
        for ours, theirs in zip(rows, sorted(wanted), strict=True):
            assert ours == pytest.approx(theirs, abs=2e-3)


@pytest.mark.parametrize(
    ("music", "rows"),
    [
        ("q D5 staccato E5 h F#5", [(0, "1/8", 74), ("1/4", "1/4", 76), ("1/2", "1/2", 78)]),
        ("h D5 portato E5", [(0, "3/8", 74), ("1/2", "1/2", 76)]),
        ("h D5 , E5", [(0, "7/16", 74), ("1/2", "1/2", 76)]),
        ("q D5 , h. E5", [(0, "3/16", 74), ("1/4", "3/4", 76)]),
        ("h D5 tie D5 | w E5", [(0, 1, 74), (1, 1, 76)]),
        ("h D5 grace( C#5 ) E5", [(0, "15/32", 74), ("15/32", "1/32", 73), ("1/2", "1/2", 76)]),
        ("grace( C#5 E5 ) w D5", [(0, "1/32", 73), ("1/32", "1/32", 76), ("1/16", "15/16", 74)]),
        ("h rest grace( C#5 ) D5", [("15/32", "1/32", 73), ("1/2", "1/2", 74)]),
        ("h. rest s D5 grace( C#5 E5 F#5 G5 ) e. E5", None),
    ],
)
def test_what_sounds(music: str, rows: list[tuple[int | str, int | str, int]] | None) -> None:
    """Counted by hand, by the rules in playing.py."""
    found = played(opened(midi(written(music), "Example", FLUTE)), 1)
    if rows is not None:
        assert found == [(Fraction(start), Fraction(length), note) for start, length, note in rows]
    else:
        # Four grace notes find room in half of a sixteenth.
        assert [note for _, _, note in found] == [74, 73, 76, 78, 79, 76]
        assert found[0][1] == Fraction(1, 32)
        assert found[1][1] == Fraction(1, 128)


def test_a_trill_alternates_with_the_next_note_of_the_key() -> None:
    """In D major: F sharp and G; begun and ended on the written note, and as long as it is written."""
    found = played(opened(midi(written("h F#5 trill D5"), "Example", FLUTE)), 1)
    notes = [note for _, _, note in found]
    assert notes[:-1] == [78, 79] * 7 + [78]
    assert found[-2][0] + found[-2][1] == Fraction(1, 2)
    assert notes[-1] == 74


def messages(data: bytes, track: int, kind: str) -> list[tuple[int, object]]:
    """A track's messages of one kind, with their time in ticks."""
    now, found = 0, []
    for message in opened(data).tracks[track]:
        now += message.time
        if message.type == kind:
            found.append((now, message))
    return found


def velocities(score: Score) -> list[int]:
    return [message.velocity for _, message in messages(midi(score, "Example", FLUTE), 1, "note_on")]  # type: ignore[attr-defined]


def test_printed_levels_are_velocities() -> None:
    assert velocities(written("h D5 E5 p | D5 E5 fff | w D5 pp")) == [80, 48, 48, 127, 32]
    assert [velocity(step) for step in range(len(LEVELS))] == [16, 32, 48, 64, 80, 96, 112, 127]
    assert velocities(written("h D5 accent E5 marcato | w D5 fff accent")) == [96, 104, 127]


def test_a_hairpin_goes_evenly_from_level_to_level() -> None:
    """Four quarters from p (48) to f (96): a note is as loud as its loudest moment, here its end."""
    assert velocities(written("louder( q D5 p E5 F#5 G5 ) | w D5 f")) == [60, 72, 84, 96, 96]
    assert velocities(written("softer( q D5 f E5 F#5 G5 ) | w D5 p")) == [96, 84, 72, 60, 48]


def test_a_hairpin_without_a_level_goes_two_levels() -> None:
    """mf to ff, and a level that lies the other way comes after it."""
    assert velocities(written("louder( h D5 E5 ) | w D5")) == [96, 112, 112]
    assert velocities(written("louder( h D5 E5 ) | w D5 p")) == [96, 112, 48]


def test_a_swell_within_a_note_is_drawn_by_expression() -> None:
    """From p (48) to f (96) over a whole note: it begins with half of its loudest."""
    data = midi(written("louder( w D5 p ) | w E5 f"), "Example", FLUTE)
    rows = [(time, m.value) for time, m in messages(data, 1, "control_change") if m.control == 11]  # type: ignore[attr-defined]
    assert velocities(written("louder( w D5 p ) | w E5 f")) == [96, 96]
    assert rows[0] == (0, 64)
    assert [value for _, value in rows] == sorted({value for _, value in rows})
    middle = dict(rows)[2 * TICKS]
    assert middle == round(127 * 72 / 96)
    assert rows[-1] == (4 * TICKS, 127)


@pytest.mark.parametrize(
    ("slug", "key", "sounding"),
    [
        ("flute", "D", 74),
        ("piccolo", "D", 86),
        ("clarinet-b-flat", "C", 72),
        ("clarinet-a", "B", 71),
        ("horn", "G", 67),
        ("alto-saxophone", "F", 65),
        ("bassoon", "D", 74),
    ],
)
def test_transposing_instruments_sound_right(slug: str, key: str, sounding: int) -> None:
    """D5 in D major on the page; what each sounds is common practice, no source."""
    data = midi(written("w D5"), "Example", INSTRUMENTS[slug])
    ((_, signature),) = messages(data, 0, "key_signature")
    assert signature.key == key  # type: ignore[attr-defined]
    assert [note for _, _, note in played(opened(data), 1)] == [sounding]


def test_signatures_and_tempo_on_the_first_track() -> None:
    score = written(
        "q D5 | h. E5 fermata | meter( 4/4 ) w D5 | tempo( half = 60 ) w E5",
        "meter: 3/4\npickup: quarter\ntempo: quarter = 50 to 70\n",
    )
    data = midi(score, "Example", FLUTE)
    meters = [
        (time // TICKS, m.numerator, m.denominator)  # type: ignore[attr-defined]
        for time, m in messages(data, 0, "time_signature")
    ]
    assert meters == [(0, 1, 4), (1, 3, 4), (4, 4, 4)]
    tempos = [(time // TICKS, m.tempo) for time, m in messages(data, 0, "set_tempo")]  # type: ignore[attr-defined]
    assert tempos == [(0, 1_000_000), (1, 1_500_000), (4, 1_000_000), (8, 500_000)]


def test_words_and_syllables_are_text_in_any_language() -> None:
    data = midi(written('h D5 say "tü" E5 above "dolce, 静か"'), "Übung — 練習", FLUTE)
    assert [m.text for _, m in messages(data, 1, "lyrics")] == ["tü"]  # type: ignore[attr-defined]
    assert [m.text for _, m in messages(data, 1, "text")] == ["dolce, 静か"]  # type: ignore[attr-defined]
    assert opened(data).tracks[0].name == "Übung — 練習"


def test_programs_agree_with_music21() -> None:
    """General MIDI's own sounds; music21 counts them from 0."""
    from music21 import instrument

    theirs = {
        "piccolo": instrument.Piccolo,
        "flute": instrument.Flute,
        "oboe": instrument.Oboe,
        "english-horn": instrument.EnglishHorn,
        "clarinet-b-flat": instrument.Clarinet,
        "bassoon": instrument.Bassoon,
        "soprano-saxophone": instrument.SopranoSaxophone,
        "alto-saxophone": instrument.AltoSaxophone,
        "tenor-saxophone": instrument.TenorSaxophone,
        "baritone-saxophone": instrument.BaritoneSaxophone,
        "horn": instrument.Horn,
        "trumpet": instrument.Trumpet,
        "trombone": instrument.Trombone,
        "tuba": instrument.Tuba,
    }
    for slug, kind in theirs.items():
        assert program(INSTRUMENTS[slug]) == kind().midiProgram + 1, slug
    assert program(replace(FLUTE, slug="nose-whistle")) == program(FLUTE)
    ((_, change),) = messages(midi(written("w D5"), "Example", INSTRUMENTS["oboe"]), 1, "program_change")
    assert change.program == 68  # type: ignore[attr-defined]


def test_the_same_score_gives_the_same_bytes() -> None:
    score = made_score(Random(7))
    assert midi(score, "Example", FLUTE) == midi(score, "Example", FLUTE)


def test_both_players_of_a_duet_are_heard_at_one_time() -> None:
    score = written("q D5 E5 h F#5 | w D5", "second: canon at the octave below after 1 bar\n")
    clarinet = INSTRUMENTS["clarinet-b-flat"]
    file = opened(midi(score, "Title", clarinet))
    assert [track.name for track in file.tracks] == ["Title", "Clarinet in B flat 1", "Clarinet in B flat 2"]
    quarter, half, whole = Fraction(1, 4), Fraction(1, 2), Fraction(1)
    first = [(Fraction(0), quarter, 72), (quarter, quarter, 74), (half, half, 76), (whole, whole, 72)]
    assert played(file, 1) == first
    assert played(file, 2) == [(start + 1, length, note - 12) for start, length, note in first]
    sounds = [
        message.program for track in file.tracks for message in track if message.type == "program_change"
    ]
    assert sounds == [program(clarinet) - 1] * 2


@pytest.mark.parametrize("seed", [204, 107870])
def test_a_note_that_begins_between_two_ticks_in_a_fading_hairpin(seed: int) -> None:
    """The tick before it lies higher on the curve than the note itself: once that was expression 128."""
    file = MidiFile(file=BytesIO(midi(made_score(Random(seed)), "Example", FLUTE)), charset="utf-8")
    values = [message.value for message in file.tracks[1] if message.type == "control_change"]
    assert max(values) == 127
