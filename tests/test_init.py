"""A new book: what `init` writes is a whole book, whatever a teacher chooses, and nothing is overwritten."""

from __future__ import annotations

import fnmatch
import io
import json
import re
import tomllib
from pathlib import Path
from typing import IO, Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from stavewright import templates
from stavewright.book.new_book import (
    MOST_LETTERS,
    TEMPLATES,
    WORKFLOW,
    NewBook,
    new_book_files,
    tidy_title,
)
from stavewright.book.options import DEFAULTS
from stavewright.book.read import open_book
from stavewright.cli import init as command
from stavewright.cli import main
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS
from stavewright.site.settings import open_publishable

ROOT = Path(__file__).parent.parent
EXERCISE = "exercises/open-window.warmup"


def init(folder: Path, *options: str) -> int:
    """Run `stavewright init` in this process; its exit status."""
    return main(["init", str(folder), *options])


def all_in(folder: Path) -> set[str]:
    """Every file and link below a folder."""
    return {
        path.relative_to(folder).as_posix()
        for path in folder.rglob("*")
        if path.is_symlink() or not path.is_dir()
    }


def settings(folder: Path) -> dict[str, Any]:
    """The new book's mkdocs.yml, read by YAML's own reader."""
    read = yaml.safe_load((folder / "mkdocs.yml").read_text(encoding="utf-8"))
    assert isinstance(read, dict)
    return read


class _Terminal(io.StringIO):
    """A standard stream that is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Lets a test type at a terminal; returns what is said there."""

    def types(*answers: str) -> io.StringIO:
        said = _Terminal()
        monkeypatch.setattr("sys.stdin", _Terminal("".join(f"{answer}\n" for answer in answers)))
        monkeypatch.setattr("sys.stdout", said)
        monkeypatch.setattr("sys.stderr", said)
        return said

    return types


# -- what it writes -------------------------------------------------------------------------------------


def test_an_empty_folder_becomes_a_book_that_can_be_published(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["init"]) == 0
    said = capsys.readouterr().out
    assert all_in(tmp_path) == set(TEMPLATES)
    assert [line.split("  ")[1] for line in said.split("Next:\n")[1].splitlines()] == [
        "stavewright serve",
        "stavewright new evening-bell",
        "stavewright print --all -o book.pdf",
    ]
    _, book = open_publishable(tmp_path)
    assert (book.name, book.paper) == ("A book of exercises", "a4")
    assert [each.slug for each in book.instruments] == ["flute"]
    (exercise,) = book.published
    assert 3 <= len(exercise.form("falling").bars) <= 4
    assert book.contents[0].title == "A word before you begin"
    assert main(["new", "evening-bell"]) == 0
    assert main(["check"]) == 0
    assert "2 exercises, no faults." in capsys.readouterr().out


