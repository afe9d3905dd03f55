"""Attacks by size, depth, number and name: each ends in plain words about a place, none in a traceback."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from pypdf import PdfReader

from stavewright.book.read import CONFIG
from stavewright.cli import main
from stavewright.language.faults import MOST_FAULTS
from stavewright.language.field_words import FIELDS
from stavewright.language.read import SUFFIX, read, slug_of

WriteBook = Callable[[dict[str, str | bytes]], Path]
Tiny = Callable[[str], str]

HEAD = {"title": "T", "rights": "written for this test", "home": "D5 in D major"}
LONG = "A" * 100_000
HUGE = "9" * 400


def exercise(music: str = "w D5", **fields: str) -> bytes:
    rows = [f"{name}: {value}" for name, value in (HEAD | fields).items()]
    return "\n".join([*rows, "music:", f"  {music}", ""]).encode()


def faults(data: bytes) -> list[str]:
    found = read("e.warmup", data)
    assert found.exercise is None
    for fault in found.faults:
        assert "\n" not in str(fault)
        fault.excerpt()
    return [str(fault) for fault in found.faults]


@pytest.mark.parametrize("field", [name for name in FIELDS if not name.startswith("music")])
def test_a_field_of_a_hundred_thousand_characters(field: str) -> None:
    assert any("100,000 characters long" in fault for fault in faults(exercise(**{field: LONG})))


@pytest.mark.parametrize("where", ["above", "below", "say"])
def test_words_on_the_staff_of_a_hundred_thousand_characters(where: str) -> None:
    assert any("keep them to" in fault for fault in faults(exercise(f'w D5 {where} "{LONG[:50_000]}"')))


@pytest.mark.parametrize(
    "music",
    [
        "w " + "(" * 5000,
        "w D5 " + ")" * 5000,
        "slur( " * 5000 + "w D5",
        "slur( " * 5000 + "w D5" + " )" * 5000,
        "tuplet( 3:2 " * 500 + "w D5" + " )" * 500,
        "[ " * 5000,
        '"' * 5001,
        "\\" * 5000,
    ],
)
def test_depth_without_end(music: str) -> None:
    found = faults(exercise(music))
    assert 0 < len(found) <= MOST_FAULTS + 1


def test_of_thousands_of_faults_the_first_are_told_and_the_rest_counted() -> None:
    found = faults(exercise("w " + "( " * 5000))
    assert len(found) == MOST_FAULTS + 1
    assert found[-1].endswith(f"and {5000 - MOST_FAULTS:,} more faults in this file; mend these first")


@pytest.mark.parametrize(
    "fields",
    [
        {"tempo": f"quarter = {HUGE}"},
        {"tempo": "quarter = 1e400"},
        {"tempo": "quarter = -60"},
        {"tempo": "quarter = 66 to 1"},
        {"meter": f"{HUGE}/4"},
        {"meter": f"4/{HUGE}"},
        {"meter": "4/0"},
        {"home": f"D{HUGE} in D major"},
        {"drone": f"D{HUGE}"},
        {"travel": f"semitones down from D{HUGE} to C4"},
        {"travel": f"by {HUGE} semitones down"},
        {"pickup": f"{HUGE}/1"},
        {"variations": f"swell from {HUGE} to f"},
        {"variations": f"faster from 60 to {HUGE}"},
    ],
    ids=lambda fields: " ".join(f"{name} {value[:12]}" for name, value in fields.items()),
)
def test_numbers_beyond_all_bounds_in_fields(fields: dict[str, str], book: WriteBook) -> None:
    folder = book({"one": exercise(**fields)})
    assert main(["check", "--book", str(folder)]) == 1


@pytest.mark.parametrize(
    "music",
    [
        f"w D{HUGE}",
        f"w{HUGE} D5",
        f"{HUGE} D5",
        f"w +P{HUGE}",
        f"w +m{HUGE}",
        f"tuplet( {HUGE}:1 w D5 )",
        f"tuplet( 1:{HUGE} w D5 )",
        "tuplet( 0:0 w D5 )",
        f"meter( {HUGE}/4 ) w D5",
        f"tempo( quarter = {HUGE} ) w D5",
        "w" + "." * 1000 + " D5",
        "w D5 " + "#" * 1000,
        "w D" + "#" * 1000 + "5",
        "q D5 " * 10_000,
    ],
    ids=lambda music: music[:16],
)
def test_numbers_beyond_all_bounds_in_music(music: str) -> None:
    assert faults(exercise(music))


@pytest.mark.parametrize("name", ["con", "prn", "aux", "nul", "com1", "com9", "lpt1", "lpt9"])
def test_a_device_of_windows_is_no_address(name: str) -> None:
    """Microsoft, "Naming Files, Paths, and Namespaces": reserved names, from memory."""
    with pytest.raises(ValueError, match="Windows reserves"):
        slug_of(name + SUFFIX)
    assert slug_of(f"{name}-two{SUFFIX}") == f"{name}-two"
    assert any("Windows reserves" in str(fault) for fault in read(name + SUFFIX, exercise()).faults)


@pytest.mark.parametrize(
    "settings",
    [
        "a4: .inf",
        "a4: .nan",
        f"a4: {HUGE}",
        "breath_seconds: .inf",
        "breath_seconds: -1",
        f"breath_seconds: {HUGE}",
        "tops: {flute: D999}",
        "instruments: [../../etc/passwd]",
        "instruments: []",
        f"instruments: [{LONG}]",
        "variations: {'x': '#(exit)'}",
        "paper: ../../x",
        "exercises: /dev/null",
        "exercises: ../../../../../../etc",
    ],
    ids=lambda settings: settings[:24],
)
def test_a_book_with_hostile_settings(
    settings: str, book: WriteBook, tiny: Tiny, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = book({"one": tiny("One")})
    name = settings.partition(":")[0]
    rows = (folder / CONFIG).read_text().splitlines()
    rows = [row for row in rows if not row.strip().startswith(f"{name}:")]
    (folder / CONFIG).write_text("\n".join([*rows, f"      {settings}", ""]))
    assert main(["build", "--book", str(folder)]) in (1, 2)
    said = capsys.readouterr().err
    assert said.strip()
    assert "Traceback" not in said
    assert not (folder / "site").exists()


@pytest.mark.parametrize(
    "arguments",
    [
        ["build", "--jobs", HUGE],
        ["build", "--jobs", "-1"],
        ["print", "--all", "--staff", "inf", "-o", "x.pdf"],
        ["print", "--all", "--staff", "nan", "-o", "x.pdf"],
        ["print", "--all", "--staff", "1e308", "-o", "x.pdf"],
        ["print", "--key", "../../x", "-o", "x.pdf"],
        ["print", "--exercise", "../../x", "-o", "x.pdf"],
        ["print", "--exercise", "$(touch here)", "-o", "x.pdf"],
        ["daily", "--minutes", HUGE, "--days", "1"],
        ["daily", "--minutes", "10", "--days", HUGE],
        ["new", "../x"],
        ["new", "con"],
    ],
    ids=lambda arguments: " ".join(arguments)[:30],
)
def test_hostile_arguments(
    arguments: list[str],
    book: WriteBook,
    tiny: Tiny,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    folder = book({"one": tiny("One")})
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    try:
        status = main([*arguments, "--book", str(folder)])
    except SystemExit as left:
        status = int(left.code or 0)
    assert status in (1, 2)
    assert "Traceback" not in capsys.readouterr().err
    assert list((tmp_path / "here").iterdir()) == []


def test_the_shell_has_no_part_in_a_files_name(
    book: WriteBook, tiny: Tiny, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    name = "$(touch one) `touch two`; touch three; .pdf"
    folder = book({"one": tiny("One")})
    assert main(["print", "--key", "d", "--book", str(folder), "-o", name]) == 0
    assert [path.name for path in (tmp_path / "here").iterdir()] == [name]


def test_what_a_pdf_says_of_itself_is_what_was_written(book: WriteBook, tiny: Tiny, tmp_path: Path) -> None:
    title = "One ) >> /Launch (x) << \\"
    folder = book({"one": tiny(title)})
    target = tmp_path / "one.pdf"
    assert main(["print", "--exercise", "one", "--book", str(folder), "-o", str(target)]) == 0
    reader = PdfReader(target)
    assert reader.metadata is not None
    assert title in str(reader.metadata.title)
    assert b"/Launch" not in b"".join(bytes(str(dict(page)), "utf-8") for page in reader.pages)


def test_a_link_among_the_exercises_shows_no_page_of_what_it_leads_to(
    book: WriteBook, tiny: Tiny, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = book({"one": tiny("One")})
    (tmp_path / "secret.txt").write_text("a secret\n" * 3)
    (folder / "exercises" / f"two{SUFFIX}").symlink_to(tmp_path / "secret.txt")
    assert main(["build", "--book", str(folder)]) == 1
    assert "Traceback" not in capsys.readouterr().err
    assert not (folder / "site").exists()
