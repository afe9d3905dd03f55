"""From rows to a finished PDF: letter, measure, break into pages, number, write."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..engrave.scheduler import Failure
from . import text as words
from .extracted_piece import Strip
from .flow import Line, Row, Strips, all_texts, measured
from .imposition import sides
from .page import About, Area, Entry, Leaf, Stamp
from .page_breaks import Page, paginate
from .page_format import Form
from .text import Text, text
from .typesetter import Workshop


@dataclass(frozen=True, slots=True)
class Printed:
    """A finished print, how many pages it has, what could not be shown, and the key it is kept under."""

    data: bytes
    pages: int
    problems: tuple[str, ...] = ()
    key: str = ""


def bound(
    rows: Sequence[Row], about: About, title: str, outline: Sequence[Entry], workshop: Workshop
) -> Printed:
    """Rows as a PDF.

    A row's running head (`Row.head`) holds until the next; a page that begins with a row that sets an empty
    one stands without. On left-hand pages `title` stands instead.
    """
    return paged(flowing(rows, workshop), about, title, outline, workshop)


@dataclass(frozen=True, slots=True)
class Flow:
    """Measured lines, for any paper of one width, and the letters of their words."""

    lines: list[Line]
    lettered: Mapping[Text, Strip]


def flowing(rows: Sequence[Row], workshop: Workshop) -> Flow:
    """Letter the words of some rows, and measure all."""
    lettered = workshop.letter(all_texts(rows))
    return Flow(measured(rows, lettered, _music(workshop), workshop.form.width), lettered)


def paged(flow: Flow, about: About, title: str, outline: Sequence[Entry], workshop: Workshop) -> Printed:
    """Lines on the pages of a workshop's form, as `bound` describes it."""
    form = workshop.form
    lines, lettered = flow.lines, dict(flow.lettered)
    pages, page_of = _broken(lines, workshop)
    heads = _heads(lines, pages, title, form)
    wanted = [words.numeral(words.NUMBER, number)[0] for number in range(1, len(pages) + 1)]
    wanted += [
        words.numeral(each.what.style, page_of[each.what.mark])[0] for line in lines for each in line.numbered
    ]
    lettered |= workshop.letter([*filter(None, heads), *wanted])
    leaves = []
    for number, (page, head) in enumerate(zip(pages, heads, strict=True), start=1):
        furniture = _furniture(number, head, lettered, form) if head else ()
        leaves.append(_leaf(page, lines, page_of, lettered, form, furniture))
    # What writes the file is slow to load, and not needed where nothing changed.
    from .pdf_writer import write

    data = write(sides(leaves, form), about, outline, workshop.inked)
    return Printed(data, len(leaves), tuple(workshop.problems))


def page_numbers(rows: Sequence[Row], workshop: Workshop) -> dict[str, int]:
    """The page on which each marked place of some rows comes to lie, without making the print."""
    return _broken(flowing(rows, workshop).lines, workshop)[1]


def filled(rows: Sequence[Row], workshop: Workshop) -> list[float]:
    """How much of each page some rows fill, in millimetres from the first line's top."""
    lines = flowing(rows, workshop).lines
    pages, _ = _broken(lines, workshop)
    return [page.tops[-1] + lines[page.end - 1].box.height if page.tops else 0.0 for page in pages]


def _broken(lines: Sequence[Line], workshop: Workshop) -> tuple[list[Page], dict[str, int]]:
    """Lines broken into pages, and the page of every mark."""
    form = workshop.form
    pages = paginate([line.box for line in lines], form.depth, single_sided=form.single_sided)
    page_of = {
        line.row.mark: number
        for number, page in enumerate(pages, start=1)
        for line in lines[page.first : page.end]
        if line.first and line.row.mark
    }
    return pages, page_of


def _music(workshop: Workshop) -> Strips:
    def found(name: str) -> Strip:
        strip = workshop.shape(name)
        if isinstance(strip, Failure):
            raise ValueError(f"{strip} has no strip")
        return strip

    return found


def _heads(lines: Sequence[Line], pages: Sequence[Page], title: str, form: Form) -> list[Text | None]:
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
            shown = first if form.is_right_hand(number) else title
            # Rights that go on over several pages have no head on any.
            heads.append(running_head(shown, form) if first else None)
        current = set_here[-1] if set_here else current
    return heads


def running_head(said: str, form: Form) -> Text:
    """The words at a page's top, on one line."""
    return text(words.HEAD, words.shortened(said, words.HEAD, form.width * 0.8), form.width)


def _furniture(number: int, head: Text, lettered: Mapping[Text, Strip], form: Form) -> tuple[Stamp, ...]:
    """The running head in the middle, the page's number at the outer edge."""
    outer = 1.0 if form.is_right_hand(number) else 0.0
    found = []
    for (what, place), at in (((head, 0), 0.5), (words.numeral(words.NUMBER, number), outer)):
        strip = lettered[what]
        line = strip.line(place)
        left = form.left + at * (form.width - line.right)
        found.append(Stamp(strip, place, left, form.head - (line.baseline or 0.0)))
    return tuple(found)


def _leaf(
    page: Page,
    lines: Sequence[Line],
    page_of: Mapping[str, int],
    lettered: Mapping[Text, Strip],
    form: Form,
    furniture: tuple[Stamp, ...],
) -> Leaf:
    stamps = list(furniture)
    marks: list[tuple[str, float]] = []
    links: list[tuple[str, Area]] = []
    leaders: list[tuple[float, float, float]] = []
    for line, top in zip(lines[page.first : page.end], page.tops, strict=True):
        y = form.top + top
        for placed in line.placed:
            stamps.append(Stamp(placed.strip, placed.line, form.left + placed.left, y + placed.top))
        for each in line.numbered:
            block, place = words.numeral(each.what.style, page_of[each.what.mark])
            numeral = lettered[block].line(place)
            left = form.left + each.at * (form.width - numeral.right)
            stamps.append(Stamp(lettered[block], place, left, y + each.baseline - (numeral.baseline or 0.0)))
            if line.row.leader and line.placed:
                last = line.placed[-1]
                start = form.left + last.right
                leaders.append((start + 2, left - 2, y + each.baseline))
        if line.row.link:
            links.append((line.row.link, (form.left, y, form.left + form.width, y + line.box.height)))
        if line.first and line.row.mark:
            marks.append((line.row.mark, y))
    return Leaf(tuple(stamps), tuple(marks), tuple(links), tuple(leaders))
