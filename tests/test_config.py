"""mkdocs.yml is read once and in one way: its faults at their places, and one book for every command."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mkdocs.config import load_config
from mkdocs.exceptions import Abort, MkDocsException, PluginError
from mkdocs.utils.yaml import yaml_load

from stavewright.book.config import read_config_file
from stavewright.book.options import DEFAULTS
from stavewright.book.options import PAPERS as NAMES
from stavewright.book.read import BookProblem, open_book, read_config
from stavewright.cli import main
from stavewright.language.faults import BookFaults
from stavewright.paper.page_format import PAPERS
from stavewright.site.plugin import StavewrightPlugin
from stavewright.site.settings import PluginConfig, site_faults

WriteBook = Callable[[dict[str, str | bytes]], Path]
Tiny = Callable[[str], str]

HEAD = "site_name: T\ndocs_dir: pages\ntheme: {name: stavewright}\n"
LISTED = "plugins: [stavewright]\n"
OPTIONS = f"{HEAD}plugins:\n  - stavewright:\n"
BOMB = "a: &a [1, 1, 1, 1, 1, 1, 1, 1, 1]\n" + "".join(
    f"{name}: &{name} [{', '.join([f'*{before}'] * 9)}]\n"
    for before, name in zip("abcde", "bcdef", strict=True)
)
DEEP = "x: &a [[[[[[[[[[[[[[[[[[[[[[[[[]]]]]]]]]]]]]]]]]]]]]]]]]\ny: [[[[[[[[[[[[[[[[*a]]]]]]]]]]]]]]]]\n"


@pytest.fixture
def folder(book: WriteBook, tiny: Tiny) -> Path:
    """A small book whose mkdocs.yml a test writes."""
    return book({"one": tiny("One")})


FAULTS = {
    # How the plugin is named.
    f"{HEAD}plugins: 5\n": "4:10: plugins: '5' is not a list; write it as in `plugins: [stavewright]`",
    f"{HEAD}plugins: [{{stavewright: x}}]\n": "4:25: stavewright: 'x' is not a list of options; "
    "write them one a line below it, set in, such as `instruments: [flute]`",
    f"{HEAD}plugins: [search]\n": "4:10: the plugin stavewright is not listed, so this is not a book; "
    "add it, as in `plugins: [stavewright]`",
    HEAD: "1:1: the plugin stavewright is not listed, so this is not a book; "
    "add it, as in `plugins: [stavewright]`",
    f"{HEAD}plugins: [stavewright, stavewright]\n": "4:24: plugins: stavewright is named twice; keep one",
    f"{HEAD}plugins: [serch, stavewright]\n": "4:11: plugins: 'serch' is not installed; "
    "did you mean 'search'?",
    # Options.
    f"{OPTIONS}      instrument: [flute]\n": "6:7: unknown option 'instrument'; did you mean 'instruments'?",
    f"{OPTIONS}      paper: a5\n": "6:14: paper: unknown paper 'a5'; write a4 or letter",
    f"{OPTIONS}      paper: lettre\n": "6:14: paper: unknown paper 'lettre'; did you mean 'letter'?",
    f"{OPTIONS}      papers: [a4, a5]\n": "6:20: papers: unknown paper 'a5'; "
    "write a list of a4 and letter, as in `papers: [a4]`",
    f"{OPTIONS}      papers: []\n": "6:15: papers: this is not a list of papers; "
    "write a list of a4 and letter, as in `papers: [a4]`",
    f"{OPTIONS}      paper: letter\n      papers: a4\n": "7:15: papers: "
    "the book's own paper, letter, is missing; add it, as in `papers: [letter]`",
    f"{OPTIONS}      jobs: many\n": "6:13: jobs: 'many' is not a number of engravers; "
    "give a whole number from 1 to 1000",
    f"{OPTIONS}      variations: {{evening: slured}}\n": "6:29: variations: evening: "
    "unknown variation 'slured'; did you mean 'slurred'?",
    f"{OPTIONS}      instruments: [flute, flut]\n": "6:28: unknown instrument 'flut'; did you mean 'flute'?",
    f"{OPTIONS}      paper: a4\n      paper: letter\n": "7:7: the name 'paper' appears a second time; "
    "keep one; the first is on line 6",
    f"{OPTIONS}      paper: !!python/name:os.system\n": "6:14: paper: "
    "the tag `!!python/name:os.system` is not obeyed here; write the value plainly",
    f"{OPTIONS}      exercises: [a]\n": "6:18: exercises: this is not a folder's name; "
    "name a folder in the book, such as `exercises`",
    f"{OPTIONS}      contents: one\n": "6:17: contents: this is not a list; write one entry a line, "
    "each after a dash: an exercise, a page such as `preface.md`, or a chapter",
    f"{OPTIONS}      contents: [{{Day: [one]}}, {{day: [two]}}]\n": "6:33: contents: "
    "there are two chapters 'day'; give one of them another title, or join them",
    # What MkDocs itself would refuse.
    HEAD.replace("docs_dir: pages\n", "")
    + LISTED: "1:1: docs_dir: the path '{folder}/docs' isn't an existing "
    "directory; make it, or name the folder of your own pages, as in `docs_dir: exercises`",
    HEAD.replace("name: stavewright", "name: slate")
    + LISTED: "3:8: theme: the pages of a book are made with "
    "the theme stavewright; write `theme: {{name: stavewright}}`",
    f"{HEAD}{LISTED}site_url: nonsense\n": "5:11: site_url: 'nonsense' is not an address; "
    "write it as in `site_url: https://example.org/book/`",
    f'{HEAD}{LISTED}site_url: "https://a.org/\\nX:y"\n': "5:11: site_url: "
    "'https://a.org/\\nX:y' is not an address; write it as in `site_url: https://example.org/book/`",
    f"{HEAD}{LISTED}dev_addr: here\n": "5:11: dev_addr: must be a string of format 'IP:PORT'; "
    "write it as in `dev_addr: 127.0.0.1:8000`",
    f"{HEAD}{LISTED}site_nme: x\n": "5:1: MkDocs has no setting 'site_nme'; did you mean 'site_name'?",
    f"{HEAD}{LISTED}markdown_extensions: [tocc]\n": "5:23: markdown_extensions: 'tocc' is not installed; "
    "did you mean 'toc'?",
    HEAD.replace("T\n", "2024\n")
    + LISTED: "1:12: site_name: '2024' is not text; write it in quotation marks",
    # What is no YAML, or too much of it.
    "5\n": "1:1: these are no settings; write lines such as `site_name: The book of our studio`",
    "x: 1\n\t- 5\n": "2:1: this cannot be read: while scanning for the next token "
    "found character '\\t' that cannot start any token; write spaces in place of the tab",
    f"plugins: {'[' * 900}\n": "1:49: lists and mappings lie within each other more than 40 deep; "
    "close some brackets, or set the lines less far in",
    DEEP: "2:20: lists and mappings lie within each other more than 40 deep; "
    "close some brackets, or set the lines less far in",
    BOMB: "5:12: the file stands for more than 20,000 values; "
    "take out aliases such as `*this`, or shorten the lists",
    f"{HEAD}x: &x [*x]\n": "4:8: `*x` stands within itself; take it out",
    "site_name: T\0\n": "1:13: an invisible character, U+0000; delete it and retype the text around it",
    f"{HEAD}x: {'9' * 5000}\n": f"4:4: this cannot be read: '{'9' * 40}...' cannot be read as int; "
    "mind the spaces at the beginning of lines, the colons, the quotes and the brackets",
    "INHERIT: mkdocs.yml\n": "1:10: INHERIT: the files inherit from each other in a circle, "
    "or too many one from another; take it out",
    "INHERIT: base.yml\n": "1:10: INHERIT: 'base.yml' cannot be read: No such file or directory; "
    "name a file beside this",
}


@pytest.mark.parametrize("text", FAULTS, ids=lambda text: text.removeprefix(HEAD)[:40])
def test_check_says_each_fault_at_its_place(
    text: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "mkdocs.yml").write_text(text, encoding="utf-8")
    assert main(["check", "--book", str(folder)]) == 1
    said = capsys.readouterr()
    expected = FAULTS[text].replace("{folder}", str(folder)).replace("{{", "{").replace("}}", "}")
    assert [row for row in said.out.splitlines() if row.startswith("mkdocs.yml")] == [
        f"mkdocs.yml:{expected}"
    ]
    assert said.err == "1 fault.\n"


@pytest.mark.parametrize("text", FAULTS, ids=lambda text: text.removeprefix(HEAD)[:40])
def test_build_refuses_it_in_the_same_words(
    text: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / "mkdocs.yml").write_text(text, encoding="utf-8")
    assert main(["check", "--book", str(folder)]) == 1
    checked = capsys.readouterr()
    assert main(["build", "--book", str(folder)]) == 1
    assert capsys.readouterr() == checked
    assert not (folder / "site").exists()


BOOK_FAULTS = [text for text in FAULTS if text.startswith(f"{OPTIONS}  ") or "plugins: 5" in text]


@pytest.mark.parametrize("text", BOOK_FAULTS, ids=lambda text: text.removeprefix(OPTIONS)[:40])
@pytest.mark.parametrize(
    "command",
    ["print --all -o x.pdf", "daily --minutes 5", "export --midi -o x"],
    ids=lambda words: words[:5],
)
def test_every_other_command_refuses_wrong_options_too(
    text: str,
    command: str,
    folder: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(folder)
    Path("mkdocs.yml").write_text(text, encoding="utf-8")
    assert main(command.split()) == 1
    assert f"mkdocs.yml:{FAULTS[text]}" in capsys.readouterr().out


@pytest.mark.parametrize("text", BOOK_FAULTS, ids=lambda text: text.removeprefix(OPTIONS)[:40])
def test_mkdocs_refuses_wrong_options_in_the_same_words(text: str, folder: Path) -> None:
    (folder / "mkdocs.yml").write_text(text, encoding="utf-8")
    with pytest.raises(MkDocsException) as refused:
        as_mkdocs_reads(folder)
    if "plugins: 5" in text:
        # MkDocs finds no plugin to ask, and says it in words of its own.
        assert isinstance(refused.value, Abort)
    else:
        assert isinstance(refused.value, PluginError)
        assert f"mkdocs.yml:{FAULTS[text]}" in str(refused.value)


def as_mkdocs_reads(folder: Path) -> object:
    """The book that `mkdocs build` would make. Raises MkDocsException."""
    config = load_config(str(folder / "mkdocs.yml"))
    plugin = config.plugins["stavewright"]
    assert isinstance(plugin, StavewrightPlugin)
    plugin.on_startup(command="serve", dirty=False)
    plugin.on_config(config)
    return plugin._read(config), config.site_description, config.site_url or ""


def test_a_capital_and_a_word_for_a_list_are_understood_everywhere(folder: Path, tmp_path: Path) -> None:
    (folder / "mkdocs.yml").write_text(
        f"{OPTIONS}      paper: Letter\n      papers: Letter\n      instruments: oboe\n"
    )
    found = open_book(folder)
    assert found.paper == "letter"
    assert found.papers == ("letter",)
    assert [each.slug for each in found.instruments] == ["oboe"]
    assert main(["check", "--book", str(folder)]) == 0
    assert as_mkdocs_reads(folder) == (found, None, "")
    out = tmp_path / "sets.pdf"
    arguments = ["daily", "--minutes", "5", "--days", "1", "--paper", "A4", "-o", str(out)]
    assert main([*arguments, "--book", str(folder)]) == 0
    assert out.read_bytes().startswith(b"%PDF")


INHERITED = """\
site_name: Base
site_description: Under
theme: {name: stavewright}
docs_dir: pages
plugins:
  - stavewright: {instruments: [oboe], paper: letter}
