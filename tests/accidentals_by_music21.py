"""The project's accidentals and music21's, note by note, and what explains each difference.

Both are given the same spelled bars. music21's rules are those of `Pitch.updateAccidentalDisplay`, which
`makeAccidentals` calls, with the settings named in SETTINGS and `overrideStatus`. The melodies of
test_corpus.py carry neither ties nor grace notes; test_accidentals.py has those, against the engraver.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from functools import cache

from music21 import key as m21_key
from music21 import pitch as m21_pitch
from test_corpus import PLAYER, Melody, exercise_of, m21_name, spread

from stavewright.music.accidentals import accidentals
from stavewright.music.keys import Key
from stavewright.music.pitch import Pitch
from stavewright.music.score import Bar, Staff
from stavewright.music.settings.transpositions import settings_of

__all__ = ["CLASSES", "SETTINGS", "compared", "spread"]

SETTINGS: dict[str, dict[str, bool]] = {
    "every octave": {"cautionaryPitchClass": True, "cautionaryNotImmediateRepeat": False},
    "same octave only": {"cautionaryPitchClass": False, "cautionaryNotImmediateRepeat": False},
    "restating what is in force": {"cautionaryPitchClass": True, "cautionaryNotImmediateRepeat": True},
}
"""What is asked of music21, by a name; `cautionaryAll` is false throughout."""

SETTLED = "ours: the line was altered in the bar before, though another octave of its letter is restated here"
OCTAVE = "ours: another octave of the letter was altered"
OWN = "ours: needed, for an accidental holds in its own octave alone"
CANCELLED = "theirs: the bar before had cancelled the alteration itself"
AGAIN = "theirs: another octave of the letter, restated in this bar already"
IN_FORCE = "theirs: an alteration that is still in force"
CLASSES = (SETTLED, OCTAVE, OWN, CANCELLED, AGAIN, IN_FORCE)


@cache
def _altered(fifths: int) -> list[m21_pitch.Pitch]:
    return m21_key.KeySignature(fifths).alteredPitches


def theirs(bars: Sequence[Bar], fifths: int, asked: dict[str, bool]) -> Iterator[list[bool]]:
    """For each bar and note, whether music21 shows an accidental."""
    before: list[m21_pitch.Pitch] = []
    for bar in bars:
        past: list[m21_pitch.Pitch] = []
        row = []
        for pitch in _pitches(bar):
            found = m21_pitch.Pitch(m21_name(pitch))
            found.updateAccidentalDisplay(
                pitchPast=past,
                pitchPastMeasure=before,
                alteredPitches=_altered(fifths),
                cautionaryAll=False,
                overrideStatus=True,
                **asked,
            )
            row.append(bool(found.accidental and found.accidental.displayStatus))
            past.append(found)
        yield row
        before = past


def _pitches(bar: Bar) -> list[Pitch]:
    return [event.pitch for event in bar.events if event.pitch is not None]


def why(word: str, pitch: Pitch, past: list[Pitch], before: list[Pitch], key: Key) -> str:
    """The class of a note on which the two differ; `word` is ours. Empty where no rule explains it."""
    letter = [other for other in past if other.letter == pitch.letter]
    old = [other for other in before if other.letter == pitch.letter]
    line = [other for other in old if other.step == pitch.step]
    if word == "needed":
        return OWN if letter and letter[-1].step != pitch.step else ""
    if word:
        if letter and line and line[-1].alter != pitch.alter:
            return SETTLED
        nearest = (letter or old)[-1:]
        return OCTAVE if nearest and nearest[0].step != pitch.step else ""
    if any(other.step == pitch.step and other.alter == pitch.alter for other in letter) and (
        pitch.alter != key.alteration(pitch.letter) or any(o.alter != pitch.alter for o in (*letter, *old))
    ):
        return IN_FORCE
    if letter and letter[-1].alter == pitch.alter and letter[-1].step != pitch.step:
        return AGAIN
    return CANCELLED if old and old[-1].alter == pitch.alter else ""


def compared(melodies: Iterable[Melody], asked: dict[str, bool]) -> tuple[Counter[str], list[str]]:
    """Notes, agreements and differences by class in all twelve keys, and what no class explains."""
    total: Counter[str] = Counter()
    unexplained = []
    for melody in melodies:
        for setting in settings_of(exercise_of(melody), PLAYER):
            before: list[Pitch] = []
            rows = theirs(setting.bars, setting.key.fifths, asked)
            ours = accidentals(Staff(setting.bars), setting.key)
            for bar, signs, shown in zip(setting.bars, ours, rows, strict=True):
                line = _pitches(bar)
                words = [word for event in signs for word in event]
                for place, (word, their) in enumerate(zip(words, shown, strict=True)):
                    total["notes"] += 1
                    total[word] += bool(word)
                    if bool(word) == their:
                        continue
                    reason = why(word, line[place], line[:place], before, setting.key)
                    total[reason] += 1
                    if not reason:
                        where = (
                            f"{melody.name} in {setting.key.name}, {word or 'theirs'}: note {place + 1} of"
                        )
                        unexplained.append(
                            f"{where} {' '.join(map(str, line))} after {' '.join(map(str, before))}"
                        )
                before = line
    return total, unexplained
