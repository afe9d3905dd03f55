"""`stavewright new`: a commented exercise that is valid as it stands."""

from __future__ import annotations

from pathlib import Path

from ..book.options import read_options
from ..book.read import BookProblem, read_config
from ..language.read import SUFFIX, slug_of
from ..music.instruments import INSTRUMENTS
from ..visible import shown, visible
from .saying import say

_STARTER = """\
# {title}: an exercise to start from. Lines that begin with # are remarks; change the rest.
# `stavewright check` says whether all is well; every word is explained on the site's language page.

title: {title}
kind: stepwise cell
purpose: Say in a sentence what it is for.
attend:
  - one thing to attend to a line
  - the start of each note clean

# Who made it and on what terms others may have it. Without this line, or with `private`, it stays out of
# the site but can still be printed.
rights: written for this book, all rights reserved

# The pitch it starts from, and the key it is written in. C4 is middle C.
home: D5 in D major
meter: 4/4
tempo: quarter = 54 to 66

# `twelve keys, semitones down`, or from pitch to pitch: `semitones down from D6 to D4, then up`.
travel: twelve keys, semitones down
variations: slurred, swell up, swell down

# w h q e s are whole to sixteenth; a dot lengthens; | ends a bar; a comma is a breath.
# For notes held as long as the breath, write `meter: free` without a tempo, and `long D5`.
music:
  slur( h D5 mf q C#5 D5 ) | slur( h E5 D5 ) | w D5 p fermata ,
"""


def new(book: Path, slug: str) -> int:
    """Write the starter; 2 where the name will not do, 1 where a file of that name is there."""
    try:
        slug_of(slug + SUFFIX)
    except ValueError as error:
        say(f"{shown(slug)} cannot be an address; {error}")
        return 2
    options, _ = read_options(read_config(book).options(), INSTRUMENTS)
    path = book / options.exercises / f"{slug}{SUFFIX}"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8") as file:
            file.write(_STARTER.format(title=slug.replace("-", " ").capitalize()))
    except FileExistsError:
        raise BookProblem(f"{visible(path)}: there is an exercise of that name; choose another") from None
    except OSError as error:
        raise BookProblem(f"{visible(path)}: cannot be written: {error.strerror}") from None
    say(f"{visible(path)}: written. Next: `stavewright check`, then `stavewright build`.")
    return 0
