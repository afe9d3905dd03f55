"""Notes by the names of a country: the same music in every naming, and help where a name is of another."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from test_language_write import SIGNS as MARKS
from test_language_write import bars

from stavewright.book.config import Config
from stavewright.book.options import naming_in, read_options
from stavewright.book.read import open_book
from stavewright.cli.main import main
from stavewright.cli.new import _STARTER
from stavewright.cli.selectors import WrongUse, key_wish
from stavewright.editing.checking import BookWords, faults_in, words_of
from stavewright.editing.help import choices_at, meaning_at
from stavewright.editing.places import PITCH
from stavewright.engrave.processes.finding import look_at_engravers
from stavewright.language.faults import BookFaults
from stavewright.language.format import formatted
from stavewright.language.namings import ENGLISH, NAMINGS, Naming
from stavewright.language.notes.figure_words import FIGURE_WORDS
from stavewright.language.read import Reading, read
from stavewright.language.selecting.read_selection import read_selection
from stavewright.language.selecting.selection import Known, KnownExercise, KnownKey
from stavewright.language.words import WORDS
from stavewright.language.write import write
from stavewright.music.event import Place
from stavewright.music.exercise import Exercise
from stavewright.music.figures import FIGURES
from stavewright.music.keys import KEY_SLUGS, MODES, Key, rank
from stavewright.music.pitch import Pitch
from stavewright.music.score import each_event
from stavewright.music.winds.instruments import INSTRUMENTS
from stavewright.translation.note_names import NAMES
from stavewright.views.language_page import example_text

OTHERS = [naming for naming in NAMINGS.values() if naming is not ENGLISH]
CODES = {"german": "de", "french": "fr", "italian": "it", "spanish": "es", "dutch": "nl"}
LILYPOND = {
    "german": "deutsch",
    "french": "français",
    "italian": "italiano",
    "spanish": "español",
    "dutch": "nederlands",
}
"""Each naming by what LilyPond calls the same language."""

_ALTERS = {"DOUBLE-FLAT": -2, "FLAT": -1, "NATURAL": 0, "SHARP": 1, "DOUBLE-SHARP": 2}
every_naming = pytest.mark.parametrize("naming", OTHERS, ids=lambda naming: naming.name)


def reading(naming: Naming, music: str, **fields: str) -> Reading:
    """A small exercise by its music and its other fields."""
    usual = {"title": "Small", "home": f"{naming.retold('D5 in D major')}"}
    rows = [f"{name}: {said}" for name, said in {**usual, **fields}.items()]
    text = "\n".join([*rows, "music:", f"  {music}", ""])
    return read("small.warmup", text.encode(), naming=naming)


def exercise(naming: Naming, music: str, **fields: str) -> Exercise:
    """The same, read without a fault and without the places of its words."""
    found = reading(naming, music, **fields)
    assert found.exercise is not None, found.faults
    return without_places(found.exercise)


def without_places(found: Exercise) -> Exercise:
    def strip(each: Any) -> Any:
        return replace(each, place=Place(1, 1))

    forms = tuple(replace(form, bars=each_event(form.bars, strip), made=()) for form in found.forms)
    wanted = tuple(map(strip, found.wanted))
    return replace(found, forms=forms, wanted=wanted, travel_at=None)


def pitches(found: Exercise) -> list[str]:
    return [str(event.pitch) for form in found.forms for bar in form.bars for event in bar.events]


def faults(naming: Naming, music: str, **fields: str) -> list[str]:
    return [
        f"{each.line}:{each.column}: {each.what}; {each.mend}"
        for each in reading(naming, music, **fields).faults
    ]


# -- the names --------------------------------------------------------------------------------------------


def lilypond_names() -> dict[str, dict[str, tuple[int, int]]]:
    """The engraver's own table of note names: by language, each name with its letter and alteration."""
    for engraver in look_at_engravers():
        for table in (
            Path(engraver.path).resolve().parents[1].glob("share/lilypond/*/scm/lily/define-note-names.scm")
        ):
            found: dict[str, dict[str, tuple[int, int]]] = {}
            for row in table.read_text(encoding="utf-8").split("\n"):
                if begins := re.match(r"\s+\((\S+) \. \($", row):
                    found[begins[1]] = {}
                note = re.match(r"\s+\((\S+) \. ,\(ly:make-pitch -1 (\d) ([A-Z-]+)\)\)", row)
                if note and note[3] in _ALTERS:
                    list(found.values())[-1][note[1]] = int(note[2]), _ALTERS[note[3]]
            return found
    pytest.skip("the engraver's table of note names is not installed")


