"""How notes begin and join: slurred, soft-tongued, detached."""

from __future__ import annotations

from dataclasses import replace

from builder.music.score import Event, Score

from .phrases import change_phrases, without
from .registry import variation

_ATTACKS = ("staccato", "tenuto", "portato", "accent", "marcato")


def _bare(note: Event) -> Event:
    kept = tuple(mark for mark in note.marks if mark not in _ATTACKS)
    return replace(without(note, "slur"), marks=kept)


def _slurred(notes: list[Event], repeats_join: bool) -> list[Event]:
    """One slur a phrase; a repeated pitch begins a new one unless a mark on it shows its beginning."""
    result = [_bare(note) for note in notes]
    start = 0
    for index in range(len(result)):
        last = index + 1 == len(result)
        repeats = not last and not result[index].tie and result[index + 1].pitch == result[index].pitch
        if last or (repeats and not repeats_join):
            if index > start:
                result[start] = replace(result[start], opens=(*result[start].opens, "slur"))
                result[index] = replace(result[index], closes=(*result[index].closes, "slur"))
            start = index + 1
    return result


def _each_begun(notes: list[Event], mark: str) -> list[Event]:
    """The mark on every note that is begun anew, not on what a tie carries on."""
    tied = [False] + [note.tie for note in notes[:-1]]
    return [note if held else note.marked(mark) for note, held in zip(notes, tied, strict=True)]


@variation("slurred", "One slur a breath: the tongue begins the first note only.")
def slurred(score: Score, words: str) -> Score:
    """A slur over each phrase instead of the slurs and articulations that stood there."""
    return change_phrases(score, lambda notes: _slurred(notes, repeats_join=False))


@variation(
    "slurred in",
    "Slurs of so many notes, round and round: the tongue touches only where one begins.",
    takes="3 and 1",
    pattern=r"[1-9]( and [1-9]){0,3}",
)
def slurred_in(score: Score, words: str) -> Score:
    """Each phrase in slurs of these sizes in turn; a group of one is tongued."""
    sizes = [int(word) for word in words.split() if word != "and"]

    def change(notes: list[Event]) -> list[Event]:
        heads = [index for index in range(len(notes)) if not index or not notes[index - 1].tie]
        result = [_bare(note) for note in notes]
        place = number = 0
        while place < len(heads):
            size = sizes[number % len(sizes)]
            group = heads[place : place + size]
            after = heads[place + size] if place + size < len(heads) else len(notes)
            if len(group) > 1:
                first, last = group[0], after - 1
                result[first] = replace(result[first], opens=(*result[first].opens, "slur"))
                result[last] = replace(result[last], closes=(*result[last].closes, "slur"))
            place, number = place + size, number + 1
        return result

    return change_phrases(score, change)


@variation("soft-tongued", "Under the slur, each note begun by a tongue so soft that the air never stops.")
def soft_tongued(score: Score, words: str) -> Score:
    """A slur over each phrase with a line on every note."""
    return change_phrases(score, lambda notes: _each_begun(_slurred(notes, repeats_join=True), "tenuto"))


@variation(
    "detached", "Each note tongued and let go, with a little silence after it and the breath still there."
)
def detached(score: Score, words: str) -> Score:
    """No slurs, and a dot on every note."""
    return change_phrases(score, lambda notes: _each_begun([_bare(note) for note in notes], "staccato"))
