"""Help for editors: faults, words and meanings at a place, and the server that an editor talks to.

pygls's own client speaks to the server, as the Language Server Protocol 3.17 says. textmate-grammar-python
colours texts by the grammar, as editors do.
"""

from __future__ import annotations

import asyncio
import json
import logging
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from lsprotocol import types as lsp
from pygls.lsp.client import LanguageClient
from textmate_grammar.parsers.base import LanguageParser

from stavewright.editing.checking import BookWords, end_of, faults_in, find_book, words_of
from stavewright.editing.help import choices_at, meaning_at
from stavewright.editing.places import field_at, item_at
from stavewright.editing.textmate import grammar, grammar_text
from stavewright.language.field_words import FIELDS
from stavewright.language.notes.figure_words import FIGURE_WORDS
from stavewright.language.words import GROUPS, MARKS
from stavewright.music.figures import FIGURES
from stavewright.variations import variations

ROOT = Path(__file__).parent.parent
TEXT = """title: Bell
home: D5 in D major
meter: 4/4
variations: slurred + swell up by last note, late = vibrato late, crescendo
# a remark
music:
  slur( h D5 mf h C#5 ) | h. D5 q D5 fermata above "slur(" ,   # slur(
  | scale( q up ) | w D5 hold
"""
ROWS = TEXT.split("\n")


def at(word: str, line: int, start: int = 0) -> tuple[int, int]:
    """The place of a word's second letter, or of its only one."""
    return line, ROWS[line].index(word, start) + (1 if len(word) > 1 else 0)


@pytest.mark.parametrize(
    ("place", "name"),
    [
        (at("title", 0), "title"),
        (at("swell up", 3), "swell up"),
        (at("last", 3), "swell up"),
        (at("vibrato", 3), "vibrato late"),
        (at("crescendo", 3), "swell up"),
        (at("slur", 6), "slur"),
        (at("C#5", 6), "C#5"),
        (at("mf", 6), "mf"),
        (at("h.", 6), "h."),
        (at("fermata", 6), "fermata"),
        (at(",", 6), ","),
        (at("|", 6), "|"),
        (at("scale", 7), "scale"),
        (at("hold", 7), "fermata"),
    ],
)
def test_what_a_word_means(place: tuple[int, int], name: str) -> None:
    found = meaning_at(ROWS, *place)
    assert found is not None
    assert found.name == name
    assert found.means
    assert found.example


@pytest.mark.parametrize(
    "place",
    [at("slur(", 6, 20), at("slur(", 6, 60), at("remark", 4), at("Bell", 0), (20, 0), at("late", 3)],
    ids=[
        "in quotes",
        "in a remark",
        "a line of remarks",
        "an author's words",
        "no line",
        "a name of one's own",
    ],
)
def test_other_words_mean_nothing(place: tuple[int, int]) -> None:
    assert meaning_at(ROWS, *place) is None


def test_every_word_of_the_language_has_its_meaning() -> None:
    for word in (*GROUPS, *MARKS, *FIGURES, "whole-tone"):
        found = meaning_at(["music:", f"  {word}( D5 )"], 1, 3)
        assert found is not None, word
        assert found.name == word
    for name in variations():
        found = meaning_at([f"variations: detached, {name} + slurred"], 0, 24)
        assert found is not None, name
        assert found.name == name
    for field in FIELDS:
        found = meaning_at([f"{field}: x"], 0, 1)
        assert found is not None, field
        assert found.name == field


def names(rows: list[str], named: tuple[str, ...] = ()) -> list[str]:
    """What may stand at the end of the last of some lines."""
    return [each.name for each in choices_at(rows, len(rows) - 1, len(rows[-1]), named)]


def test_a_line_begins_with_a_field_that_is_not_there_yet() -> None:
    found = names(["title: Bell", "upbeat: quarter", "mu"])
    assert found == [name for name in FIELDS if name not in ("title", "pickup")]


def test_ways_of_playing_are_offered_with_those_of_the_book() -> None:
    found = names(["variations: slurred + vib"], ("evening",))
    assert found == ["evening", *variations()]
    (late,) = (
        each for each in choices_at(["variations: slurred + vib"], 0, 25) if each.name == "vibrato late"
    )
    assert (late.written, late.start) == ("vibrato late", 22)


