"""The version of a site: a hash of all its files, by which a device knows that the site has changed."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from ...book.addresses import ASSETS

LISTING = "book-files.json"
WORKER = "sw.js"
APART = frozenset({LISTING, WORKER, "404.html", "sitemap.xml", "sitemap.xml.gz"})
"""Files of a site that its listing does not name."""

WORDS = f"{ASSETS}words.js"
"""The scripts' words in the language of the book, unless that is English."""

_SOURCE = f"{ASSETS}worker.js"
_STORAGE = f'"{ASSETS}storage.js"'
_MARK = "EDITION-OF-THE-BOOK"


def write_service_worker(site: Path) -> str:
    """Write the listing of a finished site and its service worker; returns the edition, ten characters.

    The worker stands at the root, because it may serve only what lies below it. The same site has the same
    edition wherever and whenever it is built.
    """
    worker = site / _SOURCE
    text = worker.read_text(encoding="utf-8")
    if (site / WORDS).is_file():
        text = text.replace(_STORAGE, f'"{WORDS}", {_STORAGE}')
    edition = write_listing(site, text)
    (site / WORKER).write_text(text.replace(_MARK, edition), encoding="utf-8", newline="\n")
    worker.unlink()
    return edition


def write_listing(site: Path, worker: str = "") -> str:
    """Write the listing of a finished site, by which the next build knows it; returns the edition.

    The text of its service worker is part of the edition.
    """
    named = {
        name: path
        for path in sorted(site.rglob("*"))
        if path.is_file() and (name := path.relative_to(site).as_posix()) not in APART and name != _SOURCE
    }
    files = {name: hashlib.sha256(path.read_bytes()).hexdigest()[:10] for name, path in named.items()}
    whole = json.dumps(files, sort_keys=True) + worker
    edition = hashlib.sha256(whole.encode()).hexdigest()[:10]
    # A reader is told how much there is to keep.
    sizes = {name: path.stat().st_size for name, path in named.items()}
    listing = {"edition": edition, "files": files, "sizes": sizes}
    (site / LISTING).write_text(
        json.dumps(listing, indent=0, sort_keys=True) + "\n", encoding="utf-8", newline="\n"
    )
    return edition
