"""A PDF's many small objects as text: pikepdf reads thousands of them at once faster than it makes each.

What is written here is a whole file that holds no streams (ISO 32000-1, 7.5). pikepdf opens it, and adds
contents and fonts.
"""

from __future__ import annotations

from collections.abc import Iterable

from pikepdf import String


class PdfObjects:
    """Objects by their numbers from 1, in PDF's words."""

    def __init__(self) -> None:
        self._texts: list[str] = []

    def reserve(self) -> int:
        """The number of an object that is put there later."""
        return self.add("null")

    def put(self, number: int, text: str) -> None:
        """Give an object its words."""
        self._texts[number - 1] = text

    def add(self, text: str) -> int:
        """Add an object; its number."""
        self._texts.append(text)
        return len(self._texts)

    def file(self, root: int) -> bytes:
        """The file whose catalogue is the object `root`."""
        parts = ["%PDF-1.7\n"]
        places = []
        at = len(parts[0])
        for number, text in enumerate(self._texts, start=1):
            places.append(f"{at:010} 00000 n \n")
            parts.append(f"{number} 0 obj\n{text}\nendobj\n")
            at += len(parts[-1])
        size = len(self._texts) + 1
        parts += [f"xref\n0 {size}\n0000000000 65535 f \n", *places]
        parts.append(f"trailer\n<</Root {root} 0 R/Size {size}>>\nstartxref\n{at}\n%%EOF\n")
        return "".join(parts).encode("latin-1")


def reference(number: int) -> str:
    """A reference to an object."""
    return f"{number} 0 R"


def text_string(said: str) -> str:
    """Words as a string of PDF's."""
    return bytes(String(said).unparse()).decode("latin-1")


def number_words(numbers: Iterable[float]) -> str:
    """Numbers in a row, each to a tenth."""
    return " ".join(f"{round(number, 1):g}" for number in numbers)
