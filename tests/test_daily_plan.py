"""The planner against every plan there is on small books, and its rules on books made by chance."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations, pairwise
from random import Random

import pytest
from conftest import examples
from hypothesis import given
from hypothesis import strategies as st

from stavewright.daily.blocks import MOST_KEYS, Block, blocks_of
from stavewright.daily.choices import Choice, rest_after
from stavewright.daily.cp_sat import exact_days
from stavewright.daily.plan import (
    Days,
    NoPlan,
    Plan,
    Problem,
    Promise,
    objective,
    pauses,
    sitting_seconds,
    whole_seconds,
)
from stavewright.daily.planner import plan, quality_remark, remarks
from stavewright.daily.rules import problem_of, simple_bound, violations
from stavewright.daily.sets import block_how, block_keys, block_title, plan_json
from stavewright.daily.simple import _Draft, _facts, simple_days

REGISTERS = ("middle", "low", "high")
KEYS = ("c", "d-flat", "d", "e-flat", "e", "f", "f-sharp", "g", "a-flat", "a", "b-flat", "b")


def exercise(
    slug: str,
    registers: Sequence[str],
    seconds: int = 16,
    ways: Sequence[str] = ("slurred",),
    by_pitch: bool = True,
    grade: int = 1,
    width: int = 15,
    drone: bool = False,
) -> tuple[Choice, ...]:
    """An exercise with a setting in each of these registers, in the order of travel."""
    return tuple(
        Choice(
            name=f"{slug}, {number}, {way}",
            exercise=slug,
            title=slug.title(),
            key=KEYS[number % 12],
            key_name=f"{KEYS[number % 12].upper()} major",
            anchor=f"{number}",
            start=f"N{number}",
            direction="falling" if by_pitch else "",
            variation=way,
            register=register,
            seconds=seconds,
            rest=rest_after(seconds),
            number=number,
            height=80 - number,
            by_pitch=by_pitch,
            grade=grade,
            width=width,
            drone=drone,
            tongued="tonguing" in way,
        )
        for number, register in enumerate(registers)
        for way in ("as written", *ways)
    )


def big_book() -> tuple[Choice, ...]:
    """A cell through three registers and back, a phrase, wide intervals, and a melody over a drone."""
    down = ["high"] * 5 + ["middle"] * 10 + ["low"] * 9
    return (
        *exercise("cell", down, 16, ("slurred", "swell up", "tonguing double")),
        *exercise("phrase", ["middle", "low"] * 6, 27, ("slurred", "swell up"), by_pitch=False, grade=2),
        *exercise("leaps", ["low"] * 6 + ["middle"] * 6, 45, ("detached",), by_pitch=False, width=70),
        *exercise("song", ["middle"] * 12, 48, ("singing",), by_pitch=False, drone=True),
    )


def blocks_by_exercise(day: Sequence[Sequence[Block]]) -> Iterator[tuple[str, list[Block]]]:
    for sitting in day:
        for name in dict.fromkeys(block.exercise for block in sitting):
            yield name, [block for block in sitting if block.exercise == name]


# -- blocks -------------------------------------------------------------------------------------------


def test_a_block_is_a_run_of_neighbours_as_written_and_then_in_one_way() -> None:
    blocks = blocks_of(exercise("cell", ["middle"] * 7), (), REGISTERS, 200, 900)
    slurred = [block for block in blocks if block.way == "slurred"]
    # Seven keys of 2 x (16 + 9) seconds: four fill 200 seconds, so 4 and 3.
    assert [block.portion.settings for block in slurred] == [(0, 1, 2, 3), (4, 5, 6)]
    assert [(item.number, item.variation) for item in slurred[1].items] == [
        (4, "as written"),
        (5, "as written"),
        (6, "as written"),
        (4, "slurred"),
        (5, "slurred"),
        (6, "slurred"),
    ]
    assert [block.seconds for block in slurred] == [200, 150]
    assert block_how(slurred[0]) == "as written, then slurred"
    assert block_title(slurred[0]) == "Cell, middle register"
    assert block_keys(slurred[0]) == "from N0, N1, N2 and N3, going down"


def test_a_block_stays_in_its_register_where_that_has_enough_keys() -> None:
    blocks = blocks_of(exercise("cell", ["high"] + ["middle"] * 6 + ["low"] * 4), (), REGISTERS, 200, 900)
    runs = {block.portion.settings: block.portion.register for block in blocks}
    # A single high key stays with its neighbours.
    assert runs == {(0, 1, 2, 3): "middle", (4, 5, 6): "middle", (7, 8, 9, 10): "low"}


def test_keys_that_go_by_fifths_are_not_divided_by_register() -> None:
    blocks = blocks_of(exercise("song", ["middle", "low"] * 6, by_pitch=False), (), REGISTERS, 150, 900)
    assert {block.portion.settings for block in blocks} == {(0, 1, 2), (3, 4, 5), (6, 7, 8), (9, 10, 11)}
    assert block_keys(blocks[0]) == "in C major, D-FLAT major and D major"


def test_a_key_in_which_a_way_is_left_out_is_played_as_written_only() -> None:
    book = [item for item in exercise("cell", ["low"] * 8) if (item.number, item.variation) != (5, "slurred")]
    blocks = blocks_of(book, (), REGISTERS, 200, 900)
    block = next(block for block in blocks if block.way == "slurred" and 5 in block.portion.settings)
    assert [item.number for item in block.items] == [4, 5, 6, 7, 4, 6, 7]
    # Without a first pass as written the key would not come at all.
    assert 5 not in [
        number
        for block in blocks_of(book, (), REGISTERS, 60, 100)
        if block.way == "slurred" and not block.plain_first
        for number in block.portion.settings
    ]


@given(st.integers(1, 40), st.integers(5, 120), st.integers(60, 600))
def test_portions_are_even_and_hold_every_key(count: int, seconds: int, share: int) -> None:
    blocks = blocks_of(exercise("cell", ["low"] * count, seconds), (), REGISTERS, share, 4000)
    runs = list(dict.fromkeys(block.portion.settings for block in blocks))
    assert [number for run in runs for number in run] == list(range(count))
    assert max(map(len, runs)) - min(map(len, runs)) <= 1
    assert max(map(len, runs)) <= MOST_KEYS


# -- small books, against every plan there is -----------------------------------------------------------


def every_day(asked: Problem) -> Iterator[tuple[Block, ...]]:
    """Every day of one sitting that keeps the rules of a day."""
    lonely = replace(asked, wish=replace(asked.wish, days=1, round=False, complete=False))
    for count in range(1, asked.most + 1):
        for day in combinations(asked.blocks, count):
            ordered = asked.ordered(day)
            if not violations(lonely, ((ordered,),)):
                yield ordered


def brute_force(asked: Problem) -> int | None:
    """The worth of the best of all plans, tried one by one; None where there is none."""
    every = list(every_day(asked))
    best: int | None = None

    def go(days: Days) -> None:
        nonlocal best
        if len(days) == asked.wish.days:
            if not violations(asked, days):
                best = max(objective(asked, days).total, best or 0)
            return
        for day in every:
            go((*days, (day,)))

    go(())
    return best


small_books = st.lists(
    st.builds(
        exercise,
        st.sampled_from(("cell", "gate")),
        st.sampled_from((("low",), ("middle",), ("middle", "low"), ("middle", "middle", "low"))),
        st.sampled_from((10, 16, 31)),
        st.sampled_from(((), ("slurred",), ("tonguing",))),
        st.booleans(),
        st.integers(1, 3),
        st.sampled_from((10, 60)),
    ),
    min_size=1,
    max_size=2,
    unique_by=lambda items: items[0].exercise,
).map(lambda parts: [item for part in parts for item in part])
small_wishes = st.builds(
    Promise,
    minutes=st.integers(1, 3),
    days=st.integers(1, 2),
    seed=st.integers(0, 3),
    round=st.booleans(),
    complete=st.booleans(),
)


@examples(25)
@given(small_books, small_wishes)
def test_the_exact_method_finds_the_best_of_all_plans(book: list[Choice], wish: Promise) -> None:
    try:
        asked = problem_of(wish, book, REGISTERS)
    except NoPlan:
        return
    best = brute_force(asked)
    solved = exact_days(asked)
    if best is None:
        assert solved.impossible
    else:
        assert solved.days is not None
        assert violations(asked, solved.days) == ()
        assert objective(asked, solved.days).total == best == solved.bound


@examples(25)
@given(small_books, small_wishes)
def test_the_simple_method_never_claims_more_than_there_is(book: list[Choice], wish: Promise) -> None:
    try:
        asked = problem_of(wish, book, REGISTERS)
    except NoPlan:
        return
    best = brute_force(asked)
    days, faults = simple_days(asked)
    assert faults == violations(asked, days)
    if best is None:
        assert faults
        return
    assert best <= simple_bound(asked)
    if not faults:
        assert objective(asked, days).total <= best


# -- every rule, on a book as books are --------------------------------------------------------------------


def assert_rules(made: Plan) -> None:
    """The rules at the head of stavewright.daily.plan, each looked at by itself."""
    wish = made.problem.wish
    assert len(made.days) == wish.days
    for day in made.days:
        assert len(day) == pauses(wish.minutes) + 1
        total = sum(map(whole_seconds, day)) + 300 * (len(day) - 1)
        assert total <= 60 * wish.minutes
        assert all(whole_seconds(sitting) <= 25 * 60 for sitting in day)
        assert day[0]
        assert all(len(sitting) <= 4 for sitting in day)
        settings_played = [(block.exercise, item.number) for s in day for block in s for item in block.keys]
        assert len(settings_played) == len(set(settings_played))
        for name, blocks in blocks_by_exercise(day):
            assert len({block.way for block in blocks}) == 1, name
            if len(blocks) > 1:
                assert blocks[0].items[0].by_pitch
                assert len({block.portion.register for block in blocks}) == len(blocks)
        assert not any(block.tongued for sitting in day[:-1] for block in sitting)
        for sitting in day:
            tongued = [block.tongued for block in sitting]
            assert sum(tongued) <= 1
            # Tone before tongue.
            assert tongued == sorted(tongued)
            for block in sitting:
                varied = [item.variation != "as written" for item in block.items]
                assert varied == sorted(varied)
                for way in {item.variation for item in block.items}:
                    numbers = [item.number for item in block.items if item.variation == way]
                    assert numbers == sorted(numbers)
                    assert numbers == list(range(numbers[0], numbers[0] + len(numbers)))
            exercises = [block.exercise for block in sitting if not block.tongued]
            assert len(dict.fromkeys(exercises)) == sum(
                one != other for one, other in pairwise([None, *exercises])
            )
            # Narrow before wide, a melody over a drone after that; the opening exercise stands first.
            others = [b for b in sitting[1:] if b.exercise != sitting[0].exercise and not b.tongued]
            order = [(b.items[0].drone, b.items[0].width) for b in others]
            assert order == sorted(order)
    pairs = [*pairwise(range(wish.days)), *([(wish.days - 1, 0)] if wish.round and wish.days > 2 else [])]
    for one, other in pairs:
        first, second = (
            {(block.exercise, item.number) for s in made.days[day] for block in s for item in block.keys}
            for day in (one, other)
        )
        assert not first & second
    works = [{block.work for sitting in day for block in sitting} for day in made.days]
    for start in range(wish.days - 3):
        assert not set.intersection(*works[start : start + 4])


wishes = st.builds(
    Promise,
    minutes=st.integers(2, 90),
    days=st.integers(1, 15),
    seed=st.integers(),
    round=st.booleans(),
)


@examples(25)
@given(wishes)
def test_a_plan_keeps_every_rule(wish: Promise) -> None:
    made = plan(wish, big_book(), REGISTERS, tries=1)
    assert_rules(made)
    # The first block is easy, narrow and in the middle register, and is played as written first.
    for day in made.days:
        first = day[0][0]
        assert first.portion.register == "middle"
        assert first.items[0].variation == "as written"
        assert first.exercise in ("cell", "phrase")
        # The cell goes down through the middle register from 75 to 66, and not from its upper third.
        assert first.exercise == "phrase" or all(66 <= item.height <= 72 for item in first.items)
    assert made.worth == objective(made.problem, made.days).total <= made.bound
    assert remarks(made)


def test_elements_are_carried_on_and_one_moves() -> None:
    made = plan(Promise(15, 10), big_book(), REGISTERS)
    works = [{block.work for sitting in day for block in sitting} for day in made.days]
    carried = [bool(one & other) for one, other in pairwise(works)]
    assert sum(carried) >= 6
    assert sum(bool(other - one) for one, other in pairwise(works)) >= 7


@examples(10)
@given(st.integers(0, 10**6))
def test_equal_seeds_give_equal_plans(seed: int) -> None:
    wish = Promise(12, 5, seed=seed)
    one = plan(wish, big_book(), REGISTERS, tries=1)
    assert one == plan(wish, big_book()[::-1], REGISTERS, tries=1)


def test_another_seed_gives_another_plan() -> None:
    plans = {plan(Promise(12, 7, seed=seed), big_book(), REGISTERS, tries=1).days for seed in range(4)}
    assert len(plans) == 4


def test_the_exact_method_is_no_worse_and_tells_its_gap() -> None:
    wish = Promise(4, 2)
    book = exercise("cell", ["middle"] * 6 + ["low"] * 4, ways=("slurred", "swell up"))
    simple = plan(wish, book, REGISTERS)
    exact = plan(wish, book, REGISTERS, exact=True)
    assert simple.worth <= exact.worth <= exact.bound <= simple.bound
    assert exact.gap == pytest.approx(1 - exact.worth / exact.bound)
    assert exact.proved == (exact.worth == exact.bound)
    assert ("No plan has more" in quality_remark(exact)) == exact.proved


# -- what a teacher fixes ------------------------------------------------------------------------------------


def test_an_opening_and_other_exercises_can_be_fixed() -> None:
    wish = Promise(20, 6, opening="phrase", always=("song",), each_day=("detached", "singing"))
    made = plan(wish, big_book(), REGISTERS)
    assert_rules(made)
    for day in made.days:
        blocks = [block for sitting in day for block in sitting]
        assert blocks[0].exercise == "phrase"
        assert "song" in {block.exercise for block in blocks}
        assert {"detached", "singing"} & {block.way for block in blocks}


def test_chosen_ways_are_the_only_ones() -> None:
    made = plan(Promise(12, 5, ways=("slurred",)), big_book(), REGISTERS)
    assert {block.way for block in made.blocks} == {"slurred"}
    assert {item.variation for block in made.blocks for item in block.items} == {"as written", "slurred"}


def test_more_and_less_of_an_exercise() -> None:
    def share(**fixed: tuple[str, ...]) -> int:
        made = plan(Promise(8, 10, **fixed), big_book(), REGISTERS)  # type: ignore[arg-type]
        return Counter(block.exercise for block in made.blocks)["leaps"]

    assert share(more=("leaps",)) > share() >= share(less=("leaps",))


def test_every_key_can_be_promised() -> None:
    book = exercise("cell", ["middle"] * 8 + ["low"] * 4)
    made = plan(Promise(6, 4, complete=True), book, REGISTERS)
    assert {item.number for block in made.blocks for item in block.items} == set(range(12))
    assert remarks(made)[0] == "Every exercise comes in every key and register within 4 days."


def test_a_promise_of_every_key_in_too_few_days_names_the_nearest() -> None:
    with pytest.raises(NoPlan) as none:
        plan(Promise(5, 2, complete=True), big_book(), REGISTERS)
    assert any("are missing" in reason for reason in none.value.reasons)
    days = next(row for row in none.value.nearest if row.startswith("5 minutes a day for "))
    again = Promise(5, int(days.split()[5]), complete=True)
    assert not simple_days(problem_of(again, big_book(), REGISTERS), tries=1)[1]
    assert "It works without the promise that every key comes." in none.value.nearest


def test_a_fixed_part_that_does_not_fit_is_said() -> None:
    with pytest.raises(NoPlan, match="song is fixed for each day, and no part of it can be played in 1 min"):
        plan(Promise(1, 2, always=("song",)), big_book(), REGISTERS)
    with pytest.raises(NoPlan, match="3 exercises are fixed for each day, and 3 minutes hold 2 blocks"):
        plan(Promise(3, 2, always=("song", "leaps", "phrase")), big_book(), REGISTERS)
    with pytest.raises(NoPlan, match="No part of an exercise with singing can be played in 1 minute"):
        plan(Promise(1, 2, each_day=("singing",)), big_book(), REGISTERS)


def test_a_fixed_part_that_cannot_come_each_day_names_the_nearest() -> None:
    # Two exercises of more than half the time each.
    with pytest.raises(NoPlan) as none:
        plan(Promise(2, 2, opening="leaps", always=("song",)), big_book(), REGISTERS)
    assert "Day 1 lacks song." in none.value.reasons
    assert "It works where song is not fixed for each day." in none.value.nearest


def test_an_empty_book_is_said_plainly() -> None:
    with pytest.raises(NoPlan, match="no exercise that a player of this ability can play"):
        plan(Promise(15, 14), (), REGISTERS)


def test_nothing_short_enough_is_said_plainly() -> None:
    with pytest.raises(NoPlan, match="Nothing in the book is short enough for 1 minute") as none:
        plan(Promise(1, 2), exercise("tide", ["low"], 90), REGISTERS)
    assert none.value.nearest == ("The shortest takes 2 minutes, with the rest after it.",)


def test_a_book_of_one_piece_comes_every_day() -> None:
    made = plan(Promise(5, 3), exercise("tide", ["low"], ways=()), REGISTERS)
    assert [[block.exercise for sitting in day for block in sitting] for day in made.days] == [["tide"]] * 3


@pytest.mark.parametrize("wish", [Promise(0, 1), Promise(15, 0), Promise(999, 1)])
def test_a_wish_outside_its_bounds_is_refused(wish: Promise) -> None:
    with pytest.raises(ValueError, match="outside"):
        plan(wish, big_book(), REGISTERS)


@pytest.mark.parametrize(("minutes", "count"), [(1, 0), (25, 0), (26, 1), (55, 1), (56, 2), (85, 2)])
def test_pauses(minutes: int, count: int) -> None:
    assert pauses(minutes) == count
    # No stretch of playing between pauses is longer than 25 minutes.
    assert sitting_seconds(minutes) <= 25 * 60


def test_the_plan_as_json_values() -> None:
    made = plan(Promise(8, 2), big_book(), REGISTERS)
    found = plan_json(made)
    assert found["minutes"] == 8
    assert [day["date"] for day in found["days"]] == [None, None]
    for day, of_plan in zip(found["days"], made.days, strict=True):
        assert day["seconds"] == whole_seconds(of_plan[0])
        assert [block["variation"] for block in day["blocks"]] == [block.way for block in of_plan[0]]
        for block in day["blocks"]:
            assert block["seconds"] == sum(piece["seconds"] + piece["rest"] for piece in block["pieces"])
            assert len(block["keys"]) == len(block["starts"])
            assert block["as_written_first"] == (
                len(block["pieces"]) == 2 * len(block["keys"]) and block["variation"] != "as written"
            )


@pytest.mark.parametrize("minutes", [12, 30, 60])
def test_the_simple_method_reckons_as_the_rules_and_the_worth_do(minutes: int) -> None:
    """It looks at what is beside a place once for all blocks, and adds points up one by one."""
    task = problem_of(Promise(minutes, 7, round=True), big_book(), REGISTERS)
    draft = _Draft(task, tuple(_facts(task)), Random(1), True)
    draft.fill()
    fitting = 0
    for place, sitting in enumerate(draft.sittings):
        if not sitting:
            continue
        block = sitting[-1]
        draft.remove(block, place)
        gap = draft.gap(place)
        worth, faults = objective(task, draft.days()).total, set(violations(task, draft.days()))
        for other in draft.facts:
            draft.sittings[place].append(other)
            days = draft.days()
            draft.sittings[place].remove(other)
            assert gap.takes(other) == (set(violations(task, days)) <= faults)
            if gap.takes(other):
                fitting += 1
                points = draft.alone[other.number] - draft.chance[other.number] + gap.points(other)
                assert round(points) == objective(task, days).total - worth
        assert gap.takes(block)
        draft.add(block, place)
    assert fitting > len(draft.sittings)
