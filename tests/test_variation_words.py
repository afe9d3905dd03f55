"""What a fault says of a variation's words, for each variation there is, and of vibrato around nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from stavewright.book.read import read_book
from stavewright.language.faults import BookFaults, Fault
from stavewright.variations import variations
from stavewright.views.language_page import example

HEAD = "title: Bell\nhome: D5 in D major\n"


def faults(folder: Path, wish: str) -> tuple[Fault, ...]:
    """The faults of a book whose one exercise asks for one variation."""
    home = folder / "exercises"
    home.mkdir()
    (home / "bell.warmup").write_text(f"{HEAD}variations: {wish}\nmusic: w D5\n", encoding="utf-8")
    with pytest.raises(BookFaults) as found:
        read_book(folder, "Book", {})
    return found.value.faults


@pytest.mark.parametrize("name", variations())
def test_words_that_say_nothing_to_a_variation(tmp_path: Path, name: str) -> None:
    """The message stands at the wish and shows how that variation is written."""
    (fault,) = faults(tmp_path, f"{name} sideways")
    written = f"{name} {variations()[name].takes}".strip()
    assert str(fault) == (
        f"exercises/bell.warmup:3:13: '{name} sideways' cannot be read; '{name}' is written `{written}`"
    )


@pytest.mark.parametrize("name", [name for name, found in variations().items() if not found.understands("")])
def test_words_that_a_variation_must_have(tmp_path: Path, name: str) -> None:
    """A variation that needs words is not read without them."""
    (fault,) = faults(tmp_path, name)
    assert str(fault) == (
        f"exercises/bell.warmup:3:13: '{name}' cannot be read; "
        f"'{name}' is written `{name} {variations()[name].takes}`"
    )


@pytest.mark.parametrize("word", ["vibrato", "late-vibrato", "fading-vibrato"])
def test_vibrato_around_nothing(word: str) -> None:
    """Empty brackets are a fault at their word."""
    (fault,) = example(f"{word}( ) w D5").faults
    assert str(fault) == f"example.warmup:5:3: there are no notes in `{word}( )`; put notes in it"
