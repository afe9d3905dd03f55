"""A piece before and after it is engraved, and the key that says whether two are the same ink."""

from __future__ import annotations

import json
from dataclasses import MISSING, dataclass, fields, is_dataclass
from enum import Enum, auto
from fractions import Fraction
from functools import cache, lru_cache
from importlib.metadata import PackageNotFoundError, version
from importlib.resources import files
from typing import Any

from ..cache.store import key_of
from ..music.event import DynamicMark, Span, Tempo, Value
from ..music.keys import Key
from ..music.pitch import Pitch
from ..music.printed_words import PrintedWords
from ..music.score import Meter, Score
from ..translation.said import Said
from ..units import MM_PER_INCH, PRINTERS_POINTS_PER_INCH
from .breaks import SPACING
from .drawings.svg import Drawing, Note
from .faces import faces_hash, use_faces
from .processes.lilypond import Engraver

MARGIN = 1
"""Millimetres of paper on either side of the music."""


class Use(Enum):
    """Where a piece is shown: what is never printed needs no PDF, what is only printed no SVG."""

    ANYWHERE = auto()
    SCREEN = auto()
    PAPER = auto()

    @property
    def on_screen(self) -> bool:
        """Whether it has to be drawn as SVG."""
        return self is not Use.PAPER

    @property
    def on_paper(self) -> bool:
        """Whether it has to be drawn as PDF."""
        return self is not Use.SCREEN


@dataclass(frozen=True, slots=True)
class Layout:
    """How a piece is laid out.

    `width` is the music's in millimetres, `staff` the staff's height in printer's points; `spacing`, `meter`
    and `alike` are as in `breaks.lines`.
    """

    width: float
    staff: float
    spacing: float = SPACING
    meter: bool = True
    alike: bool = True
    use: Use = Use.ANYWHERE

    @property
    def room(self) -> float:
        """The width in staff spaces."""
        return self.width / (self.staff / 4 * MM_PER_INCH / PRINTERS_POINTS_PER_INCH)

    @property
    def space(self) -> float:
        """A staff space in millimetres."""
        return self.width / self.room

    @property
    def head(self) -> str:
        """The house style, the staff's size and the letters, as the engraver reads them before any piece."""
        return f"{style()}\n#(set-global-staff-size {self.staff:g})\n{use_faces(self.staff)}"

    @property
    def paper(self) -> str:
        """The width and the files to make, as the engraver reads them within a piece's `\\paper`."""
        files = {Use.SCREEN: '("svg")', Use.PAPER: '("pdf")', Use.ANYWHERE: '("svg" "pdf")'}[self.use]
        return (
            f"paper-width = {self.width + 2 * MARGIN:g}\\mm line-width = {self.width:g}\\mm "
            f"piece-files = #'{files}"
        )


STAND = Layout(180, 20)
"""For paper on a stand: 180 mm fits A4 and US Letter, and a staff of 20 points is 7.03 mm high."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Music to engrave: a score, or notation as the engraver reads it.

    `name` is for messages: exercise, key and variation.
    """

    name: str
    music: Score | str
    layout: Layout = STAND

    @property
    def notation(self) -> str:
        """As the engraver reads it."""
        return self.notation_filling(1.0)

    def notation_filling(self, part: float) -> str:
        """As the engraver reads it, its lines holding what fits into a part of the paper."""
        if isinstance(self.music, str):
            return self.music
        # abjad takes longer to import than an unchanged book takes to build.
        from .notation import notation

        return notation(self.music, self.layout, part)

    @property
    def weight(self) -> int:
        """About how much work it is, in notes."""
        if isinstance(self.music, str):
            return 4 + len(self.music) // 40
        return 4 + sum(len(bar.events) for line in self.music.lines for bar in line.bars)

    def key(self, engraver: Engraver) -> str:
        """What decides its ink; equal keys are one piece."""
        music = self.music if isinstance(self.music, str) else _said(self.music)
        return key_of((code(), *engraver.decides, repr(self.layout), music))


@cache
def style() -> str:
    """The house style, as the engraver reads it: how signs are drawn, the page, and a player's own signs."""
    room = files("stavewright.engrave")
    parts = ("signs.ly", "style.ly", "player.ly")
    return "\n".join(room.joinpath(name).read_text(encoding="utf-8") for name in parts)


CODE = (
    (
        "stavewright.engrave",
        (
            *("allowed.py", "breaks.py", "chord_names.py", "faces.py", "fingering_charts.py", "leaves.py"),
            *("markup.py", "notation.py", "piece.py", "player.ly", "signs.ly", "style.ly"),
        ),
    ),
    (
        "stavewright.engrave.drawings",
        (
            *("glyph_definitions.py", "lettering.py", "svg.py", "svg_joining.py", "svg_paths.py"),
            *("svg_plain.py", "svg_short.py"),
        ),
    ),
    ("stavewright.engrave.processes", ("finding.py", "lilypond.py", "talk.py", "trial.py", "worker.py")),
    ("stavewright", ("units.py",)),
    (
        "stavewright.music",
        (
            *("accidentals.py", "bars.py", "beams.py", "chords.py", "event.py", "keys.py", "local_words.py"),
            *("pitch.py", "printed_words.py", "score.py", "signs.py"),
        ),
    ),
    ("stavewright.music.sounding", ("repeats.py", "tempos.py")),
    ("stavewright.music.winds", ("fingering.py", "fingering_tables.py", "instrument.py")),
)
"""Every file that has a part in what a piece looks like."""


