"""Finished ink, read back by pdfium, against the score: margins, bars, heads, hairpins, vibrato, the grid.

`benchmarks/ink.py` does this for every variation in twelve keys; here is a sample of it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import pytest
from conftest import sweep
from ink_cases import Case, cases, sign_cases
from ink_faults import differs, grid, ink_faults
from ink_reader import read_ink, systems

from stavewright.engrave import breaks
from stavewright.engrave.piece import MARGIN, STAND, Engraved, Failure, Layout, Piece, Use
from stavewright.engrave.processes.worker import here
from stavewright.language.read import read
from stavewright.music.bars import bar_places
from stavewright.music.event import Event, Value
from stavewright.music.pitch import Pitch
from stavewright.music.score import Bar, Score, Staff
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import FLUTE
from stavewright.paper.page_format import PageFormat
from stavewright.variations import apply
from stavewright.views.incipits import PHONE

SAMPLE = (
    "vibrato late",
    "vibrato fading",
    "vibrato measured 4",
    "swell each note from pp to f to pp",
    "swell up",
    "singing alto held",
)

TWO_STATEMENTS = {
    # Its last bar is full, so that the second pick-up has a bar of its own.
    "full": "q D4 | G4 A4 B4 C#5 | h D5 q C#5 , D5 | D5 C5 B4 A4 | h G4 q D5 , C#5 | D4 D4 G4 A4 | w G4 ,",
    # It repeats from after the pick-up, and each part ends short.
    "repeat": "q D4 |: G4 A4 B4 C#5 | h. D5 :| q D5 C5 B4 A4 | h. G4 || q D5 C5 B4 A4 | h. G4 ,",
}


def score_of(music: str, **fields: str) -> Score:
    rows = {"title": "T", "home": "G4 in G major", "travel": "twelve keys", **fields, "music": music}
    reading = read("t.warmup", "".join(f"{name}: {text}\n" for name, text in rows.items()).encode())
    assert reading.exercise is not None, reading.faults
    return settings_of(reading.exercise, FLUTE)[0].score()


def engravings(scores: list[Score], layout: Layout = STAND) -> Iterator[Engraved]:
    """Scores in ink for both uses, whatever the layout is for: both are compared."""
    both = replace(layout, use=Use.ANYWHERE)
    for made in here().engrave([Piece("a piece", score, both) for score in scores]):
        assert isinstance(made, Engraved), made
        yield made


@sweep(
    "value, layout",
    [
        ("whole", PageFormat(staff=12).layout),
        ("half", PageFormat(staff=7).layout),
        ("quarter", PageFormat(staff=10).layout),
        ("eighth", PageFormat(staff=8.5).layout),
        ("half", PHONE),
    ],
    ids=["wholes at 12", "halves at 7", "quarters at 10", "eighths at 8.5", "halves on a phone"],
    every_day=2,
)
def test_the_ink_says_what_the_score_says(value: str, layout: Layout) -> None:
    sample: list[Case] = list(cases(value, 1, SAMPLE))
    made = list(engravings([case.score for case in sample], layout))
    plain = grid(made[0], 1)
    for case, ink in zip(sample, made, strict=True):
        assert ink_faults(case.score, ink, layout) == [], case.name
        if case.keeps_notes:
            assert not differs(plain, grid(ink, len(case.score.lines))), case.name


def test_heads_of_other_shapes_are_where_they_are_written() -> None:
    sample = list(sign_cases())
    for case, ink in zip(sample, engravings([case.score for case in sample]), strict=True):
        assert ink_faults(case.score, ink, STAND) == [], case.name


@pytest.mark.parametrize("name", TWO_STATEMENTS)
def test_bars_that_are_short_by_right_are_drawn_so(name: str) -> None:
    plain = score_of(TWO_STATEMENTS[name], pickup="quarter")
    both = [plain, apply(plain, ("upper octave first",))]
    for score, ink in zip(both, engravings(both), strict=True):
        assert ink_faults(score, ink, STAND) == []


def test_a_second_statement_counts_its_bars_on() -> None:
    plain = score_of(TWO_STATEMENTS["full"], pickup="quarter")
    twice = apply(plain, ("upper octave first",))
    numbers = [place.number for place in bar_places(twice.line, twice.meter)]
    assert numbers == [0, 1, 2, 3, 4, 5, 6, 6, 7, 8, 9, 10, 11, 12]
    (ink,) = engravings([twice])
    # The second statement begins the third line; each line but the first has a number.
    assert [len(staff.heads) for staff in systems(read_ink(ink.pdf), 1)][:2] == [7, 13]


def test_a_line_that_would_leave_its_paper_is_broken_again(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(breaks, "CROWDED", 0.2)
    monkeypatch.setattr(breaks, "_LINE", 9.0)
    monkeypatch.setattr(breaks, "_TIGHT", 0.0)
    (case, *_) = cases("eighth", 1, ())
    assert len(breaks.lines(case.score, STAND.room).ends) == 0
    (ink,) = engravings([case.score])
    assert ink_faults(case.score, ink, STAND) == []


def test_music_that_no_line_holds_is_a_failure_with_its_name() -> None:
    graces = (Pitch.parse("C5"), Pitch.parse("D5")) * 40
    note = Event(Pitch.parse("E5"), Value(Fraction(1)), graces=graces)
    plain = score_of("w D5")
    score = replace(plain, lines=(Staff((Bar((note,), end="|."),)),))
    (made,) = here().engrave([Piece("the one", score)])
    assert isinstance(made, Failure)
    assert made.name == "the one"
    assert "wider than the paper" in made.said


@pytest.mark.exhaustive
def test_words_of_tempo_and_repeats_stay_on_the_paper() -> None:
    bars = " | ".join(["q D5 E5 F#5 G5", "A5 G5 F#5 E5"] * 4)
    slower = "q D5 E5 F#5 ritardando( dotted quarter = 20 to 25 e E5 D5 )"
    for music in (f"{bars} | {slower}", f"{bars} | w D5 fine | E5 | |: w D5 :| 16 times da-capo |"):
        score = score_of(music)
        for layout in (STAND, PageFormat(staff=12).layout, PHONE):
            (made,) = engravings([score], layout)
            left, right = (edge * 25.4 / 72 for edge in read_ink(made.pdf).edges)
            assert left > MARGIN - 0.5 and right < layout.width + MARGIN + 0.5


def test_words_stay_on_the_paper() -> None:
    long = "play this very softly and without hurry, as if nobody were in the room at all"
    wide = "W" * 80
    score = score_of(f'w D5 | E5 | F#5 | h D5 E5 above "{long}" below "{wide}"')
    for layout in (STAND, PageFormat(staff=12).layout, PHONE):
        (ink,) = engravings([score], layout)
        assert ink_faults(score, ink, layout) == []


@pytest.mark.parametrize(
    "second",
    [
        "music second: e D4 E4 F#4 G4 A4 G4 F#4 E4 | q D#4 E4 h F#4 , | w C#4 | q D4 E4 F#4 G4 | w A4 | w D4",
        "second: canon at the octave below after 2 bars",
        "second: pedal on D4, tied",
    ],
    ids=["written", "canon", "pedal"],
)
def test_both_staves_of_a_duet_lie_within_the_paper_with_every_bar_line(second: str) -> None:
    music = "w D5 | h E5 p q F#5 G5 , | w A5 | q G5 F5 E5 D#5 | h E5 F#5 | w D5"
    text = f"title: T\nhome: D5 in D major\nmusic: {music}\n{second}\n"
    exercise = read("t.warmup", text.encode()).exercise
    assert exercise is not None
    found = settings_of(exercise, FLUTE)
    scores = [found[0].score(), found[4].score()]
    for layout in (STAND, PHONE):
        for score, ink in zip(scores, engravings(scores, layout), strict=True):
            assert ink_faults(score, ink, layout) == []
            staves = read_ink(ink.pdf, 2).staves
            parts = [staves[::2], staves[1::2]]
            assert [len(staff.bars) for staff in parts[0]] == [len(staff.bars) for staff in parts[1]]
            for line, drawn in zip(score.lines, parts, strict=True):
                assert sum(len(staff.heads) for staff in drawn) == len(list(line.notes()))
            # The page's mark goes along the first part.
            assert len(ink.drawing.notes) == len(list(score.line.notes()))


@pytest.mark.exhaustive
def test_chord_names_stay_on_the_paper_in_every_key() -> None:
    names = "Dmaj7/F# Em7b5/Bb A7sus4/E Dmaj7/A"
    text = f"title: T\nhome: D5 in D major\nmusic: {' | '.join(['q D5 E5 F#5 G5'] * 5)} | w D5\n"
    exercise = read("t.warmup", f"{text}chords: {f'{names} | ' * 5}Dm7b5\n".encode()).exercise
    assert exercise is not None
    scores = [setting.score() for setting in settings_of(exercise, FLUTE)[::3]]
    for layout in (STAND, PHONE):
        for score, ink in zip(scores, engravings(scores, layout), strict=True):
            assert ink_faults(score, ink, layout) == []
