"""Chooses the octave of an exercise for an instrument, and tells its player about it.

If the whole line of travel lies badly for the instrument, it is moved by octaves. In an exercise through
twelve keys, each key is then put into the nearest octave within the preferred range, or else within the
compass. In one from pitch to pitch, each stays on the line.
"""

from __future__ import annotations

from collections.abc import Iterable

from ...translation.said import NOTHING, Said, counted, phrase
from ..exercise import Exercise, Form
from ..keys import Key, in_words
from ..pitch import Interval, Pitch
from ..score import Compass, pitch_range
from ..winds.instrument import AS_WRITTEN, Instrument
from .second_part import parts_at_home
from .whole_range import without_whole_range

REACH = range(-5, 6)
"""The octaves tried, counted from where the text stands."""


def transposition(instrument: Instrument) -> Interval:
    """The interval from the page to the text: to the sound in a book in concert pitch, else a unison."""
    return instrument.transposition if instrument.concert else AS_WRITTEN


def move_by_octaves(exercise: Exercise, instrument: Instrument, travel: Iterable[tuple[Form, int]]) -> int:
    """How many octaves to move the whole line of travel so that it lies well for an instrument.

    `travel` is every form with its distance from home in semitones.

    If the player reads it in the treble clef exactly as the author wrote it, it is not moved

    - from pitch to pitch, if at least one step of it can be played: the others are named as left out;
    - through twelve keys, if its home key, or any other, is in the preferred range.

    For another player it stays if its home key is in the preferred range and, from pitch to pitch, all of it
    in the compass. Else it moves to the octave in which most of it is in the preferred range; of two such
    octaves, to the one whose middle is nearer to that range's middle. Figures over the whole range of the
    instrument do not count.
    """
    compass, page = instrument.compass, -transposition(instrument).semitones
    first, last = compass.easy_low.midi, compass.easy_high.midi
    spans, easy, easy_at_home = [], [], []
    for form, semitones in travel:
        first_part, second = parts_at_home(exercise, form)
        bars = without_whole_range(form, first_part) + second
        if not bars:
            continue
        low, high = (pitch.midi + page for pitch in pitch_range(bars))
        spans.append((low + semitones, high + semitones))
        easy.append(first <= low + semitones and high + semitones <= last)
        easy_at_home.append(first <= low and high <= last)
    if not spans:
        return 0
    as_written = not page and instrument.clef == "treble"
    possible = [compass.low.midi <= low and high <= compass.high.midi for low, high in spans]
    if exercise.travel.by_pitch:
        well = any(possible) if as_written else all(easy_at_home) and all(possible)
    else:
        well = all(easy_at_home) or (as_written and any(easy))
    if well:
        return 0
    middle = sum(low + high for low, high in spans) / len(spans)

    def rank(octaves: int) -> tuple[int, float, int]:
        moved = 12 * octaves
        missed = sum(low + moved < first or high + moved > last for low, high in spans)
        return missed, abs(middle + 2 * moved - first - last), abs(octaves)

    return min(REACH, key=rank)


def octave_for(compass: Compass, low: Pitch, high: Pitch, octaves: int) -> int | None:
    """How many octaves to move music of this range, nearest to `octaves`; None if no octave holds it.

    An octave within the preferred range comes before every other.
    """
    fitting = [shift for shift in REACH if compass.holds(low.octaves(shift), high.octaves(shift))]

    def rank(shift: int) -> tuple[bool, int, int]:
        prefers = compass.prefers(low.octaves(shift), high.octaves(shift))
        return (not prefers, abs(shift - octaves), shift)

    return min(fitting, key=rank, default=None)


def octaves_words(shift: int) -> Said:
    """`an octave lower`, `2 octaves higher`."""
    if shift > 0:
        return counted("an octave higher", "{count} octaves higher", shift)
    return counted("an octave lower", "{count} octaves lower", -shift)


def concert_remark(instrument: Instrument, key: Key, concert: Key) -> Said:
    """What to say where the key on the page is not the key that sounds; empty where they are one."""
    if key == concert:
        return NOTHING
    written, sounds = in_words(key.name), in_words(concert.name)
    return phrase(
        "Written {written} for the {instrument}, so that it sounds {sounds}.",
        written=written,
        instrument=instrument.said,
        sounds=sounds,
    )


def remarks(
    instrument: Instrument, key: Key, concert: Key, shift: int, low: Pitch, high: Pitch
) -> tuple[str, ...]:
    """Remarks for the player on a setting that goes from one written pitch to another."""
    compass, name = instrument.compass, instrument.said
    said = list(filter(None, [concert_remark(instrument, key, concert)]))
    if shift and compass.holds(low, high):
        first, last = compass.low, compass.high
        if compass.prefers(low, high):
            first, last = compass.easy_low, compass.easy_high
        values = {"octaves": octaves_words(shift), "low": first.spoken, "high": last.spoken}
        if instrument.concert and instrument.sounds:
            said.append(
                phrase("Sounds {octaves} than the exercise asks, to stay between {low} and {high}.", **values)
            )
        else:
            said.append(
                phrase(
                    "Written {octaves} than the exercise asks, to stay between {low} and {high}.", **values
                )
            )
    if not compass.holds(low, high):
        said.append(
            phrase(
                "Cannot be played here: it would go from {low} to {high}, and the {instrument} is written "
                "from {lowest} to {highest}.",
                low=low.spoken,
                high=high.spoken,
                instrument=name,
                lowest=compass.low.spoken,
                highest=compass.high.spoken,
            )
        )
    elif not compass.prefers(low, high):
        beyond = high if high.midi > compass.easy_high.midi else low
        said.append(phrase("Goes to {note}, beyond the preferred range.", note=beyond.spoken))
    return tuple(said)
