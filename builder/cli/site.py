"""`stavewright build` and `serve`: MkDocs with the book's plugin, and friendlier words."""

from __future__ import annotations

import logging
import sys
import tempfile
import time
from pathlib import Path

from mkdocs.commands import build as mkdocs_build
from mkdocs.commands import serve as mkdocs_serve
from mkdocs.config import load_config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import Abort, BuildError, ConfigurationError, MkDocsException

from ..book.config import CONFIG
from ..book.read import BookProblem
from ..cache.build_stamp import fingerprint, site_inputs, write_stamp
from ..cache.store import CacheStore
from ..engrave.processes.scheduler import Pool
from ..jobs.folders import temporary_folder
from ..jobs.pool import HelperPool, helper_pool
from ..site.build import PRELOAD
from ..site.live_reload import NoAddress, check_free
from ..site.plugin import StavewrightPlugin
from ..site.settings import open_publishable
from ..site.staging import NoPlace, WrongPlace, check_site
from ..visible import visible, visible_rows
from .saying import say


def _config(book: Path, address: str | None = None) -> MkDocsConfig:
    # Looked at here, so that faults reach the user as they are and not through MkDocs.
    open_publishable(book)
    path = book / CONFIG
    try:
        return load_config(str(path), config_file_path=str(path.absolute()), dev_addr=address)
    except (Abort, ConfigurationError) as error:
        raise BookProblem(f"{visible(path)}: {error}") from None


class _Heard(logging.Handler):
    """Keeps what is said, to be said again where nothing has changed."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        """Keep a message."""
        self.rows.append(record.getMessage())


class _Shown(logging.Formatter):
    """A message as the terminal may have it."""

    def format(self, record: logging.LogRecord) -> str:
        """The message, with what a terminal would obey as escapes."""
        return visible_rows(super().format(record))


def _limit_log(*handlers: logging.Handler, quiet: bool) -> None:
    """MkDocs speaks only of what went wrong; the summary below says the rest.

    With `quiet`, the terminal does not show what the plugin remarks either.
    """
    handler = logging.StreamHandler()
    handler.setLevel(logging.WARNING if quiet else logging.NOTSET)
    handler.setFormatter(_Shown("%(message)s"))
    logger = logging.getLogger("mkdocs")
    logger.handlers[:] = [handler, *handlers]
    logger.setLevel(logging.WARNING)
    logging.getLogger("mkdocs.plugins.stavewright").setLevel(logging.INFO)


def build(book: Path, out: Path | None, jobs: int | None, pool: Pool, quiet: bool = False) -> int:
    """Build the site; 1 where a piece could not be engraved or MkDocs gave up.

    With `quiet`, say only what went wrong.
    """
    with helper_pool(CacheStore().place, jobs, PRELOAD) as helpers:
        return _build(book, out, jobs, helpers, pool, quiet)


def _build(
    book: Path, out: Path | None, jobs: int | None, helpers: HelperPool, pool: Pool, quiet: bool
) -> int:
    started = time.monotonic()
    heard = _Heard()
    _limit_log(heard, quiet=quiet)
    config = _config(book)
    if out:
        config.site_dir = str(out.resolve())
    plugin = config.plugins.get("stavewright")
    if not isinstance(plugin, StavewrightPlugin):
        raise BookProblem(f"{book / CONFIG}: name `stavewright` under `plugins:`")
    try:
        standing = check_site(Path(config.site_dir).resolve(), (book, Path(config.docs_dir)))
    except NoPlace as problem:
        say(problem, file=sys.stderr)
        return 2 if isinstance(problem, WrongPlace) else 1
    places = site_inputs(config, plugin.config.exercises)
    try:
        before = fingerprint(places) if places else ""
    except OSError:
        # What is missing is told in its own words further on; nothing is remembered of such a build.
        places, before = None, ""
    config.plugins.on_startup(command="build", dirty=False)
    plugin.standing, plugin.helpers, plugin.pool, plugin.quiet = standing, helpers, pool, quiet
    plugin.config.jobs = jobs or plugin.config.jobs
    try:
        mkdocs_build.build(config)
    except MkDocsException as error:
        # MkDocs has told already what one of our own errors says.
        if not isinstance(error.__context__, BuildError):
            say(error, file=sys.stderr)
        return error.exit_code
    except OSError as error:
        say(f"the site could not be written, and the earlier one stays: {error}", file=sys.stderr)
        return 1
    finally:
        config.plugins.on_shutdown()
    failed = f" ({len(plugin.failures)} failed)" if plugin.failures else ""
    counts = (
        f"{len(plugin.content.engraved_book.engravings)} pieces{failed}, {len(plugin.content.pages)} pages"
    )
    if not quiet:
        say(f"{counts}, in {time.monotonic() - started:.1f} s: {visible(config.site_dir)}")
    if plugin.failures:
        return 1
    if places:
        again = "\n".join(
            [*heard.rows, f"{counts}, unchanged since they were built: {visible(config.site_dir)}"]
        )
        write_stamp(book, out, Path(config.site_dir), places, before, again)
    return 0


def serve(book: Path, address: str | None) -> int:
    """Serve the site until interrupted; without an address, where mkdocs.yml says."""
    config = _config(book, address)
    # MkDocs's own temporary folder lies in one of ours, which is removed whatever becomes of the server.
    own = temporary_folder()
    before, tempfile.tempdir = tempfile.tempdir, str(own.path)
    try:
        # Before the book is engraved, which may take minutes.
        check_free(config.dev_addr)
        mkdocs_serve.serve(str(book / CONFIG), dev_addr=address)
    except (Abort, MkDocsException, NoAddress) as error:
        say(error, file=sys.stderr)
        return 1
    finally:
        tempfile.tempdir = before
        own.remove()
    return 0
