"""Where the site's pages and files lie, each address relative to the site and with a slash at its end.

If a book has several instruments, each has a tree of its own: its address is the `root` of the others. That
address is a folder at the top of the site, so no instrument may have one that the site uses (`RESERVED`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass

ASSETS = "assets/"
COVERAGE = "coverage/"
DAILY = "daily/"
EXERCISES = "exercises/"
FIND = "find/"
KEYS = "keys/"
LANGUAGE = "language/"
PICTURES = "pictures/"
PRINT = "print/"

TOP_FOLDERS = (ASSETS, COVERAGE, DAILY, EXERCISES, FIND, KEYS, LANGUAGE, PICTURES, PRINT)
"""Every folder that the site may have at its top, apart from the trees of instruments."""

RESERVED = frozenset(address.removesuffix("/") for address in TOP_FOLDERS)
"""Names that no instrument may have."""


@dataclass(frozen=True, slots=True)
class SiteFile:
    """A file of the site: its address from the site's root, and its bytes."""

    address: str
    data: bytes


def exercise_address(root: str, slug: str) -> str:
    """An exercise, every key at a glance."""
    return f"{root}{EXERCISES}{slug}/"


def setting_address(root: str, slug: str, key: str) -> str:
    """An exercise in one key; its downloads lie beside it."""
    return f"{exercise_address(root, slug)}{key}/"


def key_address(root: str, key: str) -> str:
    """Every exercise in one key."""
    return f"{root}{KEYS}{key}/"


def key_print_name(key: str) -> str:
    """The print of one key, among an instrument's: `key-d-flat`."""
    return f"key-{key}"


def key_print_address(root: str, key: str) -> str:
    """The same on the book's own paper, as a file of the site."""
    return f"{root}{PRINT}{key_print_name(key)}.pdf"


def piece_anchor(setting: str, label: str) -> str:
    """Where a setting's variation stands on its page, after the `#`: `d-5-falling-swell-up`.

    `setting` is the name of the setting, `label` that of the variation as its heading has it. Each run of
    anything but letters and digits becomes one hyphen.
    """
    words = re.findall(r"[^\W_]+", label.lower())
    return "-".join((setting, *words))
