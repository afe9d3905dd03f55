"""Books and commands that nobody would write: none may end in a traceback.

Each run makes a small book whose mkdocs.yml, instruments.toml or selection is cut, doubled and swapped by a
seeded hand, and gives it to a command whose arguments are changed in the same way. It all runs in this
process, and nothing is engraved: what would be is put in place of by an empty page. Besides, where `check`
finds no fault, MkDocs with the book's plugin must read the same book.

Run: `python benchmarks/fuzz.py --books --count 5000 --seed 1`.
"""

from __future__ import annotations

import io
import os
import random
import re
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import ExitStack, chdir, contextmanager, redirect_stderr, redirect_stdout
from pathlib import Path
from unittest.mock import patch

from mkdocs.config import load_config
from mkdocs.exceptions import MkDocsException

from stavewright.book.options import DEFAULTS
from stavewright.book.read import open_book
from stavewright.cli import main
from stavewright.paper.compose import Printed
from stavewright.site.plugin import StavewrightPlugin

LONG = "a" * 5000
EXERCISE = (
    "title: One\nrights: public domain\nhome: D5 in D major\nvariations: slurred\nmusic:\n  w D5 | w E5\n"
)

SETTINGS = """\
site_name: The book of our studio
site_description: Slow tones.
site_url: https://example.org/book
docs_dir: pages
theme: {name: stavewright}
plugins:
  - search
  - stavewright:
      exercises: exercises
      instruments: [flute, oboe]
      tops: {flute: A6, oboe: C6}
      level: {flute: advanced}
      concert: false
      a4: 442
      breath_seconds: 16
      variations:
        open and close: slurred + swell up
      paper: a4
      jobs: 1
markdown_extensions: [toc, tables]
"""
INHERITED = (
    "site_name: Base\ntheme: {name: stavewright}\ndocs_dir: pages\nplugins: [stavewright: {paper: letter}]\n"
)
HANDOUT = """\
title: Week of the flats
for: Robin
words:
  Softly, and no longer than it is easy.

  Rest between.
keys: d, a flat
exercises: one
variations: as written, slurred
registers: middle, low
instrument: flute
"""
SELECTION = """\
title: Week of the flats
for: Robin
words: Softly, and no longer than it is easy.
play:
  - one in D, A flat: slurred, as written; middle register
  - One in every key; low and middle registers
words: Rest.
play: one in E flat

title: Week of the sharps
keys: d, e
play:
  - one: every variation
  one
"""
INSTRUMENTS = """\
[flute-b-foot]
name = "Flute with B foot"
like = "flute"
low = "B3"

[alto-recorder]
name = "Alto recorder"
sounds = "as written"
clefs = ["treble"]
low = "F4"
high = "G6"
beginning = "F4 to F5"
registers = ["low F4 to E5", "high F5 to G6"]
source = "the maker's leaflet"
"""

