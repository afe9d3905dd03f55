"""The planner against every plan there is on small books, and its laws on books made by chance."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations, groupby

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stavewright.daily.choices import Choice, rest_after
from stavewright.daily.cp_sat import exact_days
from stavewright.daily.greedy import simple_days
from stavewright.daily.plan import (
    Days,
    NoPlan,
    Problem,
    Promise,
    needed_seconds,
    objective,
    pauses,
    pauses_in,
    problem_of,
    simple_bound,
    violations,
)
from stavewright.daily.planner import plan, remarks

REGISTERS = ("middle", "low", "high")


def choice(
    exercise: str, key: str, register: str, seconds: int, variation: str = "as written", difficulty: int = 0
) -> Choice:
    return Choice(
        name=f"{exercise}, {key}, {register}, {variation}",
        exercise=exercise,
        title=exercise.title(),
        key=key,
        key_name=f"{key.upper()} major",
        anchor=f"{key}-4",
        start=f"{key.upper()}4",
        direction="",
        variation=variation,
        register=register,
        seconds=seconds,
        rest=rest_after(seconds),
        difficulty=difficulty or seconds,
    )


def assert_order(day: Sequence[Choice]) -> None:
    """Registers, tone before tongue, easier exercises first, plain before varied, keys by travel."""
    for register in REGISTERS:
        inside = [item for item in day if item.register == register]
        assert [item.tongued for item in inside] == sorted(item.tongued for item in inside)
        for tongued in (False, True):
            part = [item for item in inside if item.tongued == tongued]
            runs = [list(run) for _, run in groupby(part, key=lambda item: item.exercise)]
            assert len(runs) == len({item.exercise for item in part})
            easiest = [min(item.difficulty for item in run) for run in runs]
            assert easiest == sorted(easiest)
            for run in runs:
                assert [item.variation != "as written" for item in run] == sorted(
                    item.variation != "as written" for item in run
                )
                for _, alike in groupby(run, key=lambda item: item.variation):
                    numbers = [item.number for item in alike]
                    assert numbers == sorted(numbers)
    assert [item.register for item in day] == sorted((item.register for item in day), key=REGISTERS.index)


def test_a_day_goes_from_tone_to_tongue_and_from_plain_to_varied() -> None:
    items = [
        replace(choice("stair", "d", "middle", 9, "tonguing double", 5), tongued=True, number=1),
        replace(choice("stair", "c", "middle", 9, "slurred", 3), number=2),
        replace(choice("stair", "e", "middle", 9, difficulty=4), number=3),
        replace(choice("stair", "d", "middle", 9, difficulty=4), number=1),
        choice("bell", "g", "middle", 9, difficulty=8),
        choice("bell", "g", "low", 9, difficulty=1),
    ]
    asked = problem_of(Promise(5, 1, keys=1), items, REGISTERS)
    found = asked.ordered(items)
    assert_order(found)
    assert [(item.exercise, item.key, item.variation) for item in found] == [
        ("stair", "d", "as written"),
        ("stair", "e", "as written"),
        ("stair", "c", "slurred"),
        ("bell", "g", "as written"),
        ("stair", "d", "tonguing double"),
        ("bell", "g", "as written"),
    ]


def every_day(asked: Problem) -> Iterator[tuple[Choice, ...]]:
    """Every set of choices that one day may hold by itself."""
    for count in range(len(asked.choices) + 1):
        for day in combinations(asked.choices, count):
            topics = {item.topic for item in day}
            if len(topics) < len(day) or sum(item.whole for item in day) > asked.budget:
                continue
            keys = {r: len({item.key for item in day if item.register == r}) for r in asked.registers}
            if all(keys[register] >= least for register, least in asked.least.items()):
                yield day


def brute_force(asked: Problem) -> int | None:
    """The worth of the best of all plans, tried one by one; None where there is none."""
    days = list(every_day(asked))
    topics = [{item.topic for item in day} for day in days]
    best: int | None = None

    def go(chosen: list[int]) -> None:
        nonlocal best
        if len(chosen) == asked.wish.days:
            if asked.wish.round and len(chosen) > 1 and topics[chosen[0]] & topics[chosen[-1]]:
                return
            plan = [days[number] for number in chosen]
            items = [item for day in plan for item in day]
            if (
                {item.key for item in items} == set(asked.keys)
                and {item.register for item in items} == set(asked.registers)
                and {item.variation for item in items} == set(asked.variations)
            ):
                best = max(objective(plan), best or 0)
            return
        for number in range(len(days)):
            if not chosen or not topics[chosen[-1]] & topics[number]:
                go([*chosen, number])

    go([])
    return best


small_books = st.lists(
    st.builds(
        choice,
        st.sampled_from(("tide", "gate")),
        st.sampled_from(("c", "d", "e")),
        st.sampled_from(REGISTERS[:2]),
        st.sampled_from((10, 16, 22, 31)),
        st.sampled_from(("as written", "slurred")),
    ),
    min_size=2,
    max_size=6,
    unique_by=lambda item: item.name,
)
small_wishes = st.builds(
    Promise,
    minutes=st.integers(1, 2),
    days=st.integers(1, 3),
    keys=st.integers(1, 2),
    seed=st.integers(0, 3),
    round=st.booleans(),
)


@settings(max_examples=25, deadline=None)
@given(small_books, small_wishes)
def test_the_exact_method_finds_the_best_of_all_plans(book: list[Choice], wish: Promise) -> None:
    asked = problem_of(wish, book, REGISTERS)
    best = brute_force(asked)
    solved = exact_days(asked)
    if best is None:
        assert solved.impossible
    else:
        assert solved.days is not None
        assert violations(asked, solved.days) == ()
        assert objective(solved.days) == best == solved.bound


@settings(max_examples=25, deadline=None)
@given(small_books, small_wishes)
def test_the_simple_method_never_claims_more_than_there_is(book: list[Choice], wish: Promise) -> None:
    asked = problem_of(wish, book, REGISTERS)
    best = brute_force(asked)
    days, faults = simple_days(asked)
    assert faults == violations(asked, days)
    if best is None:
        assert faults
        return
    assert needed_seconds(asked) <= asked.budget
    assert best <= simple_bound(asked)
    if not faults:
        assert objective(days) <= best


def big_book() -> tuple[Choice, ...]:
    """Five exercises in twelve keys, in registers that follow the key, in three variations."""
    keys = ("c", "d-flat", "d", "e-flat", "e", "f", "f-sharp", "g", "a-flat", "a", "b-flat", "b")
    return tuple(
        choice(
            exercise, key, REGISTERS[(number + turn) % 3], 12 + 7 * turn, variation, 40 + number + 9 * turn
        )
        for turn, exercise in enumerate(("tide", "gate", "shore", "light", "bell"))
        for number, key in enumerate(keys)
        for variation in ("as written", "slurred", "swell up")
    )


wishes = st.builds(
    Promise,
    minutes=st.integers(1, 70),
    days=st.integers(1, 16),
    keys=st.integers(1, 4),
    seed=st.integers(),
    round=st.booleans(),
)


@settings(max_examples=20, deadline=None)
@given(wishes)
def test_a_plan_keeps_its_promises(wish: Promise) -> None:
    book = big_book()
    try:
        made = plan(wish, book, REGISTERS)
    except NoPlan as none:
        assert none.reasons
        assert none.nearest
        return
    assert len(made.days) == wish.days
    for number, day in enumerate(made.days):
        assert pauses_in(day) <= pauses(wish.minutes)
        pause = 5 * 60 * pauses(wish.minutes)
        assert sum(item.seconds + item.rest for item in day) + pause <= 60 * wish.minutes
        assert_order(day)
        topics = [(item.exercise, item.key) for item in day]
        assert len(set(topics)) == len(topics)
        after = made.days[(number + 1) % len(made.days)]
        if number + 1 < len(made.days) or (wish.round and len(made.days) > 1):
            assert not {(item.exercise, item.key) for item in after} & set(topics)
        for register in REGISTERS:
            assert (
                len({item.key for item in day if item.register == register}) >= made.problem.least[register]
            )
    items = [item for day in made.days for item in day]
    assert {item.key for item in items} == {item.key for item in book}
    assert {item.register for item in items} == set(REGISTERS)
    assert {item.variation for item in items} == {"as written", "slurred", "swell up"}
    assert made.worth <= made.bound
    assert remarks(made)


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10**6))
def test_equal_seeds_give_equal_plans(seed: int) -> None:
    wish = Promise(12, 7, seed=seed)
    assert plan(wish, big_book(), REGISTERS) == plan(wish, big_book()[::-1], REGISTERS)


def test_another_seed_gives_another_plan() -> None:
    plans = {plan(Promise(12, 7, seed=seed), big_book(), REGISTERS).days for seed in range(4)}
    assert len(plans) == 4


def test_the_exact_method_is_no_worse_and_tells_its_gap() -> None:
    wish = Promise(4, 2)
    book = big_book()[:36]
    simple = plan(wish, book, REGISTERS)
    exact = plan(wish, book, REGISTERS, exact=True)
    assert simple.worth <= exact.worth <= exact.bound <= simple.bound
    assert exact.gap == pytest.approx(1 - exact.worth / exact.bound)
    assert exact.proved == (exact.worth == exact.bound)


def test_chosen_variations_are_the_only_ones() -> None:
    made = plan(Promise(12, 7, variations=("slurred",)), big_book(), REGISTERS)
    assert {item.variation for day in made.days for item in day} == {"slurred"}


def test_too_few_minutes_say_what_would_have_to_give() -> None:
    with pytest.raises(NoPlan) as none:
        plan(Promise(1, 7), big_book(), REGISTERS)
    (reason,) = none.value.reasons
    assert "1 minute a day for 7 days are too short" in reason
    nearest = next(row for row in none.value.nearest if "minutes a day" in row)
    minutes = int(nearest.split()[0])
    assert not broken_plan(Promise(minutes, 7))


def broken_plan(wish: Promise) -> tuple[str, ...]:
    made: Days = plan(wish, big_book(), REGISTERS).days
    return violations(problem_of(wish, big_book(), REGISTERS), made)


def test_a_promise_of_too_few_days_names_what_fails() -> None:
    with pytest.raises(NoPlan) as none:
        plan(Promise(3, 1), big_book(), REGISTERS)
    assert any(reason.startswith("Keys that do not come: ") for reason in none.value.reasons)
    more = next(row for row in none.value.nearest if row.startswith("3 minutes a day"))
    assert not broken_plan(Promise(3, int(more.split()[5])))


def test_an_empty_book_is_said_plainly() -> None:
    with pytest.raises(NoPlan, match="no exercise that a player of this ability can play"):
        plan(Promise(15, 14), (), REGISTERS)


def test_nothing_short_enough_is_said_plainly() -> None:
    with pytest.raises(NoPlan, match="Nothing in the book is short enough for 1 minute") as none:
        plan(Promise(1, 2), (choice("tide", "c", "low", 90),), REGISTERS)
    assert none.value.nearest == ("The shortest takes 2 minutes, with the rest after it.",)


@pytest.mark.parametrize("wish", [Promise(0, 1), Promise(15, 0), Promise(15, 14, keys=0), Promise(999, 1)])
def test_a_wish_outside_its_bounds_is_refused(wish: Promise) -> None:
    with pytest.raises(ValueError, match="outside"):
        plan(wish, big_book(), REGISTERS)


@pytest.mark.parametrize(("minutes", "count"), [(1, 0), (25, 0), (26, 1), (55, 1), (56, 2), (85, 2)])
def test_pauses(minutes: int, count: int) -> None:
    assert pauses(minutes) == count
    # No stretch of playing between pauses is longer than 25 minutes.
    assert (minutes - 5 * count) / (count + 1) <= 25
