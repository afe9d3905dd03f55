"""Instruments of the studio's own: `instruments.toml` beside mkdocs.yml.

A table an instrument, its address as the table's name:

    [flute-b-foot]
    name = "Flute with B foot"
    like = "flute"
    low = "B3"

    [alto-recorder]
    name = "Alto recorder"
    sounds = "as written"
    clefs = ["treble"]
    low = "F4"
    high = "G6"
    beginning = "F4 to F5"
    developing = "F4 to D6"
    advanced = "F4 to G6"
    registers = ["low F4 to E5", "high F5 to G6"]
    source = "the maker's leaflet"

All pitches are written ones. `sounds` says where the sound lies from the page: `M2 lower`, `P8 higher`. What
is not said is taken from the instrument that `like` names; without one, the name and both ends are needed, a
level reaches as far as the instrument, and it is read in the treble clef and sounds as written. `fingerings`
names the instrument whose keys and fingerings it shares, as in `fingerings = "flute"`; those of the like
instrument are not taken unasked. An address that the project knows already may be given anew.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, TypeVar

from ..language.faults import Fault, did_you_mean, shown
from ..language.fields import MAX_BYTES, Source
from ..music.pitch import Interval, Pitch
from ..music.score import Compass
from ..music.winds.fingering_tables import FAMILIES
from ..music.winds.instrument import (
    AS_WRITTEN,
    CLEFS,
    LEVEL,
    LEVELS,
    Instrument,
    Reach,
    Register,
    Sources,
    ends,
    register,
)
from .addresses import RESERVED

FILE = "instruments.toml"

_SLUG = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_PLACE = re.compile(r" \(at line (\d+), column (\d+)\)$")
_NAME_LENGTH = 60
_DEFAULT_SOURCE = "the studio's own file"

_Made = TypeVar("_Made")


@dataclass
class _Table:
    """One instrument's table while it is read; `faults` collects what is wrong in it."""

    source: Source
    slug: str
    entries: dict[str, Any]
    faults: list[Fault]

    def fault(self, key: str, what: str, mend: str) -> None:
        line, column = _place(self.source.lines, self.slug, key)
        self.faults.append(self.source.fault(line, column, f"{self.slug}: {what}", mend))

    def text(self, key: str) -> str | None:
        """A text, or None where there is none or it is something else, which is a fault."""
        given = self.entries.get(key)
        if given is None or isinstance(given, str):
            return given
        self.fault(key, f"{key} is not a text", f'write it in quotation marks, as in {key} = "..."')
        return None

    def texts(self, key: str) -> tuple[str, ...] | None:
        """A list of texts, or None."""
        given = self.entries.get(key)
        if given is None:
            return None
        if isinstance(given, list) and all(isinstance(each, str) for each in given):
            return tuple(given)
        self.fault(key, f"{key} is not a list of texts", f'write it as in {key} = ["...", "..."]')
        return None

    def made(self, key: str, make: Callable[[str], _Made], mend: str) -> _Made | None:
        """A text made into something; None where there is none, or where it cannot be."""
        text = self.text(key)
        try:
            return None if text is None else make(text.strip())
        except ValueError as error:
            self.fault(key, f"{key}: {error}", mend)
            return None


def read_own(
    data: bytes, known: Mapping[str, Instrument], file: str = FILE
) -> tuple[dict[str, Instrument], list[Fault]]:
    """The instruments in a file's bytes by their addresses, and every fault in it.

    `known` are those that `like` may name besides the file's own earlier ones.
    """
    empty = Source(file, ())
    if len(data) > MAX_BYTES:
        what = f"the file is larger than {MAX_BYTES // 1024} KB"
        return {}, [empty.fault(1, 1, what, "keep to the instruments of the studio")]
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        what = "the file is not UTF-8 text"
        return {}, [empty.fault(line, 1, what, "save it from your editor with the encoding UTF-8")]
    source = Source(file, tuple(text.replace("\r\n", "\n").split("\n")))
    try:
        tables = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        # Numbers and brackets without end are no TOMLDecodeError of the library.
        known_to_it = isinstance(error, tomllib.TOMLDecodeError)
        said = str(error) if known_to_it else "a number is too long, or brackets lie too deep in each other"
        place = _PLACE.search(said)
        line, column = (int(place[1]), int(place[2])) if place else (len(source.lines), 1)
        what = f"this is not TOML: {_PLACE.sub('', said)}"
        mend = 'write `[address]` on a line of its own, then lines such as low = "C4"'
        return {}, [source.fault(line, column, what, mend)]
    found: dict[str, Instrument] = {}
    faults: list[Fault] = []
    for slug, entries in tables.items():
        table = _Table(source, slug, entries, faults)
        if not isinstance(entries, dict):
            table.fault("", "this comes before the first instrument", "begin one with `[address]` above it")
        elif _addressed(table) and (made := _instrument(table, {**known, **found})):
            found[slug] = made
    return found, faults