"""


def test_what_is_inherited_or_of_the_environment_is_one_book_for_all(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("A_NAME", "The book of the environment")
    monkeypatch.delenv("A_PAPER", raising=False)
    (folder / "base.yml").write_text(INHERITED.replace("letter", "!ENV [A_PAPER, letter]"))
    (folder / "mkdocs.yml").write_text(
        "INHERIT: base.yml\nsite_name: !ENV A_NAME\nsite_url: https://example.org/book\n"
    )
    found, config = open_book(folder), read_config(folder)
    assert (found.name, found.paper) == ("The book of the environment", "letter")
    assert [each.slug for each in found.instruments] == ["oboe"]
    assert config.address == "https://example.org/book/"
    assert as_mkdocs_reads(folder) == (found, config.text("site_description"), config.address)


def test_a_fault_of_what_is_inherited_stands_there(folder: Path) -> None:
    (folder.parent / "base.yml").write_text(INHERITED.replace("letter", "lettre"))
    (folder / "mkdocs.yml").write_text("INHERIT: ../base.yml\nsite_name: Own\n")
    with pytest.raises(BookFaults) as raised:
        open_book(folder)
    assert str(raised.value).startswith("../base.yml:6:47: paper: unknown paper 'lettre'; did you mean")


@pytest.mark.exhaustive
def test_stavewright_and_mkdocs_build_one_site_of_what_is_inherited(folder: Path) -> None:
    (folder / "base.yml").write_text(INHERITED)
    (folder / "mkdocs.yml").write_text("INHERIT: base.yml\nsite_name: Own\n")
    assert main(["build", "--book", str(folder)]) == 0
    arguments = ["build", "--quiet", "--site-dir", str(folder / "other")]
    done = subprocess.run([sys.executable, "-m", "mkdocs", *arguments], cwd=folder, capture_output=True)
    assert done.returncode == 0, done.stderr
    ours, theirs = (
        {path.relative_to(site).as_posix(): path.read_bytes() for path in site.rglob("*.html")}
        for site in (folder / "site", folder / "other")
    )
    assert ours == theirs
    assert "oboe" in ours["index.html"].decode()


def test_only_mkdocs_runs_what_the_file_names(folder: Path, tmp_path: Path) -> None:
    """A hook, and a tag that would call a function."""
    mark = tmp_path / "ran"
    (folder / "hook.py").write_text(f"open({str(mark)!r}, 'w').close()\n")
    text = (
        f"{HEAD}{LISTED}hooks: [hook.py]\nextra: {{x: !!python/object/apply:pathlib.Path.touch [{mark}]}}\n"
    )
    (folder / "mkdocs.yml").write_text(text)
    assert main(["check", "--book", str(folder)]) == 0
    assert main(["daily", "--minutes", "5", "--days", "1", "--book", str(folder)]) == 0
    assert main(["new", "two", "--book", str(folder)]) == 0
    assert not mark.exists()


names = st.sampled_from("abc")
leaves = st.one_of(st.integers(0, 9), st.lists(st.integers(0, 9), max_size=2))
mappings = st.recursive(
    st.dictionaries(names, leaves, max_size=3),
    lambda below: st.dictionaries(names, below | leaves, max_size=3),
)


@given(under=mappings, over=mappings)
def test_inheriting_is_as_mkdocs_has_it(
    under: dict[str, object], over: dict[str, object], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """YAML's flow style reads what Python writes of such values."""
    folder = tmp_path_factory.mktemp("inherit")
    (folder / "base.yml").write_text(str(under))
    child = folder / "child.yml"
    child.write_text(str({"INHERIT": "base.yml", **over}))
    with child.open("rb") as file:
        assert dict(read_config_file(child).values) == yaml_load(file)


def test_the_options_are_listed_once() -> None:
    assert dict(PluginConfig._schema).keys() == DEFAULTS.keys()
    assert tuple(PAPERS) == NAMES


def test_the_demo_book_has_no_fault() -> None:
    demo = Path(__file__).parent.parent
    assert site_faults(demo, read_config(demo)) == []


@pytest.mark.parametrize("kind", ["folder", "device", "none"])
def test_a_mkdocs_yml_that_is_no_file(folder: Path, kind: str) -> None:
    path = folder / "mkdocs.yml"
    path.unlink()
    if kind == "folder":
        path.mkdir()
    elif kind == "device":
        path.symlink_to("/dev/zero")
    with pytest.raises(BookProblem):
        open_book(folder)
