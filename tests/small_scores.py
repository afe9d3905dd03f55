"""A few words of music as a score, and what tests look at in it."""

from __future__ import annotations

import pytest

from stavewright.language.read import read
from stavewright.music.event import SLUR, Event
from stavewright.music.score import Score
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import FLUTE
from stavewright.variations import Unsuitable, apply


def score_of(music: str, **fields: str) -> Score:
    """Some music as a score in its home key, D major from D5 where nothing else is said."""
    rows = {"title": "T", "home": "D5 in D major", "travel": "twelve keys", **fields, "music": music}
    source = "".join(f"{name}: {value}\n" for name, value in rows.items())
    reading = read("t.warmup", source.encode())
    assert reading.exercise is not None, reading.faults
    return settings_of(reading.exercise, FLUTE)[0].score()


def events(score: Score) -> list[Event]:
    """The player's events in order."""
    return list(score.line.events())


def varied(music: str, *wishes: str, **fields: str) -> list[Event]:
    """The events of some music under variations."""
    return events(apply(score_of(music, **fields), wishes))


def pitches(found: list[Event]) -> list[str]:
    """Pitches by name, a rest as a hyphen."""
    return [str(event.pitch) if event.pitch else "-" for event in found]


def slurs(found: list[Event]) -> str:
    """Each event as a letter, with the slurs' beginnings and ends as brackets: `(ab)(cd)`."""
    return "".join(
        ("(" if SLUR in event.opens else "") + chr(ord("a") + number) + (")" if SLUR in event.closes else "")
        for number, event in enumerate(found)
    )


def levels(found: list[Event]) -> list[str]:
    """Each event's dynamic signs, each with where in the event it stands unless at its beginning."""
    return [
        " ".join(shade.mark if not shade.at else f"{shade.mark}@{shade.at}" for shade in event.dynamic_marks)
        for event in found
    ]


def refused(music: str, wish: str, **fields: str) -> str:
    """Why a variation makes no sense for some music."""
    with pytest.raises(Unsuitable) as raised:
        apply(score_of(music, **fields), (wish,))
    return str(raised.value)
