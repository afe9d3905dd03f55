"""Names notes that are not in the key, by direction and function, as a copyist does.

A chromatic note that rises is a raised note, and one that falls is a lowered note. A chromatic run does not
mix sharps and flats. Compare E. Prout, "Harmony" (1889), on the spelling of the chromatic scale. Common
practice where no source is named.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import groupby

from .event import Event
from .keys import Key
from .pitch import Interval, Pitch
from .score import Bar, each_event, with_events

_TRITONES = (Interval.parse("A4"), Interval.parse("d5"))
_ODD = ("E#", "B#", "Cb", "Fb")


def names(midi: int) -> tuple[Pitch, ...]:
    """The printable names of a MIDI note without double accidentals, flat side first."""
    found = []
    for step in range((midi // 12 - 1) * 7 - 1, (midi // 12 - 1) * 7 + 8):
        natural = Pitch(step % 7, 0, step // 7)
        if abs(midi - natural.midi) <= 1:
            found.append(replace(natural, alter=midi - natural.midi))
    return tuple(sorted(found, key=lambda pitch: pitch.alter))


def outside(pitch: Pitch, key: Key) -> int:
    """How far a pitch's accidental is from what the signature gives its letter."""
    return abs(pitch.alter - key.alteration(pitch.letter))


def chromatic(midi: int, key: Key, rising: bool) -> Pitch:
    """The name of a note in a key: the key's own, else raised or lowered by direction.

    E sharp, B sharp, C flat and F flat are avoided unless they are in the key.
    """

    def cost(pitch: Pitch) -> tuple[int, bool, int]:
        change = pitch.alter - key.alteration(pitch.letter)
        odd = pitch.name in _ODD and change != 0
        return abs(change) > 0, odd or abs(change) > 1, -change if rising else change

    return min(names(midi), key=cost)


# The function of a note that is not in the key, by semitones above the tonic: is it the raised step below it
# or the lowered step above? In major the raised first, fourth and fifth lead to the second, fifth and sixth,
# and the third and seventh are lowered; in minor all are raised (the fourth, sixth and seventh, and the third
# of the major chord that leads to the fourth step), but for the lowered second.
_RAISED = {
    "major": {1: True, 3: False, 6: True, 8: True, 10: False},
    "minor": {1: False, 4: True, 6: True, 9: True, 11: True},
}


def is_raised(midi: int, key: Key) -> bool:
    """Whether a chromatic note is, by its function in a key, a raised one."""
    third = (key.letter + 2) % 7
    major = not key.mode or key.alteration(third) == Key(key.letter, key.alter).alteration(third)
    return _RAISED["major" if major else "minor"].get((midi - key.pitch_class) % 12, True)


def spelled_pair(low: int, width: Interval, key: Key) -> tuple[Pitch, Pitch]:
    """Two pitches a spelled interval apart, with the names that suit a key; `low` is the first's MIDI number.

    The choice avoids double accidentals, then accidentals outside the key, then raised or lowered notes
    against their function in the key, then all accidentals. Without a key it follows the major key on its
    note, but avoids E sharp, B sharp, C flat and F flat, and may spell a tritone either way.
    """
    widths = _TRITONES if width in _TRITONES and not key.mode else (width,)
    pairs = [(name, name.up(each)) for name in names(low) for each in widths]
    own = key if key.mode else replace(key, mode="major")

    def cost(pair: tuple[Pitch, Pitch]) -> tuple[int, ...]:
        changes = [(pitch.alter - own.alteration(pitch.letter), is_raised(pitch.midi, own)) for pitch in pair]
        return (
            sum(abs(pitch.alter) > 1 for pitch in pair),
            0 if key.mode else sum(pitch.name in _ODD for pitch in pair),
            sum(abs(change) for change, _ in changes),
            sum((change > 0) != raised for change, raised in changes if change),
            sum(abs(pitch.alter) for pitch in pair),
        )

    return min(pairs, key=cost)


def _leads(pitch: Pitch, before: Pitch | None, after: Pitch | None, key: Key) -> bool:
    """Whether a doubly raised note is a leading note, or the raised sixth step of minor."""
    if pitch.alter != 2 or not key.mode:
        return False
    above = (pitch.letter - key.letter) % 7, (pitch.pitch_class - key.pitch_class) % 12
    if above in ((6, 11), (5, 9)):
        return True
    if after is None or (after.step - pitch.step, after.midi - pitch.midi) != (1, 1):
        return False
    # A note reached by semitone from its own letter is a passing note, not a leading note.
    return before is None or (pitch.step - before.step, pitch.midi - before.midi) != (0, 1)


