"""Charts of fingerings in ink: they have room, stay on the paper, and every key can be drawn."""

from __future__ import annotations

from dataclasses import replace

import pytest
from ink_faults import ink_faults

from stavewright.engrave.piece import STAND, Engraved, Piece
from stavewright.engrave.processes.worker import here
from stavewright.language.read import read
from stavewright.music.description import describe_score
from stavewright.music.score import Score, each_event
from stavewright.music.settings.transpositions import settings_of
from stavewright.music.winds.fingering_tables import FAMILIES, fingerings
from stavewright.music.winds.instruments import INSTRUMENTS


def score_of(music: str, instrument: str = "flute") -> Score:
    exercise = read("t.warmup", f"title: T\nhome: D5 in D major\nmusic: {music}\n".encode()).exercise
    assert exercise is not None, music
    return settings_of(exercise, INSTRUMENTS[instrument])[0].score()


def test_a_chart_is_drawn_with_room_of_its_own_and_stays_on_the_paper() -> None:
    music = "fingering-chart( e D5 E5 F#5 G5 A5 B5 C#6 D6 | D6 C#6 B5 A5 G5 F#5 E5 D5 )"
    for slug in ("flute", "clarinet-b-flat", "alto-saxophone", "trumpet"):
        score = score_of(" | ".join([music] * 3), slug)
        plain = score_of(" | ".join([music.replace("fingering-chart(", "tenuto(")] * 3), slug)
        drawn, other = here().engrave([Piece("a", score, STAND), Piece("b", plain, STAND)])
        assert isinstance(drawn, Engraved) and isinstance(other, Engraved)
        assert len(drawn.systems) >= len(other.systems)
        assert [fault for fault in ink_faults(score, drawn, STAND) if "margin" in fault] == []
        heights = [each.systems[0].bottom - each.systems[0].top for each in (drawn, other)]
        assert heights[0] > heights[1] + (0.1 if slug == "trumpet" else 10)
        sizes = [len(each.drawing.body) for each in (drawn, other)]
        assert sizes[0] > sizes[1] + 100


@pytest.mark.parametrize("name", [name for name in FAMILIES if fingerings(name).mechanism.drawn])
def test_the_engraver_knows_every_key_of_each_chart(name: str) -> None:
    keys = fingerings(name).mechanism.keys
    half = "half " if fingerings(name).mechanism.half else ""
    hands = [f"{hand} {half}1 2 trilled 3 {' '.join(keys[hand])}" for hand in ("left", "right")]
    plain = score_of("w D5")
    bars = each_event(plain.line.bars, lambda event: replace(event, chart=", ".join(hands)))
    score = replace(plain.with_line(replace(plain.line, bars=bars)), fingerings=name)
    assert str(fingerings(name).chart(bars[0].events[0])) in describe_score(score)
    (made,) = here().engrave([Piece("a", score, STAND)])
    assert isinstance(made, Engraved), made
    assert not made.warnings
