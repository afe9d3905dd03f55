"""Everything that can be wrong in a book is said at its place, in words that tell how to mend it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from stavewright.book.read import BookProblem, open_book
from stavewright.language.faults import BookFaults, Fault, nearest
from stavewright.language.field_words import FIELDS
from stavewright.language.fields import MAX_BYTES
from stavewright.language.read import read
from stavewright.variations import variations

WriteBook = Callable[[dict[str, str | bytes]], Path]

HEAD = "title: T\nhome: D5 in D major\n"
NOT_A_PITCH = "a pitch is written like C4, F#5 or Bb3"
FIRST = "put it after its note"


def faults(source: str | bytes, file: str = "e.warmup") -> list[str]:
    """The faults of a file as a user reads them, without the file's name."""
    data = source if isinstance(source, bytes) else source.encode()
    found = read(file, data)
    assert (found.exercise is None) == bool(found.faults)
    return [str(fault).removeprefix(f"{file}:") for fault in found.faults]


MUSIC = [
    # Bar lengths.
    (
        "h D5 q E5 | w D5",
        "3:10: bar 1 has 3 beats, and 4/4 needs 4 beats; add 1 beat, "
        "or say `pickup:` if the music begins before the first full bar",
    ),
    ("w D5 q E5", "3:10: bar 1 has 5 beats, and 4/4 needs 4 beats; take away 1 beat"),
    (
        "w D5 | h. D5 e E5",
        "3:18: bar 2 has 3 1/2 beats, and 4/4 needs 4 beats; add 1/2 beat",
    ),
    ("w D5 | | w D5", "3:15: a bar with nothing in it; take out one bar line, or write `w rest`"),
    ("w rest", "3:14: 'music' has no notes; add at least one, such as `w D5`"),
    ("", "3:7: 'music' has no notes; add at least one, such as `w D5`"),
    # Pitches.
    ("h D5 F#", "3:13: 'F#' is not a pitch, value or word; add its octave: `F#4` or `F#5`"),
    ("w d5", "3:10: 'd5' is not a pitch, value or word; did you mean 'D5'?"),
    (
        "w H5",
        "3:10: 'H5' is no name of a note here; that is a German name: write B5, or `notes: german` in this "
        "file",
    ),
    ("w D###5", f"3:10: 'D###5' is not a pitch, value or word; {NOT_A_PITCH}"),
    ("w D10", "3:10: 'D10' is not a pitch, value or word; octaves go from 0 to 9, and middle C is C4"),
    ("w D5 $$ E5", f"3:13: '$$' is not a pitch, value or word; {NOT_A_PITCH}"),
    (
        "w +P3",
        "3:10: '+P3' does not exist: that interval is major, minor, diminished or augmented; "
        "write a pitch such as F#5, or an interval such as +m3",
    ),
    (
        "w +P0",
        "3:10: intervals are counted from 1, the unison; "
        "write a pitch such as F#5, or an interval such as +m3",
    ),
    # Words.
    ("w D5 stacato", "3:13: unknown word 'stacato'; did you mean 'staccato'?"),
    (
        "w D5 zzzzq",
        "3:13: unknown word 'zzzzq'; every word of the language is on the site's language page",
    ),
    ("w D5 slur", "3:13: 'slur' needs brackets; write `slur( h D5 q E5 F#5 )`"),
    ("opened-octave", "3:8: 'opened-octave' needs brackets; write `opened-octave( q )`"),
    ("slurr( w D5 )", "3:8: unknown group 'slurr'; did you mean 'slur'?"),
    ("fermata w D5", f"3:8: 'fermata' comes before the first note; {FIRST}"),
    ("tie w D5", f"3:8: 'tie' comes before the first note; {FIRST}"),
    ("p w D5", f"3:8: 'p' comes before the first note; {FIRST}"),
    (", w D5", f"3:8: ',' comes before the first note; {FIRST}"),
    ('above "x" w D5', f"3:8: 'above' comes before the first note; {FIRST}"),
    # A word is named whole, and what was written is never the advice.
    ("w... D5", "3:8: 'w...' is not a pitch, value or word; a note value has two dots at most: `w..`"),
    ("w D5.", "3:10: 'D5.' is not a pitch, value or word; did you mean 'D5'?"),
    ("w D5 fermata;", "3:13: 'fermata;' is not a pitch, value or word; did you mean 'fermata'?"),
    ("w D5 staccatto!", "3:13: 'staccatto!' is not a pitch, value or word; did you mean 'staccato'?"),
    ("qD5 h. D5", "3:8: 'qD5' is not a pitch, value or word; put a space between them: `q D5`"),
    ("w-D5", f"3:8: 'w-D5' is not a pitch, value or word; {NOT_A_PITCH}"),
    ("w D5 above", "3:13: 'above' has no words; write `w D5 above \"still\"`"),
    # Quotes.
    (
        'w D5 above "x',
        "3:19: '\"x' does not belong here; words in quotes begin and end with a quote on the same line",
    ),
    (f'w D5 above "{"x" * 81}"', "3:19: words on the staff of 81 characters; keep them to 80"),
    (f'w D5 say "{"x" * 13}"', "3:17: words on the staff of 13 characters; keep them to 12"),
    # Groups.
    ("slur( w D5", "3:18: a group is not closed; add `)` after its last note"),
    ("w D5 )", "3:13: ')' closes nothing; take it out, or begin a group such as `slur(`"),
    ("slur( ) w D5", "3:8: there are no notes in `slur( )`; put notes in it"),
    ("tuplet( q D5 E5 F#5 ) h D5", "3:8: a tuplet begins with its ratio; write `tuplet( 3:2 ... )`"),
    (
        "tuplet( 0:2 q D5 ) h D5",
        "3:8: the tuplet 0:2 cannot be read; write a ratio such as 3:2, and no tuplet inside another",
    ),
    (
        "triplet( triplet( q D5 E5 F#5 ) ) h D5",
        "3:17: the tuplet 3:2 cannot be read; write a ratio such as 3:2, and no tuplet inside another",
    ),
    (
        "h. D5 triplet( q D5 | E5 F#5 ) h D5",
        "3:14: a tuplet goes over a bar line; end it before the bar line",
    ),
    ("w 3:2 D5", f"3:10: '3:2' is not a pitch, value or word; {NOT_A_PITCH}"),
    ("w D5 grace( C#5 )", "3:25: grace notes have no note after them; add the note that they lead to"),
    ("h D5 grace( C#5 ) rest", "3:26: grace notes come before a rest; add the note that they lead to"),
    ("grace( q C#5 ) w D5", "3:8: grace notes are pitches alone; write `grace( C#5 ) D5`"),
    # Ties, endings and changes.
    ("h D5 tie E5", "3:13: the tie joins D5 to E5; tie equal pitches"),
    ("h D5 tie rest", "3:13: the tie joins D5 to a rest; tie equal pitches"),
    ("w D5 tie", "3:13: a tie from the last note goes nowhere; take it out, or add the note"),
    (
        "second-time( w D5 )",
        "3:8: `second-time( )` does not belong here; write `first-time( ... :| ) second-time( ... )`",
    ),
    (
        "|: w D5 | first-time( w E5 ) second-time( w D5 )",
        "3:18: a first ending does not repeat; write `:|` before its `)`",
    ),
    ("h D5 meter( 3/4 ) h E5", "3:13: `meter( )` is inside a bar; put it after a bar line"),
    (
        "w D5 | meter( 99/7 ) w D5",
        "3:22: 99/7 is not a meter; write beats over a note value, such as 4/4 or 6/8",
    ),
    (
        "w D5 | meter( q = 60 ) w D5",
        "3:15: `meter( )` cannot be read; write it as in `w D5 | meter( 3/4 ) h E5 q F#5`",
    ),
    (
        "w D5 | tempo( q = 5 ) w D5",
        "3:26: 5 to 5 is not a tempo; give beats a minute from 20 to 400, the slower first",
    ),
    (
        "clef( violin ) w D5",
        "3:8: unknown clef; write one of treble, bass, tenor, alto, as in `clef( bass )`",
    ),
    # Generators.
    (
        "opened-octave( h q )",
        "3:8: `opened-octave( )` takes a note value and words; write it as in `opened-octave( h )`",
    ),
    (
        "widening( q sideways )",
        "3:20: `widening( )`: 'sideways' says nothing to it; it takes up, down, chromatic, diatonic; "
        "write it as in `widening( q diatonic )`",
    ),
    (
        "scale( q up down )",
        "3:8: `scale( )`: 'up' and 'down' cannot both be; write it as in `scale( e dorian )`",
    ),
]


