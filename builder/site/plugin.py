"""The MkDocs plugin: the book's pages join the site without a file of their own.

What can fail as a whole (reading, finding an engraver) happens before MkDocs begins, and the new site is
written beside the old one and put in its place when it is whole.

MkDocs wants one class that has a method for each of its events, so all of them are here; what a method does
for long is in the modules beside this one.
"""

from __future__ import annotations

import logging
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import Any, cast
from urllib.parse import urljoin, urlsplit

from babel import Locale
from jinja2 import Environment
from mkdocs.commands.build import get_context
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import Abort, MkDocsException, PluginError
from mkdocs.livereload import LiveReloadServer
from mkdocs.plugins import BasePlugin, event_priority
from mkdocs.structure.files import File, Files, InclusionLevel
from mkdocs.structure.nav import Navigation
from mkdocs.structure.pages import Page as MkDocsPage
from mkdocs.utils.templates import TemplateContext

from ..book.config import Config
from ..book.instruments_file import FILE as OWN_INSTRUMENTS
from ..book.links import check_links
from ..book.read import Book, BookProblem, read_book, sources
from ..cache.store import CacheRefused, CacheStore, own_folder
from ..engrave.lilypond import EngraverMissing
from ..engrave.scheduler import Pool
from ..engrave.worker_processes import WorkerPool
from ..export.downloads import downloads
from ..jobs.pool import HelperPool
from ..jobs.signals import heed_unheeded_signals, signals_held
from ..language.faults import BookFaults
from ..language.read import SUFFIX
from ..translation.catalog import ENGLISH
from ..views.daily_page import sets_files
from ..views.phone_file import phone_file
from .build import PRELOAD, SiteContent, build_content, in_key_page
from .compiled_templates import compiled_templates
from .headings import split_heading
from .live_reload import BuiltSite, DelayedBuild, NoAddress, check_free, guarded, note_watched
from .menu import menu_of, name_index_files
from .news import has_news
from .other_files import news_files, script_files, write_files
from .page_cache import DECIDED_BY, CachedTemplate, decided_by, decided_by_all
from .page_values import instrument_book_at, link_from, peers_of, template_values
from .plain_pages import IN_NAVIGATION, LEFT_OUT, STYLE, body_of, plain_environment, plain_style
from .preview import Saved, preview
from .problems import WrongUse, config_for_site, refusal, words_of
from .service_worker import write_listing, write_service_worker
from .settings import THEME, PluginConfig
from .social_cards import BOOK as PICTURE
from .social_cards import address_of, pictures
from .staging import NoPlace, Seen, Staging
from .template_words import speak

log = logging.getLogger("mkdocs.plugins.stavewright")

_PLAIN = (
    "theme %s: the book's pages show their music, words and files; sound, the stand, finding and the offline "
    "copy come with the theme %s"
)
_SEARCH = (
    "plugins: search: the theme does not use its index; the page Find searches the exercises and your own "
    "pages; take it out"
)


