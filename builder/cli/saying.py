"""What a command says: the one door to the terminal."""

from __future__ import annotations

import json
from typing import Any, TextIO

from ..visible import visible, visible_rows


class OutputLost(Exception):
    """Raised where words cannot be written; its cause is what the system said."""


def say(message: object = "", file: TextIO | None = None) -> None:
    """Print a message of one line or several; what a terminal would obey is shown as an escape.

    Raises OutputLost.
    """
    try:
        print(visible_rows(str(message)), file=file)
    except OSError as error:
        raise OutputLost from error


def say_json(value: Any) -> None:
    """Print a value as JSON for scripts, in ASCII without control characters. Raises OutputLost."""
    text = json.dumps(value, indent=2).replace("\x7f", "\\u007f")
    try:
        print(text)
    except OSError as error:
        raise OutputLost from error


def short(path: object) -> str:
    """A path for a message, made visible, and cut in the middle where no system would take it."""
    text = visible(path)
    return text if len(text) <= 400 else f"{text[:100]}...{text[-100:]}"
