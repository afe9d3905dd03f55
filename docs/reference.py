"""Makes what the documentation says of the program's own tables: docs/reference.md, and passages elsewhere.

    python docs/reference.py            writes all of it
    python docs/reference.py --check    writes nothing; the status is 1 where something would change

A passage elsewhere stands between `<!-- made: NAME -->` and `<!-- made -->`; NAME is one of PASSAGES.
"""

from __future__ import annotations

import argparse
import re
import sys
import tomllib
from collections.abc import Callable, Iterable, Iterator
from functools import cache
from pathlib import Path

from stavewright.book.options import DEFAULTS
from stavewright.book.pieces import InstrumentBook, instrument_books_of, scores
from stavewright.book.read import open_book
from stavewright.cli.arguments import command_parser
from stavewright.language.field_words import FIELDS
from stavewright.language.notes.figure_words import FIGURE_WORDS
from stavewright.language.words import WORDS
from stavewright.music.figures import FIGURES
from stavewright.music.winds.instruments import INSTRUMENTS
from stavewright.translation.catalog import LANGUAGES
from stavewright.variations import variations

ROOT = Path(__file__).parents[1]
REFERENCE = ROOT / "docs" / "reference.md"
MARKED = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").glob("*.md"))]
PASSAGE = re.compile(r"<!-- made: (\S+) -->(.*?)<!-- made -->", re.DOTALL)


