"""What a piece's PDF shows, read by pdfium: its staves, note heads, bar lines, hairpins and waves.

Only the place of ink on the page is read, never what the project says about it. Note heads are known by their
code points in the engraver's music font, Emmentaler of LilyPond 2.24 (read from the files themselves).
All lengths are in points, y upward.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from itertools import pairwise

import pypdfium2
import pypdfium2.raw as pdfium

HEADS = {
    **{"\ue0e8": "whole", "\ue0e9": "half", "\ue0ea": "quarter or shorter"},
    **{"\ue203": "open diamond", "\ue204": "diamond"},
    **{"\ue0f4": "whole cross", "\ue0f5": "half cross", "\ue0f6": "cross"},
    **{"\ue0ee": "whole triangle", "\ue0ef": "half triangle", "\ue0f0": "triangle"},
}
_LINE, _CURVE, _MOVE = pdfium.FPDF_SEGMENT_LINETO, pdfium.FPDF_SEGMENT_BEZIERTO, pdfium.FPDF_SEGMENT_MOVETO

Point = tuple[float, float]
Box = tuple[float, float, float, float]
"""Left, bottom, right, top."""


@dataclass(frozen=True)
class Head:
    """A note head: its edges, its place on its staff in half spaces above the lowest line, and its shape.

    `over` is the place of a smaller head over it on the same stem, and None where there is none.
    """

    left: float
    right: float
    step: int
    shape: str = ""
    over: int | None = None


@dataclass(frozen=True)
class Sign:
    """A hairpin, a wave or a straight line beside a staff, by its two ends and how high it is at either."""

    left: float
    right: float
    first: float
    last: float
    curves: int = 0


@dataclass
class Staff:
    """Five lines and what stands on and beside them, from left to right."""

    bottom: float
    space: float
    left: float
    right: float
    heads: list[Head] = field(default_factory=list)
    bars: list[float] = field(default_factory=list)
    hairpins: list[Sign] = field(default_factory=list)
    waves: list[Sign] = field(default_factory=list)
    straight: list[Sign] = field(default_factory=list)

    @property
    def top(self) -> float:
        return self.bottom + 4 * self.space

    def distance(self, y: float) -> float:
        """How far a height is from the staff."""
        return max(self.bottom - y, y - self.top, 0.0)


@dataclass
class Ink:
    """A page: its width, the edges of everything on it, and its staves from the top."""

    width: float
    edges: tuple[float, float]
    staves: list[Staff]


@dataclass(frozen=True)
class _Path:
    points: tuple[Point, ...]
    kinds: tuple[int, ...]
    box: Box
    stroked: bool

    @property
    def level(self) -> bool:
        return len(self.points) == 2 and abs(self.points[0][1] - self.points[1][1]) < 0.05


def read_ink(pdf: bytes, lines: int = 1) -> Ink:
    """Read the only page of a piece with so many staves to a system."""
    document = pypdfium2.PdfDocument(pdf)
    page = document[0]
    objects = list(page.get_objects(max_depth=5))
    drawn = [(found, path) for found in objects for path in _drawn(found)]
    paths = [path for _, path in drawn if path]
    staves = _staves(paths)
    for staff in staves:
        staff.bars = _bars(staff, paths)
    # The engraver draws one system after another, each from its staves' lines on.
    groups = [staves[start : start + lines] for start in range(0, len(staves), lines)]
    near = groups[0]
    texts: dict[tuple[int, ...], list[Staff]] = {}
    own: list[tuple[_Path, list[Staff]]] = []
    for found, path in drawn:
        if path is None:
            texts.setdefault(tuple(map(round, found.get_bounds())), near)
            continue
        staff = _line_of(path, staves)
        if staff is not None:
            near = next(each for each in groups if staff in each)
            continue
        own.append((path, near))
    _put_heads(page, texts, staves)
    _put_signs(own)
    for staff in staves:
        for row in (staff.heads, staff.hairpins, staff.waves, staff.straight):
            row.sort(key=lambda each: each.left)  # type: ignore[attr-defined]
    # A path's own box counts the points of mitres that sharp ends could have.
    across = [x for path in paths for x, _ in path.points] + [
        x for found in objects if found.type == pdfium.FPDF_PAGEOBJ_TEXT for x in found.get_bounds()[::2]
    ]
    return Ink(page.get_width(), (min(across), max(across)), staves)


def _drawn(found: pypdfium2.PdfObject) -> Iterator[_Path | None]:
    """An object's path, or None. Lines of one pen may be one stroke with several beginnings: each is one."""
    if found.type != pdfium.FPDF_PAGEOBJ_PATH:
        yield None
        return
    whole = _path(found)
    starts = [place for place, kind in enumerate(whole.kinds) if kind == _MOVE]
    if not whole.stroked or len(starts) < 2:
        yield whole
        return
    for start, end in pairwise((*starts, len(whole.kinds))):
        points = whole.points[start:end]
        across, up = [x for x, _ in points], [y for _, y in points]
        box = (min(across), min(up), max(across), max(up))
        yield _Path(points, whole.kinds[start:end], box, stroked=True)


