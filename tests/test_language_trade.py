"""The words of musicians: each equal word reads as the language's own, each other one is answered.

The pairs are common practice, no source.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from stavewright.book.read import open_book
from stavewright.language.faults import BookFaults
from stavewright.language.field_words import FIELDS
from stavewright.language.read import read
from stavewright.language.trade_words import EQUAL_FIELDS, EQUAL_WORDS, FIELD_HINTS, WORD_HINTS
from stavewright.language.words import GROUPS, MARKS, SIGNS
from stavewright.music.exercise import Exercise
from stavewright.music.figures import FIGURES
from stavewright.variations import meaning, variations
from stavewright.variations.equal_names import EQUAL_NAMES, NAME_HINTS
from stavewright.views.language_page import with_equals

HEAD = "title: T\nhome: D5 in D major\n"


def faults(text: str) -> list[str]:
    """What is wrong with an exercise, without its place."""
    return [f"{fault.what}; {fault.mend}" for fault in read("t.warmup", text.encode()).faults]


def exercise(text: str) -> Exercise:
    """An exercise that has no fault."""
    found = read("t.warmup", text.encode())
    assert found.exercise is not None, found.faults
    return found.exercise


PAIRS = [
    ("crescendo( h D5 p E5 ) | w D5 f", "louder( h D5 p E5 ) | w D5 f"),
    ("cresc( h D5 p E5 ) | w D5 f", "louder( h D5 p E5 ) | w D5 f"),
    ("diminuendo( h D5 f E5 ) | w D5 p", "softer( h D5 f E5 ) | w D5 p"),
    ("dim( h D5 f E5 ) | w D5 p", "softer( h D5 f E5 ) | w D5 p"),
    ("decrescendo( h D5 f E5 ) | w D5 p", "softer( h D5 f E5 ) | w D5 p"),
    ("decresc( h D5 f E5 ) | w D5 p", "softer( h D5 f E5 ) | w D5 p"),
    ("w D5 hold", "w D5 fermata"),
    ("w D5 pause", "w D5 fermata"),
    ('w D5 syllable "tu"', 'w D5 say "tu"'),
    ("w D5 | metronome( half = 40 ) w E5", "w D5 | tempo( half = 40 ) w E5"),
    ("w D5 | metre( 3/4 ) h. E5", "w D5 | meter( 3/4 ) h. E5"),
    ("arpeggio( q )", "broken-chord( q )"),
    ("h D5 gliss E5", "h D5 glissando E5"),
    ("rit( quarter = 40 w D5 )", "ritardando( quarter = 40 w D5 )"),
    ("ritard( quarter = 40 w D5 )", "ritardando( quarter = 40 w D5 )"),
    ("rall( quarter = 40 w D5 )", "ritardando( quarter = 40 w D5 )"),
    ("rallentando( quarter = 40 w D5 )", "ritardando( quarter = 40 w D5 )"),
    ("accel( quarter = 90 w D5 )", "accelerando( quarter = 90 w D5 )"),
    ("flutter-tongue( w D5 )", "flutter( w D5 )"),
    ("w D5 flutter-tongue", "w D5 flutter"),
    ("w D5 flatterzunge", "w D5 flutter"),
    ("w D6 whisper-tone", "w D6 whistle-tone"),
    ("w D5 pralltriller", "w D5 inverted-mordent"),
    ("w D5 bisbigliando", "w D5 timbral-trill"),
]


def test_every_equal_word_is_compared_here() -> None:
    used = {word.strip("(") for text, _ in PAIRS for word in text.split()}
    assert used >= set(EQUAL_WORDS)
    assert set(EQUAL_WORDS.values()) <= {*MARKS, *GROUPS, *SIGNS, *FIGURES}
    assert not {*EQUAL_WORDS, *WORD_HINTS} & {*MARKS, *GROUPS, *SIGNS, *FIGURES}
    assert not EQUAL_WORDS.keys() & WORD_HINTS.keys()


@pytest.mark.parametrize(("text", "plain"), PAIRS)
def test_an_equal_word_reads_the_same(text: str, plain: str) -> None:
    one, other = (
        [(event.pitch, event.value, event.dynamic_marks, event.marks, event.syllable) for event in bar.events]
        + [bar.tempo, bar.meter]
        for bar in (exercise(f"{HEAD}music: {each}\n").forms[0].bars[-1] for each in (text, plain))
    )
    assert one == other
    first, second = (exercise(f"{HEAD}music: {each}\n").forms[0].bars[0] for each in (text, plain))
    assert [event.dynamic_marks for event in first.events] == [event.dynamic_marks for event in second.events]
    assert [event.pitch for event in first.events] == [event.pitch for event in second.events]


FIELD_TEXTS = {
    "travel": "twelve keys, fifths up",
    "tempo": "half = 40",
    "meter": "3/4",
    "pickup": "quarter",
    "attend": "\n  - breathe low",
    "doubles": "keep",
}


@pytest.mark.parametrize(("name", "plain"), EQUAL_FIELDS.items())
def test_an_equal_field_reads_the_same(name: str, plain: str) -> None:
    assert plain in FIELDS and name not in FIELDS
    music = "q E5 | h. D5" if plain == "pickup" else "h. D5"
    meter = "" if plain == "meter" else "meter: 3/4\n"

    def parts(field: str) -> tuple[object, ...]:
        found = exercise(f"{HEAD}{meter}{field}: {FIELD_TEXTS[plain]}\nmusic: {music}\n")
        return found.travel, found.tempo, found.meter, found.pickup, found.attend, found.keep_doubles

    default = exercise(f"{HEAD}meter: 3/4\nmusic: h. D5\n")
    usual = (default.travel, default.tempo, default.meter, default.pickup, default.attend, False)
    assert parts(name) == parts(plain)
    assert plain == "meter" or parts(name) != usual


def test_a_field_and_its_equal_are_one_field() -> None:
    (fault,) = faults(f"{HEAD}tempo: half = 40\nmetronome: half = 50\nmusic: w D5\n")
    assert fault == "the field 'tempo' appears a second time; keep one; the first is on line 3"


@pytest.mark.parametrize("name", FIELD_HINTS)
def test_a_field_that_an_exercise_has_not_is_answered(name: str) -> None:
    assert name not in FIELDS
    assert faults(f"{HEAD}music: w D5\n{name}: x\n") == [f"unknown field '{name}'; {FIELD_HINTS[name]}"]


@pytest.mark.parametrize("name", WORD_HINTS)
def test_a_word_that_the_language_has_not_is_answered(name: str) -> None:
    assert faults(f"{HEAD}music: w D5 {name}\n") == [f"unknown word '{name}'; {WORD_HINTS[name]}"]
    assert faults(f"{HEAD}music: {name}( w D5 )\n") == [f"unknown group '{name}'; {WORD_HINTS[name]}"]


@pytest.mark.parametrize(
    ("music", "told"),
    [
        ("w D5 crescendo", "'crescendo' needs brackets; write `crescendo( h D5 p E5 ) | w D5 f`"),
        ("w D5 dim", "'dim' needs brackets; write `dim( h D5 f E5 ) | w D5 p`"),
        ("arpeggio", "'arpeggio' needs brackets; write `arpeggio( q )`"),
        ("hold( w D5 )", "'hold' is for one note; write it after its note: `w D5 hold`"),
        ("w D5 syllable", '\'syllable\' has no words; write `h D5 say "doo" E5 say "goo"`'),
        (
            "w D5 |.",
            "`|.` is not a bar line of this language; take it out: the last bar line is always a final one",
        ),
    ],
)
def test_what_is_said_of_a_word_in_the_wrong_place(music: str, told: str) -> None:
    assert faults(f"{HEAD}music: {music}\n") == [told]


@pytest.mark.parametrize("sign", ["#", "♯", "b", "♭", "##", "x", "bb", "n"])
def test_every_accidental_that_is_read_stands_on_the_language_page(sign: str) -> None:
    (note,) = exercise(f"{HEAD}music: w D{sign}5\n").forms[0].bars[0].events
    assert note.pitch is not None
    said = SIGNS["D5"].means.replace("(", " ").replace(",", " ").split()
    assert sign in said


@pytest.mark.parametrize(("name", "plain"), EQUAL_NAMES.items())
def test_an_equal_name_is_a_variation(name: str, plain: str) -> None:
    assert name not in variations()
    assert meaning([name], {}) == (plain,)
    assert any(plain == known or plain.startswith(f"{known} ") for known in variations())


def test_words_may_follow_an_equal_name_and_a_book_s_own_name_comes_first() -> None:
    assert meaning(["dynamic pp", "crescendo by last note"], {}) == ("level pp", "swell up by last note")
    assert meaning(["legato"], {"legato": ("slurred in 3",)}) == ("slurred in 3",)


def small_book(folder: Path, wishes: str) -> Path:
    (folder / "exercises").mkdir()
    (folder / "mkdocs.yml").write_text("site_name: B\nplugins: [stavewright]\n", encoding="utf-8")
    text = f"{HEAD}rights: ours\nvariations: {wishes}\nmusic: h D5 p E5 | w D5 f ,\n"
    (folder / "exercises" / "t.warmup").write_text(text, encoding="utf-8")
    return folder


def test_an_exercise_asks_for_variations_by_equal_names(tmp_path: Path) -> None:
    found = open_book(small_book(tmp_path, "legato, messa di voce, straight tone + staccato"))
    assert [(wish.label, wish.names) for wish in found.exercises[0].wanted] == [
        ("legato", ("slurred",)),
        ("messa di voce", ("swell from pp to f to pp",)),
        ("without vibrato + detached", ("without vibrato", "detached")),
    ]


@pytest.mark.parametrize("name", NAME_HINTS)
def test_a_name_that_is_no_variation_is_answered(name: str, tmp_path: Path) -> None:
    with pytest.raises(BookFaults) as raised:
        open_book(small_book(tmp_path, name))
    (fault,) = raised.value.faults
    assert (fault.what, fault.mend) == (f"unknown variation '{name}'", NAME_HINTS[name])


def test_the_language_page_lists_equal_words() -> None:
    assert (
        with_equals("A fermata: hold the note.", "fermata", EQUAL_WORDS)
        == "A fermata: hold the note. Equal: `hold`, `pause`."
    )
    assert with_equals("Staccato.", "staccato", EQUAL_WORDS) == "Staccato."
    told = with_equals("Tongue it.", "tonguing", EQUAL_NAMES)
    assert "`double tonguing` for" not in told and "double tonguing for tonguing double" in told
