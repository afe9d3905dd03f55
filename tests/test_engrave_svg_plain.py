"""What the engraver's own back end draws looks the same when it is written as Cairo writes it.

Pictures are compared by resvg, which has the program's fonts here and no others.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from io import BytesIO

import numpy as np
import pytest
import resvg_py
from fontTools.ttLib import TTFont
from numpy.typing import NDArray
from PIL import Image

from stavewright.engrave.allowed import NotInk
from stavewright.engrave.drawings.glyph_definitions import define_glyphs
from stavewright.engrave.drawings.lettering import Face, letterer
from stavewright.engrave.drawings.svg import Drawing, Note, drawing, numbered_heads
from stavewright.engrave.drawings.svg_plain import Wording, write_as_cairo
from stavewright.engrave.faces import FAMILY, THEN, face_files, find_face_file
from stavewright.engrave.piece import Engraved, Piece
from stavewright.engrave.processes.finding import find_engraver
from stavewright.engrave.processes.lilypond import Engraver
from stavewright.engrave.processes.worker import Worker
from stavewright.jobs.systems import find_on_path

HEAD = "M218 136c66 0 108 -36 108 -89c0 -89 -113 -183 -218 -183c-66 0 -108 36 -108 89c0 89 113 183 218 183z"
TEXT = f'font-family="{FAMILY},{THEN}" font-size="2.2001" text-anchor="start" fill="currentColor"'
PEN = 'stroke-linejoin="round" stroke-linecap="round" stroke="currentColor"'
SAMPLE = f"""\
<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" version="1.2"\
 width="105.43mm" height="35.14mm" viewBox="0.0000 -0.0000 60.0000 20.0000">
<style type="text/css">
<![CDATA[
tspan {{ white-space: pre; }}
]]>
</style>
<g transform="translate(5.0000, 6.0000)">
<line {PEN} stroke-width="0.1000" x1="0.0500" y1="0" x2="50.0000" y2="0"/>
</g>
<g transform="translate(5.0000, 7.0000)">
<line {PEN} stroke-width="0.1000" x1="0.0500" y1="0" x2="50.0000" y2="0"/>
</g>
<g transform="translate(8.0000, 6.5000)">
<path transform="scale(0.0040, -0.0040)" d="{HEAD}" fill="currentColor"/>
</g>
<g transform="translate(20.0000, 7.0000)">
<path transform="scale(0.0040, -0.0040)" d="{HEAD}" fill="currentColor"/>
</g>
<g transform="translate(28.0000, 7.0000)">
<g>
<path transform="translate(1.6389, 0.0000) scale(0.0040, -0.0040)" d="{HEAD}" fill="currentColor"/>
</g>
</g>
<g transform="translate(9.3000, 6.5000)">
<rect x="-0.0650" y="-3.8139" width="0.1300" height="3.8139" ry="0.0400" fill="currentColor"/>
</g>
<g transform="translate(50.0000, 8.0000)">
<rect x="0.0000" y="-2.0000" width="0.1900" height="4.0000" ry="0.0000" fill="currentColor"/>
</g>
<g transform="translate(9.0000, 5.6309)">
<path stroke-width="0.0800" {PEN} fill="currentColor"\
 d="M1.3123 -3.5450C4.2547 -5.6061 32.8671 -5.6061 35.8094 -3.5450L35.8094 -3.5450\
C32.8671 -5.4861 4.2547 -5.4861 1.3123 -3.5450z"/>
</g>
<g transform="translate(9.2000, 3.0000)">
<polygon {PEN} stroke-width="0.0800" fill="currentColor"\
 points="17.0737 -1.0100 17.0737 -0.6100 0.0400 0.2000 0.0400 -0.2000"/>