def _path(found: pypdfium2.PdfObject) -> _Path:
    matrix = found.get_matrix()
    points, kinds = [], []
    for number in range(pdfium.FPDFPath_CountSegments(found)):
        segment = pdfium.FPDFPath_GetPathSegment(found, number)
        x, y = ctypes.c_float(), ctypes.c_float()
        pdfium.FPDFPathSegment_GetPoint(segment, x, y)
        points.append(matrix.on_point(x.value, y.value))
        kinds.append(pdfium.FPDFPathSegment_GetType(segment))
    fill, stroke = ctypes.c_int(), ctypes.c_int()
    pdfium.FPDFPath_GetDrawMode(found, fill, stroke)
    return _Path(tuple(points), tuple(kinds), found.get_bounds(), bool(stroke.value))


def _staves(paths: list[_Path]) -> list[Staff]:
    """Five level lines of one length, evenly apart, are a staff."""
    long = [path for path in paths if path.level and path.stroked]
    longest = max(abs(path.points[0][0] - path.points[1][0]) for path in long)
    rows = [
        (path.points[0][1], *sorted(point[0] for point in path.points))
        for path in long
        if abs(path.points[0][0] - path.points[1][0]) > longest / 4
    ]
    # The line behind a held note is as level, and stands among them: lines of one length come together.
    rows.sort(key=lambda row: (round(row[1]), round(row[2]), row[0]))
    found: list[Staff] = []
    while len(rows) >= 5:
        heights = [row[0] for row in rows[:5]]
        gaps = [after - before for before, after in pairwise(heights)]
        if max(gaps) - min(gaps) < 0.1 and len({round(row[2]) for row in rows[:5]}) == 1:
            found.append(Staff(heights[0], sum(gaps) / 4, rows[0][1], rows[0][2]))
            del rows[:5]
        else:
            del rows[0]
    return sorted(found, key=lambda staff: -staff.bottom)


def _line_of(path: _Path, staves: list[Staff]) -> Staff | None:
    """The staff of which a path is one of the five lines."""
    if not (path.level and path.stroked):
        return None
    left, right = sorted(point[0] for point in path.points)
    for staff in staves:
        inside = staff.distance(path.points[0][1]) < 0.5
        if inside and abs(left - staff.left) < 1 and abs(right - staff.right) < 1:
            return staff
    return None


