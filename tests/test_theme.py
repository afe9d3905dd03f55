"""MkDocs's usual settings and other themes: what mkdocs.yml says of the site is seen on its pages.

What the settings mean is in https://www.mkdocs.org/user-guide/configuration/.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import html5lib
import pytest
from conftest import TWO_KEYS, sweep, write_book
from jinja2 import TemplateNotFound
from mkdocs.commands.build import build as mkdocs_build
from mkdocs.config import load_config
from mkdocs.plugins import get_plugins

from stavewright.cli import main
from stavewright.site import settings
from stavewright.site.files.plain_pages import plain_style
from stavewright.site.menu import name_index_files

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.slow

ROOT = Path(__file__).parents[1]
WriteBook = Callable[[dict[str, str | bytes]], Path]
Tiny = Callable[[str], str]

SETTINGS = """\
nav:
  - index.md
  - We: about.md
  - News:
      - news/first.md
      - More:
          - Elsewhere: https://example.org/x
  - E flat: keys/e-flat/index.md
extra_css: [own.css]
extra_javascript: [own.js, {path: more.mjs, type: module}]
repo_url: https://example.org/studio/book
repo_name: The book's text
edit_uri: edit/main/pages/
copyright: "&copy; The <b>studio</b>"
not_in_nav: quiet.md
markdown_extensions: [admonition]
"""
PAGES = {
    "about.md": "# About *us* & you\n\n## Who\n\nSee [news](news/first.md#then), [home](index.md), "
    "[out](https://example.org/a/).\n\n| A | B |\n|---|---|\n| 1 | 2 |\n\n!!! warning\n    Mind.\n",
    "news/first.md": "# First news\n\nReeds from the river.\n",
    "lonely.md": "A page that nothing names.\n",
    "named.md": "# Named\n",
    "quiet.md": "# Quiet\n",
    "own.css": "",
    "own.js": "",
    "more.mjs": "",
}
THEME = "theme: {name: stavewright}\n"


def write_whole(folder: Path, theme: str = THEME) -> Path:
    """A book of one exercise in two keys with pages of its own."""
    book = write_book(folder, {"tiny": TWO_KEYS.format(title="Tiny")})
    for name, text in PAGES.items():
        (book / "pages" / name).parent.mkdir(exist_ok=True)
        (book / "pages" / name).write_text(text)
    config = book / "mkdocs.yml"
    text = f"{config.read_text()}      contents: [tiny, named.md]\n{SETTINGS}"
    config.write_text(text.replace(THEME, theme))
    return book


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The site of that book."""
    book = write_whole(tmp_path_factory.mktemp("theme") / "book")
    assert main(["build", "--book", str(book)]) == 0
    return book / "site"


def parsed(path: Path):  # type: ignore[no-untyped-def]
    """A page as an element tree."""
    return html5lib.parse(path.read_text(encoding="utf-8"), namespaceHTMLElements=False)


def words(element) -> str:  # type: ignore[no-untyped-def]
    return " ".join("".join(element.itertext()).split())


PLACES = ["index.html", "about/index.html", "exercises/tiny/d/index.html", "keys/d/index.html"]


@pytest.mark.parametrize("place", PLACES)
def test_every_page_has_the_menu_that_nav_makes(place: str, site: Path) -> None:
    page = parsed(site / place)
    [menu] = [each for each in page.iter("nav") if each.get("aria-label") == "Pages"]
    links = [(words(each), each.get("href")) for each in menu.iter("a")]
    assert [said for said, _ in links] == ["We", "First news", "Elsewhere", "E flat"]
    assert [words(each) for each in menu.iter("summary")] == ["News", "More"]
    for said, address in links:
        if said == "Elsewhere":
            assert address == "https://example.org/x"
        else:
            assert (site / place).parent.joinpath(address).is_file()
    current = [words(each) for each in menu.iter("a") if each.get("aria-current")]
    assert current == (["We"] if place.startswith("about") else [])


