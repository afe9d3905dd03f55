"""Ink is made of what music needs: everything else is refused, from the engraver and from the cache.

What must never come into a page is taken from the ways in which SVG 2 and HTML run, load or link something
(https://www.w3.org/TR/SVG2/interact.html, https://www.w3.org/TR/SVG2/linking.html).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stavewright.cache.store import CacheStore
from stavewright.engrave.allowed import NotInk, check_ink
from stavewright.engrave.drawings.svg import Drawing, drawing
from stavewright.engrave.piece import Engraved, Failure, Piece
from stavewright.engrave.processes import worker as worker_module
from stavewright.engrave.processes.finding import find_engraver
from stavewright.engrave.processes.scheduler import engrave_all
from stavewright.engrave.processes.worker import Worker
from stavewright.language.words import WORDS, Word
from stavewright.views.language_page import example_score

PIECE = Piece("a", "\\score { { c'1 } }\n")

HEAD = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 9 9"'
LINE = '<path d="M 0 0 L 9 0" style="fill:none;stroke-width:0.4;stroke:rgb(0%,0%,0%)"/>'
FOREIGN = [
    "<script>x()</script>",
    '<g onload="x()"/>',
    '<g id="a" onclick="x()"><path d="M 0 0 L 1 1"/></g>',
    '<image href="https://book.example/a.png" width="9" height="9"/>',
    '<a xlink:href="https://book.example/"><path d="M 0 0 L 1 1"/></a>',
    '<foreignObject><p xmlns="http://www.w3.org/1999/xhtml">x</p></foreignObject>',
    '<path d="M 0 0" style="fill:url(https://book.example/a)"/>',
    '<path d="M 0 0" style="behavior:x"/>',
    '<path d="M 0 0" fill="url(#a)"/>',
    '<set attributeName="href" to="javascript:x()"/>',
    "<style>path { display: none }</style>",
    "<style>@import 'https://book.example/a.css'</style>",
    "<defs><g><script>x()</script></g></defs>",
    '<defs><symbol id="glyph0-0"><image href="a.png"/></symbol></defs>',
    '<defs><symbol id="glyph0-0"><path d="M 0 0" transform="scale(2)"/></symbol></defs>',
    '<text font-family="serif" onfocus="x()">p</text>',
]
BODIES = [
    "<script>x()</script>",
    '<g onload="x()"></g>',
    '<g style="fill:none"></g>',
    '<path d="M0 0"/>words',
    '<path d="M0 0" d="&#106;"/>',
    '<use x="1" y="1" href="https://book.example/#g0123456789"/>',
    '<use x="1" y="1" href="#other"/>',
    "<g>&lt;</g>",
    "<!-- -->",
    '<path d="M0 0',
    "</svg><script>x()</script>",
]


@pytest.mark.parametrize("part", FOREIGN)
def test_what_no_music_needs_is_refused_as_a_whole(part: str) -> None:
    assert drawing(f"{HEAD}>{LINE}</svg>").body.startswith("<path d=")
    with pytest.raises(NotInk, match="contains something that music does not need"):
        drawing(f"{HEAD}>{LINE}{part}</svg>")


@pytest.mark.parametrize("link", ["href='https://book.example/a.svg#b'", "xlink:href='#other'"])
def test_a_glyph_of_another_place_is_refused(link: str) -> None:
    with pytest.raises(ValueError, match="draws a glyph that it does not hold"):
        drawing(f'{HEAD}>{LINE}<use {link} x="0" y="0"/></svg>')


def test_a_file_has_no_attributes_that_go_unseen() -> None:
    with pytest.raises(NotInk, match="onload"):
        drawing(f'{HEAD} onload="x()">{LINE}</svg>')


@pytest.mark.parametrize("body", BODIES)
def test_what_is_read_from_the_cache_is_compared_too(body: str) -> None:
    whole = Engraved(Drawing(9, 9, '<path d="M0 0h9"/>', {}), b"%PDF", ())
    assert Engraved.from_bytes(whole.to_bytes()) == whole
    with pytest.raises(ValueError, match="contains something that music does not need"):
        Engraved.from_bytes(whole.to_bytes().replace(b'<path d=\\"M0 0h9\\"/>', escaped(body)))


def escaped(text: str) -> bytes:
    """As JSON has it between quotation marks."""
    return text.replace("\\", "\\\\").replace('"', '\\"').encode()


@pytest.mark.parametrize(
    ("name", "outline"),
    [
        ('g0123456789"><script>x()</script>', "M0 0"),
        ("g0123456789", 'M0 0"/><script>x()</script>'),
        ("body", "M0 0"),
    ],
)
def test_a_glyph_is_an_outline(name: str, outline: str) -> None:
    check_ink("", {"g0123456789": "M0 0c1 1 2 2 3 3z"})
    with pytest.raises(NotInk):
        check_ink("", {name: outline})


@given(st.text(alphabet='<>/="& gpathuse#d0123456789.xy\n', max_size=60))
def test_what_is_accepted_is_no_more_than_drawn(text: str) -> None:
    """By a second reader: every tag that an accepted text holds is listed, and is closed in itself."""
    try:
        check_ink(text, {})
    except NotInk:
        return
    for tag in re.findall(r"<[^>]*>?", text):
        assert re.fullmatch(r'</?[a-z]+( [-\w]+="[^"<>]*")*/?>', tag), tag
        assert re.sub(r'"[^"]*"', "", tag).strip("</>").split()[0] in {"g", "path", "use", "text"}, tag


def test_a_long_text_is_read_once() -> None:
    """A pattern that went back on what it has read would take hours for these."""
    many = 1_000_000
    for text in ("<g" + ' x="1"' * (many // 6), "<g>" * (many // 3) + "<", '<path d="' + "M" * many):
        with pytest.raises(NotInk):
            check_ink(text, {})
    check_ink('<use x="1.5" y="2" href="#g0123456789"/>' * (many // 40), {})


@pytest.mark.parametrize(
    ("cairo", "words"),
    [(True, WORDS), (False, WORDS[::6]), pytest.param(False, WORDS, marks=pytest.mark.exhaustive)],
    ids=["with Cairo", "some words without", "without Cairo"],
)
def test_both_back_ends_draw_no_more_than_that(cairo: bool, words: Sequence[Word]) -> None:
    """With every word of the language."""
    engraver = find_engraver()
    if cairo and not engraver.cairo:
        pytest.skip("this engraver is built without Cairo")
    worker = Worker(replace(engraver, cairo=cairo))
    try:
        made = list(worker.engrave([Piece(word.name, example_score(word.example)) for word in words]))
    finally:
        worker.close()
    assert [str(each) for each in made if not isinstance(each, Engraved)] == []


def test_a_piece_with_foreign_ink_fails_and_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        worker_module,
        "drawing",
        lambda text, *more: drawing(text.replace("</svg>", "<script>x()</script></svg>"), *more),
    )
    worker = Worker(find_engraver())
    try:
        [made] = worker.engrave([PIECE])
    finally:
        worker.close()
    assert isinstance(made, Failure)
    assert str(made) == (
        "a: the engraver failed: its drawing contains something that music does not need: '<script>'"
    )


def test_foreign_ink_in_the_cache_is_engraved_again(tmp_path: Path) -> None:
    cache = CacheStore(tmp_path)
    made = engrave_all({"a": PIECE}, {"a": PIECE}.__getitem__, cache=cache)
    good = made["a"]
    assert isinstance(good, Engraved)
    wrong = good.to_bytes().replace(b"<path ", b"<path onload=" + escaped('"x()" '), 1)
    cache.put(made.key("a"), wrong)
    assert made["a"] == good
    kept = cache.get(made.key("a"))
    assert kept == good.to_bytes()
