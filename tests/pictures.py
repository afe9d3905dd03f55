"""Pages compared as pictures: what two windows show, pixel by pixel.

A browser may draw the edge of a letter a shade darker from one time to the next, and it draws what comes
late, such as a font, when it comes. So pictures that differ are taken again when the pages have settled. They
may then differ by a little.
"""

from __future__ import annotations

from io import BytesIO
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

SHADE = 24
"""Levels of 255 by which a colour of a pixel may differ and count as the same."""

SHARE = 0.0005
"""Part of a picture's pixels that may differ by more."""

_TRIES = 20


def settled(page: Any, **options: Any) -> bytes:
    """A screenshot of a page that shows the same twice in a row, its fonts loaded."""
    page.evaluate("document.fonts.ready.then(() => true)")
    before = page.screenshot(animations="disabled", **options)
    for _ in range(_TRIES):
        now: bytes = page.screenshot(animations="disabled", **options)
        if now == before:
            return now
        before = now
    raise AssertionError(f"{page.url} does not settle: {_TRIES} screenshots, each unlike the one before")


def pixels(picture: bytes) -> npt.NDArray[np.int16]:
    """The colours of a picture: rows, columns, and red, green and blue from 0 to 255."""
    with Image.open(BytesIO(picture)) as image:
        return np.asarray(image.convert("RGB"), dtype=np.int16)


def difference(one: bytes, other: bytes) -> str:
    """How two pictures differ, in words; empty where they are the same but for SHARE of their pixels."""
    first, second = pixels(one), pixels(other)
    if first.shape != second.shape:
        return f"{first.shape[1]} by {first.shape[0]} pixels, and {second.shape[1]} by {second.shape[0]}"
    differing = (abs(first - second) > SHADE).any(axis=2)
    count = int(differing.sum())
    if count <= SHARE * differing.size:
        return ""
    rows, columns = np.nonzero(differing)
    place = f"columns {columns.min()} to {columns.max()}, rows {rows.min()} to {rows.max()}"
    return f"{count} of {differing.size} pixels differ by more than {SHADE} of 255, in {place}"


def difference_of_pages(one: Any, other: Any, **options: Any) -> str:
    """How what two pages show differs, in words; empty where it is the same.

    `options` are those of Playwright's `screenshot`.
    """
    shown = [page.screenshot(animations="disabled", **options) for page in (one, other)]
    if shown[0] == shown[1]:
        return ""
    return difference(*(settled(page, **options) for page in (one, other)))
