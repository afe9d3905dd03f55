"""Time in words: how long each piece lasts, its longest breath, and the total of a page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from typing import Any

from ..cache.memo import memo_json
from ..cache.store import CacheStore
from ..music.exercise import Exercise, exercise_fingerprint
from ..music.score import Score
from ..music.timing import FASTEST, SLOWEST, Length, LongBreath, long_breath, timing
from ..music.transpositions import settings_of
from ..music.whole_range import whole_range_figures
from ..plurals import count_of, plural
from .pieces import KeyPage, Rendition, SettingPieces, renditions_of
from .read import Book

_MINUTES = 120
"""Up to so many seconds a time is said in seconds."""


@dataclass(frozen=True, slots=True)
class PieceTime:
    """A piece's time over its range of tempo, and a caution where its longest breath is too long."""

    length: Length
    breath: Length
    caution: str

    @property
    def words(self) -> str:
        """`35 to 45 seconds, the longest breath 15 to 19`, or `13 to 16 seconds, in one breath`."""
        if self.breath == self.length:
            return f"{span_words(self.length)}, in one breath"
        return f"{span_words(self.length)}, the longest breath {span_words(self.breath)}"

    @classmethod
    def of(cls, score: Score, limit: float) -> PieceTime:
        """The time of a score; `limit` is its longest breath without a caution, in seconds."""
        slow, fast = timing(score, SLOWEST), timing(score, FASTEST)
        found = long_breath(score, limit)
        return cls(
            length=Length(fast.seconds, slow.seconds),
            breath=Length(fast.breath, slow.breath),
            caution=breath_words(found) if found else "",
        )

    @property
    def plain(self) -> list[Any]:
        """The time as JSON values: both lengths as pairs of fractions, and the caution."""
        pairs = ((length.shortest, length.longest) for length in (self.length, self.breath))
        return [*([str(one), str(other)] for one, other in pairs), self.caution]

    @classmethod
    def from_plain(cls, plain: list[Any]) -> PieceTime:
        """Back from `plain`."""
        length, breath = (Length(*map(Fraction, pair)) for pair in plain[:2])
        return cls(length, breath, plain[2])


_Place = tuple[str, str, str, str, int, int, int, int]
"""An exercise, a direction and a way of playing, the setting where each differs; then bars, events, the part
of a duet and staves."""


class BookTimes:
    """The times of a book's pieces; `limit` is its longest breath without a caution, in seconds.

    A key changes no length, so each is reckoned once for all keys of an exercise and a direction, but not
    where a figure goes over the whole range. In `kept` they stay from one build to the next.
    """

    def __init__(self, limit: float, kept: CacheStore | None = None) -> None:
        self.limit = limit
        self._kept = kept
        self._said: dict[str, str] = {}
        self._known: dict[_Place, PieceTime] = {}

    def of(self, placed: SettingPieces, part: Rendition) -> PieceTime | None:
        """A part's time, or None where it is left out."""
        score = part.score
        if score is None:
            return None
        bars = score.line.bars
        shape = len(bars), sum(len(bar.events) for bar in bars), score.line.part, len(score.lines)
        setting = placed.setting
        own = setting.name if any(map(whole_range_figures, setting.exercise.forms)) else ""
        place = setting.exercise.slug, setting.direction, part.label, own, *shape
        if place not in self._known:
            self._known[place] = self._time(setting.exercise, place, score)
        return self._known[place]

    def _time(self, exercise: Exercise, place: _Place, score: Score) -> PieceTime:
        if self._kept is None:
            return PieceTime.of(score, self.limit)
        if exercise.slug not in self._said:
            self._said[exercise.slug] = exercise_fingerprint(exercise)
        parts = self._said[exercise.slug], repr(place), repr(self.limit)
        make = partial(_plain_time, score, self.limit)
        return PieceTime.from_plain(memo_json(self._kept, "time", parts, make))

    def cautions(self, placed: SettingPieces) -> tuple[str, ...]:
        """What to say of the breaths of a setting, each once."""
        times = [self.of(placed, part) for part in placed.parts]
        return tuple(dict.fromkeys(time.caution for time in times if time and time.caution))

    def total(self, pages: Iterable[KeyPage], as_written: bool = False) -> str:
        """How long a page lasts, everything on it played once, or all of it as written; empty without music.

        There is no pause between its pieces.
        """
        times = [
            self.of(placed, part)
            for page in pages
            for placed in page.placed
            for part in placed.parts[: 1 if as_written else None]
        ]
        lengths = [time.length for time in times if time]
        return about_words(sum(lengths[1:], lengths[0])) if lengths else ""


