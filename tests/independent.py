"""Two small readers that share nothing with the project: one of the notation handed to the engraver, one of
the text of an exercise. Both give the same plain values, so that a test can lay one beside the other.

The reader of notation knows as much of LilyPond's language as the pieces use and refuses everything else.
The reader of texts knows the words of five exercises of the demo book. Pitches are music21's.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction as F

from music21 import interval as m21_interval
from music21 import pitch as m21_pitch

KNOWN = ("far-shore", "late-light", "new-britain", "slow-tide", "widening-gate")
"""The exercises of the demo book that the readers know all words of; the others are compared as MusicXML."""


@dataclass(frozen=True)
class Sound:
    """A note or (where `pitch` is empty) a rest: its name with octave as music21 writes it, its length."""

    pitch: str
    length: F
    tie: bool = False
    slur: str = ""
    marks: frozenset[str] = frozenset()
    above: str = ""
    syllable: str = ""


Signs = dict[F, list[str]]


@dataclass(frozen=True)
class Music:
    """A staff: its sounds, and by their time from the beginning the dynamics and the waves of vibrato."""

    key: str
    meter: F
    pickup: F
    sounds: tuple[Sound, ...]
    dynamics: Signs = field(default_factory=dict)
    waves: Signs = field(default_factory=dict)
    ends: tuple[tuple[F, str], ...] = ()
    drone: str = ""

    @property
    def length(self) -> F:
        """The length of the whole, in whole notes."""
        return sum((sound.length for sound in self.sounds), F(0))


# -- the notation ---------------------------------------------------------------------------------------

_TOKEN = re.compile(
    r"""\s+ | (?P<string>"(?:\\.|[^"\\])*") | (?P<decimal>\#\d+(?:\.\d+)?)
    | (?P<scheme>\#\#[tf]|\#'\((?:[^()]|\([^()]*\))*\))
    | (?P<command>\\[A-Za-z]+|\\[<>!]) | (?P<open><<|\{) | (?P<close>>>|\})
    | (?P<note>(?:[a-g](?:ss|ff|s|f)?[',]*[!?]?|[rs])\d+\.*(?![\w'])) | (?P<factor>\d*\*\d+(?:/\d+)?)
    | (?P<ratio>\d+/\d+) | (?P<word>[A-Za-z][A-Za-z-]*) | (?P<number>\d+) | (?P<sign>[][~()^_=-])""",
    re.VERBOSE,
)
_MARKS = {rf"\{name}" for name in ("staccato", "tenuto", "portato", "accent", "marcato", "fermata", "trill")}
_SILENT = {r"\break", r"\autoLineBreaksOff", r"\italic", r"\small", r"\words", r"\clef"}
_ALTERS = {"": 0, "s": 1, "f": -1, "ss": 2, "ff": -2}


def _tokens(text: str) -> Iterator[tuple[str, str]]:
    place = 0
    while place < len(text):
        match = _TOKEN.match(text, place)
        if match is None:
            raise ValueError(f"what is this? {text[place : place + 40]!r}")
        place = match.end()
        if match.lastgroup:
            yield match.lastgroup, match[0]


def _pitch_and_length(text: str) -> tuple[str, F]:
    match = re.fullmatch(r"([a-grs])(ss|ff|s|f)?([',]*)[!?]?(\d+)(\.*)", text)
    assert match is not None
    letter, alter, marks, base, dots = match.groups()
    length = F(1, int(base)) * (2 - F(1, 2 ** len(dots)))
    if letter in "rs":
        return "", length
    octave = 3 + marks.count("'") - marks.count(",")
    return m21_pitch.Pitch(
        step=letter.upper(), accidental=_ALTERS[alter or ""] or None, octave=octave
    ).nameWithOctave, length


class Notation:
    """The staves of one piece by name (`Staff0`, ...), read from its notation."""

    def __init__(self, text: str) -> None:
        self._tokens = list(_tokens(text))
        self._place = 0
        self.staves: dict[str, Music] = {}
        self._rows: dict[str, Signs] = {}
        self._syllables: dict[str, list[tuple[str, F]]] = {}
        self._expect(r"\score")
        self._block("")
        assert self._place == len(self._tokens), "something stands after the score"
        for name in list(self.staves):
            self._dress(name, name.removeprefix("Staff"))

    def _next(self) -> tuple[str, str]:
        self._place += 1
        return self._tokens[self._place - 1]

    def _peek(self) -> str:
        return self._tokens[self._place][1] if self._place < len(self._tokens) else ""

    def _expect(self, text: str) -> None:
        found = self._next()[1]
        assert found == text, f"{found!r} instead of {text!r}"

    def _block(self, name: str) -> None:
        """What stands between brackets: contexts one inside another."""
        kind, _ = self._next()
        assert kind == "open"
        while self._tokens[self._place][0] != "close":
            kind, text = self._next()
            if text == r"\layout":
                self._skip()
            elif text in (r"\new", r"\context"):
                self._context()
            else:
                raise ValueError(f"{text!r} in {name or 'the score'}")
        self._next()

    def _skip(self) -> None:
        assert self._next()[0] == "open"
        while self._next()[0] != "close":
            pass

    def _context(self) -> None:
        kind, name = self._next()[1], ""
        if self._peek() == "=":
            self._next()
            name = self._next()[1].strip('"')
        if kind in ("Staff", "SmallStaff"):
            self._expect("{")
            self._expect(r"\context")
            self._expect("Voice")
            self._expect("=")
            self._next()
            self._expect("{")
            self.staves[name] = self._staff()
            self._expect("}")
        elif kind in ("Dynamics", "Waves"):
            self._rows[name] = self._row()
        elif kind == "Lyrics":
            self._syllables[name] = self._lyrics()
        else:
            assert kind in ("Score", "StaffGroup"), kind
            self._block(name)

    def _staff(self) -> Music:
        key, meter, pickup = "", F(1), F(0)
        sounds: list[Sound] = []
        ends: list[tuple[F, str]] = []
        now, above, scale, depth = F(0), False, F(1), 1
        while depth:
            kind, text = self._next()
            if kind == "note":
                pitch, length = _pitch_and_length(text)
                sounds.append(Sound(pitch, length * scale))
                now += length * scale
            elif kind == "close":
                depth, scale = depth - 1, F(1)
            elif text == r"\key":
                tonic, mode = self._next()[1], self._next()[1]
                key = f"{tonic} {mode[1:]}"
            elif text == r"\time":
                meter = F(self._next()[1])
            elif text == r"\partial":
                base, _, factor = self._next()[1].partition("*")
                pickup = F(1, int(base)) * F(factor)
            elif text in (r"\clef", r"\barFrom", r"\lineNumber"):
                self._next()
            elif text == r"\bar":
                sign = self._next()[1].strip('"')
                ends += [(now, sign)] if sign else []
            elif text == r"\tuplet":
                scale = 1 / F(self._next()[1])
                self._expect("{")
                depth += 1
            elif text in "[]-":
                # Beams are compared with music21's in tests/test_beams.py; a dash leaves a sign its side.
                continue
            elif text in "()":
                sounds[-1] = replace(sounds[-1], slur=sounds[-1].slur + text)
            elif text == "~":
                sounds[-1] = replace(sounds[-1], tie=True)
            elif text in _MARKS:
                sounds[-1] = replace(sounds[-1], marks=sounds[-1].marks | {text[1:]})
            elif text == r"\breatheAt":
                self._next()
                sounds[-1] = replace(sounds[-1], marks=sounds[-1].marks | {"breath"})
            elif text in "^_":
                above = text == "^"
            elif kind == "string":
                if above:
                    sounds[-1] = replace(sounds[-1], above=text[1:-1].replace('\\"', '"'))
            elif text not in _SILENT and text != r"\markup":
                raise ValueError(f"{text!r} in a staff")
        return Music(key, meter, pickup, tuple(sounds), ends=tuple(ends))

    def _row(self) -> Signs:
        """A row of spaces with signs: each time from the beginning with its signs, times without left out."""
        self._expect("{")
        signs: Signs = {}
        now = ahead = F(0)
        while True:
            kind, text = self._next()
            if kind == "close":
                return signs
            if kind == "note":
                assert text == "s1"
                now += ahead
                ahead = F(self._next()[1].removeprefix("*"))
            else:
                assert text == r"\shade", text
                mark = self._next()[1].strip('"').replace(">o", "o>")
                signs.setdefault(now + F(self._next()[1]) * ahead, []).append(mark)

    def _lyrics(self) -> list[tuple[str, F]]:
        self._expect("{")
        self._expect(r"\lyricmode")
        self._expect("{")
        found: list[tuple[str, F]] = []
        while self._peek() != "}":
            text = self._next()[1]
            base, _, factor = self._next()[1].partition("*")
            assert base == "1"
            found.append(("" if text == r"\skip" else text.strip('"'), F(factor)))
        self._expect("}")
        for text in ("s1", "*0", "}"):
            self._expect(text)
        return found

    def _dress(self, name: str, number: str) -> None:
        """Give a staff what stands in rows beside it."""
        music = self.staves[name]
        words = self._syllables.get(f"Syllables{number}", [])
        if words:
            assert [length for _, length in words] == [sound.length for sound in music.sounds]
            pairs = zip(music.sounds, words, strict=True)
            music = replace(music, sounds=tuple(replace(sound, syllable=word) for sound, (word, _) in pairs))
        self.staves[name] = replace(
            music,
            dynamics=self._rows.get(f"Dynamics{number}", {}),
            waves=self._rows.get(f"Waves{number}", {}),
        )


# -- the text -------------------------------------------------------------------------------------------

_WORD = re.compile(r'"[^"]*"|[a-z-]+\(|[^\s()",|]+|\|[|:.]?|:\||[),]')
_VALUES = {"w": F(1), "h": F(1, 2), "q": F(1, 4), "e": F(1, 8), "s": F(1, 16)}
_LEVELS = {"ppp", "pp", "p", "mp", "mf", "f", "ff", "fff"}
_NAMES = {"whole": F(1), "half": F(1, 2), "quarter": F(1, 4), "eighth": F(1, 8)}
_PLAIN_MARKS = {"fermata", "staccato", "tenuto", "accent", "marcato", "portato", "trill"}


def fields_of(source: str) -> dict[str, str]:
    """The fields of an exercise, their lines joined."""
    fields: dict[str, str] = {}
    name = ""
    for line in source.split("\n"):
        if line.startswith("#"):
            continue
        if line[:1].isspace():
            fields[name] += "\n" + line
        elif line.strip():
            name, _, text = line.partition(":")
            fields[name] = text.strip()
    return fields


def pitch_of(text: str) -> m21_pitch.Pitch:
    """A pitch as the text writes it; music21 writes a flat as a minus sign."""
    return m21_pitch.Pitch(text[0] + text[1:].replace("b", "-"))


def _opened_octave(home: m21_pitch.Pitch, value: F) -> list[Sound]:
    """The octave above home from its middle outward, by sound alone; spelled by the piece in the home key."""
    middle = home.ps + 6
    found = [Sound(str(middle), value * 2, marks=frozenset({"breath"}))]
    for number in range(1, 13):
        low = middle - number // 2
        found.append(Sound(str(low), value, slur="("))
        marks = frozenset({"breath"}) if number % 2 == 0 else frozenset()
        found.append(Sound(str(low + number), value, slur=")", marks=marks))
    return found


def home_of(field: str) -> tuple[str, str]:
    """The home pitch and the key of a field such as `D5 in D major`; no key in `D5 without key`."""
    pitch, _, rest = field.partition(" ")
    return pitch, rest.removeprefix("in ") if rest.startswith("in ") else ""


def music_of(fields: dict[str, str], name: str = "music") -> Music:
    """A music field of an exercise in its home key, as its words say."""
    home_text, key = home_of(fields["home"])
    home = pitch_of(home_text)
    sounds: list[Sound] = []
    dynamics: Signs = {}
    value, now = F(1, 4), F(0)
    open_groups: list[str] = []
    waiting: list[str] = []
    # Signs are kept by the number of their note: its beginning's time is known when it is reached.
    starts: list[F] = []
    for word in _WORD.findall(fields[name]):
        if word.endswith("(") and word[:-1] in ("slur", "louder", "softer"):
            open_groups.append(word[:-1])
            waiting.append(word[:-1])
        elif word == "opened-octave(":
            open_groups.append("opened-octave")
        elif word == ")":
            group = open_groups.pop()
            if group == "slur":
                sounds[-1] = replace(sounds[-1], slur=sounds[-1].slur + ")")
            elif group == "opened-octave":
                sounds += _opened_octave(home, value)
            else:
                dynamics.setdefault(now, []).append("!")
        elif word.rstrip(".") in _VALUES:
            value = _VALUES[word.rstrip(".")] * (2 - F(1, 2 ** word.count(".")))
        elif word in _LEVELS:
            dynamics.setdefault(starts[-1], []).append(word)
        elif word == ",":
            sounds[-1] = replace(sounds[-1], marks=sounds[-1].marks | {"breath"})
        elif word == "tie":
            sounds[-1] = replace(sounds[-1], tie=True)
        elif word in _PLAIN_MARKS:
            sounds[-1] = replace(sounds[-1], marks=sounds[-1].marks | {word})
        elif word in ("|", "||"):
            pass
        elif word == "rest" or re.match(r"[A-G+-]", word):
            pitch = ""
            if word[0] in "+-":
                step = m21_interval.Interval(word.lstrip("+"))
                pitch = home.transpose(step).nameWithOctave
            elif word != "rest":
                pitch = pitch_of(word).nameWithOctave
            slur = "(" if "slur" in waiting else ""
            signs = [{"louder": "<", "softer": ">"}[group] for group in waiting if group != "slur"]
            if signs:
                dynamics.setdefault(now, []).extend(signs)
            waiting.clear()
            sounds.append(Sound(pitch, value, slur=slur))
            starts.append(now)
            now += value
        else:
            raise ValueError(f"this reader does not know {word!r}")
    pickup = _NAMES[fields["pickup"]] if "pickup" in fields else F(0)
    drone = pitch_of(fields["drone"]).nameWithOctave if "drone" in fields else ""
    meter = F(fields.get("meter", "4/4"))
    return Music(key, meter, pickup, tuple(sounds), dynamics, drone=drone)
