"""A wind player's signs, ways through repeats and changes of tempo come in from MusicXML, or are remarked.

Our own MusicXML is the file, and the exercise that it was made from is the judge; a few bars are as other
programs write them.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_bring_in import NOTE, answer, exercise, file_of, score

from stavewright.music.event import Place
from stavewright.music.score import Bar, each_event

HEAD = "title: All\nhome: D5 in D major\nmeter: 4/4\ntempo: quarter = 60\n"
ROUNDS = {
    "techniques": 'h D5 flutter E5 flutter | F#5 air-tone G5 | w A5 whistle-tone | A4 above "x" | '
    "h D5 tongue-ram E5 key-click | G5 E5",
    "techniques after each other": "h D5 air-tone E5 key-click | F#5 whistle-tone G5 flutter | w A5 air-tone",
    "harmonics": "w D6 harmonic( D5 ) | h A5 harmonic A5 harmonic( D4 ) | w D5",
    "slides": "h D5 glissando A5 | D5 bend-up E5 glissando | w F#5",
    "ornaments": "h D5 timbral-trill E5 mordent | F#5 trill G5 turn | w D5",
    "fingerings": 'h D5 fingering "T 1 2 3" E5 | w F#5 fingering "2 3 - 4"',
    "tied": "h D5 flutter tie D5 flutter | w E5 harmonic tie | E5 harmonic",
    "four times": "|: w D5 | E5 :| 4 times w F#5 | |: D5 :| 3 times",
    "da capo": "w D5 | E5 fine | F#5 da-capo |",
    "dal segno": "w D5 | segno E5 | F#5 fine | D5 dal-segno |",
    "coda": "w D5 | segno E5 to-coda | F#5 dal-segno || coda D5 | D5",
    "ritardando": "w D5 | ritardando( quarter = 40 h D5 E5 | w F#5 ) | tempo( quarter = 60 ) w D5",
    "accelerando": "w D5 | accelerando( quarter = 90 q D5 E5 F#5 G5 ) | w A5 | tempo( quarter = 72 ) w D5",
    "within a bar": "q D5 ritardando( half = 20 E5 F#5 ) G5 | w D5",
}


def bars_of(text: str) -> tuple[Bar, ...]:
    """The music of an exercise, without the places of its words and the order of a note's marks."""
    (form,) = exercise(text).forms
    return each_event(
        form.bars, lambda event: replace(event, place=Place(1, 1), marks=tuple(sorted(event.marks)))
    )


@pytest.mark.parametrize("name", ROUNDS)
def test_signs_come_back_from_our_own_file(name: str) -> None:
    text = f"{HEAD}music:\n  {ROUNDS[name]}\n"
    found = answer(file_of(exercise(text)))
    assert bars_of(found["text"]) == bars_of(text), found["text"]
    assert not found["remarks"]


def test_a_melody_comes_into_a_book_with_its_own_names() -> None:
    """In German: the names of notes that the book has, and the words that our own files have there."""
    german = exercise(f"{HEAD}music:\n  h Bb4 air-tone B4 key-click | w F#5\n")
    data = file_of(german).replace(b">air<", b">Luft<").replace(b">key click<", b">Klappe<")
    text = answer(data, notes="german", language="de")["text"]
    assert "h B4 air-tone H4 key-click | w Fis5 |" in " ".join(text.split("music:")[1].split())
    assert "home: D5 in D major" in text


SIGNS = ("", "flutter", "air-tone", "whistle-tone", "tongue-ram", "key-click", "harmonic", "harmonic( D4 )")
MORE = ("", "staccato", "turn", "mordent", "fermata", "bend-up", ",", 'fingering "1 2"', "accent")


@settings(max_examples=60)
@given(st.lists(st.tuples(st.sampled_from(SIGNS), st.sampled_from(MORE)), min_size=2, max_size=10))
def test_any_signs_in_any_order_come_back(signs: list[tuple[str, str]]) -> None:
    notes = [f"w {['D5', 'A5', 'D6'][number % 3]} {' '.join(pair)}" for number, pair in enumerate(signs)]
    text = f"{HEAD}music:\n  {' | '.join(notes)}\n"
    found = answer(file_of(exercise(text)))
    assert bars_of(found["text"]) == bars_of(text), found["text"]


