"""A score as LilyPond's notation: abjad writes the notes with all that belongs to them.

Most notes of a book are like others, and abjad takes long to write one, so its text is remembered. What holds
notes (staves, voices, tuplets) is written here.

abjad 3.19 (Python 3.11) and 3.31 (Python 3.12 and later) differ; this module keeps to what both have, and
no other module imports abjad. Every text of a user passes `quoted`.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Sequence
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING

import abjad

from ..music.accidentals import BRACKETS, COURTESY, NEEDED, NONE, accidentals
from ..music.bars import BarPlace, bar_places
from ..music.beams import beams
from ..music.event import HAIRPIN_END, LEVELS, OPTIONAL, DynamicMark, Event
from ..music.keys import Key
from ..music.pitch import LETTERS
from ..music.printed_words import MAY_BE_LEFT_OUT, TIMES
from ..music.score import Bar, Score, Staff
from ..music.signs import (
    technique_words,
)
from ..music.sounding.repeats import words_at_end
from ..music.winds.instrument import CLEFS
from .breaks import (
    BRACKET,
    CROWDED,
    SPACING,
    LineEnd,
    ending_at,
    held_width,
    lines,
    parted,
    times_within_bars,
)
from .chord_names import chord_words
from .fingering_charts import chart_sign
from .leaves import (
    Indicator,
    beam_signs,
    literal,
    optional_words,
    signs_after,
    tempo_numbers,
    words_at,
    write_event,
)
from .markup import ALTERS, quoted

if TYPE_CHECKING:
    from .piece import Layout


_BREATH_LOWEST = 3.5
_BREATH_ABOVE = 1.5
"""Staff spaces: a breath mark above the middle line, and above the notes beside it, at the least."""

_NUMBERED_FROM = 3
"""So many lines has a piece whose lines begin with the number of their first bar."""


@cache
def _key_signature(key: Key) -> tuple[abjad.KeySignature, ...]:
    """None where there is no key."""
    if not key.mode:
        return ()
    tonic = abjad.NamedPitchClass(LETTERS[key.letter].lower() + ALTERS[key.alter])
    return (abjad.KeySignature(tonic, abjad.Mode(key.mode)),)


def notation(score: Score, layout: Layout | None = None, filled: float = 1.0) -> str:
    """The score as a LilyPond `\\score` block.

    With a layout its lines are broken as `breaks` says, else as the engraver will; with `filled` they hold
    what fits into that part of the paper.
    """
    broken = None
    if layout:
        broken = lines(score, layout.room * filled, layout.spacing, layout.meter, layout.alike)
    spacing = layout.spacing if layout else SPACING
    parts: list[str] = []
    duet: list[str] = []
    for number, line in enumerate(score.lines):
        parted_at: Container[tuple[int, int]] = ()
        if number and broken:
            times = list(times_within_bars(score.line, broken.ends))
            line = parted(line, times)
            parted_at = set(ending_at(line, times)) if line.part else ()
        above = [] if number else _chord_row(score)
        above += _row("Waves", number, line, lambda event: event.vibrato)
        below = _syllables(line, number)
        dynamics = _row("Dynamics", number, line, _printed_shades)
        ends = broken.ends if broken and not number else ()
        in_duet = score.second is not None and line.part
        (duet if in_duet else parts).extend(
            [*above, _staff(score, line, number, ends, spacing, parted_at), *dynamics, *below]
        )
    if duet:
        parts.insert(0, _context("Duet", duet))
    staves = len(score.lines) - (1 if duet else 0)
    group = [_context("StaffGroup", parts)] if staves > 1 else parts
    block = _layout_block(layout, broken.justified, bool(duet)) if layout and broken else ""
    return f"\\score {{\n{_context('Score', group)}\n{block}}}\n"


def _context(kind: str, rows: Iterable[str], name: str = "") -> str:
    """A context: with a name, what follows one another in it; without, what goes on at the same time."""
    opened, closed = ("{", "}") if name else ("<<", ">>")
    head = f'\\context {kind} = "{name}"' if name else f"\\new {kind}"
    return f"{head}\n{opened}\n{_indented(rows)}\n{closed}"


def _indented(rows: Iterable[str]) -> str:
    return "    " + "\n".join(rows).replace("\n", "\n    ")


def _layout_block(layout: Layout, justified: bool, bracket: bool) -> str:
    """What a piece asks for beside the house style; room for a `bracket` before its staves."""
    rows = [f"ragged-right = ##{'f' if justified else 't'}"]
    if bracket:
        room = f"{BRACKET * layout.space:g}\\mm"
        rows.append(f"indent = {room} short-indent = {room}")
        # A line's number clears the bracket's tip.
        rows.append(r"\context { \Score \override BarNumber.padding = #1.7 }")
    if layout.spacing != SPACING:
        override = rf"\override SpacingSpanner.spacing-increment = #{layout.spacing:g}"
        rows.append(rf"\context {{ \Score {override} }}")
    for staff in (("Staff", "SecondStaff") if bracket else ("Staff",)) if not layout.meter else ():
        rows.append(rf"\context {{ \{staff} initialTimeSignatureVisibility = #all-invisible }}")
    return f"\\layout {{ {' '.join(rows)} }}\n"


def _staff(
    score: Score,
    line: Staff,
    number: int,
    line_ends: Sequence[LineEnd],
    spacing: float,
    parted_at: Container[tuple[int, int]] = (),
) -> str:
    """A staff; `parted_at` are the places in a second part where the first part's lines end within a bar."""
    written: list[str] = []
    broken = {(end.bar, end.event): end for end in line_ends}
    free = score.meter.is_free
    signs = accidentals(line, score.key, score.courtesy != NONE, broken or parted_at, free)
    # In free time the engraver prints the accidentals that it is asked for, and no other (`freeTime`).
    sign = {NEEDED: "!" if free else "", COURTESY: "?" if score.courtesy == BRACKETS else "!"}
    numbered = len(line_ends) >= _NUMBERED_FROM - 1 and not free
    places = list(bar_places(line, score.meter))
    begins = ""
    tuplet: list[str] = []
    breaths = iter(_breath_heights(line))
    techniques = technique_words(line)
    for index, bar in enumerate(line.bars):
        beamed = beams(bar, places[index].meter, places[index].upbeat)
        is_short = _is_short(bar, places[index])
        for place, event in enumerate(bar.events):
            ends = index + 1 == len(line.bars) and place + 1 == len(bar.events)
            after = [
                *beam_signs(beamed[place]),
                *optional_words(score, event),
                *signs_after(event, bar, place, ends, is_short and not ends, free),
            ]
            height = next(breaths)
            if height is not None:
                after.append(literal(rf"\breatheAt #{height:g}", "after"))
            if (
                place + 1 == len(bar.events)
                and not number
                and (words := words_at_end(line.bars, index, score.words.of(TIMES)))
            ):
                after.append(literal(rf"\barEndWords {quoted(words)}", "after"))
            if chart := chart_sign(score.fingerings, event):
                after.append(abjad.Articulation(chart))
            if word := next(techniques):
                after.append(words_at(score.words.of(word), abjad.UP))
            if line.label and index == place == 0:
                after.append(words_at(score.words.of(line.label), abjad.UP))
            end = broken.get((index, place))
            if end:
                rows = [r'\bar ""', r"\break"] if end.mid_bar else [r"\break"]
                after.append(literal(rows, "after"))
            asked = [sign.get(word, "") for word in signs[index][place]]
            commands = _before(score, line, index, place)
            commands += [r"\freeTime"] if free and index == place == 0 else []
            commands += [] if number else _repeat_sign(bar, place)
            if event.value.held:
                commands.append(rf"\heldRoom #{held_width(event, spacing) * CROWDED:.3g}")
            # The first staff's time is everyone's.
            if not place and not number and not free:
                commands += _bar_start(
                    places[index], line.bars[index - 1] if index else None, places[index - 1]
                )
            if begins:
                commands.append(begins)
            begins = rf"\lineNumber {end.number}" if end and end.number and numbered else ""
            if broken and index == place == 0:
                commands.append(r"\autoLineBreaksOff")
            before = _opening(score, line, index, place)
            before += [literal(commands, "before")] if commands else []
            # In a solo a rest stands where its note would; two parts show at a glance who is silent.
            silent = line.part and bar.events == (event,) and not event.pitch
            full = bar.length if silent and bar.length == places[index].meter.length else None
            leaf = write_event(event, (*before, *after), asked, full)
            inside = event.value.scale != 1
            (tuplet if inside else written).append(leaf)
            if inside and event.closed_tuplet:
                scale = event.value.scale
                ratio = f"{scale.denominator}/{scale.numerator}"
                written.append(f"\\tuplet {ratio}\n{{\n{_indented(tuplet)}\n}}")
                tuplet = []
    kind = "SmallStaff" if line.small else "SecondStaff" if number and line.part else "Staff"
    return _context(kind, [_context("Voice", written, f"Notes{number}")], f"Staff{number}")