def table(heads: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    """A table of Markdown."""
    heads = list(heads)
    lines = [heads, ["---"] * len(heads), *([_cell(each) for each in row] for row in rows)]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def _cell(text: str) -> str:
    return " ".join(text.split()).replace("|", "\\|")


def code(text: str) -> str:
    """A text as it is written."""
    return f"`{text}`" if text else ""


def commands() -> dict[str, argparse.ArgumentParser]:
    """Every command's own parser."""
    (actions,) = (each for each in command_parser()._actions if isinstance(each, argparse._SubParsersAction))
    return dict(actions.choices)


def options_of(parser: argparse.ArgumentParser) -> Iterator[tuple[str, str]]:
    """What a command takes, as it is written, and what that is for."""
    for action in parser._actions:
        if isinstance(action, argparse._HelpAction):
            continue
        said = action.help or ""
        value = f" {action.metavar}" if action.metavar else ""
        if action.option_strings:
            yield f"{', '.join(action.option_strings)}{value}", said
        else:
            yield str(action.metavar), said


def command_tables() -> str:
    """A part for each command."""
    parts = []
    for name, parser in commands().items():
        rows = [(code(written), said) for written, said in options_of(parser)]
        parts.append(f"### `stavewright {name}`\n\n{parser.description}\n\n{table(('takes', 'for'), rows)}")
    return "\n\n".join(parts)


def settings() -> str:
    """The book's options in mkdocs.yml, with the remarks that a new book has on them."""
    remarks = option_remarks()
    rows = [(code(name), _written(value), remarks[name]) for name, value in DEFAULTS.items()]
    return table(("setting", "without it", "what it is"), rows)


def option_remarks() -> dict[str, str]:
    """What the file of a new book says of each option."""
    text = (ROOT / "builder" / "templates" / "mkdocs.yml").read_text(encoding="utf-8")
    found: dict[str, str] = {}
    said: list[str] = []
    for line in text.partition("- stavewright:\n")[2].splitlines():
        row = line.strip()
        if row.startswith("#  "):
            continue  # a setting's value, over several lines
        if row.startswith("# "):
            said.append(row[2:])
        elif match := re.match(r"#?([a-z_0-9]+):", row):
            found[match[1]] = " ".join(said).removesuffix(" These are known:")
            said = []
        elif not row.startswith("$"):
            said = []
    return found


def _written(value: object) -> str:
    """An option's value as mkdocs.yml has it; nothing where it has none."""
    if value in (None, [], {}):
        return ""
    if isinstance(value, list):
        return code(f"[{', '.join(map(str, value))}]")
    if isinstance(value, bool):
        return code(str(value).lower())
    return code(f"{value:g}" if isinstance(value, float) else str(value))


def fields() -> str:
    """The fields of an exercise."""
    rows = [
        (code(name), "yes" if field.required else "", field.means, code(" ".join(field.example.split())))
        for name, field in FIELDS.items()
    ]
    return table(("field", "needed", "what it says", "example"), rows)


def ways_of_playing() -> str:
    """Every variation."""
    rows = [
        (code(f"{name} {each.takes}".strip()), each.means, str(each.grade))
        for name, each in variations().items()
    ]
    return table(("variation", "what the player does", "grade"), rows)


def words() -> str:
    """How many words the music of an exercise has, and the figures by name."""
    names = ", ".join(code(name) for name in FIGURES)
    return (
        f"The music has {len(WORDS)} kinds of signs and words, and {len(FIGURES)} figures ({names}), which "
        f"take {len(FIGURE_WORDS)} kinds of words. The site's page *The language of the exercises* shows "
        "each one engraved."
    )


def instruments() -> str:
    """The instruments by their addresses."""
    names = ", ".join(code(slug) for slug in INSTRUMENTS)
    return f"{len(INSTRUMENTS)} are known: {names}. [instruments.md](instruments.md) has their ranges."


def languages() -> str:
    """The languages of a book's own words."""
    names = ", ".join(code(name) for name in LANGUAGES)
    (count,) = {_messages(name) for name in LANGUAGES if name != "en"}
    return (
        f"A book's own words are in one of {len(LANGUAGES)} languages ({names}). A catalog has {count} "
        "messages ([languages.md](languages.md))."
    )


def _messages(language: str) -> int:
    place = ROOT / "builder" / "locale" / language / "LC_MESSAGES" / "stavewright.po"
    # The first entry is the catalog's head.
    return len(re.findall(r"^msgid ", place.read_text(encoding="utf-8"), re.MULTILINE)) - 1


def extras() -> str:
    """The optional parts, with the remark that pyproject.toml has on each."""
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    told = tomllib.loads(text)["project"]["optional-dependencies"]
    rows = []
    for name, needed in told.items():
        remark = re.search(rf"^# (.*)\n{name} = ", text, re.MULTILINE)
        packages = ", ".join(code(re.split("[<>=]", each)[0]) for each in needed)
        if name != "test":
            rows.append((code(f"pip install 'stavewright[{name}]'"), remark[1] if remark else "", packages))
    return table(("optional part", "for", "package"), rows)


@cache
def demo() -> tuple[InstrumentBook, ...]:
    """The demo book, planned and not engraved."""
    return instrument_books_of(open_book(ROOT))


def demo_exercises() -> str:
    """How many exercises the demo book has."""
    return str(sum(len(each.exercises) for each in demo()))


def demo_pieces() -> str:
    """How many pieces of music it has: each exercise in each key and variation."""
    return f"{len(scores(demo())):,}"


def demo_pages() -> str:
    """How many pages it has of an exercise in one key."""
    return str(sum(len(pages) for each in demo() for _, pages in each.exercises))


def demo_book() -> str:
    """What is in the demo book."""
    rows = [
        (
            f"[{exercise.slug}](../exercises/{exercise.slug}.warmup)",
            exercise.title,
            str(len(pages)),
            str(sum(1 for page in pages for placed in page.placed for part in placed.parts if part.score)),
        )
        for each in demo()
        for exercise, pages in each.exercises
    ]
    rows.append(("all", "", demo_pages(), demo_pieces()))
    return table(("exercise", "title", "keys", "pieces"), rows)


PASSAGES: dict[str, Callable[[], str]] = {
    "demo-exercises": demo_exercises,
    "demo-pages": demo_pages,
    "demo-pieces": demo_pieces,
}
"""What may stand between marks in any file."""


def reference() -> str:
    """The whole of docs/reference.md."""
    return f"""\
# Reference

`python docs/reference.py` makes this page out of the program's own tables and the demo book, and a test
compares it. Do not write into it.

## Commands

`stavewright --version` says which version you have. `stavewright --help`, and `--help` after a command, show
what stands here. The exit status is 0 if all is good, 1 for a fault in the book or a failed build, and 2 for
wrong use ([scripts.md](scripts.md)).

{command_tables()}

## Settings

The options of the plugin `stavewright` in `mkdocs.yml`. A book that `stavewright init` begins has these
remarks too.

{settings()}

MkDocs's own settings (`site_name`, `site_url`, `docs_dir`, `nav` and others) stand beside the plugin
([theming.md](theming.md)).

## Fields of an exercise

{fields()}

{words()}

## Ways of playing

Each may stand in the field `variations`, alone or joined to others by `+`. Where words may follow its name,
the table has an example of them. The grade says how much it asks of a player, from 1 to 5
([daily-sets.md](daily-sets.md)); some words ask for more.

{ways_of_playing()}

## Instruments and languages

{instruments()}

{languages()}

## Optional parts

{extras()}

## The demo book

A piece is an exercise in one key, from one start, as written or in one way of playing.

{demo_book()}
"""


def filled(text: str) -> str:
    """A file's text with its passages made anew. Raises KeyError for a name that PASSAGES has not."""
    return PASSAGE.sub(lambda found: f"<!-- made: {found[1]} -->{PASSAGES[found[1]]()}<!-- made -->", text)


def made() -> Iterator[tuple[Path, str]]:
    """Every file that this script has a hand in, with its text as it should be."""
    yield REFERENCE, reference()
    for place in MARKED:
        if place != REFERENCE:
            yield place, filled(place.read_text(encoding="utf-8"))


def main() -> int:
    """Write or compare; 1 where a file differs."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--check", action="store_true", help="write nothing; name what would change")
    only_check = parser.parse_args().check
    status = 0
    for place, text in made():
        if not place.is_file() or place.read_text(encoding="utf-8") != text:
            print(place.relative_to(ROOT))
            status = int(only_check)
            if not only_check:
                place.write_text(text, encoding="utf-8", newline="\n")
    return status


if __name__ == "__main__":
    sys.exit(main())
