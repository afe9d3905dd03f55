"""What a served book needs beside MkDocs's own server: which pages are looked at, and a second build after
the first."""

from __future__ import annotations

import ipaddress
import socket
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from threading import Timer
from typing import Any
from urllib.parse import unquote, urlsplit

from jinja2 import Environment
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.livereload import LiveReloadServer
from mkdocs.structure.files import File, Files
from mkdocs.structure.pages import Page
from mkdocs.utils.templates import TemplateContext

from ..jobs.folders import temporary_folder

_SOON = 1.0
"""Seconds in which browsers fetch a page that is shown first: while a book is built, its server waits."""

_MOST_WATCHED = 100

App = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]
"""An application in the sense of the Web Server Gateway Interface (PEP 3333)."""


@dataclass(frozen=True, slots=True)
class BuiltSite:
    """What the last whole build was made with."""

    config: MkDocsConfig
    env: Environment
    files: Files

    def page(self, uri: str, title: str) -> Page:
        """A page of it anew, without Markdown of its own; `uri` is its place in the site's sources."""
        page = Page(title, File.generated(self.config, uri, content=""), self.config)
        page.content = ""
        return page

    def write_page(self, page: Page, template: str, context: TemplateContext) -> None:
        """Write a page from its template."""
        place = Path(page.file.abs_dest_path)
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(self.env.get_template(template).render(context), encoding="utf-8", newline="\n")


class NoAddress(Exception):
    """Raised where nothing can be served; the text says where, why and how to mend it."""


def check_free(address: tuple[str, int]) -> None:
    """Whether a server can listen at a host and port. Raises NoAddress."""
    host, port = address
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        with socket.socket(family, socket.SOCK_STREAM) as tried:
            if sys.platform != "win32":
                # As the server does: an address that was left a moment ago is free.
                tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            tried.bind((host, port))
    except (OSError, OverflowError, UnicodeError) as error:
        said = (error.strerror if isinstance(error, OSError) else None) or str(error).rstrip(".")
        mend = "name another, as in `--address 127.0.0.1:8001`"
        raise NoAddress(f"{host}:{port}: nothing can be served here: {said}; {mend}") from None


class DelayedBuild:
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


def note_watched(app: App, mount: str, watched: dict[str, None]) -> App:
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


def guarded(app: App, host: str) -> App:
    """A server's application that answers only those who ask for it by its own name.

    `host` is where the server listens. A page of a stranger may give its own name this machine's address
    and then read what is served here ("DNS rebinding"); its requests still name the stranger's host. Where
    the server listens to all addresses, any address in numbers will do, for it is no name, and this
    machine's own name.
    """
    own = {"localhost", "127.0.0.1", "::1", host.strip("[]").lower()}
    everywhere = host.strip("[]") in ("0.0.0.0", "::", "")
    if everywhere:
        name = socket.gethostname().lower()
        own |= {name, f"{name.partition('.')[0]}.local"}

    def answering(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
        try:
            asked = urlsplit(f"//{environ.get('HTTP_HOST', '')}").hostname or ""
        except ValueError:
            asked = ""
        if asked not in own and not (everywhere and _is_address(asked)):
            start_response("403 Forbidden", [("Content-Type", "text/plain")])
            return [b"The preview answers only under the address that it was started with.\n"]
        # No file has such a name; the server would fail to look for one.
        environ["PATH_INFO"] = str(environ.get("PATH_INFO", "")).replace("\0", "%00")
        return app(environ, start_response)

    return answering


def _is_address(host: str) -> bool:
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True
