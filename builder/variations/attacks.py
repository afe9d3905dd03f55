"""How notes begin and join: slurred, soft-tongued, detached."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import cycle

from ..music.event import SLUR, Event
from ..music.score import Score, with_events
from ..music.signs import BEGUN_ANEW, has_fermata, technique_of
from ..translation.said import phrase, term
from .phrases import chains, change_phrases, phrases, without
from .registry import Unsuitable, variation

_LONG = Fraction(1, 2)
"""The shortest note, in whole notes, that is too long for a dot: it gets a line and a dot instead."""

_ATTACKS = ("staccato", "tenuto", "portato", "accent", "marcato")


def _bare(note: Event) -> Event:
    kept = tuple(mark for mark in note.marks if mark not in _ATTACKS)
    return replace(without(note, SLUR), marks=kept)


def _check_joins(score: Score) -> None:
    """Raise Unsuitable if a note can only be begun anew."""
    for event in score.line.events():
        if what := BEGUN_ANEW.get(technique_of(event)):
            raise Unsuitable(phrase("{what} begins anew, and no slur leads to it", what=term(what)))


def _slurred(notes: list[Event], repeats_join: bool) -> list[Event]:
    """One slur a phrase; a repeated pitch begins a new one unless a mark on it shows its beginning."""
    result = [_bare(note) for note in notes]
    start = 0
    for index in range(len(result)):
        last = index + 1 == len(result)
        repeats = not last and not result[index].tie and result[index + 1].pitch == result[index].pitch
        if last or (repeats and not repeats_join):
            # A tie joins one note to itself; a slur joins two.
            if any(not note.tie for note in result[start:index]):
                result[start] = replace(result[start], opens=(*result[start].opens, SLUR))
                result[index] = replace(result[index], closes=(*result[index].closes, SLUR))
            start = index + 1
    return result


def _each_begun(notes: list[Event], mark: str) -> list[Event]:
    """The notes with the mark on each one that a tie does not continue."""
    tied = [False] + [note.tie for note in notes[:-1]]
    return [note if held else note.marked(mark) for note, held in zip(notes, tied, strict=True)]


@variation("slurred", "One slur a breath: the tongue begins the first note only.", shapes="attacks", grade=1)
def slurred(score: Score, words: str) -> Score:
    """A slur over each phrase instead of the slurs and articulations that stood there."""
    _check_joins(score)
    return change_phrases(score, lambda _, notes: _slurred(notes, repeats_join=False))


@variation(
    "slurred in",
    "Repeating slur groups, such as three notes slurred and one tongued: tongue only the first of each.",
    takes="3 and 1",
    pattern=r"[1-9]( and [1-9]){0,3}",
    shapes="attacks",
)
def slurred_in(score: Score, words: str) -> Score:
    """Each phrase in slurs of these sizes in turn; a group of one and a repeated pitch are tongued.

    The pattern begins again after a pick-up, and in each bar if any bar holds its largest group.
    """
    _check_joins(score)
    sizes = [int(word) for word in words.split() if word != "and"]
    events = list(score.line.events())
    bar_of = [number for number, bar in enumerate(score.line.bars) for _ in bar.events]
    heads = {chain[0] for chain in chains(score)}
    begun = [[index for index in phrase if index in heads] for phrase in phrases(score)]
    anew = max(Counter(bar_of[index] for index in heads).values()) >= max(sizes)

    def begins_anew(one: int, other: int) -> bool:
        return bar_of[one] != bar_of[other] and (anew or (score.pickup > 0 and bar_of[one] == 0))

    groups = (
        group
        for phrase in begun
        for stretch in _parted(phrase, begins_anew)
        for sized in _in_sizes(stretch, sizes)
        for group in _parted(sized, lambda one, other: events[one].pitch == events[other].pitch)
    )
    result = [event if event.pitch is None else _bare(event) for event in events]
    for first, *others in groups:
        if others:
            last = _end_of_note(events, others[-1])
            result[first] = replace(result[first], opens=(*result[first].opens, SLUR))
            result[last] = replace(result[last], closes=(*result[last].closes, SLUR))
    return score.with_line(replace(score.line, bars=with_events(score.line.bars, result)))


def _parted(places: list[int], apart: Callable[[int, int], bool]) -> list[list[int]]:
    """Places in order, split between neighbours for which `apart` is true."""
    found: list[list[int]] = []
    for place in places:
        if found and not apart(found[-1][-1], place):
            found[-1].append(place)
        else:
            found.append([place])
    return found


def _in_sizes(places: list[int], sizes: Sequence[int]) -> Iterator[list[int]]:
    """Places in groups of these sizes in turn; the last group takes what is left."""
    rest, order = places, cycle(sizes)
    while rest:
        size = next(order)
        yield rest[:size]
        rest = rest[size:]


def _end_of_note(events: list[Event], place: int) -> int:
    """The place of the event in which a note ends, after all its ties."""
    while events[place].tie and place + 1 < len(events):
        place += 1
    return place


@variation(
    "soft-tongued",
    "Under the slur, tongue each note so softly that the air never stops.",
    shapes="attacks",
    grade=1,
)
def soft_tongued(score: Score, words: str) -> Score:
    """A slur over each phrase with a line on every note."""
    _check_joins(score)
    return change_phrases(score, lambda _, notes: _each_begun(_slurred(notes, repeats_join=True), "tenuto"))


@variation(
    "detached",
    "Each note tongued and let go, with a little silence after it and the breath still there.",
    shapes="attacks",
)
def detached(score: Score, words: str) -> Score:
    """No slurs; a dot on every note, on long ones a line and dot, and none under a fermata."""
    return change_phrases(score, lambda _, notes: _parted_by_silence(notes))


def _parted_by_silence(notes: list[Event]) -> list[Event]:
    result = []
    for number, note in enumerate(notes):
        bare = _bare(note)
        held = (number > 0 and notes[number - 1].tie) or has_fermata(note)
        result.append(bare if held else bare.marked("portato" if note.length >= _LONG else "staccato"))
    return result