def words(said: str, more: str = "") -> str:
    return f"<direction><direction-type><words>{said}</words>{more}</direction-type></direction>"


def signed(notations: str) -> str:
    return NOTE.replace("</note>", f"<notations>{notations}</notations></note>")


def bars(*measures: str) -> bytes:
    """A part of several bars."""
    between = '</measure><measure number="2">'
    return score(between.join(measures))


@pytest.mark.parametrize(
    ("file", "said"),
    [
        (bars(NOTE, NOTE + words("D.C. al Fine")), "w D5 | D5 da-capo |"),
        (bars(NOTE + words("Fine"), NOTE + words("D. C.")), "w D5 fine | D5 da-capo |"),
        (bars(signed('<ornaments><tremolo type="single">3</tremolo></ornaments>')), "w D5 flutter |"),
        (
            bars(words("flz.") + signed('<ornaments><tremolo type="unmeasured">0</tremolo></ornaments>')),
            "flutter |",
        ),
        (bars(signed("<technical><harmonic><natural/></harmonic></technical>")), "w D5 harmonic |"),
        (bars(signed("<technical><fingering>1 2 3</fingering></technical>")), 'w D5 fingering "1 2 3" |'),
        (bars(words("rit.") + NOTE, NOTE), 'w D5 above "rit." | D5 |'),
        (bars(words("dolce") + NOTE, NOTE), 'w D5 above "dolce" | D5 |'),
    ],
)
def test_signs_of_other_programs_come_in(file: bytes, said: str) -> None:
    text = answer(file)["text"]
    assert said in " ".join(text.split("music:")[1].split())


@pytest.mark.parametrize(
    ("file", "said"),
    [
        (bars(NOTE + words("Fine"), NOTE), "'fine' is there, but no way back leads to it"),
        (bars(NOTE, NOTE + words("D.S.")), "the ways back and out are left out"),
        (bars(signed("<technical><harmonic><artificial/></harmonic></technical>")), "string harmonic"),
        (bars(NOTE, signed('<glissando type="start"/>')), "a glissando from the last note goes nowhere"),
        (bars(signed('<ornaments><tremolo type="single">2</tremolo></ornaments>')), "tremolo"),
    ],
)
def test_what_leads_nowhere_is_remarked(file: bytes, said: str) -> None:
    found = answer(file)
    assert said in "\n".join(found["remarks"])
    assert exercise(found["text"])


TUNE = "X:1\nT:Tune\nM:4/4\nL:1/4\nQ:1/4=60\nK:D\n"


@pytest.mark.parametrize(
    ("tune", "said", "remark"),
    [
        (
            'TD !mf!E HF {B}!tenuto!G | "x"[DA] z !>!B2 |',
            "q D4 trill E4 mf F#4 fermata grace( B4 ) G4 tenuto",
            "",
        ),
        ("D4 | !segno!E4 !fine! | F4 | D4 !D.S.! |]", "w D4 | segno E4 fine | F#4 | D4 dal-segno |", ""),
        ("D4 | E4 !D.C.! |]", "w D4 | E4 da-capo |", ""),
        (
            "MD2- D2 | PE2 !turn!F2 |1 G4 :|2 A4 |]",
            "h D4 mordent tie D4 | E4 inverted-mordent F#4 turn |",
            "",
        ),
        ("~D4 | !open!E4 |", "w D4 | E4 |", "have no word here (~, !open!)"),
        ("!fine!D4 | E4 !fine! |", "w D4 | E4 |", "no way back leads to it"),
    ],
)
def test_decorations_of_abc_come_in(tune: str, said: str, remark: str) -> None:
    found = answer((TUNE + tune + "\n").encode())
    text = " ".join(found["text"].split("music:")[1].split())
    assert said in text, (text, found["remarks"])
    assert remark in "\n".join(found["remarks"])


def test_decorations_are_left_where_it_is_not_sure_which_note_is_meant() -> None:
    voices = TUNE.replace("K:D", "V:1\nK:D") + "HD4 | E4 |\n"
    found = answer(voices.encode())
    assert "fermata" not in found["text"].split("music:")[1]
    assert "decorations of ABC" in "\n".join(found["remarks"]).replace("Decorations", "decorations")