def test_words_of_the_music_are_offered() -> None:
    rows = ["music:", "  h D5 | sl"]
    found = {each.name: each for each in choices_at(rows, 1, 11)}
    assert {*GROUPS, *MARKS, *FIGURES, *FIGURE_WORDS, "rest", "long"} <= found.keys()
    assert (found["slur"].written, found["slur"].start) == ("slur( ", 9)
    assert found["fermata"].written == "fermata"


@pytest.mark.parametrize(
    "rows",
    [
        ["music:", '  h D5 above "sl'],
        ["music:", "  h D5  # sl"],
        ["music:", "  h D5 C#"],
        ["title: sl"],
        ["# sl"],
    ],
    ids=["quotes", "a remark", "an accidental", "an author's words", "a line of remarks"],
)
def test_nothing_is_offered_where_the_language_has_no_word(rows: list[str]) -> None:
    assert "slur" not in names(rows)
    assert "title" not in names(rows)


def test_words_of_short_fields_are_offered() -> None:
    assert "dorian" in names(["home: D5 in D do"])
    assert "fifths" in names(["travel: twelve keys, "])
    assert names(["doubles: "]) == ["keep"]


def test_a_field_goes_on_over_its_lines() -> None:
    assert field_at(ROWS, 7).name == "music"
    assert field_at(ROWS, 7).value == 0
    assert field_at(ROWS, 0).value == len("title:")
    assert field_at(["x", "  y"], 1).name == ""


def test_a_way_of_playing_is_found_between_its_signs() -> None:
    row = "variations: a b, c = d + e"
    said = [item_at(row, row.index(word), 11).text for word in "abcde"]
    assert said == ["a b", "a b", "c", "d", "e"]


def test_faults_name_their_word() -> None:
    text = TEXT.replace("fermata", "fermato").replace("vibrato late", "vibrato lately")
    (fault,) = faults_in("bell.warmup", text, BookWords())
    assert ROWS[fault.line - 1][fault.column - 1 :].startswith("fermata")
    assert fault.text[fault.column - 1 : end_of(fault) - 1] == "fermato"
    (wish,) = faults_in("bell.warmup", TEXT.replace("vibrato late", "vibrato lately"), BookWords())
    assert "vibrato lately" in wish.what


def test_a_book_s_own_ways_of_playing_are_known(tmp_path: Path) -> None:
    rows = "site_name: B\nplugins:\n  - stavewright:\n      variations: {evening: to silence}\n"
    (tmp_path / "mkdocs.yml").write_text(rows, encoding="utf-8")
    path = tmp_path / "exercises" / "bell.warmup"
    path.parent.mkdir()
    assert find_book(path) == tmp_path
    text = TEXT.replace("slurred + swell up by last note", "evening")
    assert faults_in("bell.warmup", text, BookWords())
    assert not faults_in("bell.warmup", text, words_of(tmp_path))
    assert not faults_in("bell.warmup", TEXT, BookWords())
    (tmp_path / "mkdocs.yml").write_text("site_name: [", encoding="utf-8")
    assert words_of(tmp_path) == BookWords()


# -- the server --------------------------------------------------------------------------------------------


