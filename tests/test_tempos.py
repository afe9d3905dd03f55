"""Ritardando and accelerando: read, heard on the page and in MIDI, reckoned, drawn, in files.

How the tempo changes is stated in builder/music/sounding/tempos.py; common practice, no source.
"""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from fractions import Fraction as F
from io import BytesIO

import pytest
from conftest import examples
from hypothesis import given
from hypothesis import strategies as st
from mido import MidiFile
from small_scores import score_of

from stavewright.engrave.notation import notation
from stavewright.export.midi import midi
from stavewright.export.musicxml import WorkInfo, musicxml
from stavewright.language.read import read
from stavewright.language.write import write
from stavewright.music.description import describe_score
from stavewright.music.score import Score, each_event
from stavewright.music.sounding.tempos import tempo_steps, tempos
from stavewright.music.sounding.timing import FASTEST, SLOWEST, clock
from stavewright.music.winds.instruments import FLUTE
from stavewright.variations import apply
from stavewright.views.playback import play_through

SLOWER = "w D5 | ritardando( quarter = 40 q D5 E5 F#5 E5 ) | w D5"


def faults(music: str, tempo: str = "quarter = 60 to 72") -> list[str]:
    text = f"title: T\nhome: D5 in D major\ntempo: {tempo}\nmusic: {music}\n"
    return [str(fault).removeprefix("e.warmup:") for fault in read("e.warmup", text.encode()).faults]


def beats(score: Score) -> list[int]:
    """The slowest tempo of each step of the page, in beats a minute."""
    return [tempo.low for steps in tempo_steps(score) for _, tempo in steps]


def test_the_tempo_goes_down_evenly_and_stays() -> None:
    score = score_of(SLOWER, tempo="quarter = 60")
    assert beats(score) == [60, 59, 56, 54, 51, 49, 46, 44, 41, 40]
    assert [tempo.low for tempo in tempos(score)] == [60, 60, 40]
    seconds = 4 + sum(30 / F(number) for number in (59, 56, 54, 51, 49, 46, 44, 41)) + 6
    assert clock(score).length == seconds


def test_a_new_tempo_takes_over_and_a_range_keeps_its_place() -> None:
    score = score_of(
        f"{SLOWER} | tempo( quarter = 60 ) w D5".replace("quarter = 40", "quarter = 40 to 50"),
        tempo="quarter = 60 to 72",
    )
    last = tempos(score)[-1]
    assert (last.low, last.high) == (60, 60)
    ends = [clock(score, pace).stretches for pace in (SLOWEST, FASTEST)]
    assert [60 / stretch.seconds_a_whole / F(1, 4) for stretch in (ends[0][-2], ends[1][-2])] == [40, 50]


def test_another_beat_is_reckoned_in_the_first() -> None:
    score = score_of("ritardando( half = 20 h D5 E5 ) | w D5", tempo="quarter = 60")
    assert beats(score)[-1] == 20 and beats(score)[-2] == 41
    assert tempos(score)[-1].beat.name == "half"


def test_a_bar_heard_again_is_in_its_own_tempo() -> None:
    once = clock(score_of("w D5 | ritardando( quarter = 40 w D5 )", tempo="quarter = 60")).length
    twice = clock(score_of("|: w D5 | ritardando( quarter = 40 w D5 ) :|", tempo="quarter = 60")).length
    assert twice == 2 * once


@pytest.mark.parametrize("drone", [{}, {"drone": "D4"}])
def test_page_midi_and_times_agree(drone: dict[str, str]) -> None:
    score = score_of(
        "h D5 ritardando( quarter = 40 h E5 | w F#5 fermata ) | w D5", tempo="quarter = 60", **drone
    )
    length = clock(score).length
    file = MidiFile(file=BytesIO(midi(score, "T", FLUTE)))
    assert file.length == pytest.approx(float(length), abs=0.001)
    page = play_through(score, FLUTE)
    seconds = F(0)
    for speed, until in zip(page.speeds, [*(each.start for each in page.speeds[1:]), page.end], strict=True):
        tempo = page.tempos[speed.tempo]
        seconds += (until - speed.start) / (tempo.low * tempo.beat.length) * 60 * speed.factor
    assert seconds == length


NO_GOAL = (
    "4:8: `ritardando( )` begins with its goal; write "
    "`ritardando( quarter = 40 q D5 E5 F#5 E5 | h D5 C#5 ) | w D5`"
)