@pytest.mark.slow
@every_naming
def test_every_name_of_the_engraver_s_table_is_read_as_the_same_note(naming: Naming) -> None:
    table = lilypond_names()[LILYPOND[naming.name]]
    assert len(table) >= 35
    for name, (letter, alter) in table.items():
        # LilyPond writes German and Dutch notes small; in our music a small letter may be a note value.
        said = name.capitalize() if naming.name in ("german", "dutch") else name
        (found,) = pitches(exercise(naming, f"w {said}4"))
        assert found == str(Pitch(letter, alter, 4)), name


@pytest.mark.slow
@pytest.mark.parametrize("name", ["german", "dutch"])
def test_every_name_that_is_written_stands_in_the_engraver_s_table(name: str) -> None:
    table = lilypond_names()[LILYPOND[name]]
    for letter, alter in product(range(7), range(-2, 3)):
        assert table[NAMINGS[name].note(letter, alter).lower()] == (letter, alter)


@every_naming
def test_every_note_is_read_as_it_is_written_and_as_it_is_printed(naming: Naming) -> None:
    printed = NAMES[CODES[naming.name]]
    for letter, alter, octave in product(range(7), range(-2, 3), range(10)):
        pitch = Pitch(letter, alter, octave)
        assert naming.parse(naming.pitch(pitch)) == pitch
        assert naming.parse(printed.spoken(str(pitch.spoken))) == pitch
        assert re.fullmatch(PITCH, naming.pitch(pitch)), "the editor's colours know it"


@pytest.mark.parametrize(
    ("name", "said", "meant"),
    [
        ("german", "H4 B4 Fis5 Es4 As4 Heses4 Cisis5", "B4 Bb4 F#5 Eb4 Ab4 Bbb4 C##5"),
        ("dutch", "B4 Bes4 Fis5 Ees4 Es4 Aes4", "B4 Bb4 F#5 Eb4 Eb4 Ab4"),
        ("french", "do4 Ré4 re4 mib4 fa#4 fa♯4 sol♭4 six4", "C4 D4 D4 Eb4 F#4 F#4 Gb4 B##4"),
        ("french", "si bémol 4 si-bemol4 sibémol4 fa dièse 5 Sol diese5", "Bb4 Bb4 Bb4 F#5 G#5"),
        ("italian", "si bemolle 4 fa diesis 5 la doppio bemolle 4", "Bb4 F#5 Abb4"),
        ("spanish", "si bemol 4 fa sostenido 5 doble4", None),
        ("spanish", "fas5 mi doble bemol 4", "F#5 Ebb4"),
    ],
)
def test_the_names_that_players_type_are_read(name: str, said: str, meant: str | None) -> None:
    if meant is None:
        assert faults(NAMINGS[name], f"q {said}")
    else:
        assert pitches(exercise(NAMINGS[name], f"q {said}", meter="free", tempo="q = 60")) == meant.split()


@every_naming
def test_every_key_is_read_in_its_home(naming: Naming) -> None:
    for letter, alter, mode in product(range(7), (-1, 0, 1), MODES):
        key = Key(letter, alter, mode)
        if abs(key.fifths) > 7:
            continue
        home = Pitch(letter, alter, 4)
        found = exercise(naming, "w +P1", home=f"{naming.pitch(home)} in {naming.tonic(key)} {mode}")
        assert (found.home, found.key) == (home, key)


# -- the same music ---------------------------------------------------------------------------------------

NOTES = st.builds(Pitch, st.integers(0, 6), st.integers(-1, 1), st.integers(3, 6))
TONICS = st.builds(Key, st.integers(0, 6), st.integers(-1, 1), st.just("major")).filter(
    lambda key: abs(rank(key)) < 8
)


