"""A studio's own instruments.toml: what it gives, and what is said of each mistake in it."""

from __future__ import annotations

from pathlib import Path

import pytest

from stavewright.book.addresses import RESERVED
from stavewright.book.instruments_file import read_own
from stavewright.book.read import known_instruments, open_book
from stavewright.language.faults import BookFaults
from stavewright.music.pitch import Interval
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instrument import ABILITIES
from stavewright.music.winds.instruments import FLUTE, INSTRUMENTS

EXERCISE = """\
title: Two notes
rights: written for this test
home: G4 in G major
meter: 4/4
travel: twelve keys, semitones up
music:
  h G4 A4 | w G4
"""

OWN = """\
[flute-b-foot]
name = "Flute with B foot"
like = "flute"
low = "B3"

[alto-recorder]
name = "Alto recorder"
sounds = "as written"
clefs = ["treble"]
low = "F4"
high = "G6"
beginning = "F4 to F5"
developing = "F4 to D6"
registers = ["low F4 to E5", "high F5 to G6"]
source = "the maker's leaflet"

[tenor-recorder-in-b-flat]
name = "Tenor recorder in B flat"
like = "alto-recorder"
sounds = "M9 lower"
"""


def read_text(text: str) -> list[str]:
    found, faults = read_own(text.encode(), INSTRUMENTS)
    assert not (faults and set(found) & {fault.what.split(":")[0] for fault in faults})
    return [str(fault) for fault in faults]


def test_an_instrument_of_its_own() -> None:
    found, faults = read_own(OWN.encode(), INSTRUMENTS)
    assert not faults
    recorder = found["alto-recorder"]
    assert (recorder.name, recorder.sounds, recorder.clefs) == ("Alto recorder", 0, ("treble",))
    assert [str(reach) for reach in recorder.reaches] == ["F4 to F5", "F4 to D6", "F4 to G6"]
    assert [register.name for register in recorder.registers] == ["low", "high"]
    assert str(recorder.compass.easy_high) == "D6"
    assert recorder.sources.levels == "the maker's leaflet"


def test_like_another_it_takes_the_rest_from_there() -> None:
    found, _ = read_own(OWN.encode(), INSTRUMENTS)
    foot = found["flute-b-foot"]
    assert (str(foot.compass.low), foot.compass.high) == ("B3", FLUTE.compass.high)
    assert foot.reaches == FLUTE.reaches
    # The lowest register reaches down to the new note.
    assert [register.name for register in foot.registers] == ["low", "middle", "high"]
    assert foot.register(foot.compass.low) == "low"
    assert foot.sources.high == FLUTE.sources.high
    assert foot.sources.low == "the studio's own file"
    tenor = found["tenor-recorder-in-b-flat"]
    assert tenor.transposition == -Interval.parse("M9")
    assert tenor.compass == found["alto-recorder"].compass


def test_cut_short_it_keeps_no_more_than_it_has() -> None:
    text = '[short-flute]\nname = "Short flute"\nlike = "flute"\nhigh = "C6"\n'
    short = read_own(text.encode(), INSTRUMENTS)[0]["short-flute"]
    assert [str(reach) for reach in short.reaches] == ["D4 to C6", "C4 to C6", "C4 to C6"]
    assert [(r.name, str(r.high)) for r in short.registers] == [("low", "C#5"), ("middle", "C6")]


def test_an_empty_file_adds_nothing() -> None:
    assert read_own(b"# nothing yet\n", INSTRUMENTS) == ({}, [])


ENDS = 'low = "C4"\nhigh = "C6"\n'

