"""English words that know what they are made of, so that they can be said in another language later.

Each value is a `str`, the English words: who knows no other language uses it as any text. Music and books
make these values and know no language; what writes a page or a print passes them to `Translation.say`. A
method of `str` gives plain English back: what is made of such values is made by the functions here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date
from typing import Any, Protocol

from .. import plurals


class Speaker(Protocol):
    """What knows a language: see `stavewright.translation.catalog.Translation`."""

    def gettext(self, message: str) -> str:
        """A message."""

    def pgettext(self, context: str, message: str) -> str:
        """A message as it is meant in a context."""

    def ngettext(self, one: str, many: str, count: float) -> str:
        """The message that goes with a count."""

    def say(self, said: str) -> str:
        """Words in the language; what is no `Said` stays as it is."""

    def within(self, noun: str) -> str:
        """A noun as it stands within a sentence."""

    def note(self, name: str) -> str:
        """A note by its English name, such as `F sharp 5`."""

    def date(self, on: date) -> str:
        """A day with its weekday and month."""

    def key(self, name: str) -> str:
        """A key by its English name, such as `E flat major`."""


class Said(str):
    """English words, and what makes the same words in another language."""

    __slots__ = ("_in",)
    _in: tuple[Callable[..., str], tuple[Any, ...]]

    def __new__(cls, english: str, made_in: Callable[..., str], *values: Any) -> Said:
        """`made_in(speaker, *values)` gives the words in the speaker's language."""
        made = super().__new__(cls, english)
        made._in = made_in, values
        return made

    def said_in(self, speaker: Speaker) -> str:
        """The words in another language."""
        make, values = self._in
        return make(speaker, *values)

    def __reduce__(self) -> tuple[Any, ...]:
        make, values = self._in
        return Said, (str(self), make, *values)


def noted(message: str) -> str:
    """A message that stands in the catalogs; `Translation.gettext` is asked for it elsewhere."""
    return message


def phrase(message: str, /, **values: object) -> Said:
    """A message of the catalogs, its `{names}` replaced by values."""
    return Said(message.format(**values), _phrase_in, message, values)


def _phrase_in(speaker: Speaker, message: str, values: Mapping[str, object]) -> str:
    return speaker.gettext(message).format(**_said_values(speaker, values))


def counted(one: str, many: str, count: float, /, **values: object) -> Said:
    """The message that goes with a count, which is its `{count}` unless `values` give another."""
    values = {"count": count, **values}
    return Said((one if count == 1 else many).format(**values), _counted_in, one, many, count, values)


def _counted_in(speaker: Speaker, one: str, many: str, count: float, values: Mapping[str, object]) -> str:
    return speaker.ngettext(one, many, count).format(**_said_values(speaker, values))


def _said_values(speaker: Speaker, values: Mapping[str, object]) -> dict[str, object]:
    return {name: speaker.say(value) if isinstance(value, str) else value for name, value in values.items()}


def term(word: str) -> Said:
    """A word that the catalogs have as it is, such as the name of a register; an author's own stays hers."""
    return Said(word, _term_in, word)


def _term_in(speaker: Speaker, word: str) -> str:
    return speaker.gettext(word) if word else ""


def player(name: str, said: str) -> Said:
    """An instrument within a sentence, by its `name`; `said` is that in English, `clarinet in B flat`."""
    return Said(said, _player_in, name)


def _player_in(speaker: Speaker, name: str) -> str:
    return speaker.within(speaker.gettext(name))


def term_in(context: str, word: str) -> Said:
    """A word that other languages say in different ways; `context` tells the translator which is meant."""
    return Said(word, _term_in_context, context, word)


def _term_in_context(speaker: Speaker, context: str, word: str) -> str:
    return speaker.pgettext(context, word)


def joined(parts: Iterable[str], between: str = " ") -> Said:
    """Words one after the other; empty ones are left out."""
    found = tuple(filter(None, parts))
    return Said(between.join(found), _joined_in, between, found)


def _joined_in(speaker: Speaker, between: str, parts: Sequence[str]) -> str:
    return between.join(map(speaker.say, parts))


def listed(parts: Iterable[str]) -> Said:
    """`slurred, detached and swell up`; empty for none."""
    found = tuple(parts)
    return Said(plurals.listed(found), _listed_in, found)


def _listed_in(speaker: Speaker, parts: Sequence[str]) -> str:
    return plurals.listed([speaker.say(part) for part in parts], speaker.gettext(_AND))


_AND = noted(" and ")


def capital(said: str) -> Said:
    """The same words, the first letter a capital."""
    return Said(said[:1].upper() + said[1:], _capital_in, said)


def _capital_in(speaker: Speaker, said: str) -> str:
    words = speaker.say(said)
    return words[:1].upper() + words[1:]


def clause(sentence: str) -> Said:
    """A sentence without its full stop, to go on from."""
    return Said(sentence.rstrip("."), _clause_in, sentence)


def _clause_in(speaker: Speaker, sentence: str) -> str:
    return speaker.say(sentence).rstrip(".")


def dated(english: str, on: date) -> Said:
    """A day with its weekday and month; `english` is how English has it."""
    return Said(english, _date_in, on)


def _date_in(speaker: Speaker, on: date) -> str:
    return speaker.date(on)


def note_name(name: str) -> Said:
    """A note by its English name: `E flat`, `F sharp 5`."""
    return Said(name, _note_in, name)


def _note_in(speaker: Speaker, name: str) -> str:
    return speaker.note(name)


def key_name(name: str) -> Said:
    """A key by its English name: `E flat major`; `on E flat` where there is no key."""
    return Said(name, _key_in, name)


def _key_in(speaker: Speaker, name: str) -> str:
    return speaker.key(name)


NOTHING = joined(())
"""No words."""
