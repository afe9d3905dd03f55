"""The commands as a user gives them: what they say, what they leave behind, and their exit status."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path

import pytest
from conftest import TINY, write_book

from stavewright.cli import main
from stavewright.engrave.processes.cluster import is_open
from stavewright.language.read import SUFFIX
from stavewright.music.keys import KEY_SLUGS

WriteBook = Callable[[dict[str, str | bytes]], Path]
Tiny = Callable[[str], str]


def run(*arguments: str | Path) -> int:
    """Run a command in this process; its exit status."""
    return main([str(argument) for argument in arguments])


def files(folder: Path) -> dict[str, bytes]:
    """Every file below a folder with its bytes."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


class _Page(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.words: list[str] = []
        self.drawings = 0
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.drawings += tag == "svg"
        self.links += [value for name, value in attrs if tag == "a" and name == "href" and value]

    def handle_data(self, data: str) -> None:
        self.words.append(data)


def page(site: Path, address: str) -> _Page:
    """A page of the site by its address."""
    return _Page((site / address / "index.html").read_text(encoding="utf-8"))


def links_to(site: Path, address: str) -> set[str]:
    """Where a page's links lead, as addresses from the site's root; links within the page left out."""
    found = set()
    for link in page(site, address).links:
        path = link.partition("#")[0].partition("?")[0]
        if path and ":" not in path:
            target = (site / address / path).resolve()
            found.add(target.relative_to(site.resolve()).as_posix().removesuffix("index.html"))
    return found


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A book of two tiny exercises with its site; tests that change it work on a copy."""
    folder = write_book(
        tmp_path_factory.mktemp("built") / "book",
        {"first-light": TINY.format(title="First light"), "low-tide": TINY.format(title="Low tide")},
    )
    # Workers and helpers have tests of their own; here each would cost a second a build.
    with (folder / "mkdocs.yml").open("a", encoding="utf-8") as config:
        config.write("      jobs: 1\n")
    assert run("build", "--book", folder) == 0
    return folder


@pytest.fixture
def copy(built: Path, tmp_path: Path) -> Path:
    """A copy of the built book."""
    return shutil.copytree(built, tmp_path / "copy")


# -- build ----------------------------------------------------------------------------------------------


def test_a_site_has_every_address_of_the_contract(built: Path) -> None:
    site = built / "site"
    addresses = {
        path.parent.relative_to(site).as_posix() + "/"
        for path in site.rglob("index.html")
        if path.parent != site
    }
    expected = {f"exercises/{slug}/" for slug in ("first-light", "low-tide")}
    expected |= {f"{exercise}{key}/" for exercise in set(expected) for key in KEY_SLUGS}
    expected |= {f"keys/{key}/" for key in KEY_SLUGS}
    assert expected <= addresses
    assert "print/" in addresses
    assert (site / "index.html").is_file() and (site / "404.html").is_file()


def test_every_exercise_is_engraved_in_every_key(built: Path) -> None:
    for slug in ("first-light", "low-tide"):
        for key in KEY_SLUGS:
            assert page(built / "site", f"exercises/{slug}/{key}/").drawings >= 2  # the glyphs, the music


def test_every_key_page_holds_every_exercise(built: Path) -> None:
    for key in KEY_SLUGS:
        found = links_to(built / "site", f"keys/{key}/")
        assert {f"exercises/first-light/{key}/", f"exercises/low-tide/{key}/"} <= found


def test_previous_and_next_key_follow_the_order_of_travel(built: Path) -> None:
    site = built / "site"
    down = [KEY_SLUGS[(2 - step) % 12] for step in range(12)]  # D, D flat, C ... in semitones downward
    for before, key, after in zip(down, down[1:], down[2:], strict=False):
        found = links_to(site, f"exercises/low-tide/{key}/")
        assert {f"exercises/low-tide/{before}/", f"exercises/low-tide/{after}/"} <= found


def test_every_link_is_relative_and_leads_to_a_file(built: Path) -> None:
    site = built / "site"
    for path in site.rglob("index.html"):
        address = path.parent.relative_to(site).as_posix()
        for link in page(site, address).links:
            assert not link.startswith(("/", "http:", "https:", "//")), f"{address}: {link}"
        for target in links_to(site, address):
            found = site / target
            assert found.is_file() or (found / "index.html").is_file(), f"{address}: {target}"


def test_build_says_what_it_made(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("build", "--book", copy, "--jobs", "1") == 0
    said = capsys.readouterr().out
    assert said.startswith("24 pieces, ")
    assert said.rstrip().endswith(str(copy / "site"))


def test_a_site_may_be_written_elsewhere(copy: Path, tmp_path: Path) -> None:
    before = files(copy / "site")
    assert run("build", "--book", copy, "--out", tmp_path / "elsewhere") == 0
    assert files(copy / "site") == before
    assert files(tmp_path / "elsewhere").keys() == before.keys()


def test_one_more_exercise_is_one_more_file(copy: Path, tiny: Tiny) -> None:
    (copy / "exercises" / f"sixth{SUFFIX}").write_text(tiny("The sixth"), encoding="utf-8")
    assert run("build", "--book", copy) == 0
    site = copy / "site"
    for key in KEY_SLUGS:
        assert page(site, f"exercises/sixth/{key}/").drawings >= 2
        assert f"exercises/sixth/{key}/" in links_to(site, f"keys/{key}/")
    assert "exercises/sixth/" in links_to(site, "")


def test_an_exercise_taken_away_leaves_no_page_behind(copy: Path) -> None:
    (copy / "exercises" / f"low-tide{SUFFIX}").unlink()
    assert run("build", "--book", copy) == 0
    assert not (copy / "site" / "exercises" / "low-tide").exists()


@pytest.mark.every_core
def test_mkdocs_builds_the_same_site(copy: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--strict", "--quiet", "--site-dir", copy / "by-mkdocs"],
        cwd=copy,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    ours, theirs = files(copy / "site"), files(copy / "by-mkdocs")
    assert ours.keys() == theirs.keys()
    assert [name for name in ours if name.endswith(".html") and ours[name] != theirs[name]] == []


# -- a bad book -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"title: \xe9\n",
        TINY.format(title="Low tide").encode(),  # a title used twice
        TINY.format(title="Bad").replace("w D5", "h D5").encode(),
        TINY.format(title="Bad").encode() + b"variations: slured\n",
    ],
    ids=["empty", "not UTF-8", "title twice", "short bar", "no such variation"],
)
def test_a_bad_book_leaves_the_earlier_site_as_it_was(
    copy: Path, data: bytes, capsys: pytest.CaptureFixture[str]
) -> None:
    before = files(copy / "site")
    (copy / "exercises" / f"bad{SUFFIX}").write_bytes(data)
    assert run("build", "--book", copy) == 1
    said = capsys.readouterr()
    assert "exercises/" in said.out and said.err.startswith("1 fault.")
    assert files(copy / "site") == before
    assert sorted(path.name for path in copy.iterdir()) == ["exercises", "mkdocs.yml", "pages", "site"]


def test_mkdocs_says_the_faults_of_a_bad_book_too(copy: Path) -> None:
    before = files(copy / "site")
    (copy / "exercises" / f"bad{SUFFIX}").write_bytes(b"")
    done = subprocess.run(
        [sys.executable, "-m", "mkdocs", "build", "--quiet"], cwd=copy, capture_output=True, text=True
    )
    assert done.returncode == 1
    assert "exercises/bad.warmup:1:1: the file is empty" in done.stderr
    assert "Traceback" not in done.stderr
    assert files(copy / "site") == before


def test_an_engraver_that_is_missing_leaves_the_earlier_site(copy: Path) -> None:
    before = files(copy / "site")
    done = subprocess.run(
        [sys.executable, "-c", "import sys; from stavewright.cli import main; sys.exit(main())", "build"],
        cwd=copy,
        capture_output=True,
        text=True,
        env={
            **os.environ,
            "STAVEWRIGHT_LILYPOND": "/nowhere/lilypond",
            "STAVEWRIGHT_CACHE": str(copy / "none"),
        },
    )
    assert done.returncode == 1
    assert "no usable engraver was found" in done.stderr and "pip install" in done.stderr
    assert "Traceback" not in done.stderr
    assert files(copy / "site") == before


# -- rights ---------------------------------------------------------------------------------------------


def test_what_states_no_rights_stays_out(copy: Path, tiny: Tiny, capsys: pytest.CaptureFixture[str]) -> None:
    without = "\n".join(row for row in tiny("No rights").split("\n") if not row.startswith("rights"))
    private = tiny("Private").replace("written for this test, public domain", "Private, for my students")
    (copy / "exercises" / f"none{SUFFIX}").write_text(without, encoding="utf-8")
    (copy / "exercises" / f"private{SUFFIX}").write_text(private, encoding="utf-8")
    assert run("build", "--book", copy) == 0
    said = capsys.readouterr()
    sentences = [
        "none: left out of the site, because it states no rights",
        "private: left out of the site, because its rights say private",
    ]
    assert all(sentence in said.out + said.err for sentence in sentences)
    found = files(copy / "site")
    assert not any(name.startswith(("exercises/none", "exercises/private")) for name in found)
    assert not any(b"No rights" in data or b"Private" in data for data in found.values())
    assert run("check", "--book", copy) == 0
    assert all(sentence in capsys.readouterr().out for sentence in sentences[:1])


# -- check ----------------------------------------------------------------------------------------------


def test_check_of_a_good_book(book: WriteBook, tiny: Tiny, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", "--book", book({"one": tiny("One")})) == 0
    assert capsys.readouterr().out == "1 exercise, no faults.\n"
    assert run("check", "--book", book({"two": tiny("Two")})) == 0
    assert capsys.readouterr().out == "2 exercises, no faults.\n"


def test_check_says_every_fault_with_its_line_and_caret(
    book: WriteBook, tiny: Tiny, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = book({"one": tiny("One").replace("w D5", "w D5 fermatta"), "two": b"", "three": tiny("Three")})
    assert run("check", "--book", folder) == 1
    said = capsys.readouterr()
    assert said.out == (
        "exercises/one.warmup:5:8: unknown word 'fermatta'; did you mean 'fermata'?\n"
        "      w D5 fermatta\n"
        "           ^\n"
        "exercises/two.warmup:1:1: the file is empty; `stavewright new NAME` writes one to start from\n"
    )
    assert said.err == "2 faults.\n"
    assert not (folder / "site").exists()


def test_check_says_what_cannot_be_played(
    book: WriteBook, tiny: Tiny, capsys: pytest.CaptureFixture[str]
) -> None:
    wide = tiny("Wide").replace("w D5", "h C4 C7").replace("D5 in D", "C4 in C")
    assert run("check", "--book", book({"wide": wide})) == 0
    said = capsys.readouterr().out
    assert "wide, E flat major: Cannot be played here: it would go from " in said
    assert said.endswith("1 exercise, no faults.\n")


def test_check_remarks_what_was_moved_by_octaves(
    book: WriteBook, tiny: Tiny, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (
        tiny("High")
        .replace("w D5", "w C6")
        .replace("D5 in D major", "D5 in D major\ntravel: twelve keys, fifths up")
    )
    assert run("check", "--book", book({"high": text})) == 0
    remark, _ = capsys.readouterr().out.splitlines()
    line = text.split("\n").index("travel: twelve keys, fifths up") + 1
    assert remark.startswith(f"exercises/high.warmup:{line}:8: remark: for the flute, ")
    assert remark.endswith("than the exercise asks, to stay in its range")


def test_a_page_says_what_cannot_be_played(book: WriteBook, tiny: Tiny) -> None:
    wide = tiny("Wide").replace("w D5", "h C4 C7").replace("D5 in D", "C4 in C")
    folder = book({"wide": wide})
    assert run("build", "--book", folder) == 0
    words = " ".join(page(folder / "site", "exercises/wide/e-flat/").words)
    assert "Cannot be played here: it would go from " in words
    assert "exercises/wide/e-flat/" in links_to(folder / "site", "exercises/wide/")


# -- new ------------------------------------------------------------------------------------------------


def test_new_writes_an_exercise_that_is_published_as_it_stands(
    copy: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("new", "evening-bell", "--book", copy) == 0
    path = copy / "exercises" / f"evening-bell{SUFFIX}"
    assert capsys.readouterr().out == (
        f"{path}: written. Next: `stavewright check`, then `stavewright build`.\n"
    )
    text = path.read_text(encoding="utf-8")
    assert text.count("\n#") >= 4
    assert run("check", "--book", copy) == 0
    assert capsys.readouterr().out.endswith("3 exercises, no faults.\n")
    assert run("build", "--book", copy) == 0
    for key in KEY_SLUGS:
        assert page(copy / "site", f"exercises/evening-bell/{key}/").drawings >= 2


def test_new_overwrites_nothing(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = copy / "exercises" / f"low-tide{SUFFIX}"
    before = path.read_bytes()
    assert run("new", "low-tide", "--book", copy) == 1
    assert "there is an exercise of that name; choose another" in capsys.readouterr().err
    assert path.read_bytes() == before


@pytest.mark.parametrize("slug", ["Evening", "evening bell", "../evening", "-", "évening", "con/aux", ""])
def test_new_refuses_what_is_no_address(copy: Path, slug: str, capsys: pytest.CaptureFixture[str]) -> None:
    before = files(copy)
    assert run("new", "--book", copy, "--", slug) == 2
    said = capsys.readouterr()
    assert "cannot be an address; use small letters" in said.out + said.err
    assert files(copy) == before


# -- wrong use ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "arguments",
    [[], ["biuld"], ["build", "--jobs", "0"], ["build", "--jobs", "many"], ["check", "--all"], ["new"]],
)
def test_wrong_use_is_status_2(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        run(*arguments)
    assert left.value.code == 2
    assert "usage: stavewright" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["build", "check", "serve"])
def test_a_folder_without_a_book(tmp_path: Path, command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(command, "--book", tmp_path) in (1, 2)
    assert (
        "there is no book here; `stavewright init` begins one, or name its folder with --book"
        in capsys.readouterr().err
    )


@pytest.mark.parametrize("command", ["build", "check"])
def test_a_book_without_its_exercises(copy: Path, command: str, capsys: pytest.CaptureFixture[str]) -> None:
    before = files(copy / "site")
    shutil.rmtree(copy / "exercises")
    assert run(command, "--book", copy) == 1
    assert "exercises: there is no such folder; put the exercises there" in capsys.readouterr().err
    assert files(copy / "site") == before


def test_the_installed_command_passes_its_status_on(book: WriteBook, tiny: Tiny) -> None:
    command = [sys.executable, "-c", "import sys; from stavewright.cli import main; sys.exit(main())"]
    folder = book({"one": tiny("One")})

    def status(*arguments: str | Path) -> int:
        return subprocess.run([*command, *arguments], capture_output=True, cwd=folder).returncode

    assert status("check") == 0
    (folder / "exercises" / f"two{SUFFIX}").write_bytes(b"")
    assert status("check") == 1
    assert status("chekc") == 2
    assert status("--version") == 0


# -- a folder that is not ours ---------------------------------------------------------------------------


@pytest.mark.parametrize("command", ["stavewright", "mkdocs"])
def test_a_folder_with_foreign_files_ends_a_build_before_any_work(
    copy: Path, tmp_path: Path, command: str
) -> None:
    home = tmp_path / "home page"
    home.mkdir()
    for name in ("sitemap.xml", "precious.html", "a.html", "b.html", "c.html"):
        (home / name).write_text("<urlset/>")
    words = {
        "stavewright": ["stavewright", "build", "--again", "--book", str(copy), "--out", str(home)],
        "mkdocs": ["mkdocs", "build", "-f", str(copy / "mkdocs.yml"), "--site-dir", str(home)],
    }[command]
    environment = os.environ | {"STAVEWRIGHT_LILYPOND": str(tmp_path / "no engraver"), "NO_COLOR": "1"}
    # Without an engraver any work would end in another message.
    done = subprocess.run(
        [sys.executable, "-m", *words], env=environment, capture_output=True, text=True, cwd=copy
    )
    assert done.returncode == 2, done.stderr
    assert f"{home}: the folder holds files that are not part of a site" in done.stderr + done.stdout
    assert (
        "a.html, b.html, c.html and 2 more; move it elsewhere, or choose a new" in done.stderr + done.stdout
    )
    assert (home / "precious.html").read_text() == "<urlset/>"
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".")) == []


def test_what_other_plugins_add_belongs_to_the_site(copy: Path) -> None:
    """MkDocs's own search writes its index when all pages are written."""
    config = copy / "mkdocs.yml"
    text = config.read_text(encoding="utf-8").replace("\nplugins:\n", "\nplugins:\n  - search\n")
    for order in (text, text.replace("  - search\n", "").rstrip() + "\n  - search\n"):
        config.write_text(order, encoding="utf-8")
        assert run("build", "--book", copy) == 0
        listing = json.loads((copy / "site" / "book-files.json").read_bytes())
        assert "search/search_index.json" in listing["files"]
    assert run("build", "--again", "--book", copy) == 0
    (copy / "site" / "search" / "mine.json").write_text("{}")
    assert run("build", "--again", "--book", copy) == 2
    assert (copy / "site" / "search" / "mine.json").exists()


@pytest.mark.parametrize(
    ("address", "closed"),
    [
        ("tcp://10.0.0.5:8786", False),
        ("studio:8786", False),
        ("tcp://[2001:db8::1]:8786", False),
        ("ws://studio:8786", False),
        ("tls://studio:8786", True),
        ("tcp://localhost:8786", True),
        ("127.0.0.1:8786", True),
        ("tcp://[::1]:8786", True),
    ],
)
def test_workers_that_anyone_can_reach_need_a_word(
    address: str, closed: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    assert is_open(address) == (not closed)
    if not closed:
        assert main(["build", "--again", "--workers", address]) == 2
        assert "use tls:// with certificates, or add --closed-network" in capsys.readouterr().err
