"""Melodies of other programs become exercises: note for note, with a remark on each thing that is lost.

music21 is the judge: it reads the file, and our own MusicXML of the exercise that was made. Its corpus gives
 the melodies (three printed collections, see test_corpus.py, and parts of scores by Bach and others).
Where the two differ, a rule of docs/melodies.md says so: ties join equal notes, rests that follow each other
are one, of a chord the upper note stays, of several voices the first.
"""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
import zipfile
from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from music21 import converter, corpus, stream
from music21.midi.translate import music21ObjectToMidiFile
from music21.musicxml.m21ToXml import GeneralObjectExporter

from stavewright.bringing_in import bring_in as bringing
from stavewright.bringing_in.reader import brought
from stavewright.bringing_in.tune_file import MOST_UNPACKED, Unreadable, tune_file
from stavewright.cli.main import main
from stavewright.export.musicxml import WorkInfo, musicxml
from stavewright.language.read import read
from stavewright.music.exercise import Exercise
from stavewright.music.score import Score, Staff
from stavewright.music.winds.instruments import FLUTE

ABC = """X:1
T:Garden "gate" # 3
C:Trad.
M:6/8
L:1/8
Q:3/8=100
K:Ador
|:e|{c}ABc (def)|A3 c2 [Ace]|1 .A3 B2:|2 (3ABc A4||
A3 !f!A3|A6|]
"""
SCORE = """<?xml version="1.0"?>
<score-partwise version="4.0"><part-list>{listed}</part-list>{parts}</score-partwise>"""
NOTE = "<note><pitch><step>D</step><octave>5</octave></pitch><duration>4</duration><type>whole</type></note>"
DRUM = (
    "<note><unpitched><display-step>E</display-step><display-octave>4</display-octave></unpitched>"
    "<duration>4</duration><type>whole</type></note>"
)


def score(*parts: str) -> bytes:
    """A MusicXML file of parts, each of one bar with these elements."""
    listed = "".join(
        f'<score-part id="P{n}"><part-name>Part {n}</part-name></score-part>' for n in range(len(parts))
    )
    bars = "".join(
        f'<part id="P{n}"><measure number="1"><attributes><divisions>1</divisions><time><beats>4</beats>'
        f"<beat-type>4</beat-type></time></attributes>{bar}</measure></part>"
        for n, bar in enumerate(parts)
    )
    return SCORE.format(listed=listed, parts=bars).encode()


def archive(**files: bytes) -> bytes:
    """A zip archive of files by their names, a dot written as two underscores."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as made:
        for name, data in files.items():
            made.writestr(name.replace("__", "."), data)
    return held.getvalue()


def answer(data: bytes, part: int = 0, notes: str = "english", language: str = "en") -> dict[str, Any]:
    """What the process that reads would answer for a file's bytes."""
    tune = tune_file(data)
    asked = {"kind": tune.kind, "part": part, "file": "tune", "title": "Tune", "slug": "tune", "titles": []}
    asked |= {"notes": notes, "language": language}
    return brought(asked, tune.data)


def exercise(text: str) -> Exercise:
    """The exercise of a text, which has no faults."""
    reading = read("tune.warmup", text.encode())
    assert not reading.faults, reading.faults
    assert reading.exercise is not None
    return reading.exercise


def file_of(made: Exercise) -> bytes:
    """Our own MusicXML of an exercise as it is written."""
    (form,) = made.forms
    whole = Score(made.key, made.meter, made.tempo, (Staff(form.bars),), FLUTE.compass, made.pickup)
    return musicxml(whole, WorkInfo(made.title), FLUTE)


# -- note for note ----------------------------------------------------------------------------------------


def notes(part: Any) -> list[tuple[str, Fraction]]:
    """Pitches (empty for a rest) and lengths in quarters, as music21 reads them, by the rules above."""
    found: list[tuple[str, Fraction]] = []
    tied = False
    for measure in part.getElementsByClass(stream.Measure):
        box = next(iter(measure.voices), measure)
        for each in box.notesAndRests:
            if "Harmony" in each.classes or each.duration.isGrace or not each.quarterLength:
                continue
            length = Fraction(each.quarterLength).limit_denominator(960)
            top = None if each.isRest else max(each.pitches, key=lambda pitch: pitch.ps)
            name = "" if top is None else f"{top.name}{top.implicitOctave}"
            if found and name == found[-1][0] and (tied or not name):
                found[-1] = (name, found[-1][1] + length)
            else:
                found.append((name, length))
            tied = each.tie is not None and each.tie.type in ("start", "continue")
    return found