@pytest.mark.parametrize(
    ("music", "said"),
    [
        (
            "ritardando( quarter = 66 w D5 )",
            "4:35: the ritardando from quarter = 60 to 72 leads to quarter = 66, which is not slower; "
            "write a slower tempo",
        ),
        (
            "w D5 | accelerando( half = 20 w D5 )",
            "4:40: the accelerando from quarter = 60 to 72 leads to half = 20, which is not faster; "
            "write a faster tempo",
        ),
        ("ritardando( q D5 E5 h D5 )", NO_GOAL),
        ("ritardando( 3/4 w D5 )", NO_GOAL),
        (
            "ritardando( quarter = 5 w D5 )",
            "4:30: 5 to 5 is not a tempo; give beats a minute from 20 to 400, the slower first",
        ),
        (
            "ritardando( quarter = 50 w D5 | tempo( quarter = 40 ) w D5 )",
            "4:8: `ritardando( )` has another change of tempo in it; write one after the other",
        ),
        ("ritardando( quarter = 50 )", "4:8: there are no notes in `ritardando( )`; put notes in it"),
    ],
)
def test_a_change_that_makes_no_sense_is_told(music: str, said: str) -> None:
    assert faults(music)[0] == said


def test_it_is_drawn_once_with_its_goal() -> None:
    text = notation(score_of(SLOWER, tempo="quarter = 60", drone="D4"))
    assert text.count("tempoChange") == text.count("stopTrillSpan") == 1
    assert r'\note { 4 } #UP " = 40)"' in text
    alone = notation(score_of("ritardando( quarter = 40 w D5 )", tempo="quarter = 60"))
    assert "tempoChange" not in alone and '"rit."' in alone
    assert "ritardando begins" in describe_score(score_of(SLOWER, tempo="quarter = 60"))


def test_musicxml_has_words_dashes_and_tempos() -> None:
    root = ET.fromstring(musicxml(score_of(SLOWER, tempo="quarter = 60"), WorkInfo("T"), FLUTE))
    assert [each.text for each in root.iter("words")] == ["rit."]
    assert [each.attrib for each in root.iter("dashes")] == [
        {"type": "start", "number": "2"},
        {"type": "stop", "number": "2"},
    ]
    numbers = [float(each.get("tempo", "")) for each in root.iter("sound") if "tempo" in each.attrib]
    assert numbers == [60, 60, 59, 54, 49, 44, 40]


def test_a_second_statement_begins_in_the_first_tempo() -> None:
    score = apply(score_of(SLOWER, tempo="quarter = 60"), ("upper octave first",))
    assert [tempo.low for tempo in tempos(score)] == [60, 60, 40, 60, 60, 40]


def test_a_voice_and_a_tonguing_figure_with_it() -> None:
    plain = score_of("w D5 | ritardando( quarter = 40 w E5 | w D5 )", tempo="quarter = 60")
    sung = apply(plain, ("singing alto",))
    assert not any(span.tempo for event in sung.lines[1].events() for span in (*event.opens, *event.closes))
    assert clock(sung).length == clock(plain).length
    figured = apply(plain, ("tonguing double ladder 60 to 72 by 12",))
    assert clock(figured).length > 0
    assert notation(figured).count("stopTrillSpan") == 1


@examples(50)
@given(
    st.integers(20, 59), st.integers(61, 400), st.sampled_from(("w D5", "h D5 E5", "q D5 E5 h F#5 | w D5"))
)
def test_any_change_comes_back_and_lies_between(slow: int, fast: int, notes: str) -> None:
    music = f"ritardando( quarter = {slow} {notes} ) | accelerando( quarter = {fast} {notes} ) | w D5"
    text = f"title: T\nhome: D5 in D major\ntempo: quarter = 60\nmusic: {music}\n"
    first = read("e.warmup", text.encode()).exercise
    assert first is not None
    again = read("e.warmup", write(first).encode()).exercise
    assert again is not None
    one, other = (
        each_event(each.forms[0].bars, lambda event: replace(event, place=None)) for each in (first, again)
    )
    assert one == other
    found = beats(score_of(music, tempo="quarter = 60"))
    turn = found.index(min(found))
    assert found[: turn + 1] == sorted(found[: turn + 1], reverse=True) and found[turn:] == sorted(
        found[turn:]
    )
    assert found[-1] == fast and slow <= found[turn]
