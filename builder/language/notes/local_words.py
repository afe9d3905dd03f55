"""Reads where words on the staff hold: `in B-flat above "..."`, `in low fingering "..."`."""

from __future__ import annotations

from lark import Token

from ...music.winds.instruments import INSTRUMENTS
from ..faults import shown
from .bar_builder import BarBuilder

REGISTERS = tuple(
    dict.fromkeys(register.name for found in INSTRUMENTS.values() for register in found.registers)
)
"""The names of registers, low ones first."""

_SIGNS = {"#": "-sharp", "♯": "-sharp", "b": "-flat", "♭": "-flat"}


def place_of_words(builder: BarBuilder, token: Token) -> str:
    """The key (`B-flat`) or the register (`low`) that a token names; empty after noting a fault."""
    name = token.split(maxsplit=1)[1].replace(" ", "-")
    if name[0].isupper():
        return name[0] + _SIGNS.get(name[1:], name[1:])
    if name in REGISTERS:
        return name
    mend = builder.guess(name, REGISTERS, f"write a key such as `B-flat`, or one of {', '.join(REGISTERS)}")
    builder.fault(token, f"{shown(name)} is no key and no register", mend)
    return ""