MISTAKES = {
    "no such key": (
        f'[a]\nname = "A"\n{ENDS}lo = "C4"\n',
        "5:1: a: unknown 'lo'; did you mean 'low'?",
    ),
    "no name": (
        f"[a]\n{ENDS}",
        '1:1: a: it has no name; add one, as in name = "Alto recorder"',
    ),
    "a name that is a number": (
        f"[a]\nname = 3\n{ENDS}",
        '2:1: a: name is not a text; write it in quotation marks, as in name = "..."',
    ),
    "an empty name": (
        f'[a]\nname = ""\n{ENDS}',
        "2:1: a: name: '' cannot be a name; give it the name a player reads, in 60 letters at most",
    ),
    "no end": (
        '[a]\nname = "A"\nlow = "C4"\n',
        '1:1: a: its high end is missing; add it, as in high = "C4", or name an instrument that it is like',
    ),
    "no pitch": (
        '[a]\nname = "A"\nlow = "H4"\nhigh = "C6"\n',
        "3:1: a: low: 'H4' is not a pitch such as C4, F#5 or Bb3; C4 is middle C",
    ),
    "upside down": (
        '[a]\nname = "A"\nlow = "C6"\nhigh = "C4"\n',
        "3:1: a: it would go from C6 to C4, which is not upward; set low below high",
    ),
    "like nothing": (
        '[a]\nname = "A"\nlike = "flut"\n',
        "3:1: a: unknown instrument 'flut'; did you mean 'flute'?",
    ),
    "sounds nowhere": (
        f'[a]\nname = "A"\n{ENDS}sounds = "down a tone"\n',
        "5:1: a: sounds: 'down a tone' does not say how far and which way; write `as written`, "
        "or as in `M2 lower` or `P8 higher`",
    ),
    "no interval": (
        f'[a]\nname = "A"\n{ENDS}sounds = "P3 lower"\n',
        "5:1: a: sounds: 'P3' does not exist: that interval is major, minor, diminished or "
        "augmented; write `as written`, or as in `M2 lower` or `P8 higher`",
    ),
    "no clef": (
        f'[a]\nname = "A"\n{ENDS}clefs = ["trebble"]\n',
        "5:1: a: unknown clef 'trebble'; there are: treble, alto, tenor, bass",
    ),
    "clefs not in a list": (
        f'[a]\nname = "A"\n{ENDS}clefs = "bass"\n',
        '5:1: a: clefs is not a list of texts; write it as in clefs = ["...", "..."]',
    ),
    "a level beyond it": (
        f'[a]\nname = "A"\n{ENDS}advanced = "C4 to C7"\n',
        "5:1: a: advanced: C4 to C7 is more than the instrument has; stay from C4 to C6, or set "
        "low and high wider",
    ),
    "a level that is no range": (
        f'[a]\nname = "A"\n{ENDS}developing = "C4-C6"\n',
        "5:1: a: developing: 'C4-C6' is not a range such as C4 to A6; write it as in C4 to A6",
    ),
    "a register without a name": (
        f'[a]\nname = "A"\n{ENDS}registers = ["C4 to C6"]\n',
        "5:1: a: registers: 'C4 to C6' is not a register such as low C4 to C#5; write each as "
        "in `low C4 to C#5`",
    ),
    "registers over one another": (
        f'[a]\nname = "A"\n{ENDS}registers = ["low C4 to C5", "high B4 to C6"]\n',
        "5:1: a: the register high begins before low has ended; write them from the lowest up, "
        "none over another",
    ),
    "no address": (
        f'["Böhm"]\nname = "A"\n{ENDS}',
        "1:1: Böhm: 'Böhm' cannot be an address; use small letters, digits and hyphens, as in "
        "[alto-recorder]",
    ),
    "an address of the site": (
        f'[keys]\nname = "A"\n{ENDS}',
        "1:1: keys: the site has this address for something else; name it keys-instrument, say",
    ),
    "outside of an instrument": (
        'low = "C4"\n',
        "1:1: low: this comes before the first instrument; begin one with `[address]` above it",
    ),
    "not TOML": (
        "[a\n",
        "1:3: this is not TOML: Expected ']' at the end of a table declaration; write "
        '`[address]` on a line of its own, then lines such as low = "C4"',
    ),
}


@pytest.mark.parametrize("case", MISTAKES)
def test_each_mistake_is_told_with_its_place_and_its_mending(case: str) -> None:
    text, said = MISTAKES[case]
    assert read_text(text) == [f"instruments.toml:{said}"]


def test_every_mistake_is_told_in_one_go() -> None:
    text = "\n".join(text for text, _ in list(MISTAKES.values())[:1]) + '[b]\nname = ""\nlike = "tub"\n'
    assert len(read_text(text)) == 3


def test_a_file_that_is_not_text() -> None:
    _, faults = read_own(b'[a]\nname = "\xff"\n', INSTRUMENTS)
    said = (
        "instruments.toml:2:1: the file is not UTF-8 text; save it from your editor with the encoding UTF-8"
    )
    assert [str(fault) for fault in faults] == [said]
    _, faults = read_own(b"#" * 300_000, INSTRUMENTS)
    assert str(faults[0]).startswith("instruments.toml:1:1: the file is larger than 256 KB; ")


def book(folder: Path, options: str, own: str = "", exercise: str = EXERCISE) -> Path:
    (folder / "exercises").mkdir()
    (folder / "exercises" / "two-notes.warmup").write_text(exercise, encoding="utf-8")
    config = f"site_name: Test\nplugins:\n  - stavewright:\n{options}"
    (folder / "mkdocs.yml").write_text(config, encoding="utf-8")
    if own:
        (folder / "instruments.toml").write_text(own, encoding="utf-8")
    return folder


