"""Writes a tempo as MusicXML's `metronome`."""

from __future__ import annotations

import xml.etree.ElementTree as ET

from ..music.event import Tempo
from .elements import child
from .notes import TYPES


def metronome(parent: ET.Element, tempo: Tempo, /, **attributes: str) -> None:
    """Add the beat and its number, or both numbers, a minute."""
    found = child(parent, "metronome", **attributes)
    child(found, "beat-unit", TYPES[tempo.beat.base])
    for _ in range(tempo.beat.dots):
        child(found, "beat-unit-dot")
    numbers = str(tempo.low) if tempo.low == tempo.high else f"{tempo.low}-{tempo.high}"
    child(found, "per-minute", numbers)