@given(st.sampled_from(OTHERS), st.lists(bars(), min_size=1, max_size=4))
def test_any_music_is_the_same_in_every_naming(naming: Naming, music: list[str]) -> None:
    first = exercise(ENGLISH, " | ".join(["w D5", *music]))
    text = write(first, naming=naming)
    again = read("small.warmup", text.encode(), naming=naming)
    assert again.exercise is not None, (text, again.faults)
    assert without_places(again.exercise) == first
    assert write(without_places(again.exercise), naming=naming) == text


@given(
    st.sampled_from(OTHERS),
    TONICS,
    st.lists(st.tuples(NOTES, st.sampled_from(MARKS)), min_size=4, max_size=8),
    st.data(),
)
def test_every_field_with_notes_is_the_same_in_every_naming(
    naming: Naming, key: Key, notes: list[tuple[Pitch, str]], data: st.DataObject
) -> None:
    """The home, a drone, chords, a held second part, keys, spelling, grace notes, words in one key."""
    other = data.draw(TONICS)
    words = f'in {other.tonic.replace(" ", "-")} below "long"'
    music = " ".join(f"grace( {pitch} ) q {pitch} {mark}" for pitch, mark in notes[:4])
    root, bass = (ENGLISH.note(each.letter, each.alter) for each in (key, other))
    sequence = data.draw(st.sampled_from(["keys", "travel"]))
    english = exercise(
        ENGLISH,
        f"{music} {words}",
        home=f"{notes[0][0]} in {key.name}",
        drone=str(notes[1][0]),
        chords=f"{root}m7 {bass}sus/{root}",
        second=f"pedal on {notes[2][0]}",
        spelling=str(key.name),
        **{sequence: str(other.tonic) if sequence == "keys" else "semitones down from D6 to Bb4, then up"},
    )
    text = write(english, naming=naming)
    found = read("small.warmup", text.encode(), naming=naming)
    assert found.exercise is not None, (text, found.faults)
    assert without_places(found.exercise) == english


@every_naming
def test_the_exercise_to_start_from_and_the_examples_are_valid(naming: Naming) -> None:
    text = naming.retold(_STARTER).format(title="Start")
    found = read("start.warmup", text.encode(), naming=naming)
    english = read("start.warmup", _STARTER.format(title="Start").encode())
    assert (
        found.exercise
        and english.exercise
        and without_places(found.exercise) == without_places(english.exercise)
    )


@every_naming
def test_every_example_of_the_language_page_is_the_same_in_every_naming(naming: Naming) -> None:
    for word in (*WORDS, *FIGURES.values(), *FIGURE_WORDS.values()):
        text = example_text(word.example)
        english = read("example.warmup", text.encode()).exercise
        told = read("example.warmup", naming.retold(text).encode(), naming=naming)
        assert told.exercise and english, (word.name, told.faults)
        assert without_places(told.exercise) == without_places(english)


# -- where a naming comes from ----------------------------------------------------------------------------


def test_a_field_of_the_exercise_goes_before_the_book() -> None:
    german, english = NAMINGS["german"], ENGLISH
    assert pitches(exercise(german, "w B4")) == ["Bb4"]
    assert pitches(exercise(german, "w B4", notes="english")) == ["B4"]
    assert pitches(exercise(english, "w B4", notes="german")) == ["Bb4"]
    assert faults(english, "w B4", notes="germn") == [
        "3:7: 'notes' cannot be 'germn'; did you mean 'german'?"
    ]
    (said,) = faults(english, "w B4", notes="D5 E5")
    assert said.startswith("3:7: 'notes' cannot be 'D5 E5'; write the notes in the field `music`")


TEXT = """\
title: Glocke
rights: free
home: {home}
keys: {keys}
music:
  {music}
"""


