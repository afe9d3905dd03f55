"""The language's own page: every word, generator and variation with an example, engraved.

The examples are read as any exercise is, so that a page that shows a wrong one cannot be built.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache

from ..cache.memo import memo_json
from ..cache.store import CacheStore
from ..engrave import piece
from ..engrave.piece import STAND, Engraved, Failure, Piece, Use
from ..engrave.processes.finding import find_engraver
from ..engrave.processes.scheduler import engrave_all
from ..language.field_words import FIELDS, Field
from ..language.namings import ENGLISH, Naming, example_by
from ..language.notes.figure_words import FIGURE_WORDS
from ..language.read import Reading, read
from ..language.trade_words import EQUAL_FIELDS, EQUAL_WORDS
from ..language.words import WORDS
from ..music.description import describe_score
from ..music.figures import FIGURES
from ..music.score import Score
from ..music.settings.transpositions import first_setting
from ..music.winds.instruments import FLUTE
from ..variations import Unsuitable, apply, variations
from ..variations.equal_names import EQUAL_NAMES
from .page_views import Music, inline_music, sprite_of

_LAYOUT = replace(STAND, use=Use.SCREEN)

_A_PITCH = "D5"
"""The word of the language that stands for all pitches."""

PHRASE = "slur( h D5 mf q C#5 D5 ) | E5 F#5 h G5 , | slur( q A5 G5 F#5 E5 | w D5 p ) ,"
"""What the variations are shown on."""


WITH_OTHERS = {
    "music second": (
        "music:\n  h D5 q E5 F#5 | h G5 q F#5 E5 | w D5\n"
        "music second:\n  h D4 q C#4 D4 | q E4 F#4 h G4 | w F#4",
        "Two parts written out.",
    ),
    "canon": (
        "music:\n  h D5 q E5 F#5 | h G5 A5 | q F#5 E5 h D5\nsecond: canon at the octave below after 1 bar",
        "The second part follows the first, here an octave lower and a bar later. At other intervals it goes "
        "by the steps of the key. Both are played to their ends.",
    ),
    "pedal": (
        "music:\n  h D5 q E5 F#5 | h G5 A5 , | q F#5 E5 h D5\nsecond: pedal on D4, tied",
        "The second part holds one note, and breathes at the end of a bar in which the first does.",
    ),
    "block chords": (
        "music:\n  h D5 q E5 F#5 | h G5 E5 | w D5\nchords: D | Em7 A7/C# | D\nsecond: block chords",
        "The chords on a staff for a keyboard: close together, each led to the next by the nearest notes.",
    ),
    "chords": (
        "music:\n  h D5 q E5 F#5 | h G5 E5 | w D5\nchords: D | Em7 A7/C# | D",
        "Chords for a keyboard. Two share a bar equally; they are transposed with the key, and sound softly.",
    ),
}
"""Music with another player, by its name: the fields that make it, and what they mean."""


def example_text(music: str, drone: str = "") -> str:
    """A whole exercise around a few words of music, in D major from D5, over a drone where one is named.

    It is in free time if it has a note held as long as the breath.
    """
    time = "meter: free" if "long" in music.split() else "tempo: quarter = 60 to 84"
    rows = ["title: Example", "home: D5 in D major", time]
    rows += [f"drone: {drone}"] if drone else []
    return "\n".join([*rows, "music:", f"  {music}", ""])


def example(music: str, drone: str = "") -> Reading:
    """A few words of music, read as an exercise."""
    return read("example.warmup", example_text(music, drone).encode())


def example_score(music: str, drone: str = "") -> Score:
    """A few words of music as a score. Raises ValueError where they have faults."""
    return _score(example(music, drone))


def score_with_others(fields: str) -> Score:
    """The score of these fields, in D major from D5. Raises ValueError where they have faults."""
    text = f"title: Example\nhome: D5 in D major\ntempo: quarter = 60 to 84\n{fields}\n"
    return _score(read("example.warmup", text.encode()))


def _score(reading: Reading) -> Score:
    if reading.exercise is None:
        raise ValueError("\n".join(map(str, reading.faults)))
    return first_setting(reading.exercise, FLUTE).score()


@dataclass(frozen=True, slots=True)
class Shown:
    """A word of the language: its name, what may follow it, what it means, how it is written, its music."""

    name: str
    takes: str
    means: str
    text: str
    music: Music | None


@dataclass(frozen=True, slots=True)
class LanguageView:
    """The language's own page; `phrase` is what the variations are shown on.

    An example in `failures` stands without its music.
    """

    fields: tuple[Field, ...]
    words: tuple[Shown, ...]
    figures: tuple[Shown, ...]
    figure_words: tuple[Shown, ...]
    with_others: tuple[Shown, ...]
    phrase: Shown
    variations: tuple[Shown, ...]
    sprite: str
    failures: tuple[Failure, ...]


@dataclass(frozen=True, slots=True)
class _Example:
    """A thing on the page: its name, words after it, its meaning, its text, and the score of it."""

    word: str
    takes: str
    means: str
    text: str
    score: Score


def _wanted() -> dict[str, _Example]:
    """Everything on the page, by a name of its own."""
    phrase = example_score(PHRASE)
    wanted = {"phrase": _Example("the phrase", "", "What each variation below is shown on.", PHRASE, phrase)}
    for word in WORDS:
        score, means = example_score(word.example), with_equals(word.means, word.name, EQUAL_WORDS)
        wanted[f"word {word.name}"] = _Example(word.name, "", means, word.example, score)
    for figure in FIGURES.values():
        text, means = figure.example, with_equals(figure.means, figure.name, EQUAL_WORDS)
        wanted[f"figure {figure.name}"] = _Example(figure.name, "", means, text, example_score(text))
    for entry in FIGURE_WORDS.values():
        shown = _Example(entry.name, "", entry.means, entry.example, example_score(entry.example))
        wanted[f"figure-word {entry.name}"] = shown
    for name, (text, means) in WITH_OTHERS.items():
        wanted[f"other {name}"] = _Example(name, "", means, text, score_with_others(text))
    for name, variation in variations().items():
        text = f"{name} {variation.takes}".strip()
        means = with_equals(variation.means, name, EQUAL_NAMES)
        shown = _Example(name, variation.takes, means, text, _shown(phrase, text))
        wanted[f"variation {name}"] = shown
    return wanted


def with_equals(means: str, name: str, equals: Mapping[str, str]) -> str:
    """What a word means, and its equal words: `A fermata: hold the note. Equal: hold, pause.`"""
    found = [
        each if plain == name else f"{each} for {plain}"
        for each, plain in equals.items()
        if plain == name or (" " in plain and plain.startswith(f"{name} "))
    ]
    return f"{means} Equal: {', '.join(f'`{each}`' for each in found)}." if found else means


def _shown(phrase: Score, wish: str) -> Score:
    """The phrase in a variation; over a drone where the variation needs one."""
    try:
        return apply(phrase, (wish,))
    except Unsuitable:
        return apply(example_score(PHRASE, drone="D4"), (wish,))


def language_view(naming: Naming = ENGLISH) -> LanguageView:
    """The language's page, engraved. Raises ValueError where an example cannot be read.

    Its examples name notes by `naming`. Nothing is read anew while the language stays as it is.
    """
    wanted = cache(_wanted)
    found: dict[str, list[str]] = memo_json(CacheStore(), "language", _decided_by(), lambda: _told(wanted()))
    keys = {name: key for name, (*_, key) in found.items()}
    engravings = engrave_all(keys, lambda name: Piece(name, wanted()[name].score, _LAYOUT), known=keys)
    kinds = ("phrase", "word", "figure", "figure-word", "other", "variation")
    shown: dict[str, list[Shown]] = {kind: [] for kind in kinds}
    for name, (word, takes, means, text, said, _) in found.items():
        drawn = inline_music(engraved, said) if isinstance(engraved := engravings[name], Engraved) else None
        if word == _A_PITCH and not naming.is_english:
            means = naming.explained()
        rows = text.split("\n")
        text = "\n".join(example_by(naming, row.partition(":")[0], row) for row in rows)
        shown[name.split()[0]].append(Shown(naming.retold(word), takes, naming.retold(means), text, drawn))
    return LanguageView(
        fields=tuple(
            replace(
                each,
                means=naming.retold(with_equals(each.means, each.name, EQUAL_FIELDS)),
                example=example_by(naming, each.name, each.example),
            )
            for each in FIELDS.values()
        ),
        words=tuple(shown["word"]),
        figures=tuple(shown["figure"]),
        figure_words=tuple(shown["figure-word"]),
        with_others=tuple(shown["other"]),
        phrase=shown["phrase"][0],
        variations=tuple(shown["variation"]),
        sprite=sprite_of(item.music for items in shown.values() for item in items),
        failures=tuple(replace(each, name=f"the example of {each.name}") for each in engravings.failures),
    )


def _decided_by() -> Iterator[str]:
    """Everything that decides the examples and their ink."""
    engraver = find_engraver()
    yield from (piece.code(), *engraver.decides)


def _told(wanted: dict[str, _Example]) -> dict[str, list[str]]:
    """What is kept of each example: its words, its music in words, and the key of its ink."""
    engraver = find_engraver()
    return {
        name: [
            *(each.word, each.takes, each.means, each.text),
            describe_score(each.score),
            Piece(name, each.score, _LAYOUT).key(engraver),
        ]
        for name, each in wanted.items()
    }
