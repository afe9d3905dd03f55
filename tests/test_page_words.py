"""Words on the staff, in MIDI and in MusicXML: in the book's language, and an author's own as they are."""

from __future__ import annotations

import re
from io import BytesIO

import pytest
from mido import MidiFile

from stavewright.book.page_words import PLAIN, PageWords
from stavewright.book.pieces import SettingPieces, renditions_of
from stavewright.engrave.notation import notation
from stavewright.engrave.piece import Piece
from stavewright.engrave.processes.lilypond import Engraver
from stavewright.export.downloads import written
from stavewright.language.namings import NAMINGS
from stavewright.language.read import read
from stavewright.music.description import describe_score
from stavewright.music.printed_words import PRINTED
from stavewright.music.score import Score
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.instruments import FLUTE
from stavewright.translation.catalog import LANGUAGES, missing, translation_to

ENGRAVER = Engraver("/none", "2.24.4", True)
HEAD = "title: Mine\nhome: B4 in B major\nkeys: B\ndrone: B4\ntempo: quarter = 60 to 72\n"
PLAYED = f"""{HEAD}chords: B | E7 F#/A# | Bb7 | .
variations: vibrato measured 4, tonguing double ladder 60 to 96 by 12, singing alto held
music:
  |: h B4 D#5 air-tone | ritardando( quarter = 40 h E5 C#5 ) :| 4 times
  optional( h D#5 C#5 ) | w B4 above "my own" |
"""
TWICE = f"""{HEAD}first time: without vibrato
second time: vibrato late
music:
  w B4 | optional( w C#5 ) | w B4
"""
HELD = f"""{HEAD.replace("tempo: quarter = 60 to 72", "meter: free")}music:
  long B4 | C#5
"""


def pieces(text: str, words: PageWords) -> SettingPieces:
    """The exercise in its own key, as written and in every variation."""
    found = read("mine.warmup", text.encode()).exercise
    assert found is not None, text
    setting = settings_of(found, FLUTE)[0]
    return SettingPieces(setting, renditions_of(setting, words))


def printed(text: str, words: PageWords) -> list[str]:
    """Every quoted text that the engraver is given."""
    return [
        said
        for part in pieces(text, words).parts
        if part.score
        for said in re.findall(r'"((?:[^"\\]|\\.)*)"', notation(part.score))
    ]


GERMAN = {
    "Luft",
    "4-mal",
    "kann wegfallen",
    "Bordun",
    "singen",
    "Vibrato: 4 Wellen auf den Schlag",
    "my own; Viertel = 60, 72, 84, 96",
}
FRENCH = {
    "air",
    "4 fois",
    "peut être omis",
    "bourdon",
    "chanter",
    "vibrato : 4 ondes par temps",
    "my own; noire = 60, 72, 84, 96",
}
ENGLISH_WORDS = ("times", "left out", "drone", "sing ", "waves", "quarter", "1st", "marked", "breath")


@pytest.mark.parametrize(("language", "expected"), [("de", GERMAN), ("fr", FRENCH)])
def test_words_on_the_staff_are_in_the_book_s_language(language: str, expected: set[str]) -> None:
    found = printed(PLAYED, PageWords(language))
    assert expected <= set(found)
    assert {"my own", "rit."} <= set(found), "an author's own words stay, and Italian ones"
    assert not [said for said in found if any(word in said for word in ENGLISH_WORDS)]


def test_the_words_of_two_times_are_translated() -> None:
    found = printed(TWICE, PageWords("de"))
    assert "1. Mal senza vibrato, 2. Mal Vibrato wie notiert" in found
    assert "(kann wegfallen)" in found
    assert "1re fois senza vibrato, 2e fois vibrato comme indiqué" in printed(TWICE, PageWords("fr"))