def make_book(folder: Path, notes: str, **texts: str) -> Path:
    options = f"    notes: {notes}\n" if notes else ""
    (folder / "mkdocs.yml").write_text(
        f"site_name: B\nplugins:\n- stavewright:\n    exercises: x\n{options}", "utf-8"
    )
    (folder / "x").mkdir()
    (folder / "x" / "bell.warmup").write_text(TEXT.format(**texts), "utf-8")
    return folder


def test_a_book_names_notes_for_its_exercises(tmp_path: Path) -> None:
    folder = make_book(tmp_path, "german", home="B4 in B major", keys="B, H, Es", music="w H4 | w B4")
    book = open_book(folder)
    (found,) = book.exercises
    assert book.naming is NAMINGS["german"]
    assert (str(found.home), str(found.key.name)) == ("Bb4", "B flat major")
    assert [str(key.tonic) for key in found.travel.keys] == ["B flat", "B", "E flat"]
    assert pitches(found) == ["B4", "Bb4"]
    assert words_of(folder).naming is NAMINGS["german"]
    path = folder / "x" / "bell.warmup"
    assert not faults_in("bell.warmup", path.read_text("utf-8"), words_of(folder))
    assert faults_in("bell.warmup", path.read_text("utf-8"), BookWords())


def test_a_book_s_naming_must_be_one(tmp_path: Path) -> None:
    folder = make_book(tmp_path, "germann", home="B4 in B major", keys="B", music="w B4")
    with pytest.raises(BookFaults, match="notes: 'germann' is no naming of notes; did you mean 'german'"):
        open_book(folder)
    assert naming_in(Config()) is ENGLISH
    options, problems = read_options({"notes": "french", "tops": {"flute": "la6"}}, INSTRUMENTS)
    assert not problems and options.naming is NAMINGS["french"]
    assert str(options.instruments[0].compass.easy_high) == "A6"
    _, problems = read_options({"notes": "german", "tops": {"flute": "Bb6"}}, INSTRUMENTS)
    assert [each.what for each in problems] == ["tops: flute: 'Bb6' is not a pitch such as C4, Fis5 or B3"]


def test_format_keeps_the_names_as_they_are_written(tmp_path: Path) -> None:
    folder = make_book(
        tmp_path,
        "french",
        home="sib4 in si  bémol  major",
        keys="si bémol, mib",
        music="w   sib4|h fad4 sol bemol 4",
    )
    path = folder / "x" / "bell.warmup"
    assert main(["format", "--book", str(folder)]) == 0
    text = path.read_text("utf-8")
    assert "home: sib4 in si bémol major\n" in text
    assert "  w sib4 | h fad4 sol bemol 4\n" in text
    assert formatted("bell.warmup", path.read_bytes(), NAMINGS["french"]) == text


@pytest.mark.parametrize(
    ("name", "word", "key"),
    [
        ("german", "b", "b-flat"),
        ("german", "H", "b"),
        ("german", "es", "e-flat"),
        ("german", "b-flat", "b-flat"),
        ("french", "si bémol", "b-flat"),
        ("french", "SIB", "b-flat"),
        ("italian", "fa diesis", "f-sharp"),
        ("spanish", "la", "a"),
        ("dutch", "bes", "b-flat"),
        ("dutch", "b", "b"),
        ("english", "b", "b"),
        ("english", "E flat", "e-flat"),
    ],
)
def test_a_key_on_the_command_line_is_named_as_in_the_book(name: str, word: str, key: str) -> None:
    assert key_wish(word, NAMINGS[name]) == key
    with pytest.raises(WrongUse):
        key_wish("x", NAMINGS[name])


def test_a_selection_names_keys_as_the_book_does() -> None:
    keys = {slug: KnownKey(f"{slug} major", ("low",)) for slug in KEY_SLUGS}
    known = Known({"bell": KnownExercise("Bell", ("as written",))}, {"flute": ("low",)}, lambda *_: keys)
    for naming, said in ((NAMINGS["german"], "B, H and es"), (NAMINGS["french"], "si bémol, si, mib")):
        text = f"title: T\nplay: bell in {said}\n"
        found, wrong = read_selection("w.set", text.encode(), known, naming)
        assert not wrong and found
        (item,) = found.handouts[0].content
        assert not isinstance(item, str) and item.keys == ("b-flat", "b", "e-flat")


