"""The MkDocs plugin: the book's pages join the site without a file of their own.

What can fail as a whole (reading, finding an engraver) happens before MkDocs begins, and the new site is
written beside the old one and put in its place when it is whole.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
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
from mkdocs.utils import normalize_url
from mkdocs.utils.templates import TemplateContext

from ..book.addresses import ASSETS, SiteFile
from ..book.config import Config
from ..book.instruments_file import FILE as OWN_INSTRUMENTS
from ..book.links import check_links
from ..book.own_pages import OwnPage
from ..book.read import Book, BookProblem, read_book, sources
from ..cache.store import CacheRefused, CacheStore, own_folder
from ..daily.cautions import GENERAL
from ..engrave.lilypond import EngraverMissing
from ..engrave.scheduler import Pool
from ..engrave.worker_processes import WorkerPool
from ..export.downloads import downloads
from ..jobs.pool import HelperPool
from ..jobs.signals import heed_unheeded_signals, signals_held
from ..language.faults import BookFaults
from ..language.read import SUFFIX
from ..translation.catalog import ENGLISH
from ..translation.said import term
from ..views.daily_page import sets_files
from ..views.page import script_json
from ..views.page_views import InstrumentBookView, Link
from ..views.phone_file import phone_file, phone_files
from ..views.print_page import PrintFile
from .build import PRELOAD, SiteContent, build_content, in_key_page
from .compiled_templates import compiled_templates
from .headings import split_heading
from .live_reload import BuiltSite, DelayedBuild, NoAddress, check_free, guarded, note_watched
from .menu import menu_of, name_index_files, own_page_views, pages_without_way
from .news import FEED, ROBOTS, feed, has_news, page_days, robots
from .page_cache import DECIDED_BY, CachedTemplate, decided_by, decided_by_all
from .plain_pages import IN_NAVIGATION, LEFT_OUT, STYLE, body_of, plain_environment, plain_style
from .preview import Saved, preview
from .service_worker import write_listing, write_service_worker
from .settings import THEME, PluginConfig, said_for_site
from .social_cards import BOOK as PICTURE
from .social_cards import address_of, pictures
from .staging import NoPlace, Seen, Staging, WrongPlace
from .template_words import speak
from .web_app import app_files, words_files

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
        self.said = _said(config, dict(self.config))
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
            raise _WrongUse(str(refused)) from None
        if not self.serving:
            book = Path(config.config_file_path).parent
            try:
                with signals_held():
                    keep = book, Path(config.docs_dir)
                    self.staging = Staging(Path(config.site_dir), keep, self.standing)
            except NoPlace as problem:
                raise _refused(problem) from None
            config.site_dir = str(self.staging.fresh)
        return config

    def on_pre_build(self, *, config: MkDocsConfig) -> None:
        """Read and engrave, while the earlier site still stands."""
        folder = Path(config.config_file_path).parent
        try:
            # MkDocs may publish another folder than mkdocs.yml says: a hook may have changed it.
            check_links(folder, [Path(config.docs_dir), *sources(folder, self.config)], self.config)
        except BookFaults as problem:
            raise PluginError(_words_of(problem)) from None
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
            raise PluginError(_words_of(problem)) from None
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
        env.globals["book"] = content.book
        env.globals["cautions"] = GENERAL
        # A preview changes as it is written: no browser should keep it.
        env.globals["kept"] = not self.serving
        env.globals["has"] = lambda address: f"{address}index.md" in self.content.pages
        self.served = BuiltSite(config, env, files)
        menu = menu_of(self.nav_items)
        named = {each.file for each in content.engraved_book.book.contents if isinstance(each, OwnPage)}
        without_way = pages_without_way(files, content.pages, named, menu)
        own_pages = own_page_views(files, content.pages)
        env.globals["menu"] = menu
        env.globals["has_feed"] = has_feed = bool(config.site_url) and has_news(content.book)
        env.globals["page_days"] = page_days(content.book)
        env.globals["search_engines"] = self.config.search_engines
        env.globals["own_pages"] = own_pages
        env.globals["more_pages"] = [page for page in own_pages if page.address in without_way]
        # It takes along what every template may call.
        self.plain_env = plain_environment(env, translation) if self.plain else None
        engraved_book = content.engraved_book
        _write(config, downloads(engraved_book.instrument_books, engraved_book.engravings, translation))
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

        def to(address: str) -> str:
            """A relative link to an address from the site's root; a folder's link names its page."""
            path, hash_sign, anchor = address.partition("#")
            if not path or path.endswith("/"):
                path += "index.html"
            return normalize_url(path, page) + hash_sign + anchor

        added["to"] = to
        added["own_page"] = self._own_page
        added["heading"] = self.headings.get(page.file.src_uri, "")
        added["instrument_book"] = self._instrument_book(page.file.src_uri)
        # What other places show beside a link here; they want it with the host's name.
        exercise = getattr(added["view"], "exercise", None)
        picture = address_of(exercise.slug) if exercise else PICTURE
        added["picture"] = urljoin(config.site_url, picture) if config.site_url else ""
        added["peers"] = self._peers(page.file.src_uri)
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

    def _instrument_book(self, uri: str) -> InstrumentBookView | None:
        """The instrument's book that a page belongs to; the only one belongs to every page."""
        instrument_books = self.content.book.instrument_books
        if len(instrument_books) == 1:
            return instrument_books[0]
        return next(
            (instrument_book for instrument_book in instrument_books if uri.startswith(instrument_book.root)),
            None,
        )

    def _peers(self, uri: str) -> list[Link]:
        """This page for each instrument of the book, or where that has no such page, its contents."""
        instrument_books = self.content.book.instrument_books
        here = self._instrument_book(uri)
        if len(instrument_books) < 2 or here is None:
            return []
        found = []
        for instrument_book in instrument_books:
            same = instrument_book.root + uri.removeprefix(here.root)
            address = same if same in self.content.pages else f"{instrument_book.root}index.md"
            name = term(instrument_book.instrument.name)
            found.append(Link(address.removesuffix("index.md"), name, instrument_book is here))
        return found

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
        _write(config, chain(shown, prints.files, sets_files(content.engraved_book)))
        _write(config, self._news(config))
        if self.plain:
            write_listing(fresh)
        else:
            _write(config, phone_files(content.book))
            translation = content.translation
            _write(config, [self._sound_controls()])
            _write(config, app_files(config.site_name, config.site_description or "", translation.language))
            _write(config, words_files(translation))
            write_service_worker(fresh)
        if self.staging is not None:
            staging, self.staging = self.staging, None
            try:
                staging.publish()
            except NoPlace as problem:
                raise _refused(problem) from None
            config.site_dir = str(staging.site)

    def _news(self, config: MkDocsConfig) -> Iterable[SiteFile]:
        """What tells others of the book, where the site knows its address; an author's own file stays."""
        if not config.site_url:
            return
        own = {name for name in (FEED, ROBOTS) if Path(config.site_dir, name).exists()}
        if FEED not in own and has_news(self.content.book):
            author, language = config.site_author or config.site_name, self.content.translation.language
            yield feed(self.content.book, config.site_url, author, language)
        if ROBOTS not in own and self.config.search_engines:
            yield robots(config.site_url)

    def _sound_controls(self) -> SiteFile:
        """The script that puts its controls into the bar at the foot of a page."""
        if self.served is None:
            raise RuntimeError("MkDocs has made no templates")
        controls = script_json(self.served.env.get_template("parts/sound_controls.html").render())
        put = 'for (const section of document.querySelectorAll("[data-sound]")) section.innerHTML ='
        return SiteFile(f"{ASSETS}sound/controls.js", f"{put} {controls};\n".encode())

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
                _said(config)
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
            raise PluginError(_words_of(problem)) from None
        if view is None:
            return False
        uri = f"{view.address}index.md"
        shown = in_key_page(view)
        self.built = replace(self.content, pages=self.content.pages | {uri: shown})
        file = File.generated(self.served.config, uri, content="")
        page = MkDocsPage(self.content.translation.say(shown.title), file, self.served.config)
        page.content = ""
        files = self.served.files
        nav = Navigation([], [])
        context = get_context(nav, files, self.served.config, page)
        context = self.on_page_context(context, page=page, config=self.served.config, nav=nav)
        place = Path(file.abs_dest_path)
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(
            self.served.env.get_template(shown.template).render(context), encoding="utf-8", newline="\n"
        )
        _write(self.served.config, [phone_file(view)])
        return True


def _said(config: MkDocsConfig, options: dict[str, Any] | None = None) -> Config:
    """What mkdocs.yml says. Raises PluginError where any command would refuse it.

    `options` are the book's as MkDocs has them, for a hook may have changed them.
    """
    try:
        return said_for_site(config.config_file_path, config.theme.name, options)
    except (BookFaults, BookProblem) as problem:
        raise PluginError(_words_of(problem)) from None


def _write(config: MkDocsConfig, files: Iterable[SiteFile | PrintFile]) -> None:
    """Put files into the site."""
    for file in files:
        place = Path(config.site_dir, file.address)
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(file.data)


class _WrongUse(Abort):
    """Ends `mkdocs build` with the status of wrong use."""

    code = exit_code = 2


def _refused(problem: NoPlace) -> MkDocsException:
    return _WrongUse(str(problem)) if isinstance(problem, WrongPlace) else PluginError(str(problem))


def _words_of(problem: BookFaults | BookProblem | EngraverMissing) -> str:
    """What to tell of a book that cannot be built."""
    if isinstance(problem, BookFaults):
        return f"the book has faults; the earlier site is left as it was\n{problem.report()}"
    return str(problem)