@pytest.mark.parametrize(("music", "expected"), MUSIC, ids=[music[:30] for music, _ in MUSIC])
def test_faults_in_the_music(music: str, expected: str) -> None:
    assert faults(f"{HEAD}music: {music}\n") == [expected]


FIELD_FAULTS = [
    # Missing and superfluous fields.
    (
        "home: D5 in D major\nmusic: w D5\n",
        "1:1: the field 'title' is missing; add a line such as `title: Slow tide`",
    ),
    ("title: T\nmusic: w D5\n", "1:1: the field 'home' is missing; add a line such as `home: D5 in D major`"),
    (HEAD, "1:1: the field 'music' is missing; add a line such as `music: h D5 q C#5 D5 | w E5 ,`"),
    (
        f"{HEAD}music: w D5\ntitle: U\n",
        "4:1: the field 'title' appears a second time; keep one; the first is on line 1",
    ),
    (f"{HEAD}music: w D5\npurpse: x\n", "4:1: unknown field 'purpse'; did you mean 'purpose'?"),
    (f"{HEAD}music: w D5\nPurpose: x\n", "4:1: unknown field 'Purpose'; did you mean 'purpose'?"),
    (
        f"{HEAD}music: w D5\nzebra: x\n",
        f"4:1: unknown field 'zebra'; the fields are {', '.join(FIELDS)}",
    ),
    (
        f"{HEAD}music: w D5\nmusic rising: w D5\n",
        "3:1: `music` is there beside a form for one direction; write `music rising` and `music falling`",
    ),
    (
        f"{HEAD}music: w D5\nhello world\n",
        "4:1: 'hello world' is not a field; "
        "write `field: text`, or set the line in by two spaces if it goes on from the one above",
    ),
    (
        f"  hello\n{HEAD}music: w D5\n",
        "1:1: this line is not part of a field; begin a field at the margin, such as `title: Slow tide`",
    ),
    # Grades.
    (
        f"{HEAD}grade: six\nmusic: w D5\n",
        "3:7: the grade cannot be 'six'; write a number from 1 to 5, such as `2` or `2; eight levels 3`",
    ),
    (
        f"{HEAD}grade: 2; slurred 0\nvariations: slurred\nmusic: w D5\n",
        "3:7: the grade of slurred cannot be '0'; "
        "write a number from 1 to 5, such as `2` or `2; eight levels 3`",
    ),
    (
        f"{HEAD}grade: 2; slured 3\nvariations: slurred\nmusic: w D5\n",
        "3:7: 'grade' names 'slured', which is none of the variations; did you mean 'slurred'?",
    ),
    # Empty and overlong ones.
    (
        "title:\nhome: D5 in D major\nmusic: w D5\n",
        "1:7: 'title' says nothing; write `title: Slow tide`, or take the line out",
    ),
    (
        f"title: {'x' * 121}\nhome: D5 in D major\nmusic: w D5\n",
        "1:7: 'title' is 121 characters long, and 120 is the most; shorten it",
    ),
    (
        f"{HEAD}kind: {'x' * 61}\nmusic: w D5\n",
        "3:6: 'kind' is 61 characters long, and 60 is the most; shorten it",
    ),
    # Home and key.
    ("title: T\nhome:\nmusic: w D5\n", "2:6: 'home' says nothing; write it like `home: D5 in D major`"),
    (
        "title: T\nhome: D5\nmusic: w D5\n",
        "2:9: 'home' breaks off after 'D5'; write it like `home: D5 in D major`",
    ),
    (
        "title: T\nhome: D5 D major\nmusic: w D5\n",
        "2:10: 'D' does not fit here; write it like `home: D5 in D major`",
    ),
    ("title: T\nhome: D5 in D majr\nmusic: w D5\n", "2:15: 'majr' does not fit here; did you mean 'major'?"),
    (
        "title: T\nhome: D5 in D major.\nmusic: w D5\n",
        "2:15: 'major.' does not fit here; did you mean 'major'?",
    ),
    (
        "title: T\nhome: X5 in D major\nmusic: w D5\n",
        "2:7: 'X5' does not fit here; write it like `home: D5 in D major`",
    ),
    (
        "title: T\nhome: D#5 in D# major\nmusic: w D5\n",
        "2:14: D sharp major has 9 accidentals; write it in E flat major",
    ),
    # Meter, tempo, pick-up, drone.
    (
        f"{HEAD}meter: 4/3\nmusic: w D5\n",
        "3:8: 4/3 is not a meter; write beats over a note value, such as 4/4 or 6/8",
    ),
    (
        f"{HEAD}meter: 0/4\nmusic: w D5\n",
        "3:8: 0/4 is not a meter; write beats over a note value, such as 4/4 or 6/8",
    ),
    (f"{HEAD}meter: common\nmusic: w D5\n", "3:8: 'common' does not fit here; write it like `meter: 3/4`"),
    (
        f"{HEAD}tempo: quarter = 66 to 54\nmusic: w D5\n",
        "3:18: 66 to 54 is not a tempo; give beats a minute from 20 to 400, the slower first",
    ),
    (
        f"{HEAD}tempo: 54\nmusic: w D5\n",
        "3:8: '54' does not fit here; write it like `tempo: quarter = 54 to 66`",
    ),
    (f"{HEAD}tempo: quater = 54\nmusic: w D5\n", "3:8: 'quater' does not fit here; did you mean 'quarter'?"),
    (
        f"{HEAD}pickup: w\nmusic: w D5\n",
        "3:8: the pick-up fills a whole bar; leave `pickup` out, or make it shorter",
    ),
    (
        f"{HEAD}pickup: quarter\nmusic: h D5 | w D5\n",
        "4:10: the pick-up has 2 beats, and `pickup` says 1 beat; take away 1 beat",
    ),
    (
        f"{HEAD}meter: 6/8\nmusic: w D5\n",
        "4:10: bar 1 has 8 eighths, and 6/8 needs 6 eighths; take away 2 eighths",
    ),
    (f"{HEAD}drone: D\nmusic: w D5\n", "3:8: 'D' does not fit here; write it like `drone: D4`"),
    # Travel and variations.
    (
        f"{HEAD}travel: twelve keys, semitone down\nmusic: w D5\n",
        "3:22: 'semitone' does not fit here; did you mean 'semitones'?",
    ),
    (
        f"{HEAD}travel: semitones up from D6 to D4\nmusic: w D5\n",
        "3:27: D6 to D4 goes down; write `down`, or turn them round",
    ),
    (
        f"{HEAD}travel: around\nmusic: w D5\n",
        "3:9: 'around' does not fit here; write it like `travel: twelve keys, semitones down`",
    ),
    (
        f"{HEAD}travel: semitones down\nmusic: w D5\n",
        "3:23: 'travel' breaks off after 'semitones down'; "
        "write it like `travel: twelve keys, semitones down`",
    ),
    (
        f"{HEAD}variations: slurred +\nmusic: w D5\n",
        "3:22: 'variations' breaks off after 'slurred +'; "
        "write it like `variations: slurred, swell up + slurred`",
    ),
    # Choices and lists.
    (
        f"{HEAD}spelling: naturals\nmusic: w D5\n",
        "3:10: 'spelling' cannot be 'naturals'; write flats or sharps, or a key such as `A flat major`",
    ),
    (f"{HEAD}doubles: yes\nmusic: w D5\n", "3:9: 'doubles' cannot be 'yes'; write keep"),
    (
        f"{HEAD}attend: hello\nmusic: w D5\n",
        "3:1: this point has no dash; begin each point on a line of its own with a dash and a space",
    ),
    # Characters that hide.
    (
        "title: a\u200eb\nhome: D5 in D major\nmusic: w D5\n",
        "1:9: an invisible character, U+200E; delete it and retype the text around it",
    ),
    (
        "title: a\x07b\nhome: D5 in D major\nmusic: w D5\n",
        "1:9: an invisible character, U+0007; delete it and retype the text around it",
    ),
]


