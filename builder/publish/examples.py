"""The language's examples as music, for its page in the site and for the tests."""

from __future__ import annotations

from builder.engrave.batch import Engraved
from builder.engrave.notation import notation
from builder.language.read import Reading, read
from builder.language.words import WORDS
from builder.music.instruments import FLUTE
from builder.music.settings import settings

from .press import ink


def example_text(music: str) -> str:
    """A whole exercise around a few words of music, in D major from D5."""
    return f"title: Example\nhome: D5 in D major\nmusic:\n  {music}\n"


def example(music: str) -> Reading:
    """A few words of music, read as an exercise."""
    return read("example.warmup", example_text(music).encode())


def engraved_examples() -> dict[str, Engraved]:
    """Each word's example in ink, by the word. Raises ValueError where one cannot be read or engraved."""
    notations = {}
    for word in WORDS:
        exercise = example(word.example).exercise
        if exercise is None:
            raise ValueError(f"the example of {word.name!r} has faults")
        notations[word.name] = notation(settings(exercise, FLUTE)[0].score())
    found = {}
    for name, result in ink(notations).items():
        if not isinstance(result, Engraved):
            raise ValueError(f"the example of {name!r}: {result.said}")
        found[name] = result
    return found
