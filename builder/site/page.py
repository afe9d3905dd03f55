"""A page of the site as the plugin keeps it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

Page = tuple[str, str, Any]
"""A page's template, its title, and its view, or how that is made."""


@dataclass(frozen=True, slots=True)
class LazyView:
    """A view that is made when its page is written: until then helpers are at work on what it shows.

    `ready` says whether they have done with it, so that nobody need wait.
    """

    make: Callable[[], Any]
    ready: Callable[[], bool] = bool
