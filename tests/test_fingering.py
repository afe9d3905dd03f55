"""Fingerings: the tables, the words for keys, charts over notes in words, and what `check` says.

test_fingering_charts.py has their ink.
"""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest

from stavewright.book.chart_faults import chart_faults
from stavewright.book.instruments_file import read_own
from stavewright.engrave.fingering_charts import chart_sign, chart_width
from stavewright.engrave.notation import notation
from stavewright.export.musicxml import WorkInfo, musicxml
from stavewright.language.format import formatted
from stavewright.language.read import read
from stavewright.language.write import write
from stavewright.music.description import describe_score
from stavewright.music.pitch import Pitch
from stavewright.music.score import Score
from stavewright.music.settings.transpositions import Setting, settings_of
from stavewright.music.winds.fingering import Fingering, Kind, read_fingering
from stavewright.music.winds.fingering_tables import FAMILIES, Fingerings, fingerings
from stavewright.music.winds.instruments import INSTRUMENTS
from stavewright.variations import apply

TABLES = {name: fingerings(name) for name in FAMILIES if fingerings(name).usual}
SIGNS = Path(__file__).parent.parent / "docs" / "signs.md"


def text_of(music: str, **fields: str) -> bytes:
    rows = {"title": "T", "home": "D5 in D major", "travel": "twelve keys", **fields, "music": music}
    return "".join(f"{name}: {value}\n" for name, value in rows.items()).encode()


def settings(music: str, instrument: str = "flute", **fields: str) -> tuple[Setting, ...]:
    reading = read("t.warmup", text_of(music, **fields))
    assert reading.exercise is not None, reading.faults
    return settings_of(reading.exercise, INSTRUMENTS[instrument])


def score_of(music: str, instrument: str = "flute", **fields: str) -> Score:
    return settings(music, instrument, **fields)[0].score()


def faults(music: str, *instruments: str, **fields: str) -> list[str]:
    reading = read("t.warmup", text_of(music, **fields))
    assert reading.exercise is not None, reading.faults
    found = chart_faults(reading, [INSTRUMENTS[name] for name in instruments])
    return [str(fault).splitlines()[0].removeprefix("t.warmup:") for fault in found]


# -- the tables -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", TABLES)
def test_a_table_has_a_source_and_no_gap(name: str) -> None:
    table = TABLES[name]
    assert table.source and table.checked
    assert table.lowest and table.highest
    assert sorted(table.usual) == list(range(table.lowest.midi, table.highest.midi + 1))


@pytest.mark.parametrize("name", TABLES)
def test_the_documentation_states_the_range_of_each_table(name: str) -> None:
    table = TABLES[name]
    said = re.findall(
        r"^\| ([a-z ,-]+) \| (\S+) to (\S+) \|", SIGNS.read_text(encoding="utf-8"), re.MULTILINE
    )
    stated = {each.strip(): ends for names, *ends in said for each in names.split(",")}
    assert stated[name] == [str(table.lowest), str(table.highest)]


@pytest.mark.parametrize(
    "slug",
    [
        slug
        for slug, each in INSTRUMENTS.items()
        if each.fingerings in TABLES and TABLES[each.fingerings].mechanism.drawn
    ],
)
def test_no_two_notes_of_a_register_share_their_keys(slug: str) -> None:
    instrument = INSTRUMENTS[slug]
    for register in instrument.registers:
        found: dict[Fingering, int] = {}
        for midi in range(register.low.midi, register.high.midi + 1):
            if keys := TABLES[instrument.fingerings].usual.get(midi):
                assert keys not in found, (midi, found)
                found[keys] = midi


def frequency(table: Fingerings, first: Pitch, midi: int) -> float:
    """How far the nearest partial of the tube that a fingering makes lies from a note, in semitones."""
    longer = {"1": 2, "2": 1, "3": 3}
    keys = table.usual[midi].touches
    slide = table.mechanism.kind is Kind.SLIDE
    down = int(keys[0].key) - 1 if slide else sum(longer[touch.key] for touch in keys)
    partials = [first.midi - down + 12 * math.log2(number) for number in (2, 3, 4, 5, 6, 8)]
    return min(abs(midi - each) for each in partials)


@pytest.mark.parametrize(("name", "first"), [("trumpet", "C3"), ("trombone", "Bb1"), ("euphonium", "Bb1")])
def test_brass_sounds_a_partial_of_the_tube_that_it_makes(name: str, first: str) -> None:
    table = TABLES[name]
    for midi in table.usual:
        assert frequency(table, Pitch.parse(first), midi) < 0.15
    for midi in list(table.usual)[1:]:
        assert table.usual[midi] != table.usual[midi - 1], midi


