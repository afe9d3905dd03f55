"""Accidentals and their reminders: the rules one by one, and what the engraver, which knows none, draws.

The rules are those at the top of builder/music/accidentals.py.
"""

from __future__ import annotations

import re
import subprocess
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from random import Random

import pytest
from accidentals_by_music21 import CLASSES, SETTINGS, compared, spread
from made_scores import made_score

from stavewright.book.read import open_book
from stavewright.engrave.notation import notation
from stavewright.engrave.piece import STAND, Layout, Piece
from stavewright.engrave.processes.finding import find_engraver
from stavewright.export.musicxml import WorkInfo, musicxml
from stavewright.language.faults import BookFaults
from stavewright.language.read import read
from stavewright.music.accidentals import COURTESIES, COURTESY, NEEDED, accidentals
from stavewright.music.score import Score
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import FLUTE


def score(music: str, home: str = "D5 in D major", fields: str = "") -> Score:
    """The score of a few words of music in its home key."""
    reading = read("t.warmup", f"title: T\nhome: {home}\n{fields}music:\n  {music}\n".encode())
    assert reading.exercise is not None, reading.faults
    return settings_of(reading.exercise, FLUTE)[0].score()


def signs(music: str, home: str = "D5 in D major", ends: Sequence[tuple[int, int]] = ()) -> str:
    """The signs of each note in order, bars apart: `n` needed, `c` courtesy, `.` none; grace notes first."""
    found = score(music, home)
    words = {NEEDED: "n", COURTESY: "c", "": "."}
    return " ".join(
        "".join(words[word] for event in bar for word in event)
        for bar in accidentals(found.line, found.key, line_ends=ends)
    )


@pytest.mark.parametrize(
    ("music", "home", "expected"),
    [
        # The same bar, another octave: D natural, then the D flat of the signature above it.
        ("h D5 Db6 | h Db5 Db6", "Db5 in Db major", "nc c."),
        ("q F#5 Fn5 F4 F#5", "D5 in D major", ".nnn"),
        # The next bar, on the same line or space; the bar after that no more, and not twice in a bar.
        ("h G#5 A5 | q G5 A5 G5 A5 | w G5", "D5 in D major", "n. c... ."),
        ("h G#5 A5 | w A5 | w G5", "D5 in D major", "n. . ."),
        # Cancelled in its own bar, it is not cancelled again.
        ("h G#5 Gn5 | w G5", "D5 in D major", "nn ."),
        # The next bar, another octave; then its own octave again, which only the first bar had altered.
        ("w G#4 | h G5 G4 | w G5", "D5 in D major", "n cc ."),
        ("w G#4 | h G4 G5 | w G5", "D5 in D major", "n c. ."),
        # A tie over the bar line: the tied note bare, the same note again with its sign, then a reminder.
        ("w G#5 tie | h G#5 G#5 | w G5", "D5 in D major", "n .n c"),
        ("w G#5 tie | h G#5 G5", "D5 in D major", "n .n"),
        ("w G#5 tie | h G#5 G4", "D5 in D major", "n .c"),
        # What repeats as it was needs nothing more; a signature's own notes neither.
        ("h F#5 G5 | h F#5 G5", "D5 in D major", ".. .."),
        # Grace notes alter and are reminded.
        ("grace( G#5 ) w A5 | grace( G5 ) w A5", "D5 in D major", "n. c."),
        ("grace( G#5 ) h A5 G4", "D5 in D major", "n.c"),
        # A second ending follows the bar before the first ending as well.
        ("|: w G#5 | first-time( w A5 :| ) second-time( w G5 )", "D5 in D major", "n . c"),
    ],
)
def test_the_rules_one_by_one(music: str, home: str, expected: str) -> None:
    assert signs(music, home) == expected


def test_a_line_that_ends_within_a_bar_restates_what_is_in_force() -> None:
    music = "h G#5 G#5 | w A5"
    assert signs(music) == "n. ."
    assert signs(music, ends=[(0, 0)]) == "nc ."
    assert signs("h F#5 F#5", ends=[(0, 0)]) == ".."
    assert signs("h G#5 tie G#5", ends=[(0, 0)]) == "n."


def test_small_staves_have_none() -> None:
    found = score("h D5 Dn6", fields="drone: D4\n")
    line = replace(found.line, small=True)
    odd = score("w G#5 | w G5").line
    assert COURTESY not in str(accidentals(line, found.key))
    assert COURTESY in str(accidentals(odd, found.key))
    assert COURTESY not in str(accidentals(replace(odd, small=True), found.key))


# -- the engraver and the files ---------------------------------------------------------------------------

TELL = r"""
\paper { page-post-process = ##f }
#(define ((tell kind) grob)
   (ly:accidental-interface::remove-tied grob)
   (if (grob::is-live? grob)
       (format (current-error-port) "drawn ~a ~a ~a\n" kind
         (ly:moment-main (grob::when grob)) (ly:moment-grace (grob::when grob)))))
\layout { line-width = 5000\mm \context { \Score
  \override Accidental.after-line-breaking = #(tell "plain")
  \override AccidentalCautionary.after-line-breaking = #(tell "brackets")
} }
"""


