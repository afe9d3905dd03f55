"""Writes an exercise's text in one style; remarks stay, and the music stays what it is.

The style (docs/format.md):

- the fields in the order of the language page, each with the remarks that stand before it, and one empty line
  where there was one or more;
- one space after a field's colon and between words; two before lines that go on and points of a list;
- `a + b, c = d` in lists of variations;
- music below its field, a line for each of the author's, ended at a bar line and at most 100 columns wide;
  spaces inside the brackets of groups and before a comma; bar lines below each other, where that fits.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

from ..music.event import Place
from ..music.exercise import Exercise, Form
from ..music.score import each_event
from ..music.sounding.repeats import WORDS_AFTER
from .faults import Fault
from .field_words import FIELDS
from .fields import FIELD_NAME, has_remarks, remark_at
from .namings import ENGLISH, Naming
from .read import read
from .trade_words import plain_field

WIDTH = 100
"""Columns: the widest line of music, if its bars are not wider."""

_INDENT = "  "
_TOKEN = re.compile(
    r'(?:in[ \t]+[\w#♯♭ -]+?[ \t]+)?(?:above|below|say|syllable|fingering(?:-chart)?)[ \t]*"[^"\n]*"'
    r'|"[^"\n]*"|dotted [a-z-]+|[a-z][a-z-]*\('
    r'|\d{1,2}[ \t]+times(?!\w)|\|\||\|:|:\||\||[(),]|(?:[^\s()|,":]|:(?!\|))+|\S'
)
_BAR_LINES = frozenset({"|", "||", ":|"})
_CLOSING = frozenset({")", ",", *WORDS_AFTER})


@dataclass(slots=True)
class _Row:
    """A line of a field: what it says, and the remark at its end; a remark or an empty line says nothing."""

    said: str
    remark: str = ""


@dataclass(slots=True)
class _Block:
    """A field with the remarks and empty lines before it."""

    word: str
    before: list[str]
    rows: list[_Row] = field(default_factory=list)

    @property
    def name(self) -> str:
        """The field's name as the language calls it."""
        return self.word if self.word in FIELDS else plain_field(self.word)


def formatted(file: str, data: bytes, naming: Naming = ENGLISH) -> str | tuple[Fault, ...]:
    """The text of an exercise's file in the one style, or the faults of a text that cannot be read.

    `naming` is how the book names notes; every name stays as it is written.
    """
    reading = read(file, data, naming=naming)
    if reading.exercise is None:
        return reading.faults
    head, blocks, tail = _divided(reading.source.lines)
    blocks.sort(key=_rank)
    rows = [*head, ""] if head else []
    for block in blocks:
        before = block.before if rows and rows[-1] else _without_first(block.before)
        rows += [*before, *_field(block)]
    rows += tail
    text = "\n".join(rows) + "\n"
    again = read(file, text.encode(), naming=naming).exercise
    if again is None or _without_places(again) != _without_places(reading.exercise):
        what = "this file cannot be formatted without changing its music, so it is left as it is"
        return (reading.source.fault(1, 1, what, "report it with the file: the formatter is wrong"),)
    return text


def _rank(block: _Block) -> int:
    """The place of a field in the order; the forms of the music stay in the author's order."""
    names = list(FIELDS)
    return names.index("music" if FIELDS[block.name].form == "music" else block.name)


def _without_places(exercise: Exercise) -> Exercise:
    """The exercise without the places of its words in the file."""
    nowhere = Place(1, 1)
    forms = tuple(map(_form_without_places, exercise.forms))
    wanted = tuple(replace(wish, place=nowhere) for wish in exercise.wanted)
    passes = tuple(replace(wish, place=nowhere) for wish in exercise.passes)
    return replace(exercise, forms=forms, wanted=wanted, passes=passes)


def _form_without_places(form: Form) -> Form:
    bars = each_event(form.bars, lambda event: replace(event, place=None))
    return replace(form, bars=bars, second=form.second and _form_without_places(form.second))


# -- lines and fields -------------------------------------------------------------------------------------


def _divided(lines: tuple[str, ...]) -> tuple[list[str], list[_Block], list[str]]:
    """The remarks at the head, the fields, and the remarks at the end."""
    blocks: list[_Block] = []
    waiting: list[str] = []
    for line in lines:
        said = line.strip()
        if not said or said.startswith("#"):
            if said or (not waiting or waiting[-1]):
                waiting.append(said)
        elif line[0] in " \t":
            blocks[-1].rows += [_Row("", remark) for remark in waiting]
            blocks[-1].rows.append(_row(blocks[-1], line))
            waiting = []
        else:
            match = FIELD_NAME.match(line)
            assert match is not None
            block = _Block(" ".join(match[1].split()), waiting)
            block.rows.append(_row(block, " " * match.end() + line[match.end() :]))
            blocks.append(block)
            waiting = []
    head: list[str] = []
    first = blocks[0]
    first.before = _without_first(first.before)
    if "" in first.before:
        last = len(first.before) - 1 - first.before[::-1].index("")
        head, first.before = first.before[:last], first.before[last + 1 :]
    return head, blocks, waiting[:-1] if waiting and not waiting[-1] else waiting


def _without_first(rows: list[str]) -> list[str]:
    """The rows without an empty one at the beginning."""
    return rows[1:] if rows and not rows[0] else rows


def _row(block: _Block, line: str) -> _Row:
    at = remark_at(line) if has_remarks(FIELDS[block.name].form) else None
    said = line if at is None else line[:at]
    return _Row(said.strip(), "" if at is None else line[at:].strip())


