"""Music to look at: every variation of the registry over notes of one value, in as many keys as wanted."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from stavewright.language.read import read
from stavewright.music.score import Score
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import FLUTE
from stavewright.variations import Unsuitable, apply, variations

VALUES = {
    "whole": "w D5 p | E5 | F#5 , | G5 | A5 mf | F#5 | E5 | D5 fermata ,",
    "half": (
        "slur( h D5 p E5 | F#5 G5 | A5 G5 | F#5 E5 ) , | slur( h D5 E5 | F#5 G#5 | A5 G5 | w D5 fermata ) ,"
    ),
    "quarter": (
        "slur( q D5 mf E5 F#5 G5 | A5 B5 A5 G5 | F#5 G#5 A5 F#5 | h E5 D5 ) , "
        "| slur( q D5 E5 F#5 G5 | A5 B5 A5 G5 | F#5 G5 A5 F#5 | w D5 fermata ) ,"
    ),
    "eighth": (
        "slur( e D5 p E5 F#5 G5 A5 G5 F#5 E5 | D5 F#5 A5 F#5 E5 D#5 E5 F5 "
        "| F#5 G#5 A5 B5 A5 G5 F#5 E5 | w D5 ) , "
        "| slur( e D5 E5 F#5 G5 A5 G5 F#5 E5 | D5 F#5 A5 F#5 E5 D#5 E5 F#5 | h F#5 E5 | w D5 fermata ) ,"
    ),
}
SIGNS = (
    "w D5 harmonic( D4 ) p | h A5 harmonic( D4 ) C6 harmonic "
    "| q F#6 harmonic( D4 ) E5 , F6 harmonic( F4 ) D5 ,",
    "w D5 air-tone p | h key-click( D4 E4 ) | tongue-ram( q D4 E4 h F#5 ) , | flutter( q D5 E5 F#5 G5 ) | "
    "whistle-tone( w D6 ) | h D5 glissando A5 | D5 bend-up E5 bend-down | w D5 tongue-ram fermata ,",
    "w D5 mordent | h E5 turn F#5 inverted-mordent | G5 short-fermata , A5 timbral-trill | w D5 long-fermata",
)
"""Bars of notes whose heads are not the usual ones."""

TEXT = "title: T\nhome: D5 in D major\nmeter: 4/4\ntravel: twelve keys\nmusic:\n  {}\n"


@dataclass(frozen=True)
class Case:
    """A score to engrave. `keeps_notes` is said of a variation that changes signs alone."""

    name: str
    score: Score
    as_written: bool
    keeps_notes: bool


def cases(value: str, keys: int = 12, names: tuple[str, ...] = ()) -> Iterator[Case]:
    """Notes of one value in so many keys, spread over the twelve: as written, then in every variation."""
    reading = read("t.warmup", TEXT.format(VALUES[value]).encode())
    assert reading.exercise is not None, reading.faults
    found = settings_of(reading.exercise, FLUTE)
    for setting in found[:: max(1, len(found) // keys)][:keys]:
        plain = setting.score()
        yield Case(f"{value}, {setting.key.name}, as written", plain, True, True)
        for wish in names or every_variation():
            try:
                score = apply(plain, (wish,))
            except Unsuitable:
                continue
            # Eighths are too short for levels within them, and have lines of their own.
            crowded = value == "eighth" and wish.startswith("swell each note")
            keeps = _notes(score) == _notes(plain) and not crowded
            yield Case(f"{value}, {setting.key.name}, {wish}", score, False, keeps)


def sign_cases(keys: int = 2) -> Iterator[Case]:
    """The bars of `SIGNS` as written, in so many keys."""
    for music in SIGNS:
        reading = read("t.warmup", TEXT.format(music).encode())
        assert reading.exercise is not None, reading.faults
        found = settings_of(reading.exercise, FLUTE)
        for setting in found[:: len(found) // keys][:keys]:
            yield Case(f"{music}, {setting.key.name}", setting.score(), True, True)


def every_variation() -> list[str]:
    """Each variation of the registry, with the words of its own example where it asks for words."""
    return [
        name if found.understands("") else f"{name} {found.takes}" for name, found in variations().items()
    ]


def _notes(score: Score) -> list[object]:
    """What takes room: the notes of every staff, their values, their ties, and what stands between them."""
    return [
        (event.pitch, event.value, event.graces, event.syllable, event.clef, "breath" in event.marks, bar.end)
        for line in score.lines
        for bar in line.bars
        for event in bar.events
    ]
