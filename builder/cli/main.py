"""`stavewright`: init, build, serve, check, print, daily, export, cache, new, format, doctor,
language-server.

Exit status: 0 good, 1 a fault in the book, 2 wrong use, 130 and 143 where a signal ended it.
"""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections.abc import Sequence

from ..jobs.signals import INTERRUPTED, heed_signals, ignore_signals
from ..plurals import count_of
from .arguments import command_parser
from .door import through_door
from .saying import say


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command; returns its exit status. argparse itself leaves with 2 on wrong use."""
    return through_door(lambda: _run(argv))


def _run(argv: Sequence[str] | None) -> int:
    from ..cache.store import CacheRefused, own_folder

    parser = command_parser()
    if "_ARGCOMPLETE" in os.environ:
        # A shell asks how a command may go on.
        from .completion import complete

        complete(parser)
    arguments = parser.parse_args(argv)
    if arguments.command not in _WITHOUT_CACHE:
        try:
            own_folder()
        except CacheRefused as refused:
            say(refused, sys.stderr)
            return 2
    if arguments.command == "build" and (said := _unchanged(arguments)):
        if not arguments.quiet:
            say(said)
        return 0
    if arguments.command == "doctor":
        # It tells of packages that cannot be loaded.
        return _doctor(arguments)
    from ..book.read import BookProblem
    from ..engrave.lilypond import EngraverMissing
    from ..language.faults import BookFaults

    try:
        return _COMMANDS[arguments.command](arguments)
    except BookFaults as found:
        say(found.report())
        say(f"{count_of(len(found.faults), 'fault')}.", sys.stderr)
        return 1
    except (BookProblem, EngraverMissing) as problem:
        say(problem, sys.stderr)
        return 1
    except KeyboardInterrupt:
        return INTERRUPTED


def command() -> int:
    """The whole program; returns its exit status. Raises SystemExit with 143 where SIGTERM ends it."""
    try:
        heed_signals()
        return main()
    except KeyboardInterrupt:
        return INTERRUPTED
    finally:
        ignore_signals()
        # Skip the final garbage collection, which takes as long as all imports.
        gc.freeze()


def _check(arguments: argparse.Namespace) -> int:
    from .checking import check

    return check(arguments.book, arguments.coverage, arguments.json)


def _unchanged(arguments: argparse.Namespace) -> str | None:
    """What to say where a build would make the same again; nothing slow is loaded to know."""
    from ..cache.build_stamp import unchanged_site

    return None if arguments.again else unchanged_site(arguments.book, arguments.out)


def _build(arguments: argparse.Namespace) -> int:
    if arguments.workers is None:
        from ..engrave.worker_processes import WorkerPool

        pool = WorkerPool(arguments.jobs)
        # It gets ready while this process loads what it needs.
        pool.start_worker()
        try:
            from .site import build

            return build(arguments.book, arguments.out, arguments.jobs, pool, arguments.quiet)
        finally:
            pool.end_soon()
    from ..engrave.cluster import cluster, is_open

    if is_open(arguments.workers) and not arguments.closed_network:
        say(
            f"{arguments.workers}: whoever can reach this scheduler can run programs on its workers and "
            "here; use tls:// with certificates, or add --closed-network if nobody else can reach it "
            "(docs/trust.md)",
            sys.stderr,
        )
        return 2
    from .site import build

    with cluster(arguments.workers) as workers:
        return build(arguments.book, arguments.out, arguments.jobs, workers, arguments.quiet)


def _serve(arguments: argparse.Namespace) -> int:
    from .site import serve

    return serve(arguments.book, arguments.address)


def _cache(arguments: argparse.Namespace) -> int:
    from .cache import cache

    return cache(arguments.clear, arguments.json)


def _doctor(arguments: argparse.Namespace) -> int:
    from .doctor import doctor

    return doctor(arguments.book, arguments.trying, arguments.json)


def _init(arguments: argparse.Namespace) -> int:
    from .init import init

    return init(arguments.folder, arguments.title, arguments.instruments, arguments.paper)


def _new(arguments: argparse.Namespace) -> int:
    from .new import new

    return new(arguments.book, arguments.slug, arguments.tune, arguments.part)


def _format(arguments: argparse.Namespace) -> int:
    from .formatting import formatting

    return formatting(arguments.book, arguments.files, arguments.check)


def _language_server(arguments: argparse.Namespace) -> int:
    from .language_server import language_server

    return language_server(arguments.textmate)


def _print(arguments: argparse.Namespace) -> int:
    from .printing import printing

    return printing(arguments)


def _daily(arguments: argparse.Namespace) -> int:
    from .daily import daily

    return daily(arguments)


def _export(arguments: argparse.Namespace) -> int:
    from .exporting import exporting

    return exporting(arguments)


_WITHOUT_CACHE = ("check", "doctor", "format", "init", "language-server", "new")
"""Commands that keep nothing between builds, and the one that reports on the cache itself."""

_COMMANDS = {
    "init": _init,
    "check": _check,
    "build": _build,
    "serve": _serve,
    "print": _print,
    "daily": _daily,
    "export": _export,
    "cache": _cache,
    "new": _new,
    "format": _format,
    "language-server": _language_server,
}
