"""The file in which a teacher fixes parts of daily sets: what it says, and every fault with its place."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stavewright.language.read_students import read_students
from stavewright.language.students import STUDENT_FIELDS, KnownBook, Student

KNOWN = KnownBook(
    exercises={"slow-tide": "Slow tide", "late-light": "Late light", "far-shore": "Far shore"},
    ways=("as written", "swell up", "swell down", "long swell", "eight levels", "slurred"),
    instruments=("flute", "oboe"),
    levels={"beginning": "beginning", "beginner": "beginning"},
    most_minutes=240,
    most_days=120,
    printed={"growing": "swell up", "eight dynamic levels": "eight levels"},
)


def read(text: str) -> tuple[Student, ...]:
    students, faults = read_students("week.txt", text.encode(), KNOWN)
    assert not faults
    return students


def test_every_field() -> None:
    (found,) = read(
        """# The week before the concert
student: Ada
minutes: 12
days: 7
instrument: oboe
level: Beginner
opening: Slow Tide
always: late-light, slow-tide
each day: swells
exercises: slow-tide, late-light
ways: swell up, swell down, slurred
more of: late-light
less of: slow-tide
"""
    )
    assert found == Student(
        name="Ada",
        minutes=12,
        days=7,
        instrument="oboe",
        level="beginning",
        opening="slow-tide",
        always=("late-light", "slow-tide"),
        each_day=("swell up", "swell down", "long swell"),
        exercises=("slow-tide", "late-light"),
        ways=("swell up", "swell down", "slurred"),
        more=("late-light",),
        less=("slow-tide",),
    )


def test_what_is_left_out_leaves_the_rest() -> None:
    (found,) = read("student: Ada\nleave out: far-shore, eight levels\n")
    assert found.exercises == ("slow-tide", "late-light")
    assert found.ways == ("as written", "swell up", "swell down", "long swell", "slurred")


def test_several_students_and_one_without_a_name() -> None:
    assert [each.name for each in read("student: Ada\nminutes: 5\nstudent: Ben\nstudent: Cleo\n")] == [
        "Ada",
        "Ben",
        "Cleo",
    ]
    assert read("minutes: 5\n") == (Student(minutes=5),)


@pytest.mark.parametrize(
    ("text", "place", "said"),
    [
        ("", (1, 1), "the file is empty; begin with `student: Robin`"),
        ("student: A\nminits: 5\n", (2, 1), "unknown field 'minits'; did you mean 'minutes'?"),
        ("student: A\nminutes: soon\n", (2, 10), "'minutes' cannot be 'soon'; write a whole number from 1"),
        (
            "student: A\nminutes: 241\n",
            (2, 10),
            "'minutes' cannot be '241'; write a whole number from 1 to 240",
        ),
        ("student: A\ndays: 0\n", (2, 7), "'days' cannot be '0'"),
        (
            "student: A\nopening: slow-tid\n",
            (2, 10),
            "unknown exercise 'slow-tid'; did you mean 'slow-tide'?",
        ),
        ("student: A\nalways: late-light, moon\n", (2, 21), "unknown exercise 'moon'; there are: "),
        (
            "student: A\neach day: swel up\n",
            (2, 11),
            "unknown way of playing 'swel up'; did you mean 'swell up'?",
        ),
        ("student: A\nleave out: mars\n", (2, 12), "unknown exercise or way 'mars'"),
        ("student: A\ninstrument: obo\n", (2, 13), "unknown instrument 'obo'; did you mean 'oboe'?"),
        ("student: A\nlevel: god\n", (2, 8), "unknown ability 'god'"),
        ("student: A\nminutes: 5\nminutes: 6\n", (3, 1), "the field 'minutes' appears a second time"),
        ("student: A\nalways:\n", (2, 8), "'always' says nothing; write `always: new-britain`"),
        (
            "student: A\nopening: slow-tide\nleave out: slow-tide\n",
            (2, 10),
            "'slow-tide' comes here and is left out; take it out of `leave out`",
        ),
        (
            "student: A\nmore of: slow-tide\nless of: slow-tide\n",
            (3, 10),
            "'slow-tide' is in `more of` and in `less of`",
        ),
    ],
)
def test_faults(text: str, place: tuple[int, int], said: str) -> None:
    students, faults = read_students("week.txt", text.encode(), KNOWN)
    assert students == ()
    assert [(fault.line, fault.column) for fault in faults] == [place]
    assert said in str(faults[0])


def test_too_many_students() -> None:
    _, faults = read_students("week.txt", b"student: A\n" * 101, KNOWN)
    assert "more than 100 students" in str(faults[0])
    assert faults[0].line == 101


fields = st.sampled_from([*STUDENT_FIELDS, "teacher"])
words = st.text(st.characters(codec="utf-8"), max_size=20) | st.sampled_from(["slow-tide", "swell up", "5"])


@given(st.lists(st.tuples(fields, words), max_size=8))
def test_any_text_is_read_or_its_faults_have_places(rows: list[tuple[str, str]]) -> None:
    text = "".join(f"{name}: {said}\n" for name, said in rows)
    students, faults = read_students("week.txt", text.encode(), KNOWN)
    assert bool(students) != bool(faults)
    assert all(fault.line >= 1 and fault.column >= 1 for fault in faults)


def test_ways_may_be_named_as_they_are_printed() -> None:
    (found,) = read("student: Ada\neach day: Growing\nways: growing, eight dynamic levels\n")
    assert (found.each_day, found.ways) == (("swell up",), ("swell up", "eight levels"))
