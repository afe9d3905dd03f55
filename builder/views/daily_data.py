"""The plans of daily sets as data for the scripts of the site, small enough for a phone.

The data is JSON. `exercises` are rows [title, slug, by pitch, ways, settings]; a way is [name, the end of its
pieces' addresses, seconds of one piece with the rest after it, settings that it leaves out ...], the first as
written; a setting is [key page, key name, address on it, first note, direction]. `blocks` are rows
[exercise, first setting, number of settings, way, as written first, register, seconds]; the register is -1
where the exercise goes by key. A plan is for each of its days a list of sittings, each a list of blocks by
their numbers. Numbers count from 0.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from statistics import median
from typing import Any

from ..book.addresses import piece_anchor
from ..book.pieces import AS_WRITTEN
from ..daily.blocks import Block
from ..daily.choices import Choice
from ..daily.plan import BETWEEN, PAUSE_MINUTES, Plan
from ..daily.sets import days, way_words
from ..music.exercise import DIRECTION_TEXT
from ..translation.catalog import TO_ENGLISH, Translation
from .page_views import key_signs


def daily_data(
    plans: Mapping[int, Plan], choices: Sequence[Choice], root: str, translation: Translation = TO_ENGLISH
) -> dict[str, Any]:
    """The data of an instrument's plans, by their minutes; `choices` are all that its book offers."""
    offered = [choice for choice in choices if choice.register]
    exercises = {slug: _Exercise(offered, slug) for slug in dict.fromkeys(item.exercise for item in offered)}
    numbers = {slug: number for number, slug in enumerate(exercises)}
    registers = next((plan.problem.registers for plan in plans.values()), ())
    blocks: dict[tuple[Any, ...], int] = {}

    def number(block: Block) -> int:
        row = exercises[block.exercise].row(block)
        register = registers.index(block.portion.register) if block.items[0].by_pitch else -1
        return blocks.setdefault((numbers[block.exercise], *row, register, block.seconds), len(blocks))

    numbered = {
        str(minutes): [
            [[number(block) for block in sitting] for sitting in day.sittings] for day in days(plan)
        ]
        for minutes, plan in plans.items()
    }
    keys = {item.key for item in offered}
    return {
        "root": root,
        "between": BETWEEN,
        "pause": PAUSE_MINUTES * 60,
        "directions": {name: translation.say(words) for name, words in DIRECTION_TEXT.items() if name},
        "registers": [translation.gettext(register) for register in registers],
        "keys": {key: sign for key, sign in key_signs(translation).items() if key in keys},
        "exercises": [exercise.plain(translation) for exercise in exercises.values()],
        "blocks": [list(row) for row in blocks],
        "plans": numbered,
    }


class _Exercise:
    """An exercise's settings in the order of travel, and its ways."""

    def __init__(self, offered: Sequence[Choice], slug: str) -> None:
        inside = [item for item in offered if item.exercise == slug]
        plain = sorted(
            (item for item in inside if item.variation == AS_WRITTEN), key=lambda item: item.number
        )
        self.first = plain[0] if plain else inside[0]
        self.settings = plain
        self.places = {item.number: place for place, item in enumerate(plain)}
        self.ways = list(dict.fromkeys((AS_WRITTEN, *(item.variation for item in inside))))
        self.pieces = {way: [item for item in inside if item.variation == way] for way in self.ways}

    def row(self, block: Block) -> tuple[int, int, int, int]:
        """A block's first setting, how many, its way, and 1 if it is played as written first."""
        settings = block.portion.settings
        return (
            self.places[settings[0]],
            len(settings),
            self.ways.index(block.way),
            int(block.plain_first),
        )

    def plain(self, translation: Translation) -> list[Any]:
        """The exercise as JSON values, its words in a language."""
        settings = [
            [
                item.key,
                translation.key(item.key_name),
                item.anchor,
                translation.note(item.start),
                item.direction,
            ]
            for item in self.settings
        ]
        return [
            self.first.title,
            self.first.exercise,
            int(self.first.by_pitch),
            [self._way(way, translation) for way in self.ways],
            settings,
        ]

    def _way(self, way: str, translation: Translation) -> list[Any]:
        pieces = self.pieces[way]
        there = {item.number for item in pieces}
        missing = [place for number, place in self.places.items() if number not in there]
        seconds = round(median(item.whole for item in pieces)) if pieces else 0
        return [translation.say(way_words(way)), piece_anchor("", way), seconds, *missing]
