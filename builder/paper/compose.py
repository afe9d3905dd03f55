"""From rows to a finished PDF: letter, measure, break into pages, number, write."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..engrave.piece import Failure
from . import text as words
from .extracted_piece import ExtractedPiece
from .flow import Line, Row, Strips, Thumb, all_texts, measure_row
from .imposition import sheet_sides
from .page import Area, DocumentInfo, Entry, Page, PlacedLink, PlacedSystem
from .page_breaks import PageFill, paginate
from .page_format import PageFormat
from .tags import PAGINATION, Tag
from .text import Text, text
from .typesetter import Typesetter

Described = Callable[[str], str]
"""A piece of music in words, by its name."""


def describe_none(name: str) -> str:
    """For a print without music. Raises ValueError."""
    raise ValueError(f"nothing describes the piece {name}")


@dataclass(frozen=True, slots=True)
class Printed:
    """A finished print, how many pages it has, what could not be shown, and the key it is kept under."""

    data: bytes
    pages: int
    problems: tuple[str, ...] = ()
    key: str = ""


@dataclass(frozen=True, slots=True)
class Flow:
    """Measured lines, for any paper of one width, and the letters of their words."""

    lines: list[Line]
    lettered: Mapping[Text, ExtractedPiece]


def flow_rows(rows: Sequence[Row], typesetter: Typesetter) -> Flow:
    """Letter the words of some rows, and measure all."""
    lettered = typesetter.engrave_texts(all_texts(rows))
    return Flow(measure_row(rows, lettered, _music(typesetter), typesetter.form.width), lettered)


def paged(
    flow: Flow,
    about: DocumentInfo,
    title: str,
    outline: Sequence[Entry],
    typesetter: Typesetter,
    described: Described = describe_none,
) -> Printed:
    """Lines on the pages of a typesetter's form as a PDF, as `numbered_pages` describes them."""
    return write_pages(numbered_pages(flow, title, typesetter), about, outline, typesetter, described)


def numbered_pages(flow: Flow, title: str, typesetter: Typesetter, within: Tag = ()) -> list[Page]:
    """Lines on pages that are numbered from 1, with running heads.

    A row's running head (`Row.head`) holds until the next; a page that begins with a row that sets an empty
    one stands without. On left-hand pages `title` stands instead; without a title they have the same heads
    as right-hand ones. `within` leads to the element that holds them.
    """
    form = typesetter.form
    lines, lettered = flow.lines, dict(flow.lettered)
    pages, page_of = _broken(lines, typesetter)
    heads = _heads(lines, pages, title, form)
    wanted = [words.numeral(words.NUMBER, number)[0] for number in range(1, len(pages) + 1)]
    wanted += [
        words.numeral(each.what.style, page_of[each.what.mark])[0] for line in lines for each in line.numbered
    ]
    lettered |= typesetter.engrave_texts([*filter(None, heads), *wanted])
    leaves = []
    for number, (page, head) in enumerate(zip(pages, heads, strict=True), start=1):
        furniture = _furniture(number, head, lettered, form) if head else ()
        leaves.append(_leaf(page, number, lines, page_of, lettered, form, furniture, within))
    return leaves


def write_pages(
    pages: Sequence[Page],
    about: DocumentInfo,
    outline: Sequence[Entry],
    typesetter: Typesetter,
    described: Described = describe_none,
) -> Printed:
    """Finished pages as a PDF. `described` gives the words that stand for a piece of music, by its name."""
    # What writes the file is slow to load, and not needed where nothing changed.
    from .pdf.writer import write_pdf

    data = write_pdf(sheet_sides(pages, typesetter.form), about, outline, typesetter.engrave, described)
    return Printed(data, len(pages), tuple(typesetter.problems))


def filled(rows: Sequence[Row], typesetter: Typesetter) -> list[float]:
    """How much of each page some rows fill, in millimetres from the first line's top."""
    lines = flow_rows(rows, typesetter).lines
    pages, _ = _broken(lines, typesetter)
    return [page.tops[-1] + lines[page.end - 1].box.height if page.tops else 0.0 for page in pages]


def _broken(lines: Sequence[Line], typesetter: Typesetter) -> tuple[list[PageFill], dict[str, int]]:
    """Lines broken into pages, and the page of every mark."""
    form = typesetter.form
    pages = paginate([line.box for line in lines], form.depth, single_sided=form.single_sided)
    page_of = {
        mark: number
        for number, page in enumerate(pages, start=1)
        for line in lines[page.first : page.end]
        if line.first
        for mark in line.row.marks
    }
    return pages, page_of


def _music(typesetter: Typesetter) -> Strips:
    def found(name: str) -> ExtractedPiece:
        strip = typesetter.shape(name)
        if isinstance(strip, Failure):
            raise ValueError(f"{strip} has no strip")
        return strip

    return found


def _heads(
    lines: Sequence[Line], pages: Sequence[PageFill], title: str, form: PageFormat
) -> list[Text | None]:
    """Each page's running head, None where the page stands without."""
    heads: list[Text | None] = []
    current = title
    for number, page in enumerate(pages, start=1):
        inside = lines[page.first : page.end]
        set_here = [line.row.head for line in inside if line.first and line.row.head is not None]
        opens = bool(inside) and inside[0].first and inside[0].row.head is not None
        if not inside or number == 1 or (opens and not inside[0].row.head):
            heads.append(None)
        else:
            first = set_here[0] if opens else current
            alike = form.bound or form.is_right_hand(number) or not title
            shown = first if alike else title
            # Rights that go on over several pages have no head on any.
            heads.append(running_head(shown, form) if first else None)
        current = set_here[-1] if set_here else current
    return heads


