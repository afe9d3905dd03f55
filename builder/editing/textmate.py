"""A grammar for editors that colour exercises by TextMate's rules (macromates.com, "Language Grammars").

It is made from the tables of the language, so that it knows every word. docs/warmup.tmLanguage.json is what
`grammar_text` gives.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from typing import Any

from ..language.field_words import FIELDS
from ..language.read import SUFFIX
from ..language.trade_words import EQUAL_FIELDS, EQUAL_WORDS
from ..language.words import GROUPS, MARKS, SIGNS, VALUES
from ..music.event import LEVELS
from ..music.figures import FIGURES
from ..variations import variations
from ..variations.equal_names import EQUAL_NAMES
from .help import is_plain_word
from .places import INTERVAL, PITCH

_NEXT_FIELD = r"^(?=[^\s#])"
_REMARK = {"name": "comment.line.number-sign.warmup", "match": r"^\s*#.*$"}
_REMARK_AT_END = {"name": "comment.line.number-sign.warmup", "match": r"(?<=[ \t])#(?=[ \t]|$).*$"}
_QUOTED = {"name": "string.quoted.double.warmup", "match": r'"[^"]*"'}


def grammar() -> dict[str, Any]:
    """The grammar as plain values."""
    forms = {name: field.form for name, field in FIELDS.items()}
    forms |= {equal: FIELDS[plain].form for equal, plain in EQUAL_FIELDS.items()}
    music = [name for name, form in forms.items() if form == "music"]
    wishes = [name for name, form in forms.items() if form == "variations"]
    words = [name for name, form in forms.items() if form in ("text", "list")]
    rest = forms.keys() - {*music, *wishes, *words}
    return {
        "name": "Stavewright exercise",
        "scopeName": "source.warmup",
        "fileTypes": [SUFFIX.removeprefix(".")],
        "patterns": [
            _REMARK,
            _field(music, [_REMARK, _REMARK_AT_END, *_music()]),
            _field(wishes, [_REMARK, _REMARK_AT_END, *_wishes()]),
            _field(rest, [_REMARK, _REMARK_AT_END, *_short()]),
            _field(words, [_REMARK]),
        ],
    }


def grammar_text() -> str:
    """The grammar as JSON."""
    return json.dumps(grammar(), indent=2, ensure_ascii=True) + "\n"


def _field(names: Iterable[str], patterns: list[dict[str, Any]]) -> dict[str, Any]:
    """A field and the lines that it goes on over."""
    return {
        "begin": rf"^({_any_of(names)})[ \t]*(:)",
        "beginCaptures": {
            "1": {"name": "entity.name.tag.warmup"},
            "2": {"name": "punctuation.separator.key-value.warmup"},
        },
        "end": _NEXT_FIELD,
        "patterns": patterns,
    }


def _music() -> list[dict[str, Any]]:
    groups = {*GROUPS, *(each for each, plain in EQUAL_WORDS.items() if plain in GROUPS)}
    figures = {*FIGURES, *(each for each, plain in EQUAL_WORDS.items() if plain in FIGURES)}
    marks = {*MARKS, *(each for each, plain in EQUAL_WORDS.items() if plain in MARKS)}
    signs = {name for name in SIGNS if is_plain_word(name)} - {*LEVELS, "D5"}
    signs |= {each for each, plain in EQUAL_WORDS.items() if plain in SIGNS}
    return [
        _QUOTED,
        {"name": "keyword.control.warmup", "match": rf"(?<![^\s(])({_any_of(groups)})(?=\()"},
        {
            "begin": rf"(?<![^\s(])({_any_of(figures)})(?=\()",
            "beginCaptures": {"1": {"name": "support.function.warmup"}},
            "end": r"\)|$",
            "patterns": _in_figures(),
        },
        {"name": "keyword.operator.warmup", "match": r"\|\||\|:|:\||\|"},
        _pattern("constant.numeric.warmup", rf"(?:dotted )?(?:{_any_of([*VALUES, 'long'])})\.*"),
        _pattern("constant.language.warmup", _any_of(LEVELS)),
        _pattern("variable.other.warmup", f"{PITCH}|{INTERVAL}"),
        {"name": "storage.modifier.warmup", "match": rf"(?<![^\s(])({_any_of(marks)})(?![^\s(),|])"},
        _pattern("storage.modifier.warmup", _any_of(signs - {"long"})),
    ]


def _in_figures() -> list[dict[str, Any]]:
    """The words of a figure: the value of its notes, numbers, and how it goes."""
    return [
        _pattern("constant.numeric.warmup", rf"(?:dotted )?(?:{_any_of(VALUES)})\.*|\d+"),
        _pattern("storage.modifier.warmup", r"[a-z][a-z-]*"),
    ]


def _wishes() -> list[dict[str, Any]]:
    names = _any_of([*variations(), *EQUAL_NAMES])
    return [
        {
            "match": r"([^\s,+=][^,+=]*?)\s*(=)",
            "captures": {
                "1": {"name": "entity.name.function.warmup"},
                "2": {"name": "keyword.operator.warmup"},
            },
        },
        {"name": "keyword.operator.warmup", "match": r"[+,]"},
        {"name": "support.function.warmup", "match": rf"(?<![\w-])({names})(?![\w-])"},
        _pattern("constant.language.warmup", _any_of(LEVELS)),
    ]


def _short() -> list[dict[str, Any]]:
    return [
        _pattern("variable.other.warmup", PITCH),
        _pattern("constant.numeric.warmup", r"\d+(?:/\d+)?"),
    ]


def _pattern(name: str, words: str) -> dict[str, Any]:
    """Words that stand alone: between spaces, brackets, commas or bar lines."""
    return {"name": name, "match": rf"(?<![^\s(,|])(?:{words})(?![^\s),|])"}


def _any_of(names: Iterable[str]) -> str:
    """An alternative of names; a longer one stands before its own beginning."""
    return "|".join(
        re.escape(name).replace(r"\ ", " ") for name in sorted(names, key=lambda name: (-len(name), name))
    )
