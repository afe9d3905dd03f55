"""Singing while playing, on a second staff."""

from __future__ import annotations

from dataclasses import replace

from ..music.event import OPTIONAL, SLUR, Event
from ..music.pitch import Pitch
from ..music.score import Score, Staff, each_event, each_pitch, held, pitch_range
from ..translation.said import phrase
from .phrases import without
from .registry import Unsuitable, variation

_VOICES: dict[str, tuple[str, str, str]] = {
    "soprano": ("C4", "A5", "treble"),
    "alto": ("F3", "E5", "treble"),
    "tenor": ("C3", "A4", "bass"),
    "bass": ("E2", "E4", "bass"),
}
"""The voices of a choir in sounding pitch, and a clef; common practice, no source."""


@variation(
    "singing",
    "Sing the lower staff while you play the upper one: softly, in an easy octave, with no pressure in "
    "the throat. Stop if your throat feels tight or sore.",
    takes="alto held",
    pattern=rf"({'|'.join(_VOICES)})( held)?",
    grade=4,
    last=True,
)
def singing(score: Score, words: str) -> Score:
    """The line itself, or its first note held, in an octave within the voice's range.

    The voice's staff is transposed with the instrument's, so that a player sings what the page says.
    """
    voice, _, held_too = words.partition(" ")
    low_name, high_name, clef = _VOICES[voice]
    bottom, top = (Pitch.parse(name).midi - score.sounds for name in (low_name, high_name))
    bars = score.line.bars
    sung = each_event(held(score.line, bars) if held_too else bars, _sung)
    low, high = pitch_range(sung)
    fitting = [
        octaves
        for octaves in range(-5, 6)
        if bottom <= low.midi + 12 * octaves and high.midi + 12 * octaves <= top
    ]
    if not fitting:
        raise Unsuitable(phrase("no octave of it lies within the voice called {voice}", voice=voice))
    # The octave whose middle is nearest to the middle of the voice.
    octaves = min(fitting, key=lambda count: abs(low.midi + high.midi + 24 * count - bottom - top))
    moved = each_pitch(sung, lambda pitch: pitch.octaves(octaves))
    line = Staff(tuple(replace(bar, tempo=None) for bar in moved), clef=clef, label="sing")
    return replace(score, lines=(score.line, line, *score.lines[1:]))


def _sung(event: Event) -> Event:
    """A note for the voice: without grace notes and without signs for the instrument."""
    return replace(
        without(event, SLUR, OPTIONAL, *(span for span in (*event.opens, *event.closes) if span.tempo)),
        dynamic_marks=(),
        vibrato=(),
        graces=(),
        marks=(),
        syllable="",
        above="",
        below="",
        clef="",
        trilled=None,
        lowered=None,
        fundamental=None,
        fingering="",
        chart="",
    )