def _place(lines: tuple[str, ...], slug: str, key: str) -> tuple[int, int]:
    """Line and column, from 1, of a key in a table, or else of the table, or else the beginning."""
    header = re.compile(rf"\s*\[\s*[\"']?{re.escape(slug)}[\"']?\s*[].]")
    # Without a key: an entry that stands before any instrument.
    entry = re.compile(rf"\s*[\"']?({re.escape(key or slug)})[\"']?\s*[=.]")
    at, inside = (1, 1), not key
    for number, row in enumerate(lines, start=1):
        if row.lstrip().startswith("["):
            inside = bool(header.match(row))
            if inside:
                at = number, row.index("[") + 1
                inside = bool(key)
        elif inside and (match := entry.match(row)):
            return number, match.start(1) + 1
    return at


_KEYS = ("name", "like", "sounds", "clefs", "low", "high", *LEVELS, "registers", "fingerings", "source")


def _addressed(table: _Table) -> bool:
    slug = table.slug
    if not _SLUG.fullmatch(slug) or len(slug) > _NAME_LENGTH:
        mend = "use small letters, digits and hyphens, as in [alto-recorder]"
        table.fault("", f"{shown(slug)} cannot be an address", mend)
        return False
    if slug in RESERVED:
        table.fault("", "the site has this address for something else", f"name it {slug}-instrument, say")
        return False
    return True


def _instrument(table: _Table, known: Mapping[str, Instrument]) -> Instrument | None:
    """The instrument, or None where its faults leave none."""
    before = len(table.faults)
    for key in table.entries:
        if key not in _KEYS:
            table.fault(key, f"unknown {shown(key)}", did_you_mean(key, _KEYS, f"write {_listed(_KEYS)}"))
    like = _like(table, known)
    name = table.made("name", _name, "give it the name a player reads, in 60 letters at most")
    if "name" not in table.entries:
        table.fault("", "it has no name", 'add one, as in name = "Alto recorder"')
    compass = _compass(table, like)
    levels = _levels(table, compass, like)
    registers = _registers(table, compass, like)
    sounds = table.made("sounds", _sounds, "write `as written`, or as in `M2 lower` or `P8 higher`")
    clefs = _clefs(table)
    sources = _sources(table, like)
    fingerings = _fingerings(table)
    if len(table.faults) > before or compass is None or name is None:
        return None
    return Instrument(
        slug=table.slug,
        name=name,
        compass=compass,
        registers=registers,
        reaches=levels,
        sources=sources,
        transposition=sounds or (like.transposition if like and sounds is None else AS_WRITTEN),
        clefs=clefs or (like.clefs if like else ("treble",)),
        fingerings=fingerings,
    ).at_level(LEVEL)


def _fingerings(table: _Table) -> str:
    """The family that it is fingered like; none if not the file says so, for a like range has other keys."""
    text = table.text("fingerings") or ""
    if text and text not in FAMILIES:
        mend = did_you_mean(text, FAMILIES, f"write {_listed(FAMILIES)}")
        table.fault("fingerings", f"no fingerings are known as {shown(text)}", mend)
    return text


def _sources(table: _Table, like: Instrument | None) -> Sources:
    """The file's own source for what the file says; for the rest, that of the like instrument."""
    own = table.text("source") or _DEFAULT_SOURCE
    if like is None:
        return Sources(own, own, own, own, own)
    said = table.entries
    return Sources(
        low=own if "low" in said else like.sources.low,
        high=own if "high" in said else like.sources.high,
        levels=own if any(level in said for level in LEVELS) else like.sources.levels,
        registers=own if "registers" in said else like.sources.registers,
        sounds=own if "sounds" in said else like.sources.sounds,
    )


def _listed(words: tuple[str, ...]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}"


def _like(table: _Table, known: Mapping[str, Instrument]) -> Instrument | None:
    text = table.text("like")
    if text is not None and text not in known:
        mend = did_you_mean(text, known, f"there are: {', '.join(known)}")
        table.fault("like", f"unknown instrument {shown(text)}", mend)
    return known.get(text or "")


