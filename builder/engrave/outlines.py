"""Path data said in fewer characters: the same points, counted from one to the next.

Most of a page of music is path data. Relative steps are shorter than places, and equal shapes become equal
text wherever they stand, which compresses well.
"""

from __future__ import annotations

import re

_TOKEN = re.compile(r"[A-Za-z]|-?(?:\d+\.?\d*|\.\d+)(?:e-?\d+)?")
_SIZES = {"M": 2, "L": 2, "C": 6, "Z": 0}
_MANY = 10_000
"""Longer numbers than any outline needs: the engraver's pages are at most a few thousand points long."""


def _said(hundredths: int) -> str:
    """A number of hundredths without needless zeros: 50 is `.5`, -120 is `-1.2`."""
    sign = "-" if hundredths < 0 else ""
    whole, part = divmod(abs(hundredths), 100)
    fraction = f".{part:02d}".rstrip("0") if part else ""
    return sign + (f"{whole}{fraction}" if whole or not fraction else fraction)


def _joined(steps: list[int]) -> str:
    """Numbers with a space only where their signs do not part them."""
    text = ""
    for step in steps:
        word = _said(step)
        text += word if not text or word[0] == "-" else f" {word}"
    return text


def short(outline: str) -> str:
    """An outline of absolute M, L, C and Z, to a hundredth, with relative steps.

    Points are rounded before their distances are taken, so no error adds up. Anything else than those four
    comes back as it was.
    """
    tokens = _TOKEN.findall(outline)
    found: list[tuple[str, list[int]]] = []
    index = 0
    while index < len(tokens):
        command = tokens[index]
        size = _SIZES.get(command, -1)
        values = tokens[index + 1 : index + 1 + size]
        if size < 0 or len(values) < size or any(value.isalpha() for value in values):
            return outline
        numbers = [float(value) for value in values]
        if any(abs(number) > _MANY for number in numbers):
            return outline
        found.append((command, [round(number * 100) for number in numbers]))
        index += 1 + size
    while found and found[-1][0] == "M":
        # Cairo says where the pen stands when it has done.
        found.pop()
    return _relative(found)


def _relative(found: list[tuple[str, list[int]]]) -> str:
    rows: list[str] = []
    x = y = start_x = start_y = 0
    for command, numbers in found:
        if command == "Z":
            rows.append("z")
            x, y = start_x, start_y
            continue
        steps = [number - (y if place % 2 else x) for place, number in enumerate(numbers)]
        across, down = steps[-2:]
        if command == "M" and not rows:
            # The first place is absolute, so that outlines can be put one after another.
            rows.append("M" + _joined(numbers))
        elif command == "L" and down == 0:
            rows.append("h" + _said(across))
        elif command == "L" and across == 0:
            rows.append("v" + _said(down))
        else:
            rows.append(command.lower() + _joined(steps))
        x, y = numbers[-2:]
        if command == "M":
            start_x, start_y = x, y
    return "".join(rows)
