"""Bounds, names and tables that the documentation states, compared with what they are in the program."""

from __future__ import annotations

import json
import re
import runpy
from pathlib import Path

import pytest
from conftest import TWO_KEYS, write_book
from test_docs import ROOT, TEXT, reference, spans

from stavewright.book.addresses import TOP_FOLDERS
from stavewright.book.players import A4_HIGH, A4_LOW
from stavewright.bringing_in import tune_file
from stavewright.bringing_in.bring_in import LONGEST
from stavewright.cache.store import BOUND
from stavewright.cli import main
from stavewright.daily import plan
from stavewright.daily.plan import STRETCH_MINUTES
from stavewright.engrave.processes import lilypond
from stavewright.engrave.processes.worker import MOST_STOPPED
from stavewright.export.velocity import velocity
from stavewright.language.format import WIDTH
from stavewright.language.notes import bounds
from stavewright.language.notes.repeat_words import MOST_TIMES
from stavewright.language.read import read
from stavewright.language.selecting import read_selection
from stavewright.language.selecting.selection import SELECTION_FIELDS
from stavewright.music.event import LEVELS as DYNAMICS
from stavewright.music.figures.ladders import CHORDS, SCALE_WORDS
from stavewright.music.figures.scales import HIGHEST_DEGREE
from stavewright.music.keys import MODES
from stavewright.paper import page_format
from stavewright.prints.selection import MOST_PIECES
from stavewright.site.files import news
from stavewright.translation.note_names import NAMES
from stavewright.variations import MOST_EVENTS
from stavewright.views import daily_page
from stavewright.views.language_page import example_text

# -- bounds -----------------------------------------------------------------------------------------------


def words_of(number: int) -> str:
    return {3: "three", 5: "five", 8: "eight", 10: "ten"}[number]


weight = runpy.run_path(str(ROOT / "benchmarks" / "weight.py"))

BOUNDS = [
    (
        "docs/hard-to-break.md",
        f"at most {bounds.MOST_NOTES:,} notes and rests (grace notes among them), {bounds.MOST_BARS} bars, "
        f"{bounds.MOST_WORDS:,} words and signs, {bounds.MOST_SIGNS} marks at one note, and "
        f"{words_of(bounds.DEEPEST)} groups one inside another; a piece that a variation makes of it, "
        f"{MOST_EVENTS:,} notes",
    ),
    (
        "docs/hard-to-break.md",
        f"at most {read_selection.MOST_HANDOUTS} hand-outs and {read_selection.MOST_ITEMS} items to play, "
        f"and asks for {MOST_PIECES:,} pieces of music. An item has at most "
        f"{read_selection.LONGEST_ITEM:,} characters, each field of words "
        f"{SELECTION_FIELDS['words'].limit:,}.",
    ),
    ("docs/hard-to-break.md", f"after {words_of(lilypond.PROCESSOR // 60)} minutes of work"),
    ("docs/hard-to-break.md", f"after {words_of(MOST_STOPPED)} such pieces it is given up"),
    ("docs/melodies.md", f"It has at most {tune_file.MOST_BYTES // 1024**2} MB"),
    ("docs/melodies.md", f"to at most {tune_file.MOST_UNPACKED // 1024**2} MB"),
    ("docs/melodies.md", f"more than {tune_file.MOST_ELEMENTS:,} elements"),
    ("docs/melodies.md", f"at most {LONGEST:g} seconds"),
    ("docs/speed.md", f"(default {BOUND / 1e6:,.0f})"),
    (
        "docs/speed.md",
        f"{weight['MOST_ELEMENTS']:,} elements and {weight['MOST_PACKED'] // 1000} KB for a page's file, "
        f"and {weight['MOST_BYTES'] // 10**6} MB for the site",
    ),
    ("docs/daily-sets.md", f"at most {STRETCH_MINUTES} minutes"),
    ("docs/daily-sets.md", f"with {words_of(plan.PAUSE_MINUTES)} minutes away from the instrument"),
    ("docs/daily-sets.md", "| {}, then {}, {} and {} a key |".format(*plan.PORTION_WORTH)),
    ("docs/daily-sets.md", "| {}, then {}, {} and {} | an exercise".format(*plan.WORK_WORTH)),
    ("docs/daily-sets.md", f"| {plan.CARRIED} | an exercise that comes in the same way"),
    ("docs/daily-sets.md", f"| {plan.SECOND_BLOCK} | the second block"),
    ("docs/daily-sets.md", f"| {plan.EXERCISES} each |"),
    ("docs/daily-sets.md", f"| {plan.REGISTERS} each |"),
    ("docs/daily-sets.md", f"carried on for {words_of(plan.CARRIED_DAYS)} days"),
    ("docs/daily-sets.md", f"for {daily_page.LEAST_MINUTES} to {daily_page.MOST_MINUTES} minutes"),
    ("DEVELOPERS.md", f"number from {daily_page.LEAST_MINUTES} to {daily_page.MOST_MINUTES}"),
    ("DEVELOPERS.md", f"a round of {daily_page.DAYS} days for each of {len(daily_page.LENGTHS)} lengths"),
    ("docs/publishing.md", f"at most {news.MOST}."),
    ("docs/printing.md", f"{page_format.SMALLEST_STAFF:g} to {page_format.LARGEST_STAFF:g} (default: 7)"),
    ("docs/printing.md", f"{page_format.INSIDE:g} mm inside"),
    ("docs/printing.md", f"the file holds {MOST_PIECES:,} pieces of music at most"),
    ("docs/instruments.md", f"{A4_LOW} to {A4_HIGH}"),
    ("docs/format.md", f"more than {WIDTH} columns"),
    ("docs/signs.md", f"from 2 to {MOST_TIMES} times"),
    ("docs/figures.md", f"1 to {HIGHEST_DEGREE}, where 8 is the octave"),
]


