"""Generators: figures made from a rule instead of written note by note.

A generator is one function under `@figure` in any module of this folder, under the word that calls it in the
text language; nothing else changes.
"""

from __future__ import annotations

from . import intervals, octaves, scales
from .registry import FIGURES, Figure

__all__ = ["FIGURES", "Figure", "intervals", "octaves", "scales"]
