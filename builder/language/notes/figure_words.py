"""The words in a figure's brackets, each with its meaning and an example, for the site's language page.

The figures read these words themselves (`music/figures`); a test compares this table with what they take.
"""

from __future__ import annotations

from ..words import Word

_ALL = (
    (
        "two octaves",
        "How far a scale, a broken chord or a pattern goes: one octave, two octaves, three octaves or four "
        "octaves. Over more than one, each way has a slur of its own, and a breath comes at the top.",
        "scale( e two octaves )",
    ),
    (
        "whole range",
        "All of the preferred range of the instrument, made anew for each key and instrument: from the "
        "lowest starting note in the range up to the highest note of the key, down to the lowest, and back. "
        "It begins after a bar line and has bars of its own. The exercise goes through keys, not from pitch "
        "to pitch.",
        "scale( e whole range )",
    ),
    (
        "up-and-down",
        "The way: `up-and-down`, `up` or `down`.",
        "broken-thirds( e up-and-down )",
    ),
    (
        "melodic-minor",
        "The scale by its name: major, minor, a church mode, harmonic-minor, or melodic-minor, which rises "
        "with raised steps and falls without them.",
        "scale( e melodic-minor )",
    ),
    (
        "minor-pentatonic",
        "A scale of five steps: major-pentatonic or minor-pentatonic.",
        "scale( e minor-pentatonic )",
    ),
    (
        "whole-tone",
        "A scale without a mode: whole-tone; octatonic, in tones and semitones by turns; or "
        "octatonic-semitone-first. It rises with raised notes and falls with lowered ones.",
        "scale( e whole-tone )",
    ),
    (
        "dominant-seventh",
        "A chord by its name, on the starting note: dominant-seventh, major-seventh, minor-seventh, "
        "half-diminished, diminished-seventh, diminished, augmented.",
        "broken-chord( e dominant-seventh )",
    ),
    (
        "in the relative minor",
        "Any figure in another key than the exercise's, so that an exercise may have both major and minor: "
        "in the relative minor (a minor third lower), in the relative major (a minor third higher), in the "
        "parallel minor or in the parallel major (from the same note).",
        "scale( e ) | scale( e in the relative minor harmonic-minor )",
    ),
    (
        "slurred in 2",
        "Any figure with slurs of your own: slurred in 2, slurred in 3 and 1, and so on, or `no slurs`. The "
        "sizes begin anew in each bar that has room for them, and after a breath.",
        "scale( e slurred in 3 and 1 )",
    ),
    (
        "no slurs",
        "Any figure tongued.",
        "scale( e no slurs )",
    ),
    (
        "breath every 2 bars",
        "Any figure with breaths of your own, before a bar line: breath every bar, breath every 2 bars, and "
        "so on, or `no breaths`.",
        "scale( q two octaves breath every 2 bars )",
    ),
    (
        "no breaths",
        "Any figure without its own breaths.",
        "scale( e up no breaths ) | scale( e down )",
    ),
)

FIGURE_WORDS: dict[str, Word] = {name: Word(name, "figure", means, example) for name, means, example in _ALL}