</g>
<g transform="translate(40.0000, 10.0000)">
<circle {PEN} fill="none" stroke-width="0.1000" r="0.2500"/>
</g>
<g transform="translate(5.0000, 14.0000)">
<text {TEXT}>
<tspan>AVATAR office &amp; Ty</tspan>
</text>
</g>
<g transform="translate(5.0000, 18.0000)">
<text font-style="italic" {TEXT}>
<tspan>softly, “find” Łódź</tspan>
</text>
</g>
</svg>
"""
"""A small drawing put together from what LilyPond 2.24.1 of Debian wrote."""

SCALE = 105.43 * 72 / 25.4 / 60


def seen(svg: str) -> NDArray[np.int16]:
    """A picture at four times the size, in gray levels."""
    data = bytes(
        resvg_py.svg_to_bytes(svg_string=svg, font_files=list(face_files()), skip_system_fonts=True, zoom=4)
    )
    return np.asarray(Image.open(BytesIO(data)).getchannel("A")).astype(np.int16)


def whole(made: Drawing) -> str:
    """A drawing as a file."""
    size = f'width="{made.width}" height="{made.height}"'
    inside = define_glyphs(made.glyphs, made.body) + made.body
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}>{inside}</svg>'


def difference(one: NDArray[np.int16], other: NDArray[np.int16]) -> int:
    """The greatest difference of darkness that is not there one dot away, where a shape may fall."""
    height, width = (min(sizes) for sizes in zip(one.shape, other.shape, strict=True))

    def beyond(ink: NDArray[np.int16], around: NDArray[np.int16]) -> int:
        padded = np.pad(around, 1)
        near = np.max([padded[y : y + height, x : x + width] for y in range(3) for x in range(3)], axis=0)
        return int((ink - near).max())

    one, other = one[:height, :width], other[:height, :width]
    return max(beyond(one, other), beyond(other, one))


def test_it_looks_the_same() -> None:
    made = drawing(SAMPLE)
    size = f'width="{made.width}" height="{made.height}" viewBox'
    raw = re.sub(r'width="[\d.]+mm" height="[\d.]+mm" viewBox', size, SAMPLE)
    before, after = seen(raw), seen(whole(made))
    assert (before > 200).sum() > 5000
    assert difference(before, after) < 40
    # A picture without the words is another one.
    assert (
        difference(before, seen(whole(drawing(re.sub(r"<text.*?</text>", "", SAMPLE, flags=re.DOTALL)))))
        > 200
    )


def test_a_glyph_is_there_once_and_words_are_outlines() -> None:
    notes = [Note(0, 6.5 * SCALE, 0, Fraction(0)), Note(0, 7 * SCALE, 0, Fraction(1))]
    made = drawing(SAMPLE, notes, [8 * SCALE, 20 * SCALE])
    assert made.notes == tuple(notes) and numbered_heads(made.body) == [0, 1]
    assert "<text" not in made.body and made.width == pytest.approx(60 * SCALE, abs=0.01)
    # The two heads are two corners of one path, and the third sign is that glyph too.
    [marked] = re.findall(r'marker-mid="url\(#m(\w+)\)" d="[^"]*" data-n="0 1"', made.body)
    assert f'href="#g{marked}"' in made.body and f"g{marked}" in made.glyphs
    # The lines of the staff are one path, and nothing says its place or scale beside its numbers.
    assert "transform" not in made.body and made.body.count("<line") == 0
    assert '<path d="M25.15 29.89h248.8M25.15 34.87h248.8' in made.body


def test_the_same_file_gives_the_same_drawing() -> None:
    assert drawing(SAMPLE) == drawing(SAMPLE)


def test_words_are_as_wide_as_their_face_says() -> None:
    face = TTFont(face_files()[0])
    wide = {letter: face["hmtx"][name][0] / 1000 for letter in "AVTof" if (name := letter)}
    glyphs = letterer("")(Wording("AV", FAMILY))
    assert glyphs is not None and len(glyphs) == 2
    # The pair is closer than its letters are wide.
    assert 0.8 * wide["A"] < glyphs[1][1] < wide["A"]
    joined = letterer("")(Wording("office", FAMILY))
    assert joined is not None and len(joined) == 4
    assert joined[1][1] == pytest.approx(wide["o"], abs=0.01)
    assert letterer("")(Wording("", FAMILY)) == []
    # A mark of its own belongs to its letter, where there is a letter with that mark.
    parts, whole_letter = (letterer("")(Wording(said, FAMILY)) for said in ("e\u0301", "é"))
    assert parts is not None and whole_letter is not None and len(parts) == len(whole_letter) == 1
    assert letterer("")(Wording("q\u0301", FAMILY)) is None


@pytest.mark.slow
def test_words_without_a_face_stay_words() -> None:
    said = SAMPLE.replace("softly, “find” Łódź", "息 &lt;b&gt;")
    assert letterer("")(Wording("息", f"{FAMILY},No such family")) is None
    body = drawing(said).body
    assert re.findall(r"<text [^>]*>([^<]*)</text>", body) == ["息 &lt;b&gt;"]
    assert f'font-family="{FAMILY},{THEN}"' in body and 'font-size="10.96"' in body


@pytest.mark.slow
def test_faces_change_within_words() -> None:
    """Each letter has the first face that shows it; the words go on where the last face ended."""
    engraver = find_engraver_path()
    path = find_face_file(THEN, False, False, engraver)
    if not path:
        pytest.skip("the engraver's own serif face is not here")
    glyphs = letterer(engraver)(Wording("oжo", f"{FAMILY},{THEN}"))
    ours, theirs = Face(face_files()[0]), Face(path)
    assert glyphs is not None and [right for _, right in glyphs] == pytest.approx(
        [0, ours.lay_out("o")[1], ours.lay_out("o")[1] + theirs.lay_out("ж")[1]]
    )


def find_engraver_path() -> str:
    """The path of the engraver that pip installed; empty where there is none."""
    try:
        import lilypond
    except ImportError:
        return ""
    return str(lilypond.executable())


@pytest.mark.parametrize(
    ("was", "foreign"),
    [
        ("<circle", "<image"),
        ('r="0.2500"', 'r="0.2500" onclick="x()"'),
        ("scale(0.0040, -0.0040)", "skewX(20)"),
        ('fill="currentColor" points', 'fill="red" points'),
        ('text-anchor="start"', 'text-anchor="end"'),
        ("tspan { white-space: pre; }", "path { display: none; }"),
    ],
)
def test_what_its_music_has_not_is_refused(was: str, foreign: str) -> None:
    assert was in SAMPLE
    with pytest.raises(NotInk):
        drawing(SAMPLE.replace(was, foreign))


@pytest.mark.parametrize(
    "broken", ["", "<svg", "<svg width='9mm'/>", '<svg viewBox="0 0 9 9" width="wide"/>']
)
def test_what_is_no_file_of_the_engraver_is_told(broken: str) -> None:
    with pytest.raises(ValueError):
        write_as_cairo(broken, letterer(""))


MUSIC = r"""
\score {
  <<
    \new Staff {
      \key d \major \time 4/4 \tempo "Softly" 4 = 60
      d''4 ( ^ \markup { \italic "to AVATAR, office" } fs''8 ) [ a''8 ]
      \tuplet 3/2 { b''8 a''8 g''8 } fs''4 -. | d''1 \fermata
    }
    \new Dynamics { s1 \shade "mf" 0/1 \shade "<" 1/4 | s1 \shade "!" 0/1 \shade "f" 0/1 }
  >>
}
"""


def engravers_without_cairo() -> list[Engraver]:
    """The engraver of these tests by its other back end, and one on the path that has no other."""
    own = find_engraver()
    path = find_on_path("lilypond")
    return [replace(own, cairo=False), *([Engraver(path, "", False)] if path and path != own.path else [])]


@pytest.mark.slow
def test_both_back_ends_draw_the_same() -> None:
    own = find_engraver()
    if not own.cairo:
        pytest.skip("this engraver is built without Cairo")
    drawn = []
    for engraver in (own, *engravers_without_cairo()):
        worker = Worker(engraver)
        try:
            [made] = worker.engrave([Piece("music", MUSIC)])
        finally:
            worker.close()
        assert isinstance(made, Engraved), made
        drawn.append(made.drawing)
    by_cairo, *others = drawn
    for other in others:
        assert "<text" not in other.body
        assert difference(seen(whole(by_cairo)), seen(whole(other))) < 100
        assert numbered_heads(other.body) == numbered_heads(by_cairo.body)
        # Nor is it more for a page to carry.
        size, most = (len(each.body) + sum(map(len, each.glyphs.values())) for each in (other, by_cairo))
        assert size < 1.1 * most
