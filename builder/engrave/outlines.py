"""Path data said in fewer characters: the same points, counted from one to the next.

Most of a page of music is path data. Relative steps are shorter than places, and equal shapes become equal
text wherever they stand, which compresses well.
"""

from __future__ import annotations

from functools import lru_cache

_SIZES = {"M": 2, "L": 2, "C": 6, "Z": 0}
_MANY = 1_000_000
"""Hundredths; longer numbers than any outline needs: the engraver's pages are some thousand points long."""


@lru_cache(maxsize=65536)
def _said(hundredths: int) -> str:
    """A number of hundredths without needless zeros: 50 is `.5`, -120 is `-1.2`."""
    sign = "-" if hundredths < 0 else ""
    whole, part = divmod(abs(hundredths), 100)
    fraction = f".{part:02d}".rstrip("0") if part else ""
    return sign + (f"{whole}{fraction}" if whole or not fraction else fraction)


def _joined(steps: list[int]) -> str:
    """Numbers with a space only where their signs do not part them."""
    return " ".join(map(_said, steps)).replace(" -", "-")


def shorten_outline(outline: str, across: float = 1, down: float = 1) -> str:
    """An outline of absolute M, L, C and Z, to a hundredth, with relative steps.

    Its points are first multiplied by `across` and `down`. They are rounded before their distances are
    taken, so no error adds up. Anything else than those four comes back as it was.
    """
    words = outline.split()
    rows: list[str] = []
    x = y = start_x = start_y = index = 0
    end = len(words)
    while end >= 3 and words[end - 3] == "M":
        # Cairo says where the pen stands when it has done.
        end -= 3
    try:
        while index < end:
            command = words[index]
            size = _SIZES[command]
            index += 1
            if not size:
                rows.append("z")
                x, y = start_x, start_y
                continue
            values = words[index : index + size]
            index += size
            places = [round(float(word) * 100 * across) for word in values[::2]]
            heights = [round(float(word) * 100 * down) for word in values[1::2]]
            if len(values) < size or max(map(abs, places + heights)) > _MANY:
                return outline
            if size == 6:
                (a, c, e), (b, d, f) = places, heights
                rows.append("c" + _joined([a - x, b - y, c - x, d - y, e - x, f - y]))
                x, y = e, f
                continue
            (a,), (b,) = places, heights
            if command == "M":
                # The first place is absolute, so that outlines can be put one after another.
                rows.append("m" + _joined([a - x, b - y]) if rows else "M" + _joined([a, b]))
                start_x, start_y = a, b
            elif b == y:
                rows.append("h" + _said(a - x))
            elif a == x:
                rows.append("v" + _said(b - y))
            else:
                rows.append("l" + _joined([a - x, b - y]))
            x, y = a, b
    except (KeyError, ValueError, OverflowError):
        return outline
    return "".join(rows)
