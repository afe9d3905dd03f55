"""What the pages of daily sets show, for one instrument's book, and the plans behind them.

The plans are made here, for many lengths of a set, and stand beside the page as data (`SETS`); its scripts
only turn to today's. A plan is a round of DAYS days: after its last day the first follows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import astuple, dataclass
from functools import cache, partial
from pathlib import Path
from typing import Any

from ..book.addresses import COVERAGE, DAILY, SiteFile, setting_address
from ..book.pieces import InstrumentBook, KeyPage
from ..cache.memo import memo_json, memo_key
from ..cache.store import CacheStore
from ..daily.cautions import GENERAL, LONG, LOUD, cautions, noise_table
from ..daily.choices import Choice, measured_pages
from ..daily.coverage import Counts
from ..daily.measure import register_order
from ..daily.plan import NoPlan, Plan, Promise
from ..daily.planner import plan
from ..daily.sets import PAUSE, Day, block_how, block_keys, block_title, clock_time, days
from ..engrave.engraved_book import EngravedBook
from ..jobs.pool import Task
from ..music.exercise import Exercise, exercise_fingerprint
from ..music.winds.instruments import Instrument
from ..translation.catalog import Translation
from ..translation.said import Said, player, term
from .coverage_page import CoverageView, covered
from .daily_data import daily_data
from .page import Page, script_json

LEAST_MINUTES = 3
MOST_MINUTES = 90
"""What a player may ask for on the page."""

LENGTHS = (*range(LEAST_MINUTES, 21), 22, 25, 30, 35, 40, 45, 60, 75, MOST_MINUTES)
FEWER_LENGTHS = (3, 5, 7, 10, 12, 15, 20, 25, 30, 45, 60, MOST_MINUTES)
"""Minutes a day that are planned; fewer in a book with more than MANY pieces.

The page takes the longest that is not above what is asked. All plans of the demo book with its
574 pieces take 1.7 s, of a book with 6000 pieces 3.5 s (measured on 2026-11-28).
"""

MANY = 8000
USUAL = 15
DAYS = 14
SETS = "sets.js"
"""The data's file, beside the page."""

_WEEK = 7


@dataclass(frozen=True, slots=True)
class Peer:
    """An instrument's own page of daily sets."""

    address: str
    words: str


@dataclass(frozen=True, slots=True)
class DailyView:
    """The page of daily sets.

    `sets` is the address of its data, empty where there is no plan; `week` has the days that are shown
    without a script. `problem` says why there is no plan. `others` leads to the pages of the
    instruments, where this one is for the whole book.
    """

    instrument: str = ""
    least: int = LEAST_MINUTES
    most: int = MOST_MINUTES
    usual: int = USUAL
    sets: str = ""
    week: tuple[dict[str, Any], ...] = ()
    pause: Said = PAUSE
    cautions: tuple[str, ...] = ()
    noise: tuple[tuple[int, str], ...] = ()
    coverage: str = ""
    problem: tuple[str, ...] = ()
    others: tuple[Peer, ...] = ()


_WORTH = 300
"""Pieces of a book whose plans are worth a helper: about a second's work."""


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
        pages[f"{root}{DAILY}index.md"] = Page("daily.html", term("Daily sets"), daily)
        coverage = partial(_coverage_view, instrument_book.instrument, root, plans)
        pages[f"{root}{COVERAGE}index.md"] = Page("coverage.html", term("What the book practises"), coverage)
        peers.append(Peer(f"{root}{DAILY}", term(name)))
    if len(peers) > 1:
        pages[f"{DAILY}index.md"] = Page("daily.html", term("Daily sets"), DailyView(others=tuple(peers)))
    return pages


def sets_files(engraved_book: EngravedBook) -> Iterator[SiteFile]:
    """The data of every instrument's daily sets; empty data where the book has no plan."""
    store = CacheStore()
    for instrument_book in engraved_book.instrument_books:
        made = _kept_plans(engraved_book, instrument_book, store)
        address = f"{engraved_book.root(instrument_book.instrument)}{DAILY}{SETS}"
        yield SiteFile(address, f"window.stavewrightDailySets = {script_json(made['data'])};\n".encode())


def _daily_view(name: str, root: str, plans: Callable[[], dict[str, Any]]) -> DailyView:
    made = plans()
    return DailyView(
        instrument=term(name),
        usual=made["usual"],
        sets=f"{root}{DAILY}{SETS}" if made["week"] else "",
        week=tuple(made["week"]),
        cautions=tuple(made["cautions"]),
        noise=noise_table(),
        coverage=f"{root}{COVERAGE}",
        problem=tuple(made["problem"]),
    )


def _coverage_view(instrument: Instrument, root: str, plans: Callable[[], dict[str, Any]]) -> CoverageView:
    return CoverageView(
        term(instrument.name),
        player(instrument.name, instrument.name.lower()),
        plans()["coverage"],
        f"{root}{DAILY}",
    )


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
    yield engraved_book.book.language
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
    plans, problem = _plans(choices, register_order(instrument_book.instrument))
    translation = engraved_book.book.translation
    usual = min(plans, key=lambda minutes: abs(minutes - USUAL), default=USUAL)
    return {
        "usual": usual,
        "week": [_day(day, root, translation) for day in days(plans[usual])[:_WEEK]] if plans else [],
        "data": _data(plans, choices, root, translation) if plans else None,
        "cautions": list(map(translation.say, _cautions(plans))),
        "problem": list(map(translation.say, problem)),
        "coverage": covered(engraved_book, instrument_book, counts.coverage, plans.get(usual), store),
    }


def _data(
    plans: dict[int, Plan], choices: Sequence[Choice], root: str, translation: Translation
) -> dict[str, Any]:
    asked = {
        "least": LEAST_MINUTES,
        "most": MOST_MINUTES,
        "usual": USUAL,
        "pauseWords": translation.say(PAUSE),
    }
    return asked | daily_data(plans, choices, root, translation)


def _plans(choices: Sequence[Choice], registers: Sequence[str]) -> tuple[dict[int, Plan], tuple[str, ...]]:
    """The plans by their minutes; if there is none, why."""
    plans: dict[int, Plan] = {}
    for minutes in LENGTHS if len(choices) <= MANY else FEWER_LENGTHS:
        # A book may be too small for a long set, and its pieces too long for a short one.
        with suppress(NoPlan):
            wish = Promise(minutes, DAYS, round=True)
            plans[minutes] = plan(wish, choices, registers, quick=True)
    if plans:
        return plans, ()
    try:
        return {USUAL: plan(Promise(USUAL, DAYS, round=True), choices, registers)}, ()
    except NoPlan as none:
        return {}, (*none.reasons, *none.nearest)


def _day(day: Day, root: str, translation: Translation) -> dict[str, Any]:
    """A day for the page as it stands."""
    return {
        "name": translation.say(day.name),
        "time": clock_time(day.seconds),
        "sittings": [
            [
                {
                    "address": _address(block.items[0], root),
                    "title": translation.say(block_title(block)),
                    "over": translation.say(block_keys(block)),
                    "how": translation.say(block_how(block)),
                    "time": clock_time(block.seconds),
                }
                for block in sitting
            ]
            for sitting in day.sittings
        ],
    }


def _address(item: Choice, root: str) -> str:
    return f"{setting_address(root, item.exercise, item.key)}#{item.anchor}"


def _cautions(plans: dict[int, Plan]) -> Iterator[str]:
    """The cautions of every length, each once, those for all first."""
    said = {row for made in plans.values() for row in cautions(made)}
    yield from (row for row in (*GENERAL, LONG, LOUD) if row in said or row in GENERAL)