def plain(pitch: Pitch, most: int = 1) -> Pitch:
    """The pitch; or its plain name (G for F double sharp) if its accidental is more than `most`-fold."""
    while abs(pitch.alter) > most:
        pitch = pitch.respelled(1 if pitch.alter > 0 else -1)
        most = 1
    return pitch


def without_doubles(bars: tuple[Bar, ...], key: Key) -> tuple[Bar, ...]:
    """Bars with plain names for all double accidentals except a leading note's."""

    def rename(pitch: Pitch, before: Pitch | None, after: Pitch | None) -> Pitch:
        return plain(pitch, 2 if _leads(pitch, before, after, key) else 1)

    return _renamed(bars, lambda pitch: abs(pitch.alter) > 1, rename)


def without_odd_names(bars: tuple[Bar, ...]) -> tuple[Bar, ...]:
    """Bars with plain names for E sharp, B sharp, C flat and F flat that do not resolve by semitone."""

    def rename(pitch: Pitch, before: Pitch | None, after: Pitch | None) -> Pitch:
        way = pitch.alter
        leads = after is not None and (after.step - pitch.step, after.midi - pitch.midi) == (way, way)
        return pitch if leads else plain(pitch, 0)

    return _renamed(bars, lambda pitch: pitch.name in _ODD, rename)


def _renamed(
    bars: tuple[Bar, ...],
    wanted: Callable[[Pitch], bool],
    rename: Callable[[Pitch, Pitch | None, Pitch | None], Pitch],
) -> tuple[Bar, ...]:
    """Bars with the wanted pitches renamed; `rename` also gets the nearest other pitches before and after."""
    line = [pitch for bar in bars for event in bar.events if event.pitch for pitch in event.pitches]
    if not any(map(wanted, line)):
        return bars
    rows = [(pitch, len(list(same))) for pitch, same in groupby(line)]
    others = [None, *(pitch for pitch, _ in rows), None]
    found: list[Pitch] = []
    for place, (pitch, count) in enumerate(rows):
        name = rename(pitch, others[place], others[place + 2]) if wanted(pitch) else pitch
        found += [name] * count
    names = iter(found)

    def renamed(event: Event) -> Event:
        if event.pitch is None:
            return event
        graces = tuple(next(names) for _ in event.graces)
        return replace(event, graces=graces, pitch=next(names))

    return each_event(bars, renamed)


def _runs(events: list[Event]) -> Iterator[tuple[int, int, bool]]:
    """Runs of four or more notes by semitone: the first place, the place after the last, whether it rises."""
    start = 0
    while start < len(events):
        end, way = start + 1, 0
        while end < len(events):
            here, there = events[end - 1].pitch, events[end].pitch
            step = there.midi - here.midi if here and there else 0
            if abs(step) != 1 or (way and step != way):
                break
            way, end = step, end + 1
        if end - start >= 4:
            yield start, end, way > 0
        start = max(end - 1, start + 1)


def mixed_runs(bars: tuple[Bar, ...]) -> int:
    """How many chromatic runs mix sharps and flats."""
    events = [event for bar in bars for event in bar.events]
    return sum(_mixed(events[start:end]) for start, end, _ in _runs(events))


def _mixed(events: list[Event]) -> bool:
    signs = {event.pitch.alter for event in events if event.pitch}
    return min(signs) < 0 < max(signs)


def tidy_runs(bars: tuple[Bar, ...], key: Key) -> tuple[Bar, ...]:
    """Bars whose chromatic runs do not mix sharps and flats: they rise in sharps and fall in flats."""
    events = [event for bar in bars for event in bar.events]
    for start, end, rising in _runs(events):
        if _mixed(events[start:end]):
            for index in range(start, end):
                pitch = events[index].pitch
                assert pitch is not None
                events[index] = replace(events[index], pitch=chromatic(pitch.midi, key, rising))
    return with_events(bars, events)


def fit_trills(bars: tuple[Bar, ...]) -> tuple[Bar, ...]:
    """Bars with each ornament's named notes on the letters beside its main note's present letter.

    If that needed a triple accidental, the main note is respelled.
    """
    return each_event(bars, _fit_trill)


def _fit_trill(event: Event) -> Event:
    if event.pitch is None or not (event.trilled or event.lowered):
        return event
    for pitch in (event.pitch, event.pitch.respelled(1), event.pitch.respelled(-1)):
        upper = _beside(pitch.next_letter, event.trilled)
        lower = _beside(pitch.letter_below, event.lowered)
        if all(abs(each.alter) <= 2 for each in (pitch, upper, lower) if each):
            return replace(event, pitch=pitch, trilled=upper, lowered=lower)
    return event


def _beside(letter: Pitch, sounding: Pitch | None) -> Pitch | None:
    """A natural note altered to the sound of another, if there is one."""
    return replace(letter, alter=sounding.midi - letter.midi) if sounding else None