def test_options_say_what_is_asked_elsewhere(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "books" / "evening"
    chosen = ("--title", "Evening: a book", "--instruments", "Bassoon, clarinet", "--paper", "Letter")
    assert init(folder, *chosen) == 0
    assert f"Next, in the folder {folder}:" in capsys.readouterr().out
    book = open_book(folder)
    assert (book.name, book.paper) == ("Evening: a book", "letter")
    assert [each.slug for each in book.instruments] == ["bassoon", "clarinet-b-flat"]


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_the_first_exercise_is_for_every_instrument(tmp_path: Path, name: str) -> None:
    assert init(tmp_path, "--instruments", name) == 0
    assert main(["check", "--book", str(tmp_path)]) == 0


def test_every_option_is_there_and_holds_when_its_sign_is_taken_away(tmp_path: Path) -> None:
    """The remarks say that a line where no space follows the sign # is an option."""
    assert init(tmp_path, "--instruments", "trombone") == 0
    config = tmp_path / "mkdocs.yml"
    config.write_text(re.sub(r"(?m)^( *)#(?=\w|  )", r"\1", config.read_text(encoding="utf-8")))
    (tmp_path / "exercises" / "shared").mkdir()
    open_publishable(tmp_path)
    options = settings(tmp_path)["plugins"][0]["stavewright"]
    assert options.keys() == DEFAULTS.keys()
    assert {"site_description", "site_url"} <= settings(tmp_path).keys()


@given(st.text(max_size=MOST_LETTERS))
def test_a_title_comes_back_from_yaml_as_it_was(text: str) -> None:
    try:
        title = tidy_title(text)
    except ValueError:
        return
    made = new_book_files(NewBook(title, (FLUTE,), "a4", f"stavewright @ {title}"))
    assert yaml.safe_load(made["mkdocs.yml"])["site_name"] == title == " ".join(text.split())
    assert yaml.safe_load(made[WORKFLOW])["env"] == {"STAVEWRIGHT": f"stavewright @ {title}"}


TITLES = [
    "- a list", "a: b", "a #b", '"quoted"', "it's", "'", "[x]", "{x}", "&a", "*a", "!ENV HOME", "%x", "@x",
    "yes", "null", "12", "1:30", "$title", "${known}", "\\n", "Übung für Anna", "夜の本", "🎺", "---", "? x",
    "<script>", "|", "> x", "~", "a" * MOST_LETTERS,
]  # fmt: skip


@pytest.mark.parametrize("title", TITLES)
def test_a_book_bears_the_title_that_was_given(tmp_path: Path, title: str) -> None:
    assert init(tmp_path, f"--title={title}") == 0
    assert settings(tmp_path)["site_name"] == title
    assert open_publishable(tmp_path)[1].name == title


def test_the_workflow_installs_what_is_installed_here(monkeypatch: pytest.MonkeyPatch) -> None:
    address = "https://host.example/stavewright"

    def program(told: object) -> str:
        class Installed:
            def read_text(self, name: str) -> str | None:
                return json.dumps(told) if told is not None and name == "direct_url.json" else None

        monkeypatch.setattr("stavewright.cli.init.distribution", lambda name: Installed())
        return command._program()

    assert re.fullmatch(r"stavewright==\d+(\.\d+)+", program(None))
    commit = {"url": address, "vcs_info": {"vcs": "git", "commit_id": "c0ffee"}}
    assert program(commit) == f"stavewright @ git+{address}@c0ffee"
    wheel = f"{address}/stavewright-1.0-py3-none-any.whl"
    assert program({"url": wheel, "archive_info": {}}) == f"stavewright @ {wheel}"
    # What came from this machine must not be taken from an index, where the name may be another's.
    for told in ({"url": "file:///home/anna/stavewright", "dir_info": {}}, ["no mapping"]):
        assert re.fullmatch(r"\./stavewright-\d+(\.\d+)+-py3-none-any\.whl", program(told))


def test_the_package_brings_every_template() -> None:
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
    assert templates.__name__ in told["packages"]
    patterns = told["package-data"][templates.__name__]
    for name in TEMPLATES.values():
        assert any(fnmatch.fnmatch(name, pattern) for pattern in patterns)


# -- asking ---------------------------------------------------------------------------------------------


def test_on_a_terminal_it_asks_until_the_answer_can_be_read(tmp_path: Path, terminal: Any) -> None:
    said = terminal("Anna's: book", "flute, clarinte", "flute, clarinet", "a5", "")
    assert init(tmp_path) == 0
    assert "unknown instrument 'clarinte'; did you mean 'clarinet-a'?" in said.getvalue()
    assert said.getvalue().count("Paper, a4 or letter [a4]:") == 2
    book = open_book(tmp_path)
    assert (book.name, book.paper, len(book.instruments)) == ("Anna's: book", "a4", 2)


def test_it_asks_only_for_what_no_option_says(tmp_path: Path, terminal: Any) -> None:
    said = terminal("letter")
    assert init(tmp_path, "--title", "A", "--instruments", "oboe") == 0
    assert said.getvalue().startswith("Paper, a4 or letter [a4]:\n")
    assert open_book(tmp_path).paper == "letter"


def test_without_an_answer_nothing_is_written(tmp_path: Path, terminal: Any) -> None:
    said = terminal("A title")
    assert init(tmp_path / "new") == 2
    assert said.getvalue().endswith("There was no answer, so nothing is written.\n")
    assert all_in(tmp_path) == set()


# -- what it refuses ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("option", "expected"),
    [
        ("--instruments=flute,obo", "unknown instrument 'obo'; did you mean 'oboe'? there are: piccolo, "),
        ("--instruments= ,", "no instrument is named; name one or several, such as flute,clarinet-b-flat\n"),
        ("--paper=lettre", "unknown paper 'lettre'; did you mean 'letter'? there are: a4, letter\n"),
        ("--paper=", "no paper is named; write a4 or letter\n"),
        ("--title= ", "the title is empty; write one such as The book of our studio\n"),
        (f"--title={'a' * (MOST_LETTERS + 1)}", "the title is longer than 200 letters; shorten it\n"),
        ("--title=a\x1bb", "the title contains an invisible character; retype it without it\n"),
        ("--title=a\udce9", "the title contains an invisible character; retype it without it\n"),
    ],
)
def test_a_wish_that_is_not_clear(
    tmp_path: Path, option: str, expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert init(tmp_path / "new", option) == 2
    assert capsys.readouterr().err.startswith(expected)
    assert all_in(tmp_path) == set()


def test_other_files_may_be_there(tmp_path: Path) -> None:
    (tmp_path / "README.md").write_text("mine")
    (tmp_path / "pages").mkdir()
    (tmp_path / "pages" / "chart.md").write_text("mine too")
    assert init(tmp_path) == 0
    assert (tmp_path / "README.md").read_text() == "mine"
    assert all_in(tmp_path) == {*TEMPLATES, "README.md", "pages/chart.md"}


def test_nothing_is_overwritten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / ".gitignore").write_text("mine")
    (tmp_path / "mkdocs.yml").symlink_to("nowhere")
    assert init(tmp_path) == 2
    assert capsys.readouterr().err == (
        f"{tmp_path}: already there: mkdocs.yml, .gitignore; nothing is overwritten; "
        "move them away, or name another folder\n"
    )
    assert all_in(tmp_path) == {".gitignore", "mkdocs.yml"}
    assert (tmp_path / ".gitignore").read_text() == "mine"


