"""A note or a rest as the engraver reads it, with the signs that stand at it. abjad writes each kind once."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any

import abjad

from ..music.beams import Beam
from ..music.event import OPTIONAL, SLUR, Event, Span, Tempo
from ..music.pitch import Pitch
from ..music.printed_words import MAY_BE_LEFT_OUT
from ..music.score import Bar, Score
from ..music.signs import (
    BENDS,
    CROSS,
    FERMATAS,
    FLUTTER,
    GLISSANDO,
    HARMONIC,
    INVERTED_MORDENT,
    MORDENT,
    TIMBRAL_TRILL,
    TRIANGLE,
    TURN,
    head_of,
)
from ..music.sounding.tempos import TEMPO_CHANGES, tempo_change
from .markup import ACCIDENTALS, pitch_name, quoted

if TYPE_CHECKING:
    pass

_ARTICULATIONS = {
    **{name: name for name in ("staccato", "tenuto", "portato", "accent", "marcato", "fermata", "trill")},
    **{name: name.replace("-", "") for name in FERMATAS},
    HARMONIC: "flageolet",
    MORDENT: "mordent",
    INVERTED_MORDENT: "prall",
    TURN: "turn",
    TIMBRAL_TRILL: "timbralTrill",
}
"""The engraver's names of signs on a note."""


_ORNAMENTS = (MORDENT, INVERTED_MORDENT, TURN)


_FREE_END = "!"
"""The dashed line that divides phrases in free time, as the engraver names it."""


_REPEAT_END = {":|": ":|."}
"""A bar's end as the engraver names it, where it has another name."""


Indicator = Any
"""What abjad attaches to a leaf: one of its indicators, or a pair of one and its direction."""


def literal(rows: str | list[str], site: str) -> Indicator:
    """A command of the house style, for which abjad has no indicator."""
    # abjad can hash one text, and no list.
    return abjad.LilyPondLiteral(rows if isinstance(rows, str) else "\n".join(rows), site=site)


def words_at(text: str, direction: Any) -> Indicator:
    """An italic text above or below a note."""
    return abjad.Markup(rf"\markup \italic \words {quoted(text)}"), direction


_STYLES = {CROSS: "cross", TRIANGLE: "triangle"}
"""The engraver's names of the shapes of heads."""


def write_event(
    event: Event, indicators: tuple[Indicator, ...], accidentals: Sequence[str], full: Fraction | None = None
) -> str:
    """An event with all that belongs to it; a rest for a `full` bar of that length stands in its middle."""
    length = full or event.value.written
    return _write_leaf(
        length.numerator,
        length.denominator,
        full is not None,
        event.pitch,
        tuple(event.under),
        event.fundamental,
        event.graces,
        _STYLES.get(head_of(event), ""),
        tuple(accidentals),
        indicators,
    )


@lru_cache(maxsize=16384)
def _write_leaf(
    whole_notes: int,
    parts: int,
    full: bool,
    pitch: Pitch | None,
    under: tuple[Pitch, ...],
    fundamental: Pitch | None,
    graces: tuple[Pitch, ...],
    style: str,
    accidentals: tuple[str, ...],
    indicators: tuple[Indicator, ...],
) -> str:
    """A note or rest of so many `parts` of a whole note, as abjad writes it; the rest is an event's."""
    leaf: abjad.Leaf
    if full:
        leaf = _make(abjad.MultimeasureRest, abjad.Duration(1, 1))
        abjad.attach(literal(f"*{whole_notes}/{parts}", "after"), leaf)
    elif pitch is None:
        leaf = _make(abjad.Rest, abjad.Duration(whole_notes, parts))
    elif under:
        leaf = _chord((*under, pitch), abjad.Duration(whole_notes, parts), accidentals)
    elif fundamental is not None:
        leaf = _harmonic(pitch, fundamental, abjad.Duration(whole_notes, parts), accidentals)
    else:
        leaf = _make(abjad.Note, abjad.Duration(whole_notes, parts), _named_pitch(pitch_name(pitch)))
        (head,) = _heads(leaf)
        _ask(head, accidentals[-1])
        if style:
            abjad.tweak(head, rf"\tweak style #'{style}")
    # A clef, a key or a meter is written only within what it holds for.
    abjad.Score([abjad.Staff([abjad.Voice([leaf])])])
    for indicator in (*_graces(graces, accidentals), *indicators):
        if isinstance(indicator, tuple):
            abjad.attach(indicator[0], leaf, direction=indicator[1])
        else:
            abjad.attach(indicator, leaf)
    return str(abjad.lilypond(leaf))


