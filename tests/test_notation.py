"""Pieces of the demo book, read back from the notation handed to the engraver, say what the text says.

Both sides are read by `independent`, which shares nothing with the project; music21 transposes the text. Only
a piece's name (exercise, start, direction, variation) comes from the project, to know what it claims to be.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from fractions import Fraction as F
from itertools import pairwise
from pathlib import Path

import pytest
from independent import KNOWN, Music, Notation, Signs, Sound, fields_of, home_of, music_of, pitch_of
from music21 import interval as m21_interval
from music21 import pitch as m21_pitch

from stavewright.book.pieces import AS_WRITTEN, instrument_books_of
from stavewright.book.read import open_book
from stavewright.engrave.markup import quoted
from stavewright.engrave.piece import Piece
from stavewright.music.score import Score

BOOK = Path(__file__).parent.parent
# The widths of an octave opened by semitones, by the names any primer of intervals gives them.
WIDTHS = ("m2", "M2", "m3", "M3", "P4", "A4", "P5", "m6", "M6", "m7", "M7", "P8")


@dataclass(frozen=True)
class Claim:
    """What a piece claims to be."""

    exercise: str
    start: str
    direction: str
    label: str
    score: Score
    name: str


def claims() -> list[Claim]:
    """Every piece of the exercises whose words the reader knows."""
    return [
        Claim(
            page.exercise.slug,
            str(placed.setting.start),
            placed.setting.direction,
            part.label,
            part.score,
            part.name,
        )
        for instrument_book in instrument_books_of(open_book(BOOK))
        for exercise, pages in instrument_book.exercises
        if exercise.slug in KNOWN
        for page in pages
        for placed in page.placed
        for part in placed.parts
        if part.score is not None
    ]


# -- what the text says ---------------------------------------------------------------------------------


def phrases(sounds: tuple[Sound, ...]) -> list[list[int]]:
    """The notes of each breath: to a breath mark, a rest or the end."""
    found: list[list[int]] = [[]]
    for number, sound in enumerate(sounds):
        if not sound.pitch:
            found.append([])
            continue
        found[-1].append(number)
        if "breath" in sound.marks:
            found.append([])
    return [phrase for phrase in found if phrase]


def times(music: Music) -> list[F]:
    """When each sound begins, and the end."""
    found = [F(0)]
    for sound in music.sounds:
        found.append(found[-1] + sound.length)
    return found


def slurred(music: Music, over_repeats: bool = False) -> Music:
    """One slur a breath, begun anew where a note is repeated."""
    sounds = [replace(sound, slur="", marks=sound.marks - ATTACKS) for sound in music.sounds]
    for phrase in phrases(music.sounds):
        groups = [[phrase[0]]]
        for before, here in pairwise(phrase):
            repeated = sounds[before].pitch == sounds[here].pitch and not sounds[before].tie
            if repeated and not over_repeats:
                groups.append([here])
            else:
                groups[-1].append(here)
        for group in groups:
            if len(group) > 1:
                sounds[group[0]] = replace(sounds[group[0]], slur="(")
                sounds[group[-1]] = replace(sounds[group[-1]], slur=")")
    return replace(music, sounds=tuple(sounds))


ATTACKS = frozenset({"staccato", "tenuto", "portato", "accent", "marcato"})


def begun_with(music: Music, mark: str) -> Music:
    """A mark on every note but those that a tie carries on."""
    tied = [False, *(sound.tie for sound in music.sounds)]
    return replace(
        music,
        sounds=tuple(
            replace(sound, marks=sound.marks | {mark}) if sound.pitch and not held else sound
            for sound, held in zip(music.sounds, tied, strict=False)
        ),
    )


def soft_tongued(music: Music) -> Music:
    """A slur a breath, a line on every note."""
    return begun_with(slurred(music, over_repeats=True), "tenuto")


def detached(music: Music) -> Music:
    """No slurs; a dot on every note, line and dot on a half or longer, nothing under a fermata."""
    bare = tuple(replace(sound, slur="", marks=sound.marks - ATTACKS) for sound in music.sounds)
    dotted = begun_with(replace(music, sounds=bare), "staccato")

    def suited(sound: Sound) -> Sound:
        if "fermata" in sound.marks:
            return replace(sound, marks=sound.marks - {"staccato"})
        if "staccato" in sound.marks and sound.length >= F(1, 2):
            return replace(sound, marks=sound.marks - {"staccato"} | {"portato"})
        return sound

    return replace(dotted, sounds=tuple(map(suited, dotted.sounds)))


LEVELS = ["ppp", "pp", "p", "mp", "mf", "f", "ff", "fff"]


def swell(*levels: str) -> Callable[[Music], Music]:
    """Each breath from level to level, a turn at the nearest note's beginning.

    It ends with the breath.
    """

    def change(music: Music) -> Music:
        dynamics: Signs = {}
        starts = times(music)
        for phrase in phrases(music.sounds):
            first, last = phrase[0], phrase[-1]
            begin, end = starts[first], starts[last + 1]
            whole = end - begin
            points = [begin]
            for part in range(1, len(levels) - 1):
                wanted = begin + whole * F(part, len(levels) - 1)
                inner = [
                    starts[n] for n in phrase[1:] if points[-1] < starts[n] and not music.sounds[n - 1].tie
                ]
                points.append(min(inner, key=lambda time: abs(time - wanted)))
            points.append(end)
            for number, (point, level) in enumerate(zip(points, levels, strict=True)):
                signs = dynamics.setdefault(point, [])
                if number:
                    signs.append("!")
                if level != "silence":
                    signs.append(level)
                if number + 1 < len(levels):
                    after = levels[number + 1]
                    if "silence" in (level, after):
                        signs.append("o<" if level == "silence" else "o>")
                    else:
                        signs.append("<" if LEVELS.index(after) > LEVELS.index(level) else ">")
        return replace(music, dynamics=dynamics)

    return change


def worded(words: str) -> Callable[[Music], Music]:
    """Words above the first note."""
    return lambda music: replace(music, sounds=(replace(music.sounds[0], above=words), *music.sounds[1:]))


def waved(*signs: tuple[F, str]) -> Callable[[Music], Music]:
    """Signs of vibrato, each at a part of every note of a half or longer, ties counted in."""

    def change(music: Music) -> Music:
        waves: Signs = {}
        starts, first = times(music), 0
        for number, sound in enumerate(music.sounds):
            if number and not music.sounds[number - 1].tie:
                first = number
            whole = starts[number + 1] - starts[first]
            if sound.pitch and not sound.tie and whole >= F(1, 2):
                for part, sign in signs:
                    waves.setdefault(starts[first] + whole * part, []).append(sign)
        return replace(music, waves=waves)

    return change


def octave_first(octaves: int) -> Callable[[Music], Music]:
    """All of it in another octave, a double bar, and as written."""

    def change(music: Music) -> Music:
        moved = []
        for sound in music.sounds:
            pitch = m21_pitch.Pitch(sound.pitch)
            pitch.octave = (pitch.octave or 0) + octaves
            moved.append(replace(sound, pitch=pitch.nameWithOctave))
        end = music.length
        return replace(
            music,
            sounds=(*moved, *music.sounds),
            dynamics={time + lap: signs for lap in (F(0), end) for time, signs in music.dynamics.items()},
            ends=((end, "||"), (2 * end, "|.")),
        )

    return change


def falling_octave_first(music: Music) -> Music:
    """The first note's upper octave before it, as long, its slur the first note's own or one down to it."""
    first, *others = music.sounds
    pitch = m21_pitch.Pitch(first.pitch)
    pitch.octave = (pitch.octave or 0) + 1
    lead = first.length
    upper = Sound(pitch.nameWithOctave, lead, slur="(")
    lower = replace(first, slur=first.slur.replace("(", "") if "(" in first.slur else first.slur + ")")
    dynamics: Signs = {}
    for time, signs in music.dynamics.items():
        for sign in signs:
            at = time if time == 0 and sign in LEVELS else time + lead
            dynamics.setdefault(at, []).append(sign)
    pickup = music.pickup + lead
    return replace(
        music,
        pickup=pickup if pickup < music.meter else F(0),
        sounds=(upper, lower, *others),
        dynamics=dynamics,
        ends=tuple((time + lead, sign) for time, sign in music.ends),
    )


def eight_levels(music: Music) -> Music:
    """Each new pitch eight times, a level a note, a breath after the loudest; in 4/4."""
    new = [
        sound.pitch
        for number, sound in enumerate(music.sounds)
        if not number or music.sounds[number - 1].pitch != sound.pitch
    ]
    quarter = Sound("", F(1, 4))
    sounds = []
    for pitch in new:
        sounds += [replace(quarter, pitch=pitch)] * 7
        sounds.append(replace(quarter, pitch=pitch, marks=frozenset({"breath"})))
    dynamics = {F(number, 4): [LEVELS[number % 8]] for number in range(len(sounds))}
    return Music(music.key, F(1), F(0), tuple(sounds), dynamics, ends=((F(len(sounds), 4), "|."),))


def double_tongued(music: Music) -> Music:
    """The last note in sixteenths on tu and ku, its last quarter whole, the tempos of the demo above it."""
    last = music.sounds[-1]
    count = int((last.length - F(1, 4)) * 16)
    made = [Sound(last.pitch, F(1, 16), syllable=("tu", "ku")[n % 2]) for n in range(count)]
    made.append(Sound(last.pitch, F(1, 4), syllable=("tu", "ku")[count % 2], marks=last.marks))
    made[0] = replace(made[0], above="quarter = 54, 60, 66")
    before = list(music.sounds[:-1])
    if ")" in last.slur:
        before[-1] = replace(before[-1], slur=before[-1].slur + ")")
    return replace(music, sounds=(*before, *made))


def figured(music: Music) -> Music:
    """A figure for each note begun that is a unison, octave, fifth, fourth, third or sixth to the drone."""
    figures = {"P1": "8", "P5": "5", "P4": "4", "m3": "3", "M3": "3", "m6": "6", "M6": "6"}
    drone = m21_pitch.Pitch(music.drone)
    tied = [False, *(sound.tie for sound in music.sounds)]
    sounds = []
    for sound, carried_on in zip(music.sounds, tied, strict=False):
        if sound.pitch and not carried_on:
            pitch = m21_pitch.Pitch(sound.pitch)
            name = m21_interval.Interval(drone, pitch).semiSimpleName.replace("P8", "P1")
            sound = replace(sound, syllable=figures.get(name, ""))
        sounds.append(sound)
    return replace(music, sounds=tuple(sounds))


def as_it_is(music: Music) -> Music:
    """The player's staff unchanged."""
    return music