@pytest.mark.parametrize(("source", "expected"), FIELD_FAULTS, ids=[row[1][:50] for row in FIELD_FAULTS])
def test_faults_in_the_fields(source: str, expected: str) -> None:
    assert faults(source) == [expected]


def test_several_faults_of_one_file_are_all_said() -> None:
    source = "title:\nhome: D5 in D majr\nmeter: 4/5\nmusic: h D5 stacato H5\n  | w Q\n"
    found = [fault.split(":", 2)[:2] for fault in faults(source)]
    assert sorted(found) == [["1", "7"], ["2", "15"], ["3", "8"], ["4", "13"], ["4", "21"], ["5", "7"]]


# -- files that cannot be read at all -------------------------------------------------------------------


@pytest.mark.parametrize("data", [b"", b"\n", b"  \n\t\n", b"\xef\xbb\xbf"])
def test_an_empty_file(data: bytes) -> None:
    assert faults(data) == ["1:1: the file is empty; `stavewright new NAME` writes one to start from"]


@pytest.mark.parametrize(
    ("data", "place", "byte"),
    [
        (b"title: \xe9tude\n", "1:8", "0xe9"),
        (b"title: T\nabout: caf\xe9\n", "2:11", "0xe9"),
        ("title: T\nabout: été ".encode() + b"\xff", "2:12", "0xff"),  # characters are counted, not bytes
        ("title: T".encode("utf-16"), "1:1", "0xff"),
        (b"title: \xed\xa0\x80\n", "1:8", "0xed"),  # half of a surrogate pair
    ],
)
def test_a_file_that_is_not_utf_8(data: bytes, place: str, byte: str) -> None:
    mend = "save it from your editor with the encoding UTF-8"
    assert faults(data) == [f"{place}: the file is not UTF-8 text (byte {byte}); {mend}"]