def test_the_changelog_counts_the_exercises_of_the_demo_book() -> None:
    count = {12: "twelve"}[int(reference()["demo_exercises"]())]
    assert f"The demo book is a course of {count} exercises" in TEXT[ROOT / "CHANGELOG.md"]
    assert f": {count} short exercises" in (ROOT / "site_src/pages/index.md").read_text(encoding="utf-8")


@pytest.mark.parametrize(("page", "sentence"), BOUNDS)
def test_a_bound_that_is_stated_is_the_program_s(page: str, sentence: str) -> None:
    assert sentence in " ".join(TEXT[ROOT / page].split())


def test_what_was_measured_was_measured_on_the_demo_book_of_today() -> None:
    """If this fails, run `python benchmarks/printing.py` and mend the tables that it prints."""
    assert f"| {reference()['demo_pieces']()} |" in TEXT[ROOT / "docs" / "printing.md"]


@pytest.mark.parametrize(
    ("page", "package", "sentence"),
    [
        ("docs/installing.md", "lilypond", "**LilyPond** by pip is {}"),
        ("docs/installing.md", "mkdocs", "no release since {} of"),
    ],
)
def test_a_version_that_is_stated_is_the_locked_one(page: str, package: str, sentence: str) -> None:
    (version,) = re.findall(rf"^{package}==(\S+)", (ROOT / ".ci/locked.txt").read_text(), re.MULTILINE)
    assert sentence.format(version) in " ".join(TEXT[ROOT / page].split())


# -- JSON -------------------------------------------------------------------------------------------------


def names_in(value: object) -> set[str]:
    """Every name of an object of JSON, and of those in it."""
    if isinstance(value, dict):
        return set(value) | {name for each in value.values() for name in names_in(each)}
    if isinstance(value, list):
        return {name for each in value for name in names_in(each)}
    return set()


