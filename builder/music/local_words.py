"""Words on the staff that hold in one key only, or in one register only."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from .event import Event
from .keys import Key
from .pitch import Pitch
from .score import Bar, each_event


@dataclass(frozen=True, slots=True)
class LocalWords:
    """Words for a note in one key or register: `where` is a tonic such as `B-flat`, or a name such as `low`.

    `side` is the field of the event that the text goes to.
    """

    where: str
    side: str
    text: str

    @property
    def pitch_class(self) -> int | None:
        """The tonic of its key as a pitch class, 0 (C) to 11 (B); None if it is for a register."""
        if not self.where[0].isupper():
            return None
        letter, _, alter = self.where.partition("-")
        return Pitch.parse(f"{letter}{ {'': '', 'flat': 'b', 'sharp': '#'}[alter] }4").pitch_class


def resolve_local_words(
    bars: tuple[Bar, ...], key: Key, register_of: Callable[[Pitch], str]
) -> tuple[Bar, ...]:
    """Bars with those words in place that hold in a key or in their note's register, without the others.

    `register_of` names the register of a written pitch.
    """

    def resolve(event: Event) -> Event:
        if not event.local:
            return event
        register = register_of(event.pitch) if event.pitch else ""
        found = replace(event, local=())
        for words in event.local:
            if words.where == register or words.pitch_class == key.pitch_class:
                there = getattr(found, words.side)
                text = "; ".join(filter(None, (there, words.text)))
                found = replace(found, **{words.side: text})  # type: ignore[arg-type]
        return found

    return each_event(bars, resolve)
