"""Transposes an exercise to every key it asks for, spelled and placed for one instrument.

The rules of spelling, in order:

1. The key takes the signature with the fewest accidentals. Six sharps and six flats tie: then the key
   that needs fewer double accidentals for this music, then the sharp one. `spelling: flats` in the
   exercise turns ties the other way, and takes seven flats for five sharps where that spares double
   accidentals (A flat minor); `spelling: A flat minor`, or the field `keys`, asks for a key by its name.
2. Every note keeps its letter's distance from the tonic, so an augmented second stays one. A figure made
   from a rule is made anew in each key.
3. A leading note keeps its letter, with a double sharp where the key asks for one: the raised seventh and
   sixth steps of minor, and any note that goes up to the next letter by semitone, unless it comes from its
   own letter by semitone, as in a chromatic run. Every other double accidental takes the plain name of the
   same sound (D instead of E double flat) where the home key has none; `doubles: keep` keeps them all, and
   a figure in the relative or parallel key keeps its own. A chromatic run that comes to mix sharps and flats
   by this is spelled anew by its direction. A triple accidental is never printed.
4. Without a key there is no signature and no leading note: no double accidental, and E sharp, B sharp, C flat
   and F flat only where they go on by semitone in their direction. Its note takes the name of the major key
   with the fewest accidentals, but at home the author's.

`placing` chooses the octave. In a book in concert pitch the text says what sounds, and the page is
transposed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import gcd

from ..chords import ChordMark, marks_of
from ..event import Event
from ..exercise import DIRECTIONS, FALLING, BlockChords, Exercise, Form, GeneratedFigure
from ..figures.calls import call, made
from ..keys import Key, rank, spellings
from ..local_words import resolve_local_words
from ..pitch import Interval, Pitch
from ..score import Bar, Score, Staff, each_event, each_pitch, held, pitch_range, transposed, with_events
from ..spell import fit_trills, mixed_runs, plain, tidy_runs, without_doubles, without_odd_names
from ..winds.instrument import Instrument
from .block_chords import chord_staff
from .harmonics import fit_fundamentals
from .placing import move_by_octaves, octave_for, remarks, transposition
from .second_part import derived, parts_at_home
from .whole_range import in_range, whole_range_figures, without_whole_range


@dataclass(frozen=True, slots=True)
class Setting:
    """An exercise in one key from one start pitch, in written pitches of one instrument.

    `shift` counts the octaves it had to move from the line of travel. If `fits` is false, no octave holds it,
    and `remarks` says so. `concert` is the key that sounds, in a book in concert pitch. `second` is the
    second part of a duet, with as many bars; `chords` are named over the first.
    """

    exercise: Exercise
    instrument: Instrument
    key: Key
    start: Pitch
    direction: str
    bars: tuple[Bar, ...]
    drone: Pitch | None
    shift: int
    fits: bool
    remarks: tuple[str, ...]
    concert: Key | None = None
    second: tuple[Bar, ...] = ()
    chords: tuple[ChordMark, ...] = ()

    @property
    def called(self) -> Key:
        """The key that names its page: the sounding one in a book in concert pitch, else the written one."""
        return self.concert or self.key

    @property
    def sounding_drone(self) -> Pitch | None:
        """The drone as it is heard, under its plain name."""
        return plain(self.instrument.sounding(self.drone)) if self.drone else None

    @property
    def name(self) -> str:
        """Unique within the exercise and instrument, safe in an address: `d-flat-5-falling`."""
        parts = [self.key.slug, str(self.start.octave)]
        if self.start.name != self.key.tonic[0] + {0: "", 1: "#", -1: "b"}[self.key.alter]:
            parts.append(f"from-{self.start.spoken.lower().replace(' ', '-')}")
        return "-".join([*parts, self.direction] if self.direction else parts)

    def score(self) -> Score:
        """The score of the plain setting; below it a second player's staff and a drone's, if it has them."""
        exercise = self.exercise
        parts = [self.bars, self.second] if self.second else [self.bars]
        lines = tuple(
            Staff(bars, clef=self._clef(bars), part=number if self.second else 0)
            for number, bars in enumerate(parts, start=1)
        )
        if isinstance(exercise.second, BlockChords):
            chords = chord_staff(self.bars, self.chords, exercise.second.clef)
            lines = (replace(lines[0], part=1), chords)
        if self.drone is not None:
            low = Event(self.drone, exercise.tempo.beat)
            clef = self.instrument.clef_for([self.drone])
            seed = Staff((Bar((low,)),), clef=clef, label="drone", small=True)
            lines = (*lines, replace(seed, bars=held(seed, self.bars)))
        return Score(
            key=self.key,
            meter=exercise.meter,
            tempo=exercise.tempo,
            lines=lines,
            compass=self.instrument.compass,
            pickup=exercise.pickup,
            sounds=self.instrument.sounds,
            courtesy=exercise.courtesy,
            breath=exercise.breath,
            chords=self.chords,
            fingerings=self.instrument.fingerings if _has_charts(parts) else "",
        )

    def _clef(self, bars: tuple[Bar, ...]) -> str:
        """The clef a part begins in: the usual one where the author changes clefs, else the one that fits."""
        events = [event for bar in bars for event in bar.events]
        if any(event.clef for event in events):
            return self.instrument.clef
        return self.instrument.clef_for(pitch for event in events for pitch in event.pitches)


def _has_charts(parts: Sequence[tuple[Bar, ...]]) -> bool:
    return any(event.chart or event.asks_for_chart for bars in parts for bar in bars for event in bar.events)


def interval_to(old: Key, new: Key, semitones: int) -> Interval:
    """The spelled interval from one key to another at this distance in semitones.

    Raises ValueError if the keys are not that distance apart.
    """
    if (new.pitch_class - old.pitch_class - semitones) % 12:
        raise ValueError(f"{old.name} to {new.name} is not {semitones} semitones")
    letters = (new.letter - old.letter) % 7
    near = round((semitones * 7 / 12 - letters) / 7)
    return Interval(letters + 7 * near, semitones)


def count_doubles(bars: tuple[Bar, ...]) -> int:
    """How many notes carry a double accidental (or worse)."""
    return sum(1 for bar in bars for event in bar.events for pitch in event.pitches if abs(pitch.alter) > 1)


def carried_to(exercise: Exercise, form: Form, key: Key, interval: Interval) -> tuple[Bar, ...]:
    """A form's bars transposed to a key by an interval, with each generated figure generated again."""
    bars = transposed(form.bars, interval)
    if not form.made:
        return bars
    events = [event for bar in bars for event in bar.events]
    home = exercise.home.up(interval)
    for figure in form.made:
        place, after = figure.first, figure.first + figure.count
        again = made(call(figure.figure, figure.words), home, key, figure.value)
        for number, event in enumerate(again, start=1):
            # A note may stand there in several tied values; the last one is as long as its bar has room.
            rest = event.length
            while place < after and (rest > 0 or number == len(again)):
                events[place] = replace(events[place], pitch=event.pitch)
                rest -= events[place].length
                place += 1
    return with_events(bars, events)


