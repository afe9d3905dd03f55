"""Loudness as MIDI counts it, from 0 to 127."""

from __future__ import annotations

STRESS = {"accent": 16, "marcato": 24, "": 0}
"""How much louder a note with each mark begins. Common practice, no source."""

FAINT = 16
"""How much softer a faint note begins: a printed level. Common practice, no source."""


def velocity(step: float) -> float:
    """The velocity of a step from -1 (silence) to 7 (fff), as `dynamic_curve` counts them.

    Printed levels stand sixteen apart: ppp 16, pp 32, p 48, mp 64, mf 80, f 96, ff 112, fff 127. The MIDI 1.0
    specification says only that 64 is the middle and that 0 is no note.
    """
    return min(127.0, 16 * (step + 1))
