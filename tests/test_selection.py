"""Reading a selection: what is played and said in which order, and every fault in its place."""

from __future__ import annotations

import random
import re
from collections.abc import Mapping
from pathlib import Path

import pytest

from stavewright.book.read import open_book
from stavewright.language.faults import MOST_FAULTS, Fault
from stavewright.language.read_selection import MOST_HANDOUTS, MOST_ITEMS, read_selection
from stavewright.language.selection import Handout, Item, Known, KnownExercise, KnownKey, Selection
from stavewright.prints.selection import ExercisePages

KEYS = {
    "bell": {
        "d": KnownKey("D major", ("middle", "low")),
        "e-flat": KnownKey("E flat major", ("low", "high")),
    },
    "deep": {},
    "lamp": {"d": KnownKey("D minor", ("middle",)), "a": KnownKey("A minor", ("low",))},
}


def keys_of(instrument: str, exercise: str) -> Mapping[str, KnownKey]:
    return KEYS[exercise]


KNOWN = Known(
    {
        "bell": KnownExercise("Evening bell", ("as written", "slurred", "slurred + swell up")),
        "deep": KnownExercise("Deep", ("as written",)),
        "lamp": KnownExercise("Lamp in A", ("as written", "slurred in 2 and 1")),
    },
    {"flute": ("low", "middle", "high"), "oboe": ("low",)},
    keys_of,
    {"slurred + growing": "slurred + swell up"},
)
PLAIN = ("as written",)


def read(text: str) -> tuple[Selection | None, tuple[Fault, ...]]:
    return read_selection("week.set", text.encode(), KNOWN)


def handouts(text: str) -> tuple[Handout, ...]:
    found, faults = read(text)
    assert found is not None, faults
    return found.handouts


def played(text: str) -> tuple[str | Item, ...]:
    """The content of the only hand-out."""
    [one] = handouts(f"title: T\n{text}")
    return one.content


@pytest.mark.parametrize(
    ("said", "item"),
    [
        ("bell in D", Item("bell", ("d",), PLAIN, ())),
        ("Evening Bell in e-flat, D", Item("bell", ("e-flat", "d"), PLAIN, ())),
        ("evening  bell in Eb and D major", Item("bell", ("e-flat", "d"), PLAIN, ())),
        ("lamp in a in A minor", Item("lamp", ("a",), PLAIN, ())),
        ("bell", Item("bell", ("d", "e-flat"), PLAIN, ())),
        ("bell in every key", Item("bell", ("d", "e-flat"), PLAIN, ())),
        (
            "bell in D: slurred + swell up, as written",
            Item("bell", ("d",), ("slurred + swell up", *PLAIN), ()),
        ),
        ("bell in D: Slurred + growing", Item("bell", ("d",), ("slurred + swell up",), ())),
        ("lamp in D: slurred in 2 and 1", Item("lamp", ("d",), ("slurred in 2 and 1",), ())),
        ("bell in D; low register", Item("bell", ("d",), PLAIN, ("low",))),
        (
            "bell in D: Slurred; low and middle registers",
            Item("bell", ("d",), ("slurred",), ("low", "middle")),
        ),
        ("bell; high", Item("bell", ("e-flat",), PLAIN, ("high",))),
        (
            "bell in all keys: every variation; every register",
            Item(
                "bell", ("d", "e-flat"), (*PLAIN, "slurred", "slurred + swell up"), ("low", "middle", "high")
            ),
        ),
    ],
)
def test_an_item(said: str, item: Item) -> None:
    assert played(f"play: {said}\n") == (item,)
    assert played(f"play:\n  - {said}\n  # a comment\n  - {said}\n") == (item, item)
    assert played(f"play:\n  {said}\n  {said}\n") == (item, item)


def test_an_item_goes_on_over_lines() -> None:
    item = Item("bell", ("d", "e-flat"), ("slurred", "as written"), ("low",))
    assert played("play:\n  - bell in D,\n    E flat:\n    slurred, as\n    written; low\n") == (item,)
    assert played("play: bell in D,\n  E flat: slurred,\n  as written; low\n") == (item,)


def test_words_and_music_stay_where_they_stand() -> None:
    bell, lamp = Item("bell", ("d",), PLAIN, ()), Item("lamp", ("a",), PLAIN, ())
    text = (
        "words: First.\nplay: bell in D\nwords: Now\n  rest.\n\n  Then:\nplay:\n - lamp in A\n - bell in D\n"
    )
    assert played(text) == ("First.", bell, "Now rest.", "Then:", lamp, bell)


def test_what_holds_for_items_that_do_not_say_it() -> None:
    text = (
        "keys: d\nvariations: slurred\nregisters: low\nplay:\n - bell\n - bell in E flat: as written; high\n"
    )
    low, high = Item("bell", ("d",), ("slurred",), ("low",)), Item("bell", ("e-flat",), PLAIN, ("high",))
    assert played(text) == (low, high)


