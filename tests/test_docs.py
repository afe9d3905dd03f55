"""What the documentation states is so: tables and counts, commands, options, files, settings and exercises.

Anchors of headings are made as GitHub makes them (from memory): small letters, hyphens for spaces, no signs.
"""

from __future__ import annotations

import argparse
import re
import runpy
import signal
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

from stavewright.book.instruments_file import FILE as OWN_INSTRUMENTS
from stavewright.book.options import read_options
from stavewright.book.read import known_instruments, open_book, read_config
from stavewright.daily.plan import MOST_DAYS, MOST_MINUTES
from stavewright.language.field_words import FIELDS
from stavewright.language.read import read
from stavewright.language.selecting.read_students import read_students
from stavewright.language.selecting.selection import SELECTION_FIELDS
from stavewright.language.selecting.students import KnownBook
from stavewright.music.winds.instrument import ABILITIES, LEVELS
from stavewright.prints.choice import labels
from stavewright.site.settings import site_faults
from stavewright.views.language_page import example_text

ROOT = Path(__file__).parents[1]
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    ROOT / "CHANGELOG.md",
    *sorted((ROOT / "docs").glob("*.md")),
]
EVERY_PAGE = pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
TEXT = {page: page.read_text(encoding="utf-8") for page in PAGES}


@cache
def reference() -> dict[str, Any]:
    """The script that makes parts of the documentation."""
    return runpy.run_path(str(ROOT / "docs" / "reference.py"))


@cache
def commands() -> dict[str, argparse.ArgumentParser]:
    """Every command's parser."""
    return dict(reference()["commands"]())


def blocks(page: Path) -> Iterator[tuple[str, str]]:
    """The blocks of code of a page, fenced or set in, each with the language that it names."""
    for found in re.finditer(r"^```(\w*)\n(.*?)^```$", TEXT[page], re.DOTALL | re.MULTILINE):
        yield found[1], found[2]
    rest = re.sub(r"^```.*?^```$", "", TEXT[page], flags=re.DOTALL | re.MULTILINE)
    for found in re.finditer(r"(?:^\n)((?:    .*\n)+)", rest, re.MULTILINE):
        yield "", re.sub("^    ", "", found[1], flags=re.MULTILINE)


def spans(page: Path) -> list[str]:
    """The code within a page's sentences and tables."""
    rest = re.sub(r"^```.*?^```$", "", TEXT[page], flags=re.DOTALL | re.MULTILINE)
    return re.findall(r"`([^`\n]+)`", rest)


def test_what_a_script_makes_is_what_stands_there() -> None:
    """`python docs/reference.py` writes it anew."""
    for place, text in reference()["made"]():
        assert place.read_text(encoding="utf-8") == text, f"run python docs/reference.py: {place.name}"


def test_every_passage_has_an_end_and_a_maker() -> None:
    for page in PAGES:
        marks = re.findall(r"<!-- made(?:: (\S+))? -->", TEXT[page])
        assert all(marks[0::2]) and not any(marks[1::2]) and len(marks) % 2 == 0, page.name
        assert set(marks[0::2]) <= set(reference()["PASSAGES"]), page.name


# -- commands ---------------------------------------------------------------------------------------------

CALL = re.compile(r"(?:^|[\s&|;(]|/bin/|\\Scripts\\)stavewright ((?:[a-z-]+|-)[^|;&\n]*)")
PLACEHOLDERS = ("COMMAND",)


def calls(page: Path) -> Iterator[str]:
    """What stands behind `stavewright` on the lines of commands and in code within sentences."""
    for language, block in blocks(page):
        if language in ("", "powershell"):
            for line in block.splitlines():
                yield from CALL.findall(re.split(r"\s#\s|\s{3,}", line)[0])
    for span in spans(page):
        yield from CALL.findall(span)


@EVERY_PAGE
def test_every_command_and_option_is_there(page: Path) -> None:
    for call in calls(page):
        words = call.split()
        if words[0].startswith("-"):
            assert words[0] in ("--help", "--version"), call
            continue
        assert words[0] in commands(), call
        taken = commands()[words[0]]._option_string_actions
        for word in words[1:]:
            if word.startswith("-") and word != "-":
                assert word.partition("=")[0] in taken, call


FOREIGN = {
    # Of Docker, git, pip, pip-audit, pytest, Dask, gzip, jq, openssl, MkDocs and the project's own scripts.
    *("--user", "--volume", "--strict", "--disable-pip", "--require-hashes", "--no-deps", "--no-dashboard"),
    *("--dist", "--hypothesis-profile", "--accent", "--paper", "--ink", "--quiet", "--rule", "--wash"),
    *(
        "--chorales",
        "--every",
        "--books",
        "--count",
        "--seed",
        "--again",
        "--check",
        "-m",
        "-c",
        "-P",
        "-q",
        "-o",
    ),
}
"""Options that other programs have, and variables of styles."""


