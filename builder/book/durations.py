"""Time in words: how long each piece lasts, its longest breath, and the total of a page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import astuple, dataclass
from fractions import Fraction
from functools import partial
from typing import Any

from ..cache.memo import memo_json
from ..cache.store import CacheStore
from ..music.exercise import Exercise, exercise_fingerprint
from ..music.score import Score
from ..music.settings.transpositions import settings_of
from ..music.settings.whole_range import whole_range_figures
from ..music.sounding.timing import FASTEST, SLOWEST, Length, LongBreath, long_breath, timing
from ..translation.said import NOTHING, Said, counted, joined, noted, phrase, term
from .pieces import KeyPage, Rendition, SettingPieces, renditions_of
from .read import Book

_MINUTES = 120
"""Up to so many seconds a time is said in seconds."""


@dataclass(frozen=True, slots=True)
class _LongBreath:
    """What is said of a breath that is too long, as JSON values; `time` is in whole seconds."""

    held: bool
    bar: int
    time: int
    beat: str
    tempo: int
    limit: float
    fits: bool
    fits_from: int
    in_second: bool

    @classmethod
    def of(cls, found: LongBreath) -> _LongBreath:
        """What is said of a breath."""
        tempo, time = found.tempo, max(1, round(found.seconds))
        more = found.limit, found.fits, found.fits_from, found.in_second
        return cls(found.held, found.bar, time, tempo.beat.name, tempo.low, *more)

    @property
    def words(self) -> Said:
        """A sentence."""
        time, limit, beat = seconds_words(self.time), f"{self.limit:g}", term(self.beat)
        if self.held:
            return phrase(
                "In free time there are {time} without a breath, more than {limit}; hold the notes less "
                "long, or take a breath on the way.",
                time=time,
                limit=limit,
            )
        start = _FROM_BAR_OF_SECOND if self.in_second else _FROM_BAR
        said = {"where": phrase(start, bar=self.bar), "time": time, "beat": beat, "tempo": self.tempo}
        if self.fits:
            return phrase(
                "{where} there are {time} without a breath at {beat} = {tempo}; from {beat} = {fits} on they "
                "stay within {limit}.",
                fits=self.fits_from,
                limit=limit,
                **said,
            )
        return phrase(
            "{where} there are {time} without a breath at {beat} = {tempo}, and more than {limit} at every "
            "tempo of its range; take a breath on the way.",
            limit=limit,
            **said,
        )


_FROM_BAR = noted("From bar {bar} on")
_FROM_BAR_OF_SECOND = noted("In the second part, from bar {bar} on,")


@dataclass(frozen=True, slots=True)
class PieceTime:
    """A piece's time over its range of tempo; `long` is its longest breath where that is too long."""

    length: Length
    breath: Length
    long: _LongBreath | None

    @property
    def caution(self) -> Said:
        """What to say of a breath that is too long; empty where there is none."""
        return self.long.words if self.long else NOTHING

    @property
    def words(self) -> Said:
        """`35 to 45 seconds, the longest breath 15 to 19`, or `13 to 16 seconds, in one breath`."""
        if self.breath == self.length:
            return phrase("{time}, in one breath", time=span_words(self.length))
        return phrase(
            "{time}, the longest breath {breath}",
            time=span_words(self.length),
            breath=span_words(self.breath),
        )

    @classmethod
    def of(cls, score: Score, limit: float) -> PieceTime:
        """The time of a score; `limit` is its longest breath without a caution, in seconds."""
        slow, fast = timing(score, SLOWEST), timing(score, FASTEST)
        found = long_breath(score, limit)
        return cls(
            length=Length(fast.seconds, slow.seconds),
            breath=Length(fast.breath, slow.breath),
            long=_LongBreath.of(found) if found else None,
        )

    @property
    def plain(self) -> list[Any]:
        """The time as JSON values: both lengths as pairs of fractions, and the long breath."""
        pairs = ((length.shortest, length.longest) for length in (self.length, self.breath))
        return [*([str(one), str(other)] for one, other in pairs), self.long and astuple(self.long)]

    @classmethod
    def from_plain(cls, plain: list[Any]) -> PieceTime:
        """Back from `plain`."""
        length, breath = (Length(*map(Fraction, pair)) for pair in plain[:2])
        return cls(length, breath, _LongBreath(*plain[2]) if plain[2] else None)


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

    def cautions(self, placed: SettingPieces) -> tuple[Said, ...]:
        """What to say of the breaths of a setting, each once."""
        times = [self.of(placed, part) for part in placed.parts]
        return tuple(dict.fromkeys(time.caution for time in times if time and time.caution))

    def total(self, pages: Iterable[KeyPage], as_written: bool = False) -> Said:
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
        return about_words(sum(lengths[1:], lengths[0])) if lengths else NOTHING


def _plain_time(score: Score, limit: float) -> list[Any]:
    return PieceTime.of(score, limit).plain


def seconds_words(seconds: Fraction | float) -> Said:
    """`1 second`, `90 seconds`, `2 minutes 5 seconds`; to the second, and one at least."""
    whole = max(1, round(seconds))
    minutes, rest = divmod(whole, 60) if whole >= _MINUTES else (0, whole)
    return joined(
        (
            counted("{count} minute", "{count} minutes", minutes) if minutes else "",
            counted("{count} second", "{count} seconds", rest) if rest else "",
        )
    )


def about_words(length: Length) -> Said:
    """A time as a player would say it, to the half minute: `4 to 5½ minutes`; a short one to the second."""
    if length.longest < _MINUTES:
        return span_words(length)
    low, high = (_halves(seconds) for seconds in (length.shortest, length.longest))
    if low == high:
        return phrase("{minutes} minutes", minutes=high)
    return phrase("{low} to {high} minutes", low=low, high=high)


def lasts_words(seconds: Fraction | float) -> Said:
    """A length no finer than a player would say it: `about 45 seconds`, `about 1½ minutes`; empty for 0."""
    if not seconds:
        return NOTHING
    if seconds < 60:
        return phrase("about {seconds} seconds", seconds=max(5, 5 * round(seconds / 5)))
    halves = round(seconds / 30) / 2
    return counted("about {minutes} minute", "about {minutes} minutes", halves, minutes=_halves(seconds))


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


def span_words(length: Length) -> Said:
    """`13 to 16 seconds`, from the fastest tempo to the slowest."""
    low, high = seconds_words(length.shortest), seconds_words(length.longest)
    if low == high:
        return high
    if round(length.longest) < _MINUTES:
        return phrase("{low} to {high}", low=str(max(1, round(length.shortest))), high=high)
    return phrase("{low} to {high}", low=low, high=high)


def breath_words(found: LongBreath) -> Said:
    """A breath that is too long, and from which tempo it fits, as a sentence."""
    return _LongBreath.of(found).words


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
