"""Many pieces, few runs of the engraver: batches, workers, and the piece that a failure belongs to."""

from __future__ import annotations

import json
import os
import re
import shutil
import tempfile
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from importlib.resources import files
from pathlib import Path

from .cache import PieceCache, key_of
from .engine import Engraver, Run, find_engraver, run
from .svg import Drawing, Note, drawing

CODE_VERSION = "4"
"""Raised by hand when this room changes what it makes of the engraver's output."""

BATCH = 40
"""Pieces a run: start-up (about 0.3 s) is small beside their work, and memory stays below 100 MB."""

_MARGIN = 1
"""Millimetres of paper on either side of the music."""

_POINTS_A_MILLIMETRE = 72 / 25.4

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Layout:
    """How a piece is laid out: `width` of the music in millimetres, `staff` its staff's height in points."""

    width: float
    staff: float


STAND = Layout(180, 20)
"""For paper on a stand: 180 mm fits A4 and US Letter, and a staff of 20 points is 7.03 mm high."""


@dataclass(frozen=True, slots=True)
class Piece:
    """Notation to engrave. `name` is for messages: exercise, key and variation."""

    name: str
    notation: str
    layout: Layout = STAND

    def key(self, engraver: Engraver) -> str:
        """What decides its ink; equal keys are one piece."""
        return key_of(
            (CODE_VERSION, engraver.version, str(engraver.cairo), _style(), repr(self.layout), self.notation)
        )


@dataclass(frozen=True, slots=True)
class System:
    """A system's edges on its piece's page, in millimetres from the top and the left."""

    top: float
    bottom: float
    right: float


@dataclass(frozen=True, slots=True)
class Engraved:
    """A piece in ink: for the screen, for paper, and where its systems lie on the PDF's only page."""

    drawing: Drawing
    pdf: bytes
    systems: tuple[System, ...]

    def to_bytes(self) -> bytes:
        """For the cache: a line of JSON, then the PDF."""
        ink = self.drawing
        head = {
            "drawing": [ink.width, ink.height, ink.body, ink.glyphs],
            "notes": [[note.x, note.y, note.system, str(note.at)] for note in ink.notes],
            "systems": [[system.top, system.bottom, system.right] for system in self.systems],
        }
        return json.dumps(head, separators=(",", ":")).encode() + b"\n" + self.pdf

    @classmethod
    def from_bytes(cls, data: bytes) -> Engraved:
        """Back from the cache. Raises ValueError, KeyError or TypeError where the bytes are no such thing."""
        head, _, pdf = data.partition(b"\n")
        values = json.loads(head)
        notes = tuple(Note(x, y, system, Fraction(at)) for x, y, system, at in values["notes"])
        systems = tuple(System(*edges) for edges in values["systems"])
        width, height, body, glyphs = values["drawing"]
        return cls(Drawing(width, height, body, glyphs, notes), pdf, systems)


@dataclass(frozen=True, slots=True)
class Failure:
    """A piece that could not be engraved, and the engraver's own line about it."""

    name: str
    said: str

    def __str__(self) -> str:
        return f"{self.name}: the engraver failed: {self.said}"


@dataclass(slots=True)
class _Places:
    """What the engraver says of where it put a piece; `heads` by their time, each with its left edge."""

    systems: list[System] = field(default_factory=list)
    heads: dict[tuple[Fraction, Fraction], tuple[Note, float]] = field(default_factory=dict)


@cache
def _style() -> str:
    return files("builder.engrave").joinpath("style.ly").read_text(encoding="utf-8")


def _source(pieces: Sequence[Piece]) -> str:
    """One engraver file for a batch of pieces of one layout."""
    layout = pieces[0].layout
    rows = [
        _style(),
        f"#(set-global-staff-size {layout.staff:g})",
        f"\\paper {{ paper-width = {layout.width + 2 * _MARGIN:g}\\mm line-width = {layout.width:g}\\mm }}",
    ]
    for number, piece in enumerate(pieces):
        name = f"p{number:05d}"
        rows.append(
            f'\\book {{ \\bookOutputName "{name}" \\paper {{ piece-name = "{name}" }}\n{piece.notation}}}'
        )
    return "\n".join(rows) + "\n"


def _own_line(done: Run) -> str:
    """The engraver's line that says most about why it failed."""
    rows = [row for row in done.said.splitlines() if row.strip()]
    for row in rows:
        if "error" in row.lower():
            return re.sub(r"^.*?batch\.ly:", "line ", row).strip()
    return rows[-1].strip() if rows else f"exit status {done.status}"


