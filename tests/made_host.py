"""A host that a test can stop, and editions of a site that come to it bit by bit."""

from __future__ import annotations

import functools
import gzip
import http.server
import itertools
import os
import shutil
import socket
import threading
from contextlib import suppress
from pathlib import Path
from typing import Any

import stavewright
from stavewright.site.files.service_worker import WORKER, write_service_worker

TIMES = itertools.count(1_700_000_000, 60)


class Handler(http.server.SimpleHTTPRequestHandler):
    """A static host that keeps no log; its server says what else it does to what it sends."""

    server: Host

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing."""

    def end_headers(self) -> None:
        """Have the browser ask each time; of itself it would take a new file as good for a second or two."""
        if not self.server.another_make:
            self.send_header("Cache-Control", "no-cache")
        super().end_headers()

    def do_GET(self) -> None:
        """Answer; a host of another make redirects, packs and lets everything be kept for an hour."""
        path = Path(self.translate_path(self.path))
        if not self.server.another_make or path.name == WORKER or not path.exists():
            super().do_GET()
            return
        if path.name == "index.html":
            self.send_response(301)
            self.send_header("Location", self.path.removesuffix("index.html"))
            self.send_header("Content-Length", "0")
            self.end_headers()
            return
        path = path / "index.html" if path.is_dir() else path
        packed = gzip.compress(path.read_bytes())
        self.send_response(200)
        self.send_header("Content-Type", self.guess_type(path.name))
        self.send_header("Content-Encoding", "gzip")
        self.send_header("Content-Length", str(len(packed)))
        self.send_header("Cache-Control", "max-age=3600")
        self.send_header("Vary", "*" if path.suffix == ".html" else "Accept-Encoding")
        self.end_headers()
        self.wfile.write(packed)


class Host(http.server.ThreadingHTTPServer):
    """A host for a folder, which can be stopped and started again at the same address."""

    daemon_threads = True

    def __init__(self, folder: Path, port: int = 0) -> None:
        """Begin to serve."""
        self.folder = folder
        self.another_make = False
        self.open: list[socket.socket] = []
        super().__init__(("127.0.0.1", port), functools.partial(Handler, directory=str(folder)))
        self.thread = threading.Thread(target=self.serve_forever, args=(0.02,), daemon=True)
        self.thread.start()

    @property
    def origin(self) -> str:
        """Its address, without a path."""
        return f"http://127.0.0.1:{self.server_port}"

    def process_request(self, request: Any, client_address: Any) -> None:
        """Remember what is open: a browser connects before it has need, and that would outlive the host."""
        self.open.append(request)
        super().process_request(request, client_address)

    def stop(self) -> None:
        """Stop, and see that nobody answers any more."""
        self.shutdown()
        self.server_close()
        self.thread.join()
        for connection in self.open:
            with suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)
        with socket.socket() as asked:
            assert asked.connect_ex(("127.0.0.1", self.server_port))

    def start_again(self) -> Host:
        """Another server for the same folder at the same address."""
        return Host(self.folder, self.server_port)


def edition(site: Path, folder: Path, words: str, pages: tuple[str, ...] = ()) -> Path:
    """An edition of a site with other words as the headings of some pages, or of all."""
    shutil.copytree(site, folder)
    for path in [folder / page for page in pages] or folder.rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace("</h1>", f" {words}</h1>"), encoding="utf-8")
    theme = Path(stavewright.__file__).parents[1] / "site_src"
    shutil.copy(theme / "assets/worker.js", folder / "assets/worker.js")
    write_service_worker(folder)
    return folder


def publish(fresh: Path, place: Path, but: tuple[str, ...] = (), only: tuple[str, ...] = ()) -> None:
    """Copy files of a site to a host as copying programs do: what is the same stays, each file comes whole.

    Each publish has a time of its own: a host does not tell versions of one second from each other.
    """
    now = next(TIMES)
    for path in fresh.rglob("*"):
        name = path.relative_to(fresh).as_posix()
        target = place / name
        if not path.is_file() or name in but or (only and name not in only):
            continue
        if not target.exists() or target.read_bytes() != path.read_bytes():
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, target.with_name("arriving"))
            os.utime(target.with_name("arriving"), (now, now))
            target.with_name("arriving").replace(target)
