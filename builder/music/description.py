"""Music in words: the text alternative of an engraved piece."""

from __future__ import annotations

from functools import partial

from ..translation.catalog import TO_ENGLISH, Translation
from ..translation.said import noted
from .chords import Chord
from .event import SLUR, Event, is_wave
from .pitch import Pitch
from .printed_words import TIMES, PrintedWords
from .score import Score, Staff
from .signs import ORNAMENTS
from .sounding.repeats import words_at_end
from .sounding.tempos import tempo_change
from .winds.fingering import FINGERING_CHART, Fingering
from .winds.fingering_tables import fingerings

_SHADES = {
    "<": noted("getting louder"),
    ">": noted("getting softer"),
    "o<": noted("from silence, getting louder"),
    ">o": noted("getting softer, to silence"),
    "!": "",
}


def _said(event: Event, family: str, translation: Translation) -> str:
    say, note = translation.gettext, translation.note
    value = say(event.value.name)
    words = [say(_GRACE).format(note=note(pitch.spoken)) for pitch in event.graces]
    sounding = " ".join(note(pitch.spoken) for pitch in (*event.under, event.pitch) if pitch)
    words += [f"{sounding} {value}" if event.pitch else say(_REST).format(value=value)]
    if event.fundamental:
        words += [say(_OVER).format(note=note(event.fundamental.spoken))]
    words += [say(_SHADES.get(shade.mark, shade.mark)) for shade in event.dynamic_marks]
    words += [say(mark) for mark in event.marks if mark != FINGERING_CHART]
    if not set(ORNAMENTS).isdisjoint(event.marks):
        others = filter(None, (event.trilled, event.lowered))
        words += [say(_TRILLED).format(note=note(other.spoken)) for other in others]
    words += ["vibrato"] if any(is_wave(shade.mark) for shade in event.vibrato) else []
    charted = fingerings(family).chart(event) if family else None
    fingering = [event.fingering, _fingering_words(charted, translation) if charted else ""]
    words += [say(_FINGERING).format(fingering=text) for text in fingering if text]
    words += [text for text in (event.syllable, event.above, event.below) if text]
    words += [say(_TIED)] if event.tie else []
    words += [say(_BEGINS).format(change=change.kind)] if (change := tempo_change(event)) else []
    words += [say(_SLUR_BEGINS)] if SLUR in event.opens else []
    words += [say(_SLUR_ENDS)] if SLUR in event.closes else []
    return " ".join(word for word in words if word)


def _fingering_words(fingering: Fingering, translation: Translation) -> str:
    return ", ".join(
        " ".join(map(partial(_key_word, translation=translation), words)) for words in fingering.words
    )


def _key_word(word: str, translation: Translation) -> str:
    """A word of a fingering: a finger's number, the note that a key is named after, or another word."""
    if word.isdigit():
        return word
    return translation.note(word) if word[0].isupper() else translation.pgettext("fingering", word)


_GRACE = noted("grace note {note}")
_REST = noted("{value} rest")
_OVER = noted("over fingered {note}")
_TRILLED = noted("with {note}")
_FINGERING = noted("fingering {fingering}")
_TIED = noted("tied")
_BEGINS = noted("{change} begins")
_SLUR_BEGINS = noted("slur begins")
_SLUR_ENDS = noted("slur ends")
_MORE = noted("and {count} more notes and rests")
_BAR = noted("bar {number}:")
_NO_KEY = noted("{key}, without a key signature")
_BOTH_PARTS = noted("first part, {first}; second part, {second}")
_CHORDS = noted("chords, {names}")
_NO_CHORD = noted("none")


def describe_score(score: Score, limit: int = 40, translation: Translation = TO_ENGLISH) -> str:
    """The notes of the player's line in words, bar by bar; after `limit` events, how many are left.

    Of a duet both parts, one after the other.
    """
    say = translation.gettext
    key = translation.key(score.key.name)
    if not score.key.mode:
        key = say(_NO_KEY).format(key=key)
    said = _line(score.line, score.fingerings, limit, translation)
    if score.second:
        second = _line(score.second, score.fingerings, limit, translation)
        said = say(_BOTH_PARTS).format(first=said, second=second)
    names = f"; {say(_CHORDS).format(names=_chords(score, translation))}" if score.chords else ""
    return f"{key}, {say(str(score.meter))}; {said}{names}."


def _chords(score: Score, translation: Translation) -> str:
    say = translation.gettext
    numbers = dict.fromkeys(mark.bar for mark in score.chords)
    return "; ".join(
        f"{say(_BAR).format(number=number + 1)} "
        + ", ".join(
            _chord(mark.chord, score.words) if mark.chord else say(_NO_CHORD)
            for mark in score.chords
            if mark.bar == number
        )
        for number in numbers
    )


def _chord(chord: Chord, words: PrintedWords) -> str:
    """A chord's name as the page has it, with letters for its signs: `F#m7/E`, `H7`."""

    def note(pitch: Pitch) -> str:
        name, is_signed = words.root(pitch.letter, pitch.alter)
        return name + pitch.name[1:] * is_signed

    return f"{note(chord.root)}{chord.quality}{f'/{note(chord.bass)}' if chord.bass else ''}"


def _line(line: Staff, family: str, limit: int, translation: Translation) -> str:
    say = translation.gettext
    bars: list[str] = []
    count = 0
    for number, bar in enumerate(line.bars, start=1):
        if count + len(bar.events) > limit and bars:
            rest = sum(len(later.events) for later in line.bars[number - 1 :])
            bars.append(say(_MORE).format(count=rest))
            break
        count += len(bar.events)
        events = (_said(event, family, translation) for event in bar.events)
        said = [bar.sign, *events, words_at_end(line.bars, number - 1, say(TIMES))]
        bars.append(f"{say(_BAR).format(number=number)} " + ", ".join(filter(None, said)))
    return "; ".join(bars)