def parts_carried_to(
    exercise: Exercise, form: Form, key: Key, interval: Interval
) -> tuple[tuple[Bar, ...], tuple[Bar, ...]]:
    """A form's first and second part transposed to a key by an interval; the second empty without one."""
    bars = carried_to(exercise, form, key, interval)
    if form.second:
        return bars, carried_to(exercise, form.second, key, interval)
    return derived(exercise, bars, key, interval)


def choose_key(exercise: Exercise, pitch_class: int) -> Key:
    """The key of the exercise's mode on a pitch class, by the rules at the top of this module."""
    home = exercise.key
    if not home.mode and home.pitch_class == pitch_class:
        return home
    keys = spellings(pitch_class, home.mode)
    distance = (pitch_class - home.pitch_class) % 12

    def doubles(key: Key) -> int:
        interval = interval_to(home, key, distance)
        parts = (parts_carried_to(exercise, form, key, interval) for form in exercise.forms)
        return sum(count_doubles(first) + count_doubles(second) for first, second in parts)

    if asked := [key for key in keys if key in (*exercise.named, *exercise.travel.keys)]:
        return asked[0]
    tied = [key for key in keys if abs(rank(key)) == abs(rank(keys[0]))]
    if exercise.prefer:
        wanted = 1 if exercise.prefer == "sharps" else -1
        best = max(tied, key=lambda key: rank(key) * wanted)
        further = [key for key in keys if rank(key) * wanted > 0 > rank(best) * wanted]
        return min([best, *further], key=doubles)
    return min(tied, key=lambda key: (doubles(key), -rank(key))) if len(tied) > 1 else tied[0]


