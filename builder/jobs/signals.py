"""Signals that ask the program to end: it ends as a failed build ends, and leaves nothing behind.

SIGINT raises KeyboardInterrupt, SIGTERM and SIGHUP raise SystemExit, each in the main thread, so that every
`finally` on the way out is run. The exit status is 128 and the signal's number: 130 for SIGINT, 143 for
SIGTERM (the convention of POSIX shells).
"""

from __future__ import annotations

import atexit
import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

INTERRUPTED = 128 + int(signal.SIGINT)
"""Exit status after SIGINT."""

_ENDING = tuple(
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP", "SIGBREAK") if hasattr(signal, name)
)
"""SIGBREAK is Windows's word for Ctrl-Break and a window that is closed."""

_REPEATED = 3.0
"""Seconds after a signal in which another is a repetition: what the first one began needs a moment."""

_last = float("-inf")
"""When the last signal was heeded, by the clock of `time.monotonic`."""


def _end(number: int, frame: FrameType | None) -> None:
    global _last
    before, _last = _last, time.monotonic()
    if _last - before < _REPEATED:
        return
    if number == signal.SIGINT:
        raise KeyboardInterrupt
    raise SystemExit(128 + number)


def heed_signals() -> None:
    """From here on, signals end the program as an error does. One that the caller ignores stays ignored."""
    for number in _ENDING:
        if signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, _end)


def heed_unheeded_signals() -> None:
    """The same for a program that is not ours: only signals that would end it at once, `finally` or not."""
    if threading.current_thread() is not threading.main_thread():
        return
    unheeded = [number for number in _ENDING if signal.getsignal(number) == signal.SIG_DFL]
    for number in unheeded:
        signal.signal(number, _end)
    if unheeded:
        # As it ends, Python restores the defaults: a repeated signal would then end it in the middle.
        atexit.register(ignore_signals)


def ignore_signals() -> None:
    """The work is done and the program ends by itself: a signal would change nothing but its last words."""
    for number in _ENDING:
        signal.signal(number, signal.SIG_IGN)


@contextmanager
def signals_held() -> Iterator[None]:
    """A signal that comes meanwhile is heeded at the end; in a thread other than the main one, as ever.

    For steps that must be done together or not at all.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    came: list[int] = []
    before = {number: signal.getsignal(number) for number in _ENDING}
    # What was not set by Python cannot be put back by it.
    before = {number: handler for number, handler in before.items() if handler is not None}
    for number in before:
        signal.signal(number, lambda number, frame: came.append(number))
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        for number in came[:1]:
            signal.raise_signal(number)
