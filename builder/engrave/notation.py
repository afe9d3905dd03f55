"""A score as LilyPond's notation, built with abjad.

abjad 3.19 (Python 3.11) and 3.31 (Python 3.12 and later) differ; this module keeps to what both have, and
no other module imports abjad. Every text of a user passes `quoted`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import TYPE_CHECKING, Any

import abjad

from ..music.accidentals import BRACKETS, COURTESY, NEEDED, NONE, accidentals
from ..music.bars import BarPlace, bar_places
from ..music.beams import Beam, beams
from ..music.instrument import CLEFS
from ..music.keys import Key
from ..music.pitch import LETTERS
from ..music.score import HAIRPIN_END, LEVELS, OPTIONAL, SLUR, Bar, DynamicMark, Event, Score, Span, Staff
from .breaks import SPACING, LineEnd, lines, parted, times_within_bars
from .markup import ALTERS, pitch_name, quoted

if TYPE_CHECKING:
    from .piece import Layout

_SCRIPTS = {
    "staccato": r"\staccato",
    "tenuto": r"\tenuto",
    "portato": r"\portato",
    "accent": r"\accent",
    "marcato": r"\marcato",
    "fermata": r"\fermata",
    "trill": r"\trill",
}
_ACCIDENTALS = {-2: r"\doubleflat", -1: r"\flat", 0: r"\natural", 1: r"\sharp", 2: r"\doublesharp"}
_BREATH_LOWEST = 3.5
_BREATH_ABOVE = 1.5
"""Staff spaces: a breath mark above the middle line, and above the notes beside it, at the least."""

_NUMBERED_FROM = 3
"""So many lines has a piece whose lines begin with the number of their first bar."""

_BARS = {"|": '"|"', "||": '"||"', "|.": '"|."', ":|": '":|."'}


def key_signature(key: Key) -> str:
    """The `\\key` command; empty where there is no key, and so no signature."""
    return key.mode and rf"\key {LETTERS[key.letter].lower()}{ALTERS[key.alter]} \{key.mode}"


def notation(score: Score, layout: Layout | None = None, filled: float = 1.0) -> str:
    """The score as a LilyPond `\\score` block.

    With a layout its lines are broken as `breaks` says, else as the engraver will; with `filled` they hold
    what fits into that part of the paper.
    """
    broken = None
    if layout:
        broken = lines(score, layout.room * filled, layout.spacing, layout.meter, layout.alike)
    parts: list[abjad.Component] = []
    for number, line in enumerate(score.lines):
        if number and broken:
            line = parted(line, list(times_within_bars(score.line, broken.ends)))
        above = _row("Waves", number, line, lambda event: event.vibrato)
        below = _syllables(line, number)
        dynamics = _row("Dynamics", number, line, _printed_shades)
        ends = broken.ends if broken and not number else ()
        parts += [*above, _staff(score, line, number, ends), *dynamics, *below]
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


def _staff(score: Score, line: Staff, number: int, line_ends: Sequence[LineEnd]) -> abjad.Staff:
    components: list[abjad.Component] = []
    broken = {(end.bar, end.event): end for end in line_ends}
    signs = accidentals(line, score.key, score.courtesy != NONE, broken)
    sign = {NEEDED: "", COURTESY: "?" if score.courtesy == BRACKETS else "!"}
    numbered = len(line_ends) >= _NUMBERED_FROM - 1
    places = list(bar_places(line, score.meter))
    begins = ""
    tuplet: list[abjad.Leaf] = []
    breaths = iter(_breath_heights(line))
    for index, bar in enumerate(line.bars):
        beamed = beams(bar, places[index].meter, places[index].upbeat)
        for place, event in enumerate(bar.events):
            ends = index + 1 == len(line.bars) and place + 1 == len(bar.events)
            short = _is_short(bar, places[index]) and not ends
            after = [*_beam_signs(beamed[place]), *_after(event, bar, place, ends, short)]
            height = next(breaths)
            if height is not None:
                after.append(rf"\breatheAt #{height:g}")
            if line.label and index == place == 0:
                after.append(rf"^\markup \italic \words {quoted(line.label)}")
            end = broken.get((index, place))
            if end:
                after += [r'\bar ""', r"\break"] if end.mid_bar else [r"\break"]
            asked = [sign.get(word, "") for word in signs[index][place]]
            before = _before(score, line, index, place, asked)
            # The first staff's time is everyone's.
            if not place and not number:
                before += _bar_start(
                    places[index], line.bars[index - 1] if index else None, places[index - 1]
                )
            if begins:
                before.append(begins)
            begins = rf"\lineNumber {end.number}" if end and end.number and numbered else ""
            if broken and index == place == 0:
                before.append(r"\autoLineBreaksOff")
            leaf = _leaf(event, before, after, asked[-1] if event.pitch else "")
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


def _leaf(event: Event, before: list[str], after: list[str], accidental: str) -> abjad.Leaf:
    written = event.value.written
    duration = abjad.Duration(written.numerator, written.denominator)
    leaf: abjad.Leaf
    if event.pitch is None:
        leaf = _make(abjad.Rest, duration)
    else:
        leaf = _make(abjad.Note, duration, abjad.NamedPitch(pitch_name(event.pitch)))
        if accidental:
            _ask(leaf, accidental)
    if before:
        abjad.attach(abjad.LilyPondLiteral(before, site="before"), leaf)
    if after:
        abjad.attach(abjad.LilyPondLiteral(after, site="after"), leaf)
    return leaf


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


def _before(score: Score, line: Staff, index: int, place: int, accidentals: list[str]) -> list[str]:
    """What stands before an event: the opening of the staff, a pick-up, a repeat's beginning."""
    rows = []
    if index == place == 0:
        signature = key_signature(score.key)
        rows += [rf"\clef {line.clef}", *([signature] if signature else []), rf"\time {score.meter}"]
        if score.pickup:
            rows.append(rf"\partial {_moment(score.pickup)}")
    bar = line.bars[index]
    if place == 0:
        rows += _bar_opening(bar, line.bars[index - 1] if index else None)
    event = bar.events[place]
    if event.clef:
        rows.append(rf"\clef {event.clef}")
    graces = [pitch_name(pitch) + asked for pitch, asked in zip(event.graces, accidentals, strict=False)]
    if len(graces) == 1:
        rows.append(rf"\acciaccatura {graces[0]}8")
    elif graces:
        first, *others = (f"{name}16" for name in graces)
        rows.append(rf"\grace {{ {' '.join([f'{first}[', *others])}] }}")
    if OPTIONAL in event.opens and OPTIONAL not in event.closes:
        rows.append(r"\optionalPart")
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
    """What stands at a bar's beginning: changes of meter and tempo, a repeat's sign, an ending's bracket."""
    rows = []
    if bar.meter:
        rows.append(rf"\time {bar.meter}")
    if bar.tempo:
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
    """Whether a bar ends before its meter is full, so that its bar line must be asked for."""
    return place.start + bar.length < place.meter.length


