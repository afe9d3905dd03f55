"""Reads the file in which a teacher fixes parts of students' daily sets, checked against the book."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from .faults import MOST_FAULTS, Fault, did_you_mean, few, shown
from .fields import FieldText, Source, decode, fields_in_order, second
from .stretches import COMMA, Words, whole
from .students import STUDENT_FIELDS, KnownBook, Student

MOST_STUDENTS = 100
"""The most students of one file."""


def read_students(file: str, data: bytes, known: KnownBook) -> tuple[tuple[Student, ...], tuple[Fault, ...]]:
    """Read a file; there are no students if it has faults. `file` is its name as messages show it."""
    if not data.strip():
        source = Source(file, ())
        return (), (source.fault(1, 1, "the file is empty", "begin with `student: Robin`"),)
    source, faults = decode(file, data)
    if faults:
        return (), few(faults)
    fields, faults = fields_in_order(source, STUDENT_FIELDS)
    reader = _Reader(source, known, faults)
    groups = _groups(fields)
    if len(groups) > MOST_STUDENTS:
        what = f"the file has more than {MOST_STUDENTS} students"
        reader.fault((groups[MOST_STUDENTS][0].line, 1), what, "divide it into several files")
        groups = groups[:MOST_STUDENTS]
    students = tuple(reader.student(group) for group in groups)
    if not students and not faults:
        reader.fault((1, 1), "the file names no student", "begin with `student: Robin`")
    return (() if faults else students), few(faults)


def _groups(fields: Sequence[FieldText]) -> list[list[FieldText]]:
    """The fields of each student: a `student` begins the next, unless it is the first field of the file."""
    groups: list[list[FieldText]] = []
    for field in fields:
        if field.name == "student" or not groups:
            groups.append([])
        groups[-1].append(field)
    return groups


class _Reader:
    """Reads the students of one file; notes faults in `faults`."""

    def __init__(self, source: Source, known: KnownBook, faults: list[Fault]) -> None:
        self.source = source
        self.known = known
        self.faults = faults
        # An exercise may be called by its address or its title.
        self.slugs = {_folded(title): slug for slug, title in known.exercises.items()}
        self.slugs |= {_folded(slug): slug for slug in known.exercises}

    def fault(self, place: tuple[int, int], what: str, mend: str) -> None:
        """Note a fault."""
        self.faults.append(self.source.fault(*place, what, mend))

    def student(self, group: Sequence[FieldText]) -> Student:
        """One student."""
        fields: dict[str, FieldText] = {}
        for field in group:
            if field.name in fields:
                self.faults.append(second(self.source, field, fields[field.name]))
            fields.setdefault(field.name, field)
            if not field.value and not field.too_long:
                mend = f"write `{field.name}: {STUDENT_FIELDS[field.name].example}`, or take the line out"
                self.fault((field.line, field.column), f"{field.name!r} says nothing", mend)
        instruments = {_folded(slug): slug for slug in self.known.instruments}
        levels = dict(self.known.levels)
        left_out = self.listed(fields.get("leave out"), "exercise or way", self.exercise_or_ways)
        exercises = self.listed(fields.get("exercises"), "exercise", self.exercises)
        ways = self.listed(fields.get("ways"), "way of playing", self.ways)
        found = Student(
            name=fields["student"].value if "student" in fields else "",
            minutes=self.number(fields.get("minutes"), self.known.most_minutes),
            days=self.number(fields.get("days"), self.known.most_days),
            instrument=self.one(fields.get("instrument"), "instrument", instruments),
            level=self.one(fields.get("level"), "ability", levels),
            opening=self.one(fields.get("opening"), "exercise", self.slugs),
            always=self.listed(fields.get("always"), "exercise", self.exercises),
            each_day=self.listed(fields.get("each day"), "way of playing", self.ways),
            exercises=_without(exercises, self.known.exercises, left_out),
            ways=_without(ways, self.known.ways, left_out),
            more=self.listed(fields.get("more of"), "exercise", self.exercises),
            less=self.listed(fields.get("less of"), "exercise", self.exercises),
        )
        self.contradictions(fields, found)
        return found

    def contradictions(self, fields: dict[str, FieldText], found: Student) -> None:
        """Note what is asked for and left out at once."""
        for name, wanted, there in (
            ("opening", [found.opening], found.exercises),
            ("always", found.always, found.exercises),
            ("each day", found.each_day, found.ways),
        ):
            lost = [item for item in wanted if item and there and item not in there]
            if lost and (name != "each day" or len(lost) == len(wanted)):
                field = fields[name]
                mend = "take it out of `leave out`, or add it to `exercises` or `ways`"
                self.fault(whole(field).place, f"{shown(lost[0])} comes here and is left out", mend)
        if both := sorted({*found.more} & {*found.less}):
            field = fields["less of"]
            what = f"{shown(both[0])} is in `more of` and in `less of`"
            self.fault(whole(field).place, what, "keep it in one of them")

    def number(self, field: FieldText | None, most: int) -> int:
        """A whole number from 1 to `most`; 0 where the field is not there."""
        if field is None or not field.value:
            return 0
        said = field.value
        if said.isascii() and said.isdigit() and len(said) <= 6 and 1 <= int(said) <= most:
            return int(said)
        what = f"{field.name!r} cannot be {shown(said)}"
        self.fault(whole(field).place, what, f"write a whole number from 1 to {most}")
        return 0

    def one(self, field: FieldText | None, kind: str, names: dict[str, str]) -> str:
        """The one thing that a field names, or an empty string."""
        if field is None or not field.value:
            return ""
        words = whole(field)
        found = names.get(words.said) or names.get(_folded(words.said), "")
        if not found:
            self.unknown(kind, words, names)
        return found

    def listed(
        self, field: FieldText | None, kind: str, names_of: Callable[[str], tuple[str, ...]]
    ) -> tuple[str, ...]:
        """The things that a list names, each once."""
        found: dict[str, None] = {}
        for words in whole(field).listed(COMMA) if field else ():
            names = names_of(words.said)
            if not names:
                offered = {
                    "exercise": [*self.slugs],
                    "way of playing": [*self.known.ways],
                }.get(kind, [*self.slugs, *self.known.ways])
                self.unknown(kind, words, offered)
            found |= dict.fromkeys(names)
        return tuple(found)

    def exercises(self, said: str) -> tuple[str, ...]:
        """The exercise of this address or title."""
        slug = self.slugs.get(_folded(said))
        return (slug,) if slug else ()

    def ways(self, said: str) -> tuple[str, ...]:
        """The way of this name, or else every way whose name has these words: `swell` or `swells`."""
        asked = _folded(said)
        own = [(name, name) for name in self.known.ways]
        for called, name in (*own, *self.known.printed.items()):
            if _folded(called) == asked:
                return (name,)
        for words in dict.fromkeys((asked, asked.removesuffix("s"))):
            found = tuple(name for name in self.known.ways if f" {words} " in f" {_folded(name)} ")
            if words and found:
                return found
        return ()

    def exercise_or_ways(self, said: str) -> tuple[str, ...]:
        """The exercise, or else the ways, of this name."""
        return self.exercises(said) or self.ways(said)

    def unknown(self, kind: str, words: Words, names: Sequence[str] | dict[str, str]) -> None:
        """Note that a name is not there, with the nearest that is."""
        mend = f"there are: {', '.join(list(names)[:20])}"
        if len(self.faults) < MOST_FAULTS:
            mend = did_you_mean(words.said, names, mend, any_case=True)
        self.fault(words.place, f"unknown {kind} {shown(words.said)}", mend)


def _without(chosen: tuple[str, ...], every: Iterable[str], left_out: tuple[str, ...]) -> tuple[str, ...]:
    """What may come: the chosen, or all where something is left out; empty stands for all."""
    if not left_out:
        return chosen
    return tuple(name for name in chosen or every if name not in left_out)


def _folded(said: str) -> str:
    return " ".join(said.split()).casefold()