def test_it_does_not_write_through_links(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    folder = tmp_path / "book"
    folder.mkdir()
    (folder / "pages").symlink_to(elsewhere)
    (folder / ".github").write_text("a file")
    assert init(folder) == 2
    assert capsys.readouterr().err == (
        f"{folder}: .github, pages: folders must be here, not files or links; move them away\n"
    )
    assert all_in(folder) == {"pages", ".github"}
    assert all_in(elsewhere) == set()


def test_a_link_to_a_folder_may_be_named(tmp_path: Path) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to("real")
    assert init(tmp_path / "link") == 0
    assert all_in(tmp_path / "real") == set(TEMPLATES)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("file", "file: this is a file; name a folder\n"),
        ("file/below", "below: this cannot be a folder: Not a directory\n"),
        ("nowhere", "nowhere: this link leads nowhere; name a folder\n"),
        ("ring", "ring: this cannot be a folder: Too many levels of symbolic links\n"),
        ("a" * 300, ": this cannot be a folder: File name too long\n"),
    ],
)
def test_what_is_no_folder(
    tmp_path: Path, name: str, expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("mine")
    (tmp_path / "nowhere").symlink_to("absent")
    (tmp_path / "ring").symlink_to("ring")
    assert init(tmp_path / name) == 2
    assert capsys.readouterr().err.endswith(expected)
    assert all_in(tmp_path) == {"file", "nowhere", "ring"}


def test_where_a_file_cannot_be_written_none_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "new" / "book"
    opened = Path.open

    def refuse(path: Path, mode: str = "r", **rest: Any) -> IO[Any]:
        if path == folder / "mkdocs.yml":
            raise PermissionError(13, "Permission denied", str(path))
        return opened(path, mode, **rest)

    monkeypatch.setattr(Path, "open", refuse)
    assert init(folder) == 1
    assert capsys.readouterr().err == f"{folder / 'mkdocs.yml'}: cannot be written: Permission denied\n"
    assert list(tmp_path.iterdir()) == []


def test_what_was_there_before_stays_where_a_folder_cannot_be_made(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "exercises").mkdir()
    made = Path.mkdir

    def refuse(path: Path, *rest: Any, **more: Any) -> None:
        if path == tmp_path / "pages":
            raise OSError(28, "No space left on device", str(path))
        made(path, *rest, **more)

    monkeypatch.setattr(Path, "mkdir", refuse)
    assert init(tmp_path) == 1
    assert capsys.readouterr().err.endswith("preface.md: cannot be written: No space left on device\n")
    assert list(tmp_path.rglob("*")) == [tmp_path / "exercises"]


def test_an_engraver_that_is_missing_is_told_and_the_book_is_begun(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("STAVEWRIGHT_LILYPOND", str(tmp_path / "absent"))
    assert init(tmp_path / "book") == 0
    said = capsys.readouterr().err
    assert said.startswith("The book cannot be engraved yet: no usable engraver was found (tried ")
    assert "absent: this is no program); install one" in said
    assert all_in(tmp_path / "book") == set(TEMPLATES)


# -- where there is no book -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    "arguments", [["new", "a"], ["check"], ["build"], ["serve"], ["print", "--all", "-o", "book.pdf"]]
)
def test_commands_say_how_to_begin_a_book(
    tmp_path: Path, arguments: list[str], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(arguments) == 1
    assert capsys.readouterr().err == (
        "mkdocs.yml: there is no book here; `stavewright init` begins one, or name its folder with --book\n"
    )
    assert all_in(tmp_path) == set()