def _bars(staff: Staff, paths: list[_Path]) -> list[float]:
    """Where bar lines stand: strokes as high as the staff, those side by side as one, dashed ones too."""
    strokes = sorted(
        path.box[0]
        for path in paths
        if (len(path.points) == 5 or (len(path.points) == 2 and path.stroked))
        and path.box[2] - path.box[0] < staff.space
        and path.box[1] <= staff.bottom + 0.3 * staff.space
        and path.box[3] >= staff.top - 0.3 * staff.space
        and path.box[0] > staff.left + staff.space
    )
    return [
        x for number, x in enumerate(strokes) if not number or x - strokes[number - 1] > 1.3 * staff.space
    ]


def _put_heads(
    page: pypdfium2.PdfPage, texts: dict[tuple[int, ...], list[Staff]], staves: list[Staff]
) -> None:
    """Give heads to the nearest staff of their system."""
    text = page.get_textpage()
    for number in range(text.count_chars()):
        if text.get_text_range(number, 1) in HEADS:
            left, bottom, right, top = box = text.get_charbox(number)
            middle = (bottom + top) / 2
            near = texts.get(tuple(map(round, box)), staves)
            staff = min(near, key=lambda each: each.distance(middle))
            step = round((middle - staff.bottom) / (staff.space / 2))
            staff.heads.append(Head(left, right, step, HEADS[text.get_text_range(number, 1)]))
    for staff in staves:
        staff.heads = list(_on_their_stems(staff))


def _on_their_stems(staff: Staff) -> Iterator[Head]:
    """Each head with the one over it on its stem, if there is one: both stand at about the same place."""
    waiting: list[Head] = []
    for head in [*sorted(staff.heads, key=lambda each: each.left), None]:
        if head and (not waiting or head.left - waiting[0].left < 0.8 * staff.space):
            waiting.append(head)
            continue
        if waiting:
            low, *others = sorted(waiting, key=lambda each: each.step)
            yield replace(low, over=others[0].step if others else None)
        waiting = [head] if head else []


def _put_signs(own: list[tuple[_Path, list[Staff]]]) -> None:
    """Give signs to the nearest staff of their system: two lines apart are a hairpin, many curves a wave."""
    lines: dict[tuple[int, float, float], list[_Path]] = {}
    staff_of: dict[int, Staff] = {}
    for path, near in own:
        heights = [y for _, y in path.points]
        middle = (min(heights) + max(heights)) / 2
        staff = min(near, key=lambda each: each.distance(middle))
        if not staff.distance(middle) or not path.stroked:
            continue
        left, right = min(p[0] for p in path.points), max(p[0] for p in path.points)
        curves = path.kinds.count(_CURVE) // 3
        if path.kinds[1:] == (_LINE,) and right - left > 0.1:
            staff_of[id(staff)] = staff
            lines.setdefault((id(staff), round(left, 1), round(right, 1)), []).append(path)
        elif _is_wave(path, curves):
            heights = [abs(y - heights[0]) for y in heights]
            staff.waves.append(Sign(left, right, max(heights[:4]), max(heights[-4:]), curves))
    for (number, left, right), pair in lines.items():
        staff = staff_of[number]
        if len(pair) == 2:
            staff.hairpins.append(_hairpin(pair))
        elif pair[0].level:
            staff.straight.append(Sign(left, right, 0.0, 0.0))


def _is_wave(path: _Path, curves: int) -> bool:
    """Whether a path is curves that end as high as they begin, further on; a slur comes back."""
    (x, y), (end_x, end_y) = path.points[0], path.points[-1]
    only_curves = path.kinds == (_MOVE,) + (_CURVE,) * (3 * curves)
    return curves > 0 and only_curves and abs(end_y - y) < 0.05 and end_x - x > 0.1


def _hairpin(pair: list[_Path]) -> Sign:
    ends = [sorted(path.points) for path in pair]
    first, last = (abs(ends[0][end][1] - ends[1][end][1]) for end in (0, 1))
    return Sign(ends[0][0][0], ends[0][1][0], first, last)


def systems(ink: Ink, lines: int) -> Iterator[Staff]:
    """The player's staff of each system of a piece with so many staves."""
    yield from ink.staves[::lines]