def _plain_time(score: Score, limit: float) -> list[Any]:
    return PieceTime.of(score, limit).plain


def seconds_words(seconds: Fraction | float) -> str:
    """`1 second`, `90 seconds`, `2 minutes 5 seconds`; to the second, and one at least."""
    whole = max(1, round(seconds))
    minutes, rest = divmod(whole, 60) if whole >= _MINUTES else (0, whole)
    counts = ((minutes, "minute"), (rest, "second"))
    return " ".join(count_of(count, unit) for count, unit in counts if count)


def about_words(length: Length) -> str:
    """A time as a player would say it, to the half minute: `4 to 5½ minutes`; a short one to the second."""
    if length.longest < _MINUTES:
        return span_words(length)
    low, high = (_halves(seconds) for seconds in (length.shortest, length.longest))
    return f"{high} minutes" if low == high else f"{low} to {high} minutes"


def lasts_words(seconds: Fraction | float) -> str:
    """A length no finer than a player would say it: `about 45 seconds`, `about 1½ minutes`; empty for 0."""
    if not seconds:
        return ""
    if seconds < 60:
        return f"about {max(5, 5 * round(seconds / 5))} seconds"
    return f"about {_halves(seconds)} {plural(round(seconds / 30) / 2, 'minute')}"


def duration_in_units(seconds: float) -> str:
    """`48 s`, `3 min 20 s`, `1 h 12 min`, rounded."""
    whole = round(seconds)
    if whole < 60:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min" + (f" {whole % 60} s" if whole % 60 else "")
    minutes = round(seconds / 60)
    return f"{minutes // 60} h" + (f" {minutes % 60} min" if minutes % 60 else "")


def _halves(seconds: Fraction | float) -> str:
    """Minutes to the half, `½` at least."""
    whole, half = divmod(max(1, round(seconds / 30)), 2)
    return f"{whole or ''}{'½' if half else ''}"


def span_words(length: Length) -> str:
    """`13 to 16 seconds`, from the fastest tempo to the slowest."""
    low, high = seconds_words(length.shortest), seconds_words(length.longest)
    if low == high:
        return high
    if "minute" not in high:
        low = low.split()[0]
    return f"{low} to {high}"


def breath_words(found: LongBreath) -> str:
    """A breath that is too long, and from which tempo it fits, as a sentence."""
    if found.held:
        return (
            f"In free time there are {seconds_words(found.seconds)} without a breath, more than "
            f"{found.limit:g}; hold the notes less long, or take a breath on the way."
        )
    beat = found.tempo.beat.name
    where = f"In the second part, from bar {found.bar} on," if found.in_second else f"From bar {found.bar} on"
    said = f"{where} there are {seconds_words(found.seconds)} without a breath at {beat} = {found.tempo.low}"
    if found.fits:
        return f"{said}; from {beat} = {found.fits_from} on they stay within {found.limit:g}."
    return f"{said}, and more than {found.limit:g} at every tempo of its range; take a breath on the way."


def long_breaths(book: Book) -> list[tuple[str, str, str]]:
    """Each breath of a book that lasts longer than its limit: its exercise, its ways of playing, a sentence.

    An exercise is looked at in the first key of each instrument and direction.
    """
    found: dict[tuple[str, str], list[str]] = {}
    times = BookTimes(book.breath_seconds)
    for exercise in book.exercises:
        for instrument in book.instruments:
            seen = set()
            for setting in settings_of(exercise, instrument):
                if not setting.fits or setting.direction in seen:
                    continue
                seen.add(setting.direction)
                placed = SettingPieces(setting, renditions_of(setting))
                for part in placed.parts:
                    time = times.of(placed, part)
                    if time and time.caution:
                        labels = found.setdefault((exercise.slug, time.caution), [])
                        labels.append(" ".join(filter(None, (part.label, setting.direction))))
    return [
        (slug, ", ".join(dict.fromkeys(labels)), f"{said[0].lower()}{said[1:]}")
        for (slug, said), labels in found.items()
    ]
