"""The author's own pages that stand in the order of the book: Markdown, read for print as plain blocks.

Markdown is read as MkDocs reads it where mkdocs.yml names no extensions of it. Emphasis and links keep their
words only.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path, PurePosixPath
from typing import TypeAlias

from ..language.faults import Fault, shown
from ..language.fields import MAX_BYTES, Source
from .plain_files import read_plain_file

PAGE_SUFFIX = ".md"

_MOST_SIGNS = {"[": 2_000, "<": 5_000}
"""Of these signs no more are read: what reads Markdown takes minutes over some 20,000 brackets in a row."""

HOME_PAGE = "index.md"
"""The page whose text the site's home page shows."""

_EXTENSIONS = ("toc", "tables", "fenced_code")
"""Those that MkDocs always uses."""


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading; `level` is 1 to 6."""

    words: str
    level: int


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Words in one piece. `depth` counts the lists and quotations around it.

    `sign` stands before it: a list's dot or number. `close` holds it near to what stands above. `items` has
    for each list around it, from the outermost, the list's number on the page and the item's in it, from 0.
    """

    words: str
    depth: int = 0
    sign: str = ""
    close: bool = False
    items: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class TableRow:
    """A row of a table: its cells, and whether they are headings."""

    cells: tuple[str, ...]
    heading: bool = False


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture: its address as the page gives it, and what it shows in words."""

    address: str
    words: str


Block: TypeAlias = Heading | Paragraph | TableRow | Picture


@dataclass(frozen=True, slots=True)
class OwnPage:
    """A page of the author's: its file in the folder of pages, its title, and what is below the title."""

    file: str
    title: str
    blocks: tuple[Block, ...]

    @property
    def pictures(self) -> tuple[Picture, ...]:
        """Its pictures."""
        return tuple(block for block in self.blocks if isinstance(block, Picture))


def pages_in(folder: Path) -> list[str]:
    """The names of all pages below a folder, with slashes."""
    found = (path.relative_to(folder).as_posix() for path in folder.rglob(f"*{PAGE_SUFFIX}"))
    return sorted(name for name in found if name != HOME_PAGE)


def read_own_page(folder: Path, name: str, shown_as: str) -> OwnPage | Fault:
    """A page, or why it cannot be read; `shown_as` is its file in messages."""
    source = Source(shown_as, ())
    try:
        data = read_plain_file(folder / name, MAX_BYTES + 1)
    except OSError as error:
        mend = "put a file of text here that you may read, or take it away"
        return source.fault(1, 1, f"this cannot be read: {error.strerror}", mend)
    if len(data) > MAX_BYTES:
        what = f"the page is larger than {MAX_BYTES // 1024} KB"
        return source.fault(1, 1, what, "divide it into several")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        mend = "save it from your editor with the encoding UTF-8"
        return source.fault(1, 1, "the file is not UTF-8 text", mend)
    for sign, most in _MOST_SIGNS.items():
        if text.count(sign) > most:
            what = f"the page has {shown(sign)} more than {most:,} times"
            return source.fault(1, 1, what, "divide it into several")
    return own_page(name, text)


def own_page(name: str, text: str) -> OwnPage:
    """A page by its Markdown.

    Its title is the `title` that it gives at its top, else its first heading, else its file's name, as MkDocs
    has it. A first heading of the highest level is taken for the title and is not repeated.
    """
    # What reads Markdown is slow to load, and not needed for most books.
    import markdown
    from mkdocs.utils.meta import get_data

    body, meta = get_data(text)
    blocks = blocks_of(markdown.markdown(body, extensions=list(_EXTENSIONS)))
    title = meta.get("title")
    if isinstance(title, (list, dict)):
        # A few lines of YAML can stand for a very large value.
        title = None
    if blocks and isinstance(blocks[0], Heading) and blocks[0].level == 1:
        title = title or blocks[0].words
        blocks = blocks[1:]
    return OwnPage(name, str(title) if title else _named_after(name), blocks)


def _named_after(file: str) -> str:
    """`Care of the reed` for `care-of-the-reed.md`."""
    path = PurePosixPath(file)
    said = path.stem if path.stem != "index" else path.parent.name
    said = said.replace("-", " ").replace("_", " ")
    return said.capitalize() if said.lower() == said else said


def blocks_of(html: str) -> tuple[Block, ...]:
    """The blocks of a page in HTML."""
    reader = _HtmlReader()
    reader.feed(html)
    reader.close()
    return tuple(reader.found())


