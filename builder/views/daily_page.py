"""What the pages of daily sets and of coverage show, for one instrument's book.

The plans are made here, for several lengths of a set, and stand in the page as data; its script only turns to
today's. A plan is a round of DAYS days: after its last day the first follows, as what is not repeated.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import astuple, dataclass
from functools import cache, partial
from pathlib import Path
from typing import Any

from ..book.addresses import COVERAGE, DAILY, setting_address
from ..book.durations import duration_in_units
from ..book.pieces import InstrumentBook, KeyPage, scores
from ..cache.memo import memo_json, memo_key
from ..cache.store import CacheStore
from ..daily.cautions import GENERAL, LONG, LOUD, cautions, noise_table
from ..daily.choices import Choice, measured_pages
from ..daily.coverage import Counts, Coverage
from ..daily.measure import moments, register_order
from ..daily.plan import NoPlan, Plan, Promise
from ..daily.planner import plan
from ..daily.sets import Day, clock_time, days, how
from ..engrave.engraved_book import EngravedBook
from ..jobs.pool import Task
from ..music.exercise import Exercise, exercise_fingerprint
from ..music.instruments import Instrument
from ..music.performance import performance_fingerprint
from ..music.score import LEVELS, Score
from .page import Page, script_json

LENGTHS = (5, 10, 15, 25, 40)
"""Minutes a day that the page offers."""

USUAL = 15
DAYS = 14
_WEEK = 7


@dataclass(frozen=True, slots=True)
class Peer:
    """An instrument's own page of daily sets."""

    address: str
    words: str


@dataclass(frozen=True, slots=True)
class DailyView:
    """The page of daily sets.

    `data` is for its script, as JSON that may stand inside a script element; `week` the days that are shown
    without one. `problem` says why there is no plan, where there is none. `others` leads to each instrument's
    page, where this one is for the whole book.
    """

    instrument: str = ""
    minutes: tuple[int, ...] = ()
    usual: int = USUAL
    week: tuple[dict[str, Any], ...] = ()
    data: str = ""
    cautions: tuple[str, ...] = ()
    noise: tuple[tuple[int, str], ...] = ()
    coverage: str = ""
    problem: tuple[str, ...] = ()
    others: tuple[Peer, ...] = ()


@dataclass(frozen=True, slots=True)
class CoverageView:
    """The page of coverage: `found` holds its numbers, as `_covered` makes them; `daily` the sets' page."""

    instrument: str
    found: dict[str, Any]
    daily: str


_WORTH = 300
"""Pieces of a book whose plans are worth a helper: about half a second's work."""


def plan_tasks(engraved_book: EngravedBook) -> list[Task]:
    """A task for a helper that is told of the book: its plans, where it is large and they are not kept."""
    store = CacheStore()
    missing = not all(
        _planned(engraved_book, instrument_book, store) for instrument_book in engraved_book.instrument_books
    )
    return [(make_plans, None)] if missing and len(engraved_book.engravings) >= _WORTH else []


def _planned(engraved_book: EngravedBook, instrument_book: InstrumentBook, store: CacheStore) -> bool:
    return store.has(memo_key("daily", _decided_by(engraved_book, instrument_book)))


def make_plans(engraved_book: EngravedBook, share: None, cache: Path) -> None:
    """The helper's work: the plans, to be found in the cache."""
    for instrument_book in engraved_book.instrument_books:
        _kept_plans(engraved_book, instrument_book, CacheStore(cache))


def daily_pages(engraved_book: EngravedBook) -> dict[str, Page]:
    """The pages of daily sets and of coverage, by their places in the site's sources."""
    pages: dict[str, Page] = {}
    peers = []
    store = CacheStore()
    for instrument_book in engraved_book.instrument_books:
        root = engraved_book.root(instrument_book.instrument)
        name = instrument_book.instrument.name
        plans = cache(partial(_kept_plans, engraved_book, instrument_book, store))
        daily = partial(_daily_view, name, root, plans)
        pages[f"{root}{DAILY}index.md"] = Page("daily.html", "Daily sets", daily)
        covered = partial(_coverage_view, name, root, plans)
        pages[f"{root}{COVERAGE}index.md"] = Page("coverage.html", "What the book practises", covered)
        peers.append(Peer(f"{root}{DAILY}", name))
    if len(peers) > 1:
        pages[f"{DAILY}index.md"] = Page("daily.html", "Daily sets", DailyView(others=tuple(peers)))
    return pages