@cache
def _named_pitch(name: str) -> abjad.NamedPitch:
    """A pitch as abjad has it: a value, which it takes long to make."""
    return abjad.NamedPitch(name)


def _harmonic(
    pitch: Pitch, fundamental: Pitch, duration: abjad.Duration, accidentals: Sequence[str]
) -> abjad.Leaf:
    """A diamond for the fingered note, and over it on the same stem a small head for the one that sounds."""
    leaf = _chord((fundamental, pitch), duration, accidentals)
    low, high = _heads(leaf)
    abjad.tweak(low, r"\tweak style #'harmonic-mixed")
    # The page marks one head of a note.
    abjad.tweak(high, r"\tweak font-size #-4", r"\tweak details.played ##f")
    return leaf


def _chord(notes: Sequence[Pitch], duration: abjad.Duration, accidentals: Sequence[str]) -> abjad.Leaf:
    """Heads on one stem, lowest first; the last accidentals are theirs.

    The two abjads spell this differently.
    """
    pitches = [_named_pitch(pitch_name(each)) for each in notes]
    chord: Any = abjad.Chord
    if hasattr(chord, "from_duration_and_pitches"):
        leaf = chord.from_duration_and_pitches(duration, pitches)
    else:
        leaf = chord(pitches, duration)
    for head, accidental in zip(_heads(leaf), accidentals[-len(notes) :], strict=True):
        _ask(head, accidental)
    return leaf


def _heads(leaf: abjad.Leaf) -> list[Any]:
    """The heads of a note or a chord, lowest first; the two abjads spell this differently."""
    found: Any = leaf
    found = found.note_heads if isinstance(leaf, abjad.Chord) else found.note_head
    found = found() if callable(found) else found
    return list(found) if isinstance(leaf, abjad.Chord) else [found]


def _ask(head: Any, accidental: str) -> None:
    """Ask for an accidental, with `!`, or in brackets with `?`; the two abjads spell this differently."""
    if not accidental:
        return
    name = {"!": "is_forced", "?": "is_cautionary"}[accidental]
    if hasattr(head, f"set_{name}"):
        getattr(head, f"set_{name}")(True)
    else:
        setattr(head, name, True)


def _make(kind: Any, duration: abjad.Duration, pitch: abjad.NamedPitch | None = None) -> abjad.Leaf:
    """A leaf from objects; the two abjads spell this differently."""
    if pitch is None:
        return getattr(kind, "from_duration", kind)(duration)
    if hasattr(kind, "from_pitch_and_duration"):
        return kind.from_pitch_and_duration(pitch, duration)
    return kind.from_duration_and_pitch(duration, pitch)


def _graces(graces: Sequence[Pitch], accidentals: Sequence[str]) -> list[Indicator]:
    """The notes before an event, each with its accidental where one is asked for."""
    if not graces:
        return []
    value = abjad.Duration(1, 8 if len(graces) == 1 else 16)
    notes = []
    for pitch, asked in zip(graces, accidentals, strict=False):
        notes.append(_make(abjad.Note, value, abjad.NamedPitch(pitch_name(pitch))))
        (head,) = _heads(notes[-1])
        _ask(head, asked)
    if len(notes) == 1:
        return [abjad.BeforeGraceContainer(notes, command=r"\acciaccatura")]
    abjad.attach(abjad.StartBeam(), notes[0])
    abjad.attach(abjad.StopBeam(), notes[-1])
    return [abjad.BeforeGraceContainer(notes, command=r"\grace")]