def pitches(notes_of: list[tuple[str, Fraction]]) -> int:
    """How many of the notes are no rests."""
    return sum(1 for name, _ in notes_of if name)


COLLECTIONS = ("airdsAirs", "oneills1850", "ryansMammoth")


@cache
def all_tunes() -> list[tuple[str, bytes]]:
    """Every tune of the collections as ABC."""
    paths = [path for path in corpus.getPaths() if path.suffix == ".abc" and path.parent.name in COLLECTIONS]
    return [tune for path in sorted(paths) for tune in _tunes_of(path)]


def _tunes_of(path: Path) -> Iterator[tuple[str, bytes]]:
    text = path.read_text(encoding="utf-8", errors="replace")
    for number, tune in enumerate(re.split(r"^(?=X:)", text, flags=re.MULTILINE)[1:]):
        yield f"{path.name} {number}", tune.encode()


@cache
def all_scores() -> list[Path]:
    """Every score of the corpus as MusicXML."""
    found = [path for path in corpus.getPaths() if path.suffix in (".mxl", ".xml", ".musicxml")]
    return sorted(found)


def assert_same(data: bytes, name: str) -> None:
    """Our text of a file has the notes of the file, when music21 reads both."""
    made = answer(data, 1)
    back = converter.parseData(file_of(exercise(made["text"])).decode(), format="musicxml")
    kind = "abc" if data.startswith(b"X:") else "musicxml"
    # With a decoration before a note, music21 loses notes of the bar ("Hg2G/A/").
    text = (
        MUSIC.sub(lambda row: DECORATION.sub("", row[0]), data.decode())
        if kind == "abc"
        else ET.tostring(ET.fromstring(tune_file(data).data), "unicode")
    )
    first = converter.parseData(text, format=kind)
    first = first.scores[0] if "Opus" in first.classes else first
    part = next(part for part in (first.parts or [first]) if part.recurse().notes)
    wanted = notes(part)
    assert pitches(wanted) > 4, name
    assert notes(back.parts[0]) == wanted, name


MUSIC = re.compile(r"^(?![A-Za-z]:).*", re.MULTILINE)
DECORATION = re.compile(r"![^!\s]+!|[~HLMOPST](?=[_^=]*[A-Ga-g])")
REFUSED = re.compile(r"which the language cannot write|no meter of the language|more than")
"""Why a melody may be refused: too much music, or a length without a word here. In ABC music21 makes odd
lengths of grace notes within triplets."""


def assert_tunes_come_back(tunes: list[tuple[str, bytes]]) -> None:
    """Tunes as ABC, and every fifth as music21's own MusicXML of it."""
    assert len(tunes) > 9
    refused = 0
    for number, (name, data) in enumerate(tunes):
        try:
            assert_same(data, name)
        except Unreadable as error:
            assert REFUSED.search(str(error)), (name, str(error))
            refused += 1
            continue
        if number % 5 == 0:
            whole = converter.parseData(data.decode(), format="abc")
            whole = whole.scores[0] if "Opus" in whole.classes else whole
            assert_same(GeneralObjectExporter(whole).parse(), f"{name} as MusicXML")
    assert refused <= len(tunes) // 20


def test_tunes_of_the_corpus_come_back_note_for_note() -> None:
    assert_tunes_come_back(all_tunes()[7::320])


@pytest.mark.exhaustive
@pytest.mark.parametrize("part", range(4))
def test_more_tunes_of_the_corpus_come_back_note_for_note(part: int) -> None:
    """A hundred and more."""
    assert_tunes_come_back(all_tunes()[part * 7 + 3 :: 140])


def assert_scores_come_back(scores: list[Path]) -> None:
    """The first parts; one is refused only for a length without a word here, or for too much music."""
    refused = 0
    assert len(scores) > 9
    for path in scores:
        try:
            assert_same(path.read_bytes(), path.name)
        except Unreadable as error:
            assert REFUSED.search(str(error)), (path.name, str(error))
            refused += 1
        except AssertionError as error:
            if "more than 1,000 notes" not in str(error) and "more than 400 bars" not in str(error):
                raise
            refused += 1
    assert refused <= len(scores) // 5


def test_scores_of_the_corpus_come_back_note_for_note() -> None:
    assert_scores_come_back(all_scores()[11::60])


@pytest.mark.exhaustive
@pytest.mark.parametrize("part", range(4))
def test_more_scores_of_the_corpus_come_back_note_for_note(part: int) -> None:
    """A hundred."""
    assert_scores_come_back(all_scores()[part * 6 + 2 :: 26])


# -- what else is kept ------------------------------------------------------------------------------------

