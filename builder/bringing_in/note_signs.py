"""Puts signs that were read from a file's XML on the events of a part, and takes out what does not fit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from typing import Any

from ..language.notes.check_signs import sign_faults, tempo_faults
from ..language.notes.repeat_words import repeat_faults
from ..music.event import DynamicMark, Event, Tempo
from ..music.score import Bar
from ..music.settings.harmonics import partial_of
from ..music.signs import END_SIGNS
from .raw_melody import RawSpan
from .remarks import Remarks, plain
from .xml_signs import FileSigns, NoteSigns, name_of_note

_FINGERING = 24
"""The most letters of a fingering in the language."""


class PartSigns:
    """The signs of a file, as the notes of one part come."""

    def __init__(self, signs: FileSigns) -> None:
        self._signs = signs
        self._firsts: dict[str, int] = {}
        self._lasts: dict[str, int] = {}
        self._count = -1

    def of_bar(self, number: int) -> tuple[str, str]:
        """The sign at the beginning of a bar, counted from 1, and the word at its end."""
        return self._signs.signs.get(number, ""), self._signs.jumps.get(number, "")

    def on(self, event: Event, each: Any, bar: int, place: int, first: bool, last: bool) -> Event:
        """The event, which is the `first` or the `last` of one of music21's notes, with the note's signs."""
        name = name_of_note(each)
        if self._signs.by_order and event.pitch is not None:
            self._count += first
            name = str(self._count)
        self._firsts.setdefault(name, place)
        self._lasts[name] = place
        signs = self._signs.notes.get(name, NoteSigns())
        pitch = event.pitch
        if pitch is None:
            return event
        if signs.sign:
            self._signs.signs.setdefault(bar, signs.sign)
        if signs.jump:
            self._signs.jumps.setdefault(bar, signs.jump)
        if signs.level and first:
            event = event.with_dynamic_marks(DynamicMark(Fraction(0), signs.level))
        marks = [mark for mark in signs.marks if last or mark not in END_SIGNS]
        if signs.fundamental and partial_of(pitch, signs.fundamental):
            marks.remove("harmonic")
            event = replace(event, fundamental=signs.fundamental)
        text = plain(signs.fingering, _FINGERING).replace('"', "'")
        return replace(event.marked(*marks), fingering=text if first else "")

    def changes(self) -> Iterator[RawSpan]:
        """The ritardandos and accelerandos over notes of this part."""
        for change in self._signs.changes:
            if change.first in self._firsts and change.last in self._lasts:
                first, last = self._firsts[change.first], self._lasts[change.last]
                yield RawSpan(change.kind, first, last, tempo=change.tempo)


def without_faults(bars: tuple[Bar, ...], tempo: Tempo, remarks: Remarks) -> tuple[Bar, ...]:
    """The bars without signs that the language would refuse: each is remarked."""
    for bar, what, _ in repeat_faults(bars):
        remarks.add(f"{what}; the ways back and out are left out", bars.index(bar) + 1)
    if next(repeat_faults(bars), None):
        bars = tuple(replace(bar, sign="", jump="") for bar in bars)
    wrong = {id(event): what for event, what, _ in sign_faults([each for bar in bars for each in bar.events])}
    wrong_changes = {id(event): what for event, what, _ in tempo_faults(bars, tempo)}
    found = []
    for number, bar in enumerate(bars, start=1):
        events = []
        for event in bar.events:
            if what := wrong.get(id(event), ""):
                remarks.add(f"{what}; the signs of the note are left out", number)
                event = replace(event, marks=(), fundamental=None)
            events.append(event)
        if any(id(event) in wrong_changes for event in bar.events):
            remarks.add("a change of tempo that leads to none; left out", number)
        found.append(replace(bar, events=tuple(events)))
    if wrong_changes:
        return tuple(replace(bar, events=tuple(map(_without_changes, bar.events))) for bar in found)
    return tuple(found)


def _without_changes(event: Event) -> Event:
    opens, closes = (tuple(span for span in spans if not span.tempo) for spans in (event.opens, event.closes))
    return replace(event, opens=opens, closes=closes)
