"""What a built site weighs: its files by kind, and its pages of an exercise in one key.

    python benchmarks/weight.py [site]

Counts the elements that a page's file has, all of them, and its bytes as a host packs them (gzip, level 6).
A phone loads the file of narrow music beside a page too.
"""

from __future__ import annotations

import argparse
import gzip
import sys
from collections import Counter
from html.parser import HTMLParser
from pathlib import Path

MOST_ELEMENTS = 1500
MOST_PACKED = 60_000
MOST_BYTES = 12_000_000


class Counting(HTMLParser):
    """Counts the elements of a page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.count = 0
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """One more; an element that ends in its own tag comes here too."""
        self.count += 1


def packed(path: Path) -> int:
    """A file's bytes as a host sends them; 0 where it is not there."""
    return len(gzip.compress(path.read_bytes(), 6)) if path.is_file() else 0


def main() -> int:
    """Print the tables; 1 where the site or a page is above its limit, 2 where there is no site."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("site", type=Path, nargs="?", default=Path("site"))
    site = parser.parse_args().site
    files = [path for path in site.rglob("*") if path.is_file()]
    pages = sorted(site.glob("**/exercises/*/*/index.html"))
    if not pages:
        print(f"{site}: no book's site; build one first", file=sys.stderr)
        return 2
    sizes: Counter[str] = Counter()
    for path in files:
        sizes[path.name if path.name == "phone.js" else path.suffix] += path.stat().st_size
    for kind, size in sizes.most_common():
        print(f"{kind:14}{size / 1e6:8.2f} MB")
    whole = sum(sizes.values())
    print(f"{'all':14}{whole / 1e6:8.2f} MB\n")
    elements = [Counting(page.read_text(encoding="utf-8")).count for page in pages]
    html = [packed(page) for page in pages]
    phone = [packed(page.with_name("phone.js")) for page in pages]
    print(f"{'in one key':26}{'mean':>8}{'most':>8}")
    for name, values in (
        ("elements", elements),
        ("bytes, packed", html),
        ("phone.js, packed", phone),
        ("both, packed", [sum(each) for each in zip(html, phone, strict=True)]),
    ):
        print(f"{name:26}{sum(values) / len(values):8.0f}{max(values):8}")
    return int(max(elements) > MOST_ELEMENTS or max(html) > MOST_PACKED or whole > MOST_BYTES)


if __name__ == "__main__":
    sys.exit(main())
