"""One performance: page, MIDI file and daily sets sound alike. Its rules: common practice, no source."""

from __future__ import annotations

from fractions import Fraction as F
from io import BytesIO
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_scores import made_score, varied_score
from mido import MidiFile
from small_scores import score_of

from stavewright.daily.measure import moments
from stavewright.export.midi import TICKS, midi
from stavewright.music.pitch import Pitch
from stavewright.music.score import Ladder, Score
from stavewright.music.sounding.ornaments import upper_note
from stavewright.music.sounding.performance import perform
from stavewright.music.sounding.timing import clock
from stavewright.music.winds.instruments import FLUTE
from stavewright.variations import apply, variations
from stavewright.views.playback import play_through

scores = st.one_of(
    st.integers(0, 10**9).map(lambda seed: made_score(Random(seed))),
    st.sampled_from(sorted(variations())).map(varied_score),
)


def sounds(music: str, **fields: str) -> list[tuple[F, F, str]]:
    """Start, end and pitch of each note that sounds."""
    score = score_of(music, **fields)
    return [(note.start, note.end, str(note.pitch)) for note in perform(score.line, score.key).notes]


@pytest.mark.parametrize(
    ("music", "expected"),
    [
        ("h D5 staccato , E5", [(0, F(1, 4), "D5"), (F(1, 2), 1, "E5")]),
        ("h D5 portato E5", [(0, F(3, 8), "D5"), (F(1, 2), 1, "E5")]),
        ("h D5 , E5", [(0, F(7, 16), "D5"), (F(1, 2), 1, "E5")]),
        ("grace( C#5 ) w D5", [(0, F(1, 32), "C#5"), (F(1, 32), 1, "D5")]),
        ("h D5 grace( C#5 ) E5", [(0, F(15, 32), "D5"), (F(15, 32), F(1, 2), "C#5"), (F(1, 2), 1, "E5")]),
        ("w D5 tie | w D5", [(0, 2, "D5")]),
    ],
)
def test_what_sounds_by_example(music: str, expected: list[tuple[F, F, str]]) -> None:
    assert sounds(music) == expected


def test_a_trill_is_played_out_and_ends_on_its_note() -> None:
    found = sounds("w D5 trill")
    assert [pitch for *_, pitch in found[:3]] == ["D5", "E5", "D5"]
    assert (len(found), found[-1][1:]) == (31, (1, "D5"))


def test_the_upper_note_is_the_key_s_own() -> None:
    key = score_of("w D5").key
    assert [str(upper_note(Pitch.parse(name), key)) for name in ("E5", "C#5", "F#5", "E#5")] == [
        "F#5",
        "D5",
        "G5",
        "F#5",
    ]


def midi_notes(score: Score) -> list[tuple[F, F, int]]:
    """The player's notes as mido reads them back."""
    now, on, found = 0, {}, []
    for message in MidiFile(file=BytesIO(midi(score, "Example", FLUTE)), charset="utf-8").tracks[1]:
        now += message.time
        if message.type == "note_on" and message.velocity:
            on[message.note] = now
        elif message.type in ("note_on", "note_off"):
            found.append((F(on.pop(message.note), 4 * TICKS), F(now, 4 * TICKS), message.note))
    return sorted(found)


@given(scores)
def test_page_and_file_sound_the_same_notes_at_the_same_times(score: Score) -> None:
    page = sorted(
        (tone.start, tone.start + tone.sounds, tone.midi)
        for tone in play_through(score, FLUTE).tones
        if tone.sounds
    )
    file = midi_notes(score)
    assert [row[2] for row in page] == [row[2] for row in file]
    for ours, theirs in zip(page, file, strict=True):
        assert all(
            abs(one - other) <= F(1, 2 * TICKS) for one, other in zip(ours[:2], theirs[:2], strict=True)
        )


@given(scores)
def test_daily_sets_count_the_notes_that_the_page_begins(score: Score) -> None:
    """Every note but grace notes and the strokes of trills, for as long as it is written."""
    plain = perform(score.line, score.key, ornaments=False)
    found = moments(score)
    assert [moment.pitch for moment in found] == [note.pitch for note in plain.notes]
    time = clock(score)
    whole = sum(float(time.seconds(n.heads[-1].end) - time.seconds(n.heads[0].start)) for n in plain.notes)
    assert sum(moment.seconds for moment in found) == pytest.approx(whole)


# -- ladders --------------------------------------------------------------------------------------------

LADDER = "tonguing double in sixteenths ladder 60 to 90 by 10"


def test_a_ladder_sounds_once_at_each_tempo() -> None:
    score = apply(score_of("h D5 E5 | w F#5", tempo="quarter = 60 to 60"), (LADDER,))
    assert score.line.ladder == Ladder(2, (60, 70, 80, 90))
    piece = play_through(score, FLUTE)
    assert piece.end == 1 + 4
    assert [tempo.low for tempo in piece.tempos] == [60, 70, 80, 90]
    expected = 4 + sum(4 * F(60, beats) for beats in (60, 70, 80, 90))
    assert clock(score).length == expected
    seconds = MidiFile(file=BytesIO(midi(score, "Example", FLUTE)), charset="utf-8").length
    assert seconds == pytest.approx(float(expected), abs=0.01)


def test_a_drone_is_held_below_a_ladder() -> None:
    score = apply(score_of("h D5 E5 | w F#5", drone="D4"), (LADDER,))
    file = MidiFile(file=BytesIO(midi(score, "Example", FLUTE)), charset="utf-8")
    ends = [sum(message.time for message in track) for track in file.tracks[1:]]
    assert ends[0] == ends[1] == 5 * 4 * TICKS


def test_a_change_of_the_bars_after_it_leaves_no_ladder() -> None:
    assert apply(score_of("h D5 E5 | w F#5"), (LADDER, "upper octave first")).line.ladder is None
