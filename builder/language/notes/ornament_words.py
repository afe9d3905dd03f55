"""Reads ornaments whose other notes have accidentals of their own: `trill( flat )`, `turn( sharp below )`."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from ...music.pitch import Pitch
from ...music.signs import INVERTED_MORDENT, MORDENT, TRILL, TURN
from ..words import ACCIDENTALS
from .tokens import token_of

if TYPE_CHECKING:
    from .groups import Group

ABOVE, BELOW = "above", "below"

NAMED_NOTES = {TRILL: (ABOVE,), INVERTED_MORDENT: (ABOVE,), MORDENT: (BELOW,), TURN: (ABOVE, BELOW)}
"""The ornaments, each with where its other notes lie; the first is meant where the author says neither."""

_NOTES = {ABOVE: "upper note", BELOW: "lower note"}


def read_ornament(group: Group) -> None:
    """Put an ornament on the note before; what stands inside are the accidentals of its other notes."""
    builder, name = group.builder, group.name
    if not builder.has_note(group.opener):
        return
    main = builder.last.pitch
    named = _accidentals(group)
    if not named:
        notes = " and ".join(_NOTES[side] for side in NAMED_NOTES[name])
        what = f"`{name}( )` takes the accidental of the {name}'s {notes}, and no notes"
        group.fault(what, _mend(group, main))
    elif main is None:
        group.fault(f"a rest cannot have a {name}", "put it after its note")
    else:
        event = builder.last.marked(name)
        for side, alter in named.items():
            other = replace(main.next_letter if side == ABOVE else main.letter_below, alter=alter)
            if abs(other.midi - main.midi) not in (1, 2):
                what = f"{other} is not a semitone or a tone {side} {main}"
                group.fault(what, f"name the accidental of the {name}'s {_NOTES[side]}, or none")
            event = replace(event, trilled=other) if side == ABOVE else replace(event, lowered=other)
        builder.last = event


def _accidentals(group: Group) -> dict[str, int]:
    """The alteration of each note that is named, by where it lies; none where the words say no such thing."""
    sides = NAMED_NOTES[group.name]
    found: dict[str, int] = {}
    words = group.words
    if len(words) != len(group.inside):
        return {}
    while words:
        accidental, *words = words
        side = words.pop(0) if words and words[0] in (ABOVE, BELOW) else sides[0]
        if accidental not in ACCIDENTALS or side not in sides or side in found:
            return {}
        found[side] = ACCIDENTALS[accidental]
    return found


def _mend(group: Group, main: Pitch | None) -> str:
    """How to mend `E5 trill( F5 )`: by the accidental, if the note inside is the next letter."""
    name = group.name
    if main and len(group.inside) == 1 and group.inside[0].data == "note":
        other = group.builder.pitch(token_of(group.inside[0]))
        step = 1 if NAMED_NOTES[name][0] == ABOVE else -1
        if other and other.step == main.step + step:
            word = next(name for name, alter in ACCIDENTALS.items() if alter == other.alter)
            return f"write `{main} {name}( {word} )`"
    example = "flat sharp below" if len(NAMED_NOTES[name]) > 1 else "flat"
    return f"write `w D5 {name}`, or name one of {', '.join(ACCIDENTALS)}, as in `w D5 {name}( {example} )`"


def write_ornament(name: str, upper: Pitch | None, lower: Pitch | None) -> str:
    """An ornament with the accidentals of its notes, as it is read; its name alone without any."""
    words = {alter: word for word, alter in ACCIDENTALS.items()}
    said = [words[upper.alter]] if upper else []
    if lower:
        said += [words[lower.alter], *([BELOW] if NAMED_NOTES[name][0] == ABOVE else [])]
    return f"{name}( {' '.join(said)} )" if said else name