@pytest.mark.parametrize(
    ("name", "note", "keys"),
    [
        ("flute", "C5", "left 1, right E flat"),
        ("flute", "D5", "left thumb 2 3, right 1 2 3"),
        ("flute", "F#6", "left thumb 1 3, right 3 E flat"),
        ("piccolo", "D5", "left thumb 2 3, right 1 2 3"),
        ("clarinet", "Bb4", "left register A"),
        ("clarinet", "B4", "left thumb register 1 2 3, right 1 2 3 E"),
        ("clarinet", "C6", "left thumb register"),
        ("saxophone", "C#6", "left octave"),
        ("saxophone", "D5", "left octave 1 2 3, right 1 2 3"),
        ("trumpet", "D4", "valves 1 3"),
        ("trumpet", "C5", "open"),
        ("trombone", "B2", "position 7"),
        ("euphonium", "E2", "valves 1 2 3"),
    ],
)
def test_notes_that_players_know(name: str, note: str, keys: str) -> None:
    found = fingerings(name).of(Pitch.parse(note))
    assert str(found) == keys


# -- the words for keys ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("flute", "T 1 2 3 | 1 2 3 Eb", "left thumb 1 2 3, right 1 2 3 E flat"),
        ("flute", "left thumb 1 2 3 g sharp; right 1 e flat", "left thumb 1 2 3 G sharp, right 1 E flat"),
        ("flute", "right d sharp trill, left 1", "left 1, right D sharp trill"),
        ("flute", "half 1 2 3", "left half 1 2 3"),
        ("flute", "open", "open"),
        ("saxophone", "octave palm D palm E♭ | side E", "left octave palm D palm E flat, right side E"),
        ("oboe", "first octave half 1 2", "left first octave half 1 2"),
        ("trumpet", "1 3", "valves 1 3"),
        ("trombone", "position 4", "position 4"),
        ("horn", "T 1 2", "valves thumb 1 2"),
    ],
)
def test_keys_are_said_as_players_say_them(name: str, text: str, said: str) -> None:
    assert str(read_fingering(text, fingerings(name).mechanism)) == said


@pytest.mark.parametrize(
    ("name", "text", "problem"),
    [
        ("flute", "1 2 4", "the left hand has no key '4'; it has 1, 2, 3, thumb, B-flat-thumb, G-sharp"),
        ("flute", "1 1", "the left hand has '1' twice"),
        ("saxophone", "half 1", "'1' cannot be half closed"),
        ("trumpet", "1 4", "'1 4' is no valves; write of 1 2 3"),
        ("trombone", "8", "'8' is no position"),
    ],
)
def test_keys_that_an_instrument_has_not_are_refused(name: str, text: str, problem: str) -> None:
    with pytest.raises(ValueError, match=re.escape(problem)):
        read_fingering(text, fingerings(name).mechanism)


# -- charts over notes ----------------------------------------------------------------------------------


def test_each_key_has_the_fingering_of_the_note_that_is_printed() -> None:
    for setting in settings("w D5 fingering-chart"):
        score = setting.score()
        (event,) = score.line.events()
        assert event.pitch is not None
        known = fingerings("flute").of(event.pitch)
        assert known is not None
        assert f"fingering {known}" in describe_score(score)


def test_each_instrument_of_a_book_has_its_own() -> None:
    found = {slug: describe_score(score_of("w D5 fingering-chart", slug)) for slug in ("flute", "trumpet")}
    assert "left thumb 2 3, right 1 2 3" in found["flute"]
    assert "valves 1." in found["trumpet"]


def test_in_concert_pitch_the_chart_is_that_of_the_note_on_the_page() -> None:
    exercise = read("t.warmup", text_of("w D5 fingering-chart")).exercise
    assert exercise is not None
    clarinet = replace(INSTRUMENTS["clarinet-b-flat"], concert=True)
    said = describe_score(settings_of(exercise, clarinet)[0].score())
    assert "E5 whole fingering left thumb register 1 2 3, right 1 2." in said


def test_keys_of_the_author_hold_for_their_pitch_and_in_their_place() -> None:
    first, second, *_ = settings('w D5 fingering-chart "thumb 1"')
    assert "left thumb 1" in describe_score(first.score())
    assert "fingering" not in describe_score(second.score())
    local = settings('w D5 fingering-chart in high fingering-chart "1"', travel="semitones up from D5 to D6")
    assert "fingering left 1." in describe_score(local[-1].score())
    assert "fingering left thumb 2 3" in describe_score(local[0].score())