class StavewrightPlugin(BasePlugin[PluginConfig]):
    """Reads the book, engraves it, and adds its pages."""

    def __init__(self) -> None:
        self.said = Config()
        self.standing: Seen | None = None
        self.serving = False
        self.quiet = False
        self.built: SiteContent | None = None
        self.failures: tuple[str, ...] = ()
        self.alike: tuple[str, ...] = ()
        self.plain = False
        self.plain_env: Environment | None = None
        self.nav_items: list[Any] = []
        self.headings: dict[str, str] = {}
        self.staging: Staging | None = None
        self.served: BuiltSite | None = None
        self.saved: Saved | None = None
        self.watched: dict[str, None] = {}
        self.helpers: HelperPool | None = None
        self.pool: Pool | None = None
        self.follow: DelayedBuild | None = None

    def on_startup(self, *, command: str, dirty: bool) -> None:
        """Remember whether this is a preview; MkDocs keeps a plugin from one command to the next.

        MkDocs's own commands do not heed SIGTERM and would leave their folders behind.
        """
        heed_unheeded_signals()
        self.serving = command == "serve"
        self.standing = self.staging = self.served = self.saved = None
        self.watched = {}

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Look at mkdocs.yml as every command does, and write the new site beside the old one.

        A studio's own tables get no style.
        """
        self.said = config_for_site(config, dict(self.config))
        config.mdx_configs.setdefault("tables", {}).setdefault("use_align_attribute", True)
        self.plain = config.theme.name != THEME
        if not self.plain:
            # MkDocs would look for a catalog of its own among the theme's files, and warn that there is none.
            config.theme["locale"] = Locale.parse(ENGLISH)
        if self.plain:
            log.info(_PLAIN, config.theme.name, THEME)
            config.extra_css = [STYLE, *config.extra_css]
        elif "search" in config.plugins:
            log.info(_SEARCH)
        try:
            own_folder()
        except CacheRefused as refused:
            raise WrongUse(str(refused)) from None
        if not self.serving:
            book = Path(config.config_file_path).parent
            try:
                with signals_held():
                    keep = book, Path(config.docs_dir)
                    self.staging = Staging(Path(config.site_dir), keep, self.standing)
            except NoPlace as problem:
                raise refusal(problem) from None
            config.site_dir = str(self.staging.fresh)
        return config

    def on_pre_build(self, *, config: MkDocsConfig) -> None:
        """Read and engrave, while the earlier site still stands."""
        folder = Path(config.config_file_path).parent
        try:
            # MkDocs may publish another folder than mkdocs.yml says: a hook may have changed it.
            check_links(folder, [Path(config.docs_dir), *sources(folder, self.config)], self.config)
        except BookFaults as problem:
            raise PluginError(words_of(problem)) from None
        self.saved = self._as_saved(config) if self.serving else None
        jobs = self.config.jobs
        helpers = self.helpers = self.helpers or HelperPool(CacheStore().place, jobs, PRELOAD)
        helpers.limit(jobs)
        pool = self.pool = self.pool or WorkerPool(jobs)
        if isinstance(pool, WorkerPool):
            pool.limit(jobs)
            pool.start_worker()
        try:
            book = self._read(config)
            description = config.site_description or ""
            content = build_content(book, description, helpers, pool, self.quiet)
            if self.plain:
                pages = {uri: page for uri, page in content.pages.items() if uri not in LEFT_OUT}
                content = replace(content, pages=pages)
            self.built = content
        except (BookFaults, BookProblem, EngraverMissing) as problem:
            raise PluginError(words_of(problem)) from None
        self.failures = content.failures
        if self.serving:
            # MkDocs empties the folder that a browser looks into, and should not be long about it.
            helpers.wait()
        for sentence in book.withheld:
            log.info(sentence)

    @property
    def content(self) -> SiteContent:
        """What `on_pre_build` made."""
        assert self.built is not None
        return self.built

    def _read(self, config: MkDocsConfig) -> Book:
        folder = Path(config.config_file_path).parent
        return read_book(folder, config.site_name, dict(self.config), self.said)

    def _as_saved(self, config: MkDocsConfig) -> Saved:
        book = Path(config.config_file_path)
        pages = (path for path in Path(config.docs_dir).rglob("*") if path.is_file())
        return Saved.of(book.parent / self.config.exercises, (book, book.parent / OWN_INSTRUMENTS, *pages))

    def on_files(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Add a page for each view; its music stays out of the Markdown pass.

        Where the exercises lie among the book's own pages, their sources stay out of the site: some are
        private.
        """
        for file in [file for file in files if file.src_uri.endswith(SUFFIX)]:
            files.remove(file)
        for uri in self.content.pages:
            if files.get_file_from_path(uri) is None:
                # Not in MkDocs's navigation: it would tell of each that `nav:` does not name it.
                wanted = self.plain and uri in IN_NAVIGATION
                inclusion = InclusionLevel.INCLUDED if wanted else InclusionLevel.NOT_IN_NAV
                files.append(File.generated(config, uri, content="", inclusion=inclusion))
        if self.plain:
            files.append(File.generated(config, STYLE, content=plain_style()))
        return files

    def on_nav(self, nav: Navigation, *, config: MkDocsConfig, files: Files) -> Navigation:
        """The templates make their own ways; MkDocs's would repeat every page on every page.

        What `nav:` names stands in the menu.
        """
        self.nav_items = list(nav.items) if config.nav else []
        self.headings = {}
        if not self.plain:
            nav.items.clear()
        return nav

    def on_page_markdown(self, markdown: str, *, page: MkDocsPage, config: MkDocsConfig, files: Files) -> str:
        """Give each page its template and title."""
        found = self.content.pages.get(page.file.src_uri)
        if found:
            if not self.plain:
                page.meta.setdefault("template", found.template)
            page.meta.setdefault("title", self.content.translation.say(found.title))
        return markdown

    def on_page_content(self, html: str, *, page: MkDocsPage, config: MkDocsConfig, files: Files) -> str:
        """Take away a first heading, which the template prints, and let links hold without a server."""
        heading, rest = split_heading(html)
        if self.plain and page.file.src_uri not in self.content.pages:
            # The theme prints it where it stands.
            return name_index_files(html)
        if heading:
            self.headings[page.file.src_uri] = heading
        return name_index_files(rest)

    def on_env(self, env: Environment, *, config: MkDocsConfig, files: Files) -> Environment:
        """What every template may call."""
        content = self.content
        translation = content.translation
        if not self.plain:
            speak(env, translation)
            env.autoescape = True
            env.bytecode_cache = compiled_templates(config)
        menu = menu_of(self.nav_items)
        has_feed = bool(config.site_url) and has_news(content.book)
        env.globals |= template_values(content, files, menu)
        # A preview adds pages.
        env.globals["has"] = lambda address: f"{address}index.md" in self.content.pages
        env.globals["has_feed"] = has_feed
        env.globals["search_engines"] = self.config.search_engines
        # A preview changes as it is written: no browser should keep it.
        env.globals["kept"] = not self.serving
        self.served = BuiltSite(config, env, files)
        # It takes along what every template may call.
        self.plain_env = plain_environment(env, translation) if self.plain else None
        engraved_book = content.engraved_book
        write_files(config, downloads(engraved_book.instrument_books, engraved_book.engravings))
        if not self.plain:
            env.template_class = CachedTemplate
        self.alike = (
            ()
            if self.serving or self.plain
            else decided_by_all(config, content.pages, menu, has_feed, translation.language)
        )
        return env

    def on_page_context(
        self, context: TemplateContext, *, page: MkDocsPage, config: MkDocsConfig, nav: Navigation
    ) -> TemplateContext:
        """The page's view, and links that hold from a sub-path and from a folder without a server."""
        added = cast(dict[str, Any], context)
        added["view"] = self._view(page.file.src_uri)
        added["to"] = link_from(page)
        added["own_page"] = self._own_page
        added["heading"] = self.headings.get(page.file.src_uri, "")
        added["instrument_book"] = instrument_book_at(self.content.book, page.file.src_uri)
        # What other places show beside a link here; they want it with the host's name.
        exercise = getattr(added["view"], "exercise", None)
        picture = address_of(exercise.slug) if exercise else PICTURE
        added["picture"] = urljoin(config.site_url, picture) if config.site_url else ""
        added["peers"] = peers_of(self.content, page.file.src_uri)
        added[DECIDED_BY] = decided_by(self.alike, page, added["view"], added["peers"])
        found = self.content.pages.get(page.file.src_uri)
        if self.plain_env is not None and found:
            page.content = body_of(self.plain_env, found.template, added)
        return context

    def on_template_context(
        self, context: TemplateContext, *, template_name: str, config: MkDocsConfig
    ) -> TemplateContext:
        """The page for a missing address may be shown at any depth, so its links are from the site's root."""
        root = urlsplit(config.site_url or "/").path or "/"
        cast(dict[str, Any], context)["to"] = lambda address: root + address
        return context

    def _wait_for_helpers(self) -> None:
        """Wait for what helpers were given."""
        if self.helpers is not None:
            self.helpers.wait()
            self.helpers = None

    def _view(self, uri: str) -> Any:
        """What a page shows; None where it is no page of the book."""
        page = self.content.pages.get(uri)
        view = page.view if page else None
        if callable(view):
            self._wait_for_helpers()
            return view()
        return view

    def _own_page(self, name: str) -> str:
        """The address of a page of the author's, or an empty string where MkDocs leaves it out."""
        file = self.served.files.get_file_from_path(name) if self.served else None
        return file.dest_uri if file and file.inclusion.is_included() else ""

    @event_priority(-100)
    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Add what is no page, and put the whole new site in the old one's place.

        After all other plugins, for the site's listing must name what they add.
        """
        fresh = Path(config.site_dir)
        content = self.content
        shown = pictures(content.engraved_book, self.pool) if config.site_url else ()
        self._wait_for_helpers()
        prints = content.prints.view
        self.failures = tuple(dict.fromkeys((*content.failures, *prints.failed)))
        for sentence in dict.fromkeys((*self.failures, *prints.problems)):
            log.warning(sentence)
        write_files(config, chain(shown, prints.files, sets_files(content.engraved_book)))
        write_files(config, news_files(config, content, self.config.search_engines))
        if self.plain:
            write_listing(fresh)
        else:
            if self.served is None:
                raise RuntimeError("MkDocs has made no templates")
            write_files(config, script_files(config, content, self.served.env))
            write_service_worker(fresh)
        if self.staging is not None:
            staging, self.staging = self.staging, None
            try:
                staging.publish()
            except NoPlace as problem:
                raise refusal(problem) from None
            config.site_dir = str(staging.site)

    def on_build_error(self, *, error: Exception) -> None:
        """Leave no half of a site behind, and nobody at work."""
        self._abandon()
        if isinstance(error, EngraverMissing):
            # It came while pages were written.
            raise PluginError(str(error)) from None

    def on_shutdown(self) -> None:
        """The same where a signal ended the build, of which MkDocs tells nobody; and end a preview."""
        if self.staging is not None or self.helpers is not None:
            self._abandon()
        if self.follow is not None:
            self.follow.end()
            self.follow = None

    def _abandon(self) -> None:
        if isinstance(self.pool, WorkerPool):
            self.pool.end_soon()
        if self.helpers is not None:
            self.helpers.stop()
            self.helpers = None
        if self.staging is not None:
            self.staging.abandon()
            self.staging = None

    def on_serve(self, server: LiveReloadServer, *, config: MkDocsConfig, builder: Any) -> LiveReloadServer:
        """Rebuild when an exercise is saved, or the studio's own instruments are: one key of it first."""
        try:
            check_free(config.dev_addr)
        except NoAddress as problem:
            raise PluginError(str(problem)) from None
        folder = Path(config.config_file_path).parent
        server.watch(str(folder / self.config.exercises))
        if (folder / OWN_INSTRUMENTS).is_file():
            server.watch(str(folder / OWN_INSTRUMENTS))
        app = note_watched(server.serve_request, server.mount_path, self.watched)
        server.set_app(guarded(app, config.dev_addr.host))
        follow = self.follow = DelayedBuild(server)
        whole = server.builder

        def rebuild() -> None:
            try:
                config_for_site(config)
                if self.preview():
                    follow.soon()
                else:
                    whole()
            except Abort:
                pass  # told already
            except MkDocsException as problem:
                # What was shown before is still there, and stays until the book is mended.
                log.error(str(problem))

        server.builder = rebuild
        return server

    def preview(self) -> bool:
        """Show the one exercise that has changed in one key; whether that was possible.

        Raises PluginError where the book has faults.
        """
        if self.served is None or self.saved is None or self.plain:
            return False
        before, self.saved = self.saved, self._as_saved(self.served.config)
        slug = before.changed_to(self.saved)
        if not slug:
            return False
        try:
            view = preview(self._read(self.served.config), slug, reversed(self.watched), self.pool)
        except (BookFaults, BookProblem, EngraverMissing) as problem:
            raise PluginError(words_of(problem)) from None
        if view is None:
            return False
        uri = f"{view.address}index.md"
        shown = in_key_page(view)
        self.built = replace(self.content, pages=self.content.pages | {uri: shown})
        page = self.served.page(uri, self.content.translation.say(shown.title))
        nav = Navigation([], [])
        context = get_context(nav, self.served.files, self.served.config, page)
        context = self.on_page_context(context, page=page, config=self.served.config, nav=nav)
        self.served.write_page(page, shown.template, context)
        write_files(self.served.config, [phone_file(view)])
        return True