@pytest.mark.parametrize(
    ("page", "arguments"),
    [
        ("docs/scripts.md", ["check", "--json", "--coverage"]),
        ("docs/daily-sets.md", ["daily", "--json", "--minutes", "5", "--days", "1"]),
    ],
)
def test_every_name_of_the_json_is_told(
    page: str, arguments: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = TWO_KEYS.format(title="Tiny").replace("music:", "tempo: quarter = 60\nmusic:")
    main([*arguments, "--book", str(write_book(tmp_path, {"tiny": text}))])
    made = names_in(json.loads(capsys.readouterr().out))
    told = set(re.findall(r"`([a-z_]+)`", TEXT[ROOT / page]))
    assert len(made) > 10
    # Dynamics and instruments are names too.
    assert made - {*DYNAMICS, "flute"} <= told


# -- other tables -----------------------------------------------------------------------------------------


def cells(page: str, heading: str) -> list[list[str]]:
    """The rows of a table under a heading of a page, without its head."""
    part = TEXT[ROOT / page].partition(f"{heading}\n")[2]
    rows = re.findall(r"^\|(.*)\|$", re.split(r"\n#+ ", part)[0], re.MULTILINE)
    return [[cell.strip() for cell in re.split(r"(?<!\\)\|", row)] for row in rows[2:]]


def test_every_folder_of_the_site_is_in_the_list_of_addresses() -> None:
    told = set(re.findall(r"^    /(\w+)/", TEXT[ROOT / "DEVELOPERS.md"], re.MULTILINE))
    assert told | {"assets", "pictures"} == {folder.rstrip("/") for folder in TOP_FOLDERS}


def test_the_variables_of_the_style_are_there() -> None:
    style = (ROOT / "site_src" / "assets" / "book.css").read_text(encoding="utf-8")
    told = {span for span in spans(ROOT / "docs" / "theming.md") if re.fullmatch(r"--[a-z]+", span)}
    assert len(told) == 6 and all(re.search(rf"{name}:", style) for name in told)


def test_the_scopes_of_the_grammar_are_there() -> None:
    grammar = (ROOT / "docs" / "warmup.tmLanguage.json").read_text(encoding="utf-8")
    told = [
        span for span in spans(ROOT / "docs" / "editors.md") if re.fullmatch(r"[a-z-]+(\.[a-z-]+)+", span)
    ]
    scopes = [scope for scope in told if not scope.endswith(("yml", "toml"))]
    assert len(scopes) > 8
    assert all(f'"{scope}' in grammar for scope in scopes), scopes


def test_every_chord_that_is_named_is_understood() -> None:
    (said,) = re.findall(r"- A name is (.*?)\n- ", TEXT[ROOT / "docs" / "chords.md"], re.DOTALL)
    names = re.findall(r"`([^`]+)`", said)
    assert len(names) > 20
    for name in names:
        text = f"title: T\nhome: D5 in D major\nchords: {name}\nmusic:\n  w D5\n"
        assert not read("t.warmup", text.encode()).faults, name


def test_every_scale_and_chord_of_the_figures_is_named() -> None:
    (said,) = re.findall(r"## Scales and chords\n(.*?)\n## ", TEXT[ROOT / "docs" / "figures.md"], re.DOTALL)
    named = set(re.findall(r"`([a-z-]+)`", said))
    # The church modes are named together.
    assert named | set(MODES) | {"as-key"} >= {*SCALE_WORDS, *CHORDS}
    assert named <= {*SCALE_WORDS, *CHORDS, *MODES}


def test_every_sign_of_the_tables_is_a_word() -> None:
    found = 0
    for heading in ("## Ways to make the sound", "## Ornaments"):
        for row in cells("docs/signs.md", heading):
            for word in re.findall(r"`([^`]+)`", row[0]):
                found += 1
                assert not read("t.warmup", example_text(f"w D5 {word}").encode()).faults, word
    assert found == 11


def test_names_of_notes_and_keys_are_those_of_each_country() -> None:
    heads = ("B flat major", "B minor", "F sharp 5")
    rows = cells("docs/languages.md", "- The names of notes and keys, as the country prints them:\n")
    languages = {"German": "de", "French": "fr", "Spanish": "es", "Italian": "it", "Dutch": "nl"}
    assert [row[0] for row in rows] == list(languages)
    for name, *told in rows:
        names = NAMES[languages[name]]
        assert told == [names.key(heads[0]), names.key(heads[1]), names.spoken(heads[2])]


def test_velocities_are_those_of_the_midi_files() -> None:
    text = TEXT[ROOT / "docs" / "ways-out.md"]
    assert f"| dynamic | {' | '.join(DYNAMICS)} |" in text
    assert f"| velocity | {' | '.join(f'{velocity(step):.0f}' for step in range(len(DYNAMICS)))} |" in text


def test_what_a_microphone_hears_is_bounded_as_told() -> None:
    text = " ".join(TEXT[ROOT / "docs" / "own-playing.md"].split())
    scripts = {
        name: (ROOT / "site_src" / "assets" / "sound" / f"{name}.js").read_text(encoding="utf-8")
        for name in ("recording", "own_pitch", "pitch_of_sound")
    }

    def constant(script: str, name: str) -> int:
        (value,) = re.findall(rf"\b{name} = (\d+)", scripts[script])
        return int(value)

    assert f"for {constant('recording', 'LIMIT') // 60} minutes at most" in text
    assert f"up to {words_of(constant('recording', 'MOST_GAIN'))} times" in text
    assert f"the last {words_of(constant('own_pitch', 'KEPT'))} seconds" in text
    assert f"within {constant('own_pitch', 'NEAR')} cents counts as no difference" in text
    lowest, highest = constant("pitch_of_sound", "LOWEST"), constant("pitch_of_sound", "HIGHEST")
    assert f"below {lowest} or above {highest:,} hertz" in text
