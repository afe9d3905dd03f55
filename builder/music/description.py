"""Music in words: the text alternative of an engraved piece."""

from __future__ import annotations

from .repeats import words_at_end
from .score import SLUR, Event, Score, Staff, is_wave
from .tempos import tempo_change

_SHADES = {
    "<": "getting louder",
    ">": "getting softer",
    "o<": "from silence, getting louder",
    ">o": "getting softer, to silence",
    "!": "",
}


def _said(event: Event) -> str:
    value = event.value.name
    words = [f"grace note {pitch.spoken}" for pitch in event.graces]
    words += [f"{event.pitch.spoken} {value}" if event.pitch else f"{value} rest"]
    words += [f"over fingered {event.fundamental.spoken}"] if event.fundamental else []
    words += [_SHADES.get(shade.mark, shade.mark) for shade in event.dynamic_marks]
    words += event.marks
    words += [f"with {event.trilled.spoken}"] if event.trilled and "trill" in event.marks else []
    words += ["vibrato"] if any(is_wave(shade.mark) for shade in event.vibrato) else []
    words += [f"fingering {event.fingering}"] if event.fingering else []
    words += [text for text in (event.syllable, event.above, event.below) if text]
    words += ["tied"] if event.tie else []
    words += [f"{change.kind} begins"] if (change := tempo_change(event)) else []
    words += ["slur begins"] if SLUR in event.opens else []
    words += ["slur ends"] if SLUR in event.closes else []
    return " ".join(word for word in words if word)


def describe_score(score: Score, limit: int = 40) -> str:
    """The notes of the player's line in words, bar by bar; after `limit` events, how many are left.

    Of a duet both parts, one after the other.
    """
    key = score.key.name if score.key.mode else f"{score.key.name}, without a key signature"
    said = _line(score.line, limit)
    if score.second:
        said = f"first part, {said}; second part, {_line(score.second, limit)}"
    names = f"; chords, {_chords(score)}" if score.chords else ""
    return f"{key}, {score.meter}; {said}{names}."


def _chords(score: Score) -> str:
    numbers = dict.fromkeys(mark.bar for mark in score.chords)
    return "; ".join(
        f"bar {number + 1}: "
        + ", ".join(mark.chord.name if mark.chord else "none" for mark in score.chords if mark.bar == number)
        for number in numbers
    )


def _line(line: Staff, limit: int) -> str:
    bars: list[str] = []
    count = 0
    for number, bar in enumerate(line.bars, start=1):
        if count + len(bar.events) > limit and bars:
            rest = sum(len(later.events) for later in line.bars[number - 1 :])
            bars.append(f"and {rest} more notes and rests")
            break
        count += len(bar.events)
        said = [bar.sign, *map(_said, bar.events), words_at_end(line.bars, number - 1)]
        bars.append(f"bar {number}: " + ", ".join(filter(None, said)))
    return "; ".join(bars)