def test_a_hand_out_of_lists_is_played_key_by_key() -> None:
    """In the order of its own lists, and without what is not there."""
    text = "keys: a, d\nexercises: lamp, bell\nwords: Softly.\n"
    lamp, bell = Item("lamp", ("d",), PLAIN, ()), Item("bell", ("d",), PLAIN, ())
    assert played(text) == ("Softly.", Item("lamp", ("a",), PLAIN, ()), lamp, bell)
    assert played("keys: d\n") == (bell, lamp)
    assert played("keys: d\nvariations: slurred, as written\n") == (
        Item("bell", ("d",), ("slurred", "as written"), ()),
        lamp,
    )


def test_several_students() -> None:
    first, second, third = handouts(
        "for: Robin\ntitle: Flats\nplay: bell in D\n"
        "for: Kim\ninstrument: oboe\nplay: lamp in A\ntitle: Sharps\ntitle: Third\nplay: lamp\n"
    )
    assert (first.title, first.student, first.instrument) == ("Flats", "Robin", "flute")
    assert (second.title, second.student, second.instrument) == ("Sharps", "Kim", "oboe")
    assert (third.title, third.student, third.instrument) == ("Third", "", "flute")
    same, other = handouts("title: Week\nfor: Robin\nplay: bell in D\nfor: Kim\nplay: bell in D\n")
    assert (same.title, other.title, other.student) == ("Week", "Week", "Kim")


PLAY = "write a line such as `play: slow-tide in D, E flat: slurred; low register`"
LIKE = "write it like `slow-tide in D, E flat: as written, slurred; low register`"
FAULTS = [
    ("", (1, 1, "the file is empty", "begin with `title: Week of the flats`")),
    ("title: T\n", (1, 1, "the field 'play' is missing", PLAY)),
    ("keys: d\n", (1, 1, "the field 'title' is missing", "write a line such as `title: Week of the flats`")),
    ("title: T\nplay:\n", (2, 6, "the field 'play' is missing", PLAY)),
    ("title: T\nplay: bell in D\n\ntitle: U\n", (4, 1, "the field 'play' is missing", PLAY)),
    (
        "title: T\nkeys:\n",
        (2, 6, "the field 'keys' is missing", "write a line such as `keys: e-flat, a flat`"),
    ),
    ("title: T\nkeys: d, e flt\n", (2, 10, "unknown key 'e flt'", "did you mean 'e-flat'?")),
    ("title: T\nkeys: d\nexercises: bel\n", (3, 12, "unknown exercise 'bel'", "did you mean 'bell'?")),
    (
        "title: T\nkeys: d\nvariations: as written,\n  slured\n",
        (4, 3, "unknown variation 'slured'", "did you mean 'slurred'?"),
    ),
    (
        "title: T\nkeys: d\nregisters: top\n",
        (3, 12, "unknown register 'top'", "there are: low, middle, high"),
    ),
    (
        "title: T\nkeys: d\ninstrument: flutes\n",
        (3, 13, "unknown instrument 'flutes'", "did you mean 'flute'?"),
    ),
    ("title: T\nkeys: d\nkey: d\n", (3, 1, "unknown field 'key'", "did you mean 'keys'?")),
    (
        "title: T\nkeys: d\nkeys: e\n",
        (3, 1, "the field 'keys' appears a second time", "keep one; the first is on line 2"),
    ),
    (
        "title: T\nkeys: b\n",
        (
            2,
            6,
            "no exercise has all that: these keys, variations and registers",
            "ask for less, or for another key",
        ),
    ),
    (
        "title: T\nplay: bell in D\nexercises: bell\n",
        (
            3,
            1,
            "'exercises' and 'play' both say what to play",
            "keep `play`, and write these exercises as items of it",
        ),
    ),
    (
        "title: T\nkeys: a\nplay: bell\n",
        (3, 7, "bell has no 'a', one of `keys`", "its keys are D major, E flat major"),
    ),
    (
        "title: T\nvariations: slurred\nplay: lamp in A\n",
        (
            3,
            7,
            "lamp has no 'slurred', one of `variations`",
            "its variations are: as written, slurred in 2 and 1",
        ),
    ),
    (
        "title: T\nregisters: high\nplay: bell in D, E flat\n",
        (3, 7, "bell in D major is not in the high register", "it is in: middle, low"),
    ),
]
ITEM_FAULTS = [
    ("bel in D", 9, "unknown exercise 'bel'", "did you mean 'bell'?"),
    ("eveningbell: slurred", 9, "unknown exercise 'eveningbell'", "did you mean 'Evening bell'?"),
    ("; low", 9, "unknown exercise ''", "there are: bell, deep, lamp"),
    ("deep", 9, "deep cannot be played on the flute", "choose another exercise, or another `instrument`"),
    ("bell on D", 14, "'on D' does not fit here", LIKE),
    ("bell in", 16, "the keys are missing", LIKE),
    ("bell in D:", 19, "the variations are missing", LIKE),
    ("bell in D;", 19, "the registers are missing", LIKE),
    ("bell in D, G and H", 20, "bell has no 'G'", "its keys are D major, E flat major"),
    ("bell in D minor", 17, "bell has no 'D minor'", "here it is D major"),
    (
        "bell in D low register",
        17,
        "unknown key 'D low register'",
        "write the register at the end, after a semicolon: `; low register`",
    ),
    ("bell in D: slured", 20, "unknown variation 'slured'", "did you mean 'slurred'?"),
    (
        "lamp in D: slurred",
        20,
        "lamp has no variation 'slurred'",
        "add it to its `variations`; it has: as written, slurred in 2 and 1",
    ),
    ("bell in D; lo register", 20, "unknown register 'lo'", "did you mean 'low'?"),
    (
        "bell in D, E flat; low, high",
        33,
        "bell in D major is not in the high register",
        "it is in: middle, low",
    ),
    ("lamp; high", 15, "lamp in D minor is not in the high register", "it is in: middle"),
]