def _opening(score: Score, line: Staff, index: int, place: int) -> list[Indicator]:
    """Clef, key and meter where the staff begins, and what changes of them."""
    bar = line.bars[index]
    event = bar.events[place]
    begins = index == place == 0
    clef = event.clef or (line.clef if begins else "")
    found: list[Indicator] = [abjad.Clef(clef)] if clef else []
    found += _key_signature(score.key) if begins else []
    meter = (bar.meter or (score.meter if begins else None)) if place == 0 else None
    if meter and not meter.is_free:
        found.append(abjad.TimeSignature((meter.beats, meter.unit)))
    return found


def _before(score: Score, line: Staff, index: int, place: int) -> list[str]:
    """Commands before an event: a pick-up, what a bar begins with, words over an optional part."""
    rows = []
    if index == place == 0 and score.pickup:
        rows.append(rf"\partial {_moment(score.pickup)}")
    bar = line.bars[index]
    if place == 0:
        rows += _bar_opening(bar, line.bars[index - 1] if index else None)
    event = bar.events[place]
    if OPTIONAL in event.opens and OPTIONAL not in event.closes:
        rows.append(rf"\optionalPart {quoted(score.words.of(MAY_BE_LEFT_OUT))}")
    return rows


def _bar_start(here: BarPlace, before: Bar | None, place_before: BarPlace) -> list[str]:
    """What tells the engraver where in its meter a bar begins, where it would not know by itself."""
    if before is None:
        return []
    ended = place_before.start + before.length
    if ended == place_before.meter.length and not here.start:
        return []
    return [rf"\barFrom {here.start.numerator}/{here.start.denominator}"]


