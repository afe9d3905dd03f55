"""One worker: pieces in, ink out, with an engraver of its own that is started once.

While the engraver is at work on one piece, the worker reads what it made of the piece before. A worker runs
in this process, in a process of its own (`main`, pickled values in and out), or on another machine.
"""

from __future__ import annotations

import atexit
import errno
import pickle
import re
import signal
import sys
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from fractions import Fraction
from importlib import import_module
from itertools import pairwise
from pathlib import Path
from threading import local
from typing import BinaryIO

from ...cache.store import CacheStore
from ...jobs.systems import is_closed_pipe
from ...units import POINTS_PER_MM
from ..allowed import NotInk
from ..drawings.svg import Note, drawing
from ..piece import MARGIN, STAND, Blame, Engraved, Failure, Layout, Piece, System, Use
from .finding import find_engraver
from .lilypond import Engraver, EngraverMissing, LilyPondServer, LilyPondServerLost, full_words, no_room_left
from .talk import is_error

_DATES = re.compile(
    rb"/(?:Creation|Mod)Date ?\(D:\d{14}[^)]*\)"
    rb"|/ID \[<[0-9A-F]+><[0-9A-F]+>\]"
    rb"|uuid:[0-9a-f-]{36}"
    rb"|<xmp:(?:Modify|Create)Date>[^<]*<"
)
_KEPT_IN_DATES = re.compile(rb"/CreationDate|/ModDate|/ID|D:|uuid|xmp:ModifyDate|xmp:CreateDate|[^0-9A-Fa-f]")


def undated(pdf: bytes) -> bytes:
    """A PDF whose dates and identifiers are all noughts; nothing in it moves."""
    return _DATES.sub(
        lambda found: b"".join(
            part if _KEPT_IN_DATES.fullmatch(part) else b"0" * len(part)
            for part in re.split(b"(" + _KEPT_IN_DATES.pattern + b")", found[0])
        ),
        pdf,
    )


_RENEWED = 1_000_000
"""Characters of notation, some 1,400 short pieces, after which an engraver is ended and another begun: each
piece leaves about 40 KB behind in its memory."""


MOST_STOPPED = 3
"""Pieces over which an engraver may be stopped, or a worker lost, before the engraver is given up."""


@dataclass(slots=True)
class _Places:
    """What the engraver says of where it put a piece; `heads` by their time, each with its left edge."""

    systems: list[System] = field(default_factory=list)
    heads: dict[tuple[Fraction, Fraction], tuple[Note, float]] = field(default_factory=dict)


def _listed(listing: str) -> _Places:
    """Read what the engraver wrote of where it put things (`write-systems` in style.ly)."""
    places = _Places()
    for row in listing.splitlines():
        kind, *values = row.split()
        if kind == "system":
            top, bottom, left, right = (round(float(value), 3) for value in values[:4])
            middle = round(float(values[4]), 3) if values[4:] else None
            places.systems.append(System(top, bottom, right + MARGIN, left + MARGIN, middle))
        else:
            main, grace = map(Fraction, values[:2])
            middle, y, left = (float(value) * POINTS_PER_MM for value in values[2:])
            across = MARGIN * POINTS_PER_MM
            note = Note(round(middle + across, 2), round(y, 2), len(places.systems) - 1, main)
            # Heads of one chord are one event.
            places.heads.setdefault((main, grace), (note, left + across))
    return places


_FINER = (0.88, 0.76, 0.64, 0.5, 0.35)
"""Parts of the paper that lines fill, one after another, where a line came out wider than the paper."""

_HAIR = 0.5
"""Millimetres by which ink may pass the music's width: half of a thick bar line, a system's first line."""

_TOUCHING = 0.3
"""Staff spaces between two heads that are too near to be read one after the other."""


def _fits(layout: Layout, places: _Places) -> bool:
    """Whether every system lies within its paper, with its heads apart."""
    right = layout.width + MARGIN + _HAIR
    if any(system.right > right or system.left < MARGIN - _HAIR for system in places.systems):
        return False
    beats = [places.heads[time] for time in sorted(places.heads) if not time[1]]
    least = _TOUCHING * layout.space * POINTS_PER_MM
    return all(
        left - (2 * before.x - edge) >= least
        for (before, edge), (here, left) in pairwise(beats)
        if before.system == here.system
    )


class _TooWide(Exception):
    """Raised where a piece's lines do not fit on its paper."""