def _spelled(
    carried: tuple[Bar, ...],
    home: tuple[Bar, ...],
    made_there: tuple[GeneratedFigure, ...],
    key: Key,
    most: int,
) -> tuple[Bar, ...]:
    """Bars carried to a key, spelled by rules 3 and 4; with `most` 2, double accidentals stay.

    `home` are the same bars in the home key.
    """
    bars = carried
    bars = without_doubles(bars, key) if most == 1 else each_pitch(bars, lambda pitch: plain(pitch, most))
    if any(call(figure.figure, figure.words).relation for figure in made_there):
        bars = _with_letters_of_related_figures(bars, carried, made_there)
    if most == 1 and mixed_runs(bars) > mixed_runs(home):
        bars = tidy_runs(bars, key)
    if not key.mode:
        bars = without_odd_names(bars)
    return fit_fundamentals(fit_trills(bars))


def _with_letters_of_related_figures(
    bars: tuple[Bar, ...], carried: tuple[Bar, ...], figures: tuple[GeneratedFigure, ...]
) -> tuple[Bar, ...]:
    """Bars in which figures in a relative or parallel key have the letters that they were made with."""
    events, made_events = ([event for bar in each for event in bar.events] for each in (bars, carried))
    for figure in figures:
        if call(figure.figure, figure.words).relation:
            for place in range(figure.first, figure.first + figure.count):
                own = made_events[place].pitch
                events[place] = replace(events[place], pitch=plain(own, 2) if own else None)
    return with_events(bars, events)


def _shift(instrument: Instrument, bars: tuple[Bar, ...], octaves: int) -> int:
    """How many octaves to move bars, nearest to `octaves`; that many if no octave holds them."""
    found = octave_for(instrument.compass, *pitch_range(bars), octaves)
    return octaves if found is None else found


def _placed(
    exercise: Exercise, form: Form, instrument: Instrument, semitones: int, octaves: int, fixed: bool
) -> Setting:
    concert = choose_key(exercise, (exercise.key.pitch_class + semitones) % 12)
    page = -transposition(instrument)
    key = choose_key(exercise, (concert.pitch_class + page.semitones) % 12) if page.semitones else concert
    direct = interval_to(exercise.key, key, semitones + page.semitones)
    carried, carried_second = parts_carried_to(exercise, form, key, direct)
    home, home_second = parts_at_home(exercise, form)
    start = exercise.home.up(direct)
    drone = exercise.drone.up(direct) if exercise.drone else None
    most = _most_accidentals(exercise, form.bars)
    bars = _spelled(carried, home, form.made, key, most)
    second = _spelled(
        carried_second,
        home_second,
        form.second.made if form.second else (),
        key,
        _most_accidentals(exercise, home_second),
    )
    shift = octaves
    if whole_range_figures(form):
        rest = without_whole_range(form, bars)
        shift = _shift(instrument, rest, octaves) if rest else 0
        carried, figures = in_range(exercise, form, carried, start, key, instrument.compass, shift)
        bars = _spelled(carried, form.bars, figures, key, most)
        if not rest:
            # The line of travel is where the figure begins.
            first = next(event.pitch for bar in bars for event in bar.events if event.pitch)
            moved = round((first.midi - start.midi) / 12)
            start, drone = start.octaves(moved), drone.octaves(moved) if drone else None
    elif not fixed:
        shift = _shift(instrument, bars + second, octaves)
    low, high = pitch_range(bars + second)
    if shift:
        bars, second = (each_pitch(part, lambda pitch: pitch.octaves(shift)) for part in (bars, second))
        low, high = low.octaves(shift), high.octaves(shift)
    bars, second = (
        resolve_local_words(part, concert if instrument.concert else key, instrument.register)
        for part in (bars, second)
    )
    start, drone = plain(start, most), plain(drone, most) if drone else None
    if shift or page.semitones:
        # A change of clef suits only the octave that its author wrote it for.
        bars, second = (
            each_event(part, lambda event: replace(event, clef="") if event.clef else event)
            for part in (bars, second)
        )
    return Setting(
        exercise=exercise,
        instrument=instrument,
        key=key,
        start=start.octaves(shift),
        direction=form.direction,
        bars=bars,
        drone=drone.octaves(shift) if drone else None,
        shift=shift,
        fits=instrument.compass.holds(low, high),
        remarks=remarks(instrument, key, concert, shift, low, high),
        concert=concert if instrument.concert else None,
        second=second,
        chords=_chords(exercise, bars, direct),
    )


