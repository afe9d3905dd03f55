"""Turns tokens of the grammar into values, meters and tempos."""

from __future__ import annotations

from lark import Token, Tree

from ...music.event import LONG, Tempo, Value
from ...music.score import FREE, Meter
from ..words import VALUES


def value_of(token: Token) -> Value:
    """A note value from its letter or its name."""
    text = str(token)
    if token.type == "LONG":
        return LONG
    if token.type == "VALUE_NAME":
        name = text.removeprefix("dotted ")
        return Value(VALUES[name], 1 if name != text else 0)
    return Value(VALUES[text.rstrip(".")], text.count("."))


def meter_of(token: Token, groups: Token | None = None) -> Meter:
    """A meter from its token and that of its groups of beams. Raises ValueError if there is no such meter."""
    if token.type == "FREE":
        return FREE
    beats, unit = map(int, token.split("/"))
    if not 1 <= beats <= 32 or unit not in (1, 2, 4, 8, 16, 32):
        raise ValueError(f"{token} is not a meter")
    parts = tuple(map(int, groups.split("+"))) if groups else ()
    if parts and (sum(parts) != beats or 0 in parts):
        raise ValueError(f"the groups {groups} do not make {beats} beats")
    return Meter(beats, unit, parts)


def tempo_of(tokens: list[Token]) -> Tempo:
    """A tempo from the tokens of its beat and one or two numbers. Raises ValueError if out of bounds."""
    beat, *numbers = tokens
    low, high = int(numbers[0]), int(numbers[-1])
    if not 20 <= low <= high <= 400:
        raise ValueError(f"{low} to {high} is not a tempo")
    return Tempo(value_of(beat), low, high)


def breath_of(tokens: list[Token]) -> tuple[int, int]:
    """A breath's least and most seconds from one or two numbers. Raises ValueError if out of bounds."""
    low, high = int(tokens[0]), int(tokens[-1])
    if not 2 <= low <= high <= 60:
        raise ValueError(f"{low} to {high} seconds is not a breath")
    return low, high


def token_of(item: Tree[Token], index: int = 0) -> Token:
    """A tree's token by its place."""
    token = item.children[index]
    assert isinstance(token, Token)
    return token
