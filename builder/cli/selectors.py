"""What a command line names of a book, and what to say where there is no such thing."""

from __future__ import annotations

from collections.abc import Sequence

from ..book.options import PAPERS
from ..language.faults import nearest
from ..music.keys import KEY_SLUGS, key_class
from ..variations.printed_names import by_printed_name
from ..visible import shown


class WrongUse(Exception):
    """Raised where the command line asks for something that does not exist."""


def key_wish(words: str) -> str:
    """The key page that a player's word for a key names. Raises WrongUse."""
    found = key_class(words)
    if found is None:
        raise WrongUse(unknown("key", words, KEY_SLUGS))
    return KEY_SLUGS[found]


def split_lists(wishes: Sequence[str]) -> tuple[str, ...]:
    """What options given several times name, each a list with commas, in the order given and each once."""
    parts = (" ".join(part.split()) for wish in wishes for part in wish.split(","))
    return tuple(dict.fromkeys(filter(None, parts)))


def known(kind: str, word: str | None, names: Sequence[str]) -> str:
    """The word where it is one of the names, or an empty string where none was given. Raises WrongUse."""
    if word and word not in names:
        raise WrongUse(unknown(kind, word, names))
    return word or ""


def paper_wish(word: str | None) -> str:
    """The paper that a command line names, in small or large letters. Raises WrongUse."""
    return known("paper", word.lower() if word else None, PAPERS)


def variations_wish(wish: str | None, names: tuple[str, ...]) -> tuple[str, ...]:
    """The variations that a list with commas names, also as a book prints them. Raises WrongUse."""
    printed = by_printed_name(names)
    wanted = (word if word in names else printed.get(word, word) for word in split_lists([wish or ""]))
    return all_known("variation", tuple(dict.fromkeys(wanted)), names)


def all_known(kind: str, wanted: tuple[str, ...], names: Sequence[str]) -> tuple[str, ...]:
    """The words, each of them one of the names. Raises WrongUse."""
    for word in wanted:
        known(kind, word, names)
    return wanted


def unknown(kind: str, word: str, names: Sequence[str]) -> str:
    """What to say of a name that is not there."""
    guess = nearest(word, names)
    mend = f"did you mean {shown(guess)}? " if guess else ""
    return f"unknown {kind} {shown(word, 60)}; {mend}there are: {', '.join(names)}"
