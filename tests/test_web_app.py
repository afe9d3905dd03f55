"""What a device needs to install the book."""

from __future__ import annotations

import io
import json

import pytest
from PIL import Image

from stavewright.site.files.web_app import SHORT, app_files, icon, short_name


@pytest.mark.parametrize(
    ("name", "short"),
    [
        ("The Millrace book of slow tones", "Millrace"),
        ("Tone", "Tone"),
        ("Book of the long tones", "Book"),
        ("An hour", "hour"),
        ("The", "The"),
        ("Flötenübungen für Anfänger", "Flötenübunge"),
    ],
)
def test_a_short_name_is_whole_words_where_it_can_be(name: str, short: str) -> None:
    assert short_name(name) == short
    assert len(short) <= SHORT


@pytest.mark.parametrize("size", [180, 192, 512])
def test_an_icon_is_opaque_and_keeps_its_mark_from_the_edge(size: int) -> None:
    with Image.open(io.BytesIO(icon(size))) as picture:
        assert picture.size == (size, size)
        paper = (0xFC, 0xFA, 0xF5, 255)
        pixels = picture.convert("RGBA").load()
        assert pixels is not None
        # The mark lies within the circle that no mask takes: two fifths of the width about the middle.
        places = [(x, y) for x in range(size) for y in range(size) if pixels[x, y] != paper]
        middle = (size - 1) / 2
        assert places
        assert max((x - middle) ** 2 + (y - middle) ** 2 for x, y in places) <= (0.4 * size) ** 2


def test_the_manifest_names_nothing_outside_its_folder() -> None:
    made = {each.address: each.data for each in app_files("Ebb & flow “x”", "")}
    manifest = json.loads(made["book.webmanifest"])
    assert manifest["name"] == "Ebb & flow “x”"
    assert "description" not in manifest
    addresses = [manifest["start_url"], manifest["scope"], *(each["src"] for each in manifest["icons"])]
    assert not [address for address in addresses if address.startswith("/") or ":" in address]
    assert {each["src"] for each in manifest["icons"]} <= set(made)
