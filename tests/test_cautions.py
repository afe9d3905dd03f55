"""One text of cautions stands wherever cautions stand."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from stavewright.daily.cautions import GENERAL

ROOT = Path(__file__).parent.parent


@pytest.mark.parametrize("caution", GENERAL)
def test_the_readme_has_every_caution(caution: str) -> None:
    assert caution in " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())


def test_no_page_tells_a_player_to_be_softer_than_a_drone() -> None:
    """One rule everywhere: no drone, metronome or recording is louder than the player."""
    places = [*ROOT.glob("exercises/*"), *ROOT.glob("site_src/**/*.html"), *ROOT.glob("site_src/**/*.md")]
    assert len(places) > 20
    for place in places:
        assert not re.search(r"louder than you\b(?! play)", place.read_text(encoding="utf-8")), place.name


def test_what_to_stop_for_and_what_to_do() -> None:
    said = " ".join(GENERAL)
    for word in ("hurts", "numb", "dizzy", "sit", "ears ring", "teacher", "clinician", "headphones"):
        assert word in said
