"""The site's files that are no pages: what the theme's scripts read, and what tells others of the book."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from jinja2 import Environment
from mkdocs.config.defaults import MkDocsConfig

from ..book.addresses import ASSETS, SiteFile
from ..views.page import script_json
from ..views.phone_file import phone_files
from ..views.print_page import PrintFile
from .build import SiteContent
from .news import FEED, ROBOTS, feed, has_news, robots
from .web_app import app_files, words_files


def write_files(config: MkDocsConfig, files: Iterable[SiteFile | PrintFile]) -> None:
    """Put files into the site."""
    for file in files:
        place = Path(config.site_dir, file.address)
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(file.data)


def script_files(config: MkDocsConfig, content: SiteContent, env: Environment) -> Iterator[SiteFile]:
    """What the theme's scripts read: music in narrow lines, controls, words, and the book as an app."""
    translation = content.translation
    yield from phone_files(content.book)
    yield _sound_controls(env)
    yield from app_files(config.site_name, config.site_description or "", translation.language)
    yield from words_files(translation)


def news_files(config: MkDocsConfig, content: SiteContent, search_engines: bool) -> Iterator[SiteFile]:
    """What tells others of the book, where the site knows its address; an author's own file stays."""
    if not config.site_url:
        return
    own = {name for name in (FEED, ROBOTS) if Path(config.site_dir, name).exists()}
    if FEED not in own and has_news(content.book):
        author, language = config.site_author or config.site_name, content.translation.language
        yield feed(content.book, config.site_url, author, language)
    if ROBOTS not in own and search_engines:
        yield robots(config.site_url)


def _sound_controls(env: Environment) -> SiteFile:
    """The script that puts its controls into the bar at the foot of a page."""
    controls = script_json(env.get_template("parts/sound_controls.html").render())
    put = 'for (const section of document.querySelectorAll("[data-sound]")) section.innerHTML ='
    return SiteFile(f"{ASSETS}sound/controls.js", f"{put} {controls};\n".encode())
