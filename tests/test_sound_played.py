"""A play-through, rendered by the page's own scripts and measured against the page's own time."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

import numpy as np
import pytest
from sound_bench import (
    EVERYTHING,
    PLAIN,
    RATE,
    Browser,
    Page,
    Samples,
    cents,
    decibels,
    onsets,
    partials,
    piece,
    playing,
    render,
    rendering,
)

from stavewright.music.sounding.timing import clock


@pytest.fixture(scope="module")
def bench(chromium: Browser) -> Iterator[Page]:
    yield from rendering(chromium)


def pitch_at(samples: Samples, begin: float, end: float) -> float:
    return partials(samples[int(begin * RATE) : int(end * RATE)])[0]


@pytest.mark.parametrize("just", [False, True])
def test_each_tone_is_heard_at_its_time_and_pitch(bench: Page, just: bool) -> None:
    score, rows = piece(PLAIN)
    tuning = {"a4": 442, "just": just, "tonic": 7}
    samples = render(bench, EVERYTHING, 9, playing(rows, tempo=60, pulse=False, tuning=tuning))
    for start, length, midi, *_ in rows["tones"]:
        at = float(clock(score).seconds(Fraction(start, rows["whole"]))) + 0.1
        until = float(clock(score).seconds(Fraction(start + length, rows["whole"]))) + 0.1
        keynote = 442 * 2 ** ((67 - 69) / 12)
        wanted = 442 * 2 ** ((midi - 69) / 12)
        if just:
            wanted = keynote * {67: 1, 69: 9 / 8, 71: 5 / 4}[midi]
        assert abs(cents(pitch_at(samples, at + 0.1, until - 0.1), wanted)) < 1


SECOND_WHOLE = 4.1
"""When the second whole note begins at a quarter a second, in what is rendered here."""


def least(samples: Samples, begin: float, end: float) -> float:
    """The quietest hundredth of a second of a passage, as a part of the loudest of all."""
    pieces = np.abs(samples[: len(samples) // 480 * 480].reshape(-1, 480)).max(axis=1)
    return float(pieces[round(begin * 100) : round(end * 100)].min() / pieces.max())


@pytest.mark.parametrize(
    ("music", "at_the_change", "in_the_second_half"),
    [
        ("slur( w G4 | w A4 )", (0.3, 1), (0.9, 1)),
        ("w G4 | w A4", (0, 0.05), (0.9, 1)),
        ("staccato( w G4 | w A4 )", (0, 0.05), (0, 0.01)),
    ],
)
def test_tongued_tones_part_and_slurred_ones_do_not(
    bench: Page, music: str, at_the_change: tuple[float, float], in_the_second_half: tuple[float, float]
) -> None:
    _, rows = piece(PLAIN.replace("w G4 | h A4 B4", music))
    samples = render(bench, EVERYTHING, 9, playing(rows, tempo=60, pulse=False))
    low, high = at_the_change
    assert low <= least(samples, SECOND_WHOLE - 0.06, SECOND_WHOLE + 0.04) <= high
    low, high = in_the_second_half
    assert low <= least(samples, SECOND_WHOLE - 1.5, SECOND_WHOLE - 0.1) <= high


def test_the_pulse_of_a_play_through_keeps_the_bars_and_waits_for_a_hold(bench: Page) -> None:
    score, rows = piece()
    samples = render(bench, EVERYTHING, 8, playing(rows, (0, 0, 10), tempo=200))
    time = clock(score)
    beats, now = [], Fraction(0)
    # Pick-up, two bars twice, and of the bar under the hold the first beat alone; then the last two.
    for length in [1, 3, 3, 3, 3, 3, 2]:
        beats += [now + Fraction(number, 4) for number in range(length)]
        now += Fraction(length, 4)
    beats = [beat for beat in beats if not Fraction(13, 4) < beat < Fraction(16, 4)]
    expected = [float(time.seconds(beat)) + 0.1 for beat in beats]
    found = onsets(samples)
    assert len(found) == len(expected)
    # The limiter looks six milliseconds ahead, all the time.
    shift = found[0] - expected[0]
    assert np.max(np.abs(np.array(found) - shift - expected)) < 0.001
    assert abs(shift) < 0.01


def test_dynamics_are_heard(bench: Page) -> None:
    text = PLAIN.replace("w G4 | h A4 B4", "w G4 pp | louder( w G4 ) | w G4 ff | softer( w G4 ) | w G4 p")
    _, rows = piece(text)
    samples = render(bench, EVERYTHING, 21, playing(rows, (0, 5, 0), tempo=60, pulse=False))
    # Of G4, MIDI note 67, the first partial: a soft tone has less of the others.
    turns = np.exp(-2j * np.pi * 440 * 2 ** ((67 - 69) / 12) * np.arange(RATE) / RATE)
    middle = [
        20 * np.log10(np.abs(samples[int((4 * bar + 1.5) * RATE) :][:RATE] @ turns)) for bar in range(5)
    ]
    # pp, half way up, ff, half way down, p: 2.5 decibels a level.
    assert middle[2] - middle[0] == pytest.approx(5 * 2.5, abs=0.3)
    assert middle[0] + 4 < middle[1] < middle[2] - 4
    assert middle[4] - middle[0] == pytest.approx(2.5, abs=0.3)
    assert middle[4] + 3 < middle[3] < middle[2] - 3


def test_vibrato_bends_the_pitch_where_it_is_written(bench: Page) -> None:
    _, rows = piece(PLAIN.replace("w G4 | h A4 B4", "w G4 | vibrato( w G4 ) | w G4"))
    samples = render(bench, EVERYTHING, 13, playing(rows, tempo=60, pulse=False))
    spread = []
    for bar in range(3):
        begin = 4 * bar + 1.2
        found = [pitch_at(samples, begin + step * 0.05, begin + step * 0.05 + 0.08) for step in range(30)]
        spread.append(cents(max(found), min(found)))
    assert spread[0] < 2 and spread[2] < 2
    assert 15 < spread[1] < 40


NEWS = """(given) => {
    const context = new OfflineAudioContext(1, 48000, 48000), said = [], quiet = context.createGain();
    const outs = {tones: quiet, pulse: quiet}, wishes = () => given.wishes;
    const say = (news) => said.push(news);
    const player = stavewrightSound.playThrough(context, outs, given.piece, 0.1, wishes, say);
    while (player.next < given.until) player.advance();
    return said;
}"""


def test_a_bend_moves_the_end_of_its_note_by_a_semitone(bench: Page) -> None:
    _, rows = piece(PLAIN.replace("w G4 | h A4 B4", "w A4 bend-down | w A4"))
    samples = render(bench, EVERYTHING, 9, playing(rows, tempo=60, pulse=False))
    first, near_end, again = (pitch_at(samples, at, at + 0.2) for at in (0.5, 3.7, 5.0))
    assert abs(cents(first, 440)) < 2 and abs(cents(again, 440)) < 2
    assert -95 < cents(near_end, 440) < -70


def test_a_faint_note_is_softer(bench: Page) -> None:
    _, rows = piece(PLAIN.replace("w G4 | h A4 B4", "w A4 | w A4 air-tone"))
    samples = render(bench, EVERYTHING, 9, playing(rows, tempo=60, pulse=False))
    usual, faint = (np.abs(samples[int(at * RATE) : int((at + 2) * RATE)]).max() for at in (1, 5))
    assert faint / usual == pytest.approx(0.6, abs=0.01)


def test_the_mark_is_told_every_head_at_its_time(bench: Page) -> None:
    score, rows = piece()
    news = bench.evaluate(NEWS, playing(rows))
    heads = sorted(
        ((item["at"], item["head"]) for item in news if item.get("head") is not None),
        key=lambda item: item[0],
    )
    time = clock(score)
    wanted = [
        (float(time.seconds(Fraction(start, rows["whole"]))) + 0.1, head)
        for start, _, _, head, *_ in rows["tones"]
    ]
    assert heads[0] == (0.1, 0)  # it waits on the first head
    assert [head for _, head in heads[1:]] == [head for _, head in wanted]
    assert [at for at, _ in heads[1:]] == pytest.approx([at for at, _ in wanted])
    gone = [item["at"] for item in news if "head" in item and item["head"] is None]
    assert len(gone) == 3  # the rest, twice, and the end
    assert news[-1]["over"] and news[-1]["at"] == pytest.approx(float(time.length) + 0.1)


def test_the_mark_keeps_to_a_ritardando_and_goes_back_by_da_capo(bench: Page) -> None:
    music = "ritardando( quarter = 40 q G4 A4 G4 A4 ) fine | h G4 A4 da-capo"
    score, rows = piece(PLAIN.replace("w G4 | h A4 B4", music))
    time = clock(score)
    news = bench.evaluate(NEWS, playing(rows, tempo=60))
    heads = [(item["at"], item["head"]) for item in news if item.get("head") is not None][1:]
    assert [head for _, head in heads] == [0, 1, 2, 3, 4, 5, 0, 1, 2, 3]
    wanted = [float(time.seconds(Fraction(row[0], rows["whole"]))) + 0.1 for row in rows["tones"]]
    assert [at for at, _ in heads] == pytest.approx(wanted)
    assert news[-1]["at"] == pytest.approx(float(time.length) + 0.1)


def test_a_piece_with_a_pickup_is_counted_in_up_to_it(bench: Page) -> None:
    _, rows = piece()
    news = bench.evaluate(NEWS, playing(rows, countIn=1))
    counted = [item for item in news if item.get("counting")]
    assert [item["beat"] for item in counted] == [1, 2, 3, 1, 2]
    first = min(item["at"] for item in news if item.get("beat") and not item["counting"])
    assert first == pytest.approx(0.1 + 5 * 60 / 200)
    assert next(item["beat"] for item in news if item.get("counting") is False) == 3


def test_times_through_and_the_ladder(bench: Page) -> None:
    _, rows = piece(PLAIN)
    ladder = {"by": 12, "every": 2, "top": 72}
    news = bench.evaluate(NEWS, playing(rows, tempo=60, times=3, ladder=ladder))
    firsts = [item for item in news if item.get("bar") == 1 and item.get("beat") == 1]
    assert [item["tempo"] for item in firsts] == [60, 72, 72]
    assert [item["at"] for item in firsts] == pytest.approx([0.1, 8.1, 8.1 + 8 * 60 / 72])


PART_NEWS = NEWS.replace("wishes, say)", "wishes, say, given.part)")


def test_a_part_begins_within_the_music(bench: Page) -> None:
    _, rows = piece(PLAIN)
    # The last note, the fourth quarter and more of the second bar: two beats of its bar are counted too.
    start = rows["tones"][2][0]
    news = bench.evaluate(PART_NEWS, {**playing(rows, tempo=60, countIn=1), "part": {"from": start}})
    assert [item["beat"] for item in news if item.get("counting")] == [1, 2, 3, 4, 1, 2]
    heads = [(item["at"], item["head"]) for item in news if item.get("head") is not None]
    assert heads == [(pytest.approx(0.1), 2), (pytest.approx(6.1), 2)]
    assert news[-1]["over"] and news[-1]["at"] == pytest.approx(8.1)


def test_bars_go_round_again_without_a_gap(bench: Page) -> None:
    _, rows = piece(PLAIN)
    part = {"from": rows["bars"][1][0], "lastBar": 1, "again": True}
    news = bench.evaluate(PART_NEWS, {**playing(rows, tempo=60), "part": part})
    heads = [(item["at"], item["head"]) for item in news if item.get("head") is not None][1:]
    assert len(heads) > 4
    for number, (at, head) in enumerate(heads):
        assert head == 1 + number % 2
        assert at == pytest.approx(0.1 + 2 * number)


FREE = """\
title: Free
rights: written for this test, public domain
home: G4 in G major
meter: free
breath: 2 to 4 seconds
travel: semitones down from G4 to G4
music:
  long G4 A4
