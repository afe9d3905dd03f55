"""Octaves."""

from __future__ import annotations

from dataclasses import replace

from builder.music.score import Event, Score, each_pitch, span

from .phrases import change_phrases
from .registry import Unsuitable, variation


def _octave_first(score: Score, octaves: int) -> Score:
    bars = score.line.bars
    moved = each_pitch(bars, lambda pitch: pitch.octaves(octaves))
    low, high = span(moved)
    if not score.compass.holds(low, high):
        which, beyond, bound = (
            ("upper", f"reach {high.spoken}, above", score.compass.high)
            if octaves > 0
            else ("lower", f"go down to {low.spoken}, below", score.compass.low)
        )
        raise Unsuitable(f"the {which} octave would {beyond} {bound.spoken}")
    moved = (*moved[:-1], replace(moved[-1], end="||" if moved[-1].end == "|." else moved[-1].end))
    # The second time begins again in the first meter and tempo, where either has changed on the way.
    first = replace(
        bars[0],
        meter=score.meter if any(bar.meter for bar in bars) else None,
        tempo=score.tempo if any(bar.tempo for bar in bars) else None,
    )
    return score.with_bars((*moved, first, *bars[1:]))


@variation(
    "upper octave first", "First an octave higher, then as written, with the same ease and the same vowel."
)
def upper_octave_first(score: Score, words: str) -> Score:
    """The whole an octave up, a double bar, and the whole as it stands."""
    return _octave_first(score, 1)


@variation("lower octave first", "First an octave lower, then as written, with the same ring in the sound.")
def lower_octave_first(score: Score, words: str) -> Score:
    """The whole an octave down, a double bar, and the whole as it stands."""
    return _octave_first(score, -1)


@variation(
    "register jump",
    "Every second note an octave higher: the air changes, the fingers and the face hardly do.",
)
def register_jump(score: Score, words: str) -> Score:
    """In each phrase every second note, ties and all, an octave up."""

    def change(notes: list[Event]) -> list[Event]:
        result, raised = [], False
        for index, note in enumerate(notes):
            result.append(note.each_pitch(lambda pitch: pitch.octaves(1)) if raised else note)
            if not note.tie and index + 1 < len(notes):
                raised = not raised
        return result

    jumped = change_phrases(score, change)
    low, high = span(jumped.line.bars)
    if not score.compass.holds(low, high):
        raise Unsuitable(f"a note would reach {high.spoken}, above {score.compass.high.spoken}")
    if jumped == score:
        raise Unsuitable("no phrase of it has two notes")
    return jumped
