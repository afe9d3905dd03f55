"""A user's text is text: it runs nothing in notation, adds nothing to pages, leads nowhere as a file name."""

from __future__ import annotations

import re
from collections.abc import Callable
from fractions import Fraction as F
from html.parser import HTMLParser
from pathlib import Path

import pytest
from conftest import write_book
from hypothesis import example, given
from hypothesis import strategies as st
from independent import Notation

from stavewright.cli import main
from stavewright.engrave.engraved_book import engrave_scores
from stavewright.engrave.markup import quoted
from stavewright.engrave.notation import notation
from stavewright.engrave.piece import Engraved
from stavewright.language.read import SUFFIX, slug_of
from stavewright.music.event import Event, Tempo, Value
from stavewright.music.keys import Key
from stavewright.music.pitch import Pitch
from stavewright.music.score import Bar, Meter, Score, Staff
from stavewright.music.winds.instruments import FLUTE

WriteBook = Callable[[dict[str, str | bytes]], Path]

HOSTILE = [
    'quote " and more',
    "back\\slash at the end\\",
    '\\" #(system "touch HERE") \\"',
    '"}} #(begin (system "touch HERE") (exit 7)) {{"',
    '#(call-with-output-file "HERE" (lambda (port) (display 1 port)))',
    '$(open-file "HERE" "w")',
    '\\include "/etc/passwd"',
    '\\markup { \\postscript "(HERE) (w) file closefile" }',
    "%{ a comment without end",
    "% the rest of the line",
    "<script>alert(1)</script>",
    "'; touch HERE; '",
    "$(touch HERE) `touch HERE`",
    "{{ 7 * 7 }} {% raw %}",
    "new\nline, tab\tand nul\x00",
    "\u202eright to left\u202c",
    "ünï — 日本語 — ‘quotes’",
]


def score_with(text: str) -> Score:
    """A score with a text in every place that can hold one."""
    whole = Value(F(1))
    note = Event(Pitch.parse("D5"), whole, above=text, below=text, syllable=text)
    line = Staff((Bar((note,), end="|."),))
    drone = Staff((Bar((Event(Pitch.parse("D4"), whole),)),), label=text, small=True)
    tempo = Tempo(Value(F(1, 4)), 60, 60)
    return Score(Key(1, 0), Meter(4, 4), tempo, (line, drone), FLUTE.compass)


def printable(text: str) -> str:
    """A text as it is printed: what cannot be seen is a space."""
    return "".join(character if character.isprintable() else " " for character in text)


# -- notation -------------------------------------------------------------------------------------------


@given(st.text())
@example('\\"')
@example("\\\\")
@example('#(exit)"')
def test_no_text_can_end_its_own_string(text: str) -> None:
    found = quoted(text)
    assert re.fullmatch(r'"(?:[^"\\\n]|\\["\\])*"', found)
    assert re.sub(r"\\(.)", r"\1", found[1:-1]) == printable(text)


@pytest.mark.parametrize("text", HOSTILE)
def test_notation_around_a_hostile_text_is_the_same_as_around_a_plain_one(text: str) -> None:
    def bare(source: str) -> str:
        """Notation with every string emptied."""
        return re.sub(r'"(?:[^"\\]|\\.)*"', '""', source)

    found = notation(score_with(text))
    assert bare(found) == bare(notation(score_with("plain")))
    sound = Notation(found).staves["Staff0"].sounds[0]
    assert sound.above.replace("\\\\", "\\") == printable(text)


def test_the_engraver_prints_hostile_texts_and_runs_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    target = tmp_path / "written-by-a-text"
    monkeypatch.chdir(tmp_path)
    music = {
        str(number): score_with(text.replace("HERE", str(target))) for number, text in enumerate(HOSTILE)
    }
    engravings = engrave_scores(music)
    assert [name for name in music if not isinstance(engravings[name], Engraved)] == []
    assert not target.exists()
    assert list(tmp_path.iterdir()) == []