YAML = (
    *(
        "[",
        "]",
        "{",
        "}",
        ": ",
        "- ",
        "? ",
        "&a ",
        "*a",
        "<<: *a",
        "!ENV HOME",
        "!ENV [NO, a4]",
        "!!python/name:x ",
    ),
    *(
        "!!binary x",
        "!!set {a}",
        "!!timestamp x",
        "!x y",
        "|\n",
        ">\n",
        "---\n",
        "...\n",
        "%YAML 9.9\n",
        "\t",
        "\0",
    ),
    *("null", "~", "yes", ".inf", ".nan", "2024-99-99", "0x", "1:99", "9" * 5000, "[" * 900, LONG, "\u202e"),
    *(
        "\ud800",
        "\ufeff",
        "\x85",
        "'",
        '"',
        "#",
        "INHERIT: base.yml\n",
        "INHERIT: mkdocs.yml\n",
        "INHERIT: /dev/zero\n",
    ),
    *(
        "a: &b [*b]\n",
        "x: &a [1,1,1,1]\ny: &c [*a,*a,*a,*a]\nz: [*c,*c,*c,*c]\n",
        "../x",
        "/dev/null",
        "a\nb",
        "A4",
    ),
)
TOML = (
    "[",
    "]",
    "[[a]]",
    "=",
    '"',
    "'''",
    "{a=1}",
    "1979-05-27",
    "inf",
    "9" * 5000,
    "\0",
    "\ud800",
    "C4",
    "[" * 900,
)
WORDS = (
    "title:",
    "for: Kim\n",
    "keys:",
    "words:\n  ",
    "play:",
    "\n  - ",
    "one",
    " in ",
    " in every key",
    ": every variation",
    "; low register",
    ":",
    ";",
    ",",
    "h flat",
    "\0",
    "\ud800",
    "\u202e",
    LONG,
    "\n",
    "\r",
    "  ",
    "flute",
)
ARGUMENTS = (
    *(
        "",
        " ",
        "0",
        "-1",
        "1",
        "7",
        "1e308",
        "nan",
        "inf",
        "9" * 400,
        LONG,
        "\0",
        "\udcff",
        "\ud800",
        "\u202ex",
    ),
    *(
        "a\nb",
        "x.pdf",
        "nowhere/x",
        "exercises",
        "mkdocs.yml",
        "d",
        "e flat",
        "one",
        "flute",
        "slurred",
        "A4",
        "letter",
    ),
    *(
        "9999-12-31",
        "0001-01-01",
        "2026-02-01",
        "7:30",
        "25:99",
        "beginning",
        "week.set",
        "--",
        "--book",
        "-o",
        "$(true)",
    ),
)
COMMANDS: tuple[tuple[str, ...], ...] = (
    ("check",),
    ("check", "--coverage"),
    ("print", "--key", "d", "-o", "x.pdf"),
    ("print", "--exercise", "one", "--paper", "letter", "--staff-size", "8", "-o", "x.pdf"),
    ("print", "--all", "--variations", "slurred", "--booklet", "-o", "x.pdf"),
    ("print", "--set", "week.set", "-o", "x.pdf"),
    ("print", "--selection", "week.set", "--single-sided", "-o", "x.pdf"),
    ("print", "--key", "d, e flat", "--exercise", "one", "-o", "x.pdf"),
    ("daily", "--minutes", "5", "--days", "3", "--from", "2026-02-01", "--calendar", "x.ics", "--at", "7:30"),
    (
        "daily",
        "--minutes",
        "10",
        "--days",
        "2",
        "--level",
        "beginning",
        "--instrument",
        "flute",
        "--keys",
        "1",
    ),
    ("daily", "--minutes", "5", "--seed", "3", "-o", "x.pdf"),
    ("export", "--midi", "--exercise", "one", "--key", "d", "-o", "out"),
    ("new", "two"),
    ("cache",),
    ("build", "--jobs", "1"),
)


def changed(chance: random.Random, text: str, stock: tuple[str, ...]) -> str:
    """A text with one to four places cut, doubled, swapped or filled from the stock."""
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        place = chance.randrange(len(text) + 1)
        end = min(len(text), place + chance.randint(1, 25))
        kind = chance.choice(("insert", "cut", "double", "swap", "value"))
        sign = re.search("[:=]", text[place:])
        if kind == "value" and sign:
            # All that is said after a name is something else.
            place += sign.end()
            end = len(text) if (stop := text.find("\n", place)) < 0 else stop
            text = f"{text[:place]} {chance.choice(stock)}{text[end:]}"
        elif kind == "cut":
            text = text[:place] + text[end:]
        elif kind == "double":
            text = text[:end] + text[place:end] * chance.randint(1, 3) + text[end:]
        else:
            text = text[:place] + chance.choice(stock) + text[end if kind == "swap" else place :]
    return text


def bytes_of(chance: random.Random, text: str) -> bytes:
    """The text's bytes, now and then with one that makes no text of them."""
    data = text.encode("utf-8", "surrogatepass")
    if chance.random() < 0.03:
        place = chance.randrange(len(data) + 1)
        data = data[:place] + bytes([chance.randrange(256)]) + data[place:]
    return data


def arguments_for(chance: random.Random) -> list[str]:
    """A command, in a third of the runs with arguments changed, taken away or added."""
    found = list(chance.choice(COMMANDS))
    for _ in range(chance.choice((0, 0, 0, 0, 1, 2))):
        place = chance.randrange(1, len(found) + 1)
        kind = chance.choice(("swap", "swap", "insert", "cut"))
        found[place : place + (kind != "insert")] = [] if kind == "cut" else [chance.choice(ARGUMENTS)]
    # A solver and a server take their time.
    return [each for each in found if each not in ("--exact", "--workers")]


