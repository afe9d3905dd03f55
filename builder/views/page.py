"""A page of the site as MkDocs's plugin is given it."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Page:
    """A page's template, its title, and its view.

    A view that is a function is made when its page is written: until then helpers are at work on it.
    """

    template: str
    title: str
    view: object | Callable[[], object]


def script_json(value: object) -> str:
    """A value as JSON within a script element, which no text in it can end."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")).replace("<", "\\u003c")
