"""What decides the narrow music that is kept for a page."""

from __future__ import annotations

import base64
import gzip
import json
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

from stavewright.engrave.drawings.svg import Drawing
from stavewright.views.page_views import InKeyView, KeyView, Music, PartView, SettingView, Shown
from stavewright.views.phone_file import phone_file


def lacking(kind: Any, **known: Any) -> Any:
    """A view of which only some fields matter."""
    return kind(**({field.name: None for field in fields(kind)} | known))


def part(name: str, narrow: bool) -> PartView:
    """A variation with music, which has a narrow form where it is too wide for a phone."""

    def music(form: str, small: Music | None) -> Music:
        body = f'<g fill="currentColor"><path d="M{len(name)} {len(form)}h1"/></g>'
        return Music(body, 90.0, 40.0, name, Drawing(90.0, 40.0, body, {}), (0.0, 40.0), small)

    shown = Shown(music("wide", music("narrow", None) if narrow else None), "")
    return PartView(name, name, "", "", find=lambda: shown)


def in_key(ink: tuple[str, ...], *parts: PartView) -> InKeyView:
    """An exercise of one setting."""
    setting = lacking(SettingView, parts=parts)
    view: InKeyView = lacking(InKeyView, settings=(setting,), ink=ink, failed=frozenset)
    return view


def pieces(*exercises: InKeyView) -> int:
    """How many pieces the file of a key's page holds."""
    data = phone_file(lacking(KeyView, address="keys/d/", exercises=exercises)).data
    if not data:
        return 0
    packed = data.removeprefix(b'stavewrightPhone.take("').removesuffix(b'");\n')
    return len(json.loads(gzip.decompress(base64.b64decode(packed)))["pieces"])


def test_a_variation_that_becomes_an_exercise_is_shown_by_a_key(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A key's page shows no variation, and the same ink as an exercise of its own."""
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path))
    written, other = part("written", narrow=False), part("other", narrow=True)
    assert pieces(in_key(("a", "b", "c"), written, other)) == 0
    assert pieces(in_key(("a",), written), in_key(("b", "c"), other)) == 1
    # And what was kept is found again.
    assert pieces(in_key(("a", "b", "c"), written, other)) == 0
