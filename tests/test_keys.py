"""Key signatures and the choice between two spellings of a key, against the circle of fifths."""

from __future__ import annotations

import pytest
from music21 import key as m21_key
from music21 import scale as m21_scale

from stavewright.music.keys import KEY_SLUGS, MODES, Key, key_class, spellings, tonic_of
from stavewright.music.pitch import LETTERS, Pitch

# The circle of fifths and the order of sharps and flats as a theory primer prints them, for example
# Ebenezer Prout, "Harmony: its theory and practice" (1889), chapter I, on the scales and signatures.
# Written down from memory; major and relative minor, from seven flats to seven sharps.
CIRCLE = [
    (-7, "C flat", "A flat"),
    (-6, "G flat", "E flat"),
    (-5, "D flat", "B flat"),
    (-4, "A flat", "F"),
    (-3, "E flat", "C"),
    (-2, "B flat", "G"),
    (-1, "F", "D"),
    (0, "C", "A"),
    (1, "G", "E"),
    (2, "D", "B"),
    (3, "A", "F sharp"),
    (4, "E", "C sharp"),
    (5, "B", "G sharp"),
    (6, "F sharp", "D sharp"),
    (7, "C sharp", "A sharp"),
]
SHARPS_IN_ORDER = "FCGDAEB"
FLATS_IN_ORDER = "BEADGCF"

# Church modes by the tonic of the scale on white keys alone; any primer of the modes.
WHITE_KEY_TONICS = {
    "ionian": "C",
    "dorian": "D",
    "phrygian": "E",
    "lydian": "F",
    "mixolydian": "G",
    "aeolian": "A",
    "locrian": "B",
}


def named(tonic: str, mode: str) -> Key:
    """A key by its name as it is said."""
    alter = {"": 0, "flat": -1, "sharp": 1}[tonic[1:].strip()]
    return Key(LETTERS.index(tonic[0]), alter, mode)


@pytest.mark.parametrize(("fifths", "major", "minor"), CIRCLE)
def test_signatures_follow_the_circle_of_fifths(fifths: int, major: str, minor: str) -> None:
    for key in (named(major, "major"), named(minor, "minor")):
        assert key.fifths == fifths
        sharps = set(SHARPS_IN_ORDER[: max(fifths, 0)])
        flats = set(FLATS_IN_ORDER[: max(-fifths, 0)])
        assert {LETTERS[n] for n in range(7) if key.alteration(n) == 1} == sharps
        assert {LETTERS[n] for n in range(7) if key.alteration(n) == -1} == flats


@pytest.mark.parametrize(("mode", "tonic"), WHITE_KEY_TONICS.items())
def test_every_church_mode_has_one_scale_without_accidentals(mode: str, tonic: str) -> None:
    key = named(tonic, mode)
    assert key.fifths == 0
    assert [LETTERS[letter] for letter, alter in key.scale() if alter == 0] == [
        *LETTERS[LETTERS.index(tonic) :],
        *LETTERS[: LETTERS.index(tonic)],
    ]


@pytest.mark.parametrize("mode", MODES)
def test_signatures_and_scales_as_music21_has_them(mode: str) -> None:
    seen = 0
    for letter in range(7):
        for alter in (-1, 0, 1):
            ours = Key(letter, alter, mode)
            if abs(ours.fifths) > 7:
                continue
            seen += 1
            theirs = m21_key.Key(LETTERS[letter] + {-1: "-", 0: "", 1: "#"}[alter], mode)
            assert ours.fifths == theirs.sharps
            names = [pitch.name.replace("-", "b") for pitch in theirs.getPitches()][:7]
            assert [Pitch(*pair, 4).name for pair in ours.scale()] == names
    assert seen == 15  # from seven flats to seven sharps


def test_the_minor_scale_is_the_natural_minor() -> None:
    theirs = m21_scale.MinorScale("c#").getPitches()[:7]
    assert [Pitch(*pair, 4).name for pair in named("C sharp", "minor").scale()] == [p.name for p in theirs]


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("pitch_class", range(12))
def test_spellings_begin_with_the_fewest_accidentals(mode: str, pitch_class: int) -> None:
    keys = spellings(pitch_class, mode)
    sizes = [abs(key.fifths) for key in keys]
    assert sizes == sorted(sizes)
    assert sizes[0] <= 6
    assert all(key.pitch_class == pitch_class and size <= 7 for key, size in zip(keys, sizes, strict=True))
    # Of six sharps and six flats, the only tie there is, the sharps stand first.
    assert [key.fifths for key in keys[:2]] == [6, -6] or len(sizes) == 1 or sizes[0] < sizes[1]


@pytest.mark.parametrize(
    ("mode", "expected"),
    [
        # The twelve keys by custom; six accidentals as the sharp key. Common practice, no source.
        ("major", "C,D flat,D,E flat,E,F,F sharp,G,A flat,A,B flat,B"),
        ("minor", "C,C sharp,D,D sharp,E,F,F sharp,G,G sharp,A,B flat,B"),
    ],
)
def test_the_twelve_keys_by_their_customary_names(mode: str, expected: str) -> None:
    assert [spellings(number, mode)[0].tonic for number in range(12)] == expected.split(",")


@pytest.mark.parametrize(
    ("said", "number"),
    [
        ("c", 0),
        ("e-flat", 3),
        ("E flat", 3),
        ("Eb", 3),
        ("E♭", 3),
        ("d sharp", 3),
        ("D#", 3),
        ("f-sharp", 6),
        ("G_flat", 6),
        ("b", 11),
        ("cb", 11),
        ("b sharp", 0),
        (" a ", 9),
    ],
)
def test_a_key_as_a_player_names_it(said: str, number: int) -> None:
    assert key_class(said) == number


@pytest.mark.parametrize("said", ["", " ", "h", "c-natural", "sharp", "e flat flat", "1", "é"])
def test_what_names_no_key(said: str) -> None:
    assert key_class(said) is None


def test_each_key_page_is_named_by_a_key_on_it() -> None:
    assert len(KEY_SLUGS) == 12
    for number, slug in enumerate(KEY_SLUGS):
        assert key_class(slug) == number


@pytest.mark.parametrize(
    ("tonic", "mode", "slug", "page", "name"),
    [
        ("E flat", "major", "e-flat", "e-flat", "E flat major"),
        ("C sharp", "minor", "c-sharp", "d-flat", "C sharp minor"),
        ("F sharp", "dorian", "f-sharp", "f-sharp", "F sharp dorian"),
    ],
)
def test_names_and_addresses(tonic: str, mode: str, slug: str, page: str, name: str) -> None:
    key = named(tonic, mode)
    assert (key.slug, key.page, key.name) == (slug, page, name)


def test_the_key_on_a_pitch() -> None:
    assert tonic_of(Pitch.parse("Bb3"), "minor") == named("B flat", "minor")
