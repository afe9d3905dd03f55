"""What the page of coverage shows: the numbers of a book, and those of its usual daily sets beside them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from ..book.durations import duration_in_units
from ..book.pieces import InstrumentBook, scores
from ..cache.memo import memo_json
from ..cache.store import CacheStore
from ..daily.coverage import Counts, Coverage
from ..daily.measure import moments
from ..daily.plan import Plan
from ..engrave.engraved_book import EngravedBook
from ..music.event import LEVELS
from ..music.score import Score
from ..music.sounding.performance import performance_fingerprint
from ..music.winds.instruments import Instrument
from ..translation.catalog import Translation
from ..translation.said import Said


@dataclass(frozen=True, slots=True)
class CoverageView:
    """The page of coverage: `found` holds its numbers, as `covered` makes them; `daily` the sets' page."""

    instrument: str
    instrument_said: Said
    found: dict[str, Any]
    daily: str


def covered(
    engraved_book: EngravedBook,
    instrument_book: InstrumentBook,
    book: Coverage,
    made: Plan | None,
    store: CacheStore,
) -> dict[str, Any]:
    """The numbers of the page of coverage: of the book, and of the usual plan beside it."""
    played = [item.name for block in made.blocks for item in block.items] if made else []
    music = scores((instrument_book,))
    translation = engraved_book.book.translation
    round_ = _coverage_of(played, music, engraved_book, instrument_book.instrument, store)
    return {
        "pieces": book.pieces,
        "time": duration_in_units(book.seconds),
        "minutes": made.problem.wish.minutes if made else 0,
        "days": made.problem.wish.days if made else 0,
        "plan_time": duration_in_units(round_.seconds),
        "holes": list(map(translation.say, book.holes)),
        "plan_holes": list(map(translation.say, round_.holes)) if made else [],
        "notes": _notes(book, round_, translation),
        "steps": _steps(book, round_, translation),
        "levels": _levels(book, round_, translation),
        "names": list(LEVELS),
        "attacks": _attacks(book, round_, translation),
    }


def _coverage_of(
    played: Sequence[str],
    music: Mapping[str, Score],
    engraved_book: EngravedBook,
    instrument: Instrument,
    store: CacheStore,
) -> Coverage:
    """What some pieces practise, by their names; the counts of each are kept."""

    def counted(name: str) -> dict[str, Any]:
        counts = Counts(instrument)
        counts.add(moments(music[name]))
        return counts.plain

    found: dict[str, dict[str, Any]] = {}
    whole = Counts(instrument)
    for name in played:
        if name not in found:
            decided = engraved_book.engravings.key(name), performance_fingerprint(music[name])
            parts = repr(instrument), *decided
            found[name] = memo_json(store, "counts", parts, partial(counted, name))
        whole.join(found[name])
    return whole.coverage


def _share(part: float, most: float) -> float:
    """A bar's length from 0 to 1."""
    return round(part / most, 3) if most else 0.0


def _notes(book: Coverage, plan_: Coverage, translation: Translation) -> list[dict[str, Any]]:
    tallies = {row.pitch: row.tally for row in plan_.notes}
    most = max(row.tally.seconds for row in book.notes)
    plan_most = max(row.tally.seconds for row in plan_.notes)
    rows = []
    for row in book.notes:
        other = tallies.get(row.pitch)
        rows.append(
            {
                "name": translation.note(row.pitch.spoken),
                "label": translation.note(str(row.pitch)) if row.pitch.name == "C" else "",
                "register": translation.gettext(row.register),
                "asked": row.asked,
                "count": row.tally.count,
                "time": duration_in_units(row.tally.seconds),
                "share": _share(row.tally.seconds, most),
                "plan_count": other.count if other else 0,
                "plan_time": duration_in_units(other.seconds if other else 0),
                "plan_share": _share(other.seconds if other else 0, plan_most),
            }
        )
    return rows


def _steps(book: Coverage, plan_: Coverage, translation: Translation) -> list[dict[str, Any]]:
    # Repeated notes stand apart: they are so many that no other bar could be seen beside theirs.
    most = max(max(row.up.count, row.down.count) for row in book.steps[1:])
    return [
        {
            "name": translation.gettext(row.name),
            "up": row.up.count,
            "down": row.down.count,
            "up_share": _share(row.up.count, most),
            "down_share": _share(row.down.count, most),
            "plan_up": other.up.count,
            "plan_down": other.down.count,
        }
        for row, other in zip(book.steps, plan_.steps, strict=True)
    ]


def _levels(book: Coverage, plan_: Coverage, translation: Translation) -> list[dict[str, Any]]:
    most = max((seconds for row in book.levels for seconds in row.seconds), default=0)
    return [
        {
            "register": translation.gettext(row.register),
            "cells": [
                {
                    "time": duration_in_units(seconds),
                    "share": _share(seconds, most),
                    "plan_time": duration_in_units(plan_seconds),
                }
                for seconds, plan_seconds in zip(row.seconds, other.seconds, strict=True)
            ],
            "unknown": duration_in_units(row.unknown),
            "plan_unknown": duration_in_units(other.unknown),
        }
        for row, other in zip(book.levels, plan_.levels, strict=True)
    ]


def _attacks(book: Coverage, plan_: Coverage, translation: Translation) -> list[dict[str, Any]]:
    most = max(row.tally.count for row in book.attacks)
    return [
        {
            "name": translation.gettext(row.name),
            "count": row.tally.count,
            "time": duration_in_units(row.tally.seconds),
            "share": _share(row.tally.count, most),
            "plan_count": other.tally.count,
            "plan_time": duration_in_units(other.tally.seconds),
        }
        for row, other in zip(book.attacks, plan_.attacks, strict=True)
    ]