def test_a_variation_takes_the_fingering_of_its_own_notes() -> None:
    score = apply(score_of("w E4 fingering-chart | F4", home="E4 in E major"), ("upper octave first",))
    assert describe_score(score).count("fingering left thumb 1 2 3, right 1 2 E flat") == 2
    repeated = apply(score_of("h D5 E5 fingering-chart"), ("tonguing double in sixteenths",))
    assert describe_score(repeated).count("fingering") == 1


def test_a_harmonic_has_the_chart_of_its_fingered_note() -> None:
    score = score_of("h D5 harmonic( D4 ) fingering-chart E5")
    assert str(fingerings("flute").of(Pitch.parse("D4"))) in describe_score(score)


def test_the_engraver_is_told_of_each_key_once() -> None:
    score = score_of('w D5 fingering-chart "half 1 2, right 2 trilled E-flat"')
    assert "#'((cc . (one1h two five)) (lh . ()) (rh . (eesT)))" in notation(score)
    (event,) = score.line.events()
    assert chart_width("flute", event) > 2
    assert chart_sign("", event) == "" and chart_width("", event) == 0


def test_musicxml_says_the_fingering_in_words() -> None:
    root = ET.fromstring(musicxml(score_of("w D5 fingering-chart"), WorkInfo("T"), INSTRUMENTS["flute"]))
    assert [each.text for each in root.iter("fingering")] == ["left thumb 2 3, right 1 2 3"]


def test_the_words_are_formatted_and_written_as_they_are_read() -> None:
    music = 'h D5   fingering-chart E5 in low fingering-chart   "thumb 1" fingering-chart "T 1 2"'
    text = formatted("t.warmup", text_of(music))
    assert isinstance(text, str)
    reading = read("t.warmup", text.encode())
    assert reading.exercise is not None
    again = read("t.warmup", write(reading.exercise).encode()).exercise
    assert again is not None
    plain = [
        [(event.marks, event.chart, event.local) for bar in each.forms[0].bars for event in bar.events]
        for each in (reading.exercise, again)
    ]
    assert plain[0] == plain[1]
    assert plain[0][0] == (("fingering-chart",), "", ())
    assert plain[0][1][1] == "T 1 2"


# -- what `check` says ----------------------------------------------------------------------------------


def test_a_note_without_a_usual_fingering_is_a_fault() -> None:
    (fault,) = faults("w B6 fingering-chart", "flute", travel="semitones up from D5 to E5")
    assert fault == (
        "4:10: no usual fingering of B6, C7 and C#7 is known for the flute; write the keys yourself, as in "
        '`fingering-chart "1 2 | 1"`, or the fingering as text with `fingering`'
    )
    assert faults("w D5 fingering-chart", "flute") == []


def test_an_instrument_without_fingerings_is_a_fault() -> None:
    found = faults("w D5 fingering-chart", "flute", "english-horn", "oboe")
    assert found[0] == (
        "4:10: no fingerings are known for the English horn; write the fingering as text with `fingering`"
    )
    assert "no usual fingering of" in found[1] and "the oboe" in found[1]
    assert len(found) == 2


def test_keys_that_an_instrument_of_the_book_has_not_are_a_fault() -> None:
    (fault,) = faults('w D5 fingering-chart "thumb 1 G-sharp | C"', "flute", "trumpet")
    assert "(trumpet in B flat)" in fault and "each instrument has its own" in fault
    assert faults('w D5 in high fingering-chart "palm-D"', "flute") != []


def test_an_instrument_of_the_studio_names_whose_fingerings_it_has() -> None:
    head = b'[wooden]\nname = "Wooden flute"\nlike = "flute"\n'
    own, wrong = read_own(head, INSTRUMENTS)
    assert not wrong and own["wooden"].fingerings == ""
    own, wrong = read_own(head + b'fingerings = "flute"\n', INSTRUMENTS)
    assert not wrong and own["wooden"].fingerings == "flute"
    _, wrong = read_own(head + b'fingerings = "floot"\n', INSTRUMENTS)
    assert [str(fault).splitlines()[0] for fault in wrong] == [
        "instruments.toml:4:1: wooden: no fingerings are known as 'floot'; did you mean 'flute'?"
    ]
