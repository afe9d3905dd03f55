"""Time in words: how long each piece lasts, its longest breath, and the total of a page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from builder.book import Book
from builder.music.score import Score
from builder.music.settings import settings
from builder.music.timing import FASTEST, SLOWEST, Length, LongBreath, long_breath, timing, total

from .plan import InKey, parts


@dataclass(frozen=True, slots=True)
class TimeView:
    """A piece's time on its page: its length, its longest breath, and a caution where that is too long."""

    lasts: str
    breath: str
    caution: str = ""


def time_view(score: Score, limit: float) -> TimeView:
    """A piece's time; `limit` is the longest span without a breath that needs no caution, in seconds."""
    slow, fast = timing(score, SLOWEST), timing(score, FASTEST)
    found = long_breath(score, limit)
    return TimeView(
        lasts=span_words(Length(fast.seconds, slow.seconds)),
        breath=span_words(Length(fast.breath, slow.breath)),
        caution=breath_words(found) if found else "",
    )


def seconds_words(seconds: Fraction | float) -> str:
    """`9 seconds`, `1 minute`, `2 minutes 5 seconds`; to the second."""
    whole = max(1, round(seconds))
    minutes, rest = divmod(whole, 60)
    words = [
        f"{count} {unit}{'' if count == 1 else 's'}"
        for count, unit in ((minutes, "minute"), (rest, "second"))
    ]
    return " ".join(word for word in words if not word.startswith("0 "))


def span_words(length: Length) -> str:
    """`13 to 16 seconds`, from the fastest tempo to the slowest."""
    low, high = seconds_words(length.shortest), seconds_words(length.longest)
    if low == high:
        return high
    if high.endswith("seconds") and "minute" not in high:
        low = low.removesuffix(" seconds").removesuffix(" second")
    return f"{low} to {high}"


def breath_words(found: LongBreath) -> str:
    """A breath that is too long, and from which tempo it fits, as a sentence."""
    beat = found.tempo.beat.name
    said = (
        f"From bar {found.bar} on there are {seconds_words(found.seconds)} without a breath at "
        f"{beat} = {found.tempo.low}"
    )
    if found.fits:
        return f"{said}; from {beat} = {found.fits_from} on they stay within {found.limit:g}."
    return f"{said}, and more than {found.limit:g} at every tempo of its range; take a breath on the way."


def page_time(pages: Iterable[InKey], as_written: bool = False) -> str:
    """How long everything on a page lasts, or all of it as written, with no pause; empty without music."""
    scores = [
        part.score
        for page in pages
        for placed in page.placed
        for part in placed.parts[: 1 if as_written else None]
        if part.score
    ]
    return span_words(total(scores)) if scores else ""


def long_breaths(book: Book) -> list[str]:
    """A line for each breath of a book that lasts longer than its limit, with the pieces that have it.

    A key changes no length, so an exercise is looked at in the first key of each instrument and direction.
    """
    found: dict[tuple[str, str], list[str]] = {}
    for exercise in book.exercises:
        for instrument in book.instruments:
            seen = set()
            for setting in settings(exercise, instrument):
                if not setting.fits or setting.direction in seen:
                    continue
                seen.add(setting.direction)
                for part in parts(setting):
                    breath = long_breath(part.score, book.breath_seconds) if part.score else None
                    if breath:
                        labels = found.setdefault((exercise.slug, breath_words(breath)), [])
                        label = " ".join(filter(None, (part.label, setting.direction)))
                        if label not in labels:
                            labels.append(label)
    return [
        f"{slug} ({', '.join(labels)}): {said[0].lower()}{said[1:]}" for (slug, said), labels in found.items()
    ]
