"""Reads a selection: fields as in an exercise, checked against the book."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice

from ..music.keys import KEY_SLUGS, MODES, key_class
from .faults import MOST_FAULTS, Fault, did_you_mean, few, shown
from .fields import FieldText, Source, decode, fields_in_order, second
from .selection import SELECTION_FIELDS, Handout, Item, Known, KnownKey, Selection
from .stretches import COMMA, COMMA_OR_AND, Words, items_of, paragraphs, whole

MOST_HANDOUTS = 100
"""The most hand-outs of one file."""

MOST_ITEMS = 500
"""The most items of all `play` lists of one file."""

LONGEST_ITEM = 1_000
"""The most characters of an item, the space at the beginning of its lines among them."""

_MOST_NAMED = 20
"""The most names that a message lists."""

_REPEATED = ("words", "play")
_EVERY = ("every", "all")
_NAME_ENDS = re.compile(r"(?=[\s:;])|$")
_ITEM = re.compile(
    r"(?:\s+in\b(?P<keys>(?:(?!\sin\s)[^:;])*))?\s*(?::(?P<variations>[^;]*))?(?:;(?P<registers>.*))?",
    re.DOTALL,
)
_HOW = "write it like `slow-tide in D, E flat: as written, slurred; low register`"


def read_selection(file: str, data: bytes, known: Known) -> tuple[Selection | None, tuple[Fault, ...]]:
    """Read a selection; it is None if there are faults. `file` is its name as messages show it."""
    if not data.strip():
        source = Source(file, ())
        return None, (source.fault(1, 1, "the file is empty", "begin with `title: Week of the flats`"),)
    source, faults = decode(file, data)
    if faults:
        return None, few(faults)
    fields, faults = fields_in_order(source, SELECTION_FIELDS)
    reader = _Reader(source, known, faults)
    handouts: list[Handout] = []
    for group in _groups(fields):
        if len(handouts) == MOST_HANDOUTS:
            what = f"the file has more than {MOST_HANDOUTS} hand-outs"
            reader.fault((group[0].line, 1), what, "divide it into several files")
            break
        handouts.append(reader.handout(group, handouts[-1].title if handouts else ""))
    return (None if faults else Selection(tuple(handouts))), few(faults)


def _groups(fields: Sequence[FieldText]) -> list[list[FieldText]]:
    """The fields of each hand-out: a second `title` or `for` begins the next."""
    groups: list[list[FieldText]] = [[]]
    for field in fields:
        if field.name in ("title", "for") and any(each.name == field.name for each in groups[-1]):
            groups.append([])
        groups[-1].append(field)
    return groups


class _Reader:
    """Reads the hand-outs of one file; notes faults in `faults`."""

    def __init__(self, source: Source, known: Known, faults: list[Fault]) -> None:
        self.source = source
        self.known = known
        self.faults = faults
        self.items = 0
        # An exercise may be called by its address or its title.
        self.slugs = {_folded(each.title): slug for slug, each in known.exercises.items()}
        self.slugs |= {_folded(slug): slug for slug in known.exercises}
        labels = (label for each in known.exercises.values() for label in each.variations)
        self.labels = dict.fromkeys(labels)

    def fault(self, place: tuple[int, int], what: str, mend: str) -> None:
        """Note a fault."""
        self.faults.append(self.source.fault(*place, what, mend))

    def unknown(self, kind: str, words: Words, names: Sequence[str], mend: str = "") -> None:
        """Note that a name is not there, with the nearest that is."""
        mend = mend or _there_are(names)
        if len(self.faults) < MOST_FAULTS:
            mend = did_you_mean(words.said, names, mend, any_case=True)
        self.fault(words.place, f"unknown {kind} {shown(words.said)}", mend)

    def handout(self, group: Sequence[FieldText], title: str) -> Handout:
        """One student's hand-out; `title` is that of the one before."""
        fields: dict[str, FieldText] = {}
        for field in group:
            if field.name in fields and field.name not in _REPEATED:
                self.faults.append(second(self.source, field, fields[field.name]))
            fields.setdefault(field.name, field)
        self.missing(group, fields, title)
        instruments = list(self.known.registers)
        named = self.listed("instrument", fields.get("instrument"), instruments)
        usual = _Usual(
            instrument := (*named, instruments[0])[0],
            self.keys(whole(fields["keys"])) if "keys" in fields else (),
            self.listed("variation", fields.get("variations"), [*self.labels]),
            self.listed("register", fields.get("registers"), self.known.registers[instrument]),
        )
        content: list[str | Item] = []
        for field in group:
            if field.name == "words":
                content += paragraphs(field)
            elif field.name == "play":
                content += self.play(field, usual)
        if "play" not in fields:
            # A hand-out that only lists exercises and keys.
            items = [] if self.faults else list(self.from_lists(fields.get("exercises"), usual))
            if not (items or self.faults):
                what = "no exercise has all that: these keys, variations and registers"
                self.fault(
                    (fields["keys"].line, fields["keys"].column), what, "ask for less, or for another key"
                )
            content += items
        return Handout(
            fields["title"].value if "title" in fields else title,
            fields["for"].value if "for" in fields else "",
            instrument,
            tuple(content),
        )

    def missing(self, group: Sequence[FieldText], fields: Mapping[str, FieldText], title: str) -> None:
        """Note what a hand-out needs and does not have."""
        place = (group[0].line, 1) if group and title else (1, 1)
        if not (title and "title" not in fields):
            self.required("title", fields, place)
        if "play" in fields and "exercises" in fields:
            field = fields["exercises"]
            what = "'exercises' and 'play' both say what to play"
            self.fault((field.line, 1), what, "keep `play`, and write these exercises as items of it")
        elif "play" in fields or "keys" not in fields:
            self.required("play", fields, place)
        else:
            self.required("keys", fields, place)

    def required(self, name: str, fields: Mapping[str, FieldText], place: tuple[int, int]) -> None:
        """Note that a field is not there or says nothing."""
        if not (name in fields and fields[name].value):
            place = (fields[name].line, fields[name].column) if name in fields else place
            mend = f"write a line such as `{name}: {SELECTION_FIELDS[name].example}`"
            self.fault(place, f"the field {name!r} is missing", mend)

    def listed(self, kind: str, field: FieldText | None, names: Sequence[str]) -> tuple[str, ...]:
        """The items of a field that lists names of a kind."""
        return self.named(kind, whole(field).listed(COMMA), names) if field else ()

    def named(self, kind: str, wanted: Sequence[Words], names: Sequence[str]) -> tuple[str, ...]:
        """Words that must each be a known name, each name once."""
        found: dict[str, None] = {}
        printed = self.known.printed if kind == "variation" else {}
        by_letters = {said.lower(): name for said, name in printed.items() if name in names}
        by_letters |= {**{name.lower(): name for name in names}, **{name: name for name in names}}
        for words in wanted:
            said = words.said
            if name := by_letters.get(said) or by_letters.get(said.lower()):
                found[name] = None
            else:
                self.unknown(kind, words, names)
        return tuple(found)

    def keys(self, words: Words, of: _KeysHere | None = None) -> tuple[str, ...]:
        """The key pages that a list names; those that are not among the keys `of` an exercise are faults."""
        found: dict[str, None] = {}
        for each in words.listed(COMMA_OR_AND):
            tonic, mode = each.said, ""
            if of and tonic.rpartition(" ")[2].lower() in MODES:
                tonic, _, mode = tonic.rpartition(" ")
            number = key_class(tonic)
            if number is None:
                mend = f"the keys are {', '.join(KEY_SLUGS)}"
                if "register" in each.said:
                    mend = "write the register at the end, after a semicolon: `; low register`"
                self.unknown("key", each, KEY_SLUGS, mend)
            elif of and (key := KEY_SLUGS[number]) not in of.keys:
                there = ", ".join(known.name for known in of.keys.values())
                self.fault(each.place, f"{of.exercise} has no {shown(each.said)}", f"its keys are {there}")
            elif of and mode and not of.keys[key].name.endswith(f" {mode.lower()}"):
                what = f"{of.exercise} has no {shown(each.said)}"
                self.fault(each.place, what, f"here it is {of.keys[key].name}")
            else:
                found[KEY_SLUGS[number]] = None
        return tuple(found)

    def from_lists(self, field: FieldText | None, usual: _Usual) -> Iterator[Item]:
        """Key after key each exercise, as far as all that is in the book."""
        slugs = dict.fromkeys(
            slug for words in (whole(field).listed(COMMA) if field else ()) if (slug := self.exercise(words))
        )
        chosen = slugs or self.known.exercises
        for key in usual.keys:
            for slug in chosen:
                if here := self.known.keys_of(usual.instrument, slug).get(key):
                    labels = self.known.exercises[slug].variations
                    variations = tuple(label for label in usual.variations if label in labels)
                    registers = tuple(name for name in usual.registers if name in here.registers)
                    if bool(variations) == bool(usual.variations) and bool(registers) == bool(
                        usual.registers
                    ):
                        yield Item(slug, (key,), variations or tuple(labels[:1]), registers)

    def exercise(self, words: Words) -> str:
        """The exercise of this address or title, or an empty string."""
        slug = self.slugs.get(_folded(words.said), "")
        if not slug:
            titles = [each.title for each in self.known.exercises.values()]
            self.unknown(
                "exercise", words, [*self.known.exercises, *titles], _there_are(self.known.exercises)
            )
        return slug

    def play(self, field: FieldText, usual: _Usual) -> Iterator[Item]:
        """The items of a `play` list."""
        for words in items_of(field):
            if len(self.faults) > MOST_FAULTS:
                return
            self.items += 1
            if self.items > MOST_ITEMS:
                what = f"the file has more than {MOST_ITEMS} items to play"
                self.fault(words.place, what, "divide it into several files")
                return
            if (size := words.end - words.start) > LONGEST_ITEM:
                what = f"this item is {size:,} characters long, and {LONGEST_ITEM:,} is the most"
                self.fault(words.place, what, "divide it into several items")
            elif item := self.item(words, usual):
                yield item

    def item(self, words: Words, usual: _Usual) -> Item | None:
        """`slow-tide in D, E flat: as written, slurred; low register`."""
        text = words.field.text[words.start : words.end]
        match = self.named_item(text)
        if match is None:
            stop = re.search(r"\s+in\s|[:;]", text)
            self.exercise(words.part(0, stop.start() if stop else len(text)))
            return None
        slug = self.slugs[_folded(text[: match.start()])]
        rest = words.part(match.end(), len(text))
        if rest.said:
            self.fault(rest.place, f"{shown(rest.said)} does not fit here", _HOW)
            return None
        before = len(self.faults)
        here = _KeysHere(slug, self.known.keys_of(usual.instrument, slug))
        if not here.keys:
            what = f"{slug} cannot be played on the {usual.instrument}"
            self.fault(words.place, what, "choose another exercise, or another `instrument`")
            return None
        keys, every_key = self.item_keys(match, words, here, usual)
        variations = self.item_variations(match, words, slug, usual)
        registers = self.item_registers(match, words, (keys, every_key), here, usual)
        if registers and every_key:
            keys = tuple(key for key in keys if {*registers} & {*here.keys[key].registers})
        return Item(slug, keys, variations, registers) if len(self.faults) == before else None

    def named_item(self, text: str) -> re.Match[str] | None:
        """What follows the exercise's name in an item; None if it begins with no name.

        An address goes before a title, and a long title before a short one, where the rest can be read.
        """
        ends = [match.start() for match in _NAME_ENDS.finditer(text)]
        names = [end for end in reversed(ends) if _folded(text[:end]) in self.slugs]
        names.sort(key=lambda end: _folded(text[:end]) not in self.known.exercises)
        found = [match for end in names if (match := _ITEM.match(text, end))]
        return next(
            (match for match in found if not text[match.end() :].strip()), found[0] if found else None
        )

    def group(self, match: re.Match[str], words: Words, name: str) -> Words | None:
        """A part of an item; where it is there and says nothing, a fault is noted."""
        if match[name] is None:
            return None
        part = words.part(*match.span(name))
        if not part.said:
            self.fault(part.place, f"the {name} are missing", _HOW)
        return part

    def item_keys(
        self, match: re.Match[str], words: Words, here: _KeysHere, usual: _Usual
    ) -> tuple[tuple[str, ...], bool]:
        """The keys of an item, and whether they are all there are."""
        part = self.group(match, words, "keys")
        if part and not _is_every(part, "key"):
            return self.keys(part, here), False
        if part or not usual.keys:
            return tuple(here.keys), True
        for key in usual.keys:
            if key not in here.keys:
                there = ", ".join(known.name for known in here.keys.values())
                self.fault(
                    words.place, f"{here.exercise} has no {key!r}, one of `keys`", f"its keys are {there}"
                )
        return usual.keys, False

    def item_variations(
        self, match: re.Match[str], words: Words, slug: str, usual: _Usual
    ) -> tuple[str, ...]:
        labels = self.known.exercises[slug].variations
        part = self.group(match, words, "variations")
        if not part:
            for label in usual.variations:
                if label not in labels:
                    what = f"{slug} has no {shown(label)}, one of `variations`"
                    self.fault(words.place, what, f"its variations are: {', '.join(labels)}")
            return usual.variations or tuple(labels[:1])
        if _is_every(part, "variation"):
            return tuple(labels)
        wanted = []
        for each in part.listed(COMMA):
            if each.said in self.labels and each.said not in labels:
                mend = f"add it to its `variations`; it has: {', '.join(labels)}"
                self.fault(each.place, f"{slug} has no variation {shown(each.said)}", mend)
            else:
                wanted.append(each)
        return self.named("variation", wanted, labels)

    def item_registers(
        self,
        match: re.Match[str],
        words: Words,
        wanted: tuple[Sequence[str], bool],
        here: _KeysHere,
        usual: _Usual,
    ) -> tuple[str, ...]:
        """The registers of an item in these keys; where they are all its keys, not each has each register."""
        part = self.group(match, words, "registers")
        names = self.known.registers[usual.instrument]
        if part and _is_every(part, "register"):
            return tuple(names)
        if not part:
            self.check_registers(words, usual.registers, wanted, here)
            return usual.registers
        text = part.field.text[part.start : part.end]
        if said := re.search(r"\s+registers?\s*$", text):
            part = part.part(0, said.start())
        found: list[str] = []
        for each in part.listed(COMMA_OR_AND):
            named = self.named("register", [each], names)
            self.check_registers(each, named, wanted, here)
            found += named
        return tuple(dict.fromkeys(found))

    def check_registers(
        self, words: Words, names: Sequence[str], wanted: tuple[Sequence[str], bool], here: _KeysHere
    ) -> None:
        """Note the first of some keys that is in none of these registers."""
        keys, every_key = wanted
        lacking = [here.keys[key] for key in keys if key in here.keys]
        lacking = [key for key in lacking if names and not {*names} & {*key.registers}]
        if lacking and (not every_key or len(lacking) == len(keys)):
            there = ", ".join(lacking[0].registers)
            what = f"{here.exercise} in {lacking[0].name} is not in the {' or '.join(names)} register"
            mend = f"it is in: {there}" if there else "the instrument cannot play it there"
            self.fault(words.place, what, mend)


@dataclass(frozen=True, slots=True)
class _Usual:
    """What holds for the items that do not say it themselves."""

    instrument: str
    keys: tuple[str, ...]
    variations: tuple[str, ...]
    registers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _KeysHere:
    """An exercise and its keys for an instrument."""

    exercise: str
    keys: Mapping[str, KnownKey]


def _there_are(names: Collection[str]) -> str:
    more = f" and {len(names) - _MOST_NAMED:,} more" if len(names) > _MOST_NAMED else ""
    return f"there are: {', '.join(islice(names, _MOST_NAMED))}{more}"


def _folded(said: str) -> str:
    return " ".join(said.split()).casefold()


def _is_every(words: Words, kind: str) -> bool:
    first, _, second_word = words.said.lower().partition(" ")
    return first in _EVERY and second_word.removesuffix("s") == kind