@pytest.mark.parametrize("place", [*PLACES, "404.html"])
def test_every_page_has_the_studio_s_style_scripts_and_words(place: str, site: Path) -> None:
    page = parsed(site / place)
    base = "/" if place == "404.html" else "../" * place.count("/")
    styles = [each.get("href") for each in page.iter("link") if each.get("rel") == "stylesheet"]
    # After the book's own, so that it decides.
    assert styles[-1] == f"{base}own.css"
    scripts = {each.get("src"): each.get("type") for each in page.iter("script")}
    assert f"{base}own.js" in scripts and scripts[f"{base}more.mjs"] == "module"
    footer = next(page.iter("footer"))
    assert {words(each): each.get("href") for each in footer.iter("a")}["The book's text"] == (
        "https://example.org/studio/book"
    )
    assert "© The studio" in words(footer) and [words(each) for each in footer.iter("b")] == ["studio"]


def test_a_page_of_the_studio_s_leads_to_its_source(site: Path) -> None:
    def edited(place: str) -> list[str]:
        links = parsed(site / place).iter("a")
        return [each.get("href") for each in links if words(each) == "Edit this page"]

    assert edited("about/index.html") == ["https://example.org/studio/book/edit/main/pages/about.md"]
    # It has no file among the pages.
    assert edited("exercises/tiny/d/index.html") == []


def test_a_page_has_one_title_even_where_the_menu_calls_it_otherwise(site: Path) -> None:
    page = parsed(site / "about/index.html")
    assert [words(each) for each in page.iter("h1")] == ["About us & you"]
    for place in site.rglob("*.html"):
        assert len(list(parsed(place).iter("h1"))) == 1, place


def test_what_nothing_leads_to_is_listed_on_the_home_page(site: Path) -> None:
    page = parsed(site / "index.html")
    [more] = [each for each in page.iter("section") if each.get("class") == "more-pages"]
    assert [(words(each), each.get("href")) for each in more.iter("a")] == [("Lonely", "lonely/index.html")]


def test_finding_has_the_studio_s_pages(site: Path) -> None:
    page = parsed(site / "find/index.html")
    [found] = [each for each in page.iter("section") if each.get("class") == "found-pages"]
    rows = {words(each): each for each in found.iter("li")}
    assert list(rows) == ["First news", "Lonely", "Named", "Quiet", "We"]
    assert rows["First news"].get("data-words") == "First news Reeds from the river."
    assert next(rows["Quiet"].iter("a")).get("href") == "../quiet/index.html"


def test_links_between_pages_hold_without_a_server(site: Path) -> None:
    links = [each.get("href") for each in parsed(site / "about/index.html").find(".//main").iter("a")]
    assert links == ["../news/first/index.html#then", "../index.html", "https://example.org/a/"]


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ('<a href="../">x</a>', '<a href="../index.html">x</a>'),
        ('<a class="b" href="a/b/?q#c">x</a>', '<a class="b" href="a/b/index.html?q#c">x</a>'),
        ('<a href="/a/">x</a>', '<a href="/a/">x</a>'),
        ('<a href="//host/a/">x</a>', '<a href="//host/a/">x</a>'),
        ('<a href="mailto:a/">x</a>', '<a href="mailto:a/">x</a>'),
        ('<a href="#a/">x</a> <a href="a.pdf">y</a>', '<a href="#a/">x</a> <a href="a.pdf">y</a>'),
        ('<img data-href="a/" src="b/">', '<img data-href="a/" src="b/">'),
    ],
)
def test_only_links_to_folders_of_the_site_are_changed(before: str, after: str) -> None:
    assert name_index_files(before) == after


def test_the_menu_is_part_of_what_decides_a_kept_page(tmp_path: Path) -> None:
    book = write_whole(tmp_path / "book")
    assert main(["build", "--book", str(book)]) == 0
    config = book / "mkdocs.yml"
    for old, new, seen in [
        ("- We: about.md", "- Us all: about.md", ">Us all<"),
        ("The <b>studio</b>", "Nobody", "© Nobody"),
        ("[own.css]", "[other.css]", "other.css"),
        ("own.js, ", "", ""),
    ]:
        config.write_text(config.read_text().replace(old, new))
        assert main(["build", "--book", str(book)]) == 0
        text = (book / "site/exercises/tiny/d/index.html").read_text()
        assert seen in text.replace("&copy;", "©")
    assert "own.js" not in text