def _bar_opening(bar: Bar, before: Bar | None) -> list[str]:
    """What stands at a bar's beginning: a change of tempo, a repeat's sign, an ending's bracket."""
    rows = []
    if bar.tempo:
        # abjad's metronome mark has one number.
        beat = bar.tempo.beat
        rows.append(rf"\tempo {beat.base.denominator}{'.' * beat.dots} = {tempo_numbers(bar.tempo)}")
    last = before.ending if before else 0
    if bar.ending != last:
        off = "(volta #f)" if last else ""
        on = f'(volta "{bar.ending}.")' if bar.ending else ""
        rows.append(rf"\set Score.repeatCommands = #'({off} {on})")
    if bar.opens_repeat:
        rows.append(r'\bar ".|:"')
    return rows


def _repeat_sign(bar: Bar, place: int) -> list[str]:
    """The sign at a bar's beginning to which a way back or out leads."""
    return [rf"\{bar.sign}Sign"] if bar.sign and place == 0 else []


def _is_short(bar: Bar, place: BarPlace) -> bool:
    """Whether a bar ends before its meter is full or in free time, so that its bar line must be asked for."""
    return place.meter.is_free or place.start + bar.length < place.meter.length


def _breath_heights(line: Staff) -> list[float | None]:
    """For each event the height of its breath mark, in staff spaces above the middle line; None without one.

    A breath mark stands above the staff, and above the notes on either side of it.
    """
    events = list(line.events())
    bottom = CLEFS[line.clef]
    tops = []
    for event in events:
        bottom = CLEFS[event.clef] if event.clef else bottom
        tops.append((event.pitch.step - bottom - 4) / 2 if event.pitch else 0.0)
    return [
        max(_BREATH_LOWEST, max(around) + _BREATH_ABOVE) if "breath" in event.marks else None
        for event, *around in zip(events, tops, [*tops[1:], 0.0], strict=True)
    ]


def _moment(length: Fraction) -> str:
    """A length as LilyPond writes a scaled duration: `1*3/8`."""
    return f"1*{length.numerator}/{length.denominator}"


def _syllables(line: Staff, number: int) -> list[str]:
    """What the tongue says, as lyrics: they make room for themselves between the notes."""
    if not any(event.syllable for event in line.events()):
        return []
    words = [
        (quoted(event.syllable) if event.syllable else r"\skip ") + _moment(event.length)
        for event in line.events()
    ]
    return [_lyrics(words, "Lyrics", f"Syllables{number}")]


def _lyrics(words: list[str], kind: str, name: str) -> str:
    return _context(kind, [rf"\lyricmode {{ {' '.join(words)} }}", _skip("*0")], name)


def _chord_row(score: Score) -> list[str]:
    """Chord names above the first staff."""
    words = chord_words(score)
    return [_lyrics(words, "ChordRow", "Chords")] if words else []


def _printed_shades(event: Event) -> tuple[DynamicMark, ...]:
    """The dynamic signs of a note that are drawn; what holds one time only is said in words."""
    return tuple(shade for shade in event.dynamic_marks if not shade.time)


def _row(
    kind: str, number: int, line: Staff, signs_of: Callable[[Event], tuple[DynamicMark, ...]]
) -> list[str]:
    """Signs as a row of spaces beside the staff: one for each event with signs, and one up to the next.

    No space begins within a note, so that the row leaves the notes where they are.
    """
    rows: list[str] = []
    empty = Fraction(0)
    for event in line.events():
        signs = signs_of(event)
        if not signs:
            empty += event.length
            continue
        rows += [_space(empty)] if empty else []
        rows.append(_space(event.length, *(_sign(shade) for shade in sorted(signs, key=_order))))
        empty = Fraction(0)
    if not rows:
        return []
    rows += [_space(empty)] if empty else []
    return [_context(kind, rows, f"{kind}{number}")]


def _order(shade: DynamicMark) -> tuple[Fraction, int]:
    """An end stands before a level, and a level before a beginning."""
    return shade.at, 0 if shade.mark == HAIRPIN_END else 1 if shade.mark in LEVELS else 2


def _sign(shade: DynamicMark) -> str:
    return rf"\shade {quoted(shade.mark)} {shade.at.numerator}/{shade.at.denominator}"


def _space(length: Fraction, *signs: str) -> str:
    return _skip(f"*{length.numerator}/{length.denominator}", *signs)


def _skip(*rows: str) -> str:
    return "\n".join(("s1", *rows))
