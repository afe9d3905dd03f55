"""Variations over a drone."""

from __future__ import annotations

from dataclasses import replace

from ..music.event import Event
from ..music.score import Score
from ..music.settings.tuning import tuned
from ..translation.said import term
from .phrases import chains, change_groups
from .registry import Unsuitable, variation


@variation(
    "figured",
    "A figure below each note that can lock with the drone names its interval, octaves left out. Octaves, "
    "fifths and fourths stop beating when in tune; thirds and sixths beat less.",
    grade=1,
)
def figured(score: Score, words: str) -> Score:
    """Interval numbers, octaves left out, below the notes that lock with the drone."""
    drones = [line for line in score.lines[1:] if line.label == "drone"]
    drone = next((note.pitch for line in drones for note in line.notes()), None)
    if drone is None:
        raise Unsuitable(term("there is no drone to count from"))

    def change(number: int, notes: list[Event]) -> list[Event]:
        first = notes[0]
        if first.pitch is None or not tuned(drone, first.pitch).locks:
            return notes
        steps = (first.pitch.step - drone.step) % 7
        return [replace(first, syllable=str(steps + 1) if steps else "8"), *notes[1:]]

    return change_groups(score, chains(score), change)
