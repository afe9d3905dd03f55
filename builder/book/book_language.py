"""The language of a book's own words: `theme.locale` in mkdocs.yml, as MkDocs has it."""

from __future__ import annotations

from collections.abc import Mapping

from ..translation.catalog import ENGLISH, LANGUAGES
from ..visible import shown
from .config import Config


def locale_of(config: Config) -> str:
    """What mkdocs.yml gives as `theme.locale`; English where it gives none."""
    theme = config.values.get("theme")
    found = theme.get("locale") if isinstance(theme, Mapping) else None
    return found if isinstance(found, str) and found else ENGLISH


def language_of(config: Config) -> str:
    """The language of a book: one of LANGUAGES, and English for a locale that has no catalog.

    A country after the language (`de_AT`) decides nothing.
    """
    language = _language(locale_of(config))
    return language if language in LANGUAGES else ENGLISH


def locale_remark(config: Config) -> str:
    """What to say of a locale that has no catalog; empty where it has one."""
    locale = locale_of(config)
    if _language(locale) in LANGUAGES:
        return ""
    known = ", ".join(LANGUAGES)
    return (
        f"theme: locale: there is no catalog for {shown(locale)}, so the book's own words are English; "
        f"write one of {known}"
    )


def _language(locale: str) -> str:
    return locale.replace("-", "_").partition("_")[0].lower()
