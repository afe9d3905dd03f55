"""Reads an exercise from a file's bytes, and notes every fault in it."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from lark import Token, Tree

from ..music.chords import ChordRow
from ..music.event import BREATH, Place, Tempo, Value
from ..music.exercise import (
    DIRECTIONS,
    FALLING,
    RISING,
    Exercise,
    Form,
    KeySequence,
    VariationRequest,
)
from ..music.keys import MODES, Key, rank, spellings, tonic_of
from ..music.pitch import Pitch
from ..music.score import Meter
from ..music.settings.second_part import parts_at_home
from ..music.settings.whole_range import whole_range_figures
from .faults import Fault, did_you_mean, few, shown
from .field_words import FIELDS
from .fields import FieldText, Source, decode, split, with_naming
from .namings import ENGLISH, Naming, foreign_tonic
from .notes.bounds import Bounds, too_much
from .notes.check_signs import tempo_faults
from .notes.chords import read_chords
from .notes.music import MusicReader
from .notes.second_part import SECOND_OF, read_second, with_second
from .notes.tokens import breath_of, meter_of, tempo_of, value_of
from .read_keys import read_keys
from .stretches import whole
from .syntax import example_in, parse, place
from .words import DIRECTION_WORDS, EQUAL_STEPS, KEY_STEPS

SUFFIX = ".warmup"
_SLUG = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_DEVICE = re.compile(r"con|prn|aux|nul|(com|lpt)[0-9]")
"""Names that no file or folder of Windows may have ("Naming Files, Paths, and Namespaces", from memory)."""
_DAY = re.compile(r"[12][0-9]{3}-[0-9]{2}-[0-9]{2}")
PASSES = ("first time", "second time")
GRADES = ("1", "2", "3", "4", "5")
_DEFAULT_TEMPO = Tempo(Value(Fraction(1, 4)), 54, 66)


@dataclass(frozen=True, slots=True)
class Reading:
    """The result of reading a file: an exercise (None if it has faults), its faults, and its source."""

    source: Source
    exercise: Exercise | None
    faults: tuple[Fault, ...]
    places: dict[str, Place]


def slug_of(file_name: str) -> str:
    """The address of an exercise from its file's name without folder: `slow-tide.warmup` is `slow-tide`.

    Raises ValueError if the name cannot be an address.
    """
    slug = file_name.removesuffix(SUFFIX)
    if len(slug) > 60 or not _SLUG.fullmatch(slug):
        raise ValueError("use small letters a to z, digits and single hyphens, at most 60 of them")
    if _DEVICE.fullmatch(slug):
        raise ValueError("Windows reserves this name for a device; choose another")
    return slug


def read(file: str, data: bytes, size: int | None = None, naming: Naming = ENGLISH) -> Reading:
    """Read one exercise. `file` is its name as messages show it; its last part gives the address.

    `size` is the whole file's size in bytes where `data` is only the beginning of one that is too large.
    `naming` is how the book names notes; the exercise may say another one.
    """
    source, faults = decode(file, data, size, naming)
    if faults:
        return Reading(source, None, few(faults), {})
    try:
        slug = slug_of(file.replace("\\", "/").rsplit("/", 1)[-1])
    except ValueError as error:
        faults.append(source.fault(1, 1, "the file's name cannot be an address", str(error)))
        slug = ""
    fields, layout = split(source)
    faults += layout
    source, unknown = with_naming(source, fields.get("notes"))
    faults += unknown
    reader = _FieldReader(source, fields)
    exercise = reader.exercise(slug)
    faults += reader.faults
    places = {name: Place(field.line, field.column) for name, field in fields.items()}
    return Reading(source, None if faults else exercise, few(faults), places)


class _FieldReader:
    """Reads fields by name. It notes what it cannot read in `faults`, and goes on with a default value."""

    def __init__(self, source: Source, fields: dict[str, FieldText]) -> None:
        self.source, self.fields = source, fields
        self.faults: list[Fault] = []

    def exercise(self, slug: str) -> Exercise:
        """The exercise. It may be used only if `faults` is still empty afterwards."""
        missing = [name for name, field in FIELDS.items() if field.required and name not in self.fields]
        if not any(FIELDS[name].form == "music" for name in self.fields):
            missing.append("music")
        for name in missing:
            example = example_in(self.source.naming, name).splitlines()[0]
            mend = f"add a line such as `{name}: {example}`"
            self.faults.append(self.source.fault_as_said(1, 1, f"the field {name!r} is missing", mend))
        if "music" in self.fields and any(f"music {way}" in self.fields for way in DIRECTIONS):
            field = self.fields["music"]
            mend = "write `music rising` and `music falling`"
            self.faults.append(
                self.source.fault(field.line, 1, "`music` is there beside a form for one direction", mend)
            )
        home, key = self.home()
        meter = self.meter()
        pickup = self.pickup()
        if meter.is_free and pickup:
            field = self.fields["pickup"]
            what = "free time has no full bars, so it has no pick-up"
            self.faults.append(self.source.fault(field.line, field.column, what, "take `pickup` out"))
            pickup = Fraction(0)
        elif pickup and pickup >= meter.length:
            field = self.fields["pickup"]
            mend = "leave `pickup` out, or make it shorter"
            self.faults.append(
                self.source.fault(field.line, field.column, "the pick-up fills a whole bar", mend)
            )
            pickup = Fraction(0)
        tempo = self.tempo()
        forms = tuple(self.forms(home, key, meter, pickup))
        for form in forms:
            for event, what, mend in tempo_faults(form.bars, tempo):
                at = event.place or Place(1, 1)
                self.faults.append(self.source.fault(at.line, at.column, what, mend))
        # Music with faults of its own would only bring more.
        sound = () if self.faults else forms
        second, found = read_second(self.source, self.fields, sound, key, meter, bool(pickup))
        self.faults += found
        prefer, named = self.spelling(key)
        wanted = self.variations("variations")
        added, changed = self.days()
        exercise = Exercise(
            slug=slug,
            title=self.words("title"),
            home=home,
            key=key,
            meter=meter,
            tempo=tempo,
            forms=forms,
            travel=self.travel(key),
            wanted=wanted,
            passes=self.passes(forms),
            pickup=pickup,
            purpose=self.words("purpose"),
            attend=self.attend(),
            about=self.words("about"),
            source=self.words("source"),
            rights=self.words("rights"),
            kind=self.words("kind"),
            drone=self.drone(),
            prefer=prefer,
            named=named,
            grade=self.grade(),
            way_grades=self.way_grades(wanted),
            keep_doubles=bool(self.one_of("doubles", ("keep",))),
            file=self.source.file,
            travel_at=self.place_of("travel") or self.place_of("keys") or self.place_of("home"),
            breath=self.breath(),
            added=added,
            changed=changed,
            second=second,
        )
        self.check_time(exercise)
        self.check_range(exercise)
        self.check_others(exercise)
        return self.with_chords(exercise)

    def with_chords(self, exercise: Exercise) -> Exercise:
        """The exercise with its chords, which need as many bars as are played."""
        field = self.fields.get("chords")
        if field is None or field.too_long or self.faults:
            return exercise
        rows: tuple[ChordRow, ...] = ()
        for form in exercise.forms:
            rows, found = read_chords(self.source, field, parts_at_home(exercise, form)[0], exercise.meter)
            self.faults += found
        return replace(exercise, chords=rows)

    def check_range(self, exercise: Exercise) -> None:
        """Note a fault where a figure over the whole range begins at one pitch after another."""
        if exercise.travel.by_pitch and any(whole_range_figures(form) for form in exercise.forms):
            field = self.fields["travel"]
            what = (
                "'travel' goes from pitch to pitch, and a figure over the whole range begins at none of them"
            )
            mend = "write it through keys, such as `travel: twelve keys, semitones up`"
            self.faults.append(self.source.fault(field.line, field.column, what, mend))

    def check_others(self, exercise: Exercise) -> None:
        """Note a fault where something goes bar by bar with a figure over the whole range."""
        for name in ("second", "chords", *SECOND_OF.values()):
            if name in self.fields and any(whole_range_figures(form) for form in _parts(exercise.forms)):
                field = self.fields[name]
                what = (
                    f"{name!r} goes bar by bar, and a figure over the whole range has other bars in each key"
                )
                mend = "say how far the figure goes, such as `scale( e two octaves )`"
                self.faults.append(self.source.fault(field.line, 1, what, mend))

    def check_time(self, exercise: Exercise) -> None:
        """Note a fault where a field says how long notes last that are not there."""
        if not any(form.bars for form in exercise.forms):
            return
        if "breath" in self.fields and not exercise.has_long_notes:
            field = self.fields["breath"]
            mend = "take it out, or write `meter: free` and notes such as `long D5`"
            what = "'breath' is there, and no note is held as long as the breath"
            self.faults.append(self.source.fault(field.line, field.column, what, mend))
        if "tempo" in self.fields and not exercise.is_counted:
            field = self.fields["tempo"]
            mend = "take it out, or say how long a breath lasts, such as `breath: 8 to 12 seconds`"
            what = "'tempo' is there, and nothing is counted"
            self.faults.append(self.source.fault(field.line, field.column, what, mend))

    def place_of(self, name: str) -> Place | None:
        field = self.fields.get(name)
        return Place(field.line, field.column) if field else None

    def words(self, name: str) -> str:
        field = self.fields.get(name)
        if field is None or field.too_long:
            return ""
        if not field.value:
            mend = f"write `{name}: {example_in(self.source.naming, name)}`, or take the line out"
            self.faults.append(
                self.source.fault_as_said(field.line, field.column, f"{name!r} says nothing", mend)
            )
        return field.value

    def one_of(self, name: str, choices: tuple[str, ...]) -> str:
        text = self.words(name)
        if text and text not in choices:
            field = self.fields[name]
            mend = f"write {' or '.join(choices)}"
            self.faults.append(
                self.source.fault(field.line, field.column, f"{name!r} cannot be {shown(text)}", mend)
            )
            return ""
        return text

    def attend(self) -> tuple[str, ...]:
        points: list[str] = []
        field = self.fields.get("attend")
        for number, row in field.rows() if field and not field.too_long else []:
            if row.startswith("- "):
                points.append(row[2:].strip())
            elif points:
                points[-1] += " " + row
            else:
                mend = "begin each point on a line of its own with a dash and a space"
                self.faults.append(self.source.fault(number, 1, "this point has no dash", mend))
        return tuple(points)

    def days(self) -> tuple[date | None, date | None]:
        """When it came into the book, and when it was changed last, where it says so."""
        text = self.words("added")
        if not text:
            return None, None
        first, comma, rest = (part.strip() for part in text.partition(","))
        word, _, second = rest.partition(" ")
        try:
            if comma and word != "changed":
                raise ValueError
            added, changed = _day(first), _day(second.strip()) if comma else None
        except ValueError:
            mend = "write a day such as `2026-11-01`, or `2026-11-01, changed 2027-01-10`"
            what = f"'added' cannot be {shown(text)}"
        else:
            if changed is None or added <= changed:
                return added, changed
            mend, what = "exchange the two days, or take one out", "it was changed before it was added"
        field = self.fields["added"]
        self.faults.append(self.source.fault(field.line, field.column, what, mend))
        return None, None

    def grade(self) -> int:
        """The exercise's own grade; 0 if it states none."""
        said = self.words("grade").partition(";")[0].strip()
        return self.grade_of(said, "grade") if said else 0

    def way_grades(self, wanted: tuple[VariationRequest, ...]) -> tuple[tuple[str, int], ...]:
        """The grades of its variations that it states, by their labels."""
        if "grade" not in self.fields or self.fields["grade"].too_long:
            return ()
        labels = [each.label for each in wanted]
        found = []
        for item in whole(self.fields["grade"]).said.partition(";")[2].split(","):
            name, _, number = item.strip().rpartition(" ")
            if not item.strip():
                continue
            if name not in labels:
                field = self.fields["grade"]
                mend = did_you_mean(name, labels, f"its variations are: {', '.join(labels) or 'none'}")
                what = f"'grade' names {shown(name)}, which is none of the variations"
                self.faults.append(self.source.fault(field.line, field.column, what, mend))
            elif grade := self.grade_of(number, f"grade of {name}"):
                found.append((name, grade))
        return tuple(found)

    def grade_of(self, said: str, what: str) -> int:
        """A grade from 1 to 5, or 0 with a fault."""
        if said in GRADES:
            return int(said)
        field = self.fields["grade"]
        mend = "write a number from 1 to 5, such as `2` or `2; eight levels 3`"
        self.faults.append(
            self.source.fault(field.line, field.column, f"the {what} cannot be {shown(said)}", mend)
        )
        return 0

    # -- fields with a grammar ------------------------------------------------------------------------

    def tree(self, name: str) -> Tree[Token] | None:
        field = self.fields.get(name)
        if field is None or field.too_long:
            return None
        tree = parse(self.source, field)
        if isinstance(tree, Fault):
            self.faults.append(tree)
            return None
        return tree

    def fault_at(self, name: str, token: Token, what: str, mend: str) -> None:
        self.faults.append(self.source.fault(*place(self.fields[name], token), what, mend))

    def home(self) -> tuple[Pitch, Key]:
        stand_in = Pitch.parse("D5"), Key(1, 0)
        tree = self.tree("home")
        if tree is None:
            return stand_in
        pitch_token, *rest = _tokens(tree)
        pitch = Pitch.parse(pitch_token)
        if len(rest) == 1:
            if abs(pitch.alter) > 1:
                self.fault_at("home", pitch_token, f"no page is called by {pitch}", "write its plain name")
                return stand_in
            return pitch, tonic_of(pitch, "")
        tonic, mode = rest
        key = Key(*ENGLISH.tonics[tonic], str(mode))
        if abs(key.fifths) > 7:
            better = spellings(key.pitch_class, key.mode)[0].name
            self.fault_at(
                "home", tonic, f"{key.name} has {abs(key.fifths)} accidentals", f"write it in {better}"
            )
            return stand_in
        return pitch, key

    def spelling(self, home: Key) -> tuple[str, tuple[Key, ...]]:
        """Whether flats or sharps are preferred, and the keys asked for by name."""
        prefer, named = "", []
        field = self.fields.get("spelling")
        naming = self.source.naming
        for wish in map(str.strip, self.words("spelling").split(",")) if field else ():
            key = _named_key(wish, home.mode, naming)
            if wish in ("flats", "sharps"):
                prefer = wish
            elif key and home.mode == key.mode and abs(rank(key)) <= 7:
                named.append(key)
            elif field and field.value:
                mend = f"write flats or sharps, or a key such as `A flat{f' {home.mode}' * bool(home.mode)}`"
                mend = foreign_tonic(wish.removesuffix(f" {home.mode}"), naming) or naming.retold(mend)
                what = f"'spelling' cannot be {shown(wish)}"
                self.faults.append(self.source.fault_as_said(field.line, field.column, what, mend))
        return prefer, tuple(named)

    def meter(self) -> Meter:
        tree = self.tree("meter")
        if tree is None:
            return Meter(4, 4)
        token, *groups = _tokens(tree)
        try:
            return meter_of(token, *groups)
        except ValueError as error:
            mend = "write beats over a note value, such as 4/4 or 6/8"
            if groups:
                mend = "write groups that make up the beats, such as 7/8 = 2+2+3"
            self.fault_at("meter", token, str(error), mend)
            return Meter(4, 4)

    def tempo(self) -> Tempo:
        tree = self.tree("tempo")
        if tree is None:
            return _DEFAULT_TEMPO
        tokens = _tokens(tree)
        try:
            return tempo_of(tokens)
        except ValueError as error:
            mend = "give beats a minute from 20 to 400, the slower first"
            self.fault_at("tempo", tokens[1], str(error), mend)
            return _DEFAULT_TEMPO

    def breath(self) -> tuple[int, int]:
        tree = self.tree("breath")
        if tree is None:
            return BREATH
        tokens = _tokens(tree)
        try:
            return breath_of(tokens)
        except ValueError as error:
            mend = "give seconds from 2 to 60, the shorter first, such as `breath: 8 to 12 seconds`"
            self.fault_at("breath", tokens[0], str(error), mend)
            return BREATH

    def pickup(self) -> Fraction:
        tree = self.tree("pickup")
        if tree is None:
            return Fraction(0)
        return sum((value_of(token).length for token in _tokens(tree)), Fraction(0))

    def drone(self) -> Pitch | None:
        tree = self.tree("drone")
        return None if tree is None else Pitch.parse(_tokens(tree)[0])

    def keys(self, home: Key) -> tuple[Key, ...]:
        field = self.fields.get("keys")
        if field is None or not self.words("keys"):
            return ()
        if "travel" in self.fields:
            what = "'keys' and 'travel' both say how it goes through the keys"
            self.faults.append(self.source.fault(field.line, 1, what, "take one of them out"))
        keys, faults = read_keys(self.source, field, home)
        self.faults += faults
        return keys

    def travel(self, home: Key) -> KeySequence:
        keys = self.keys(home)
        tree = self.tree("travel")
        if tree is None:
            return KeySequence(keys=keys)
        words = list(tree.scan_values(lambda value: isinstance(value, Token)))
        step = next((KEY_STEPS[EQUAL_STEPS.get(word, word)] for word in words if word.type == "STEP"), 1)
        directions = tuple(DIRECTION_WORDS[word] for word in words if word.type == "DIRECTION")
        pitches = [word for word in words if word.type == "PITCH"]
        if tree.data == "keys":
            return KeySequence(step, directions or (FALLING,))
        if not pitches:
            return KeySequence(step, directions or (FALLING,), whole_range=True)
        first, last = map(Pitch.parse, pitches)
        way = RISING if last.midi > first.midi else FALLING
        if directions and directions[0] != way:
            said = "up" if way == RISING else "down"
            self.fault_at(
                "travel", pitches[0], f"{first} to {last} goes {said}", f"write `{said}`, or turn them round"
            )
        return KeySequence(step, directions or (way,), first, last)

    def passes(self, forms: tuple[Form, ...]) -> tuple[VariationRequest, ...]:
        """How the first and the second time are played; empty if the music is played once."""
        named = [name for name in PASSES if name in self.fields]
        found: list[VariationRequest] = []
        for name in named:
            wanted = self.variations(name)
            if len(wanted) > 1 or any(each.called for each in wanted):
                field = self.fields[name]
                mend = "join its parts with +, without a comma or a name"
                what = f"{name!r} is one way of playing"
                self.faults.append(self.source.fault(field.line, field.column, what, mend))
            found += wanted[:1]
        if len(named) == 1:
            field = self.fields[named[0]]
            (other,) = set(PASSES) - set(named)
            mend = f"add a line such as `{other}: {FIELDS[other].example}`"
            what = f"{named[0]!r} is there without {other!r}"
            self.faults.append(self.source.fault(field.line, 1, what, mend))
        repeats = any(bar.end == ":|" or bar.ending or bar.jump for form in forms for bar in form.bars)
        if named and repeats:
            field = self.fields[named[0]]
            mend = "take the repeat signs out of the music; these fields repeat it"
            self.faults.append(self.source.fault(field.line, 1, f"{named[0]!r} and repeat signs", mend))
        return tuple(found) if len(found) == len(PASSES) else ()

    def variations(self, field: str) -> tuple[VariationRequest, ...]:
        tree = self.tree(field)
        if tree is None:
            return ()
        wanted = []
        for node in tree.children:
            assert isinstance(node, Tree)
            called, *tokens = node.children
            first = called or tokens[0]
            assert isinstance(first, Token)
            line, column = place(self.fields[field], first)
            names = tuple(" ".join(str(token).split()) for token in tokens)
            name = " ".join(str(called).split()) if called else ""
            wanted.append(VariationRequest(names, Place(line, column), name))
        return tuple(wanted)

    def forms(self, home: Pitch, key: Key, meter: Meter, pickup: Fraction) -> list[Form]:
        forms: list[Form] = []
        room = Bounds()
        music = [field for name, field in self.fields.items() if FIELDS[name].form == "music"]
        if any(field.too_long for field in music):
            return forms
        if fault := too_much(self.source, music):
            self.faults.append(fault)
            return forms

        def part(name: str, direction: str, is_second: bool = False) -> Form:
            reader = MusicReader(self.source, self.fields[name], home, key, meter, pickup, room)
            form = Form(direction, reader.read(is_second), tuple(reader.made))
            self.faults += reader.faults
            return form

        for name, direction in (("music", ""), ("music falling", FALLING), ("music rising", RISING)):
            if name in self.fields:
                form = part(name, direction)
                if other := self.fields.get(SECOND_OF[name]):
                    second = part(other.name, direction, is_second=True)
                    form, found = with_second(self.source, other, form, second, meter)
                    self.faults += found
                forms.append(form)
        return forms


def _parts(forms: tuple[Form, ...]) -> list[Form]:
    """Forms and their second parts."""
    return [part for form in forms for part in (form, form.second) if part]


def _named_key(said: str, mode: str, naming: Naming) -> Key | None:
    """The key of a name such as `A flat` or `A flat minor`, in `mode` if it says none; None for no key."""
    tonic, _, last = said.rpartition(" ")
    if last in MODES:
        said, mode = tonic, last
    note = naming.tonics.get(said)
    return Key(*note, mode) if note else None


def _day(text: str) -> date:
    """A day as ISO 8601 writes it, `2026-11-01`. Raises ValueError."""
    if not _DAY.fullmatch(text):
        raise ValueError(text)
    return date.fromisoformat(text)


def _tokens(tree: Tree[Token]) -> list[Token]:
    return [child for child in tree.children if isinstance(child, Token)]