MEANS: dict[str, Callable[[Music], Music]] = {
    "slurred": slurred,
    "soft-tongued": soft_tongued,
    "detached": detached,
    "swell up": swell("p", "f"),
    "swell down": swell("f", "p"),
    "swell from pp to f to pp": swell("pp", "f", "pp"),
    "from silence": swell("silence", "mf"),
    "to silence": swell("mf", "silence"),
    "without vibrato": worded("senza vibrato"),
    "with vibrato": worded("con vibrato"),
    "vibrato late": waved((F(0), "-"), (F(1, 2), "~<"), (F(1), "!")),
    "vibrato fading": waved((F(0), "~>"), (F(1, 2), "-"), (F(1), "!")),
    "vibrato from the start": waved((F(0), "~"), (F(1), "!")),
    "upper octave first": octave_first(1),
    "falling octave first": falling_octave_first,
    "lower octave first": octave_first(-1),
    "eight levels": eight_levels,
    "tonguing double in sixteenths": double_tongued,
    "singing alto": as_it_is,
    "figured": figured,
}
"""What the variations of the demo book mean, worked out anew from the page that explains them."""


def wishes(fields: dict[str, str]) -> dict[str, list[str]]:
    """The variations a text asks for, by the label they carry."""
    found = {AS_WRITTEN: []}
    for wish in fields["variations"].split(","):
        name, _, names = wish.strip().rpartition("=")
        found[name.strip() or " + ".join(part.strip() for part in names.split("+"))] = [
            part.strip() for part in names.split("+")
        ]
    return found