# -- faults -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "music", "said"),
    [
        ("german", "w Bb4", "write B4, which is B flat here, or `notes: english` in this file"),
        ("german", "w F#5", "that is an English name: write Fis5, or `notes: english` in this file"),
        ("german", "w do4", "that is a French name: write C4, or `notes: french` in this file"),
        ("english", "w H4", "that is a German name: write B4, or `notes: german` in this file"),
        ("english", "w Bes4", "that is a Dutch name: write Bb4, or `notes: dutch` in this file"),
        ("dutch", "w H4", "that is a German name: write B4, or `notes: german` in this file"),
        ("french", "w D5", "that is an English name: write ré5, or `notes: english` in this file"),
        ("german", "w fis5", "did you mean 'Fis5'?"),
        ("german", "w Fis", "add its octave: `Fis4` or `Fis5`"),
        ("french", "w do", "add its octave: `do4` or `do5`"),
        ("german", "wB4", "put a space between them: `w B4`"),
        ("german", "h B4 tie H4", "the tie joins B4 to H4"),
        ("german", "w Fis10", "octaves go from 0 to 9, and middle C is C4"),
        ("french", "w Zz", "a pitch is written like do4, fa#5 or sib3"),
        ("german", 'w D5 in B-flat above "x"', "write B, which is B flat here"),
    ],
)
def test_a_fault_names_notes_as_the_book_does(name: str, music: str, said: str) -> None:
    assert said in "\n".join(faults(NAMINGS[name], music))


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"home": "Bb4 in B major"}, "write B4, which is B flat here"),
        ({"home": "B4 in Bb major"}, "write B, which is B flat here"),
        ({"home": "His4 in His major"}, "His major has 12 accidentals; write it in C major"),
        ({"home": ""}, "write it like `home: D5 in D major`"),
        ({"drone": "F#4"}, "write Fis4"),
        ({"keys": "Es, E flat"}, "that is an English name: write Es"),
        ({"keys": "Es, Es"}, "'Es' stands there already, as Es"),
        ({"keys": ""}, "write `keys: C, F, B, Es`"),
        ({"chords": "H7 Bb"}, "write B, which is B flat here"),
        ({"chords": "X"}, "write one such as C, Cm"),
        ({"spelling": "A flat"}, "that is an English name: write As"),
        ({"travel": "semitones up from B5 to H4"}, "B5 to H4 goes down"),
    ],
)
def test_faults_in_fields_name_notes_as_the_book_does(fields: dict[str, str], said: str) -> None:
    assert said in "\n".join(faults(NAMINGS["german"], "w D5", **fields))


def test_names_in_quotes_stay_as_they_are() -> None:
    german = NAMINGS["german"]
    assert german.retold("write `Bb4 in B flat minor`, not 'Bb4'") == "write `B4 in B minor`, not 'Bb4'"
    assert german.retold('h Bb4 above "Bb4"') == 'h B4 above "Bb4"'
    assert german.retold("the page's B4 and the book's") == "the page's H4 and the book's"


# -- the editor -------------------------------------------------------------------------------------------


def test_the_editor_s_examples_name_notes_as_the_text_does() -> None:
    rows = ["title: Bell", "home: ré5 in ré major", "music:", "  trill", ""]
    found = meaning_at(rows, 1, 2, NAMINGS["french"])
    assert found and found.example == "home: ré5 in ré major"
    choices = {each.name: each for each in choices_at(rows, 3, 7, naming=NAMINGS["french"])}
    assert choices["trill"].example == "w ré5 trill"
    fields = {
        each.name: each for each in choices_at([*rows, "notes: german"], 4, 0, naming=NAMINGS["french"])
    }
    assert fields["keys"].example == "keys: C, F, B, Es"
    named = [each.name for each in choices_at(["notes: "], 0, 7)]
    assert named == list(NAMINGS)
    pitch = meaning_at(["music:", "  w Fis5"], 1, 5, NAMINGS["german"])
    assert pitch and "A, H; sharp Cis" in pitch.means and pitch.example == "h D5 Fis5"