@sweep("theme", settings.PLAIN_THEMES, every_day=1)
def test_the_plugin_alone_gives_a_theme_of_mkdocs_the_bodies_of_its_pages(
    theme: str, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    book = write_whole(tmp_path / "book", f"theme: {{name: {theme}}}\n")
    with (book / "mkdocs.yml").open("a") as file:
        file.write("use_directory_urls: true\n")
    config = book / "mkdocs.yml"
    config.write_text(config.read_text().replace("plugins:\n", "plugins:\n  - search\n"))
    assert main(["check", "--book", str(book)]) == 0
    # The second time the site stands there already.
    for _ in range(2):
        assert main(["build", "--again", "--book", str(book)]) == 0
    assert f"theme {theme}: the book's pages show" in capfd.readouterr().err
    site = book / "site"
    page = parsed(site / "exercises/tiny/d/index.html")
    [body] = [each for each in page.iter("div") if "stavewright" in (each.get("class") or "").split()]
    assert [words(each) for each in page.iter("h1")] == ["Tiny in D major"]
    drawings = [each for each in body.iter() if each.get("role") == "img"]
    assert drawings and all(each.find("title") is not None or each.get("aria-label") for each in drawings)
    for link in body.iter("a"):
        address = link.get("href").partition("#")[0]
        assert not address or (site / "exercises/tiny/d" / address).is_file(), address
    styles = [each.get("href") for each in page.iter("link") if each.get("rel") == "stylesheet"]
    assert "../../../assets/stavewright.css" in styles and styles[-1] == "../../../own.css"
    # The studio's own page has its heading from the theme; and the search finds exercises.
    assert [words(each) for each in parsed(site / "about/index.html").iter("h1")] == ["About us & you"]
    index = json.loads((site / "search/search_index.json").read_bytes())
    assert any(row["location"] == "exercises/tiny/d/" for row in index["docs"])
    assert not (site / "sw.js").exists() and not (site / "find").exists()


def test_the_style_for_other_themes_stays_within_the_book_s_pages() -> None:
    style = plain_style()
    assert ":root" not in style and "@page" not in style and "@font-face" not in style
    assert style.startswith(".stavewright {") and style.count("{") == style.count("}")


def test_the_theme_alone_says_that_its_plugin_is_missing(tmp_path: Path) -> None:
    (tmp_path / "docs").mkdir()
    (tmp_path / "docs/index.md").write_text("# Home\n")
    (tmp_path / "mkdocs.yml").write_text(f"site_name: T\n{THEME}plugins: []\n")
    with pytest.raises(TemplateNotFound) as said:
        mkdocs_build(load_config(str(tmp_path / "mkdocs.yml")))
    assert said.value.name == (
        "mkdocs.yml: the theme stavewright shows a book, and its plugin is not listed; "
        "write `plugins: [stavewright]`"
    )


def test_the_plugin_refuses_a_theme_that_it_does_not_know_before_it_engraves(
    book: WriteBook, tiny: Tiny, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    place = book({"one": tiny("One")})
    monkeypatch.setenv("STAVEWRIGHT_LILYPOND", "/nowhere")
    config = place / "mkdocs.yml"
    for theme in ("theme: {name: slate}\n", ""):
        text = config.read_text()
        config.write_text(text.replace(THEME, theme))
        assert main(["build", "--book", str(place)]) == 1
        said = capsys.readouterr().out
        assert "theme: the pages of a book are made with the theme stavewright; write `theme: {name" in said
        config.write_text(text)


def test_feeds_need_to_know_which_pages_have_files(
    book: WriteBook, tiny: Tiny, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(settings, "get_plugins", lambda: {**get_plugins(), "rss": get_plugins()["search"]})
    place = book({"one": tiny("One")})
    config = place / "mkdocs.yml"
    text = config.read_text()
    config.write_text(text.replace("plugins:\n", "plugins:\n  - rss\n"))
    assert main(["check", "--book", str(place)]) == 1
    assert capsys.readouterr().out.startswith(
        "mkdocs.yml:5:5: plugins: rss: it dates pages by their files, and the pages of exercises have none; "
        "add the folder of your own news to its options, as in `match_path: news/.*`\n"
    )
    config.write_text(text.replace("plugins:\n", "plugins:\n  - rss: {match_path: news/.*}\n"))
    assert main(["check", "--book", str(place)]) == 0


def test_the_plugin_says_that_the_theme_has_no_use_for_mkdocs_s_search(
    book: WriteBook, tiny: Tiny, capfd: pytest.CaptureFixture[str]
) -> None:
    place = book({"one": tiny("One")})
    config = place / "mkdocs.yml"
    config.write_text(config.read_text().replace("plugins:\n", "plugins:\n  - search\n"))
    assert main(["build", "--book", str(place)]) == 0
    assert "plugins: search: the theme does not use its index" in capfd.readouterr().err


def test_every_block_to_override_is_documented() -> None:
    text = (ROOT / "site_src/base.html").read_text(encoding="utf-8")
    blocks = set(re.findall(r"{%-? block (\w+)", text))
    section = (ROOT / "docs/theming.md").read_text(encoding="utf-8").split("\n## ")[2]
    documented = re.findall(r"^\| `(\w+)` \|", section, re.M)
    assert sorted(documented) == sorted(blocks)


def test_a_theme_of_one_s_own_overrides_a_block(tmp_path: Path) -> None:
    book = write_whole(tmp_path / "book", "theme: {name: stavewright, custom_dir: mine}\n")
    (book / "mine").mkdir()
    (book / "mine/main.html").write_text(
        '{% extends "base.html" %}{% block colophon %}<p>Ours, {{ book.name }}.</p>{% endblock %}'
    )
    assert main(["build", "--book", str(book)]) == 0
    for place in PLACES:
        assert "Ours, A test's book." in words(next(parsed(book / "site" / place).iter("footer")))


def test_finding_shows_the_pages_that_hold_all_words(site: Path, chromium: Browser) -> None:
    page = chromium.new_page()
    page.goto((site / "find/index.html").as_uri())
    shown = page.locator(".found-pages li:visible")
    assert shown.count() == 5
    page.fill("#find-words", "River reed")
    assert shown.all_inner_texts() == ["First news"]
    assert page.inner_text(".finder [role=status]") == "1 page"
    page.fill("#find-words", "tiny")
    assert shown.count() == 0 and page.locator(".found-pages").is_hidden()
    # A choice is for exercises alone.
    page.fill("#find-words", "")
    page.select_option("#find-tempo", index=2)
    assert shown.count() == 0
    page.close()


def test_search_engines_are_kept_out_of_every_page(tmp_path: Path) -> None:
    book = write_book(tmp_path, {"tiny": TWO_KEYS.format(title="Tiny")})
    (book / "pages" / "feed.xml").write_text("<mine/>")
    config = book / "mkdocs.yml"
    text = config.read_text()
    options = "      search_engines: false\nsite_url: https://studio.example/book/\n"
    config.write_text(text + options)
    dated = TWO_KEYS.format(title="Tiny").replace("home:", "added: 2026-11-01\nhome:")
    (book / "exercises" / "tiny.warmup").write_text(dated)
    assert main(["build", "--quiet", "--book", str(book)]) == 0
    site = book / "site"
    pages = list(site.rglob("*.html"))
    assert len(pages) > 10
    assert all('<meta name="robots" content="noindex">' in page.read_text() for page in pages)
    assert not (site / "robots.txt").exists()
    # What the author put there stays.
    assert (site / "feed.xml").read_text() == "<mine/>"
    config.write_text(text + options.replace("false", "true"))
    assert main(["build", "--quiet", "--book", str(book)]) == 0
    assert not any("noindex" in page.read_text() for page in site.rglob("*.html"))
    assert (site / "robots.txt").read_text().startswith("User-agent: *\n")
