"""Fingerings, and words that hold in one key or one register only."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest
from small_scores import score_of, varied

from stavewright.engrave.notation import notation
from stavewright.export.musicxml import WorkInfo, musicxml
from stavewright.language.format import formatted
from stavewright.language.read import read
from stavewright.music.description import describe_score
from stavewright.music.event import Event
from stavewright.music.exercise import Exercise
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS


def exercise(music: str, travel: str = "twelve keys") -> Exercise:
    text = f"title: T\nhome: D5 in D major\ntravel: {travel}\nmusic: {music}\n"
    found = read("e.warmup", text.encode())
    assert found.exercise is not None, found.faults
    return found.exercise


def firsts(music: str, travel: str = "twelve keys", instrument: str = "flute") -> dict[str, Event]:
    """The first event in every setting, by the name of the setting."""
    made = settings_of(exercise(music, travel), INSTRUMENTS[instrument])
    return {setting.name: setting.bars[0].events[0] for setting in made}


def test_a_fingering_stands_where_the_note_has_its_pitch() -> None:
    found = firsts('w D5 fingering "T 1 2"', "semitones up from D4 to D6")
    assert [name for name, event in found.items() if event.fingering] == ["d-5"]
    assert {event.fingering for event in found.values()} == {"", "T 1 2"}


def test_a_fingering_is_drawn_said_and_exported() -> None:
    score = score_of('w D5 fingering "T 1 2" above "still"')
    assert r'\markup \small \words "T 1 2"' in notation(score)
    assert "D5 whole fingering T 1 2 still" in describe_score(score)
    root = ET.fromstring(musicxml(score, WorkInfo("T"), FLUTE))
    assert [each.text for each in root.iter("fingering")] == ["T 1 2"]


def test_another_octave_has_no_fingering() -> None:
    music = 'w D5 fingering "T 1 2" | w E5 fingering "T 1"'
    assert [event.fingering for event in varied(music, "upper octave first")] == ["", "", "T 1 2", "T 1"]
    assert [event.fingering for event in varied(music, "falling octave first")][-2:] == ["T 1 2", "T 1"]
    assert [event.fingering for event in varied(music, "slurred")] == ["T 1 2", "T 1"]


def test_words_for_one_key() -> None:
    found = firsts('w D5 above "all" in B-flat above "long" in F-sharp below "six"')
    assert {event.above for name, event in found.items() if not name.startswith("b-flat")} == {"all"}
    assert [event.above for name, event in found.items() if name.startswith("b-flat")] == ["all; long"]
    assert [name[:7] for name, event in found.items() if event.below] == ["f-sharp"]
    assert not any(event.local for event in found.values())


def test_a_key_has_two_names() -> None:
    found = firsts('w D5 in G-flat above "six"')
    assert [name for name, event in found.items() if event.above] == ["f-sharp-4"]


def test_a_key_s_own_fingering_holds_for_its_pitch() -> None:
    found = firsts('w D5 in E-flat fingering "T 2 3"')
    assert [name for name, event in found.items() if event.fingering] == ["e-flat-4"]


@pytest.mark.parametrize(
    ("instrument", "register", "count"), [("flute", "low", 12), ("clarinet-b-flat", "throat", 4)]
)
def test_words_for_one_register(instrument: str, register: str, count: int) -> None:
    found = firsts(f'w D5 in {register} below "easy"', "semitones up from D4 to C6", instrument)
    named = {name for name, event in found.items() if event.below}
    kind = INSTRUMENTS[instrument]
    assert named == {
        name for name, event in found.items() if event.pitch and kind.register(event.pitch) == register
    }
    assert len(named) == count


@pytest.mark.parametrize(
    ("music", "said"),
    [
        ('w D5 in lower above "x"', "'lower' is no key and no register; did you mean 'low'?"),
        ('w D5 in B-flat "x"', 'for words in one key or register write `in B-flat above "long fingering"`'),
        (
            'w D5 fingering "1234567890123456789012345"',
            "words on the staff of 25 characters; keep them to 24",
        ),
        ("w D5 fingering", "'fingering' has no words; write `w C5 fingering"),
    ],
)
def test_what_cannot_be_placed_is_told(music: str, said: str) -> None:
    found = read("e.warmup", f"title: T\nhome: D5 in D major\nmusic: {music}\n".encode())
    assert any(said in str(fault) for fault in found.faults), found.faults


def test_the_formatter_keeps_them_together() -> None:
    text = 'title: T\nhome: D5 in D major\nmusic:\n  h D5  in  B flat above  "x" E5 fingering "1  2"\n'
    found = formatted("e.warmup", text.encode())
    assert isinstance(found, str)
    assert 'in  B flat above  "x" E5 fingering "1  2"' in found