"""


@pytest.mark.parametrize(("tempo", "seconds"), [(54, 4), (66, 2)])
def test_free_time_has_no_clicks_and_its_own_seconds(bench: Page, tempo: int, seconds: int) -> None:
    """A player's count-in and metronome stay silent, and a note lasts a breath at either end of the pace."""
    _, rows = piece(FREE)
    given = playing(rows, tempo=tempo, pulse=True, countIn=2)
    samples = render(bench, EVERYTHING, 2 * seconds + 1, given)
    for number, midi in enumerate((67, 69)):
        begin = 0.1 + number * seconds
        wanted = given["wishes"]["tuning"]["a4"] * 2 ** ((midi - 69) / 12)
        assert abs(cents(pitch_at(samples, begin + 0.2, begin + seconds - 0.4), wanted)) < 1
    clicks = playing(rows, (0, 0, 10), tempo=tempo, pulse=True, countIn=2)
    assert np.max(np.abs(render(bench, EVERYTHING, 2 * seconds + 1, clicks))) < 1e-4


def test_both_parts_of_a_duet_are_heard(bench: Page) -> None:
    second = "second: canon at the fifth below after 1 bar\n"
    _, rows = piece(PLAIN.replace("tempo:", f"{second}tempo:").replace("w G4 | h A4 B4", "w G5 | w B5"))
    samples = render(bench, EVERYTHING, 14, playing(rows, tempo=60, pulse=False))
    assert abs(cents(pitch_at(samples, 1, 4), 783.99)) < 2
    heard = sorted(partials(samples[int(5 * RATE) : int(8 * RATE)], 2))
    assert [round(cents(one, other)) for one, other in zip(heard, (523.25, 987.77), strict=True)] == [0, 0]
    # The first rests at the end.
    assert abs(cents(pitch_at(samples, 9, 12), 659.26)) < 2