def _chords(exercise: Exercise, bars: tuple[Bar, ...], interval: Interval) -> tuple[ChordMark, ...]:
    """The exercise's chords at an interval from home, under plain names instead of double accidentals."""
    if not exercise.chords:
        return ()
    marks = marks_of(exercise.chords, [bar.length for bar in bars])

    def moved(pitch: Pitch) -> Pitch:
        return plain(pitch.up(interval))

    return tuple(replace(mark, chord=mark.chord.each_pitch(moved)) if mark.chord else mark for mark in marks)


def _most_accidentals(exercise: Exercise, home: tuple[Bar, ...]) -> int:
    """How many sharps or flats a note of a part may have: two only if the author has or keeps them."""
    return 2 if exercise.keep_doubles or count_doubles(home) else 1


def _semitones(exercise: Exercise, instrument: Instrument, form: Form, falling: bool) -> Iterator[int]:
    """Distances from the home pitch, in the order of travel."""
    travel, home = exercise.travel, exercise.home.midi
    sign = -1 if falling else 1
    if travel.keys:
        tonic = exercise.key.pitch_class
        yield from ((key.pitch_class - tonic + 5) % 12 - 5 for key in travel.keys)
        return
    if not travel.by_pitch:
        a_round = 12 // gcd(travel.step, 12)
        for number in range(12):
            rounds, place = divmod(number, a_round)
            yield _nearest(sign * (travel.step * place + rounds))
        return
    if travel.first is not None and travel.last is not None:
        ends = (travel.first.midi, travel.last.midi)
        low, high = min(ends), max(ends)
    else:
        first, second = parts_at_home(exercise, form)
        lowest, highest = pitch_range(first + second)
        heard = home + transposition(instrument).semitones
        compass = instrument.compass
        for bottom, top in ((compass.easy_low, compass.easy_high), (compass.low, compass.high)):
            low, high = bottom.midi + heard - lowest.midi, top.midi + heard - highest.midi
            if low <= high:
                break
        else:
            # No start fits the instrument: one setting says so.
            low = high = home
    pitches = range(high, low - 1, -travel.step) if falling else range(low, high + 1, travel.step)
    yield from (pitch - home for pitch in pitches)


def _nearest(semitones: int) -> int:
    """A circle's jump folded to within an octave of home, keeping its sign: -14 becomes -2."""
    return semitones % 12 if semitones > 0 else -(-semitones % 12)


def settings_of(exercise: Exercise, instrument: Instrument) -> tuple[Setting, ...]:
    """Every setting of an exercise for an instrument, in the order of travel.

    An exercise with a form for each direction is set in both. If no octave fits, the setting says so.
    """
    return tuple(_settings(exercise, instrument))


def first_setting(exercise: Exercise, instrument: Instrument) -> Setting:
    """The first of `settings_of`; the others are not made."""
    return next(_settings(exercise, instrument))


def _settings(exercise: Exercise, instrument: Instrument) -> Iterator[Setting]:
    ways = list(exercise.travel.directions)
    ways += [
        form.direction
        for form in exercise.forms
        if form.direction in DIRECTIONS and form.direction not in ways
    ]
    # Each form once at each distance, in the order in which travel first reaches it.
    line: dict[tuple[int, str], Form] = {}
    for way in ways:
        form = exercise.form(way)
        for semitones in _semitones(exercise, instrument, form, way == FALLING):
            line.setdefault((semitones, form.direction), form)
    octaves = move_by_octaves(
        exercise, instrument, [(form, semitones) for (semitones, _), form in line.items()]
    )
    for (semitones, _), form in line.items():
        yield _placed(exercise, form, instrument, semitones, octaves, exercise.travel.by_pitch)


def in_keys(all_settings: tuple[Setting, ...]) -> dict[str, tuple[Setting, ...]]:
    """Settings by key page, in the order in which travel first reaches each key."""
    pages: dict[str, list[Setting]] = {}
    for setting in all_settings:
        pages.setdefault(setting.called.page, []).append(setting)
    return {page: tuple(group) for page, group in pages.items()}
