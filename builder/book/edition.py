"""What the book prints of an exercise: its line, its ways of playing, and every key in the order of travel.

`pieces.py` has every variation in every key. The book shows a way of playing once, in the home key, and the
line as written in all keys, so that it can be played through.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from ..music.exercise import Exercise
from ..music.pitch import Pitch
from ..music.score import Score, Staff
from ..music.settings.placing import concert_remark
from ..music.settings.transpositions import Setting
from ..translation.said import NOTHING, Said, clause, listed, phrase
from ..variations.models import changes_notes, model_of
from ..variations.printed_names import printed_name
from .pieces import KeyPage, Rendition, SettingPieces


@dataclass(frozen=True, slots=True)
class Way:
    """A way of playing: its number from 1, its printed name, what it asks for, and its music.

    `shown` is the whole line where `whole` is set, else a model of a few bars; its score is None where the
    home key has no such variation. `remark` names the keys that leave it out, with the first one's reason.
    """

    number: int
    name: str
    means: str
    shown: Rendition
    whole: bool
    remark: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """A setting on the way through the keys: its key page's address, and the line as written."""

    key: str
    setting: Setting
    cell: Rendition


@dataclass(frozen=True, slots=True)
class ExerciseEdition:
    """An exercise as the book prints it. `home` is None where no key can be played.

    `remarks` say what is left out or moved, and where.
    """

    exercise: Exercise
    home: Step | None
    ways: tuple[Way, ...]
    steps: tuple[Step, ...]
    remarks: tuple[str, ...]

    @property
    def renditions(self) -> Iterator[Rendition]:
        """All its music."""
        if self.home:
            yield self.home.cell
        yield from (way.shown for way in self.ways if way.shown.score is not None)
        yield from (step.cell for step in self.steps)


def edition_of(
    exercise: Exercise,
    pages: Sequence[KeyPage],
    wanted: Callable[[Rendition], bool] = lambda part: True,
    cautions: Callable[[SettingPieces], tuple[str, ...]] = lambda placed: (),
) -> ExerciseEdition:
    """An exercise for the book.

    `wanted` says which of its variations are shown, `cautions` what to say of the breaths of its line.
    """
    travelled = sorted(
        ((placed, page) for page in pages for placed in page.placed), key=lambda pair: pair[0].number
    )
    steps = tuple(
        Step(page.key, placed.setting, on_the_way(line_alone(placed.parts[0], "in the book")))
        for placed, page in travelled
        if placed.parts
    )
    every = [placed for placed, _ in travelled]
    home = _home(exercise, [(placed, page) for placed, page in travelled if placed.parts])
    if home is None:
        return ExerciseEdition(exercise, None, (), (), remarks_of(every))
    placed, page = home
    line = Step(page.key, placed.setting, line_alone(placed.parts[0], "large"))
    ways = tuple(_ways(exercise, placed, every, wanted))
    breaths = cautions(replace(placed, parts=placed.parts[:1]))
    return ExerciseEdition(exercise, line, ways, steps, (*breaths, *remarks_of(every)))


def _home(
    exercise: Exercise, found: Sequence[tuple[SettingPieces, KeyPage]]
) -> tuple[SettingPieces, KeyPage] | None:
    """The setting in the author's own key at the author's own height, or the nearest to it."""

    def far(pair: tuple[SettingPieces, KeyPage]) -> tuple[bool, int]:
        setting = pair[0].setting
        start = setting.instrument.sounding(setting.start) if setting.concert else setting.start
        return setting.called != exercise.key, abs(start.midi - exercise.home.midi)

    return min(found, key=far, default=None)


def line_alone(plain: Rendition, where: str) -> Rendition:
    """The player's line alone; of a duet both parts."""
    score = plain.score
    assert score is not None  # a setting that fits has a line
    lines = tuple(line for line in score.lines if not line.small)
    return replace(plain, name=f"{plain.name}, {where}", score=replace(score, lines=lines))


def on_the_way(cell: Rendition) -> Rendition:
    """A line, or both parts of a duet, that another follows: it ends with a thin double bar."""
    score = cell.score
    if score is None or score.line.bars[-1].end != "|.":
        return cell
    lines = tuple(
        replace(line, bars=(*line.bars[:-1], replace(line.bars[-1], end="||")))
        for line in score.lines
        if line is score.line or line.part
    )
    return replace(cell, score=replace(score, lines=lines))


def _ways(
    exercise: Exercise,
    home: SettingPieces,
    every: Sequence[SettingPieces],
    wanted: Callable[[Rendition], bool],
) -> Iterator[Way]:
    plain = home.parts[0].score
    assert plain is not None
    number = 0
    for place, (request, part) in enumerate(zip(exercise.wanted, home.parts[1:], strict=True), start=1):
        if not wanted(part):
            continue
        number += 1
        whole = part.score is not None and changes_notes(plain, part.score)
        name = f"{part.name}, {'written out' if whole else 'in short'}"
        shown = replace(part, name=name, score=part.score and shown_way(plain, part.score, whole))
        remark = _left_out([(placed.setting, placed.parts[place]) for placed in every if placed.parts])
        yield Way(number, printed_name(request), part.means, shown, whole, remark)


def shown_way(plain: Score, varied: Score, whole: bool) -> Score:
    """What is printed of a varied score: the `whole` line, or a model of a few bars."""
    if not whole:
        return model_of(plain, varied)
    # A drone that sounds as it did is said in words.
    drones = [_sounds(line) for line in plain.lines if line.small]
    lines = (line for line in varied.lines if not (line.small and _sounds(line) in drones))
    return replace(varied, lines=tuple(lines))


def _sounds(line: Staff) -> set[Pitch]:
    return {pitch for event in line.notes() for pitch in event.pitches}


def _left_out(parts: Sequence[tuple[Setting, Rendition]]) -> Said:
    """In which keys a variation is left out, and why in the first of them."""
    out = [(setting, part.reason) for setting, part in parts if part.score is None]
    if not out:
        return NOTHING
    names = listed(list(dict.fromkeys(key_words(setting) for setting, _ in out)))
    first, reason = out[0]
    if first.second and len(out) == len(parts):
        return phrase("In no key: {reason}.", reason=reason)
    return phrase("Not in {keys}: in {key} {reason}.", keys=names, key=key_words(first), reason=reason)


def remarks_of(every: Sequence[SettingPieces]) -> tuple[str, ...]:
    """What is said of settings, once for all that it is said of."""
    said: dict[str, list[str]] = {}
    moved = NOTHING
    for placed in every:
        setting = placed.setting
        concert = concert_remark(setting.instrument, setting.key, setting.called)
        moved = moved or concert
        for remark in setting.remarks:
            if remark != concert:
                said.setdefault(remark, []).append(key_words(setting))
    # One key shows how a transposing instrument reads all of them.
    first = (phrase("{remark}; the other keys likewise.", remark=clause(moved)),) if moved else ()
    return first + tuple(
        phrase("{remark}: {keys}.", remark=clause(remark), keys=listed(dict.fromkeys(names)))
        for remark, names in said.items()
    )


def key_words(setting: Setting) -> Said:
    """`D flat`, or the start pitch where travel goes by pitch: `D flat 6`."""
    return setting.start.spoken if setting.exercise.travel.by_pitch else setting.called.tonic
