"""What a served book needs beside MkDocs's own server: which pages are looked at, and a second build after
the first."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from threading import Timer
from typing import Any
from urllib.parse import unquote, urlsplit

from jinja2 import Environment
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.livereload import LiveReloadServer
from mkdocs.structure.files import Files

from builder.folders import temporary_folder

_SOON = 1.0
"""Seconds in which browsers fetch a page that is shown first: while a book is built, its server waits."""

_MOST_WATCHED = 100

App = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]
"""An application in the sense of the Web Server Gateway Interface (PEP 3333)."""


@dataclass(frozen=True, slots=True)
class Made:
    """What the last whole build was made with."""

    config: MkDocsConfig
    env: Environment
    files: Files


class Follow:
    """Has a server build once more, a moment from now."""

    def __init__(self, server: LiveReloadServer) -> None:
        self._server = server
        self._count = 0
        self._folder = temporary_folder()
        server.watch(str(self._folder.path))

    def soon(self) -> None:
        """Not at once, so that browsers have what was built just now."""
        timer = Timer(_SOON, self._ask)
        timer.daemon = True
        timer.start()

    def _ask(self) -> None:
        self._count += 1
        try:
            self._write()
        except FileNotFoundError:
            # Some machines empty their temporary folder while a book is served for days.
            self._folder = temporary_folder()
            self._server.watch(str(self._folder.path))
            self._write()

    def _write(self) -> None:
        (self._folder.path / "again").write_text(str(self._count), encoding="utf-8")

    def end(self) -> None:
        """Remove the folder by which it asks."""
        self._folder.remove()


def looking_on(app: App, mount: str, watched: dict[str, None]) -> App:
    """A server's application that notes the pages open in browsers, the latest last.

    A page that is open asks the server again and again whether it has changed, and says where it asks from.
    Addresses are from the site's root, which `mount` leads to.
    """

    def noting(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        if str(environ.get("PATH_INFO", "")).startswith("/livereload/"):
            path = unquote(urlsplit(str(environ.get("HTTP_REFERER", ""))).path)
            address = path.removeprefix(mount).removesuffix("index.html")
            watched.pop(address, None)
            watched[address] = None
            if len(watched) > _MOST_WATCHED:
                del watched[next(iter(watched))]
        return app(environ, start_response)

    return noting
