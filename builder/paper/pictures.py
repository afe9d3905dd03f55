"""Pictures of the author's own pages, made ready for a PDF: PNG, JPEG and SVG.

A JPEG goes into the file as it is, except where it would have to be turned or has four inks. Of other
pictures the file holds the pixels, on white. A drawing (SVG) is drawn with 300 pixels to the inch.
"""

from __future__ import annotations

import hashlib
import io
import re
import warnings
import zlib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import PurePosixPath
from xml.etree import ElementTree

from .extracted_piece import EmbeddedPicture, ExtractedPiece, ExtractedSystem

MOST_BYTES = 20_000_000
"""The largest file of a picture that is read."""

_MOST_PIXELS = 40_000_000
_TALLEST = 4.0
"""Heights of a drawing in its widths."""

_AN_INCH = 25.4
_SCREEN = 96
"""Pixels an inch in a drawing (CSS Values 4, section 5.2)."""
_PIXELS = 150
"""Pixels of a picture that make an inch, where the page is wide enough."""
_FINE = 300
_MOST_WIDE, _MOST_HIGH = 140.0, 150.0
"""Millimetres."""

SUFFIXES = (".png", ".jpg", ".jpeg", ".svg")


class UnusablePicture(ValueError):
    """Raised where a picture cannot be printed; the text says why, as the end of a sentence."""


@dataclass(frozen=True, slots=True)
class _Pixels:
    """A picture that was read: its size on paper is `width` by `height` millimetres at most."""

    picture: EmbeddedPicture
    width: float
    height: float


def picture_piece(name: str, data: bytes, width: float) -> ExtractedPiece:
    """A picture's file, not wider than `width` millimetres, as a piece of one line.

    Raises UnusablePicture.
    """
    found = _read(PurePosixPath(name).suffix.lower(), data)
    scale = min(1.0, min(width, _MOST_WIDE) / found.width, _MOST_HIGH / found.height)
    across, down = found.width * scale, found.height * scale
    # As in `ExtractedSystem`: hundredths of a point from the upper left corner, upwards.
    x, y = (round(length / _AN_INCH * 7200, 2) for length in (across, down))
    drawn = f"q {x:g} 0 0 {y:g} 0 {-y:g} cm /{found.picture.name} Do Q"
    return ExtractedPiece((ExtractedSystem(0.0, down, across, None, (drawn,)),), {}, found.picture)


@lru_cache(maxsize=32)
def _read(suffix: str, data: bytes) -> _Pixels:
    if len(data) > MOST_BYTES:
        raise UnusablePicture(f"its file is larger than {MOST_BYTES // 1_000_000} MB")
    if suffix == ".svg":
        return _drawing(data)
    if suffix not in SUFFIXES:
        raise UnusablePicture("it is none of PNG, JPEG and SVG")
    found = _pixels(data)
    size = (length / _PIXELS * _AN_INCH for length in (found.width, found.height))
    return _Pixels(found, *size)


def _pixels(data: bytes) -> EmbeddedPicture:
    # Slow to load, and not needed for most books.
    from PIL import Image, ImageOps, UnidentifiedImageError

    name = f"P{hashlib.sha256(data).hexdigest()[:16]}"
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=("PNG", "JPEG")) as opened:
                if opened.width * opened.height > _MOST_PIXELS:
                    raise UnusablePicture(f"it has more than {_MOST_PIXELS // 1_000_000} million pixels")
                turned = opened.getexif().get(_TURN, 1) != 1
                if opened.format == "JPEG" and opened.mode in ("L", "RGB") and not turned:
                    opened.load()
                    size = opened.width, opened.height
                    return EmbeddedPicture(name, *size, opened.mode == "RGB", True, data)
                upright = ImageOps.exif_transpose(opened)
                grey = upright.mode in ("1", "L", "LA", "I;16", "I")
                if upright.mode in ("I", "I;16"):
                    upright = upright.convert("I").point(lambda value: value / 256).convert("L")
                layered = upright.convert("RGBA")
                flat = Image.new("RGBA", layered.size, "white")
                flat.alpha_composite(layered)
                plain = flat.convert("L" if grey else "RGB")
    except (UnidentifiedImageError, Image.DecompressionBombError, OSError, SyntaxError, ValueError) as error:
        if isinstance(error, UnusablePicture):
            raise
        raise UnusablePicture("its file cannot be read as a picture") from None
    packed = zlib.compress(plain.tobytes(), 6)
    return EmbeddedPicture(name, plain.width, plain.height, not grey, False, packed)


_TURN = 0x0112
"""The tag that says how a photograph is to be turned (Exif 2.3, Orientation)."""


def _drawing(data: bytes) -> _Pixels:
    import resvg_py

    width, height = _measures(data)
    across = min(width / _SCREEN * _AN_INCH, _MOST_WIDE)
    down = across * height / width
    try:
        text = data.decode("utf-8-sig")
        pixels = max(1, round(across / _AN_INCH * _FINE))
        png = resvg_py.svg_to_bytes(svg_string=text, width=pixels, dpi=_SCREEN)
    except (ValueError, UnicodeDecodeError):
        raise UnusablePicture("its file cannot be read as a drawing") from None
    return _Pixels(_pixels(bytes(png)), across, down)


def _measures(data: bytes) -> tuple[float, float]:
    """A drawing's size in its own pixels. It may draw on no other file."""
    try:
        root = ElementTree.fromstring(data)
    except ElementTree.ParseError:
        raise UnusablePicture("its file cannot be read as a drawing") from None
    for element in root.iter():
        for name, value in element.attrib.items():
            inside = value.startswith(("#", "data:image/png", "data:image/jpeg"))
            if name.rpartition("}")[2] == "href" and element.tag.rpartition("}")[2] != "a" and not inside:
                raise UnusablePicture("it draws on another file")
    box = [float(found) for found in re.findall(r"-?[\d.]+(?:e-?\d+)?", root.get("viewBox", ""))[:4]]
    sizes = [_length(root.get(name, "")) for name in ("width", "height")]
    width, height = sizes if all(sizes) else (box[2:] if len(box) == 4 else (0.0, 0.0))
    if not (0 < width < 1e5 and 0 < height < 1e5 and height / width <= _TALLEST):
        raise UnusablePicture("it does not say a size that fits a page")
    return width, height


def _length(given: str) -> float:
    """A length in pixels; 0 where it is none, or a share of something else."""
    found = re.fullmatch(r"\s*(\d*\.?\d+)\s*(px|pt|mm|cm|in|)\s*", given)
    units = {
        "px": 1.0,
        "": 1.0,
        "pt": _SCREEN / 72,
        "mm": _SCREEN / 25.4,
        "cm": _SCREEN / 2.54,
        "in": _SCREEN,
    }
    return float(found[1]) * units[found[2]] if found else 0.0
