"""Music in words: the text alternative of an engraved piece."""

from __future__ import annotations

from ..translation.catalog import TO_ENGLISH, Translation
from ..translation.said import noted
from .score import SLUR, Event, Score, is_wave

_SHADES = {
    "<": noted("getting louder"),
    ">": noted("getting softer"),
    "o<": noted("from silence, getting louder"),
    ">o": noted("getting softer, to silence"),
    "!": "",
}


def _said(event: Event, translation: Translation) -> str:
    say, note = translation.gettext, translation.note
    value = say(event.value.name)
    words = [say(_GRACE).format(note=note(pitch.spoken)) for pitch in event.graces]
    words += [f"{note(event.pitch.spoken)} {value}" if event.pitch else say(_REST).format(value=value)]
    words += [say(_SHADES.get(shade.mark, shade.mark)) for shade in event.dynamic_marks]
    words += map(say, event.marks)
    if event.trilled and "trill" in event.marks:
        words += [say(_TRILLED).format(note=note(event.trilled.spoken))]
    words += ["vibrato"] if any(is_wave(shade.mark) for shade in event.vibrato) else []
    words += [text for text in (event.syllable, event.above, event.below) if text]
    words += [say(_TIED)] if event.tie else []
    words += [say(_SLUR_BEGINS)] if SLUR in event.opens else []
    words += [say(_SLUR_ENDS)] if SLUR in event.closes else []
    return " ".join(word for word in words if word)


_GRACE = noted("grace note {note}")
_REST = noted("{value} rest")
_TRILLED = noted("with {note}")
_TIED = noted("tied")
_SLUR_BEGINS = noted("slur begins")
_SLUR_ENDS = noted("slur ends")
_MORE = noted("and {count} more notes and rests")
_BAR = noted("bar {number}:")
_NO_KEY = noted("{key}, without a key signature")


def describe_score(score: Score, limit: int = 40, translation: Translation = TO_ENGLISH) -> str:
    """The notes of the player's line in words, bar by bar; after `limit` events, how many are left."""
    say = translation.gettext
    bars: list[str] = []
    count = 0
    for number, bar in enumerate(score.line.bars, start=1):
        if count + len(bar.events) > limit and bars:
            rest = sum(len(later.events) for later in score.line.bars[number - 1 :])
            bars.append(say(_MORE).format(count=rest))
            break
        count += len(bar.events)
        events = ", ".join(_said(event, translation) for event in bar.events)
        bars.append(f"{say(_BAR).format(number=number)} {events}")
    key = translation.key(score.key.name)
    if not score.key.mode:
        key = say(_NO_KEY).format(key=key)
    return f"{key}, {say(str(score.meter))}; " + "; ".join(bars) + "."