def test_a_file_of_ten_megabytes(book: WriteBook) -> None:
    folder = book({"huge": HEAD + "music: w D5\n" + "# more\n" * (10_000_000 // 7)})
    with pytest.raises(BookFaults) as raised:
        open_book(folder)
    assert [str(fault) for fault in raised.value.faults] == [
        "exercises/huge.warmup:1:1: the file has 10.0 MB, and an exercise is at most 256 KB of text; "
        "is it a picture or a recording? keep one exercise a file"
    ]


def test_the_largest_file_that_is_allowed() -> None:
    source = f"{HEAD}music: w D5\n#"
    assert faults(source + "x" * (MAX_BYTES - len(source))) == []
    assert faults(source + "x" * (MAX_BYTES - len(source) + 1)) != []


def test_groups_in_groups_without_end() -> None:
    found = faults(f"{HEAD}music: {'slur( ' * 4000}w D5{' )' * 4000}\n")
    assert found == ["3:56: more than 8 groups are nested; take some out"]


@pytest.mark.parametrize("name", ["Tide", "slow tide", "-", "a--b", "ünder", "x" * 61, "a_b"])
def test_a_file_name_that_is_no_address(name: str) -> None:
    assert faults(f"{HEAD}music: w D5\n", f"exercises/{name}.warmup") == [
        "1:1: the file's name cannot be an address; "
        "use small letters a to z, digits and single hyphens, at most 60 of them"
    ]


# -- a book as a whole ----------------------------------------------------------------------------------


def all_faults(folder: Path) -> tuple[Fault, ...]:
    """Every fault of a book."""
    with pytest.raises(BookFaults) as raised:
        open_book(folder)
    return raised.value.faults


def test_all_faults_of_all_files_in_one_go(book: WriteBook, tiny: Callable[[str], str]) -> None:
    folder = book(
        {
            "bad-bar": f"{HEAD}music: h D5\n",
            "bad-word": HEAD.replace("T", "U") + "music: w D5 stacato\n",
            "empty": b"",
            "latin": b"title: \xe9\n",
            "no-music": HEAD.replace("T", "V"),
            "good": tiny("Good"),
            "wish": tiny("Wish") + "variations: slured, swell up\n",
        }
    )
    assert [str(fault).split("; ")[0] for fault in all_faults(folder)] == [
        "exercises/bad-bar.warmup:3:10: bar 1 has 2 beats, and 4/4 needs 4 beats",
        "exercises/bad-word.warmup:3:13: unknown word 'stacato'",
        "exercises/empty.warmup:1:1: the file is empty",
        "exercises/latin.warmup:1:8: the file is not UTF-8 text (byte 0xe9)",
        "exercises/no-music.warmup:1:1: the field 'music' is missing",
        "exercises/wish.warmup:6:13: unknown variation 'slured'",
    ]


def test_a_name_used_twice(book: WriteBook, tiny: Callable[[str], str]) -> None:
    folder = book({"tide": tiny("Slow tide"), "other": tiny("slow TIDE"), "deeper/tide": tiny("Deep")})
    assert [str(fault) for fault in all_faults(folder)] == [
        "exercises/tide.warmup:1:1: the name 'tide' is taken by exercises/deeper/tide.warmup; "
        "give one of the two files another name",
        "exercises/tide.warmup:1:7: the title 'Slow tide' is taken by exercises/other.warmup; "
        "give one of them another",
    ]


def test_a_variation_that_is_none(book: WriteBook, tiny: Callable[[str], str]) -> None:
    folder = book({"one": tiny("One") + "variations: swell up + qqqq, detached, eight levels sometimes\n"})
    assert [str(fault) for fault in all_faults(folder)] == [
        f"exercises/one.warmup:6:13: unknown variation 'qqqq'; there are: {', '.join(variations())}",
        "exercises/one.warmup:6:40: 'eight levels sometimes' cannot be read; "
        "'eight levels' is written `eight levels on last note`",
    ]


def test_a_fault_shows_its_line_with_a_caret() -> None:
    (fault,) = read("e.warmup", f"{HEAD}music: w D5 stacato\n".encode()).faults
    line, caret = fault.excerpt().split("\n")
    assert line == "    music: w D5 stacato"
    assert caret.index("^") == line.index("stacato")


def test_a_long_line_is_shown_around_its_caret() -> None:
    (fault,) = read("e.warmup", f"{HEAD}music: {'w D5 | ' * 200}w D5 stacato\n".encode()).faults
    line, caret = fault.excerpt().split("\n")
    assert len(line) <= 110
    assert line[caret.index("^") :].startswith("stacato")


def test_a_word_is_guessed_only_where_it_is_near() -> None:
    assert nearest("purpse", FIELDS) == "purpose"
    assert nearest("zzzz", FIELDS) == ""


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        (
            "{instruments: [flutte]}",
            "mkdocs.yml:3:33: unknown instrument 'flutte'; did you mean 'flute'?",
        ),
        ("{tops: {flute: X9}}", "mkdocs.yml:3:33: tops: flute: 'X9' is not a pitch such as C4, F#5 or Bb3"),
        ("{exercises: nowhere}", "nowhere: there is no such folder"),
        ("{breath_seconds: long}", "mkdocs.yml:3:35: breath_seconds: 'long' is not a length of a breath"),
    ],
)
def test_a_book_whose_settings_cannot_be_read(
    book: WriteBook, tiny: Callable[[str], str], options: str, expected: str
) -> None:
    folder = book({"one": tiny("One")})
    (folder / "mkdocs.yml").write_text(f"site_name: T\nplugins:\n  - stavewright: {options}\n")
    with pytest.raises((BookProblem, BookFaults)) as raised:
        open_book(folder)
    assert expected in str(raised.value)


@pytest.mark.parametrize(
    ("config", "expected"),
    [
        (None, "mkdocs.yml: there is no book here; `stavewright init` begins one, or name its "),
        (b"site_name: [\n", "mkdocs.yml:2:1: this cannot be read: "),
        (b"site_name: \xe9\n", "mkdocs.yml:1:12: the file is not UTF-8 text (byte 0xe9); save it "),
    ],
)
def test_a_folder_that_is_no_book(tmp_path: Path, config: bytes | None, expected: str) -> None:
    if config is not None:
        (tmp_path / "mkdocs.yml").write_bytes(config)
    with pytest.raises((BookProblem, BookFaults)) as raised:
        open_book(tmp_path)
    assert expected in str(raised.value)


def test_a_book_without_exercises(book: WriteBook) -> None:
    with pytest.raises(BookProblem, match="no exercises here; `stavewright new NAME` writes one"):
        open_book(book({}))
