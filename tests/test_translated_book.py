"""A book in another language: no English word is left on its pages, and its prints speak one language."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from lxml import html
from pypdf import PdfReader

from stavewright.cli.main import main

EXERCISE = """\
title: Qqlied
kind: Zzart
rights: Zzrecht
attend:
  - Zzpunkt eins
home: D5 in D minor
meter: 4/4
tempo: quarter = 54 to 66
drone: D4
travel: semitones down from D5 to C#5
variations: slurred, detached + swell down, upper octave first
music:
  h D5 mf q E5 D5 | w F5 p fermata ,
"""

DUET = """\
title: Zzduett
kind: Zzart
rights: Zzrecht
added: 2026-11-01
home: D5 in D minor
meter: 4/4
tempo: quarter = 54 to 66
travel: semitones down from D5 to C#5
variations: slurred, upper octave first
chords: Dm | A7 | Dm | Dm
second: canon at the octave below after 1 bar
music:
  h D5 E5 | w E5 | w D5
"""


def write_book(folder: Path, locale: str) -> Path:
    (folder / "exercises").mkdir(parents=True)
    (folder / "docs").mkdir()
    (folder / "exercises" / "qqlied.warmup").write_text(EXERCISE, encoding="utf-8")
    (folder / "exercises" / "zzduett.warmup").write_text(DUET, encoding="utf-8")
    options = "{stavewright: {instruments: [flute, clarinet-b-flat], breath_seconds: 6}}"
    theme = f"{{name: stavewright, locale: {locale}}}"
    names = "site_name: Zzbuch\nsite_url: https://zz.example/\n"
    text = f"{names}strict: true\ntheme: {theme}\nplugins: [{options}]\n"
    (folder / "mkdocs.yml").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def sites(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The same book in English and in German, made with one cache."""
    found = {}
    for locale in ("en", "de"):
        book = write_book(tmp_path_factory.mktemp(locale) / "book", locale)
        assert main(["build", "--book", str(book), "--out", str(book.parent / "site")]) == 0
        found[locale] = book.parent / "site"
    return found


_UNREAD = "//script|//style|//code|//pre|//svg/*[not(self::title)]|//body//*[@lang='en']"
READ_OUT = ("aria-label", "placeholder", "alt", "title", "data-words")


def visible_texts(page: Path) -> set[str]:
    """What a reader or a screen reader meets on a page, but drawings, code, and what is marked as English."""
    root = html.parse(str(page)).getroot()
    for node in root.xpath(_UNREAD):
        node.drop_tree()
    texts = {" ".join(text.split()) for text in root.itertext()}
    texts |= {node.get(name) for node in root.iter() for name in READ_OUT if node.get(name)}
    texts |= set(root.xpath("//meta[@name='description']/@content"))
    return {text for text in texts if re.search("[A-Za-z]{2}", text)}


ALIKE = re.compile(
    r"(Qqlied|Zzduett)( · Zzbuch)?|Zz\w+( eins)?|Instrument|MIDI|MusicXML|US Letter|[A-G] \(PDF\)"
    r"|m?[pf]|p+|f+|\d+ dBA|(\d+ min ?)?(\d+ s)?"
)
"""What is the same in German: the author's words, names of formats, dynamics and units."""


def test_no_english_word_is_left_in_the_bar_and_the_feed(sites: dict[str, Path]) -> None:
    found = []
    for locale in ("en", "de"):
        script = (sites[locale] / "assets/sound/controls.js").read_text(encoding="utf-8")
        root = html.fromstring(json.loads(script.partition("innerHTML = ")[2].rstrip(";\n")))
        texts = {" ".join(text.split()) for text in root.itertext()}
        texts |= {node.get("aria-label") for node in root.iter() if node.get("aria-label")}
        found.append({text for text in texts if re.search("[A-Za-z]{2}", text)})
    english, german = found
    assert len(german) > 100
    assert english & german <= {"{note}, {cents}"}
    for locale in ("en", "de"):
        feed = (sites[locale] / "feed.xml").read_text(encoding="utf-8")
        assert f'xml:lang="{locale}"' in feed