def _field(block: _Block) -> Iterator[str]:
    form = FIELDS[block.name].form
    if form == "music":
        yield _ended(f"{block.word}:", block.rows[0].remark if not block.rows[0].said else "")
        rows = block.rows if block.rows[0].said else block.rows[1:]
        yield from _music(rows)
    elif form == "list":
        yield f"{block.word}:"
        yield from _points(block.rows)
    else:
        first, *others = block.rows
        yield _ended(f"{block.word}: {_folded(first.said, form)}".rstrip(), first.remark)
        for row in others:
            if row.said or row.remark:
                yield _INDENT + _ended(_folded(row.said, form), row.remark)


def _ended(said: str, remark: str) -> str:
    return f"{said}  {remark}" if said and remark else said + remark


def _folded(said: str, form: str) -> str:
    words = " ".join(said.split())
    if form == "variations":
        words = re.sub(r"\s*,\s*", ", ", words).strip()
        words = re.sub(r"\s*([+=])\s*", r" \1 ", words).strip()
    return words


def _points(rows: list[_Row]) -> Iterator[str]:
    for row in rows:
        words = " ".join(row.said.split())
        if words.startswith("- ") or (row.remark and not words):
            yield _INDENT + words + row.remark
        elif words:
            yield _INDENT * 2 + words


# -- music ------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Line:
    """A line of music: its bars, each a list of words, and its remark; without bars, a remark or nothing."""

    bars: list[list[str]]
    remark: str = ""


class _Lines:
    """Puts the words of a field of music on lines."""

    def __init__(self) -> None:
        self.lines: list[_Line] = []
        self.bars: list[list[str]] = []
        self.bar: list[str] = []
        self.ending = False
        """Whether the author's line has ended, and the bar at work has not."""

    def add(self, word: str) -> None:
        """Add a word; bar lines, and what closes a group, stay with the bar before them."""
        before = self._bar_before()
        closes = word in _CLOSING | _BAR_LINES or word.endswith("times")
        if not self.bar and before is not None and closes:
            before.append(word)
            return
        if not self.bar and self.ending:
            self.end()
        if word == "|:" and self.bar:
            self._close()
        if self.ending and not self.bar:
            self.end()
        self.bar.append(word)
        if word in _BAR_LINES:
            self._close()

    def _bar_before(self) -> list[str] | None:
        """The bar before the one at work, also where remarks stand between them."""
        if self.bars:
            return self.bars[-1]
        return next((line.bars[-1] for line in reversed(self.lines) if line.bars), None)

    def _close(self) -> None:
        self.bars.append(self.bar)
        self.bar = []

    def end(self, remark: str = "") -> None:
        """End the line here, even within a bar."""
        if self.bar:
            self._close()
        if self.bars or remark:
            self.lines.append(_Line(self.bars, remark))
        self.bars, self.ending = [], False

    def alone(self, remark: str) -> None:
        """Add a remark on a line of its own, or an empty line."""
        if remark or not self.bar:
            self.end()
            self.lines.append(_Line([], remark))


def _music(rows: list[_Row]) -> Iterator[str]:
    lines = _Lines()
    for row in rows:
        if not row.said:
            lines.alone(row.remark)
            continue
        for word in _TOKEN.findall(row.said):
            lines.add(word)
        lines.ending = True
        if row.remark:
            lines.end(row.remark)
    lines.end()
    parts = [part for line in lines.lines for part in _narrow(line)]
    columns = _columns(parts)
    last = max((number for number, part in enumerate(parts) if part.bars), default=0)
    for number, part in enumerate(parts):
        if not part.bars:
            # After the last note it would belong to the next field if it were read again.
            yield (_INDENT * (number < last) + part.remark).rstrip()
        else:
            yield _INDENT + _ended(_aligned(part.bars, columns), part.remark)


def _narrow(line: _Line) -> Iterator[_Line]:
    """The line, in as many parts as its width needs."""
    bars: list[list[str]] = []
    for bar in line.bars:
        if bars and len(_INDENT) + len(_joined([*bars, bar])) > WIDTH:
            yield _Line(bars)
            bars = []
        bars = [*bars, bar]
    yield _Line(bars, line.remark)


def _joined(bars: list[list[str]]) -> str:
    return " ".join(" ".join(bar) for bar in bars)


def _halves(bar: list[str]) -> tuple[str, str]:
    """A bar's words before its bar line, and the rest."""
    at = next((number for number, word in enumerate(bar) if word in _BAR_LINES), len(bar))
    return " ".join(bar[:at]), " ".join(bar[at:])


def _columns(lines: list[_Line]) -> list[tuple[int, int]]:
    """The widths of the two halves of each bar over all lines; none where the lines would be too wide."""
    widths: list[tuple[int, int]] = []
    for line in lines:
        for number, (notes, rest) in enumerate(map(_halves, line.bars)):
            if number == len(widths):
                widths.append((0, 0))
            widest, longest = widths[number]
            widths[number] = max(widest, len(notes)), max(longest, len(rest))
    total = len(_INDENT) + sum(notes + rest + 2 for notes, rest in widths) - 1
    return widths if total <= WIDTH else []


def _aligned(bars: list[list[str]], columns: list[tuple[int, int]]) -> str:
    if not columns:
        return _joined(bars)
    said = []
    for (notes, rest), (widest, longest) in zip(map(_halves, bars), columns, strict=False):
        said.append(f"{notes:<{widest}} {rest:<{longest}}")
    return " ".join(said).rstrip()