def _daily_view(name: str, root: str, plans: Callable[[], dict[str, Any]]) -> DailyView:
    made = plans()
    return DailyView(
        instrument=name,
        minutes=tuple(made["minutes"]),
        usual=made["usual"],
        week=tuple(made["week"]),
        data=script_json(made["data"]),
        cautions=tuple(made["cautions"]),
        noise=noise_table(),
        coverage=f"{root}{COVERAGE}",
        problem=tuple(made["problem"]),
    )


def _coverage_view(name: str, root: str, plans: Callable[[], dict[str, Any]]) -> CoverageView:
    return CoverageView(name, plans()["coverage"], f"{root}{DAILY}")


def _kept_plans(
    engraved_book: EngravedBook, instrument_book: InstrumentBook, store: CacheStore
) -> dict[str, Any]:
    """What the pages of an instrument show; kept, so that an unchanged book is not planned again."""
    made = partial(
        _made, engraved_book, instrument_book, engraved_book.root(instrument_book.instrument), store
    )
    found: dict[str, Any] = memo_json(store, "daily", _decided_by(engraved_book, instrument_book), made)
    return found


def _decided_by(engraved_book: EngravedBook, instrument_book: InstrumentBook) -> Iterator[str]:
    """All that decides an instrument's plans."""
    yield from (engraved_book.root(instrument_book.instrument), repr(instrument_book.instrument))
    for exercise, pages in instrument_book.exercises:
        yield from _exercise_decided_by(engraved_book, exercise, pages)


def _exercise_decided_by(
    engraved_book: EngravedBook, exercise: Exercise, pages: tuple[KeyPage, ...]
) -> Iterator[str]:
    """All that decides what an exercise offers."""
    yield exercise_fingerprint(exercise)
    for page in pages:
        for placed in page.placed:
            for part in placed.parts:
                key = engraved_book.engravings.key(part.name) if part.score is not None else ""
                yield f"{part.name} {key}"


def _offered(pages: tuple[KeyPage, ...], instrument: Instrument) -> dict[str, Any]:
    """What an exercise offers to a day, and what its pieces practise."""
    counts = Counts(instrument)
    choices = []
    for each in measured_pages(pages):
        choices.append(astuple(each.choice))
        counts.add(each.notes)
    return {"choices": choices, "counts": counts.plain}


def _made(
    engraved_book: EngravedBook, instrument_book: InstrumentBook, root: str, store: CacheStore
) -> dict[str, Any]:
    choices: list[Choice] = []
    counts = Counts(instrument_book.instrument)
    for exercise, pages in instrument_book.exercises:
        instrument = instrument_book.instrument
        parts = repr(instrument), *_exercise_decided_by(engraved_book, exercise, pages)
        offered = memo_json(store, "offered", parts, partial(_offered, pages, instrument))
        choices += (Choice(*values) for values in offered["choices"])
        counts.join(offered["counts"])
    plans: dict[int, Plan] = {}
    problem: tuple[str, ...] = ()
    for minutes in LENGTHS:
        # Where the book is too small for several keys in each register, one is better than no plan.
        for keys in (2, 1):
            try:
                wish = Promise(minutes, DAYS, keys=keys, round=True)
                plans[minutes] = plan(wish, choices, register_order(instrument_book.instrument))
                break
            except NoPlan as none:
                problem = problem or (*none.reasons, *none.nearest)
    usual = min(plans, key=lambda minutes: abs(minutes - USUAL), default=USUAL)
    items: dict[str, int] = {}
    numbered = {
        str(minutes): [_numbered(day, items) for day in days(made)] for minutes, made in plans.items()
    }
    by_name = {choice.name: choice for choice in choices}
    return {
        "minutes": list(plans),
        "usual": usual,
        "week": [_day(day, root) for day in days(plans[usual])[:_WEEK]] if plans else [],
        "data": {
            "days": DAYS,
            "items": [
                [
                    _address(by_name[name], root),
                    _title(by_name[name]),
                    how(by_name[name]),
                    by_name[name].seconds,
                ]
                for name in items
            ],
            "plans": numbered,
        },
        "cautions": list(_cautions(plans)),
        "problem": [] if plans else list(problem),
        "coverage": _covered(engraved_book, instrument_book, counts.coverage, plans.get(usual), store),
    }


