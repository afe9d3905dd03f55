"""Music that is played twice, each time in its own way, from one staff."""

from __future__ import annotations

from fractions import Fraction as F

import pytest

from stavewright.book.pieces import AS_WRITTEN, Rendition, renditions_of
from stavewright.engrave.notation import notation
from stavewright.export.musicxml import WorkInfo, musicxml
from stavewright.language.read import read
from stavewright.language.write import write
from stavewright.music.event import LEVELS
from stavewright.music.exercise import Exercise
from stavewright.music.score import Score
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.sounding.dynamics import dynamic_curve
from stavewright.music.sounding.timing import unfold
from stavewright.music.winds.instruments import FLUTE
from stavewright.views.playback import play_through

VIBRATO = "second time: vibrato late on first long note + vibrato fading on last long note\n"


def exercise_of(fields: str, music: str = "h D5 mf q E5 F#5 | w G5") -> Exercise:
    text = f"title: T\nhome: D5 in D major\n{fields}music:\n  {music}\n"
    reading = read("t.warmup", text.encode())
    assert reading.exercise is not None, reading.faults
    return reading.exercise


def parts_of(fields: str) -> dict[str, Rendition]:
    """The first setting's parts by their labels."""
    return {part.label: part for part in renditions_of(settings_of(exercise_of(fields), FLUTE)[0])}


def plain(fields: str) -> Score:
    score = parts_of(fields)[AS_WRITTEN].score
    assert score is not None
    return score


def test_it_is_a_repeat_with_words_for_each_time() -> None:
    score = plain("first time: without vibrato\n" + VIBRATO)
    assert (score.line.bars[0].opens_repeat, score.line.bars[-1].end) == (True, ":|")
    first, *others = score.line.events()
    assert first.above == "1st time senza vibrato, 2nd time vibrato as marked"
    assert not any(event.above for event in others)


def test_vibrato_sounds_in_its_own_time_alone() -> None:
    piece = play_through(plain("first time: without vibrato\n" + VIBRATO), FLUTE)
    assert piece.end == 4
    assert piece.vibrato == ((F(9, 4), F(5, 2)), (F(3), F(7, 2)))


def test_levels_sound_in_their_own_time() -> None:
    score = plain("first time: level p\nsecond time: level f\n")
    curve = dynamic_curve(unfold(score.line))
    assert [LEVELS[round(curve.at(F(time)))] for time in range(4)] == ["p", "p", "f", "f"]
    assert next(score.line.events()).above == "1st time p, 2nd time f"


def test_what_holds_one_time_is_on_the_staff_in_words_alone() -> None:
    score = plain("first time: level p\nsecond time: level f\n")
    assert not {"\\p", "\\f"} & set(notation(score).split())
    assert b"<dynamics>" not in musicxml(score, WorkInfo("T"), FLUTE)


def test_vibrato_of_one_time_is_drawn() -> None:
    """The words say which time it is for."""
    text = notation(plain("first time: without vibrato\n" + VIBRATO))
    assert "Waves" in text


def test_a_variation_of_vibrato_is_for_music_played_once() -> None:
    found = parts_of("first time: without vibrato\n" + VIBRATO + "variations: vibrato late, slurred\n")
    late, slurred = found["vibrato late"].score, found["slurred"].score
    assert late is not None and slurred is not None
    assert late.line.bars[-1].end != ":|"
    assert slurred.line.bars[-1].end == ":|"


def test_it_is_written_as_it_is_read() -> None:
    before = exercise_of("first time: without vibrato\n" + VIBRATO)
    again = read("t.warmup", write(before).encode()).exercise
    assert again is not None
    assert [each.names for each in again.passes] == [each.names for each in before.passes]


@pytest.mark.parametrize(
    ("fields", "music", "what"),
    [
        ("first time: without vibrato\n", "w D5", "'first time' is there without 'second time'"),
        (
            "first time: slurred, detached\nsecond time: with vibrato\n",
            "w D5",
            "'first time' is one way of playing",
        ),
        (
            "first time: without vibrato\nsecond time: with vibrato\n",
            "|: w D5 :|",
            "'first time' and repeat signs",
        ),
    ],
)
def test_faults_of_the_text(fields: str, music: str, what: str) -> None:
    text = f"title: T\nhome: D5 in D major\n{fields}music:\n  {music}\n"
    reading = read("t.warmup", text.encode())
    assert what in [fault.what for fault in reading.faults]
    assert reading.exercise is None
