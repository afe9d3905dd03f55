"""Words on paper: each text is engraved as music is, in the same fonts, and measured line by line."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from ..engrave.markup import (
    letter_and_sign,
    markup_list,
    note_and_text,
    text_lines,
    wrapped_text,
    writing_line,
)
from ..music.event import Tempo
from ..music.pitch import LETTERS
from ..translation.catalog import TO_ENGLISH, Translation
from ..translation.said import phrase
from ..units import MM_PER_PRINTERS_POINT


@dataclass(frozen=True, slots=True)
class Style:
    """A manner of lettering: `size` in printer's points, `leading` from line to line in millimetres.

    `rank` is that of a heading, from 1, the highest; 0 for other words.
    """

    size: float
    leading: float
    bold: bool = False
    italic: bool = False
    rank: int = 0

    @property
    def ascent(self) -> float:
        """Millimetres from a line's top to its baseline."""
        return self.leading * 0.74

    def scaled(self, scale: float) -> Style:
        """The same manner, so many times as large."""
        if scale == 1:
            return self
        return replace(self, size=round(self.size * scale, 2), leading=round(self.leading * scale, 2))

    @property
    def capital(self) -> float:
        """Millimetres of a capital's height; 0.69 of the size, as the face says itself."""
        return self.size * 0.69 * MM_PER_PRINTERS_POINT


BOOK_TITLE = Style(36, 16, rank=1)
PAGE_TITLE = Style(24, 11, rank=2)
TITLE = Style(18, 8, rank=3)
KEY = Style(15, 6.6, rank=4)
HEADING = Style(12, 5.4, rank=5)
LABEL = Style(12, 5.2, italic=True, rank=6)
BODY = Style(11, 5.2)
LEAD = Style(14, 6.4, italic=True)
SMALL = Style(9.5, 4.4)
ASIDE = Style(9.5, 4.4, italic=True)
HEAD = Style(9.5, 4.4, italic=True)
NUMBER = Style(10.5, 4.8)

# The book: what is read at the stand has 14 points and more, what is read beforehand less.
EXERCISE = Style(26, 11, rank=3)
PURPOSE = Style(14.5, 6.4, italic=True)
SECTION = Style(15, 6.6, italic=True, rank=4)
STAND_TEXT = Style(14.5, 6.4)
READ_TEXT = Style(11.5, 5.2)
WAY = Style(10.5, 4.7, italic=True)
KEY_LETTER = Style(24, 9, rank=5)
SMALL_KEY_LETTER = Style(17, 7, rank=5)
THUMB = Style(9.5, 4.4)


@dataclass(frozen=True, slots=True)
class Text:
    """Words in a style, as markup for the engraver; `words` are what the reader will see.

    `said` is read out in their place where signs stand among them.
    """

    style: Style
    words: str
    markup: str
    said: str = ""

    @property
    def notation(self) -> str:
        """What the engraver is given: a list of lines."""
        style = self.style
        return markup_list(self.markup, style.size, style.bold, style.italic)


@lru_cache(maxsize=8192)
def text(style: Style, words: str, width: float) -> Text:
    """Words of any origin, broken into lines of at most `width` millimetres; no markup where none is seen."""
    words = " ".join(_visible(words).split())
    if not words:
        return Text(style, "", "")
    if _needs_own_breaks(words, style, width):
        return Text(style, words, text_lines(_broken(words, style, width)))
    return Text(style, words, wrapped_text(words, width))


_SMALL_WORD = 3
"""Letters of a word that ends no line of a title: of, the, for."""


def halved(style: Style, words: str, width: float) -> Text | None:
    """Words in two lines of about the same length, no small word at the first one's end; None if none fit."""
    words = " ".join(_visible(words).split())
    gaps = [place for place, sign in enumerate(words) if sign == " "]
    good = [gap for gap in gaps if gap - words.rfind(" ", 0, gap) - 1 > _SMALL_WORD] or gaps
    ways = [(words[:gap], words[gap + 1 :]) for gap in good]
    ways = [lines for lines in ways if all(width_of(line, style) <= width for line in lines)]
    if not ways:
        return None
    best = min(ways, key=lambda lines: abs(width_of(lines[0], style) - width_of(lines[1], style)))
    return Text(style, words, text_lines(best))


def rule(style: Style, width: float) -> Text:
    """A thin line, `width` millimetres long."""
    return Text(style, "", writing_line(width))


def note_name(
    style: Style, letter: int, alter: int, octave: str = "", translation: Translation = TO_ENGLISH
) -> Text:
    """A note's letter (0 is C), its sharp or flat as a sign, and its octave small below the line.

    Where a language has a name for the altered note (`Fis`), that stands instead.
    """
    name = LETTERS[letter]
    said = f"{name} {_ALTER_WORDS[alter]} {octave}".rstrip() if alter else ""
    if names := translation.names:
        said = translation.note(said) if said else ""
        name, alter = (names.note(letter, alter), 0) if names.written else (names.notes[letter], alter)
    return Text(style, name + octave, letter_and_sign(name, alter, octave, style.size), said)


