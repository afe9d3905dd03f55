"""What an author says in a figure's brackets: words of the figure itself, and those that every figure takes.

Every figure takes a key to be made in (`in the relative minor`), and slurs (`slurred in 2`, `no slurs`) and
breaths (`breath every 2 bars`, `no breaths`) of its author's own.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import cycle, pairwise

from ..event import SLUR, Event, Value
from ..keys import Key
from ..pitch import Interval, Pitch
from .climbs import EXTENTS, WHOLE_RANGE
from .registry import FIGURES

NO_SLURS, NO_BREATHS = "no slurs", "no breaths"
RELATIONS = tuple(f"in the {tie} {mode}" for tie in ("parallel", "relative") for mode in ("minor", "major"))
"""The words for another key than the exercise's own."""

COMMON = (*RELATIONS, "slurred in 2", NO_SLURS, "breath every bar", "breath every 2 bars", NO_BREATHS)
"""Words that every figure takes, with an example of those that have a number."""

_NUMBERS = dict(zip("1234", ("one", "two", "three", "four"), strict=True))
_SLURRED = re.compile(r"slurred in ([1-9]\d?(?: and [1-9]\d?)*)")
_BREATH = re.compile(r"breath every (?:bar|([1-9]\d?) bars?)")
_PHRASE = re.compile(
    rf"(?:{'|'.join([*EXTENTS, *RELATIONS, NO_SLURS, NO_BREATHS])}"
    rf"|(?P<octaves>[1-4]) octaves?|{_SLURRED.pattern}|{_BREATH.pattern})(?=\s|$)|\S+"
)


def phrases(words: Sequence[str]) -> tuple[tuple[str, int], ...]:
    """Single words as the phrases that they make, each with the number of its first word.

    `two`, `octaves`, `up` are `two octaves` and `up`.
    """
    text = " ".join(words)
    found = []
    for match in _PHRASE.finditer(text):
        said = match[0]
        if match["octaves"]:
            said = f"{_NUMBERS[match['octaves']]} octave{'s' * (match['octaves'] != '1')}"
        found.append((said, text.count(" ", 0, match.start())))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Call:
    """A figure as its author calls it.

    `words` are those of the figure itself. `relation` is a word of `RELATIONS` or empty. `slurs` are the
    sizes of slurs in turn, empty for none at all, or None for the figure's own; `every` is the number of bars
    from breath to breath, 0 for no breath, or None for the figure's own breaths.
    """

    figure: str
    words: tuple[str, ...]
    relation: str = ""
    slurs: tuple[int, ...] | None = None
    every: int | None = None

    @property
    def is_whole_range(self) -> bool:
        """Whether it goes over all of an instrument's range."""
        return WHOLE_RANGE in self.words

    @property
    def is_dressed(self) -> bool:
        """Whether slurs or breaths are the author's own."""
        return self.slurs is not None or self.every is not None


def call(figure: str, said: Sequence[str]) -> Call:
    """A figure's call from its phrases. Raises ValueError if two of them contradict each other."""
    words: list[str] = []
    chosen: dict[str, str] = {}
    result = Call(figure, ())
    for phrase in said:
        sizes, bars = _SLURRED.fullmatch(phrase), _BREATH.fullmatch(phrase)
        kind = "slurs" if sizes or phrase == NO_SLURS else "breaths" if bars or phrase == NO_BREATHS else ""
        if phrase in RELATIONS:
            kind, result = "key", replace(result, relation=phrase)
        elif kind == "slurs":
            result = replace(result, slurs=tuple(map(int, sizes[1].split(" and "))) if sizes else ())
        elif kind == "breaths":
            result = replace(result, every=int(bars[1] or 1) if bars else 0)
        else:
            words.append(phrase)
            continue
        if kind in chosen:
            raise ValueError(f"'{chosen[kind]}' and '{phrase}' cannot both be")
        chosen[kind] = phrase
    return replace(result, words=tuple(words))


def related(home: Pitch, key: Key, relation: str) -> tuple[Pitch, Key]:
    """The home pitch and the key that stand in a relation to others.

    The parallel key keeps the home pitch. The relative minor lies a minor third below, the relative major a
    minor third above. Raises ValueError if the key has no such relative.
    """
    if not relation:
        return home, key
    _, _, tie, mode = relation.split()
    if not key.mode:
        raise ValueError(f"the exercise has no key, so nothing is {relation}")
    if tie == "parallel":
        return home, replace(key, mode=mode)
    other = {"minor": "major", "major": "minor"}[mode]
    if key.mode not in (other, {"major": "ionian", "minor": "aeolian"}[other]):
        raise ValueError(f"a {other} key has a relative {mode}, and this is in {key.name}")
    interval = Interval.parse("-m3" if mode == "minor" else "m3")
    tonic = Pitch(key.letter, key.alter, 4).up(interval)
    return home.up(interval), Key(tonic.letter, tonic.alter, mode)


