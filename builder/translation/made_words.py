"""Words that the code puts together or reads from data, as the catalogs must have them.

What stands here is said by `gettext` of its English; see `term` in `said.py`.
"""

from __future__ import annotations

from .said import noted, term_in

BEATS = (
    noted("whole"),
    noted("half"),
    noted("quarter"),
    noted("eighth"),
    noted("sixteenth"),
    noted("dotted whole"),
    noted("dotted half"),
    noted("dotted quarter"),
    noted("dotted eighth"),
    noted("double dotted half"),
    noted("double dotted quarter"),
    noted("long"),
)
"""Note values, of which `music.score.Value.name` makes more. Rarer ones stay English."""

MODES = (
    noted("major"),
    noted("minor"),
    noted("ionian"),
    noted("dorian"),
    noted("phrygian"),
    noted("lydian"),
    noted("mixolydian"),
    noted("aeolian"),
    noted("locrian"),
)

REGISTERS = (
    noted("low"),
    noted("middle"),
    noted("high"),
    noted("bass"),
    noted("tenor"),
    noted("chalumeau"),
    noted("throat"),
    noted("clarion"),
    noted("altissimo"),
)

FINGERS = (
    term_in("fingering", "left"),
    term_in("fingering", "right"),
    term_in("fingering", "open"),
    term_in("fingering", "valves"),
    term_in("fingering", "position"),
    term_in("fingering", "half"),
    term_in("fingering", "trilled"),
    term_in("fingering", "thumb"),
    term_in("fingering", "lever"),
    term_in("fingering", "trill"),
    term_in("fingering", "gizmo"),
    term_in("fingering", "register"),
    term_in("fingering", "side"),
    term_in("fingering", "octave"),
    term_in("fingering", "palm"),
    term_in("fingering", "front"),
    term_in("fingering", "bis"),
    term_in("fingering", "low"),
    term_in("fingering", "high"),
    term_in("fingering", "first"),
    term_in("fingering", "second"),
    term_in("fingering", "third"),
    term_in("fingering", "banana"),
    term_in("fingering", "whisper"),
    term_in("fingering", "flick"),
)
"""The words of fingerings (`music.fingering`) beside numbers and notes."""

MARKS = (
    noted("accent"),
    noted("breath"),
    noted("fermata"),
    noted("marcato"),
    noted("portato"),
    noted("staccato"),
    noted("tie"),
    noted("tenuto"),
    noted("trill"),
    noted("free time"),
    noted("short-fermata"),
    noted("long-fermata"),
    noted("harmonic"),
    noted("timbral-trill"),
    noted("mordent"),
    noted("inverted-mordent"),
    noted("turn"),
    noted("flutter"),
    noted("air-tone"),
    noted("whistle-tone"),
    noted("tongue-ram"),
    noted("key-click"),
    noted("glissando"),
    noted("bend-up"),
    noted("bend-down"),
)
"""Marks of notes, as the text alternative of music reads them."""

TECHNIQUES = (noted("a tongue ram"), noted("a key click"))
"""Techniques that begin each note anew, as a sentence has them."""

INSTRUMENTS = (
    noted("Piccolo"),
    noted("Flute"),
    noted("Alto flute"),
    noted("Oboe"),
    noted("English horn"),
    noted("Clarinet in B flat"),
    noted("Clarinet in A"),
    noted("Bass clarinet"),
    noted("Bassoon"),
    noted("Soprano saxophone"),
    noted("Alto saxophone"),
    noted("Tenor saxophone"),
    noted("Baritone saxophone"),
    noted("Horn in F"),
    noted("Trumpet in B flat"),
    noted("Trombone"),
    noted("Euphonium"),
    noted("Tuba"),
)
