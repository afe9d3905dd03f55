"""What a screen needs beside the pages for the stand: narrow music for a phone, and small signs.

A phone held upright shows the same piece broken into shorter lines, so that its notes stay as large as on
paper. A contents page shows how each exercise begins, and an exercise's page the range that it uses.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..book.pieces import KeyPage, pieces
from ..engrave.engraved_book import EngravedBook, engrave_scores
from ..engrave.engravings import Engravings
from ..engrave.key_cache import KeyCache, keys_entry
from ..engrave.markup import range_staff
from ..engrave.piece import Engraved, Failure, Layout, Use
from ..engrave.processes.background import BackgroundThread
from ..engrave.processes.scheduler import Pool
from ..music.event import HAIRPINS, TUPLET, Event, Span
from ..music.pitch import Pitch
from ..music.score import Bar, Score, pitch_range
from ..music.signs import GLISSANDO
from ..translation.said import Said, phrase

PHONE = Layout(90, 20, use=Use.SCREEN)
"""A column of 360 pixels shows 92 mm of paper with staves about 27 pixels high."""

OPENING = Layout(112, 20, use=Use.SCREEN)
"""For how an exercise begins, on one line nearly always."""

_MARGIN = 1
_BARS_AT_MOST = 4
_NOTES = 9
"""Notes and rests that a line of OPENING holds with room to spare."""


@dataclass(frozen=True, slots=True)
class Ambitus:
    """The lowest and the highest written pitch of an exercise, over all its keys."""

    low: Pitch
    high: Pitch
    clef: str

    @property
    def notation(self) -> str:
        """Two notes with a line between, on a staff without a meter."""
        return range_staff(self.low, self.high, self.clef)

    @property
    def words(self) -> Said:
        """`from D4 to A6`."""
        return phrase("from {low} to {high}", low=self.low.spoken, high=self.high.spoken)


@dataclass(frozen=True, slots=True)
class ScreenMusic:
    """The site's own pieces: `narrow` by part name, the others by the addresses of exercise and instrument.

    `openings` are for each key, whose address is the third; `small` has their ink and that of `spans`. A
    piece that is narrow enough on paper has no entry in `narrow`.
    """

    narrow: Engravings[str]
    small: Engravings[str]
    openings: dict[tuple[str, str, str], Score]
    spans: dict[tuple[str, str], Ambitus]

    @property
    def failures(self) -> tuple[Failure, ...]:
        """The pieces that could not be engraved, when all are."""
        narrow = (replace(each, name=f"{each.name}, in narrow lines") for each in self.narrow.failures)
        return (*narrow, *self.small.failures)

    def wait(self) -> None:
        """Until all of it is engraved."""
        self.narrow.wait()
        self.small.wait()

    def incipit(self, place: tuple[str, str, str]) -> tuple[Score, Engraved] | None:
        """How an exercise begins in a key, and its ink; None where there is neither."""
        score = self.openings.get(place)
        found = self.small[_opening_of(place)] if score else None
        return (score, found) if score and isinstance(found, Engraved) else None

    def ambitus(self, place: tuple[str, str]) -> tuple[Ambitus, Engraved] | None:
        """The range of an exercise, and its ink; None where there is neither."""
        span = self.spans.get(place)
        found = self.small[_range_of(place)] if span else None
        return (span, found) if span and isinstance(found, Engraved) else None


def _opening_of(place: tuple[str, str, str]) -> str:
    return f"opening of {' '.join(place)}"


def _range_of(place: tuple[str, str]) -> str:
    return f"range of {' '.join(place)}"


def fits_phone(engraved: Engraved) -> bool:
    """Whether a piece laid out for paper is one line that a phone can show as it is."""
    return len(engraved.systems) == 1 and engraved.systems[0].right <= PHONE.width + 2 * _MARGIN


def engrave_for_screens(
    engraved_book: EngravedBook, pool: Pool | None = None, behind: BackgroundThread | None = None
) -> ScreenMusic:
    """Engrave what the site shows beside the pages for the stand."""
    narrow = _narrow(engraved_book, pool, behind)
    openings: dict[tuple[str, str, str], Score] = {}
    spans: dict[tuple[str, str], Ambitus] = {}
    for instrument_book in engraved_book.instrument_books:
        for exercise, pages in instrument_book.exercises:
            place = exercise.slug, instrument_book.instrument.slug
            for page in pages:
                if first := first_score((page,)):
                    openings[*place, page.key] = opening(first)
            if found_span := span_of(pages):
                spans[place] = found_span
    named: dict[str, Score | str] = {_opening_of(place): openings[place] for place in openings}
    named |= {_range_of(place): span.notation for place, span in spans.items()}
    return ScreenMusic(narrow, engrave_scores(named, pool, layout=OPENING, behind=behind), openings, spans)


def _narrow(
    engraved_book: EngravedBook, pool: Pool | None, behind: BackgroundThread | None
) -> Engravings[str]:
    """The pieces that a phone cannot show as they are on paper, in its lines."""
    known = KeyCache()
    music: dict[str, Score] = {}
    for instrument_book in engraved_book.instrument_books:
        for exercise, pages in instrument_book.exercises:
            parts = pieces(pages)
            wide = (repr(PHONE), *(engraved_book.engravings.key(part.name) for part in parts))
            place = keys_entry("narrow", exercise, instrument_book.instrument, wide)
            keys = known.load(place, parts)
            if keys is None:
                found = [engraved_book.engravings[part.name] for part in parts]
                chosen = [isinstance(each, Engraved) and not fits_phone(each) for each in found]
                if all(isinstance(each, Engraved) for each in found):
                    known.request(place, parts)
            else:
                chosen = [key is not None for key in keys]
            music |= {
                part.name: part.score
                for part, narrow in zip(parts, chosen, strict=True)
                if narrow and part.score is not None
            }
    engravings = engrave_scores(music, pool, None, PHONE, behind, known.keys)
    known.store_requested(engravings)
    return engravings


def first_score(pages: tuple[KeyPage, ...]) -> Score | None:
    """The first setting of an exercise, in the order of travel, that has music."""
    found = (part.score for page in pages for placed in page.placed for part in placed.parts[:1])
    return next((score for score in found if score is not None), None)


def opening(score: Score) -> Score:
    """How a piece begins: two to four full bars of the player's line, ended where no slur or tie is open.

    The longest such opening that is no more than a line's worth of notes, else the shortest. Where there is
    no such place, four bars without what would reach beyond them.
    """
    pickup = 1 if score.pickup else 0
    bars = score.line.bars[: _BARS_AT_MOST + pickup]
    whole = [number for number in range(2 + pickup, len(bars) + 1) if not _open(bars[:number])]
    short = [number for number in whole if sum(len(bar.events) for bar in bars[:number]) <= _NOTES]
    end = max(short) if short else min(whole, default=len(bars))
    kept = [bar.played_once for bar in bars[:end]]
    if not whole and end < len(score.line.bars):
        kept = [replace(bar, events=tuple(map(_alone, bar.events))) for bar in kept]
    kept = [replace(bar, end="|" if bar.end.startswith(":") else bar.end) for bar in kept]
    return replace(score, lines=(replace(score.line, bars=tuple(kept)),), chords=())


def _open(bars: tuple[Bar, ...]) -> bool:
    """Whether a slur, a tie, a hairpin or another span reaches beyond these bars."""
    spans: list[Span] = []
    hairpin = False
    for event in (event for bar in bars for event in bar.events):
        spans = [span for span in (*spans, *event.opens) if span not in event.closes]
        for shade in event.dynamic_marks:
            hairpin = shade.mark in HAIRPINS
    last = bars[-1].events[-1]
    return bool(spans) or hairpin or last.tie or GLISSANDO in last.marks


def _alone(event: Event) -> Event:
    """An event without what joins it to another beyond its bar."""
    opens = tuple(span for span in event.opens if span.kind == TUPLET)
    closes = tuple(span for span in event.closes if span.kind == TUPLET)
    event = event.without_marks(GLISSANDO)
    return replace(event, tie=False, opens=opens, closes=closes, dynamic_marks=(), vibrato=())


def span_of(pages: tuple[KeyPage, ...]) -> Ambitus | None:
    """The range of an exercise over its keys as written, or None where nothing of it can be played."""
    bars = [
        bar
        for page in pages
        for placed in page.placed
        if placed.setting.fits
        for bar in placed.setting.bars + placed.setting.second
    ]
    if not any(event.pitch for bar in bars for event in bar.events):
        return None
    return Ambitus(*pitch_range(tuple(bars)), clef=pages[0].instrument.clef)
