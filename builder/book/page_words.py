"""A score's words as a book prints them: in its language, its chords by the names that it gives to notes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from ..language.namings import ENGLISH, NAMINGS, Naming
from ..music.event import Event
from ..music.printed_words import PrintedWords, printed_words
from ..music.score import Score, each_event
from ..translation.catalog import ENGLISH as IN_ENGLISH
from ..translation.catalog import translation_to
from ..translation.said import Said


@dataclass(frozen=True, slots=True)
class PageWords:
    """A book's language, by its code, and how it names notes, by the name in NAMINGS."""

    language: str = IN_ENGLISH
    notes: str = ENGLISH.name

    def on(self, score: Score) -> Score:
        """The score with these words. What an author wrote stays as it is."""
        words = _words(self.language, self.notes)
        if self.language == IN_ENGLISH:
            return replace(score, words=words) if words != score.words else score
        say = translation_to(self.language).say

        def change(event: Event) -> Event:
            if not (isinstance(event.above, Said) or isinstance(event.below, Said)):
                return event
            return replace(event, above=say(event.above), below=say(event.below))

        lines = tuple(replace(line, bars=each_event(line.bars, change)) for line in score.lines)
        return replace(score, lines=lines, words=words)


PLAIN = PageWords()
"""English words."""


@lru_cache(maxsize=64)
def _words(language: str, notes: str) -> PrintedWords:
    return printed_words(translation_to(language).gettext, _roots(NAMINGS[notes]))


def _roots(naming: Naming) -> tuple[tuple[str, ...], ...]:
    """The roots of chords by their letters: `B` and `H`, or `si`, after which a sign is drawn."""
    if naming.is_english:
        return ()
    if naming.worded:
        return tuple((naming.note(letter, 0).capitalize(),) for letter in range(7))
    return tuple(tuple(naming.note(letter, alter) for alter in (-1, 0, 1)) for letter in range(7))