def test_no_english_word_is_left_on_a_german_page(sites: dict[str, Path]) -> None:
    pages = sorted(page.relative_to(sites["en"]) for page in sites["en"].rglob("*.html"))
    assert len(pages) > 30
    for page in pages:
        english, german = (visible_texts(sites[locale] / page) for locale in ("en", "de"))
        left = {text for text in english & german if not ALIKE.fullmatch(text)}
        assert left == set(), page
        assert '<html lang="de"' in (sites["de"] / page).read_text(encoding="utf-8")


def test_an_english_site_has_no_words_of_other_languages(sites: dict[str, Path]) -> None:
    assert not (sites["en"] / "assets/words.js").exists()
    assert (sites["de"] / "assets/words.js").read_text(encoding="utf-8").startswith("self.stavewrightWords")
    # The worker, which answers without a network, has them too.
    loaded = {
        locale: "assets/words.js" in (site / "sw.js").read_text("utf-8") for locale, site in sites.items()
    }
    assert loaded == {"en": False, "de": True}
    page = (sites["en"] / "flute/exercises/qqlied/d/index.html").read_text(encoding="utf-8")
    assert '<html lang="en"' in page and "words.js" not in page


def test_prints_speak_the_book_s_language(sites: dict[str, Path]) -> None:
    reader = PdfReader(sites["de"] / "flute/print/book.pdf")
    assert reader.trailer["/Root"]["/Lang"] == "de"
    text = "\n".join(page.extract_text() for page in reader.pages)
    for said in (
        "für flöte",
        "Ein Wort an die Spieler",
        "Verzeichnis nach Tonarten",
        "Spielweisen",
        "Bordun",
    ):
        assert said.casefold() in text.casefold(), said
    for said in ("Contents", "Take care", "Ways of playing", "Focus", "Rights and sources", "register"):
        assert said not in text, said
    titles = [str(entry.title) for entry in reader.outline if not isinstance(entry, list)]
    assert "Inhalt" in titles and "Contents" not in titles


def test_one_key_of_the_print_is_named(sites: dict[str, Path]) -> None:
    reader = PdfReader(sites["de"] / "flute/print/key-d-flat.pdf")
    assert reader.metadata is not None and reader.metadata.title == "Alle Übungen in Cis: Zzbuch"
    assert "Qqlied, cis-Moll" in reader.pages[0].extract_text()


def test_a_selection_and_daily_sheets_speak_it_too(tmp_path: Path) -> None:
    book = write_book(tmp_path / "book", "de")
    selection = tmp_path / "week.set"
    selection.write_text("title: Zzwoche\nplay: qqlied in D: as written, slurred\n", encoding="utf-8")
    made = tmp_path / "week.pdf"
    assert main(["print", "--book", str(book), "--selection", str(selection), "-o", str(made)]) == 0
    text = "\n".join(page.extract_text() for page in PdfReader(made).pages)
    assert "Name:" in text and "Notizen" in text and "Worauf achten: Zzpunkt eins." in text
    sheets, entries = tmp_path / "sets.pdf", tmp_path / "sets.ics"
    command = ["daily", "--book", str(book), "--minutes", "4", "--days", "1", "--from", "2026-12-01"]
    assert main([*command, "-o", str(sheets), "--calendar", str(entries)]) == 0
    text = "\n".join(page.extract_text() for page in PdfReader(sheets).pages)
    assert "Tagesprogramme: 4 Minuten an 1 Tag" in text and "Tag 1, Dienstag, 1. Dezember" in text
    assert "Tagesprogramm 1 von 1: 4 min" in entries.read_text(encoding="utf-8")


def test_check_tells_of_a_locale_without_a_catalog(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = write_book(tmp_path / "book", "pl")
    assert main(["check", "--book", str(book)]) == 0
    assert "theme: locale: there is no catalog for 'pl'" in capsys.readouterr().out.replace("\n", " ")