def _after(event: Event, bar: Bar, place: int, ends: bool, short: bool) -> list[str]:
    rows = ["~"] if event.tie else []
    if OPTIONAL in event.opens and OPTIONAL in event.closes:
        # A bracket needs two ends; over one note the words alone stand.
        rows.append(r'^\markup \small \italic "(may be left out)"')
    for span in _on_one_note_apart(event.closes, event.opens):
        rows += {SLUR: [")"], OPTIONAL: [r"\stopTextSpan"]}.get(span, [])
    for span in _on_one_note_apart(event.opens, event.closes):
        rows += {SLUR: ["("], OPTIONAL: [r"\startTextSpan"]}.get(span, [])
    scripts = _SCRIPTS
    if event.trilled:
        scripts = _SCRIPTS | {"trill": rf"\trillWith \markup {_ACCIDENTALS[event.trilled.alter]}"}
    rows += [scripts[mark] for mark in event.marks if mark in scripts]
    if event.above:
        rows.append(rf"^\markup \italic \words {quoted(event.above)}")
    if event.below:
        rows.append(rf"_\markup \italic \words {quoted(event.below)}")
    if place + 1 == len(bar.events) and (bar.end != "|" or short):
        rows.append(rf"\bar {_BARS[bar.end]}")
    if ends and bar.ending:
        rows.append(r"\set Score.repeatCommands = #'((volta #f))")
    return rows


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


def _beam_signs(at: tuple[Beam, ...]) -> list[str]:
    """Where a beam begins or ends; its shorter ones follow from the note values."""
    return [{"begin": "[", "end": "]"}[word] for level, word in at if level == 1 and word in ("begin", "end")]


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