@pytest.mark.parametrize(("text", "fault"), FAULTS)
def test_each_fault_has_its_place(text: str, fault: tuple[int, int, str, str]) -> None:
    found, faults = read(text)
    assert found is None
    assert [(each.line, each.column, each.what, each.mend) for each in faults] == [fault]


@pytest.mark.parametrize(("item", "column", "what", "mend"), ITEM_FAULTS)
def test_each_fault_of_an_item_has_its_place(item: str, column: int, what: str, mend: str) -> None:
    found, faults = read(f"title: T\nplay:\n    - lamp in A\n    - - {item}\n".replace("- - ", "  - "))
    assert found is None
    assert (4, column, what, mend) in [(each.line, each.column, each.what, each.mend) for each in faults]


def test_a_file_is_bounded() -> None:
    row = "  - bell in D\n"
    assert read(f"title: T\nplay:\n{row * MOST_ITEMS}")[0] is not None
    _, (fault,) = read(f"title: T\nplay:\n{row * (MOST_ITEMS + 1)}")
    assert str(fault).startswith(
        f"week.set:{MOST_ITEMS + 3}:5: the file has more than {MOST_ITEMS} items to play"
    )
    one = "title: T\nplay: bell in D\n"
    assert len(handouts(one * MOST_HANDOUTS)) == MOST_HANDOUTS
    _, (fault,) = read(one * (MOST_HANDOUTS + 1))
    assert f"{2 * MOST_HANDOUTS + 1}:1: the file has more than {MOST_HANDOUTS} hand-outs" in str(fault)
    _, (fault,) = read(f"title: T\nplay: bell in {'D, ' * 200}\n")
    assert "'play' is 607 characters long, and 300 is the most" in fault.what


@pytest.mark.parametrize(
    "play",
    ["- " + "bell,\n  " * 30_000, "bell,\n  " * 30_000, "  - bell in h, h\n" * 15_000, "x " * 30 * 4000],
)
def test_a_long_file_is_read_at_once(play: str) -> None:
    """Nothing is read again and again, which would take minutes here."""
    _, faults = read(f"title: T\nplay:\n  {play}\n")
    assert 1 <= len(faults) <= MOST_FAULTS + 1


def test_the_examples_of_the_documentation_are_read() -> None:
    root = Path(__file__).parent.parent
    pages = ExercisePages(open_book(root))
    examples = re.findall(
        r"```\n(title: .*?)```", (root / "docs" / "printing.md").read_text("utf-8"), re.DOTALL
    )
    assert len(examples) == 2
    for example in examples:
        found, faults = read_selection("week.set", example.encode(), pages.known())
        assert found is not None, faults
        assert all(handout.content for handout in found.handouts)


def test_whatever_is_written_is_read_or_told() -> None:
    """Items put together by chance: each is an item of the book, or a fault within its line."""
    stock = (
        "bell",
        "lamp in A",
        " in ",
        "D",
        ", ",
        "E flat",
        ":",
        ";",
        "low",
        " register",
        "and",
        "every key",
        "- ",
    )
    chance = random.Random(1)
    read_well = 0
    for _ in range(3000):
        item = "".join(chance.choice(stock) for _ in range(chance.randint(1, 8)))
        found, faults = read(f"title: T\nplay:\n  - {item}\n")
        assert (found is None) == bool(faults)
        assert all(fault.line == 3 and 1 <= fault.column <= len(item) + 5 for fault in faults), (item, faults)
        read_well += found is not None
    assert read_well > 20
