"""`stavewright language-server`: help for an editor while an exercise is written."""

from __future__ import annotations

import sys
from importlib.util import find_spec
from pathlib import Path

from ..editing.textmate import grammar_text
from .output_file import Kind, fresh_file, put_in_place
from .saying import say
from .selectors import WrongUse

_GRAMMAR = Kind("TextMate grammar of exercises", b'"source.warmup"', at_start=False)


def language_server(textmate: Path | None) -> int:
    """Serve one editor over the standard input and output until it ends, or write the grammar to a file.

    2 where the file cannot be written or what serves editors is not installed.
    """
    try:
        if textmate:
            with fresh_file(textmate, _GRAMMAR) as fresh:
                fresh.write_text(grammar_text(), encoding="utf-8")
                put_in_place(fresh, textmate, _GRAMMAR)
            say(f"The grammar is in {textmate}.")
            return 0
        if find_spec("pygls") is None:
            raise WrongUse(
                "pygls, which talks with editors, is not installed: pip install 'stavewright[editor]'"
            )
    except WrongUse as wrong:
        say(wrong, sys.stderr)
        return 2
    from ..editing.server import language_server as made

    made().start_io()
    return 0
