"""Parses a field by the grammar into a tree, with the places in the file, or into a fault."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedCharacters, UnexpectedEOF, UnexpectedInput, UnexpectedToken

from ..music.keys import MODES
from .faults import Fault, did_you_mean, shown
from .field_words import FIELDS
from .fields import FieldText, Source
from .namings import Naming, example_by, foreign_pitch, foreign_tonic
from .words import EQUAL_STEPS, KEY_STEPS, VALUES

_RULES = (
    "home",
    "meter",
    "tempo",
    "seconds",
    "pickup",
    "drone",
    "chords",
    "second",
    "travel",
    "variations",
    "music",
)
_KNOWN = {
    "MODE": list(MODES),
    "STEP": [*KEY_STEPS, *EQUAL_STEPS],
    "DIRECTION": ["up", "down"],
    "VALUE_NAME": [name for name in VALUES if len(name) > 1],
    "FREE": ["free", "senza misura"],
    "IN": ["in"],
    "SECONDS": ["seconds"],
    "TO": ["to"],
    "FROM": ["from"],
    "THEN": ["then"],
    "TWELVE": ["twelve"],
    "KEYS": ["keys"],
    "THROUGH": ["through the range"],
    "CANON": ["canon"],
    "PEDAL": ["pedal"],
    "AT_THE": ["at the"],
    "WAY": ["above", "below"],
    "AFTER": ["after"],
    "BARS": ["bar", "bars"],
    "TIED": ["tied"],
}


@cache
def _parser(naming: Naming) -> Lark:
    """The parser of texts with these names; its tokens have the English ones."""
    grammar = Path(__file__).with_name("grammar.lark").read_text(encoding="utf-8")
    grammar = grammar.replace("PITCH_OF_NAMING", naming.pitch_pattern)
    grammar = grammar.replace("TONIC_OF_NAMING", naming.any_tonic)

    def told(english: Callable[[str], str]) -> Callable[[Token], Token]:
        return lambda token: Token.new_borrow_pos(token.type, english(str(token)), token)

    def place_of_words(text: str) -> str:
        word, name = text.split(maxsplit=1)
        return f"{word} {naming.english_tonic(name)}"

    tellers = {
        "PITCH": told(naming.english),
        "TONIC": told(naming.english_tonic),
        "ONLY": told(place_of_words),
    }
    return Lark(
        grammar,
        parser="lalr",
        start=list(_RULES),
        propagate_positions=True,
        maybe_placeholders=True,
        lexer_callbacks={} if naming.is_english else tellers,
    )


def parse(source: Source, field: FieldText) -> Tree[Token] | Fault:
    """The tree of a field by the rule for its form, or the fault at the first word that does not fit."""
    rule = FIELDS[field.name].form
    try:
        return _parser(source.naming).parse(field.text, start=rule)
    except UnexpectedInput as error:
        return _fault(source, field, rule, error)


def place(field: FieldText, token: Token) -> tuple[int, int]:
    """Line and column in the file of a token of a field."""
    return (token.line or 1) + field.line - 1, token.column or 1


def _fault(source: Source, field: FieldText, rule: str, error: UnexpectedInput) -> Fault:
    example = example_in(source.naming, field.name)
    pattern = f"write it like `{field.name}: {example}`"
    rows = field.rows()
    if not rows:
        return source.fault_as_said(field.line, field.column, f"{field.name!r} says nothing", pattern)
    end, end_row = field.end, rows[-1][1]
    if rule == "music":
        if isinstance(error, UnexpectedToken) and error.token.type == "RPAR":
            line, column = place(field, error.token)
            return source.fault(
                line, column, "')' closes nothing", "take it out, or begin a group such as `slur(`"
            )
        if isinstance(error, UnexpectedToken) and error.token.type != "$END":
            line, column = place(field, error.token)
            mend = "write it in its own group, such as `tuplet( 3:2 ... )` or `meter( 3/4 )`"
            if str(error.token).startswith('"'):
                mend = "words in quotes begin and end with a quote on the same line"
            return source.fault(line, column, f"{shown(str(error.token))} does not belong here", mend)
        return source.fault(*end, "a group is not closed", "add `)` after its last note")
    if isinstance(error, UnexpectedEOF) or (
        isinstance(error, UnexpectedToken) and error.token.type == "$END"
    ):
        return source.fault_as_said(*end, f"{field.name!r} breaks off after {shown(end_row)}", pattern)
    line, column = error.line + field.line - 1, error.column
    row = field.text.split("\n")[line - field.line]
    fits = column
    while column > 1 and not (row[column - 2].isspace() or row[column - 2] in ",+="):
        column -= 1
    rest = row[column - 1 :].split(maxsplit=1)
    word = rest[0].rstrip(",") if rest else ""
    expected: set[str] = set()
    if isinstance(error, UnexpectedToken):
        expected = set(error.expected)
    elif isinstance(error, UnexpectedCharacters):
        expected = set(error.allowed)
    # If a word begins with a word that fits, that word is probably meant.
    kinds = sorted(expected) if column == fits else list(_KNOWN)
    known = [name for kind in kinds for name in _KNOWN.get(kind, [])]
    mend = did_you_mean(word, known, pattern, any_case=True)
    if expected & {"PITCH", "TONIC"}:
        foreign = foreign_pitch if "PITCH" in expected else foreign_tonic
        mend = foreign(word, source.naming) or mend
    return source.fault_as_said(line, column, f"{shown(word)} does not fit here", mend)


def example_in(naming: Naming, name: str) -> str:
    """A field's example, its notes named by a naming."""
    return example_by(naming, name, FIELDS[name].example)