# -- laying one beside the other ------------------------------------------------------------------------


def tonic(key: str) -> m21_pitch.Pitch:
    """The tonic of `D major`, `A flat minor` or, as notation writes it, `af \\major`."""
    name = key.rpartition(" ")[0]
    if name[0].islower():
        return m21_pitch.Pitch(name[0].upper() + {"": "", "s": "#", "f": "-"}[name[1:]], octave=4)
    return m21_pitch.Pitch(name[0] + name[1:].replace(" flat", "-").replace(" sharp", "#"), octave=4)


def carried(music: Music, key: str, semitones: int, keep: bool) -> Music:
    """Music transposed by music21 from its own tonic to another; plain names where the rule asks for them."""
    old, new = tonic(music.key), tonic(key)
    new.octave = 4 + round((old.ps + semitones - new.ps) / 12)
    step = m21_interval.Interval(old, new)
    assert step.semitones == semitones, "the key is not where the start says"

    def moved(name: str) -> str:
        if not name:
            return ""
        pitch = step.transposePitch(m21_pitch.Pitch(name), maxAccidental=None)
        assert isinstance(pitch, m21_pitch.Pitch)
        plain = pitch.simplifyEnharmonic() if abs(pitch.alter) > 1 and not keep else pitch
        return plain.nameWithOctave

    sounds = tuple(replace(sound, pitch=moved(sound.pitch)) for sound in music.sounds)
    return replace(music, key=key, sounds=sounds, drone=moved(music.drone))