def test_a_hostile_text_looks_as_it_is_written() -> None:
    """The same text with and without an attempt in it is not the same ink."""
    engravings = engrave_scores({"plain": score_with("x"), "scheme": score_with('#(display "x")')})
    drawings = [
        found.drawing.body for name in ("plain", "scheme") if isinstance(found := engravings[name], Engraved)
    ]
    assert len(drawings) == 2 and len(drawings[1]) > len(drawings[0])


# -- pages ----------------------------------------------------------------------------------------------

MARKUP = "<b title=\"x\" onclick='y()'>bold</b></title></script><script>alert(1)</script> & {{ 7 * 7 }}"
EVERYWHERE = f"""\
title: One {MARKUP}
kind: kind {MARKUP[:50]}
purpose: Purpose {MARKUP}
attend:
  - attend {MARKUP}
about: About {MARKUP}
source: Source {MARKUP}
rights: Rights {MARKUP}
home: D5 in D major
travel: semitones down from D5 to C#5
variations: evil <i>name</i> = slurred
music:
  h D5 above "{MARKUP.replace('"', "")[:80]}" E5
"""


class _Page(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.handlers: list[str] = []
        self.scripts: list[str] = []
        self.words = ""
        self._inside = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self._inside = tag
        self.handlers += [name for name, value in attrs if name.startswith("on")]
        self.handlers += [value for _, value in attrs if value and value.lower().startswith("javascript:")]

    def handle_endtag(self, tag: str) -> None:
        self._inside = ""

    def handle_data(self, data: str) -> None:
        if self._inside == "script":
            self.scripts.append(data)
        else:
            self.words += data


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, _Page]:
    """Every page of a book with markup in every field, read as a browser reads it."""
    folder = write_book(tmp_path_factory.mktemp("hostile") / "book", {"one": EVERYWHERE})
    config = folder / "mkdocs.yml"
    named = config.read_text(encoding="utf-8").replace(
        "A test's book", f"'Book {MARKUP.replace(chr(39), '')}'"
    )
    config.write_text(named, encoding="utf-8")
    assert main(["build", "--book", str(folder)]) == 0
    site = folder / "site"
    return {
        path.relative_to(site).as_posix(): _Page(path.read_text(encoding="utf-8"))
        for path in site.rglob("*.html")
    }


def test_no_page_has_an_element_or_a_script_from_a_text(pages: dict[str, _Page]) -> None:
    assert len(pages) > 15
    for name, found in pages.items():
        assert not {"b", "i"} & set(found.tags), name
        assert found.handlers == [], name
        assert not any(script.strip() == "alert(1)" for script in found.scripts), name


def test_the_words_are_on_the_pages_as_they_were_written(pages: dict[str, _Page]) -> None:
    exercise = pages["exercises/one/index.html"]
    for field in ("One", "Purpose", "attend", "About", "Source", "Rights"):
        assert f"{field} {MARKUP}" in exercise.words, field
    in_key = pages["exercises/one/d/index.html"]
    assert f"One {MARKUP}" in in_key.words
    assert "evil <i>name</i>" in in_key.words
    assert not any("49" in found.words and "7 * 7" not in found.words for found in pages.values())


# -- file names -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "name", ["..", "../x", "a/b", "a\\b", "/etc/passwd", "x\n", "con .", "~x", "$(x)", "x;y", "x\x00", "ａ"]
)
def test_a_name_that_would_lead_elsewhere_is_no_address(name: str) -> None:
    with pytest.raises(ValueError, match="small letters"):
        slug_of(name + SUFFIX)


def test_nothing_is_written_outside_the_site(book: WriteBook) -> None:
    folder = book({"one": EVERYWHERE})
    before = set(folder.parent.rglob("*"))
    assert main(["build", "--book", str(folder)]) == 0
    made = set(folder.parent.rglob("*")) - before
    assert made and all(path.is_relative_to(folder / "site") for path in made)
