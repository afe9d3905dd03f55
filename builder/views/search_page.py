"""What the page for finding knows: every exercise in words, and where each key of it is.

The page carries it as data, so that it can be searched from a folder without a server.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from ..book.sorting import title_order
from ..plurals import count_of
from .page import script_json
from .page_views import BookView, ExerciseView

LENGTHS = (30, 60)
"""Seconds at the slowest tempo that part short from middling from long."""

TEMPOS = (60, 80)
"""Beats a minute that part slow from moderate from quicker."""


@dataclass(frozen=True, slots=True)
class FindView:
    """The page for finding: all there is to find, the choices, and its data as JSON.

    The JSON may stand inside a script element.
    """

    exercises: tuple[ExerciseView, ...]
    instruments: tuple[tuple[str, str], ...]
    kinds: tuple[str, ...]
    registers: tuple[str, ...]
    lengths: tuple[int, int]
    tempos: tuple[int, int]
    data: str

    @property
    def found(self) -> str:
        """`5 exercises, 60 keys`: everything."""
        keys = sum(len(view.keys) for view in self.exercises)
        return f"{count_of(len(self.exercises), 'exercise')}, {count_of(keys, 'key')}"


def find_view(book: BookView) -> FindView:
    """The page for finding in a whole book."""
    exercises = [view for instrument_book in book.instrument_books for view in instrument_book.exercises]
    kinds = sorted({view.exercise.kind for view in exercises if view.exercise.kind}, key=title_order)
    registers = dict.fromkeys(
        register.name
        for instrument_book in book.instrument_books
        for register in instrument_book.instrument.registers
    )
    rows = [_row(view) for view in exercises]
    used = {name for row in rows for key in row["keys"] for name in key["registers"]}
    return FindView(
        exercises=tuple(exercises),
        instruments=tuple(
            (instrument_book.instrument.slug, instrument_book.instrument.name)
            for instrument_book in book.instrument_books
        ),
        kinds=tuple(kinds),
        registers=tuple(name for name in registers if name in used),
        lengths=LENGTHS,
        tempos=TEMPOS,
        data=script_json(rows),
    )


def _played_as(view: ExerciseView) -> Iterator[str]:
    """Its instrument, and its variations by their own names and by those that they join."""
    yield view.instrument.name
    for wanted in view.exercise.wanted:
        yield wanted.label
        if wanted.called:
            yield from wanted.names


def _row(view: ExerciseView) -> dict[str, Any]:
    exercise = view.exercise
    return {
        "title": exercise.title,
        "address": view.address,
        "instrument": view.instrument.slug,
        "kind": exercise.kind,
        "purpose": exercise.purpose,
        "more": " ".join((*exercise.attend, exercise.about, exercise.source, *_played_as(view))).strip(),
        "tempo": [exercise.tempo.low, exercise.tempo.high] if exercise.is_counted else None,
        "seconds": round(view.seconds),
        "mode": view.mode,
        "keys": [
            {
                "name": key.key_name,
                "sign": key.link.sign,
                "address": key.address,
                "registers": list(
                    dict.fromkeys(setting.register for setting in key.settings if setting.register)
                ),
            }
            for key in view.keys
        ],
    }