@EVERY_PAGE
def test_every_option_by_itself_is_one_of_ours(page: Path) -> None:
    ours = {option for parser in commands().values() for option in parser._option_string_actions} | {
        "--version"
    }
    if page.name == "CHANGELOG.md":
        ours |= {"--keys"}  # named as gone
    for span in spans(page):
        if found := re.match(r"-{1,2}[a-z][a-z-]*", span):
            assert found[0] in ours | FOREIGN, span


def test_the_readme_names_every_command() -> None:
    named = set(re.findall(r"^\| `stavewright ([a-z-]+)", TEXT[PAGES[0]], re.MULTILINE))
    assert named == set(commands())


def test_the_commands_without_a_book_are_those_that_the_readme_names() -> None:
    (said,) = re.findall(r"Every command but (.*?) takes `--book DIR`", " ".join(TEXT[PAGES[0]].split()))
    without = {name for name, parser in commands().items() if "--book" not in parser._option_string_actions}
    assert set(re.findall(r"`([a-z-]+)`", said)) == without


def test_statuses_after_signals_are_those_of_a_shell() -> None:
    for page in ("docs/scripts.md", "docs/hard-to-break.md", "DEVELOPERS.md"):
        text = (ROOT / page).read_text(encoding="utf-8")
        for number in (signal.SIGINT, signal.SIGTERM):
            assert str(128 + number) in text, page


# -- files ------------------------------------------------------------------------------------------------

FOLDERS = (
    "",
    "builder",
    "site_src",
    "docs",
    "tests",
    "builder/paper",
    "builder/translation",
    "builder/music",
)
OWN = re.compile(r"[\w./-]+\.(?:py|ly|js|css|html|md|toml|yml|warmup|txt|json|lark|po|cfg)")
ELSEWHERE = {
    # A reader's own files, and what a build or a site has.
    *("mkdocs.yml", "instruments.toml", "own.css", "mine", "index.html", "sw.js", "404.html", "random.py"),
    *("main.html", "book-files.json", "robots.txt", "feed.xml", "sitemap.xml", "engraver.json", "week.txt"),
    *("controls.js", "phone.js", "plans.js", "index.md", "preface.md", "stavewright-cache.txt", "a.py"),
    *("pages/preface.md", "exercises/open-window.warmup", "exercises/evening-bell.warmup"),
    *("exercises/garden-gate.warmup", "exercises/shared.warmup", ".pre-commit-config.yaml", "daily/sets.js"),
    *("keys/e-flat/index.md", "words.js", "assets/words.js", "site/index.html"),
    "source.warmup",  # a scope of TextMate
    *("../exercises/slow-tide/d/index.html", "builder/variations/accents.py"),
    *("builder/locale/sv/LC_MESSAGES/stavewright.po", ".github/workflows/publish.yml"),
}


@EVERY_PAGE
def test_every_file_that_is_named_is_there(page: Path) -> None:
    for span in spans(page):
        if not OWN.fullmatch(span) or span in ELSEWHERE:
            continue
        found = any((ROOT / folder / span).is_file() for folder in FOLDERS)
        assert found or any(ROOT.glob(f"[!.]*/**/{span}")), span


@EVERY_PAGE
def test_every_link_leads_to_a_file_and_a_heading(page: Path) -> None:
    text = re.sub(r"^```.*?^```$|^    .*?$|`[^`\n]+`", "", TEXT[page], flags=re.DOTALL | re.MULTILINE)
    for address in re.findall(r"\]\(([^)\s]+)\)", text):
        if re.match(r"https?:", address):
            continue
        name, _, anchor = address.partition("#")
        place = (page.parent / name).resolve() if name else page
        assert place.exists(), address
        if anchor:
            heads = re.findall(r"^#+ (.*)$", place.read_text(encoding="utf-8"), re.MULTILINE)
            assert anchor in {re.sub(r"[^\w\- ]", "", head.lower()).replace(" ", "-") for head in heads}, (
                address
            )


def test_every_name_of_the_code_is_in_the_code() -> None:
    """Names with capitals within or with underscores; what is a file's was looked for above."""
    folders = ("builder", "site_src", "tests", "benchmarks")
    kinds = {".py", ".ly", ".js", ".html", ".yml"}
    places = [each for folder in folders for each in (ROOT / folder).rglob("*") if each.suffix in kinds]
    texts = [each.read_text(encoding="utf-8") for each in places if each != Path(__file__)]
    known = {name for text in texts for name in re.findall(r"\b[A-Za-z_]\w*\b", text)}
    for page in PAGES:
        for span in spans(page):
            if OWN.search(span) or "$" in span or "*" in span or "_header" in span:
                continue
            for name in re.findall(r"[A-Za-z_]\w*", span):
                if re.search(r"_|[a-z][A-Z]|^[A-Z]{2,}$", name):
                    assert name in known, (page.name, span)


