"""The table beside a drone: each note, its interval, and how it is tuned, in words for a page."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ..music.exercise import Exercise
from ..music.pitch import Pitch
from ..music.settings.transpositions import Setting
from ..music.settings.tuning import Tuned, offered, over_drone
from ..translation.catalog import TO_ENGLISH, Translation
from ..translation.said import NOTHING, Said, noted, phrase, term

_SIGNS = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}
_LOCKS = {"strong": "firmly", "weak": "softly", "": ""}


@dataclass(frozen=True, slots=True)
class TunedView:
    """A note over the drone. `sounds` is empty where it sounds as written, `beats` where none are heard."""

    note: str
    sounds: str
    interval: str
    locks: str
    ratio: str
    cents: str
    beats: str


@dataclass(frozen=True, slots=True)
class TuningView:
    """The table of one setting: the drone as written and as it sounds, and a row a note, highest first."""

    drone: str
    sounds: str
    a4: str
    rows: tuple[TunedView, ...]


def tuning_view(setting: Setting, a4: float, translation: Translation = TO_ENGLISH) -> TuningView | None:
    """The table of a setting with `a4` hertz for A4; None where the exercise has no drone."""
    found = over_drone(setting)
    if setting.drone is None or setting.sounding_drone is None or not found:
        return None
    transposes = bool(setting.instrument.transposition.steps)
    return TuningView(
        drone=sign(setting.drone, translation),
        sounds=sign(setting.sounding_drone, translation) if transposes else "",
        a4=f"{a4:g}",
        rows=tuple(_row(pitch, tuned, transposes, a4, translation) for pitch, tuned in reversed(found)),
    )


def sign(pitch: Pitch, translation: Translation = TO_ENGLISH) -> str:
    """A pitch in short, with its printed sign: `F♯4`."""
    name = translation.sign(pitch.letter, pitch.alter, pitch.name[0] + _SIGNS[pitch.alter])
    return name + str(pitch.octave)


def _row(pitch: Pitch, tuned: Tuned, transposes: bool, a4: float, translation: Translation) -> TunedView:
    return TunedView(
        note=sign(pitch, translation),
        sounds=sign(tuned.note, translation) if transposes else "",
        interval=tuned.name,
        locks=_LOCKS[tuned.locks],
        ratio=f"{tuned.ratio.numerator}:{tuned.ratio.denominator}",
        cents=_cents(tuned.cents),
        beats=f"{tuned.beats(a4):.1f}" if tuned.heard else "",
    )


def _cents(cents: float) -> Said:
    """`14 lower`: where the just note lies from the tempered one, in whole cents."""
    whole = round(cents)
    if not whole:
        return term("the same")
    message = noted("{cents} higher") if whole > 0 else noted("{cents} lower")
    return phrase(message, cents=abs(whole))


def offer_words(exercise: Exercise) -> Said:
    """What a melody offers over its drone: `94 % of its time on intervals that lock, 68 % firmly`."""
    found = offered(exercise)
    if found is None:
        return NOTHING
    share, strong = _hundredths(found.share), _hundredths(found.strong_share)
    return phrase(
        "{share} % of its time on intervals that lock, {strong} % firmly", share=share, strong=strong
    )


def _hundredths(share: Fraction) -> int:
    return round(100 * share)