EVERYTHING = """title: All
home: D5 in D dorian
meter: 4/4
tempo: q. = 54 to 66
pickup: q
travel: twelve keys, semitones down
music:
  q D5 mf |
  |: slur( h D5 q E5 F5 ) |
  louder( D5 p E5 ) softer( e F5 f trill( flat ) G5 A5 breath B5 ) |
  grace( C#5 E5 ) q D5 staccato E5 staccato tenuto F5 portato G5 marcato |
  h D5 tie D5 |
  first-time( w E5 :| )
  second-time( D5 fermata | )
  tuplet( 3:2 q D5 E5 F5 ) h D5 above "still" below "deep" |
  meter( 3/4 ) tempo( h = 40 ) h. D5 say "doo" ||
  q D5 mordent E5 inverted-mordent F5 turn |
  D5 bend-up E5 short-fermata F5 bend-down long-fermata |
  rest D5 accent tuplet( 6:4 s D5 E5 F5 D5 E5 F5 ) |
  h. D5 |
"""


def test_what_the_language_says_comes_back_from_our_own_file() -> None:
    """Slurs, hairpins, marks, words, endings, meters and tempos: the music of the text is the same again."""
    text = answer(file_of(exercise(EVERYTHING)))["text"]

    def words(said: str) -> list[str]:
        """The words of the music; two articulations of one note may stand in either order."""
        return said.replace("tenuto staccato", "staccato tenuto").split("home:")[1].split()

    assert words(text) == words(EVERYTHING)


def test_a_slur_over_an_ending_is_left_out() -> None:
    tune = ABC.replace("A3 c2 [Ace]|1 .A3 B2", "A3 c3|1 (A3 B2").replace("|2 (3ABc A4", "|2 (3ABc A3) A")
    made = answer(tune.encode())
    exercise(made["text"])
    assert "Bar 4: a slur that crosses another group; left out." in made["remarks"]


def test_what_is_lost_is_remarked() -> None:
    made = answer(ABC.encode())
    text = made["text"]
    assert 'title: Garden "gate" # 3\n' in text
    assert "source: Trad.\n" in text
    assert "home: A4 in A dorian\n" in text
    assert "pickup: e\n" in text
    assert "tempo: q. = 100\n" in text
    assert "# - Bar 3: chords; only the upper note of each is kept.\n" in text
    assert "A4 A4 f |" in text
    assert "rights: private\n" in text
    assert not exercise(text).publishable


def test_a_key_and_a_mode_that_are_not_named_are_remarked() -> None:
    said = " ".join(answer(score(NOTE))["remarks"])
    assert "the file names no mode; C major is taken" in said.replace("The file", "the file")
    assert "no tempo" in said


def test_midi_is_spelled_by_its_key() -> None:
    """A file of our own has the same sounds again, and no note has a name far from its key."""
    text = "title: A\nhome: Eb5 in E flat major\nmusic:\n  q Eb5 F5 G5 Ab5 | Bb5 C6 D6 Eb6 | w Bb5\n"
    whole = converter.parseData(file_of(exercise(text)).decode(), format="musicxml")
    data = music21ObjectToMidiFile(whole).writestr()
    made = exercise(answer(data)["text"])
    assert made.key.name == "E flat major"
    names = [str(event.pitch) for bar in made.forms[0].bars for event in bar.events if event.pitch]
    assert names == ["Eb5", "F5", "G5", "Ab5", "Bb5", "C6", "D6", "Eb6", "Bb5"]


# -- several parts, and what is no melody -----------------------------------------------------------------


def test_parts_are_chosen_and_said() -> None:
    two = score(NOTE, NOTE.replace("<step>D", "<step>E"))
    first = answer(two)
    assert "This is part 1 (Part 0) of 2 in the file: 1 Part 0, 2 Part 1." in first["remarks"]
    assert "w D5" in first["text"]
    assert "w E5" in answer(two, 2)["text"]
    assert answer(two, 3)["what"] == "there is no part 3: the file has 1 Part 0, 2 Part 1"
    many = answer(score(*[NOTE] * 10))
    assert many["what"].startswith("the file has 10 parts: 1 Part 0, 2 Part 1,")
    assert "--part" in many["mend"]


