"""Where pieces become strips and texts become letters, each once, with what was found amiss."""

from __future__ import annotations

import zlib
from collections.abc import Hashable, Iterable, Mapping
from dataclasses import replace
from functools import lru_cache, partial
from typing import Any, TypeVar

from ..cache.memo import memo_key
from ..cache.store import CacheStore
from ..engrave.engravings import Engravings
from ..engrave.piece import STAND, Failure, Piece, Use
from ..engrave.processes.background import BackgroundThread
from ..engrave.processes.scheduler import Pool, engrave_all
from ..music.score import Score
from .extracted_piece import ExtractedPiece, ExtractedSystem
from .page_format import PageFormat
from .prefetch import Pairs
from .text import Text, missing

_WORDS = replace(STAND, use=Use.PAPER)
_AT_HAND = 2048
"""Pieces whose ink is held in memory."""

K = TypeVar("K", bound=Hashable)


class Typesetter:
    """Strips for prints of one form. `problems` says in plain sentences what could not be shown."""

    def __init__(
        self, engravings: Engravings[str], form: PageFormat, kept: CacheStore, pool: Pool | None = None
    ) -> None:
        self.form = form
        self.kept = kept
        self.problems: dict[str, None] = {}
        self.failed: dict[str, None] = {}
        """Those of the problems for which the engraver is to blame."""
        self.calm: dict[str, tuple[bool, ...]] = {}
        self._engravings = engravings
        self._pool = pool
        self._shapes: dict[str, ExtractedPiece | Failure] = {}
        # A piece by its name, with those that were asked for last still at hand.
        self._strip = lru_cache(maxsize=_AT_HAND)(partial(self._read, engravings))
        self._letters: dict[Text, ExtractedPiece] = {}

    def on(self, form: PageFormat) -> Typesetter:
        """The same pieces and letters for another form of the same staff."""
        other = Typesetter(self._engravings, form, self.kept, self._pool)
        other.calm = self.calm
        other.problems, other.failed, other._letters = self.problems, self.failed, self._letters
        other._shapes, other._strip = self._shapes, self._strip
        return other

    def key(self, name: str) -> str:
        """What decides a piece's ink."""
        return self._engravings.key(name)

    def shape(self, name: str) -> ExtractedPiece | Failure:
        """A piece's measures by its part's name, without its ink."""
        if name not in self._shapes:
            found = self._strip(name)
            self._shapes[name] = found if isinstance(found, Failure) else found.shape
            if isinstance(found, Failure):
                self._fail(str(found))
        return self._shapes[name]

    def engrave(self, name: str) -> ExtractedPiece:
        """A piece by its part's name. Raises ValueError where it has failed."""
        found = self._strip(name)
        if isinstance(found, Failure):
            raise ValueError(f"{found} has no strip")
        return found

    def extract(self, *engravings: Engravings[Any]) -> Pairs:
        """What of these pieces and words has still to be taken apart."""
        keys = dict.fromkeys(each.key(name) for each in engravings for name in each)
        return [(key, strip) for key in keys if not self.kept.has(strip := _strip_key(key))]

    def written(
        self, texts: Iterable[Text], pool: Pool | None = None, behind: BackgroundThread | None = None
    ) -> Engravings[Text]:
        """Words engraved, as `engrave_all` does it."""
        # An engraver that is given nothing to draw ends.
        drawn = (found for found in dict.fromkeys(texts) if found.markup)
        return engrave_all(
            drawn,
            lambda found: Piece(_named(found), found.notation, _WORDS),
            pool or self._pool,
            None,
            self.kept,
            behind,
        )

    def _read(self, engravings: Engravings[K], name: K) -> ExtractedPiece | Failure:
        key = _strip_key(engravings.key(name))
        data = self.kept.get(key)
        if data is not None:
            try:
                return ExtractedPiece.from_bytes(data)
            except (zlib.error, ValueError, KeyError, TypeError):
                pass
        engraved = engravings[name]
        if isinstance(engraved, Failure):
            return engraved
        # What reads the file is slow to load, and not needed where nothing changed.
        from .pdf.fonts import Unreadable
        from .pdf.reader import extract_piece

        try:
            made = extract_piece(engraved)
        except Unreadable as reason:
            return Failure(str(name), str(reason))
        self.kept.put(key, made.to_bytes())
        return made

    def engrave_texts(self, texts: Iterable[Text]) -> Mapping[Text, ExtractedPiece]:
        """Engrave texts; one that fails or has no font is named among the problems."""
        wanted = list(dict.fromkeys(texts))
        todo = [found for found in wanted if found not in self._letters]
        engravings = self.written(todo)
        for found in todo:
            blank = ExtractedPiece((ExtractedSystem(0.0, found.style.leading, 0.0, None, ("",)),), {})
            strip = self._read(engravings, found) if found.markup else blank
            if isinstance(strip, Failure):
                self._fail(f"{_named(found)}: the engraver failed: {strip.said}")
                strip = blank
            else:
                self._judge(_named(found), found.words, strip)
            self._letters[found] = strip
        return {found: self._letters[found] for found in wanted}

    def _fail(self, said: str) -> None:
        self.problems[said] = self.failed[said] = None

    def check(self, music: Iterable[tuple[str, Score]]) -> None:
        """Whether everything written in some pieces, each with its name, is there to be seen."""
        for name, score in music:
            words = _words_in(score)
            strip = self._strip(name) if words else None
            if isinstance(strip, ExtractedPiece):
                self._judge(name, words, strip)

    def _judge(self, where: str, words: str, strip: ExtractedPiece) -> None:
        lost = missing(words, (strip.shown,))
        if lost:
            codes = ", ".join(f"U+{ord(sign):04X}" for sign in lost[:8])
            said = f"{where}: no font here shows {lost[:8]} ({codes}); install a font of the system that does"
            self.problems[said] = None


def _strip_key(ink: str) -> str:
    return memo_key("strip", (ink,))


def _named(found: Text) -> str:
    return f"the words {found.words[:60]!r}"


def _words_in(score: Score) -> str:
    rows = [event.above + event.below + event.fingering for line in score.lines for event in line.events()]
    return "".join(rows) + "".join(score.words.of(line.label) for line in score.lines)