def test_the_table_of_packages_is_that_of_the_contracts() -> None:
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    (rooms,) = (each for each in told["tool"]["importlinter"]["contracts"] if each["name"] == "rooms")
    layers = [{name.partition(".")[2] for name in layer.split(" | ")} for layer in rooms["layers"]]
    table = TEXT[ROOT / "DEVELOPERS.md"].partition("## Rooms\n")[2].partition("\n\nThree modules")[0]
    named = re.findall(r"^\| `(\w+)` \|", table, re.MULTILINE)
    for layer in layers[:-1]:
        assert set(named[: len(layer)]) == layer
        named = named[len(layer) :]
    assert named == [] and layers[-1] == {"plurals", "templates", "units", "visible"}
    folders = {path.parent.name for path in (ROOT / "builder").glob("*/__init__.py")}
    assert folders == {name for layer in layers for name in layer} - {"plurals", "units", "visible"}


def test_variables_of_the_environment_are_told() -> None:
    """What only tests use is not."""
    code = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "builder").rglob("*.py"))
    used = set(re.findall(r"\bSTAVEWRIGHT_[A-Z_]+", code))
    told = {name for text in TEXT.values() for name in re.findall(r"\bSTAVEWRIGHT_[A-Z_]+", text)}
    assert used == told


# -- exercises and settings -------------------------------------------------------------------------------


def is_exercise(block: str) -> bool:
    return re.search(r"^home:", block, re.MULTILINE) is not None


EXERCISES = [(page, text) for page in PAGES for _, text in blocks(page) if is_exercise(text)]


@pytest.mark.parametrize(("page", "text"), EXERCISES, ids=lambda value: getattr(value, "name", ""))
def test_an_exercise_that_is_shown_has_no_fault(page: Path, text: str) -> None:
    assert not read("shown.warmup", text.encode()).faults


MUSIC = [
    (page, line)
    for page in PAGES
    if page.name in ("signs.md", "figures.md", "format.md")
    for language, block in blocks(page)
    if not language and not is_exercise(block) and not re.match(r"stavewright |[a-z]+:", block)
    for line in block.splitlines()
    if line.strip()
]


@pytest.mark.parametrize(("page", "line"), MUSIC, ids=lambda value: getattr(value, "name", ""))
def test_a_line_of_music_that_is_shown_has_no_fault(page: Path, line: str) -> None:
    said = re.split(r"\s{3,}", line)[0]
    found = read("shown.warmup", example_text(said).encode())
    assert not found.faults, [str(fault) for fault in found.faults]


def settings_blocks() -> Iterator[tuple[Path, str]]:
    for page in PAGES:
        for language, block in blocks(page):
            if language == "yaml":
                yield page, block


@pytest.mark.parametrize(
    ("page", "text"), list(settings_blocks()), ids=lambda value: getattr(value, "name", "")
)
def test_settings_that_are_shown_are_read_without_a_fault(page: Path, text: str, tmp_path: Path) -> None:
    told = yaml.safe_load(text)
    assert isinstance(told, dict)
    if set(told) == {"repos"}:
        return  # pre-commit's
    told = {"site_name": "Shown", "theme": {"name": "stavewright"}, "plugins": ["stavewright"]} | told
    (tmp_path / "mkdocs.yml").write_text(yaml.safe_dump(told, sort_keys=False), encoding="utf-8")
    (tmp_path / str(told.get("docs_dir", "docs"))).mkdir()
    config = read_config(tmp_path)
    _, problems = read_options(config.options(), known_instruments(tmp_path)[0])
    assert [*site_faults(tmp_path, config), *problems] == []


def test_students_that_are_shown_are_read_without_a_fault() -> None:
    text = "\n".join(
        block for _, block in blocks(ROOT / "docs" / "daily-sets.md") if block.startswith("student:")
    )
    book = open_book(ROOT)
    known = KnownBook(
        exercises={each.slug: each.title for each in book.exercises},
        ways=labels(book),
        instruments=[each.slug for each in book.instruments],
        levels={level: level for level in (*LEVELS, *ABILITIES)},
        most_minutes=MOST_MINUTES,
        most_days=MOST_DAYS,
    )
    students, faults = read_students("week.txt", text.encode(), known)
    assert [str(fault) for fault in faults] == [] and len(students) == 2


def test_an_instrument_that_is_shown_is_read_without_a_fault(tmp_path: Path) -> None:
    (text,) = (block for language, block in blocks(ROOT / "docs" / "instruments.md") if language == "toml")
    (tmp_path / OWN_INSTRUMENTS).write_text(text, encoding="utf-8")
    known, faults = known_instruments(tmp_path)
    assert not faults and {"flute-b-foot", "alto-recorder"} <= set(known)


def test_fields_that_are_named_as_such_are_fields() -> None:
    for page in PAGES:
        for name in re.findall(r"\bfields? `([a-z ]+)`", TEXT[page]):
            assert name in FIELDS | SELECTION_FIELDS, (page.name, name)