def _name(text: str) -> str:
    if not text or len(text) > _NAME_LENGTH or not text.isprintable():
        raise ValueError(f"{shown(text)} cannot be a name")
    return text


def _pitch(text: str) -> Pitch:
    pitch = Pitch.parse(text)
    if not 12 <= pitch.midi <= 127:
        raise ValueError(f"{shown(text)} is not a pitch of an instrument; C0 to G9 are")
    return pitch


def _sounds(text: str) -> Interval:
    if text == "as written":
        return AS_WRITTEN
    name, _, way = text.rpartition(" ")
    if way not in ("lower", "higher") or name[:1] in ("+", "-"):
        raise ValueError(f"{shown(text)} does not say how far and which way")
    interval = Interval.parse(name.strip())
    if interval.semitones > 48:
        raise ValueError(f"{shown(text)} is more than four octaves")
    return -interval if way == "lower" else interval


def _compass(table: _Table, like: Instrument | None) -> Compass | None:
    """The whole range, its preferred part not yet chosen."""
    found = {}
    for end in ("low", "high"):
        found[end] = table.made(end, _pitch, "C4 is middle C")
        if end not in table.entries:
            if like is None and "like" in table.entries:
                found[end] = None
            elif like is None:
                mend = f'add it, as in {end} = "C4", or name an instrument that it is like'
                table.fault("", f"its {end} end is missing", mend)
            else:
                found[end] = getattr(like.compass, end)
    low, high = found["low"], found["high"]
    if low is None or high is None:
        return None
    if low.midi >= high.midi:
        table.fault("low", f"it would go from {low} to {high}, which is not upward", "set low below high")
        return None
    return Compass(low, high, low, high)


def _levels(table: _Table, compass: Compass | None, like: Instrument | None) -> tuple[Reach, Reach, Reach]:
    beginning, developing, advanced = (_level(table, level, compass, like) for level in LEVELS)
    return beginning, developing, advanced


def _level(table: _Table, level: str, compass: Compass | None, like: Instrument | None) -> Reach:
    given = table.made(level, lambda text: Reach(*ends(text)), "write it as in C4 to A6")
    if compass is None:
        return given or Reach(Pitch(0, 0, 4), Pitch(0, 0, 4))
    if given is None:
        taken = like.reaches[LEVELS.index(level)] if like else Reach(compass.low, compass.high)
        low = max(taken.low, compass.low, key=lambda pitch: pitch.midi)
        high = min(taken.high, compass.high, key=lambda pitch: pitch.midi)
        return Reach(low, high) if low.midi < high.midi else Reach(compass.low, compass.high)
    if not compass.holds(given.low, given.high):
        what = f"{level}: {given} is more than the instrument has"
        table.fault(level, what, f"stay from {compass.low} to {compass.high}, or set low and high wider")
    return given


def _registers(table: _Table, compass: Compass | None, like: Instrument | None) -> tuple[Register, ...]:
    texts = table.texts("registers")
    if compass is None:
        return ()
    if texts is None:
        return _stretched(like.registers, compass) if like else ()
    found = []
    for text in texts:
        try:
            found.append(register(text))
        except ValueError as error:
            table.fault("registers", f"registers: {error}", "write each as in `low C4 to C#5`")
    for one in found:
        if not compass.holds(one.low, one.high):
            what = f"the register {one.name} goes beyond the instrument"
            table.fault("registers", what, f"stay from {compass.low} to {compass.high}")
    for below, above in pairwise(found):
        if above.low.midi <= below.high.midi:
            what = f"the register {above.name} begins before {below.name} has ended"
            table.fault("registers", what, "write them from the lowest up, none over another")
    return tuple(found)


def _stretched(registers: tuple[Register, ...], compass: Compass) -> tuple[Register, ...]:
    """Registers of a like instrument, cut or stretched to another one's ends."""
    held = [
        one for one in registers if one.low.midi <= compass.high.midi and one.high.midi >= compass.low.midi
    ]
    if held:
        held[0] = replace(held[0], low=compass.low)
        held[-1] = replace(held[-1], high=compass.high)
    return tuple(held)


def _clefs(table: _Table) -> tuple[str, ...]:
    clefs = table.texts("clefs")
    if clefs is None:
        return ()
    for clef in clefs:
        if clef not in CLEFS:
            table.fault("clefs", f"unknown clef {shown(clef)}", f"there are: {', '.join(CLEFS)}")
    if not clefs:
        table.fault("clefs", "clefs is empty", 'write the usual one first, as in clefs = ["bass", "tenor"]')
    return tuple(dict.fromkeys(clefs))
