"""A note that is like one before is not written again, and what differs in anything is."""

from __future__ import annotations

import pickle
from fractions import Fraction

import abjad
import pytest
from small_scores import score_of

from stavewright.engrave import leaves as module
from stavewright.engrave.notation import notation
from stavewright.music.event import Value

MUSIC = "q D5 q E5 q D5 q E5 | q D5 q E5 q D5 q E5 | w D5"


def test_a_note_like_one_before_is_written_once(monkeypatch: pytest.MonkeyPatch) -> None:
    module._write_leaf.cache_clear()
    written = []
    write = abjad.lilypond

    def counted(leaf: abjad.Leaf) -> str:
        written.append(leaf)
        return str(write(leaf))

    monkeypatch.setattr(abjad, "lilypond", counted)
    first = notation(score_of(MUSIC))
    # The first note, which has clef, key and meter, the two quarters after it, and the last.
    assert len(written) == 4
    assert notation(score_of(MUSIC)) == first
    assert len(written) == 4


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("q D5 q E5 h D5", "q D5 q E5 h D5 breath"),
        ("q D5 q E5 h D5", "q D5 staccato( q E5 ) h D5"),
        ("q D5 q E5 h D5", "q D5 q E#5 h D5"),
        ("q D5 q E5 h D5", "q D5 q E5 q D5 q D5"),
        ("q D5 q E5 h D5", "slur( q D5 q E5 h D5 )"),
    ],
)
def test_what_was_written_before_changes_no_other_note(one: str, other: str) -> None:
    module._write_leaf.cache_clear()
    alone = notation(score_of(other))
    module._write_leaf.cache_clear()
    before = notation(score_of(one))
    assert notation(score_of(other)) == alone != before


def test_a_value_knows_its_length_wherever_it_comes_from() -> None:
    value = Value(Fraction(1, 4), 1, Fraction(2, 3))
    assert value.length == Fraction(1, 4)
    assert pickle.loads(pickle.dumps(value)).length == Fraction(1, 4)
    assert value == Value(Fraction(1, 4), 1, Fraction(2, 3))
    assert "length" not in repr(value)