def test_an_english_book_has_the_ink_that_it_had() -> None:
    plain = pieces(PLAYED, PLAIN).parts
    assert all(part.score and not part.score.words.said for part in plain)
    for english, german in zip(plain, pieces(PLAYED, PageWords("de")).parts, strict=True):
        assert english.score and german.score
        keys = {Piece("x", each).key(ENGRAVER) for each in (english.score, german.score)}
        assert len(keys) == 2, "ink in another language is kept apart"


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_word_has_a_translation(language: str) -> None:
    assert not set(missing(language)) & set(PRINTED)
    translation = translation_to(language)
    for word in PRINTED:
        assert re.findall(r"{\w+}", translation.gettext(word)) == re.findall(r"{\w+}", word)


def midi_texts(placed: SettingPieces, number: int, language: str) -> list[str]:
    part = placed.parts[number]
    assert part.score is not None
    data = written("MIDI", placed, part, part.score, translation_to(language))
    return [
        message.name if message.type == "track_name" else message.text
        for track in MidiFile(file=BytesIO(data), charset="utf-8").tracks
        for message in track
        if message.type in ("track_name", "text")
    ]


def xml_words(placed: SettingPieces, number: int, language: str) -> list[str]:
    part = placed.parts[number]
    assert part.score is not None
    data = written("MusicXML", placed, part, part.score, translation_to(language)).decode()
    return re.findall(r"<(?:work-title|words|part-name)[^>]*>([^<]*)", data)


def test_files_have_titles_and_words_in_the_book_s_language() -> None:
    german = pieces(PLAYED, PageWords("de"))
    assert midi_texts(german, 0, "de") == ["Mine in H-Dur", "Flöte", "my own", "Bordun", "Akkorde"]
    assert midi_texts(german, 3, "de")[:2] == ["Mine in H-Dur, singen und spielen, alto gehalten", "Flöte"]
    assert "Stimme" in midi_texts(german, 3, "de")
    words = xml_words(german, 0, "de")
    assert words[:3] == ["Mine in H-Dur", "Flöte", "Bordun"]
    assert {"Luft", "4-mal", "(kann wegfallen)", "my own", "rit."} <= set(words)
    french = pieces(PLAYED, PageWords("fr"))
    assert midi_texts(french, 0, "fr") == ["Mine en si majeur", "Flûte", "my own", "Bourdon", "Accords"]
    held = pieces(HELD, PageWords("fr"))
    assert "notes longues aussi longues que le souffle, de 8 à 12 secondes" in xml_words(held, 0, "fr")
    english = pieces(PLAYED, PLAIN)
    assert midi_texts(english, 0, "en") == ["Mine in B major", "Flute", "my own", "Drone", "Chords"]
    assert "(may be left out)" in xml_words(english, 0, "en")


def score_of(notes: str) -> Score:
    score = pieces(PLAYED, PageWords(notes=notes)).parts[0].score
    assert score is not None
    return score


@pytest.mark.parametrize(
    ("notes", "said", "described"),
    [
        ("english", ["B", "E", "F", "A", "B"], "B; bar 2: E7, F#/A#; bar 3: Bb7"),
        ("german", ["H", "E", "Fis", "Ais", "B"], "H; bar 2: E7, Fis/Ais; bar 3: B7"),
        ("dutch", ["B", "E", "Fis", "Ais", "Bes"], "B; bar 2: E7, Fis/Ais; bar 3: Bes7"),
        ("french", ["Si", "Mi", "Fa", "La", "Si"], "Si; bar 2: Mi7, Fa#/La#; bar 3: Sib7"),
    ],
)
def test_chords_are_printed_by_the_names_that_the_book_gives_to_notes(
    notes: str, said: list[str], described: str
) -> None:
    score = score_of(notes)
    row = next(line for line in notation(score).split("\n") if r"\lyricmode" in line)
    names = {name for naming in NAMINGS.values() for row in naming.written for name in row}
    roots = [each for each in re.findall(r'"([^"]+)"', row) if each in names or each.lower() in names]
    assert roots == said
    assert described in describe_score(score)