async def talk(folder: Path) -> dict[str, Any]:
    """What an editor hears of an exercise with a fault, and after it is mended."""
    client = LanguageClient("test", "1")
    told: asyncio.Queue[list[lsp.Diagnostic]] = asyncio.Queue()

    @client.feature(lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)
    def published(found: lsp.PublishDiagnosticsParams) -> None:
        told.put_nowait(list(found.diagnostics))

    await client.start_io(sys.executable, "-m", "stavewright", "language-server")
    asked = lsp.InitializeParams(capabilities=lsp.ClientCapabilities())
    able = (await client.initialize_async(asked)).capabilities
    client.initialized(lsp.InitializedParams())
    uri = (folder / "bell.warmup").as_uri()
    # The bell takes two units of UTF-16, in which an editor counts.
    bad = TEXT.replace('"slur("', '"\U0001f514"').replace(" ,", " fermato")
    client.text_document_did_open(lsp.DidOpenTextDocumentParams(lsp.TextDocumentItem(uri, "warmup", 1, bad)))
    first = await asyncio.wait_for(told.get(), 60)
    named = lsp.VersionedTextDocumentIdentifier(2, uri)
    good = TEXT.replace("h. D5", "h.   D5")
    client.text_document_did_change(
        lsp.DidChangeTextDocumentParams(named, [lsp.TextDocumentContentChangeWholeDocument(good)])
    )
    second = await asyncio.wait_for(told.get(), 60)
    document = lsp.TextDocumentIdentifier(uri)
    hover = await client.text_document_hover_async(lsp.HoverParams(document, lsp.Position(6, 3)))
    words = await client.text_document_completion_async(lsp.CompletionParams(document, lsp.Position(6, 4)))
    options = lsp.FormattingOptions(2, True)
    edits = await client.text_document_formatting_async(lsp.DocumentFormattingParams(document, options))
    await client.shutdown_async(None)
    client.exit(None)
    await client.stop()
    return {"able": able, "first": first, "second": second, "hover": hover, "words": words, "edits": edits}


@pytest.mark.slow
def test_an_editor_is_helped(tmp_path: Path) -> None:
    # In a thread of its own: in this one a browser's loop may be at work.
    with ThreadPoolExecutor(1) as pool:
        found = pool.submit(asyncio.run, talk(tmp_path)).result()
    assert found["able"].hover_provider
    (fault,) = found["first"]
    row = '  slur( h D5 mf h C#5 ) | h. D5 q D5 fermata above ".." '
    assert fault.range.start == lsp.Position(6, len(row))
    assert fault.range.end.character - fault.range.start.character == len("fermato")
    assert "did you mean 'fermata'?" in fault.message
    assert found["second"] == []
    assert "tongue only the first note" in found["hover"].contents.value
    assert "slur" in [item.label for item in found["words"]]
    (edit,) = found["edits"]
    assert "| h. D5 q D5 fermata" in edit.new_text


# -- colours ------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def colours() -> LanguageParser:
    # It tells of every stretch that has no colour.
    logging.getLogger("textmate_grammar").setLevel(logging.ERROR)
    return LanguageParser(grammar())


def coloured(parser: LanguageParser, text: str) -> dict[str, str]:
    """Each stretch of a text that has a colour, and its colour's name without the language's."""
    found = parser.parse_string(text)
    assert found is not None
    rows = found.flatten()
    return {content: names[-1].removesuffix(".warmup") for _, content, names in rows}


def test_colors_say_what_words_are(colours: LanguageParser) -> None:
    found = coloured(colours, TEXT)
    expected = {
        "title": "entity.name.tag",
        "slurred": "support.function",
        "swell up": "support.function",
        "late": "entity.name.function",
        "slur": "keyword.control",
        "scale": "support.function",
        "D5": "variable.other",
        "C#5": "variable.other",
        "h": "constant.numeric",
        "h.": "constant.numeric",
        "mf": "constant.language",
        "fermata": "storage.modifier",
        '"slur("': "string.quoted.double",
        "# slur(": "comment.line.number-sign",
        "# a remark": "comment.line.number-sign",
    }
    assert {word: found.get(word) for word in expected} == expected


@pytest.mark.parametrize("path", sorted((ROOT / "exercises").glob("*.warmup")), ids=lambda path: path.stem)
def test_the_demo_book_has_no_word_of_music_without_a_color(path: Path, colours: LanguageParser) -> None:
    text = path.read_text(encoding="utf-8")
    found = coloured(colours, text)
    music = text[text.index("\nmusic") :]
    words = music.replace("(", "( ").split()
    names = {")", ",", "music:", "music", "rising:", "falling:"}
    assert {word for word in words if word not in found and word.rstrip("(,") not in found} - names == set()


def test_the_published_grammar_is_the_one_that_is_made() -> None:
    path = ROOT / "docs" / "warmup.tmLanguage.json"
    assert json.loads(path.read_text(encoding="utf-8")) == grammar()
    assert path.read_text(encoding="utf-8") == grammar_text()
