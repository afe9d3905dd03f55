"""Charts of fingerings over notes: drawn where the engraver has the instrument's keys, else in numbers."""

from __future__ import annotations

from functools import cache

from ..music.event import Event
from ..music.winds.fingering import HALF, RIGHT, TRILLED, Fingering, Kind, Mechanism, Touch
from ..music.winds.fingering_tables import fingerings
from .markup import quoted

_SIZE = 0.5
"""The size of a chart, in sizes of the engraver's own."""

_WIDTHS = {
    "flute": 3.0,
    "piccolo": 3.0,
    "oboe": 4.7,
    "clarinet": 4.7,
    "bass-clarinet": 4.7,
    "saxophone": 4.5,
    "bassoon": 7.2,
    "tin-whistle": 1.9,
}
"""Staff spaces of a chart of each kind with every key in it, and of the air beside it; measured."""

_LETTER = 1.0
"""Staff spaces that a sign of a fingering in numbers takes."""

_MAIN = ("one", "two", "three", "four", "five", "six")

_HOW = {HALF: "1h", TRILLED: "T", "": ""}


def chart_sign(family: str, event: Event) -> str:
    """The engraver's words for the chart over a note; empty where the note has none, or none is known."""
    fingering = _fingering(family, event)
    return _sign(family, fingering) if fingering else ""


def chart_width(family: str, event: Event) -> float:
    """About the room that the chart over a note takes, in staff spaces; 0 without one."""
    fingering = _fingering(family, event)
    if fingering is None:
        return 0.0
    drawn = fingerings(family).mechanism.drawn
    return _WIDTHS[drawn] if drawn else _LETTER * (len(fingering.short) + 1)


def _fingering(family: str, event: Event) -> Fingering | None:
    if not family or not (event.chart or event.asks_for_chart):
        return None
    return fingerings(family).chart(event)


@cache
def _sign(family: str, fingering: Fingering) -> str:
    mechanism = fingerings(family).mechanism
    if fingering.kind is not Kind.KEYS:
        return rf"fingeringNumbers \markup \small {quoted(fingering.short)}"
    column = [_main(touch) for touch in fingering.touches if touch.key.isdigit()]
    hands = [
        " ".join(_named(mechanism, touch) for touch in fingering.touches if _is_of(touch, hand))
        for hand in mechanism.keys
    ]
    left, right = hands
    keys = f"((cc . ({' '.join(column)})) (lh . ({left})) (rh . ({right})))"
    chart = rf"\woodwind-diagram #'{mechanism.drawn} #'{keys}"
    return rf"fingeringChart \markup \override #'(size . {_SIZE:g}) {chart}"


def _is_of(touch: Touch, hand: str) -> bool:
    return touch.hand == hand and not touch.key.isdigit()


def _main(touch: Touch) -> str:
    """A main key as the engraver counts them: one to three of the left hand, four to six of the right."""
    return _MAIN[int(touch.key) - 1 + (3 if touch.hand == RIGHT else 0)] + _HOW[touch.how]


def _named(mechanism: Mechanism, touch: Touch) -> str:
    return mechanism.keys[touch.hand][touch.key] + _HOW[touch.how]
