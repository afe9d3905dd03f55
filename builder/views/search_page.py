"""What the page for finding knows: every exercise in words, and where each key of it is.

The page carries it as data, so that it can be searched from a folder without a server.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from ..book.sorting import title_order
from ..translation.catalog import TO_ENGLISH, Translation
from ..translation.said import Said, counted, joined
from ..variations.printed_names import label_words
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
    def found(self) -> Said:
        """`5 exercises, 60 keys`: everything."""
        keys = sum(len(view.keys) for view in self.exercises)
        exercises = counted("{count} exercise", "{count} exercises", len(self.exercises))
        return joined((exercises, counted("{count} key", "{count} keys", keys)), ", ")


def find_view(book: BookView, translation: Translation = TO_ENGLISH) -> FindView:
    """The page for finding in a whole book."""
    exercises = [view for instrument_book in book.instrument_books for view in instrument_book.exercises]
    kinds = sorted({view.exercise.kind for view in exercises if view.exercise.kind}, key=title_order)
    registers = dict.fromkeys(
        register.name
        for instrument_book in book.instrument_books
        for register in instrument_book.instrument.registers
    )
    rows = [_row(view, translation) for view in exercises]
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


def _played_as(view: ExerciseView, translation: Translation) -> Iterator[str]:
    """Its instrument, and its variations by their own names and by those that they join."""
    yield translation.gettext(view.instrument.name)
    for wanted in view.exercise.wanted:
        yield wanted.label
        yield translation.say(label_words(wanted.label))
        if wanted.called:
            yield from wanted.names


def _row(view: ExerciseView, translation: Translation) -> dict[str, Any]:
    exercise = view.exercise
    more = (*exercise.attend, exercise.about, exercise.source, *_played_as(view, translation))
    return {
        "title": exercise.title,
        "address": view.address,
        "instrument": view.instrument.slug,
        "kind": exercise.kind,
        "purpose": exercise.purpose,
        "more": " ".join(more).strip(),
        "tempo": [exercise.tempo.low, exercise.tempo.high] if exercise.is_counted else None,
        "seconds": round(view.seconds),
        "mode": translation.say(view.mode),
        "keys": [
            {
                "name": translation.key(key.key_name),
                "sign": key.link.sign,
                "address": key.address,
                "registers": list(
                    dict.fromkeys(setting.register for setting in key.settings if setting.register)
                ),
            }
            for key in view.keys
        ],
    }
