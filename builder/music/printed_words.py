"""Words on the page that no author wrote: in English, until a book says them in its language."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from ..translation.said import noted
from .pitch import LETTERS

MAY_BE_LEFT_OUT = noted("may be left out")
TIMES = noted("{count} times")
HELD_NOTES = noted("long notes as long as the breath, {shortest} to {longest} seconds")
CHORDS, VOICE, SECOND_STAFF = noted("Chords"), noted("Voice"), noted("Second staff")
KEYBOARD = noted("Keyboard")

PRINTED = (
    MAY_BE_LEFT_OUT,
    TIMES,
    HELD_NOTES,
    CHORDS,
    VOICE,
    SECOND_STAFF,
    KEYBOARD,
    noted("drone"),
    noted("sing"),
    noted("air"),
    noted("key click"),
)
"""All of them. Words that musicians of every country know, such as `flz.`, `rit.` and `D.C.`, stay."""


@dataclass(frozen=True, slots=True)
class PrintedWords:
    """The words of a score in a book's language, as pairs of the English and the other; none in English.

    `roots` are the names of chords' roots, by letter: three, from flat to sharp, or one that is followed by a
    sign; empty for the English letters.
    """

    said: tuple[tuple[str, str], ...] = ()
    roots: tuple[tuple[str, ...], ...] = ()

    def of(self, english: str) -> str:
        """One of PRINTED as it is said here; any other text as it is."""
        return next((said for word, said in self.said if word == english), english)

    def root(self, letter: int, alter: int) -> tuple[str, bool]:
        """The name of a chord's root, and whether a sign for its alteration follows it."""
        names = self.roots[letter] if self.roots else (LETTERS[letter],)
        is_whole = len(names) > 1 and abs(alter) < 2
        return names[alter + 1] if is_whole else names[len(names) // 2], bool(alter) and not is_whole


IN_ENGLISH = PrintedWords()


def printed_words(say: Callable[[str], str], roots: tuple[tuple[str, ...], ...] = ()) -> PrintedWords:
    """The words in another language, by the function that says a message in it."""
    said = ((word, say(word)) for word in PRINTED)
    return PrintedWords(tuple(pair for pair in said if pair[0] != pair[1]), roots)