def _listed(folder: Path) -> dict[str, _Places]:
    """What the engraver wrote of where it put things (`write-systems` in style.ly), by piece."""
    found: dict[str, _Places] = {}
    listing = folder / "systems.txt"
    for row in listing.read_text(encoding="utf-8").splitlines() if listing.exists() else []:
        kind, piece, *values = row.split()
        places = found.setdefault(piece, _Places())
        if kind == "system":
            top, bottom, right = map(float, values)
            places.systems.append(System(round(top, 3), round(bottom, 3), round(right + _MARGIN, 3)))
        else:
            main, grace = map(Fraction, values[:2])
            middle, y, left = (float(value) * _POINTS_A_MILLIMETRE for value in values[2:])
            across = _MARGIN * _POINTS_A_MILLIMETRE
            note = Note(round(middle + across, 2), round(y, 2), len(places.systems) - 1, main)
            # Heads of one chord are one event.
            places.heads.setdefault((main, grace), (note, left + across))
    return found


def _collect(folder: Path, count: int) -> list[Engraved | None]:
    """Each piece's ink, None where it is missing or cannot be read."""
    listed = _listed(folder)
    found: list[Engraved | None] = []
    for number in range(count):
        name = f"p{number:05d}"
        try:
            places = listed[name]
            heads = [places.heads[time] for time in sorted(places.heads)]
            text = (folder / f"{name}.svg").read_text(encoding="utf-8")
            ink = drawing(text, [note for note, _ in heads], [left for _, left in heads])
            found.append(Engraved(ink, (folder / f"{name}.pdf").read_bytes(), tuple(places.systems)))
        except (OSError, ValueError, KeyError):
            found.append(None)
    return found


def _engrave_batch(engraver: Engraver, pieces: Sequence[Piece]) -> list[Engraved | Failure]:
    """Engrave a batch; where the run fails, halve it until the pieces at fault stand alone."""
    folder = Path(tempfile.mkdtemp(prefix="stavewright-"))
    try:
        (folder / "batch.ly").write_text(_source(pieces), encoding="utf-8")
        done = run(engraver, folder, "batch.ly", len(pieces))
        found = _collect(folder, len(pieces)) if done.status == 0 else [None] * len(pieces)
    finally:
        shutil.rmtree(folder, ignore_errors=True)
    whole = [item for item in found if item is not None]
    if len(whole) == len(pieces):
        return list(whole)
    if len(pieces) == 1:
        return [Failure(pieces[0].name, _own_line(done))]
    half = len(pieces) // 2
    return _engrave_batch(engraver, pieces[:half]) + _engrave_batch(engraver, pieces[half:])


def engrave(
    pieces: Iterable[Piece],
    jobs: int | None = None,
    progress: Progress | None = None,
    cache: PieceCache | None = None,
) -> list[Engraved | Failure]:
    """Engrave pieces, in their order; equal pieces once, and none that the cache holds.

    `jobs` is the number of engravers at work at once, all cores where None. `progress(done, all)` is
    called as batches end. Raises EngraverMissing where there is no engraver.
    """
    engraver = find_engraver()
    wanted = list(pieces)
    keys = [piece.key(engraver) for piece in wanted]
    done: dict[str, Engraved | Failure] = {}
    todo: dict[str, Piece] = {}
    for key, piece in zip(keys, wanted, strict=True):
        if key in done or key in todo:
            continue
        kept = cache.get(key) if cache else None
        try:
            if kept is None:
                raise KeyError(key)
            done[key] = Engraved.from_bytes(kept)
        except (ValueError, KeyError, TypeError):
            todo[key] = piece
    # Longest first, so that no core waits at the end for one long batch.
    order = sorted(todo, key=lambda key: -len(todo[key].notation))
    batches = [list(group) for group in _batches(order, todo)]
    total, ready = len(todo), 0
    if progress:
        progress(0, total)
    workers = max(1, jobs or os.cpu_count() or 1)
    with ThreadPoolExecutor(max_workers=workers) as pool:
        futures = {
            pool.submit(_engrave_batch, engraver, [todo[key] for key in batch]): batch for batch in batches
        }
        for future in as_completed(futures):
            batch = futures[future]
            for key, result in zip(batch, future.result(), strict=True):
                done[key] = result
                if cache and isinstance(result, Engraved):
                    cache.put(key, result.to_bytes())
            ready += len(batch)
            if progress:
                progress(ready, total)
    return [
        Failure(piece.name, found.said) if isinstance(found := done[key], Failure) else found
        for key, piece in zip(keys, wanted, strict=True)
    ]


def _batches(order: Sequence[str], todo: dict[str, Piece]) -> Iterable[Sequence[str]]:
    """Batches of one layout each."""
    by_layout: dict[Layout, list[str]] = {}
    for key in order:
        by_layout.setdefault(todo[key].layout, []).append(key)
    for keys in by_layout.values():
        for start in range(0, len(keys), BATCH):
            yield keys[start : start + BATCH]
