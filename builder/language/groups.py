"""What stands around notes: one small function a word, by what words.py says the word does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import TYPE_CHECKING

from lark import Token, Tree

from ..music.exercise import GeneratedFigure
from ..music.figures import FIGURES
from ..music.pitch import Pitch
from ..music.score import HAIRPIN_END, DynamicMark, add_vibrato
from .faults import shown
from .tokens import meter_of, tempo_of, token_of, value_of
from .trade_words import WORD_HINTS, example_of, plain_word
from .words import ACCIDENTALS, CLEFS, GROUPS, MARKS, NOTE_MARKS

if TYPE_CHECKING:
    from .music import MusicReader

Inside = list[Tree[Token]]
Group = Callable[["MusicReader", Token, str, Inside], None]


def read_group(reader: MusicReader, opener: Token, name: str, inside: Inside) -> None:
    """Read a group by its name; `opener` is its token, `inside` what stands between its brackets."""
    said, name = name, plain_word(name)
    if name in FIGURES:
        _figure(reader, opener, name, inside)
    elif name in NOTE_MARKS:
        reader.marks.append(name)
        reader.items(inside)
        reader.marks.remove(name)
    elif name == "trill":
        _trill(reader, opener, inside)
    elif name in MARKS:
        mend = f"write it after its note: `{example_of(said)}`"
        reader.fault(opener, f"{shown(said)} is for one note", mend)
    elif name in GROUPS:
        _GROUPS[GROUPS[name].does[0]](reader, opener, name, inside)
    else:
        known = [*GROUPS, *FIGURES, *NOTE_MARKS]
        mend = WORD_HINTS.get(name) or reader.guess(name, known, f"the groups are {', '.join(GROUPS)}")
        reader.fault(opener, f"unknown group {shown(name)}", mend)


def _notes(
    reader: MusicReader, opener: Token, name: str, inside: Inside, spans: tuple[str, ...] = ()
) -> int | None:
    """Read what stands inside under spans; the place of its first event, or None where there is none."""
    first, faults = reader.count(), len(reader.faults)
    reader.opening += spans
    reader.items(inside)
    if reader.count() == first:
        reader.opening = [span for span in reader.opening if span not in spans]
        if len(reader.faults) == faults:  # else what stands in it has just been said to be wrong
            reader.fault(opener, f"there are no notes in `{name}( )`", "put notes in it")
        return None
    reader.last = replace(reader.last, closes=(*reader.last.closes, *spans))
    return first


def _span(reader: MusicReader, opener: Token, name: str, inside: Inside) -> None:
    _notes(reader, opener, name, inside, (GROUPS[name].does[0],))


def _hairpin(reader: MusicReader, opener: Token, name: str, inside: Inside) -> None:
    first = _notes(reader, opener, name, inside)
    if first is not None:
        opening = DynamicMark(Fraction(0), GROUPS[name].does[1])
        reader.events[first] = reader.events[first].with_dynamic_marks(opening)
        reader.last = reader.last.with_dynamic_marks(DynamicMark(Fraction(1), HAIRPIN_END))


def _tuplet(reader: MusicReader, opener: Token, name: str, inside: Inside) -> None:
    ratio = GROUPS[name].does[1] if len(GROUPS[name].does) > 1 else ""
    if not ratio:
        if not inside or inside[0].data != "ratio":
            reader.fault(opener, "a tuplet begins with its ratio", "write `tuplet( 3:2 ... )`")
            return
        ratio = str(token_of(inside.pop(0)))
    many, time = map(int, ratio.split(":"))
    if not many or not time or reader.scale != 1:
        what = f"the tuplet {ratio} cannot be read"
        reader.fault(opener, what, "write a ratio such as 3:2, and no tuplet inside another")
        return
    bars = len(reader.bars)
    reader.scale = Fraction(time, many)
    _notes(reader, opener, name, inside, (f"tuplet {ratio}",))
    reader.scale = Fraction(1)
    if len(reader.bars) != bars:
        reader.fault(opener, "a tuplet goes over a bar line", "end it before the bar line")


def _vibrato(reader: MusicReader, opener: Token, name: str, inside: Inside) -> None:
    start, end = map(Fraction, GROUPS[name].does[1:])
    first = _notes(reader, opener, name, inside)
    if first is not None:
        reader.events[first:] = add_vibrato(reader.events[first:], start, end)


def _grace(reader: MusicReader, opener: Token, name: str, inside: Inside) -> None:
    if reader.next_graces or not inside or any(child.data != "note" for child in inside):
        reader.fault(opener, "grace notes are pitches alone", "write `grace( C#5 ) D5`")
        return
    reader.next_graces = tuple(filter(None, (reader.pitch(token_of(child)) for child in inside)))
    reader.room.add_notes(len(reader.next_graces))


def _trill(reader: MusicReader, opener: Token, inside: Inside) -> None:
    """A trill on the note before, whose upper note has the accidental that stands inside."""
    if not reader.has_note(opener):
        return
    words = [str(token_of(child)) for child in inside if child.data == "mark"]
    main = reader.last.pitch
    if len(inside) != 1 or not words or words[0] not in ACCIDENTALS:
        what = "`trill( )` takes the accidental of the trill's upper note, and no notes"
        reader.fault(opener, what, _trill_mend(reader, main, inside))
    elif main is None:
        reader.fault(opener, "a rest cannot have a trill", "put it after its note")
    else:
        upper = replace(main.next_letter, alter=ACCIDENTALS[words[0]])
        if upper.midi - main.midi not in (1, 2):
            what = f"{upper} is not a semitone or a tone above {main}"
            reader.fault(opener, what, "name the accidental of the trill's upper note, or none")
        reader.last = replace(reader.last.marked("trill"), trilled=upper)


def _trill_mend(reader: MusicReader, main: Pitch | None, inside: Inside) -> str:
    """What to write for `E5 trill( F5 )`: the accidental, where it is the next letter."""
    if main and len(inside) == 1 and inside[0].data == "note":
        upper = reader.pitch(token_of(inside[0]))
        if upper and upper.step == main.step + 1:
            word = next(name for name, alter in ACCIDENTALS.items() if alter == upper.alter)
            return f"write `{main} trill( {word} )`"
    return f"write `w D5 trill`, or name one of {', '.join(ACCIDENTALS)}, as in `w D5 trill( flat )`"


def _ending(reader: MusicReader, opener: Token, name: str, inside: Inside) -> None:
    number = int(GROUPS[name].does[1])
    if reader.in_bar:
        reader.close_bar("|")
    follows = bool(reader.bars) and reader.bars[-1].ending == 1
    if reader.ending or (number == 2 and not follows):
        mend = "write `first-time( ... :| ) second-time( ... )`"
        reader.fault(opener, f"`{name}( )` does not belong here", mend)
        return
    if _notes_in_ending(reader, opener, name, inside, number) and number == 1 and reader.bars[-1].end != ":|":
        reader.fault(opener, "a first ending does not repeat", "write `:|` before its `)`")


def _notes_in_ending(reader: MusicReader, opener: Token, name: str, inside: Inside, number: int) -> bool:
    reader.ending = number
    first = _notes(reader, opener, name, inside)
    if reader.in_bar:
        reader.close_bar("|")
    reader.ending = 0
    return first is not None


def _change(reader: MusicReader, opener: Token, name: str, inside: Inside) -> list[Token] | None:
    """The tokens of a change of meter or tempo at a bar line, or None after noting a fault."""
    if reader.in_bar:
        reader.fault(opener, f"`{name}( )` is inside a bar", "put it after a bar line")
        return None
    if len(inside) == 1 and inside[0].data == "change":
        tokens = [child for child in inside[0].children if isinstance(child, Token)]
        if (tokens[0].type == "METER") == (name == "meter"):
            return tokens
    reader.fault(opener, f"`{name}( )` cannot be read", f"write it as in `{GROUPS[name].example}`")
    return None


def _meter(reader: MusicReader, opener: Token, name: str, inside: Inside) -> None:
    if tokens := _change(reader, opener, name, inside):
        token, *groups = tokens
        try:
            reader.next_meter = reader.meter = meter_of(token, *groups)
        except ValueError as error:
            mend = "write beats over a note value, such as 4/4 or 6/8"
            if groups:
                mend = "write groups that make up the beats, such as 7/8 = 2+2+3"
            reader.fault(tokens[0], str(error), mend)


def _tempo(reader: MusicReader, opener: Token, name: str, inside: Inside) -> None:
    if tokens := _change(reader, opener, name, inside):
        try:
            reader.next_tempo = tempo_of(tokens)
        except ValueError as error:
            reader.fault(tokens[1], str(error), "give beats a minute from 20 to 400, the slower first")


def _clef(reader: MusicReader, opener: Token, name: str, inside: Inside) -> None:
    words = [str(token_of(child)) for child in inside if child.data == "mark"]
    if len(inside) == 1 and words and words[0] in CLEFS:
        reader.next_clef = words[0]
    else:
        mend = f"write one of {', '.join(CLEFS)}, as in `clef( bass )`"
        reader.fault(opener, "unknown clef", mend)


def _figure(reader: MusicReader, opener: Token, name: str, inside: Inside) -> None:
    value = reader.value
    words = [str(token_of(child)) for child in inside if child.data == "mark"]
    values = [token_of(child) for child in inside if child.data == "value"]
    if len(values) > 1 or len(words) + len(values) != len(inside):
        what = f"`{name}( )` takes a note value and words"
        reader.fault(opener, what, f"write it as in `{FIGURES[name].example}`")
        return
    if values:
        value = value_of(values[0])
    try:
        events = FIGURES[name].make(reader.home, reader.key, value, tuple(words))
    except ValueError as error:
        reader.fault(opener, f"`{name}( )`: {error}", f"write it as in `{FIGURES[name].example}`")
        return
    reader.made.append(GeneratedFigure(name, tuple(words), value, reader.count(), len(events)))
    reader.add_made(events, opener)


_GROUPS: dict[str, Group] = {
    "slur": _span,
    "optional": _span,
    "hairpin": _hairpin,
    "tuplet": _tuplet,
    "vibrato": _vibrato,
    "grace": _grace,
    "ending": _ending,
    "meter": _meter,
    "tempo": _tempo,
    "clef": _clef,
}