def test_a_book_uses_it(tmp_path: Path) -> None:
    found = open_book(book(tmp_path, "      instruments: [flute, alto-recorder]\n", OWN))
    assert [player.name for player in found.instruments] == ["Flute", "Alto recorder"]
    assert all(setting.fits for setting in settings_of(found.exercises[0], found.instruments[1]))
    assert set(known_instruments(tmp_path)[0]) == set(INSTRUMENTS) | {
        "flute-b-foot",
        "alto-recorder",
        "tenor-recorder-in-b-flat",
    }


def test_its_faults_are_told_with_those_of_the_exercises(tmp_path: Path) -> None:
    wrong = EXERCISE.replace("w G4", "h G4")
    folder = book(tmp_path, "      instruments: flute\n", '[a]\nname = "A"\n', wrong)
    with pytest.raises(BookFaults) as raised:
        open_book(folder)
    files = [fault.file for fault in raised.value.faults]
    assert files == ["exercises/two-notes.warmup", "instruments.toml", "instruments.toml"]


PROBLEMS = {
    "      instruments: [flut]\n": "unknown instrument 'flut'; did you mean 'flute'?",
    "      instruments: [flute, flute]\n": "instruments: flute is named twice; name it once",
    "      instruments: 3\n": "instruments: this is not a list; write it as in [flute, clarinet-b-flat]",
    "      level: expert\n": "level: unknown ability 'expert'; write one of beginner, intermediate, advanced",
    "      level: {flut: advanced}\n": "level: unknown instrument 'flut'; did you mean 'flute'?",
    "      level: {flute: advance}\n": "level: unknown ability 'advance'; did you mean 'advanced'?",
    "      level: [advanced]\n": "level: this is not an ability; write one of beginner, intermediate, "
    "advanced, or one for each as in {flute: advanced}",
    "      concert: maybe\n": "concert: 'maybe' is neither yes nor no; write true or false",
    "      tops: A6\n": "tops: this names no instruments; write it as in {flute: A6}",
    "      tops: {flute: H6}\n": "tops: flute: 'H6' is not a pitch such as C4, F#5 or Bb3; "
    "write one as in {flute: A6}",
    "      tops: {flute: C8}\n": "tops: flute: C8 is out of place; choose one above C4, up to D7",
    "      tops: {tub: C4}\n": "tops: unknown instrument 'tub'; did you mean 'tuba'?",
    "      a4: 500\n": "a4: '500' is not a tuning pitch; give hertz from 415 to 466, such as 440",
    "      a4: high\n": "a4: 'high' is not a tuning pitch; give hertz from 415 to 466, such as 440",
}


@pytest.mark.parametrize("options", PROBLEMS)
def test_each_wrong_option_is_told(options: str, tmp_path: Path) -> None:
    with pytest.raises(BookFaults) as raised:
        open_book(book(tmp_path, options))
    (fault,) = raised.value.faults
    assert (fault.file, fault.line) == ("mkdocs.yml", 4)
    assert f"{fault.what}; {fault.mend}" == PROBLEMS[options]


def test_wrong_options_are_told_in_one_go(tmp_path: Path) -> None:
    with pytest.raises(BookFaults) as raised:
        open_book(book(tmp_path, "      instruments: [flut]\n      level: expert\n      a4: 0\n"))
    places = [(fault.file, fault.line, fault.column) for fault in raised.value.faults]
    assert places == [("mkdocs.yml", 4, 21), ("mkdocs.yml", 5, 14), ("mkdocs.yml", 6, 11)]


def test_options_reach_the_instruments(tmp_path: Path) -> None:
    options = (
        "      instruments: [flute, bassoon]\n      level: {flute: advanced}\n      tops: {bassoon: E4}\n"
        "      concert: true\n      a4: 442\n"
    )
    found = open_book(book(tmp_path, options))
    flute, bassoon = found.instruments
    assert (flute.level, bassoon.level) == ("advanced", "developing")
    assert (str(flute.compass.easy_high), str(bassoon.compass.easy_high)) == ("C7", "E4")
    assert flute.concert and bassoon.concert
    assert found.a4 == 442


@pytest.mark.parametrize(("word", "plain"), ABILITIES.items())
def test_the_words_of_teachers_are_abilities(word: str, plain: str, tmp_path: Path) -> None:
    found = open_book(
        book(tmp_path, f"      instruments: [flute, bassoon]\n      level: {{bassoon: {word}}}\n")
    )
    assert [player.level for player in found.instruments] == ["developing", plain]


def test_one_level_for_all(tmp_path: Path) -> None:
    found = open_book(book(tmp_path, "      instruments: [flute, bassoon]\n      level: beginning\n"))
    assert {player.level for player in found.instruments} == {"beginning"}


@pytest.mark.parametrize("address", sorted(RESERVED))
def test_the_project_s_own_instruments_leave_the_site_s_addresses_free(address: str) -> None:
    assert address not in INSTRUMENTS
