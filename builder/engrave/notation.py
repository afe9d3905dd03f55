"""A score as LilyPond's notation, built with abjad.

abjad 3.19 (Python 3.11) and 3.31 (Python 3.12 and later) differ; this module keeps to what both have, and
no other module imports abjad. Every text of a user passes `quoted`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from fractions import Fraction
from functools import cache
from typing import TYPE_CHECKING, Any

import abjad

from ..music.accidentals import BRACKETS, COURTESY, NEEDED, NONE, accidentals
from ..music.bars import BarPlace, bar_places
from ..music.beams import Beam, beams
from ..music.instrument import CLEFS
from ..music.keys import Key
from ..music.pitch import LETTERS
from ..music.score import HAIRPIN_END, LEVELS, OPTIONAL, SLUR, Bar, DynamicMark, Event, Score, Span, Staff
from .breaks import CROWDED, SPACING, LineEnd, held_width, lines, parted, times_within_bars
from .markup import ACCIDENTALS, ALTERS, pitch_name, quoted

if TYPE_CHECKING:
    from .piece import Layout

_ARTICULATIONS = ("staccato", "tenuto", "portato", "accent", "marcato", "fermata", "trill")
_BREATH_LOWEST = 3.5
_BREATH_ABOVE = 1.5
"""Staff spaces: a breath mark above the middle line, and above the notes beside it, at the least."""

_NUMBERED_FROM = 3
"""So many lines has a piece whose lines begin with the number of their first bar."""

_FREE_END = "!"
"""The dashed line that divides phrases in free time, as the engraver names it."""

_REPEAT_END = {":|": ":|."}
"""A bar's end as the engraver names it, where it has another name."""


def _key_signature(key: Key) -> list[abjad.KeySignature]:
    """None where there is no key."""
    if not key.mode:
        return []
    tonic = abjad.NamedPitchClass(LETTERS[key.letter].lower() + ALTERS[key.alter])
    return [abjad.KeySignature(tonic, abjad.Mode(key.mode))]


def notation(score: Score, layout: Layout | None = None, filled: float = 1.0) -> str:
    """The score as a LilyPond `\\score` block.

    With a layout its lines are broken as `breaks` says, else as the engraver will; with `filled` they hold
    what fits into that part of the paper.
    """
    broken = None
    if layout:
        broken = lines(score, layout.room * filled, layout.spacing, layout.meter, layout.alike)
    spacing = layout.spacing if layout else SPACING
    parts: list[abjad.Component] = []
    for number, line in enumerate(score.lines):
        if number and broken:
            line = parted(line, list(times_within_bars(score.line, broken.ends)))
        above = _row("Waves", number, line, lambda event: event.vibrato)
        below = _syllables(line, number)
        dynamics = _row("Dynamics", number, line, _printed_shades)
        ends = broken.ends if broken and not number else ()
        parts += [*above, _staff(score, line, number, ends, spacing), *dynamics, *below]
    group = [abjad.StaffGroup(parts, simultaneous=True)] if len(score.lines) > 1 else parts
    block = _layout_block(layout, broken.justified) if layout and broken else ""
    return f"\\score {{\n{abjad.lilypond(abjad.Score(group))}\n{block}}}\n"


def _layout_block(layout: Layout, justified: bool) -> str:
    """What a piece asks for beside the house style."""
    rows = [f"ragged-right = ##{'f' if justified else 't'}"]
    if layout.spacing != SPACING:
        override = rf"\override SpacingSpanner.spacing-increment = #{layout.spacing:g}"
        rows.append(rf"\context {{ \Score {override} }}")
    if not layout.meter:
        rows.append(r"\context { \Staff initialTimeSignatureVisibility = #all-invisible }")
    return f"\\layout {{ {' '.join(rows)} }}\n"


def _staff(
    score: Score, line: Staff, number: int, line_ends: Sequence[LineEnd], spacing: float
) -> abjad.Staff:
    components: list[abjad.Component] = []
    broken = {(end.bar, end.event): end for end in line_ends}
    free = score.meter.is_free
    signs = accidentals(line, score.key, score.courtesy != NONE, broken, free)
    # In free time the engraver prints the accidentals that it is asked for, and no other (`freeTime`).
    sign = {NEEDED: "!" if free else "", COURTESY: "?" if score.courtesy == BRACKETS else "!"}
    numbered = len(line_ends) >= _NUMBERED_FROM - 1 and not free
    places = list(bar_places(line, score.meter))
    begins = ""
    tuplet: list[abjad.Leaf] = []
    breaths = iter(_breath_heights(line))
    for index, bar in enumerate(line.bars):
        beamed = beams(bar, places[index].meter, places[index].upbeat)
        is_short = _is_short(bar, places[index])
        for place, event in enumerate(bar.events):
            ends = index + 1 == len(line.bars) and place + 1 == len(bar.events)
            after = [
                *_beam_signs(beamed[place]),
                *_after(event, bar, place, ends, is_short and not ends, free),
            ]
            height = next(breaths)
            if height is not None:
                after.append(_command(rf"\breatheAt #{height:g}", "after"))
            if line.label and index == place == 0:
                after.append(_words(line.label, abjad.UP))
            end = broken.get((index, place))
            if end:
                rows = [r'\bar ""', r"\break"] if end.mid_bar else [r"\break"]
                after.append(_command(rows, "after"))
            asked = [sign.get(word, "") for word in signs[index][place]]
            commands = _before(score, line, index, place)
            commands += [r"\freeTime"] if free and index == place == 0 else []
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
            before = [*_opening(score, line, index, place), *_graces(event, asked)]
            before += [_command(commands, "before")] if commands else []
            leaf = _leaf(event, [*before, *after], asked[-1] if event.pitch else "")
            inside = event.value.scale != 1
            (tuplet if inside else components).append(leaf)
            if inside and event.closed_tuplet:
                components.append(abjad.Tuplet(_ratio(event), tuplet))
                tuplet = []
    return abjad.Staff(
        [abjad.Voice(components, name=f"Notes{number}")],
        lilypond_type="SmallStaff" if line.small else "Staff",
        name=f"Staff{number}",
    )