def test_chords_are_heard_below_the_melody(bench: Page) -> None:
    _, rows = piece(
        PLAIN.replace("tempo:", "chords: G | G\ntempo:").replace("w G4 | h A4 B4", "w rest | w G5")
    )
    samples = render(bench, EVERYTHING, 9, playing(rows, tempo=60, pulse=False))
    alone, below = samples[int(1 * RATE) : int(3 * RATE)], samples[int(5 * RATE) : int(7 * RATE)]
    heard = sorted(partials(alone, 4))
    for one, other in zip(heard, (97.999, 195.998, 246.942, 293.665), strict=True):
        assert abs(cents(one, other)) < 3
    assert decibels(alone) < decibels(below) - 3
    assert abs(cents(pitch_at(samples, 5, 7), 783.99)) < 2


@pytest.mark.parametrize(
    ("heard", "there", "missing"), [("first", 783.99, 659.26), ("others", 659.26, 783.99)]
)
def test_one_part_of_a_duet_is_heard_alone(bench: Page, heard: str, there: float, missing: float) -> None:
    _, rows = piece(PLAIN.replace("w G4 | h A4 B4", "w G5 | w G5\nmusic second: w D5 | w E5\n"))
    samples = render(bench, EVERYTHING, 9, playing(rows, tempo=60, pulse=False, heard=heard))
    assert abs(cents(pitch_at(samples, 5, 7), there)) < 2
    spectrum = np.abs(np.fft.rfft(samples[5 * RATE : 7 * RATE] * np.hanning(2 * RATE)))
    assert spectrum[round(missing * 2)] < spectrum.max() / 1000


def test_a_line_alone_is_heard_whatever_is_asked_for(bench: Page) -> None:
    _, rows = piece(PLAIN)
    samples = render(bench, EVERYTHING, 5, playing(rows, tempo=60, pulse=False, heard="others"))
    assert abs(cents(pitch_at(samples, 1, 3), 391.995)) < 2
