"""The command line's grammar: every command, its options, their help, and the values that they take."""

from __future__ import annotations

import argparse
import os
import sys
from datetime import date, time
from pathlib import Path
from typing import Any, NoReturn

from .. import __version__
from ..visible import shown, visible
from .saying import say

_INIT = "Begin a book in a folder; on a terminal, ask for what no option says."
_CACHE = "Show where engraved music is cached and how much there is, or empty the cache."


class _Parser(argparse.ArgumentParser):
    """Shows what it quotes of an argument."""

    def error(self, message: str) -> NoReturn:
        """Print what is wrong and exit with 2."""
        super().error(visible(message))

    def _print_message(self, message: str, file: Any = None) -> None:
        """Print help through `say`, which reports where it could not be written."""
        if message:
            say(message.rstrip("\n"), file or sys.stderr)


def command_parser() -> argparse.ArgumentParser:
    """The parser of the command line, with every command and its options."""
    parser = _Parser(
        prog="stavewright", description="A wind player's exercises, written once and engraved in every key."
    )
    parser.add_argument("--version", action="version", version=f"stavewright {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)

    def command(name: str, says: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=says, description=says)
        sub.add_argument(
            "--book",
            type=_path,
            default=Path(),
            metavar="DIR",
            help="the book's folder (default: the current one)",
        )
        return sub

    _add_init(commands.add_parser("init", help=_INIT, description=_INIT))
    build = command("build", "Build the site.")
    build.add_argument(
        "--out", type=_path, metavar="DIR", help="folder to write to (default: site/ in the book)"
    )
    build.add_argument(
        "--jobs", type=_positive, metavar="N", help="engravers in parallel (default: one for each core)"
    )
    build.add_argument(
        "--workers",
        metavar="ADDRESS",
        help="engrave on a Dask cluster of your own, such as tls://host:8786 (see docs/trust.md)",
    )
    build.add_argument(
        "--closed-network",
        action="store_true",
        help="allow --workers tcp://...: nobody else can reach the scheduler and its workers",
    )
    build.add_argument("--again", action="store_true", help="build even if nothing has changed")
    _add_quiet(build)
    serve = command("serve", "Serve the site on this machine and rebuild it when you save a file.")
    serve.add_argument(
        "--address", metavar="HOST:PORT", help="where to serve it (default: `dev_addr`, or 127.0.0.1:8000)"
    )
    check = command("check", "Report every fault in the book; engrave nothing.")
    check.add_argument(
        "--coverage", action="store_true", help="also report what the book practises, and what it leaves out"
    )
    _add_json(check)
    _add_print(command("print", "Write a PDF to print."))
    _add_daily(command("daily", "Plan what to play each day."))
    _add_export(command("export", "Write MIDI and MusicXML files for other programs."))
    cache = commands.add_parser("cache", help="Show the size of the cache, or empty it.", description=_CACHE)
    cache.add_argument(
        "--clear", action="store_true", help="empty the cache; the next build engraves everything again"
    )
    _add_json(cache)
    doctor = command(
        "doctor", "Report what this machine needs to build a book, and how to get what is missing."
    )
    doctor.add_argument("--try", dest="trying", action="store_true", help="also engrave one small piece")
    _add_json(doctor)
    new = command("new", "Write an exercise with comments to start from, or bring in a melody.")
    new.add_argument("slug", metavar="SLUG", help="its address: small letters, digits and hyphens")
    new.add_argument(
        "--from",
        dest="tune",
        type=_path,
        metavar="FILE",
        help="a melody to bring in: MusicXML, ABC or MIDI (docs/melodies.md)",
    )
    new.add_argument(
        "--part",
        type=_positive,
        metavar="N",
        help="which part or tune of it (default: the first)",
    )
    style = command("format", "Write the exercises in one style: fields in order, bars below each other.")
    style.add_argument(
        "files",
        type=_path,
        nargs="*",
        metavar="FILE",
        help="these files (default: all exercises of the book)",
    )
    style.add_argument(
        "--check",
        action="store_true",
        help="write nothing; name the files that would change",
    )
    _add_language_server(commands)
    return parser


def _add_language_server(commands: argparse._SubParsersAction[_Parser]) -> None:
    says = "Help an editor that speaks the Language Server Protocol (see docs/editors.md)."
    sub = commands.add_parser("language-server", help=says, description=says)
    sub.add_argument(
        "--textmate",
        type=_path,
        metavar="FILE",
        help="instead write a grammar that colours exercises to this file",
    )


def _add_json(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--json", action="store_true", help="write JSON, for scripts (docs/scripts.md)")


def _add_quiet(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("-q", "--quiet", action="store_true", help="say only what went wrong")


def _add_init(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "folder",
        type=_path,
        nargs="?",
        default=Path(),
        metavar="DIR",
        help="the folder of the new book (default: the current one)",
    )
    sub.add_argument("--title", metavar="TEXT", help="the book's title")
    sub.add_argument("--instruments", metavar="A,B", help="who plays, such as flute,clarinet-b-flat")
    sub.add_argument("--paper", metavar="NAME", help="a4 or letter")


def _add_print(sub: argparse.ArgumentParser) -> None:
    sub.add_argument(
        "--key",
        action="append",
        default=[],
        metavar="A,B",
        help="these keys, such as e-flat: every exercise, or those of --exercise",
    )
    sub.add_argument(
        "--exercise",
        action="append",
        default=[],
        metavar="A,B",
        help="these exercises, in every key or in those of --key",
    )
    sub.add_argument("--all", action="store_true", help="the whole book")
    # The other names are those that it had before.
    sub.add_argument(
        "--selection",
        "--handout",
        "--set",
        type=_path,
        metavar="FILE",
        help="what a text file lists, for one student or several (docs/printing.md)",
    )
    sub.add_argument("--instrument", metavar="NAME", help="the instrument (default: the book's first)")
    sub.add_argument("--variations", metavar="A,B", help="only these (default: all, and as written)")
    sub.add_argument("--paper", metavar="NAME", help="a4 or letter (default: the book's)")
    sub.add_argument("--staff-size", type=float, metavar="MM", help="a staff's height (default: 7)")
    sub.add_argument(
        "--booklet", action="store_true", help="two pages on each side, in the order for folding"
    )
    sub.add_argument(
        "--written-out", action="store_true", help="every variation in every key (with --key it always is)"
    )
    sub.add_argument("--part", metavar="NAME", help="of duets only one part: first or second")
    sub.add_argument("--single-sided", action="store_true", help="for paper printed on one side")
    sub.add_argument("-o", dest="out", type=_path, required=True, metavar="FILE.pdf", help="the PDF to write")
    _add_quiet(sub)


def _add_daily(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--minutes", type=int, metavar="N", help="the most minutes a day")
    sub.add_argument("--days", type=int, default=14, metavar="N", help="how many days (default: 14)")
    sub.add_argument("--instrument", metavar="NAME", help="the instrument (default: the book's first)")
    sub.add_argument("--level", metavar="NAME", help="only what suits this ability, such as beginner")
    sub.add_argument("--variations", metavar="A,B", help="only these ways of playing (default: all)")
    sub.add_argument(
        "--student",
        type=_path,
        metavar="FILE",
        help="what a teacher fixes for one student or several, a text file",
    )
    sub.add_argument(
        "--every-key",
        action="store_true",
        help="promise every exercise in every key and register within these days",
    )
    sub.add_argument(
        "--seed", type=int, default=0, metavar="N", help="random seed; the same seed gives the same plan"
    )
    sub.add_argument("--exact", action="store_true", help="search for the best plan with the optional solver")
    sub.add_argument("--report", action="store_true", help="say how good the plan is by its own measure")
    sub.add_argument("--json", action="store_true", help="write the plan as JSON, for scripts")
    sub.add_argument(
        "--from", dest="start", type=_date, metavar="DATE", help="the first day, such as 2026-02-01"
    )
    sub.add_argument("--at", type=_time, metavar="TIME", help="the time in the calendar, such as 7:30")
    sub.add_argument("--paper", metavar="NAME", help="a4 or letter (default: the book's)")
    sub.add_argument(
        "--calendar",
        type=_path,
        metavar="FILE.ics",
        help="the calendar file to write, one entry for each day",
    )
    sub.add_argument("-o", dest="out", type=_path, metavar="FILE.pdf", help="the PDF to write")


def _path(text: str) -> Path:
    try:
        named = b"\0" not in os.fsencode(text)
    except UnicodeEncodeError:
        named = False
    if not named:
        raise argparse.ArgumentTypeError(f"{shown(text)} cannot be the name of a file or folder")
    return Path(text)


def _date(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{shown(text)} is not a date such as 2026-02-01") from None


def _time(text: str) -> time:
    try:
        return time.fromisoformat(text.zfill(5))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{shown(text)} is not a time such as 7:30") from None


def _add_export(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--midi", action="store_true", help="write MIDI files (what sounds)")
    sub.add_argument("--musicxml", action="store_true", help="write MusicXML files (what is written)")
    sub.add_argument("--exercise", metavar="SLUG", help="one exercise (default: all)")
    sub.add_argument("--key", metavar="KEY", help="one key, such as e-flat (default: all)")
    sub.add_argument("--instrument", metavar="NAME", help="the instrument (default: all of the book)")
    sub.add_argument(
        "-o", dest="out", type=_path, required=True, metavar="DIR", help="the folder to write to"
    )
    _add_quiet(sub)


def _positive(text: str) -> int:
    number = int(text)
    if not 1 <= number <= 1000:
        raise argparse.ArgumentTypeError("from 1 to 1000")
    return number