def write_book(chance: random.Random, folder: Path) -> None:
    """A small book; at least one of its files is changed in two runs of three."""
    (folder / "exercises").mkdir(parents=True)
    (folder / "pages").mkdir()
    (folder / "exercises" / "one.warmup").write_text(EXERCISE, encoding="utf-8")
    settings, selection, own = SETTINGS, chance.choice((HANDOUT, SELECTION, SELECTION)), INSTRUMENTS
    for kind in chance.sample(("settings", "settings", "selection", "selection", "own", "none", "none"), 2):
        if kind == "settings":
            stock = (*YAML, *(f"{name}: " for name in DEFAULTS))
            settings = changed(chance, settings, stock)
        elif kind == "selection":
            selection = changed(chance, selection, WORDS)
        elif kind == "own":
            own = changed(chance, own, TOML)
    (folder / "mkdocs.yml").write_bytes(bytes_of(chance, settings))
    (folder / "base.yml").write_text(INHERITED, encoding="utf-8")
    (folder / "week.set").write_bytes(bytes_of(chance, selection))
    if chance.random() < 0.5:
        (folder / "instruments.toml").write_bytes(bytes_of(chance, own))


@contextmanager
def without_engraving() -> Iterator[None]:
    """Prints are empty and builds end before they begin, for as long as this lasts."""

    def empty(*_: object) -> Printed:
        return Printed(b"%PDF", 1)

    def unbuilt(book: Path, *_: object) -> int:
        return 0 if as_mkdocs_reads(book) else 1

    with ExitStack() as stack:
        stack.enter_context(patch("stavewright.cli.printing.print_choice", empty))
        stack.enter_context(patch("stavewright.cli.printing.print_selection", empty))
        stack.enter_context(patch("stavewright.prints.daily_sheets.daily_sheets", empty))
        stack.enter_context(
            patch("stavewright.engrave.processes.worker_processes.WorkerPool.start_worker", lambda _: None)
        )
        stack.enter_context(patch("stavewright.cli.site.build", unbuilt))
        yield


def as_mkdocs_reads(folder: Path) -> object:
    """The book that `mkdocs build` would make; None where MkDocs or the plugin refuses it."""
    from stavewright.cli.site import _config

    _config(folder)
    try:
        config = load_config(str((folder / "mkdocs.yml").absolute()))
        plugin = config.plugins["stavewright"]
        assert isinstance(plugin, StavewrightPlugin)
        plugin.on_startup(command="serve", dirty=False)
        plugin.on_config(config)
        return plugin._read(config)
    except MkDocsException:
        return None


def status_of(arguments: list[str]) -> tuple[int, str]:
    """A command's exit status and what it said."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        try:
            status = main(arguments)
        except SystemExit as left:
            status = left.code if isinstance(left.code, int) else 1
    return status, out.getvalue() + err.getvalue()


def tried(seed: int, room: Path) -> str:
    """What became of the run of a seed: its exit status in a word. Raises whatever the command raises.

    `room` is a folder of this run's own; whatever is written stays in it.
    """
    chance = random.Random(seed)
    folder = room / "in" / "book"
    write_book(chance, folder)
    arguments = arguments_for(chance)
    with chdir(folder), without_engraving():
        status, said = status_of(arguments)
        assert status in (0, 1, 2), f"status {status}"
        assert status == 0 or said.strip(), "refused without a word"
        assert all(sign.isprintable() or sign == "\n" for sign in said), f"not shown but obeyed: {said!r}"
        if status_of(["check"])[0] == 0:
            # What `check` lets through, every command reads, and as MkDocs reads it.
            with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
                assert as_mkdocs_reads(Path()) == open_book(Path.cwd()), "two readings of one book"
    return ("good", "fault", "wrong use")[status]


def try_all(count: int, seed: int, failed: Callable[[int], None]) -> Iterator[str]:
    """What became of each run; `failed` is told the seed of one that raised something, in its handler."""
    before = os.environ.get("STAVEWRIGHT_CACHE")
    with tempfile.TemporaryDirectory() as name:
        os.environ["STAVEWRIGHT_CACHE"] = str(Path(name, "cache"))
        try:
            for number in range(count):
                # Each run has a seed of its own, so that one can be repeated alone.
                one = seed * 1_000_000 + number
                room = Path(name, "room")
                try:
                    yield tried(one, room)
                except Exception:
                    failed(one)
                    yield "traceback"
                finally:
                    shutil.rmtree(room, ignore_errors=True)
        finally:
            if before is None:
                del os.environ["STAVEWRIGHT_CACHE"]
            else:
                os.environ["STAVEWRIGHT_CACHE"] = before


if __name__ == "__main__":
    sys.exit("run benchmarks/fuzz.py --books")
