"""Pages that were written before are taken from the cache.

Most pages of a book show one exercise in one key, and stay as they are while another exercise changes.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from importlib.metadata import version
from pathlib import Path
from typing import Any

import mkdocs
from jinja2 import Template
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.pages import Page

from ..book.addresses import EXERCISES, KEYS
from ..cache.memo import memo_key
from ..cache.store import CacheStore
from ..music.exercise import exercise_fingerprint
from ..translation.catalog import ENGLISH
from ..views.page_views import InKeyView, Link
from .menu import MenuEntry

DECIDED_BY = "decided_by"
"""In a page's context: everything that decides what is written; empty where that is not known."""


class CachedTemplate(Template):
    """Takes what it wrote before for the same page, where the context says what decides that.

    A page on which something could not be engraved is not kept: it is told each time.
    """

    def render(self, *args: Any, **more: Any) -> str:
        """The page."""
        parts = args[0].get(DECIDED_BY) if args else None
        if not parts:
            return super().render(*args, **more)
        store, key = CacheStore(), memo_key("page", parts)
        data = store.get(key)
        if data is None:
            data = super().render(*args, **more).encode()
            view: InKeyView = args[0]["view"]
            if view.failed().isdisjoint(view.ink):
                store.put(key, data)
        return data.decode()


def decided_by_all(
    config: MkDocsConfig,
    pages: Iterable[str],
    menu: tuple[MenuEntry, ...],
    has_feed: bool,
    language: str = ENGLISH,
) -> tuple[str, ...]:
    """What decides every page of a book alike; empty where something else than this book's plugin has a part.

    `pages` are the places of the book's pages, to which others may lead, as do the menu and a feed.
    `language` is that of the book's own words.
    """
    if config.hooks or set(config.plugins) != {"stavewright"} or config.theme.custom_dir:
        return ()
    digest = hashlib.sha256()
    for folder in config.theme.dirs:
        for path in sorted(Path(folder).rglob("*.html")):
            digest.update(path.read_bytes())
    # How many engravers work at once decides nothing of a page.
    options = {**config.plugins["stavewright"].config, "jobs": None}
    apart = (place for place in pages if EXERCISES not in place and KEYS not in place)
    return (
        *(version(name) for name in ("jinja2", "markupsafe")),
        # By its module: what continues MkDocs answers to that name too.
        repr((mkdocs.__name__, mkdocs.__version__)),
        digest.hexdigest(),
        language,
        repr((config.site_name, config.site_description, config.site_url)),
        repr((config.copyright, config.repo_url, config.repo_name)),
        repr((config.extra_css, config.extra_javascript, menu, has_feed)),
        repr(sorted(options.items())),
        *apart,
    )


def decided_by(alike: tuple[str, ...], page: Page, view: object, peers: list[Link]) -> tuple[str, ...]:
    """What decides a page: `alike` and its own; empty where that is not known."""
    # Where a studio wrote a page of its own at this place, its words stand on it too.
    if not alike or not isinstance(view, InKeyView) or not view.ink or page.file.generated_by is None:
        return ()
    return (
        *alike,
        repr((view.address, page.title, page.canonical_url, peers)),
        exercise_fingerprint(view.exercise),
        repr(view.instrument),
        *view.ink,
    )