def _ratio(event: Event) -> str:
    scale = event.value.scale
    return f"{scale.denominator}:{scale.numerator}"


Indicator = Any
"""What abjad attaches to a leaf: one of its indicators, or a pair of one and its direction."""


def _command(rows: str | list[str], site: str) -> Indicator:
    """A command of the house style, for which abjad has no indicator."""
    return abjad.LilyPondLiteral(rows, site=site)


def _words(text: str, direction: Any) -> Indicator:
    """An italic text above or below a note."""
    return abjad.Markup(rf"\markup \italic \words {quoted(text)}"), direction


def _leaf(event: Event, indicators: Iterable[Indicator], accidental: str) -> abjad.Leaf:
    written = event.value.written
    duration = abjad.Duration(written.numerator, written.denominator)
    leaf: abjad.Leaf
    if event.pitch is None:
        leaf = _make(abjad.Rest, duration)
    else:
        leaf = _make(abjad.Note, duration, _named_pitch(pitch_name(event.pitch)))
        if accidental:
            _ask(leaf, accidental)
    for indicator in indicators:
        if isinstance(indicator, tuple):
            abjad.attach(indicator[0], leaf, direction=indicator[1])
        else:
            abjad.attach(indicator, leaf)
    return leaf


@cache
def _named_pitch(name: str) -> abjad.NamedPitch:
    """A pitch as abjad has it: a value, which it takes long to make."""
    return abjad.NamedPitch(name)


def _ask(leaf: abjad.Leaf, accidental: str) -> None:
    """Ask for an accidental, with `!`, or in brackets with `?`; the two abjads spell this differently."""
    name = {"!": "is_forced", "?": "is_cautionary"}[accidental]
    note: Any = leaf
    head = note.note_head
    if callable(head):
        getattr(head(), f"set_{name}")(True)
    else:
        setattr(head, name, True)


def _make(kind: Any, duration: abjad.Duration, pitch: abjad.NamedPitch | None = None) -> abjad.Leaf:
    """A leaf from objects; the two abjads spell this differently."""
    if pitch is None:
        return getattr(kind, "from_duration", kind)(duration)
    if hasattr(kind, "from_pitch_and_duration"):
        return kind.from_pitch_and_duration(pitch, duration)
    return kind.from_duration_and_pitch(duration, pitch)


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
        rows.append(r"\optionalPart")
    return rows


def _graces(event: Event, accidentals: list[str]) -> list[Indicator]:
    """The notes before an event, each with its accidental where one is asked for."""
    if not event.graces:
        return []
    value = abjad.Duration(1, 8 if len(event.graces) == 1 else 16)
    notes = []
    for pitch, asked in zip(event.graces, accidentals, strict=False):
        notes.append(_make(abjad.Note, value, abjad.NamedPitch(pitch_name(pitch))))
        if asked:
            _ask(notes[-1], asked)
    if len(notes) == 1:
        return [abjad.BeforeGraceContainer(notes, command=r"\acciaccatura")]
    abjad.attach(abjad.StartBeam(), notes[0])
    abjad.attach(abjad.StopBeam(), notes[-1])
    return [abjad.BeforeGraceContainer(notes, command=r"\grace")]


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
        number = bar.tempo.low if bar.tempo.low == bar.tempo.high else f"{bar.tempo.low}-{bar.tempo.high}"
        beat = bar.tempo.beat
        rows.append(rf"\tempo {beat.base.denominator}{'.' * beat.dots} = {number}")
    last = before.ending if before else 0
    if bar.ending != last:
        off = "(volta #f)" if last else ""
        on = f'(volta "{bar.ending}.")' if bar.ending else ""
        rows.append(rf"\set Score.repeatCommands = #'({off} {on})")
    if bar.opens_repeat:
        rows.append(r'\bar ".|:"')
    return rows


def _is_short(bar: Bar, place: BarPlace) -> bool:
    """Whether a bar ends before its meter is full or in free time, so that its bar line must be asked for."""
    return place.meter.is_free or place.start + bar.length < place.meter.length