_ALTERS = {"flat": -1, "sharp": 1}
_ALTER_WORDS = {-2: "double flat", -1: "flat", 1: "sharp", 2: "double sharp"}


def spoken_name(style: Style, name: str, translation: Translation = TO_ENGLISH) -> Text:
    """The name of a note as it is said (`E flat`), with a sign for its accidental."""
    letter, _, accidental = name.partition(" ")
    alter = _ALTERS.get(accidental, 0)
    return note_name(style, LETTERS.index(letter), alter, translation=translation)


def tempo(style: Style, marking: Tempo, translation: Translation = TO_ENGLISH) -> Text:
    """The beat as a note and how many of it to a minute."""
    numbers = f"{marking.low}"
    if marking.low != marking.high:
        numbers = translation.say(phrase("{low} to {high}", low=marking.low, high=marking.high))
    words = f"= {numbers}"
    said = f"{translation.gettext(marking.beat.name)} {words}"
    return Text(style, words, note_and_text(marking.beat, words), said)


NUMBERS_A_BLOCK = 50
"""Numbers that `numeral` sets together."""


def numeral(style: Style, number: int) -> tuple[Text, int]:
    """A whole number from 1: a block of numbers, one a line, and its line there. Few pieces serve a book."""
    block, place = divmod(number - 1, NUMBERS_A_BLOCK)
    return _block(style, block * NUMBERS_A_BLOCK + 1), place


@lru_cache(maxsize=256)
def _block(style: Style, first: int) -> Text:
    lines = [str(each) for each in range(first, first + NUMBERS_A_BLOCK)]
    return Text(style, " ".join(lines), text_lines(lines))


def _visible(words: str) -> str:
    """Text without signs that steer a terminal or turn the direction of writing."""
    return "".join(
        sign if unicodedata.category(sign) not in ("Cc", "Cf", "Co", "Cs") else " " for sign in words
    )


def _is_wide(sign: str) -> bool:
    return unicodedata.east_asian_width(sign) in ("W", "F")


def width_of(words: str, style: Style) -> float:
    """A width in millimetres that words do not exceed: a full size for a wide sign, less for others."""
    face = 0.66 if style.bold else 0.58
    return (
        sum(1.0 if _is_wide(sign) else 0.95 if sign.isupper() else face for sign in words)
        * style.size
        * MM_PER_PRINTERS_POINT
    )


def shortened(words: str, style: Style, width: float) -> str:
    """Words that fit on one line of `width` millimetres, cut with three dots where they are too long."""
    if width_of(words, style) <= width:
        return words
    while words and width_of(words + "…", style) > width:
        words = words[:-1]
    return words.rstrip() + "…"


def _needs_own_breaks(words: str, style: Style, width: float) -> bool:
    """Whether there is a word wider than a line, or writing that puts no spaces between words."""
    return any(width_of(word, style) > width for word in words.split()) or any(map(_is_wide, words))


_NOT_FIRST = "、。，．・：；！？）」』】〕〉》ー々ぁぃぅぇぉっゃゅょァィゥェォッャュョ,.;:!?)]}"
"""Signs that begin no line, by the Japanese rules of composition (JIS X 4051), from memory."""


def _units(words: str, style: Style, width: float) -> Iterator[str]:
    """The least parts that a line may be broken between, a space kept at the end of its word."""
    for word in words.split(" "):
        unit = ""
        for sign in word:
            begins = (_is_wide(sign) or (unit and _is_wide(unit[-1]))) and sign not in _NOT_FIRST
            if unit and (begins or width_of(unit + sign, style) > width):
                yield unit
                unit = ""
            unit += sign
        yield unit + " "


def _broken(words: str, style: Style, width: float) -> Iterator[str]:
    line = ""
    for unit in _units(words, style, width):
        if line and width_of((line + unit).rstrip(), style) > width:
            yield line.rstrip()
            line = ""
        line += unit
    yield line.rstrip()


def broken(words: str, style: Style, width: float) -> list[str]:
    """Words as lines of at most `width` millimetres, measured with room to spare; one line at least."""
    return list(_broken(words, style, width))


def missing(words: str, shown: Iterable[str]) -> str:
    """The characters of words that no glyph stands for, each once; empty where all are there."""
    seen = set("".join(unicodedata.normalize("NFKD", part) for part in shown))
    wanted = dict.fromkeys(_visible(words))
    return "".join(
        sign
        for sign in wanted
        if not sign.isspace() and not seen.issuperset(unicodedata.normalize("NFKD", sign))
    )
