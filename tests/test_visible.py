"""What is quoted is shown and never obeyed: no character without ink reaches a terminal."""

from __future__ import annotations

import sys
import unicodedata
from collections.abc import Callable
from pathlib import Path

import pytest

from stavewright.cli import main
from stavewright.language.read import read
from stavewright.visible import columns, shown, visible, visible_rows

WriteBook = Callable[[dict[str, str | bytes]], Path]
Tiny = Callable[[str], str]

HOSTILE = "\x1b]0;OWNED\x07\x1b[2J\x7f\x9b1m\u202eabc\u2066\u200f\u061c\u200b\u2028\ufeff\U000e0041"


def hidden(text: str) -> set[str]:
    """The characters of a message that have no ink (Unicode's general categories), line ends apart."""
    return {each for each in text if each != "\n" and unicodedata.category(each)[0] == "C"} | (
        set(text) & {"\u2028", "\u2029"}
    )


def test_every_character_has_ink_or_an_escape() -> None:
    for code in range(sys.maxunicode + 1):
        character = chr(code)
        said = visible(character)
        if unicodedata.category(character) in ("Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"):
            assert said.isascii() and said.startswith("\\")
            said.encode("ascii")
        else:
            assert said == character or said == f"\\u{{{code:04X}}}"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("\x1b[2J", r"\x1b[2J"),
        ("a\u202eb", r"a\u{202E}b"),
        ("a\tb\nc\rd", r"a\tb\nc\rd"),
        ("\U000e0041\udc80\u200b", r"\u{E0041}\u{DC80}\u{200B}"),
        ("Ünï — 日本語 e\u0301 ♭", "Ünï — 日本語 e\u0301 ♭"),
        ("\u3164\u2800", r"\u{3164}\u{2800}"),
    ],
)
def test_what_has_no_ink_is_escaped(text: str, said: str) -> None:
    assert visible(text) == visible(visible(text)) == said


def test_a_message_keeps_its_lines() -> None:
    assert visible_rows("a\x07\nb") == "a\\x07\nb"


def test_a_quoted_text_is_cut_and_quoted() -> None:
    assert shown("it's") == '"it\'s"'
    assert shown("x" * 50) == f"'{'x' * 40}...'"
    assert shown("\x07" * 50, 2) == r"'\x07\x07...'"


def test_columns_of_a_terminal() -> None:
    assert [columns(text) for text in ("abc", "漢字", "ＡＢ", "e\u0301", "é", "")] == [3, 4, 4, 1, 1, 0]


@pytest.mark.parametrize(
    ("music", "word"),
    [
        ("h D5 漢字 E5", "漢字"),
        ('h D5 above "漢字かな" stacato E5', "stacato"),
        ('h D5 above "e\u0301e\u0301" stacato E5', "stacato"),
        ("h D5\tstacato E5", "stacato"),
        ('h D5 above "a\u200bb" stacato E5', "stacato"),
    ],
)
def test_the_caret_stands_below_its_place(music: str, word: str) -> None:
    (fault,) = read("e.warmup", f"title: T\nhome: D5 in D major\nmusic: {music}\n".encode()).faults
    row, caret = fault.excerpt().split("\n")
    assert columns(row[: row.index(word)]) == caret.index("^") == len(caret) - 1


@pytest.mark.parametrize(
    "text",
    [
        f"title: {HOSTILE}\nhome: D5 in D major\nmusic: w D5\n",
        f"{HOSTILE}: x\n",
        f"title: T\nhome: {HOSTILE}\nmusic: w {HOSTILE} D5\n",
        "title: T\nhome: D5 in D major\nspelling: a\u200bb\nmusic: w D5 a\u200bb zz\u200b( D5 )\n",
    ],
)
def test_a_fault_shows_what_a_file_holds(
    text: str, book: WriteBook, tiny: Tiny, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = book({"one": tiny("One"), "bad": text})
    assert main(["check", "--book", str(folder)]) == 1
    said = capsys.readouterr()
    assert hidden(said.out + said.err) == set()
    assert "\\" in said.out


@pytest.mark.parametrize(
    "arguments",
    [
        ["print", "--key", HOSTILE, "-o", "x.pdf"],
        ["print", "--exercise", HOSTILE, "-o", "x.pdf"],
        ["print", "--all", "--variations", HOSTILE, "-o", "x.pdf"],
        ["print", "--all", "--paper", HOSTILE, "-o", "x.pdf"],
        ["print", "--set", HOSTILE, "-o", "x.pdf"],
        ["print", "--all", "-o", f"{HOSTILE}/x.pdf"],
        ["daily", "--minutes", HOSTILE],
        ["daily", "--minutes", "5", "--from", HOSTILE],
        ["daily", "--minutes", "5", "--level", HOSTILE],
        ["export", "--midi", "--instrument", HOSTILE, "-o", "x"],
        ["new", HOSTILE],
        ["check", HOSTILE],
        [HOSTILE],
    ],
    ids=lambda arguments: " ".join(arguments).encode("ascii", "replace").decode()[:20],
)
def test_a_message_shows_what_an_argument_holds(
    arguments: list[str], book: WriteBook, tiny: Tiny, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = book({"one": tiny("One")})
    try:
        status = main([*arguments, "--book", str(folder)] if len(arguments) > 1 else arguments)
    except SystemExit as left:
        status = int(left.code or 0)
    assert status == 2
    said = capsys.readouterr()
    assert hidden(said.out + said.err) == set()
    assert r"\x1b" in said.out + said.err


@pytest.mark.slow
@pytest.mark.parametrize("command", ["check", "build", "print"])
def test_a_message_shows_what_a_folder_is_called(
    command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = str(tmp_path / "a\x1b[2Jb\u202e\nc\udc80")
    more = ["--all", "-o", str(tmp_path / "x.pdf")] if command == "print" else []
    assert main([command, *more, "--book", folder]) == 1
    said = capsys.readouterr().err
    assert hidden(said) == set()
    assert r"a\x1b[2Jb\u{202E}\nc\u{DC80}" in said


@pytest.mark.parametrize(
    "options",
    [
        r'{instruments: ["\e[2J\u202E"]}',
        r'{tops: {"\e[2J\u202E": A6}}',
        r'{level: "\e[2J\u202E"}',
        r'{exercises: "\e[2J\u202E"}',
        r'{breath_seconds: "\e[2J\u202E"}',
        r'{variations: {"\e[2J\u202E": zz}}',
        r'{variations: {a: "\e[2J\u202E"}}',
    ],
)
def test_a_message_shows_what_an_option_holds(
    options: str, book: WriteBook, tiny: Tiny, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = book({"one": tiny("One")})
    (folder / "mkdocs.yml").write_text(f"site_name: T\nplugins:\n  - stavewright: {options}\n")
    assert main(["check", "--book", str(folder)]) == 1
    said = capsys.readouterr()
    assert hidden(said.out + said.err) == set()
    assert r"\x1b[2J\u{202E}" in said.out + said.err
