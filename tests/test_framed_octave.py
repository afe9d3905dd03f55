"""The framed octave in every key, against music21's arithmetic of intervals."""

from __future__ import annotations

import pytest
from music21 import interval as m21_interval
from music21 import pitch as m21_pitch

from stavewright.language.read import read
from stavewright.music.event import SLUR
from stavewright.music.settings.transpositions import Setting, settings_of
from stavewright.music.winds.instruments import FLUTE

INNER = ("P1", "M2", "M3", "A4", "m6", "m7", "P8")


def every_setting() -> tuple[Setting, ...]:
    text = "title: T\nhome: D4 in D major\ntravel: twelve keys\nmusic:\n  framed-octave( q )\n"
    reading = read("t.warmup", text.encode())
    assert reading.exercise is not None, reading.faults
    return settings_of(reading.exercise, FLUTE)


@pytest.mark.parametrize("setting", every_setting(), ids=lambda setting: setting.name)
def test_the_frame_stands_and_the_inner_notes_move_apart(setting: Setting) -> None:
    """Bottom, inner, inner, top, in one breath; inner notes a named interval apart about the middle."""
    bars = setting.score().line.bars
    assert len(bars) == len(INNER)
    bottom = m21_pitch.Pitch(str(setting.start).replace("b", "-"))
    for number, (bar, name) in enumerate(zip(bars, INNER, strict=True)):
        notes = [m21_pitch.Pitch(str(event.pitch).replace("b", "-")) for event in bar.events]
        assert notes[0] == bottom
        assert m21_interval.Interval(notes[0], notes[-1]).name == "P8"
        low, high = (notes[1], notes[-2]) if len(notes) > 3 or number == 0 else (notes[0], notes[-1])
        if name not in ("P1", "P8"):
            assert m21_interval.Interval(low, high).name == name
        if name != "P8":
            assert (low.ps - bottom.ps, high.ps - bottom.ps) == (6 - number, 6 + number)
        assert SLUR in bar.events[0].opens
        assert SLUR in bar.events[-1].closes
        assert "breath" in bar.events[-1].marks