_HEADINGS = {f"h{level}": level for level in range(1, 7)}
_WITHOUT_WORDS = frozenset({"script", "style", "template", "iframe", "audio", "video", "svg", "object"})
_IN_LINE = frozenset(
    {"a", "abbr", "b", "bdi", "bdo", "cite", "code", "data", "del", "dfn", "em", "font", "i", "ins", "kbd"}
    | {"label", "mark", "q", "ruby", "s", "samp", "small", "span", "strong", "sub", "sup", "time", "u", "var"}
)
"""Elements within a line."""


class _HtmlReader(HTMLParser):
    """Takes HTML apart into blocks."""

    def __init__(self) -> None:
        super().__init__()
        self._blocks: list[Block] = []
        self._words: list[str] = []
        self._cells: list[str] | None = None
        self._heads = False
        # Of each list around: the number of its next item, 0 for a list without numbers.
        self._lists: list[int] = []
        # Of each list around: its own number, and that of its item, -1 before the first.
        self._items: list[tuple[int, int]] = []
        self._list_count = 0
        self._quotes = 0
        self._sign = ""
        self._close = False
        self._silent = 0
        self._verbatim = 0

    def found(self) -> Iterator[Block]:
        """Every block."""
        self._end_block()
        yield from self._blocks

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Begin an element."""
        if tag in _WITHOUT_WORDS:
            self._silent += 1
        if self._silent or tag in _IN_LINE:
            return
        given = {name: value or "" for name, value in attrs}
        if tag == "img":
            self._picture(given)
        elif tag == "br":
            self._end_line()
        elif tag == "tr":
            self._end_block()
            self._cells, self._heads = [], False
        elif tag in ("td", "th"):
            self._words = []
            self._heads = tag == "th"
        elif self._cells is None:
            self._end_block()
            if tag in ("ul", "ol"):
                start = given.get("start", "1")
                number = int(start) if start.isdecimal() and len(start) < 7 else 1
                self._lists.append(number if tag == "ol" else 0)
                self._items.append((self._list_count, -1))
                self._list_count += 1
            elif tag == "li":
                self._begin_item()
            elif tag == "blockquote":
                self._quotes += 1
            self._verbatim += tag == "pre"

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element that holds nothing, such as a line's end."""
        self.handle_starttag(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        """End an element."""
        if tag in _WITHOUT_WORDS:
            self._silent = max(0, self._silent - 1)
            return
        if self._silent or tag in _IN_LINE:
            return
        if tag in ("td", "th") and self._cells is not None:
            self._cells.append(self._taken())
        elif tag == "tr" and self._cells is not None:
            if any(self._cells):
                self._blocks.append(TableRow(tuple(self._cells), self._heads))
            self._cells = None
        elif self._cells is None:
            self._end_element(tag)

    def _end_element(self, tag: str) -> None:
        if level := _HEADINGS.get(tag):
            if words := self._taken():
                self._blocks.append(Heading(words, level))
            return
        self._end_block()
        if tag in ("ul", "ol") and self._lists:
            self._lists.pop()
            self._items.pop()
            self._sign = ""
        elif tag == "blockquote":
            self._quotes = max(0, self._quotes - 1)
        elif tag == "pre":
            self._verbatim = max(0, self._verbatim - 1)

    def handle_data(self, data: str) -> None:
        """Words, of which those in a block of code keep their lines."""
        if self._silent:
            return
        if not self._verbatim:
            self._words.append(data)
            return
        for number, line in enumerate(data.split("\n")):
            if number:
                self._end_line()
            self._words.append(line)

    def _begin_item(self) -> None:
        if not self._lists:
            return
        number = self._lists[-1]
        self._sign = f"{number}." if number else "•"
        self._lists[-1] += bool(number)
        own, item = self._items[-1]
        self._items[-1] = own, item + 1

    def _picture(self, given: dict[str, str]) -> None:
        if self._cells is not None:
            self._words.append(given.get("alt", ""))
            return
        self._end_block()
        self._blocks.append(Picture(given.get("src", ""), " ".join(given.get("alt", "").split())))

    def _taken(self) -> str:
        words = " ".join("".join(self._words).split())
        self._words = []
        return words

    def _end_line(self) -> None:
        """End a line within a block: the next one stays close to it."""
        if self._cells is not None:
            self._words.append(" ")
        else:
            self._add_paragraph()
            self._close = True

    def _end_block(self) -> None:
        self._add_paragraph()
        self._close = False

    def _add_paragraph(self) -> None:
        if words := self._taken():
            depth = len(self._lists) + self._quotes
            items = tuple(each for each in self._items if each[1] >= 0)
            self._blocks.append(Paragraph(words, depth, self._sign, self._close, items))
            self._sign = ""
