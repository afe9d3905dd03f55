"""Reads the catalogs, and says the book's words in a language.

A catalog is a file of gettext, `builder/locale/<language>/LC_MESSAGES/stavewright.po`. It is read as it is:
no step of the installation compiles it. A message that a catalog lacks is said in English.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from gettext import NullTranslations
from importlib.resources import files
from io import BytesIO
from typing import Any

from .note_names import NAMES, NoteNames
from .said import Said, noted

ENGLISH = "en"

LANGUAGES = (ENGLISH, "de", "es", "fr", "it", "nl")
"""The languages that a book can have: each but English has a catalog."""

_DOMAIN = "stavewright"

_DATE = noted("EEEE d MMMM")
"""The order of weekday, day and month, as CLDR writes a pattern."""

_ON_NOTE = noted("on {notes}")
"""How a key is called where there is none."""

SCRIPTS = "site_src/assets/"
"""Where a message of the site's scripts comes from, as a catalog names it."""


@dataclass(frozen=True, slots=True)
class Translation:
    """A language's words: `language` is its code, `catalog` its messages."""

    language: str = ENGLISH
    catalog: NullTranslations = field(default_factory=NullTranslations, repr=False, compare=False)

    @property
    def is_english(self) -> bool:
        """Whether there is nothing to translate."""
        return self.language == ENGLISH

    @property
    def names(self) -> NoteNames | None:
        """The names of notes and keys; None in English, where they are those of the music."""
        return NAMES.get(self.language)

    def gettext(self, message: str) -> str:
        """A message, or where the catalog lacks it, the same in English."""
        return self.catalog.gettext(message) if message else ""

    def pgettext(self, context: str, message: str) -> str:
        """A message as it is meant in a context."""
        return self.catalog.pgettext(context, message)

    def ngettext(self, one: str, many: str, count: float) -> str:
        """The message that goes with a count; a broken number takes the plural above 1."""
        if self.is_english or isinstance(count, int):
            return self.catalog.ngettext(one, many, count)  # type: ignore[arg-type]
        return self.catalog.ngettext(one, many, 1 if count <= 1 else 2)

    def say(self, said: str) -> str:
        """Words in this language; what is no `Said` is somebody's own words and stays as it is."""
        if not isinstance(said, Said):
            return said
        return str(said) if self.is_english else said.said_in(self)

    def within(self, noun: str) -> str:
        """A noun as it stands within a sentence: German alone writes it with a capital."""
        return noun if self.language == "de" else noun[:1].lower() + noun[1:]

    def note(self, name: str) -> str:
        """A note by its English name: `Fis5` for `F sharp 5`."""
        return self.names.spoken(name) if self.names else name

    def key(self, name: str) -> str:
        """A key by its English name: `h-Moll` for `B minor`."""
        if self.names is None:
            return name
        if name.startswith("on "):
            return self.gettext(_ON_NOTE).format(notes=self.note(name.removeprefix("on ")))
        return self.names.key(name)

    def date(self, on: date) -> str:
        """A day with its weekday and month, by the names of CLDR: `Freitag, 27. November`."""
        from babel.dates import format_date

        return str(format_date(on, self.gettext(_DATE), locale=self.language))

    def sign(self, letter: int, alter: int, english: str) -> str:
        """A note in short; `english` is what it is in English, `F♯`."""
        return self.names.sign(letter, alter) if self.names else english


TO_ENGLISH = Translation()
"""English: everything stays as it is."""


def _place(language: str) -> Any:
    return files("stavewright").joinpath("locale", language, "LC_MESSAGES", f"{_DOMAIN}.po")


@lru_cache(maxsize=len(LANGUAGES))
def _read(language: str) -> Any:
    """The messages of a language's catalog, as Babel has them."""
    # Babel takes time to load, and an English book needs none of it.
    from babel.messages.pofile import read_po

    with _place(language).open("rb") as file:
        return read_po(file, locale=language, domain=_DOMAIN)


@lru_cache(maxsize=len(LANGUAGES))
def translation_to(language: str) -> Translation:
    """What says the book's words in one of LANGUAGES; English for any other."""
    if language == ENGLISH or language not in LANGUAGES:
        return TO_ENGLISH
    from babel.messages.mofile import write_mo
    from babel.support import Translations

    compiled = BytesIO()
    write_mo(compiled, _read(language))
    compiled.seek(0)
    return Translation(language, Translations(compiled, _DOMAIN))


def missing(language: str) -> tuple[str, ...]:
    """The messages that a language's catalog does not translate, which are said in English."""
    if language == ENGLISH or language not in LANGUAGES:
        return ()
    return tuple(_name(message) for message in _messages(language) if not _is_whole(message))


def script_messages(language: str) -> dict[str, Any]:
    """The messages of the site's scripts: each is a text, or its forms for one and for many."""
    return {
        _name(message): message.string if isinstance(message.string, str) else list(message.string)
        for message in _messages(language)
        if _is_whole(message) and any(str(place).startswith(SCRIPTS) for place, _ in message.locations)
    }


def _messages(language: str) -> Iterator[Any]:
    return (message for message in _read(language) if message.id)


def _name(message: Any) -> str:
    return str(message.id if isinstance(message.id, str) else message.id[0])


def _is_whole(message: Any) -> bool:
    forms = (message.string,) if isinstance(message.string, str) else message.string
    return bool(forms) and all(forms) and not message.fuzzy