def named(made: Music, plain: Music) -> Music:
    """A generator's sounds, known by MIDI number, with the names they have in the piece as written.

    Those names must sound as the rule says, and each slurred pair must be the interval it is called.
    """
    widths = iter(WIDTHS)
    sounds = []
    for number, (rule, found) in enumerate(zip(made.sounds, plain.sounds, strict=True)):
        assert m21_pitch.Pitch(found.pitch).ps == float(rule.pitch)
        if rule.slur == ")":
            pair = [m21_pitch.Pitch(plain.sounds[n].pitch) for n in (number - 1, number)]
            name = m21_interval.Interval(*pair).name
            # Without a key a tritone may be either of the two.
            assert (name if made.key else name.replace("d5", "A4")) == next(widths)
        sounds.append(replace(rule, pitch=found.pitch))
    return replace(made, sounds=tuple(sounds))


@pytest.fixture(scope="module")
def pieces() -> dict[str, tuple[Claim, Notation]]:
    """Every piece, read back from its notation."""
    return {claim.name: (claim, Notation(Piece(claim.name, claim.score).notation)) for claim in claims()}


@pytest.fixture(scope="module")
def texts() -> dict[str, dict[str, str]]:
    """The fields of every exercise that is read."""
    paths = (BOOK / "exercises" / f"{slug}.warmup" for slug in KNOWN)
    return {path.stem: fields_of(path.read_text(encoding="utf-8")) for path in paths}


def music_in_key(
    fields: dict[str, str], claim: Claim, key: str, pieces: dict[str, tuple[Claim, Notation]]
) -> Music:
    """What the text says, in the claim's key; a generator's music is made anew there."""
    field = f"music {claim.direction}".strip()
    music = music_of(fields, field)
    if not music.sounds[0].pitch[0].isdigit():
        semitones = round(pitch_of(claim.start).ps - pitch_of(home_of(fields["home"])[0]).ps)
        return carried(music, key, semitones, fields.get("doubles") == "keep")
    (plain,) = (
        notation.staves["Staff0"]
        for other, notation in pieces.values()
        if (other.exercise, other.start, other.label) == (claim.exercise, claim.start, AS_WRITTEN)
    )
    return named(
        music_of(
            {**fields, "home": f"{claim.start} in {key}" if key else f"{claim.start} without key"}, field
        ),
        plain,
    )


