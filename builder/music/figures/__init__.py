"""Generators: rules that make figures, so that nobody writes them note by note.

A generator is a function under `@figure` in any module of this folder, named by its word in the text
language. Nothing else changes.
"""

from __future__ import annotations

from . import intervals, octaves, scales
from .climbs import WHOLE_RANGE
from .registry import FIGURES, Figure

__all__ = ["FIGURES", "WHOLE_RANGE", "Figure", "intervals", "octaves", "scales"]