def _after(event: Event, bar: Bar, place: int, ends: bool, short: bool, free: bool) -> list[Indicator]:
    """What belongs to an event or follows it; a `short` bar asks for its bar line."""
    found: list[Indicator] = [abjad.Tie()] if event.tie else []
    # As a sign of the note it stands before a bar line or a breath.
    found += [abjad.Articulation("heldOn")] if event.value.held else []
    if OPTIONAL in event.opens and OPTIONAL in event.closes:
        # A bracket needs two ends; over one note the words alone stand.
        found.append((abjad.Markup(r'\markup \small \italic "(may be left out)"'), abjad.UP))
    for span in _on_one_note_apart(event.closes, event.opens):
        found += {SLUR: [abjad.StopSlur()], OPTIONAL: [_command(r"\stopTextSpan", "after")]}.get(span, [])
    for span in _on_one_note_apart(event.opens, event.closes):
        found += {SLUR: [abjad.StartSlur()], OPTIONAL: [_command(r"\startTextSpan", "after")]}.get(span, [])
    for mark in event.marks:
        if mark == "trill" and event.trilled:
            found.append(_command(rf"\trillWith \markup {ACCIDENTALS[event.trilled.alter]}", "after"))
        elif mark in _ARTICULATIONS:
            found.append(abjad.Articulation(mark))
    found += [_words(event.above, abjad.UP)] if event.above else []
    found += [_words(event.below, abjad.DOWN)] if event.below else []
    if place + 1 == len(bar.events) and (bar.end != "|" or short):
        end = _FREE_END if free and bar.end == "|" else _REPEAT_END.get(bar.end, bar.end)
        found.append(abjad.BarLine(end, site="after"))
    if ends and bar.ending:
        found.append(_command(r"\set Score.repeatCommands = #'((volta #f))", "after"))
    return found


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


def _beam_signs(at: tuple[Beam, ...]) -> list[Indicator]:
    """Where a beam begins or ends; its shorter ones follow from the note values."""
    signs = {"begin": abjad.StartBeam, "end": abjad.StopBeam}
    return [signs[word]() for level, word in at if level == 1 and word in signs]


def _on_one_note_apart(spans: tuple[Span, ...], others: tuple[Span, ...]) -> list[Span]:
    """Spans that join two notes at least: a slur or a bracket that begins and ends on one is not drawn."""
    return [span for span in spans if not (span in others and span in (SLUR, OPTIONAL))]


def _moment(length: Fraction) -> str:
    """A length as LilyPond writes a scaled duration: `1*3/8`."""
    return f"1*{length.numerator}/{length.denominator}"


def _syllables(line: Staff, number: int) -> list[abjad.Component]:
    """What the tongue says, as lyrics: they make room for themselves between the notes."""
    if not any(event.syllable for event in line.events()):
        return []
    words = [
        (quoted(event.syllable) if event.syllable else r"\skip ") + _moment(event.length)
        for event in line.events()
    ]
    nothing = _make(abjad.Skip, abjad.Duration(1, 1))
    rows = [rf"\lyricmode {{ {' '.join(words)} }}"]
    abjad.attach(abjad.LilyPondLiteral(rows, site="before"), nothing)
    abjad.attach(abjad.LilyPondLiteral(["*0"], site="after"), nothing)
    return [abjad.Context([nothing], lilypond_type="Lyrics", name=f"Syllables{number}")]


def _printed_shades(event: Event) -> tuple[DynamicMark, ...]:
    """The dynamic signs of a note that are drawn; what holds one time only is said in words."""
    return tuple(shade for shade in event.dynamic_marks if not shade.time)


def _row(
    kind: str, number: int, line: Staff, signs_of: Callable[[Event], tuple[DynamicMark, ...]]
) -> list[abjad.Component]:
    """Signs as a row of spaces beside the staff: one for each event with signs, and one up to the next.

    No space begins within a note, so that the row leaves the notes where they are.
    """
    leaves: list[abjad.Component] = []
    empty = Fraction(0)
    for event in line.events():
        signs = signs_of(event)
        if not signs:
            empty += event.length
            continue
        leaves += [_space(empty)] if empty else []
        leaves.append(_space(event.length, [_sign(shade) for shade in sorted(signs, key=_order)]))
        empty = Fraction(0)
    if not leaves:
        return []
    leaves += [_space(empty)] if empty else []
    return [abjad.Context(leaves, lilypond_type=kind, name=f"{kind}{number}")]


def _order(shade: DynamicMark) -> tuple[Fraction, int]:
    """An end stands before a level, and a level before a beginning."""
    return shade.at, 0 if shade.mark == HAIRPIN_END else 1 if shade.mark in LEVELS else 2


def _sign(shade: DynamicMark) -> str:
    return rf"\shade {quoted(shade.mark)} {shade.at.numerator}/{shade.at.denominator}"


def _space(length: Fraction, signs: Sequence[str] = ()) -> abjad.Leaf:
    skip = _make(abjad.Skip, abjad.Duration(1, 1))
    rows = [f"*{length.numerator}/{length.denominator}", *signs]
    abjad.attach(abjad.LilyPondLiteral(rows, site="after"), skip)
    return skip