def test_every_piece_says_what_the_text_says(
    pieces: dict[str, tuple[Claim, Notation]], texts: dict[str, dict[str, str]]
) -> None:
    seen: set[str] = set()
    for claim, notation in pieces.values():
        fields = texts[claim.exercise]
        found = notation.staves["Staff0"]
        expected = music_in_key(fields, claim, found.key, pieces)
        expected = replace(expected, ends=((expected.length, "|."),))
        names = wishes(fields)[claim.label]
        for name in names:
            expected = MEANS[name](expected)
        seen |= set(names)
        assert found.sounds == expected.sounds, claim.name
        assert (found.key.partition(" ")[2], found.meter, found.pickup, found.ends) == (
            home_of(fields["home"])[1].partition(" ")[2],
            expected.meter,
            expected.pickup,
            expected.ends,
        ), claim.name
        for ours, theirs in ((found.dynamics, expected.dynamics), (found.waves, expected.waves)):
            assert {time: sorted(signs) for time, signs in ours.items()} == {
                time: sorted(signs) for time, signs in theirs.items()
            }, claim.name
    assert len(seen) >= 10
    assert {claim.exercise for claim, _ in pieces.values()} == set(texts)


def test_no_note_goes_over_a_bar_line(pieces: dict[str, tuple[Claim, Notation]]) -> None:
    for claim, notation in pieces.values():
        for name, music in notation.staves.items():
            starts = set(times(music))
            bar = music.pickup
            while bar < music.length:
                assert bar in starts, f"{claim.name}, {name}, at {bar}"
                bar += music.meter


def test_a_drone_is_held_below_the_whole_piece(
    pieces: dict[str, tuple[Claim, Notation]], texts: dict[str, dict[str, str]]
) -> None:
    counted = 0
    for claim, notation in pieces.values():
        fields = texts[claim.exercise]
        if "drone" not in fields:
            assert len(notation.staves) == 1
            continue
        home = pitch_of(home_of(fields["home"])[0])
        wanted = pitch_of(claim.start).ps + pitch_of(fields["drone"]).ps - home.ps
        low = list(notation.staves.values())[-1]
        assert {m21_pitch.Pitch(sound.pitch).ps for sound in low.sounds} == {wanted}, claim.name
        assert low.length == notation.staves["Staff0"].length
        assert [sound.tie for sound in low.sounds] == [True] * (len(low.sounds) - 1) + [False]
        assert low.sounds[0].above == "drone"
        counted += 1
    assert counted > 12


def test_singing_is_the_line_itself_in_an_octave_of_the_voice(
    pieces: dict[str, tuple[Claim, Notation]],
) -> None:
    sung = [notation for claim, notation in pieces.values() if "singing alto" in claim.label]
    for notation in sung:
        player, voice = notation.staves["Staff0"], notation.staves["Staff1"]
        assert voice.sounds[0].above == "sing"
        for one, other in zip(player.sounds, voice.sounds, strict=True):
            high, low = m21_pitch.Pitch(one.pitch), m21_pitch.Pitch(other.pitch)
            assert high.name == low.name and one.length == other.length
            # The range of a choir's altos: common practice, no source.
            assert m21_pitch.Pitch("F3").ps <= low.ps <= m21_pitch.Pitch("E5").ps


def test_the_reader_refuses_what_it_does_not_know() -> None:
    with pytest.raises(ValueError, match="what is this"):
        Notation("\\score { % a remark\n }")
    with pytest.raises(ValueError, match="in a staff"):
        Notation('\\score { \\context Staff = "Staff0" { \\context Voice = "Notes0" { \\ottava } } }')


# -- text in notation -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("still", '"still"'),
        ('say "ah"', r'"say \"ah\""'),
        ("back\\slash", r'"back\\slash"'),
        ("two\nlines\tand\x00more", '"two lines and more"'),
    ],
)
def test_a_text_is_one_string(text: str, expected: str) -> None:
    assert quoted(text) == expected