def signs_after(event: Event, bar: Bar, place: int, ends: bool, short: bool, free: bool) -> list[Indicator]:
    """What belongs to an event or follows it; a `short` bar asks for its bar line.

    Signs of the note are articulations, which stand before a bar line or a breath.
    """
    found: list[Indicator] = [abjad.Tie()] if event.tie else []
    found += [abjad.Articulation("heldOn")] if event.value.held else []
    found += _tempo_signs(event)
    for span in _on_one_note_apart(event.closes, event.opens):
        found += [abjad.StopSlur()] if span == SLUR else []
        found += [abjad.Articulation("stopTextSpan")] if span == OPTIONAL else []
    for span in _on_one_note_apart(event.opens, event.closes):
        found += [abjad.StartSlur()] if span == SLUR else []
        found += [abjad.Articulation("startTextSpan")] if span == OPTIONAL else []
    for mark in event.marks:
        if mark == "trill" and event.trilled:
            found.append(abjad.Articulation(rf"trillWith \markup {ACCIDENTALS[event.trilled.alter]}"))
        elif mark in _ORNAMENTS and (event.trilled or event.lowered):
            found.append(_ornament(mark, event))
        elif mark in _ARTICULATIONS:
            found.append(abjad.Articulation(_ARTICULATIONS[mark]))
    if FLUTTER in event.marks:
        # Three strokes, and those of the note's own flags.
        found.append(abjad.StemTremolo(32 * max(1, event.value.base.denominator // 4)))
    found += [abjad.Glissando()] if GLISSANDO in event.marks else []
    found += [abjad.Articulation(f"bendAfter #{3 * BENDS[mark]}") for mark in event.marks if mark in BENDS]
    if event.fingering:
        found.append((abjad.Markup(rf"\markup \small \words {quoted(event.fingering)}"), abjad.UP))
    found += [words_at(event.above, abjad.UP)] if event.above else []
    found += [words_at(event.below, abjad.DOWN)] if event.below else []
    if place + 1 == len(bar.events) and (bar.end != "|" or short):
        end = _FREE_END if free and bar.end == "|" else _REPEAT_END.get(bar.end, bar.end)
        found.append(abjad.BarLine(end, site="after"))
    if ends and bar.ending:
        found.append(literal(r"\set Score.repeatCommands = #'((volta #f))", "after"))
    return found


def _ornament(mark: str, event: Event) -> Indicator:
    """An ornament with the accidentals of its other notes above and below it."""
    name = _ARTICULATIONS[mark]
    rows = [rf"\teeny {ACCIDENTALS[event.trilled.alter]}"] if event.trilled else []
    rows.append(rf'\musicglyph "scripts.{name}"')
    rows += [rf"\teeny {ACCIDENTALS[event.lowered.alter]}"] if event.lowered else []
    return abjad.Articulation(rf"ornamentWith \markup \center-column {{ {' '.join(rows)} }} \{name}")


def optional_words(score: Score, event: Event) -> list[Indicator]:
    """Over a note alone that may be left out the words; a bracket needs two ends."""
    if not (OPTIONAL in event.opens and OPTIONAL in event.closes):
        return []
    words = quoted(f"({score.words.of(MAY_BE_LEFT_OUT)})")
    return [(abjad.Markup(rf"\markup \small \italic {words}"), abjad.UP)]


def _tempo_signs(event: Event) -> list[Indicator]:
    """Where a tempo begins to change by and by, with where it leads; a dashed line lasts to its end."""
    change = tempo_change(event)
    closes = any(span.tempo for span in event.closes)
    if change is None or change.tempo is None:
        return [abjad.Articulation("stopTrillSpan")] if closes else []
    beat = change.tempo.beat
    note = rf"\fontsize #-3 \note {{ {beat.base.denominator}{'.' * beat.dots} }} #UP"
    goal = rf'\small \concat {{ "(" {note} {quoted(f" = {tempo_numbers(change.tempo)})")} }}'
    words = rf"\markup \line {{ \italic {quoted(TEMPO_CHANGES[change.kind])} {goal} }}"
    if closes:
        return [(abjad.Markup(words), abjad.UP)]
    return [abjad.Articulation(rf"tempoChange {words}")]


def tempo_numbers(tempo: Tempo) -> str:
    return str(tempo.low) if tempo.low == tempo.high else f"{tempo.low}-{tempo.high}"


def beam_signs(at: tuple[Beam, ...]) -> list[Indicator]:
    """Where a beam begins or ends; its shorter ones follow from the note values."""
    signs = {"begin": abjad.StartBeam, "end": abjad.StopBeam}
    return [signs[word]() for level, word in at if level == 1 and word in signs]


def _on_one_note_apart(spans: tuple[Span, ...], others: tuple[Span, ...]) -> list[Span]:
    """Spans that join two notes at least: a slur or a bracket that begins and ends on one is not drawn."""
    return [span for span in spans if not (span in others and span in (SLUR, OPTIONAL))]
