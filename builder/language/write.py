"""Writes an exercise as text: what `read` reads back to the same exercise, places in the file apart.

A figure is written out note by note, but one over the whole range of an instrument as its word.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import accumulate

from ..music.event import (
    DYING,
    GROWING,
    HAIRPIN_END,
    HAIRPINS,
    LEVELS,
    STRAIGHT,
    WAVE,
    Event,
    Span,
    Tempo,
    Value,
    values_for,
)
from ..music.exercise import BlockChords, Canon, Exercise, Form, GeneratedFigure, KeySequence, Pedal
from ..music.score import Meter
from ..music.settings.whole_range import with_figures_as_notes
from ..music.winds.fingering import FINGERING_CHART
from ..plurals import count_of
from .namings import ENGLISH, Naming
from .notes.chords import write_chords
from .notes.ornament_words import NAMED_NOTES, write_ornament
from .notes.second_part import SECOND_OF, STEPS
from .read import PASSES
from .words import ACCIDENTALS, DIRECTION_WORDS, GROUPS, KEY_STEPS, VALUES, Hairpin

_LETTERS = {length: name for name, length in VALUES.items() if len(name) == 1}
_ACCIDENTALS = {alter: word for word, alter in ACCIDENTALS.items()}
_STEPS = {step: word for word, step in KEY_STEPS.items()}
_WAYS = {way: word for word, way in DIRECTION_WORDS.items()}
_HAIRPIN_WORDS = {word.effect.mark: word.name for word in GROUPS.values() if isinstance(word.effect, Hairpin)}


def write(
    exercise: Exercise, remarks: Mapping[str, Sequence[str]] | None = None, naming: Naming = ENGLISH
) -> str:
    """The text of an exercise. Raises ValueError on music that the language cannot say.

    `remarks` are lines to stand as remarks before a field, by its name; those by the name "" head the file.
    `naming` is how its book names notes.
    """
    fields = _fields(exercise, naming)
    rows: list[str] = []
    for name in ("", *fields):
        said = (remarks or {}).get(name, ())
        rows += [""] * bool(said and rows) + [f"# {line}".rstrip() for line in said]
        rows += [""] * bool(said and not name)
        rows += fields.get(name, [])
    return "\n".join(rows) + "\n"


def _fields(exercise: Exercise, naming: Naming) -> dict[str, list[str]]:
    """The lines of each field that the exercise needs, in their order."""
    fields = {"title": [f"title: {exercise.title}"]}

    def add(name: str, text: str) -> None:
        if text:
            fields[name] = [f"{name}: {text}"]

    for name in ("kind", "purpose", "about", "source", "rights"):
        add(name, getattr(exercise, name))
    if exercise.added:
        changed = f", changed {exercise.changed}" if exercise.changed else ""
        add("added", f"{exercise.added}{changed}")
    if exercise.attend:
        fields["attend"] = ["attend:", *(f"  - {point}" for point in exercise.attend)]
    key = f"in {naming.tonic(exercise.key)} {exercise.key.mode}" if exercise.key.mode else "without key"
    add("home", f"{naming.pitch(exercise.home)} {key}")
    add("meter", _meter(exercise.meter))
    if exercise.is_counted:
        add("tempo", _tempo(exercise.tempo))
    if exercise.has_long_notes:
        add("breath", exercise.breath_words)
    add("pickup", " ".join(_lengths(exercise.pickup)) if exercise.pickup else "")
    add("drone", naming.pitch(exercise.drone) if exercise.drone else "")
    add("chords", write_chords(exercise.chords, naming))
    add("second", _rule(exercise.second, naming))
    if exercise.travel.keys:
        add("keys", ", ".join(map(naming.tonic, exercise.travel.keys)))
    else:
        add("travel", _travel(exercise.travel, naming))
    wishes = (f"{w.called} = " * bool(w.called) + " + ".join(w.names) for w in exercise.wanted)
    add("variations", ", ".join(wishes))
    add("grade", _grades(exercise))
    for name, each in zip(PASSES, exercise.passes, strict=False):
        add(name, " + ".join(each.names))
    named = [f"{naming.tonic(key)} {key.mode}".rstrip() for key in exercise.named]
    add("spelling", ", ".join([exercise.prefer] * bool(exercise.prefer) + named))
    add("doubles", "keep" if exercise.keep_doubles else "")
    for form in exercise.forms:
        name = f"music {form.direction}".rstrip()
        fields[name] = [f"{name}:", *(f"  {row}" for row in _music(exercise, form, naming))]
        if form.second:
            other = SECOND_OF[name]
            fields[other] = [f"{other}:", *(f"  {row}" for row in _music(exercise, form.second, naming))]
    return fields


def _grades(exercise: Exercise) -> str:
    ways = ", ".join(f"{label} {grade}" for label, grade in exercise.way_grades)
    return "; ".join(filter(None, (str(exercise.grade or ""), ways)))


def _rule(rule: Canon | Pedal | BlockChords | None, naming: Naming) -> str:
    if isinstance(rule, Pedal):
        return f"pedal on {naming.pitch(rule.pitch)}{', tied' * rule.tied}"
    if isinstance(rule, BlockChords):
        return "block chords" + ("" if rule == BlockChords() else f" in the {rule.clef} clef")
    if rule is None:
        return ""
    interval = next(name for name, steps in STEPS.items() if steps == abs(rule.steps))
    way = " above" if rule.steps > 0 else " below" if rule.steps else ""
    return f"canon at the {interval}{way} after {count_of(rule.bars, 'bar')}"


def _meter(meter: Meter) -> str:
    if meter.is_free:
        return "free"
    return f"{meter} = {'+'.join(map(str, meter.groups))}" if meter.groups else str(meter)


def _value(value: Value) -> str:
    return "long" if value.held else _LETTERS[value.base] + "." * value.dots


def _tempo(tempo: Tempo) -> str:
    to = f" to {tempo.high}" if tempo.high != tempo.low else ""
    return f"{_value(tempo.beat)} = {tempo.low}{to}"


def _lengths(length: Fraction) -> Iterator[str]:
    return (_value(value) for value in values_for(length))


def _travel(travel: KeySequence, naming: Naming) -> str:
    step = _STEPS[travel.step]
    first, *then = (_WAYS[way] for way in travel.directions)
    if not travel.by_pitch:
        return f"twelve keys, {step} {first}"
    through = "through the range"
    if travel.first and travel.last and not travel.whole_range:
        through = f"from {naming.pitch(travel.first)} to {naming.pitch(travel.last)}"
    return f"{step} {first} {through}" + "".join(f", then {way}" for way in then)


@dataclass(frozen=True, slots=True)
class _Group:
    """Words around events: `opens` before the first, a bracket after the last; places count all events.

    Of spans over the same events, the one that closes later, with the lower `order`, stands outside.
    """

    first: int
    last: int
    opens: str
    order: int = 0


def _music(exercise: Exercise, form: Form, naming: Naming) -> Iterator[str]:
    """A row of text for each bar; one row for a figure over the whole range."""
    bars, figures = with_figures_as_notes(exercise, form)
    events = [event for bar in bars for event in bar.events]
    groups = sorted(_groups(events), key=lambda group: (group.first, -group.last, group.order))
    place, value, ending = 0, "", 0
    for number, bar in enumerate(bars):
        words = []
        if bar.ending and bar.ending != ending:
            words.append("first-time(" if bar.ending == 1 else "second-time(")
        ending = bar.ending
        words += [f"meter( {_meter(bar.meter)} )"] if bar.meter else []
        words += [f"tempo( {_tempo(bar.tempo)} )"] if bar.tempo else []
        words += [bar.sign] if bar.sign else []
        words += ["|:"] if bar.opens_repeat else []
        for event in bar.events:
            words += [f"clef( {event.clef} )"] if event.clef else []
            words += [f"{mark}(" for mark in figures[place].marks] if place in figures else []
            words += [group.opens for group in groups if group.first == place]
            if event.graces:
                words.append(f"grace( {' '.join(map(naming.pitch, event.graces))} )")
            if place in figures:
                words += _figure(figures[place])
            else:
                if _value(event.value) != value:
                    value = _value(event.value)
                    words.append(value)
                words.append(naming.pitch(event.pitch) if event.pitch else "rest")
            words += _signs(event, naming)
            words += [")" for group in groups if group.last == place]
            words += [")" for _ in figures[place].marks] if place in figures else []
            place += 1
        last = number + 1 == len(bars)
        words += [bar.jump] if bar.jump else []
        words.append("|" if bar.end == "|." else bar.end)
        words += [f"{bar.times} times"] if bar.times != 2 else []
        if ending and (last or bars[number + 1].ending != ending):
            words.append(")")
        yield " ".join(words)


def _figure(figure: GeneratedFigure) -> Iterator[str]:
    yield f"{figure.figure}( {_value(figure.value)}"
    yield from figure.words
    yield ")"


def _signs(event: Event, naming: Naming) -> Iterator[str]:
    yield from (shade.mark for shade in event.dynamic_marks if shade.mark in LEVELS)
    for mark in event.marks:
        yield write_ornament(mark, event.trilled, event.lowered) if mark in NAMED_NOTES else mark
    if event.fundamental:
        yield f"harmonic( {naming.pitch(event.fundamental)} )"
    for side, text in _texts(event):
        if text:
            yield f'{side} "{text}"'
    for words in event.local:
        side = {"syllable": "say", "chart": FINGERING_CHART}.get(words.side, words.side)
        yield f'in {naming.place_of_words(words.where)} {side} "{words.text}"'
    if event.tie:
        yield "tie"


def _texts(event: Event) -> tuple[tuple[str, str], ...]:
    return (
        ("above", event.above),
        ("below", event.below),
        ("say", event.syllable),
        ("fingering", event.fingering),
        (FINGERING_CHART, event.chart),
    )


def _groups(events: list[Event]) -> Iterator[_Group]:
    open_spans: dict[Span, list[int]] = {}
    hairpin: tuple[int, str] | None = None
    for place, event in enumerate(events):
        for span in event.opens:
            open_spans.setdefault(span, []).append(place)
        for number, span in enumerate(event.closes, start=1):
            ratio = f" {span.ratio[0]}:{span.ratio[1]}" if span.ratio else ""
            goal = f" {_tempo(span.tempo)}" if span.tempo else ""
            yield _Group(open_spans[span].pop(), place, f"{span.kind}({ratio}{goal}", -number)
        for shade in event.dynamic_marks:
            if shade.mark in HAIRPINS:
                if shade.at or shade.mark not in _HAIRPIN_WORDS:
                    raise ValueError("a hairpin within a note, or from silence, has no word")
                hairpin = (place, shade.mark)
            elif shade.mark == HAIRPIN_END and hairpin:
                yield _Group(hairpin[0], place, f"{_HAIRPIN_WORDS[hairpin[1]]}(")
                hairpin = None
    yield from _waves(events)


_HALF = Fraction(1, 2)
_VIBRATO = {
    ((Fraction(0), WAVE),): "vibrato",
    ((Fraction(0), STRAIGHT), (_HALF, GROWING)): "late-vibrato",
    ((Fraction(0), DYING), (_HALF, STRAIGHT)): "fading-vibrato",
}
"""The groups of vibrato by their signs, each with its part of the group's time."""


def _waves(events: list[Event]) -> Iterator[_Group]:
    """Vibrato from one moment to another as the group that has these signs."""
    starts = list(accumulate((event.length for event in events), initial=Fraction(0)))
    signs: list[tuple[Fraction, str]] = []
    for place, event in enumerate(events):
        for shade in event.vibrato:
            moment = starts[place] + shade.at * event.length
            if shade.mark != HAIRPIN_END:
                signs.append((moment, shade.mark))
                continue
            first = signs[0][0] if signs else moment
            parts = tuple(((at - first) / ((moment - first) or 1), mark) for at, mark in signs)
            if parts not in _VIBRATO or first not in starts or moment not in starts:
                raise ValueError("vibrato that begins or ends where no group of the language does")
            yield _Group(starts.index(first), starts.index(moment) - 1, f"{_VIBRATO[parts]}(")
            signs = []
