"""Words on paper: each text is engraved as music is, in the same fonts, and measured line by line."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from builder.engrave.batch import Engraved, Failure, Piece
from builder.engrave.notation import quoted
from builder.music.score import Tempo

_STAFF_SPACE = 1.757
"""Millimetres of the engraver's staff space at its usual staff of 20 points."""


@dataclass(frozen=True, slots=True)
class Style:
    """A manner of lettering: `size` in points, `leading` from line to line in millimetres."""

    size: float
    leading: float
    face: str = ""


BOOK_TITLE = Style(30, 13, r"\bold")
PAGE_TITLE = Style(20, 9, r"\bold")
TITLE = Style(15, 7, r"\bold")
HEADING = Style(11, 5, r"\bold")
LABEL = Style(10, 4.6, r"\bold \italic")
BODY = Style(10.5, 5)
SMALL = Style(9, 4.2)
ASIDE = Style(9, 4.2, r"\italic")
HEAD = Style(9, 4.2, r"\italic")
NUMBER = Style(10, 4.6)


@dataclass(frozen=True, slots=True)
class Text:
    """Words in a style, no line longer than `width` millimetres; `markup` is theirs for the engraver."""

    style: Style
    markup: str

    @property
    def notation(self) -> str:
        """What the engraver is given."""
        return f"\\markuplist \\override-lines #'(baseline-skip . 3) {{ {self.markup} }}\n"


def _sized(style: Style, inner: str) -> str:
    return rf"\abs-fontsize #{style.size:g} {style.face} {inner}"


def text(style: Style, words: str, width: float) -> Text:
    """Words of any origin, broken into lines of at most `width` millimetres."""
    columns = width / _STAFF_SPACE
    lines = (
        rf"\override-lines #'(line-width . {columns:.3f}) \override-lines #'(font-size . {_steps(style):.4f})"
    )
    for override in _overrides(style.face):
        lines += rf" \override-lines #'({override})"
    return Text(style, rf"{lines} {{ \wordwrap-string-internal ##f {quoted(words)} }}")


def _steps(style: Style) -> float:
    """A size in the engraver's steps, six to a doubling, from its usual 11 points."""
    from math import log2

    return 6 * log2(style.size / 11)


def _overrides(face: str) -> Iterable[str]:
    if "bold" in face:
        yield "font-series . bold"
    if "italic" in face:
        yield "font-shape . italic"


def tempo(style: Style, marking: Tempo, width: float) -> Text:
    """The beat as a note and its numbers a minute."""
    base = marking.beat.base.denominator
    numbers = f"{marking.low}" if marking.low == marking.high else f"{marking.low} to {marking.high}"
    note = rf"\note {{ {base}{'.' * marking.beat.dots} }} #UP"
    return Text(style, _sized(style, rf"\line {{ \smaller {note} {quoted(f'= {numbers}')} }}"))


def pieces(texts: Iterable[Text]) -> dict[Text, Piece]:
    """A piece for the engraver for each different text."""
    return {found: Piece("words", found.notation) for found in dict.fromkeys(texts)}


Lettered = dict[Text, Engraved | Failure]