def _collected(name: str, layout: Layout, servers: list[LilyPondServer], said: list[str]) -> Engraved:
    """A piece's ink from its files in the engravers' folders.

    Raises what reading a wrong file raises, and _TooWide where it does not fit on its paper.
    """
    svg, pdf = servers[0].folder, servers[-1].folder
    listing = (svg if layout.use.on_screen else pdf) / f"{name}.txt"
    places = _listed(listing.read_text(encoding="utf-8"))
    if not places.systems:
        raise ValueError("the engraver made an empty page")
    if not _fits(layout, places):
        raise _TooWide
    ink = paper = None
    systems = places.systems
    if layout.use.on_screen:
        heads = [places.heads[time] for time in sorted(places.heads)]
        text = (svg / f"{name}.svg").read_text(encoding="utf-8")
        ink = drawing(text, [note for note, _ in heads], [left for _, left in heads], servers[0].path)
    if layout.use.on_paper:
        paper = (pdf / f"{name}.pdf").read_bytes()
        if not paper.startswith(b"%PDF-") or not paper.rstrip().endswith(b"%%EOF"):
            raise ValueError("the engraver's PDF is none, or a part of one")
        paper = undated(paper)
        # Where two engravers drew, each measured its own letters; pages are laid out by the PDF's measures.
        if pdf != svg:
            systems = _listed((pdf / f"{name}.txt").read_text("utf-8")).systems
    warnings = tuple(row for row in said if "warning:" in row)
    return Engraved(ink, paper, tuple(systems), warnings)


class Worker:
    """Engraves pieces one after another."""

    def __init__(self, engraver: Engraver) -> None:
        self._engraver = engraver
        self._staff: float | None = None
        self._servers: list[LilyPondServer] = []
        self._count = 0
        self._characters = 0

    def close(self) -> None:
        """End its engraver; another is started for the next piece."""
        for server in self._servers:
            server.close()
        self._servers = []
        self._characters = 0

    def _set_up(self, layout: Layout, careful: bool = False) -> list[LilyPondServer]:
        return [
            LilyPondServer(self._engraver.path, options, layout.head, careful)
            for options in self._engraver.passes
        ]

    def get_ready(self) -> None:
        """Start its engraver before the first piece comes, most likely for the stand."""
        self._servers = self._set_up(STAND)
        self._staff = STAND.staff

    def engrave(self, pieces: Sequence[Piece]) -> Iterator[Engraved | Failure]:
        """Engrave pieces, in their order. One that fails does not harm the others.

        After a few on which the engraver had to be stopped or could not be run, no more are tried.
        """
        sent: list[_Sent | Failure] = []
        stopped = 0
        if self._characters > _RENEWED:
            self.close()
        try:
            for place, piece in enumerate(pieces):
                if stopped == MOST_STOPPED:
                    yield Failure(
                        piece.name, "it was not tried, for the engraver had failed on others", Blame.ENGRAVER
                    )
                    continue
                if piece.layout.staff != self._staff:
                    self.close()
                    self._staff = piece.layout.staff
                try:
                    # The engraver has the next piece before this one is read, and need not wait.
                    for ahead in pieces[len(sent) : place + 2]:
                        if ahead.layout.staff == piece.layout.staff:
                            sent.append(self._send(ahead))
                    now = sent[place]
                    result = now if isinstance(now, Failure) else _result(self._servers, piece, now)
                except _TooWide:
                    result = self._broken_finer(piece)
                except (LilyPondServerLost, OSError) as lost:
                    result = _lost(piece, lost)
                    self.close()
                    sent[place:] = [result]
                    stuck = isinstance(lost, LilyPondServerLost) and lost.stopped
                    if not stuck and result.blame is not Blame.MACHINE:
                        result = self._once_more(piece)
                if isinstance(result, Failure) and result.blame is Blame.ENGRAVER:
                    stopped += 1
                yield result
        except GeneratorExit:
            # Nobody wants the pieces that it still has.
            self.close()
            raise

    def _send(self, piece: Piece) -> _Sent | Failure:
        """Give a piece to the engraver. Raises OSError."""
        # First the engraver, which takes a moment to begin, as does what writes the notation.
        if not self._servers:
            self._servers = self._set_up(piece.layout)
        try:
            notation = piece.notation
        except Exception as error:  # whatever is wrong with it, the others shall be engraved
            blame = Blame.ENGRAVER if isinstance(error, ImportError) else Blame.PIECE
            return Failure(piece.name, f"its notation could not be written: {error!r}", blame)
        self._count += 1
        self._characters += len(notation)
        return _given(self._servers, f"p{self._count}", piece.layout, notation)

    def _once_more(self, piece: Piece) -> Engraved | Failure:
        """A piece on which an engraver ended."""
        try:
            return self._again(piece)
        except _TooWide:
            return self._broken_finer(piece)

    def _broken_finer(self, piece: Piece) -> Engraved | Failure:
        """A piece whose lines do not fit on its paper, with shorter ones."""
        tried = piece.notation
        for part in _FINER:
            if (finer := piece.notation_filling(part)) != tried:
                tried = finer
                with suppress(_TooWide):
                    return self._again(piece, finer)
        return Failure(
            piece.name,
            "its music is wider than the paper even on the shortest lines; print it with a smaller staff, or "
            "shorten the syllables, words and groups of notes that no line can part",
        )

    def _again(self, piece: Piece, notation: str = "") -> Engraved | Failure:
        """A piece on which an engraver ended, once more with an engraver for itself. Raises _TooWide."""
        servers: list[LilyPondServer] = []
        try:
            servers = self._set_up(piece.layout, careful=True)
            given = _given(servers, "again", piece.layout, notation or piece.notation)
            return _result(servers, piece, given)
        except (LilyPondServerLost, OSError) as lost:
            return _lost(piece, lost)
        finally:
            for server in servers:
                server.close()


