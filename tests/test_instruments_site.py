"""A small book for a mixed group, built and printed whole: what each player finds on the page."""

from __future__ import annotations

import re
from html import unescape
from pathlib import Path

import pytest
from conftest import write_book

from stavewright.cli import main

GROUND = """\
title: Common ground
rights: written for this test, public domain
home: G4 in G major
drone: G3
travel: semitones up from G4 to A4
variations: figured
music:
  q G4 B4 h D5 | q A4 G4 h G4
"""

OWN = """\
[tenor-shawm]
name = "Tenor shawm & <b>bell</b>"
sounds = "P5 lower"
low = "C4"
high = "A5"
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = write_book(tmp_path_factory.mktemp("mixed") / "book", {"common-ground": GROUND})
    config = folder / "mkdocs.yml"
    text = config.read_text(encoding="utf-8")
    text = text.replace("[flute]", "[flute, clarinet-b-flat, bassoon, tenor-shawm]")
    config.write_text(f"{text}      concert: true\n      a4: 442\n", encoding="utf-8")
    (folder / "instruments.toml").write_text(OWN, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def site(folder: Path) -> Path:
    assert main(["build", "--book", str(folder)]) == 0
    return folder / "site"


def words(page: Path) -> str:
    """A page's text without its scripts and marks."""
    text = re.sub(r"(?s)<(script|svg|style).*?</\1>", " ", page.read_text(encoding="utf-8"))
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", text)))


def test_every_instrument_has_its_tree_under_the_same_keys(site: Path) -> None:
    pages = {}
    for slug in ("flute", "clarinet-b-flat", "bassoon", "tenor-shawm"):
        exercise = site / slug / "exercises" / "common-ground"
        pages[slug] = sorted(path.parent.name for path in exercise.glob("*/index.html"))
    assert pages == {slug: ["a", "a-flat", "g"] for slug in pages}


def test_the_front_page_lets_a_player_choose(site: Path) -> None:
    front = (site / "index.html").read_text(encoding="utf-8")
    for slug in ("flute", "clarinet-b-flat", "bassoon", "tenor-shawm"):
        assert f'href="{slug}/index.html"' in front
    assert "for flute, clarinet in B flat, bassoon and tenor shawm & <b>bell</b>" in words(
        site / "index.html"
    )
    assert "<b>bell</b>" not in front


def test_the_clarinet_s_page_is_in_g_and_says_that_it_is_written_in_a(site: Path) -> None:
    page = words(site / "clarinet-b-flat/exercises/common-ground/g/index.html")
    assert "in G major" in page
    assert "From A4, throat register" in page
    assert "Written in A major for the clarinet in B flat, so that it sounds in G major." in page
    assert "The drone is A3, which sounds as G3." in page
    assert "E5 sounds D5 twelfth locks firmly 3:1 2 higher 0.7" in page
    assert "at A4 = 442 hertz" in page


def test_the_flute_s_page_needs_no_such_words(site: Path) -> None:
    page = words(site / "flute/exercises/common-ground/g/index.html")
    assert "so that it sounds" not in page
    assert "The drone is G3. Start" in page
    assert "D5 twelfth locks firmly 3:1 2 higher 0.7" in page


def test_the_bassoon_s_page_is_in_the_bass_clef_and_says_how_far_it_was_carried(site: Path) -> None:
    page = site / "bassoon/exercises/common-ground/g/index.html"
    assert "Written 2 octaves lower than the exercise asks, to stay between C2 and G4." in words(page)
    assert "The drone is G1. Start" in words(page)


def test_an_exercise_says_what_it_offers_over_its_drone(
    site: Path, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    offer = "88 % of its time on intervals that lock, 75 % firmly"
    assert f"Over the drone {offer}" in words(site / "flute/exercises/common-ground/index.html")
    capsys.readouterr()
    assert main(["check", "--book", str(folder)]) == 0
    assert f"common-ground: over its drone, {offer}.\n" in capsys.readouterr().out


def test_check_names_the_instrument_that_cannot_play_something(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    narrow = OWN.replace('low = "C4"', 'low = "C5"').replace('high = "A5"', 'high = "E5"')
    copy = write_book(tmp_path / "book", {"common-ground": GROUND})
    (copy / "mkdocs.yml").write_bytes((folder / "mkdocs.yml").read_bytes())
    (copy / "instruments.toml").write_text(narrow, encoding="utf-8")
    assert main(["check", "--book", str(copy)]) == 0
    # In concert pitch a fifth below the page: the text's G4 to D5 is written D5 to A5.
    said = "G major: Cannot be played here: it would go from D5 to A5, "
    assert f"common-ground, tenor shawm & <b>bell</b>, {said}" in capsys.readouterr().out