def running_head(said: str, form: PageFormat) -> Text:
    """The words at a page's top, on one line."""
    return text(words.HEAD, words.shortened(said, words.HEAD, form.width * 0.8), form.width)


def _furniture(
    number: int, head: Text, lettered: Mapping[Text, ExtractedPiece], form: PageFormat
) -> tuple[PlacedSystem, ...]:
    """The running head in the middle and the number at the edge; where it is bound, the other way round."""
    outer = 1.0 if form.is_right_hand(number) else 0.0
    numeral = words.numeral(words.NUMBER, number)
    if form.bound:
        rows = ((head, 0), outer, form.head), (numeral, 0.5, form.paper.height - form.folio)
    else:
        rows = ((head, 0), 0.5, form.head), (numeral, outer, form.head)
    found = []
    for (what, place), at, baseline in rows:
        strip = lettered[what]
        line = strip.line(place)
        left = form.left_of(number) + at * (form.width - line.right)
        top = baseline - (line.baseline or 0.0)
        found.append(PlacedSystem(strip, place, left, top, tag=PAGINATION))
    return tuple(found)


_THUMB = 2.0
_EDGE = 4.5
"""Millimetres: a thumb mark's width, and its distance from the sheet's edge (printers leave 4 white)."""

_MOST_THUMBS = 6
"""Marks on a page at most. A page with more keys has none, for no mark would help."""


def _thumbs(
    thumbs: Iterable[Thumb], number: int, lettered: Mapping[Text, ExtractedPiece], form: PageFormat
) -> Iterator[tuple[Area, PlacedSystem]]:
    """Marks at a page's outer edge, each with its letter beside it on the inner side."""
    right_hand = form.is_right_hand(number)
    step = form.depth / 12
    found = dict.fromkeys(thumbs)
    for thumb in found if len(found) <= _MOST_THUMBS else ():
        middle = form.top + (thumb.place + 0.5) * step
        strip = lettered[thumb.text]
        line = strip.line(0)
        edge = form.paper.width - _EDGE - _THUMB if right_hand else _EDGE
        beside = edge - 1.0 - line.right if right_hand else edge + _THUMB + 1.0
        top = middle + thumb.text.style.capital / 2 - (line.baseline or 0.0)
        area = (edge, middle - step * 0.3, edge + _THUMB, middle + step * 0.3)
        yield area, PlacedSystem(strip, 0, beside, top, tag=PAGINATION)


def _inside(within: Tag, tag: Tag) -> Tag:
    """The tag of a thing in an element; what is not read out stays so."""
    return within + tag if tag else ()


def _leaf(
    page: PageFill,
    page_number: int,
    lines: Sequence[Line],
    page_of: Mapping[str, int],
    lettered: Mapping[Text, ExtractedPiece],
    form: PageFormat,
    furniture: tuple[PlacedSystem, ...],
    within: Tag,
) -> Page:
    stamps = list(furniture)
    marks: list[tuple[str, float]] = []
    links: list[PlacedLink] = []
    leaders: list[tuple[float, float, float]] = []
    edge = form.left_of(page_number)
    inside = lines[page.first : page.end]
    for line, top in zip(inside, page.tops, strict=True):
        y = form.top + top
        for placed in line.placed:
            left, height = edge + placed.left, y + placed.top
            stamps.append(
                PlacedSystem(
                    placed.strip, placed.line, left, height, placed.scale, _inside(within, placed.tag)
                )
            )
        for each in line.numbered:
            number, tag = page_of[each.what.mark], _inside(within, each.tag)
            block, place = words.numeral(each.what.style, number)
            numeral = lettered[block].line(place)
            left = edge + each.indent + each.at * (form.width - numeral.right)
            height = y + each.baseline - (numeral.baseline or 0.0)
            stamps.append(PlacedSystem(lettered[block], place, left, height, tag=tag))
            if not line.row.link:
                area = (left, y, left + numeral.right, y + line.box.height)
                links.append(PlacedLink(each.what.mark, area, f"Page {number}", tag))
            if line.row.leader and line.placed:
                last = line.placed[-1]
                start = edge + last.right
                leaders.append((start + 2, left - 2, y + each.baseline))
        if line.row.link:
            area = (edge, y, edge + form.width, y + line.box.height)
            said = " ".join(each.words for each in line.row.texts)
            said = f"{said}, page {page_of[line.row.link]}"
            links.append(PlacedLink(line.row.link, area, said, _inside(within, line.tag)))
        if line.first:
            marks += [(mark, y) for mark in line.row.marks]
    found = list(
        _thumbs((thumb for line in inside for thumb in line.row.thumbs), page_number, lettered, form)
    )
    stamps += [stamp for _, stamp in found]
    blocks = tuple(area for area, _ in found)
    return Page(tuple(stamps), tuple(marks), tuple(links), tuple(leaders), blocks, f"{page_number}")
