"""The table beside a drone: each note, its interval, and how it is tuned, in words for a page."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from ..music.exercise import Exercise
from ..music.pitch import Pitch
from ..music.transpositions import Setting
from ..music.tuning import Tuned, offered, over_drone

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


def tuning_view(setting: Setting, a4: float) -> TuningView | None:
    """The table of a setting with `a4` hertz for A4; None where the exercise has no drone."""
    found = over_drone(setting)
    if setting.drone is None or setting.sounding_drone is None or not found:
        return None
    transposes = bool(setting.instrument.transposition.steps)
    return TuningView(
        drone=sign(setting.drone),
        sounds=sign(setting.sounding_drone) if transposes else "",
        a4=f"{a4:g}",
        rows=tuple(_row(pitch, tuned, transposes, a4) for pitch, tuned in reversed(found)),
    )


def sign(pitch: Pitch) -> str:
    """A pitch in short, with its printed sign: `F♯4`."""
    return pitch.name[0] + _SIGNS[pitch.alter] + str(pitch.octave)


def _row(pitch: Pitch, tuned: Tuned, transposes: bool, a4: float) -> TunedView:
    return TunedView(
        note=sign(pitch),
        sounds=sign(tuned.note) if transposes else "",
        interval=tuned.name,
        locks=_LOCKS[tuned.locks],
        ratio=f"{tuned.ratio.numerator}:{tuned.ratio.denominator}",
        cents=_cents(tuned.cents),
        beats=f"{tuned.beats(a4):.1f}" if tuned.heard else "",
    )


def _cents(cents: float) -> str:
    """`14 lower`: where the just note lies from the tempered one, in whole cents."""
    whole = round(cents)
    return f"{abs(whole)} {'higher' if whole > 0 else 'lower'}" if whole else "the same"


def offer_words(exercise: Exercise) -> str:
    """What a melody offers over its drone: `94 % of its time on intervals that lock, 68 % firmly`."""
    found = offered(exercise)
    if found is None:
        return ""
    share, strong = _hundredths(found.share), _hundredths(found.strong_share)
    return f"{share} % of its time on intervals that lock, {strong} % firmly"


def _hundredths(share: Fraction) -> int:
    return round(100 * share)