def made(wanted: Call, home: Pitch, key: Key, value: Value) -> tuple[Event, ...]:
    """The events of a call, with the figure's own slurs and breaths."""
    return FIGURES[wanted.figure].make(*related(home, key, wanted.relation), value, wanted.words)


def made_within(
    wanted: Call, home: Pitch, key: Key, value: Value, low: Pitch, high: Pitch
) -> tuple[Event, ...]:
    """The events of a call over all of a range. Raises ValueError if the figure can have none."""
    within = FIGURES[wanted.figure].within
    if within is None:
        raise ValueError(f"{wanted.figure} has no range")
    return within(*related(home, key, wanted.relation), value, wanted.words, low, high)


def most_notes(wanted: Call, home: Pitch, key: Key, value: Value) -> int:
    """How many notes a call has at most, whatever the instrument: a whole range is taken for four octaves."""
    if wanted.is_whole_range:
        words = tuple("four octaves" if word == WHOLE_RANGE else word for word in wanted.words)
        wanted = replace(wanted, words=words)
    return len(made(wanted, home, key, value))


# -- slurs and breaths ------------------------------------------------------------------------------------


def dressed(wanted: Call, events: Sequence[Event], bars: Sequence[int]) -> tuple[Event, ...]:
    """Events with the slurs and breaths that their author asks for.

    `bars` is the number of each event's bar. A breath ends every slur. Sizes of slurs begin anew after a
    breath, and in each bar if any bar holds the largest of them.
    """
    if not wanted.is_dressed:
        return tuple(events)
    result = list(events)
    own = list(_own_slurs(events))
    if wanted.every is not None:
        if len(own) == sum("breath" in event.marks for event in events):
            # A slur for each breath: now from one of the new breaths to the next.
            own = [(own[0][0], own[-1][1])] if own else []
        result = [replace(event, marks=tuple(m for m in event.marks if m != "breath")) for event in result]
        for place in _breaths(wanted.every, bars, len(result)):
            result[place] = result[place].marked("breath")
    slurs = own if wanted.slurs is None else list(_sized(wanted.slurs, result, bars))
    result = [_without_slurs(event) for event in result]
    breaths = [place for place, event in enumerate(result) if "breath" in event.marks]
    for first, last in slurs:
        cuts = [place for place in breaths if first <= place < last]
        for start, end in pairwise([first - 1, *cuts, last]):
            if end > start + 1 and any(event.tie is False for event in result[start + 1 : end]):
                result[start + 1] = replace(result[start + 1], opens=(*result[start + 1].opens, SLUR))
                result[end] = replace(result[end], closes=(*result[end].closes, SLUR))
    return tuple(result)


def _without_slurs(event: Event) -> Event:
    return replace(
        event,
        opens=tuple(span for span in event.opens if span != SLUR),
        closes=tuple(span for span in event.closes if span != SLUR),
    )


def _breaths(every: int, bars: Sequence[int], count: int) -> Iterator[int]:
    """The events after which a breath comes: before every so many bars, and the last."""
    if not every:
        return
    for place in range(count - 1):
        bar, following = bars[place], bars[place + 1]
        if following != bar and (following - bars[0]) % every == 0:
            yield place
    yield count - 1


def _own_slurs(events: Sequence[Event]) -> Iterator[tuple[int, int]]:
    first = 0
    for place, event in enumerate(events):
        if SLUR in event.opens:
            first = place
        if SLUR in event.closes:
            yield first, place


def _sized(sizes: tuple[int, ...], events: Sequence[Event], bars: Sequence[int]) -> Iterator[tuple[int, int]]:
    """The first and the last event of each slur of these sizes; tied notes count as one."""
    if not sizes:
        return
    heads = [place for place in range(len(events)) if not place or not events[place - 1].tie]
    anew = max(sum(bars[head] == bar for head in heads) for bar in set(bars)) >= max(sizes)
    ends = {place: after - 1 for place, after in pairwise([*heads, len(events)])}
    sized = cycle(sizes)
    group: list[int] = []
    size = next(sized)
    for number, head in enumerate(heads):
        begins_anew = number and (
            "breath" in events[head - 1].marks or (anew and bars[heads[number - 1]] != bars[head])
        )
        if begins_anew and (group or number):
            if len(group) > 1:
                yield group[0], ends[group[-1]]
            sized, group = cycle(sizes), []
            size = next(sized)
        group.append(head)
        if len(group) == size:
            if len(group) > 1:
                yield group[0], ends[group[-1]]
            group, size = [], next(sized)
    if len(group) > 1:
        yield group[0], ends[group[-1]]
