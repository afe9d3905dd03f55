"""The book's pages in a theme of MkDocs's own: their bodies, as the content of the theme's page.

Music, words and files are there. What scripts make is not: sound, the stand, finding, the offline copy.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from jinja2 import ChoiceLoader, Environment, FileSystemLoader
from mkdocs.theme import Theme

from ...translation.catalog import Translation
from ..settings import THEME
from ..template_words import speak

STYLE = "assets/stavewright.css"
"""Where the style of the bodies is, from the site's root."""

IN_NAVIGATION = ("index.md", "print/index.md", "language/index.md")
"""The book's pages that stand in MkDocs's navigation; they lead to all others."""

LEFT_OUT = ("find/index.md",)
"""Pages that are nothing without their scripts. The themes have a search of their own."""

_MORE = """\
/* What only scripts make useful; and lists without the theme's dots. */
:is(.sound, button) { display: none; }
&& :is(ul, ol):not(.prose *) > li { margin-left: 0; list-style: none; }
"""

_RULES_OF_A_PAGE = re.compile(r"@(?:page|font-face)\b[^{]*\{[^}]*\}\n?")
"""What no element can have: sheets of paper, and faces of letters. A theme has letters of its own."""


def plain_environment(env: Environment, translation: Translation) -> Environment:
    """An environment in which a page's template gives its body alone; the theme's own has its own words."""
    home = Path(_theme_folder())
    loader = ChoiceLoader([FileSystemLoader(home / "plain"), FileSystemLoader(home)])
    plain = env.overlay(loader=loader, autoescape=True, bytecode_cache=None)
    plain.globals, plain.filters = dict(plain.globals), dict(plain.filters)
    speak(plain, translation)
    return plain


def body_of(env: Environment, template: str, context: Mapping[str, Any]) -> str:
    """A page's body as HTML."""
    return env.get_template(template).render(context)


def plain_style() -> str:
    """The book's style, for what lies in an element of the class `stavewright` alone."""
    style = Path(_theme_folder(), "assets", "book.css").read_text(encoding="utf-8")
    inner = _RULES_OF_A_PAGE.sub("", style).replace(":root", "&")
    return f".stavewright {{\n{inner}{_MORE}}}\n"


def _theme_folder() -> str:
    """The folder of this project's own theme."""
    return Theme(name=THEME).dirs[0]