@dataclass(frozen=True, slots=True)
class _Sent:
    """A piece that servers have: its name there, and its size in characters."""

    name: str
    characters: int


def _asked(servers: list[LilyPondServer], use: Use) -> list[LilyPondServer]:
    """Those of the servers that make what a piece is for: of two, the first makes SVG, the other PDF."""
    if len(servers) == 1 or use is Use.ANYWHERE:
        return servers
    return servers[:1] if use.on_screen else servers[-1:]


def _given(servers: list[LilyPondServer], name: str, layout: Layout, notation: str) -> _Sent:
    paper = f'\\paper {{ piece-name = "{name}" {layout.paper} }}'
    source = f'\\book {{ \\bookOutputName "{name}" {paper}\n{notation}}}\n'
    for server in _asked(servers, layout.use):
        server.send(name, source)
    return _Sent(name, len(source))


def _lost(piece: Piece, lost: LilyPondServerLost | OSError) -> Failure:
    """A failure over which an engraver ended or could not be run."""
    if isinstance(lost, OSError):
        if lost.errno in (errno.ENOSPC, errno.EDQUOT):
            return Failure(piece.name, full_words(), Blame.MACHINE)
        return Failure(piece.name, f"it could not be run: {lost}", Blame.ENGRAVER)
    return _failed(piece, str(lost), Blame.ENGRAVER if lost.stopped else Blame.PIECE)


def _failed(piece: Piece, said: str, blame: Blame = Blame.PIECE) -> Failure:
    """A failure; one that is no wonder, as there is no room for files, speaks of that."""
    full = no_room_left()
    return Failure(piece.name, full, Blame.MACHINE) if full else Failure(piece.name, said, blame)


def _result(servers: list[LilyPondServer], piece: Piece, sent: _Sent) -> Engraved | Failure:
    """What servers made of a piece. Raises LilyPondServerLost, and _TooWide where it does not fit."""
    asked = _asked(servers, piece.layout.use)
    rows = (row for server in asked for row in server.wait(sent.name, sent.characters))
    said = [row.replace(f"{sent.name}.ly:", "line ") for row in rows]
    error = next(filter(is_error, said), None)
    try:
        if error:
            return _failed(piece, error)
        return _collected(sent.name, piece.layout, servers, said)
    except _TooWide:
        raise
    except NotInk as problem:
        return Failure(piece.name, str(problem))
    except Exception as problem:  # whatever it made instead, the others shall be engraved
        return _failed(piece, said[-1] if said else f"it gave no drawing: {problem}")
    finally:
        for server in asked:
            server.forget(sent.name)


_mine = local()


def here() -> Worker:
    """This thread's worker, kept until the process ends. Raises EngraverMissing."""
    found: Worker | None = getattr(_mine, "worker", None)
    if found is None:
        found = _mine.worker = Worker(find_engraver())
        atexit.register(found.close)
    return found


def leave() -> None:
    """End this thread's worker, if it has one."""
    found: Worker | None = getattr(_mine, "worker", None)
    if found is not None:
        found.close()
        atexit.unregister(found.close)
        del _mine.worker


Task = tuple[str, Piece]
Answer = tuple[str, Engraved | Failure | None]
"""A piece's key and its ink; None in its place where the cache has it."""


def work(tasks: Sequence[Task], place: Path | None) -> Iterator[Answer]:
    """Engrave pieces by key and keep them in the cache at `place`, where there is one."""
    cache = CacheStore(place) if place else None
    results = here().engrave([piece for _, piece in tasks])
    for (key, _), result in zip(tasks, results, strict=True):
        kept = cache is not None and isinstance(result, Engraved) and cache.put(key, result.to_bytes())
        yield key, None if kept else result


def serve(source: BinaryIO, sink: BinaryIO) -> None:
    """Answer lists of tasks until there are no more: after the last answer to each, None."""
    while True:
        try:
            tasks, place = pickle.load(source)
        except EOFError:
            return
        for answer in work(tasks, place):
            pickle.dump(answer, sink)
            sink.flush()
        pickle.dump(None, sink)
        sink.flush()


def main(source: BinaryIO, sink: BinaryIO) -> None:
    """A worker in a process of its own. What ends it is said in words, in an answer's place."""
    # Ended from outside, it still ends its engraver.
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    try:
        with suppress(KeyboardInterrupt):
            _serve(source, sink)
    except OSError as error:
        # Where its maker is gone there is nobody to answer, nor to tell so.
        if not is_closed_pipe(error):
            raise


def _serve(source: BinaryIO, sink: BinaryIO) -> None:
    try:
        with suppress(OSError, EngraverMissing):
            # Where that fails, the first piece says why.
            here().get_ready()
        # What writes the notation takes as long to load as the engraver to start.
        import_module("stavewright.engrave.notation")
        serve(source, sink)
    except Exception as error:
        if isinstance(error, OSError) and is_closed_pipe(error):
            raise
        pickle.dump(f"{type(error).__name__}: {error}", sink)
        sink.flush()