@cache
def code() -> str:
    """A hash of all that makes ink of a score: this room, its fonts, what it knows of music, and abjad."""
    parts = [files(room).joinpath(name).read_text(encoding="utf-8") for room, names in CODE for name in names]
    parts.append(faces_hash())
    try:
        parts.append(version("abjad"))
    except PackageNotFoundError:
        parts.append("")
    return key_of(parts)


_UNSEEN = {"Event.place", "Score.breath", "Score.compass", "Score.tempo", "Score.sounds", "Staff.ladder"}
"""Fields that leave no ink: where a note stands in its text, what its instrument could play, and how fast and
how high it sounds. A page says the tempo in its own letters."""


@cache
def _fields(kind: Any) -> tuple[tuple[str, Any], ...]:
    return tuple(
        (field.name, object() if field.default is MISSING else field.default)
        for field in fields(kind)
        if field.init and f"{kind.__name__}.{field.name}" not in _UNSEEN
    )


def _said(value: Any) -> str:
    """A value in characters that differ where values do; fields at their defaults are left out."""
    kind = type(value)
    if kind is tuple:
        return f"({','.join(map(_said, value))},)" if value else "()"
    if kind in _SMALL:
        return _said_once(value)
    if kind is str or kind is int or kind is bool or value is None:
        return repr(value)
    if kind is Said:
        return repr(str(value))
    if not is_dataclass(kind):
        raise TypeError(f"a score holds {kind.__name__}, which has no place in a key")
    return _each_field(value)


def _each_field(value: Any) -> str:
    kind: Any = type(value)
    rows = [kind.__name__, "{"]
    for name, default in _fields(kind):
        part = getattr(value, name)
        # Most fields are at their defaults, and those are one and the same object.
        if part is not default and part != default:
            rows += (name, "=", _said(part), ";")
    rows.append("}")
    return "".join(rows)


_SMALL = {Fraction, Key, Meter, Pitch, DynamicMark, PrintedWords, Span, Tempo, Value}
"""Values of which a book has few different ones."""


@lru_cache(maxsize=4096)
def _said_once(value: Any) -> str:
    return repr(value) if type(value) is Fraction else _each_field(value)


@lru_cache(maxsize=4096)
def _time(said: str) -> Fraction:
    return Fraction(said)


@dataclass(frozen=True, slots=True)
class System:
    """A system's edges on its piece's page, in millimetres from the top and the left.

    `middle` is the height of the middle line of its highest staff; None where it has no staff.
    """

    top: float
    bottom: float
    right: float
    left: float = MARGIN
    middle: float | None = None


@dataclass(frozen=True, slots=True)
class Engraved:
    """A piece in ink: for the screen, for paper, and where its systems lie on the page.

    What it was not asked for is None. `warnings` are the engraver's own lines about it, such as a character
    that no font has.
    """

    on_screen: Drawing | None
    on_paper: bytes | None
    systems: tuple[System, ...]
    warnings: tuple[str, ...] = ()

    @property
    def drawing(self) -> Drawing:
        """Its ink on a screen. Raises ValueError where it was engraved for paper alone."""
        if self.on_screen is None:
            raise ValueError("this piece was engraved for paper alone")
        return self.on_screen

    @property
    def pdf(self) -> bytes:
        """Its ink on the only page of a PDF. Raises ValueError where it was engraved for screens alone."""
        if self.on_paper is None:
            raise ValueError("this piece was engraved for screens alone")
        return self.on_paper

    def to_bytes(self) -> bytes:
        """For the cache: a line of JSON, then the PDF."""
        ink = self.on_screen
        head = {
            "drawing": [ink.width, ink.height, ink.body, ink.glyphs] if ink else None,
            "notes": [[note.x, note.y, note.system, str(note.at)] for note in ink.notes] if ink else [],
            "systems": [
                [system.top, system.bottom, system.right, system.left, system.middle]
                for system in self.systems
            ],
            "warnings": self.warnings,
        }
        return json.dumps(head, separators=(",", ":")).encode() + b"\n" + (self.on_paper or b"")

    @classmethod
    def from_bytes(cls, data: bytes) -> Engraved:
        """Back from the cache. Raises ValueError, KeyError or TypeError where the bytes are no such thing."""
        head, _, pdf = data.partition(b"\n")
        values = json.loads(head)
        notes = tuple(Note(x, y, system, _time(at)) for x, y, system, at in values["notes"])
        systems = tuple(System(*edges) for edges in values["systems"])
        ink = None
        if values["drawing"] is not None:
            width, height, body, glyphs = values["drawing"]
            ink = Drawing(width, height, body, glyphs, notes)
        return cls(ink, pdf or None, systems, tuple(values["warnings"]))


class Blame(Enum):
    """What a failure speaks of."""

    PIECE = auto()
    """The piece, as far as one can tell."""
    ENGRAVER = auto()
    """It had to be stopped or could not be run, or its worker was lost: other pieces may fare the same."""
    MACHINE = auto()
    """There is no room for the files of any piece."""


@dataclass(frozen=True, slots=True)
class Failure:
    """A piece that could not be engraved, the engraver's own line about it, and what it speaks of."""

    name: str
    said: str
    blame: Blame = Blame.PIECE

    @property
    def instead(self) -> str:
        """What a page says where the music would stand."""
        return f"The engraver could not write this out: {self.said}"

    def __str__(self) -> str:
        return f"{self.name}: the engraver failed: {self.said}"