def _numbered(day: Day, items: dict[str, int]) -> dict[str, Any]:
    """A day for the script: its registers, each with the numbers of its items, -1 for a pause."""
    sets = []
    for group in day.sets:
        row = []
        for place, item in enumerate(group.items):
            row += [-1] if place in group.pauses else []
            row.append(items.setdefault(item.name, len(items)))
        sets.append([group.register, row])
    return {"seconds": day.seconds, "sets": sets}


def _day(day: Day, root: str) -> dict[str, Any]:
    """A day for the page as it stands."""
    return {
        "name": day.name,
        "time": clock_time(day.seconds),
        "sets": [
            {
                "register": group.register,
                "items": [
                    {
                        "address": _address(item, root),
                        "title": _title(item),
                        "how": how(item),
                        "time": clock_time(item.seconds),
                        "pause": place in group.pauses,
                    }
                    for place, item in enumerate(group.items)
                ],
            }
            for group in day.sets
        ],
    }


def _address(item: Choice, root: str) -> str:
    return f"{setting_address(root, item.exercise, item.key)}#{item.anchor}"


def _title(item: Choice) -> str:
    return f"{item.title}, {item.key_name}"


def _cautions(plans: dict[int, Plan]) -> Iterator[str]:
    """The cautions of every length, each once, those for all first."""
    said = {row for made in plans.values() for row in cautions(made)}
    yield from (row for row in (*GENERAL, LONG, LOUD) if row in said or row in GENERAL)


def _covered(
    engraved_book: EngravedBook,
    instrument_book: InstrumentBook,
    book: Coverage,
    made: Plan | None,
    store: CacheStore,
) -> dict[str, Any]:
    """The numbers of the page of coverage: of the book, and of the usual plan beside it."""
    played = [item.name for day in made.days for item in day] if made else []
    music = scores((instrument_book,))
    round_ = _coverage_of(played, music, engraved_book, instrument_book.instrument, store)
    return {
        "pieces": book.pieces,
        "time": duration_in_units(book.seconds),
        "minutes": made.problem.wish.minutes if made else 0,
        "days": made.problem.wish.days if made else 0,
        "plan_time": duration_in_units(round_.seconds),
        "holes": list(book.holes),
        "plan_holes": list(round_.holes) if made else [],
        "notes": _notes(book, round_),
        "steps": _steps(book, round_),
        "levels": _levels(book, round_),
        "names": list(LEVELS),
        "attacks": _attacks(book, round_),
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


def _notes(book: Coverage, plan_: Coverage) -> list[dict[str, Any]]:
    tallies = {row.pitch: row.tally for row in plan_.notes}
    most = max(row.tally.seconds for row in book.notes)
    plan_most = max(row.tally.seconds for row in plan_.notes)
    rows = []
    for row in book.notes:
        other = tallies.get(row.pitch)
        rows.append(
            {
                "name": row.pitch.spoken,
                "label": str(row.pitch) if row.pitch.name == "C" else "",
                "register": row.register,
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


def _steps(book: Coverage, plan_: Coverage) -> list[dict[str, Any]]:
    # Repeated notes stand apart: they are so many that no other bar could be seen beside theirs.
    most = max(max(row.up.count, row.down.count) for row in book.steps[1:])
    return [
        {
            "name": row.name,
            "up": row.up.count,
            "down": row.down.count,
            "up_share": _share(row.up.count, most),
            "down_share": _share(row.down.count, most),
            "plan_up": other.up.count,
            "plan_down": other.down.count,
        }
        for row, other in zip(book.steps, plan_.steps, strict=True)
    ]


def _levels(book: Coverage, plan_: Coverage) -> list[dict[str, Any]]:
    most = max((seconds for row in book.levels for seconds in row.seconds), default=0)
    return [
        {
            "register": row.register,
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


def _attacks(book: Coverage, plan_: Coverage) -> list[dict[str, Any]]:
    most = max(row.tally.count for row in book.attacks)
    return [
        {
            "name": row.name,
            "count": row.tally.count,
            "time": duration_in_units(row.tally.seconds),
            "share": _share(row.tally.count, most),
            "plan_count": other.tally.count,
            "plan_time": duration_in_units(other.tally.seconds),
        }
        for row, other in zip(book.attacks, plan_.attacks, strict=True)
    ]
