"""The order of a book: sorted titles, and the list that its author gives."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stavewright.book.contents import REST, Section, arrange, exercises_in, read_contents, with_only
from stavewright.book.own_pages import OwnPage
from stavewright.book.read import open_book
from stavewright.book.sorting import title_order
from stavewright.language.faults import BookFaults

WriteBook = Callable[[dict[str, str | bytes]], Path]
Tiny = Callable[[str], str]

SORTED = [
    "Æolian",
    "air",
    "Ärger",
    "Dorian",
    "éclair",
    "Éclair",
    "Etude",
    "Étude",
    "Łódź",
    "Mother",
    "Øre",
    "Ører",
    "Straße",
    "Strassen",
    "Übung",
    "Ubungen",
    "Without",
    "Zoo",
    "Άνοιξη",
    "άνοιξις",
    "Βράδυ",
    "Весна",
    "Зима",
    "Йод",
]
"""In the default order of the Unicode Collation Algorithm (DUCET), by pyuca 1.2."""


def test_titles_are_sorted_as_a_reader_looks_for_them() -> None:
    assert sorted(set(SORTED), key=title_order) == SORTED


@given(st.text(max_size=20))
def test_how_a_letter_is_composed_does_not_matter(title: str) -> None:
    apart = title_order(unicodedata.normalize("NFD", title))
    assert title_order(unicodedata.normalize("NFC", title))[:2] == apart[:2]


PREFACE = OwnPage("preface.md", "Preface", ())


def test_the_list_is_the_order_and_the_rest_follows() -> None:
    entries, problems = read_contents(["preface.md", "c", "b", {"Far away": ["e", "a"]}, "f"])
    assert problems == []
    found = arrange(entries, "abcdef", {"preface.md": PREFACE})
    assert found == (
        PREFACE,
        Section("", ("c", "b")),
        Section("Far away", ("e", "a")),
        Section("", ("f",)),
        Section(REST, ("d",)),
    )
    assert exercises_in(found) == ("c", "b", "e", "a", "f", "d")
    assert with_only(found, "bd") == (PREFACE, Section("", ("b",)), Section(REST, ("d",)))


def test_without_chapters_the_rest_has_no_heading() -> None:
    entries, _ = read_contents(["c"])
    assert arrange(entries, "abc", {}) == (Section("", ("c", "a", "b")),)
    entries, _ = read_contents(["c", "preface.md"])
    found = arrange(entries, "abc", {"preface.md": PREFACE})
    assert found == (Section("", ("c",)), PREFACE, Section("", ("a", "b")))
    assert arrange((), "abc", {}) == ()


HEAD = (
    "site_name: T\ndocs_dir: pages\ntheme: {name: stavewright}\nplugins:\n  - stavewright:\n      contents:\n"
)

FAULTS = {
    "[slow-tid]": "7:10: contents: there is no exercise 'slow-tid'; did you mean 'slow-tide'?",
    "[preface]": "7:10: contents: there is no exercise 'preface'; did you mean 'preface.md'?",
    "[xyz]": "7:10: contents: there is no exercise 'xyz'; write the name of its file without .warmup",
    "[slow-tide.warmup]": "7:10: contents: there is no exercise 'slow-tide.warmup'; "
    "did you mean 'slow-tide'?",
    "[prefac.md]": "7:10: contents: there is no page 'prefac.md'; did you mean 'preface.md'?",
    "[../mkdocs.md]": "7:10: contents: there is no page '../mkdocs.md'; "
    "put it into the folder that `docs_dir` names",
    "[index.md]": "7:10: contents: index.md is shown on the home page already; "
    "leave it out, or give the page another name",
    "[slow-tide, far, slow-tide]": "7:26: contents: 'slow-tide' is named twice; name it once",
    "[preface.md, preface.md]": "7:22: contents: 'preface.md' is named twice; name it once",
    "[far, Low: [far]]": "7:21: contents: 'far' is named twice; name it once",
    "[Low: [slow-tide], Low: [far]]": "7:28: contents: there are two chapters 'Low'; "
    "give one of them another title, or join them",
    "[Low: [slow-tid]]": "7:16: contents: there is no exercise 'slow-tid'; did you mean 'slow-tide'?",
    "[Low: [preface.md]]": "7:16: contents: the page 'preface.md' stands within a chapter, "
    "which holds exercises alone; name it before the chapter or after it",
    "[Low: [High: [far]]]": "7:16: contents: a chapter lies within a chapter; set it as far out as the other",
    "[Low: far]": "7:10: contents: the chapter 'Low' lists no exercises; "
    "write a chapter as in `- Long tones: [slow-tide, far-shore]`",
    "[Low: []]": "7:10: contents: the chapter 'Low' lists no exercises; "
    "write a chapter as in `- Long tones: [slow-tide, far-shore]`",
    "[{Low: [far], High: [slow-tide]}]": "7:10: contents: a chapter has one title here; "
    "write a chapter as in `- Long tones: [slow-tide, far-shore]`, each after a dash of its own",
    "[1: [far]]": "7:10: contents: the chapter's title '1' is not text; write it in quotation marks",
    "[12]": "7:10: contents: '12' is not text; write it in quotation marks",
    "[[far]]": "7:10: contents: this names neither an exercise nor a page; write one entry a line, "
    "each after a dash: an exercise, a page such as `preface.md`, or a chapter",
    "{Low: [far]}": "7:9: contents: this is not a list; write one entry a line, "
    "each after a dash: an exercise, a page such as `preface.md`, or a chapter",
}


@pytest.fixture
def folder(book: WriteBook, tiny: Tiny) -> Path:
    """A book of two exercises and a page."""
    found = book({"slow-tide": tiny("Without"), "far": tiny("Übung")})
    (found / "pages/preface.md").write_text("# Before you begin\n\nBreathe.\n", encoding="utf-8")
    return found


@pytest.mark.parametrize("listed", FAULTS)
def test_each_fault_is_told_at_its_place(listed: str, folder: Path) -> None:
    (folder / "mkdocs.yml").write_text(f"{HEAD}        {listed}\n", encoding="utf-8")
    with pytest.raises(BookFaults) as raised:
        open_book(folder)
    assert list(map(str, raised.value.faults)) == [f"mkdocs.yml:{FAULTS[listed]}"]


def test_an_exercise_with_a_fault_of_its_own_is_there(folder: Path) -> None:
    (folder / "mkdocs.yml").write_text(f"{HEAD}        [far]\n", encoding="utf-8")
    (folder / "exercises/far.warmup").write_text("title: Far\n", encoding="utf-8")
    with pytest.raises(BookFaults) as raised:
        open_book(folder)
    assert {fault.file for fault in raised.value.faults} == {"exercises/far.warmup"}


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"caf\xe9", "the file is not UTF-8 text; save it from your editor with the encoding UTF-8"),
        (b"x" * 1_000_000, "the page is larger than"),
        (b"[" * 20_000, "the page has '[' more than 2,000 times; divide it into several"),
    ],
    ids=["bytes", "size", "brackets"],
)
def test_a_page_that_cannot_be_read_is_a_fault(data: bytes, said: str, folder: Path) -> None:
    (folder / "mkdocs.yml").write_text(f"{HEAD}        [preface.md]\n", encoding="utf-8")
    (folder / "pages/preface.md").write_bytes(data)
    with pytest.raises(BookFaults) as raised:
        open_book(folder)
    [fault] = raised.value.faults
    assert str(fault).startswith(f"pages/preface.md:1:1: {said}")


def test_a_book_is_in_its_author_s_order(folder: Path) -> None:
    assert [each.title for each in open_book(folder).exercises] == ["Übung", "Without"]
    assert open_book(folder).contents == ()
    (folder / "mkdocs.yml").write_text(
        f"{HEAD}        [slow-tide, preface.md, Low: [far]]\n", encoding="utf-8"
    )
    found = open_book(folder)
    assert [each.title for each in found.exercises] == ["Without", "Übung"]
    first, page, last = found.contents
    assert (first, last) == (Section("", ("slow-tide",)), Section("Low", ("far",)))
    assert isinstance(page, OwnPage)
    assert (page.file, page.title) == ("preface.md", "Before you begin")


def test_a_private_exercise_is_left_out_of_the_published_order(folder: Path, tiny: Tiny) -> None:
    private = tiny("Übung").replace("written for this test, public domain", "private")
    (folder / "exercises/far.warmup").write_text(private, encoding="utf-8")
    (folder / "mkdocs.yml").write_text(f"{HEAD}        [slow-tide, Low: [far]]\n", encoding="utf-8")
    assert open_book(folder).published_contents == (Section("", ("slow-tide",)),)
