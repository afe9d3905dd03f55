"""What we write for LilyPond ourselves: texts, pitches, and the small drawings of pages.

abjad, which takes long to load, is not needed for that. Widths and heights are in millimetres, and every
user's text passes `quoted`.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import log2

from ..music.event import Value
from ..music.pitch import LETTERS, Pitch
from ..units import MM_PER_PRINTERS_POINT

ALTERS = {-2: "ff", -1: "f", 0: "", 1: "s", 2: "ss"}
"""An accidental's letters after a note's name."""

_STAFF_SPACE = MM_PER_PRINTERS_POINT * 5
"""Millimetres of a staff space at LilyPond's usual staff of 20 points."""

_USUAL_SIZE = 11.0
"""LilyPond's text in printer's points at that staff."""

_WORD_SPACE = 0.27
"""Between words, in sizes of the letters; LilyPond's own space does not grow with them."""

_CHECKBOX = r"\path #0.12 #'((moveto 0 0) (lineto 1.3 0) (lineto 1.3 1.3) (lineto 0 1.3) (closepath))"


def quoted(text: str) -> str:
    """A text as a LilyPond string: no character in it can end the string or begin Scheme code."""
    cleaned = "".join(character if character.isprintable() else " " for character in text)
    return '"' + cleaned.replace("\\", "\\\\").replace('"', '\\"') + '"'


def pitch_name(pitch: Pitch) -> str:
    """A pitch by its English note name with octave marks: `cs''` is C#5."""
    octave = pitch.octave - 3
    marks = "'" * octave if octave > 0 else "," * -octave
    return LETTERS[pitch.letter].lower() + ALTERS[pitch.alter] + marks


def markup_list(markup: str, size: float, bold: bool = False, italic: bool = False) -> str:
    """Lines of markup as a whole input, in letters of `size` printer's points."""
    # LilyPond counts sizes in steps, six to a doubling.
    overrides = [f"font-size . {6 * log2(size / _USUAL_SIZE):.4f}", "baseline-skip . 3"]
    overrides += [f"word-space . {_WORD_SPACE * size / 5:.3f}"]
    overrides += ["font-series . bold"] if bold else []
    overrides += ["font-shape . italic"] if italic else []
    around = " ".join(rf"\override-lines #'({override})" for override in overrides)
    return f"\\markuplist {around} {{ {markup} }}\n"


def text_lines(lines: Iterable[str]) -> str:
    """Lines of text, broken already."""
    return " ".join(map(quoted, lines))


def wrapped_text(text: str, width: float) -> str:
    """A text that LilyPond breaks into lines of at most `width` millimetres."""
    lines = rf"\wordwrap-string-internal ##f {quoted(text)}"
    return rf"\override-lines #'(line-width . {width / _STAFF_SPACE:.3f}) {{ {lines} }}"


def note_and_text(value: Value, text: str) -> str:
    """A line with a small note of this value, and a text after it."""
    note = f"{value.base.denominator}{'.' * value.dots}"
    return rf"\line {{ \fontsize #-1.5 \note {{ {note} }} #UP {quoted(text)} }}"


ACCIDENTALS = {-2: r"\doubleflat", -1: r"\flat", 0: r"\natural", 1: r"\sharp", 2: r"\doublesharp"}
"""An accidental's sign as markup."""

_FLAT_RAISED = 0.05
_SHARP_RAISED = 0.075
"""How far a sign is raised beside a letter for each point of its size, in staff spaces."""


def letter_and_sign(letter: str, alter: int, octave: str, size: float) -> str:
    """A line with a note's letter in `size` printer's points, its accidental raised, its octave lowered."""
    sign = below = ""
    if alter:
        height = size * (_SHARP_RAISED if alter > 0 else _FLAT_RAISED)
        sign = rf"\hspace #0.1 \raise #{height:.2f} \fontsize #-3 {ACCIDENTALS[alter]}"
    if octave:
        below = rf"\hspace #0.1 \lower #{size / 34:.2f} \fontsize #-5 {quoted(octave)}"
    return rf"\concat {{ {quoted(letter)} {sign} {below} }}"


def checkbox_lines(lines: list[str]) -> str:
    """Lines of text with a box to tick before the first; there is one line at least."""
    rest = " ".join(rf"\line {{ \hspace #2.1 {quoted(line)} }}" for line in lines[1:])
    return rf"\line {{ {_CHECKBOX} \hspace #0.1 {quoted(lines[0])} }} {rest}"


def writing_line(width: float) -> str:
    """A thin line to write on, `width` millimetres long."""
    return rf"\path #0.08 #'((moveto 0 0) (lineto {width / _STAFF_SPACE:.2f} 0))"


def range_staff(low: Pitch, high: Pitch, clef: str) -> str:
    """Two notes with a line between, on a staff without a meter, as a whole input."""
    return (
        "\\score { \\new Staff \\with { \\omit TimeSignature \\omit BarLine } "
        f"{{ \\clef {clef} \\cadenzaOn {pitch_name(low)}1 \\glissando {pitch_name(high)}1 }} }}\n"
    )


def titled_music(title: str, music: str, below: str) -> str:
    """Notation under a title and over a text, as a whole input. Title and text wrap between their words."""
    wrapped = f"\\override #'(baseline-skip . 4.4) \\wordwrap {{ {text_lines(title.split())} }}"
    head = f"\\markup \\column {{ \\fontsize #4 {wrapped} \\vspace #1 }}\n"
    foot = f"\\markup \\italic \\fontsize #1 \\wordwrap {{ {text_lines(below.split())} }}\n" if below else ""
    return head + music + foot