ENTITY = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]><x>&b;</x>'
BAD = {
    "empty": (b" \n", "the file is empty"),
    "text": (b"Dear reader,\nthis is a letter.\n", "neither MusicXML nor ABC nor MIDI"),
    "bytes": (bytes(range(256)) * 9, "neither MusicXML nor ABC nor MIDI"),
    "half an archive": (archive(a__xml=score(NOTE))[:60], "the archive cannot be unpacked"),
    "no score in it": (archive(a__txt=b"x"), "the archive holds no MusicXML"),
    "archive bomb": (archive(a__xml=b"<a>" + b" " * (MOST_UNPACKED + 1)), "unpacks to more than 32 MB"),
    "many files": (archive(**{f"f{n}__xml": b"" for n in range(1001)}), "the archive holds 1,001 files"),
    "entities": (ENTITY, "the XML declares entities"),
    "entities in an archive": (archive(a__xml=ENTITY), "the XML declares entities"),
    "deep": (b"<a>" * 50 + b"</a>" * 50, "too deeply nested"),
    "half": (score(NOTE)[:200], "the XML is broken at line 2"),
    "unknown encoding": (b'<?xml version="1.0" encoding="klingon"?><a/>', "encoding"),
    "MIDI's head": (b"MThd\0\0\0\6\0\1\0\1\0", "the MIDI file breaks off in its header"),
    "page": (b"<html><body>no</body></html>", "not partwise MusicXML"),
    "no notes": (score("<note><rest/><duration>4</duration></note>"), "there are no notes in the file"),
    "drum": (score(DRUM), "notes without a pitch"),
}


@pytest.mark.parametrize("name", BAD)
def test_what_is_no_melody_is_refused(name: str) -> None:
    data, what = BAD[name]
    with pytest.raises(Unreadable) as error:
        answer(data)
    assert what in str(error.value)
    assert error.value.mend


# -- the command ------------------------------------------------------------------------------------------


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """A book with one exercise."""
    (tmp_path / "docs").mkdir()
    (tmp_path / "exercises").mkdir()
    (tmp_path / "mkdocs.yml").write_text(
        "site_name: B\ntheme: {name: stavewright}\nplugins: [search, stavewright]\n".replace("search, ", "")
    )
    text = "title: Garden gate\nrights: x\nhome: D5 in D major\nmusic:\n  w D5\n"
    (tmp_path / "exercises/one.warmup").write_text(text)
    return tmp_path


def test_new_from_a_file_writes_an_exercise_that_check_names(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tune = book / "tune.abc"
    tune.write_text(ABC.replace('"gate" # 3', "gate"))
    assert main(["new", "gate", "--from", str(tune), "--book", str(book)]) == 0
    out = capsys.readouterr().out
    assert "gate: Bar 3: chords; only the upper note of each is kept." in out
    assert "fill in its line `rights:`" in out
    text = (book / "exercises/gate.warmup").read_text()
    assert "title: Garden gate (gate)\n" in text
    assert main(["check", "--book", str(book)]) == 0
    assert "gate: left out of the site, because its rights say private" in capsys.readouterr().out
    assert main(["new", "gate", "--from", str(tune), "--book", str(book)]) == 1
    assert "there is an exercise of that name" in capsys.readouterr().err
    assert (book / "exercises/gate.warmup").read_text() == text


@pytest.mark.parametrize(
    ("name", "options", "status", "said"),
    [
        ("none.abc", [], 2, "cannot be read: No such file"),
        ("letter.txt", [], 1, "neither MusicXML nor ABC nor MIDI"),
        ("two.xml", ["--part", "3"], 2, "there is no part 3"),
        ("ten.xml", [], 2, "the file has 10 parts"),
    ],
)
def test_bad_wishes_write_nothing(
    book: Path, capsys: pytest.CaptureFixture[str], name: str, options: list[str], status: int, said: str
) -> None:
    (book / "letter.txt").write_text("Dear reader")
    (book / "two.xml").write_bytes(score(NOTE, NOTE))
    (book / "ten.xml").write_bytes(score(*[NOTE] * 10))
    assert main(["new", "gate", "--from", str(book / name), *options, "--book", str(book)]) == status
    assert said in capsys.readouterr().err
    assert [path.name for path in (book / "exercises").iterdir()] == ["one.warmup"]


def test_reading_has_a_time_limit(book: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (book / "two.xml").write_bytes(score(NOTE))
    monkeypatch.setattr(bringing, "LONGEST", 0.05)
    with pytest.raises(Unreadable, match="reading takes more than"):
        bringing.bring_in(book / "two.xml", "gate")


def test_without_music21_it_says_how_to_install_it(
    book: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(bringing, "find_spec", lambda name: None)
    (book / "tune.abc").write_text(ABC)
    assert main(["new", "gate", "--from", str(book / "tune.abc"), "--book", str(book)]) == 2
    assert "pip install 'stavewright[import]'" in capsys.readouterr().err
