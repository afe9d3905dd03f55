"""Variations that contradict each other are refused, with what was probably meant."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_scores import refused

from stavewright.book.read import open_book
from stavewright.language.faults import BookFaults
from stavewright.variations import find
from stavewright.variations.conflicts import contradiction


@pytest.mark.parametrize(
    ("names", "meant"),
    [
        (("swell up", "swell down"), "swell from p to f to p"),
        (("swell down", "swell up"), "swell from f to p to f"),
        (("from silence", "to silence"), "swell from silence to mf to silence"),
        (("level pp", "swell up"), "swell from pp to p to f"),
        (("swell from p to ff", "swell down"), "swell from p to ff to f to p"),
    ],
)
def test_two_shapes_of_loudness_are_refused_with_what_was_meant(names: tuple[str, str], meant: str) -> None:
    found = contradiction(names)
    assert found is not None
    assert f"`{meant}`" in found[1]
    find(meant)


@pytest.mark.parametrize(
    "names",
    [
        ("without vibrato", "vibrato late"),
        ("slurred", "detached"),
        ("eight levels", "level p"),
        ("dotted", "reverse dotted"),
        ("upper octave first", "lower octave first"),
        ("slurred", "slurred"),
        ("vibrato late on last long note", "with vibrato"),
    ],
)
def test_variations_that_contradict_each_other(names: tuple[str, str]) -> None:
    assert contradiction(names) is not None


@pytest.mark.parametrize(
    "names",
    [
        ("slurred", "swell up", "without vibrato"),
        ("vibrato late on first long note", "vibrato fading on last long note"),
        ("without vibrato", "vibrato late on last long note"),
        ("doubled", "dotted"),
    ],
)
def test_variations_that_go_together(names: tuple[str, ...]) -> None:
    assert contradiction(names) is None


def test_tuplets_are_not_dotted() -> None:
    assert refused("tuplet( 5:4 e D5 E5 F#5 E5 D5 ) h E5", "dotted").startswith("no two neighbouring notes")


# -- in a book ------------------------------------------------------------------------------------------


def book(folder: Path, fields: str, options: str = "") -> Path:
    """A book of one exercise."""
    (folder / "exercises").mkdir()
    (folder / "mkdocs.yml").write_text(
        f"site_name: B\ndocs_dir: exercises\ntheme: {{name: stavewright}}\nplugins:\n  - stavewright:\n"
        f"      instruments: [flute]\n{options}"
    )
    text = f"title: T\nhome: D5 in D major\n{fields}music:\n  h D5 E5 | w F#5\n"
    (folder / "exercises" / "t.warmup").write_text(text)
    return folder


def faults(folder: Path) -> list[tuple[int, int, str, str]]:
    with pytest.raises(BookFaults) as raised:
        open_book(folder)
    return [(fault.line, fault.column, fault.what, fault.mend) for fault in raised.value.faults]


def test_a_contradiction_is_a_fault_with_its_place(tmp_path: Path) -> None:
    ((line, column, what, mend),) = faults(book(tmp_path, "variations: slurred, swell up + swell down\n"))
    assert (line, column) == (3, 22)
    assert what == "'swell up' and 'swell down' contradict each other: both say how loud each breath is"
    assert mend.startswith("write `swell from p to f to p`")


def test_a_contradiction_behind_a_book_s_own_name_is_found(tmp_path: Path) -> None:
    folder = book(tmp_path, "variations: evening + detached\n", "      variations: {evening: slurred}\n")
    ((_, _, what, _),) = faults(folder)
    assert what.startswith("'slurred' and 'detached' contradict each other")


@pytest.mark.parametrize(
    ("first", "second", "what"),
    [
        ("slurred", "without vibrato", "'slurred' cannot be read from the same staff as another way"),
        (
            "vibrato late",
            "vibrato fading",
            "both times have vibrato of their own in the notes, and one staff shows one",
        ),
        ("level p", "without vibrato", "one time has a dynamic and the other has not"),
        ("without vibrato", "without vibrato", "both times are played alike"),
        ("vibrato loud", "without vibrato", "unknown variation 'vibrato loud'"),
    ],
)
def test_two_times_that_one_staff_cannot_show(tmp_path: Path, first: str, second: str, what: str) -> None:
    fields = f"first time: {first}\nsecond time: {second}\n"
    assert [fault[2] for fault in faults(book(tmp_path, fields))] == [what]