def drawn(found: Score, folder: Path, layout: Layout | None = STAND) -> list[tuple[str, Fraction, bool]]:
    """What LilyPond draws: kind, moment, and whether before a grace note, in order."""
    text = folder / "piece.ly"
    text.write_text(f"{STAND.head}{TELL}{notation(found, layout)}", encoding="utf-8")
    ran = subprocess.run(
        [find_engraver().path, "-s", "-o", str(folder / "piece"), str(text)],
        capture_output=True,
        text=True,
        check=True,
    )
    rows = re.findall(r"drawn (\w+) (\S+) (\S+)", ran.stderr)
    return sorted((kind, Fraction(at), grace != "0") for kind, at, grace in rows)


def told(found: Score) -> list[tuple[str, Fraction, bool]]:
    """What the rules say, in the same shape."""
    rows = []
    now = Fraction(0)
    words = accidentals(found.line, found.key, found.courtesy != "none")
    for bar, in_bar in zip(found.line.bars, words, strict=True):
        for event, in_event in zip(bar.events, in_bar, strict=True):
            for place, word in enumerate(in_event):
                if word:
                    kind = "brackets" if word == COURTESY and found.courtesy == "brackets" else "plain"
                    rows.append((kind, now, place < len(event.graces)))
            now += event.length
    return sorted(rows)


@pytest.mark.parametrize("courtesy", ["plain", "brackets", "none"])
def test_the_engraver_draws_what_the_rules_say(courtesy: str, tmp_path: Path) -> None:
    """On one endless line, where the engraver restates nothing of its own at a line's beginning."""
    music = (
        "h G#5 A5 | q G5 Gn4 G#4 G5 | w D#5 tie | h D#5 D5 | q D4 D#4 grace( C5 ) Cn5 C#6 | "
        "grace( C#5 D5 ) h. C5 q Bb4 | h B5 B4 | w F##5 tie | q F##5 F#5 F4 F##5 | w F#5"
    )
    found = replace(score(music), courtesy=courtesy)
    assert drawn(found, tmp_path, layout=None) == told(found)
    assert ("brackets" in str(told(found))) == (courtesy == "brackets")


@pytest.mark.exhaustive
def test_the_engraver_draws_what_the_rules_say_of_made_scores(tmp_path: Path) -> None:
    """Random music, with its ties, tuplets and grace notes, on one line each."""
    for seed in range(4):
        found = replace(made_score(Random(seed)), courtesy="brackets")
        found = replace(found, lines=found.lines[:1])
        assert drawn(found, tmp_path, layout=None) == told(found), seed


def test_a_file_says_what_the_page_says() -> None:
    found = score("h G#5 A5 | h G5 G4 | grace( G#5 ) w A5 | w G5")
    for courtesy, attributes in (
        ("plain", {"cautionary": "yes"}),
        ("brackets", {"cautionary": "yes", "parentheses": "yes"}),
        ("none", None),
    ):
        root = ET.fromstring(musicxml(replace(found, courtesy=courtesy), WorkInfo("T"), FLUTE))
        rows = [sign.attrib for sign in root.iter("accidental")]
        courtesies = [row for row in rows if row]
        assert len(rows) - len(courtesies) == 2
        assert courtesies == ([] if attributes is None else [attributes] * 2)


def test_how_they_are_printed_is_in_the_key_of_the_ink() -> None:
    found = score("h G#5 A5 | w G5")
    keys = {Piece("", replace(found, courtesy=way)).key(find_engraver()) for way in COURTESIES}
    assert len(keys) == len(COURTESIES)


def test_the_book_says_how(tmp_path: Path) -> None:
    (tmp_path / "exercises").mkdir()
    (tmp_path / "exercises" / "a.warmup").write_text("title: A\nhome: D5 in D major\nmusic: w D5\n")
    for option, expected in (
        ("a4: 440", "plain"),
        ("courtesy: brackets", "brackets"),
        ("courtesy: none", "none"),
    ):
        (tmp_path / "mkdocs.yml").write_text(f"plugins: [stavewright: {{{option}}}]\n")
        (exercise,) = open_book(tmp_path).exercises
        assert settings_of(exercise, FLUTE)[0].score().courtesy == expected
    (tmp_path / "mkdocs.yml").write_text("plugins: [stavewright: {courtesy: some}]\n")
    with pytest.raises(BookFaults, match="write one of plain, brackets, none"):
        open_book(tmp_path)


@pytest.mark.parametrize("every", [400, pytest.param(100, marks=pytest.mark.exhaustive)])
@pytest.mark.parametrize("name", SETTINGS)
def test_where_music21_differs_a_stated_rule_says_why(name: str, every: int) -> None:
    """Forty melodies in twelve keys, or ten of them; benchmarks/accidentals.py has five hundred."""
    total, unexplained = compared(spread(every), SETTINGS[name])
    assert unexplained == []
    part = 100 / every
    assert total["notes"] > 40_000 * part and total["needed"] > 400 * part and total["courtesy"] > 50 * part
    assert sum(total[reason] for reason in CLASSES) < 0.1 * (total["needed"] + total["courtesy"])
