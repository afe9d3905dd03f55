"""Checks that the fingerings an exercise asks for can be drawn for every instrument of the book."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..language.faults import Fault, shown
from ..language.read import Reading
from ..music.event import Event, Place
from ..music.exercise import Exercise
from ..music.settings.transpositions import settings_of
from ..music.winds.fingering import FINGERING_CHART, read_fingering
from ..music.winds.fingering_tables import Fingerings, fingerings
from ..music.winds.instrument import Instrument
from ..plurals import listed

_AS_TEXT = "the fingering as text with `fingering`"
_OWN = f'write the keys yourself, as in `{FINGERING_CHART} "1 2 | 1"`, or {_AS_TEXT}'
_USUAL = f"write `{FINGERING_CHART}` without keys, and each instrument has its own"
_MOST = 4
"""So many notes a message names."""


def chart_faults(reading: Reading, instruments: Sequence[Instrument]) -> list[Fault]:
    """The charts of an exercise that an instrument of the book cannot have, each at its note."""
    exercise = reading.exercise
    if exercise is None:
        return []
    asking = [event for event in _events(exercise) if _texts(event) or event.asks_for_chart]
    if not asking:
        return []
    line = Place(1, 1)
    found: dict[tuple[Place, str], str] = {}
    for instrument in instruments:
        if not instrument.fingerings:
            what = f"no fingerings are known for the {instrument.said}"
            found.setdefault((asking[0].place or line, what), f"write {_AS_TEXT}")
            continue
        known = fingerings(instrument.fingerings)
        for event in asking:
            for problem in _unreadable(event, known):
                mend = f"correct it, or {_USUAL}" if len(instruments) > 1 and known.usual else "correct it"
                found.setdefault((event.place or line, f"{problem} ({instrument.said})"), mend)
        for place, notes in _unknown(exercise, instrument, known).items():
            more = [*notes[:_MOST], "others"] if len(notes) > _MOST else notes
            what = f"no usual fingering of {listed(more)} is known for the {instrument.said}"
            found.setdefault((place or line, what), _OWN)
    return [reading.source.fault(at.line, at.column, what, mend) for (at, what), mend in found.items()]


def _events(exercise: Exercise) -> Iterator[Event]:
    for form in exercise.forms:
        for part in filter(None, (form, form.second)):
            for bar in part.bars:
                yield from bar.events


def _texts(event: Event) -> list[str]:
    """The author's own keys for a note, those for one key or register among them."""
    local = [words.text for words in event.local if words.side == "chart"]
    return [event.chart, *local] if event.chart else local


def _unreadable(event: Event, known: Fingerings) -> Iterator[str]:
    for text in _texts(event):
        try:
            read_fingering(text, known.mechanism)
        except ValueError as error:
            yield f"the fingering {shown(text)}: {error}"


def _unknown(exercise: Exercise, instrument: Instrument, known: Fingerings) -> dict[Place | None, list[str]]:
    """The printed notes that ask for their usual fingering and have none, by their places in the text."""
    found: dict[Place | None, list[str]] = {}
    for setting in settings_of(exercise, instrument):
        if not setting.fits:
            continue
        for bar in (*setting.bars, *setting.second):
            for event in bar.events:
                if event.asks_for_chart and event.pitch and known.chart(event) is None and not event.chart:
                    notes = found.setdefault(event.place, [])
                    note = str(event.fundamental or event.pitch)
                    notes += [note] if note not in notes else []
    return found
