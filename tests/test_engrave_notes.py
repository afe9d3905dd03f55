"""Where the engraver put each note: real engraving, compared with the music itself."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from itertools import accumulate

import pytest

from stavewright.cache.store import CacheStore
from stavewright.engrave.drawings.svg import numbered_heads
from stavewright.engrave.piece import Engraved, Piece
from stavewright.engrave.processes import scheduler as batch
from stavewright.language.read import read
from stavewright.music.score import Score
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import FLUTE

STEP = 20 * 72 / 72.27 / 8
"""Points from a line of a 20-point staff to the space above it; the engraver's point is 1/72.27 inch."""

LONG = " | ".join(["e D5 E5 F#5 G5 A5 B5 C#6 D6", "e D6 C#6 B5 A5 G5 F#5 E5 D5"] * 6)
MUSIC = {
    "ties": "w D5 tie | h D5 q E5 tie E5",
    "rests": "q D5 rest E5 rest | h rest F#5",
    "triplets": "triplet( q D5 E5 F#5 ) h G5 | w A5",
    "dotted, slurred, shaped": "slur( h. D5 mf louder( q E5 ) ) | w F#5 f fermata ,",
    "outside the staff": "h C4 D4 | h C7 B6",
    "several systems": LONG,
}


def score(music: str, more: str = "") -> Score:
    """A few bars in D major as they are engraved."""
    text = f"title: Test\nhome: D5 in D major\nmeter: 4/4\n{more}music:\n  {music}\n"
    exercise = read("test.warmup", text.encode()).exercise
    assert exercise is not None, text
    return settings_of(exercise, FLUTE)[0].score()


@pytest.fixture(scope="module")
def engraved(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Score, Engraved]]:
    scores = {name: score(music) for name, music in MUSIC.items()}
    scores["with a drone"] = score("h D5 E5 | w D5", "drone: D4\n")
    scores["with grace notes"] = score("grace( C#5 ) h D5 grace( E5 F#5 ) G5")
    cache = CacheStore(tmp_path_factory.mktemp("cache"))
    made = batch.engrave_all(scores, lambda name: Piece(name, scores[name]), cache=cache)
    found = {}
    for name in scores:
        result = made[name]
        assert isinstance(result, Engraved), result
        found[name] = scores[name], result
    return found


NAMES = [*MUSIC, "with a drone", "with grace notes"]


@pytest.mark.parametrize("name", NAMES)
def test_each_sounding_event_has_its_place(name: str, engraved: dict[str, tuple[Score, Engraved]]) -> None:
    made, ink = engraved[name]
    times, now = [], Fraction(0)
    for event in made.line.events():
        times += [now] * len(event.pitches)
        now += event.length
    assert [note.at for note in ink.drawing.notes] == times


@pytest.mark.parametrize("name", NAMES)
def test_notes_go_from_left_to_right_and_higher_notes_stand_higher(
    name: str, engraved: dict[str, tuple[Score, Engraved]]
) -> None:
    made, ink = engraved[name]
    notes = ink.drawing.notes
    steps = [7 * pitch.octave + pitch.letter for event in made.line.events() for pitch in event.pitches]
    for number in range(1, len(notes)):
        before, after = notes[number - 1], notes[number]
        if before.system == after.system:
            assert after.x > before.x + 5
            rise = (steps[number] - steps[number - 1]) * STEP
            assert before.y - after.y == pytest.approx(rise, abs=0.05)
        else:
            assert after.system == before.system + 1
            assert after.x < before.x


@pytest.mark.parametrize("name", NAMES)
def test_every_note_lies_in_its_system(name: str, engraved: dict[str, tuple[Score, Engraved]]) -> None:
    _, ink = engraved[name]
    for note in ink.drawing.notes:
        system = ink.systems[note.system]
        assert system.top <= note.y * 25.4 / 72 <= system.bottom
        assert 1 <= note.x * 25.4 / 72 <= system.right


@pytest.mark.parametrize("name", NAMES)
def test_the_drawing_numbers_the_heads(name: str, engraved: dict[str, tuple[Score, Engraved]]) -> None:
    _, ink = engraved[name]
    body, notes = ink.drawing.body, ink.drawing.notes
    heads = dict(places_of_heads(body))
    assert sorted(heads) == numbered_heads(body) == list(range(len(notes)))
    for number, (x, y) in heads.items():
        assert y == pytest.approx(notes[number].y, abs=0.05)
        # The left edge is half a head before the middle; a head is a staff space and a quarter wide or more,
        # a grace note's seven tenths of that.
        assert 1.8 < notes[number].x - x < 5.5


def places_of_heads(body: str) -> Iterator[tuple[int, tuple[float, float]]]:
    """Where each numbered head begins: a glyph, or a corner of a path between its two ends."""
    for tag in re.findall(r"<(?:use|path) [^>]*?\bdata-n=[^>]*>", body):
        values = dict(re.findall(r'([\w-]+)="([^"]*)"', tag))
        numbers = [int(number) for number in values["data-n"].split()]
        if "href" in values:
            yield numbers[0], (float(values["x"]), float(values["y"]))
            continue
        assert re.fullmatch(r"url\(#m[\da-f]{10}\)", values["marker-mid"])
        said = [float(each) for each in re.findall(r"-?(?:\d+\.?\d*|\.\d+)", values["d"])]
        steps = list(zip(said[::2], said[1::2], strict=True))
        assert steps[1] == steps[-1] == (0, 0)
        corners = list(accumulate(steps, lambda one, step: (one[0] + step[0], one[1] + step[1])))
        yield from zip(numbers, corners[1:-1], strict=True)


def test_several_systems_are_counted(engraved: dict[str, tuple[Score, Engraved]]) -> None:
    _, ink = engraved["several systems"]
    assert len(ink.systems) > 1
    assert {note.system for note in ink.drawing.notes} == set(range(len(ink.systems)))


def test_places_survive_the_cache(engraved: dict[str, tuple[Score, Engraved]]) -> None:
    for _, ink in engraved.values():
        assert Engraved.from_bytes(ink.to_bytes()) == ink
