"""The fields of an exercise, each with its meaning and an example. The site's language page lists them.

A new field is one entry here, and its reading in `read.py`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Field:
    """A field of an exercise: `form` is text, list, or the grammar's rule that reads it."""

    name: str
    form: str
    means: str
    example: str
    required: bool = False
    limit: int = 300


FIELDS: dict[str, Field] = {
    field.name: field
    for field in (
        Field("title", "text", "The name on the page.", "Slow tide", required=True, limit=120),
        Field("kind", "text", "What kind of exercise it is; the search uses it.", "stepwise cell", limit=60),
        Field(
            "purpose",
            "text",
            "What the exercise is for, in a sentence or two.",
            "To join neighbours without a seam.",
            limit=1000,
        ),
        Field(
            "attend",
            "list",
            "Focus points for the player: one on each line, after a dash.",
            "- shoulders loose\n- the pitch steady as it fades",
            limit=200,
        ),
        Field(
            "about",
            "text",
            "Any further explanation: where it comes from, how to begin.",
            "Begin in the middle.",
            limit=2000,
        ),
        Field(
            "rights",
            "text",
            "Who made it and on what terms it may be published. An exercise without it, or "
            "one that says private, stays out of the site.",
            "written for this book, CC BY 4.0",
            limit=500,
        ),
        Field("source", "text", "Where a melody is from.", "Traditional; first printed 1792.", limit=500),
        Field(
            "added",
            "text",
            "The day when it came into the book, as year, month and day; after a comma the day of its last "
            "change (`2026-11-01, changed 2027-01-10`). The site tells of new exercises by it, in a feed.",
            "2026-11-01",
            limit=60,
        ),
        Field(
            "notes",
            "text",
            "How this exercise names its notes, if not as the book does: english, german (H and B, Fis, Es), "
            "french, italian, spanish (do, re, mi) or dutch (Fis, Bes). It keeps its meaning in every book.",
            "english",
            limit=60,
        ),
        Field(
            "home",
            "home",
            "The starting note and the key it is written in. For music without a key: `D5 without key`. "
            "It has no key signature, and each page is named after its note.",
            "D5 in D major",
            required=True,
        ),
        Field(
            "meter",
            "meter",
            "The time signature (default: 4/4). After = you may give the groups of the beams, as in "
            "`7/8 = 2+2+3`. `free` is free time, without a signature and with no bar lines but those you "
            "write. Equal: `senza misura`, `none`.",
            "3/4",
        ),
        Field(
            "tempo",
            "tempo",
            "The beat, and its slowest and fastest number per minute.",
            "quarter = 54 to 66",
        ),
        Field(
            "breath",
            "seconds",
            "In free time, how long a breath of long notes lasts, for the sound and for reckoning time "
            "(default: 8 to 12 seconds).",
            "8 to 12 seconds",
        ),
        Field("pickup", "pickup", "The length of an incomplete bar before the first full one.", "quarter"),
        Field("drone", "drone", "A held note below it, transposed with the key.", "D4"),
        Field(
            "chords",
            "chords",
            "Chord names over the staff, bar by bar: several share their bar equally, `.` goes on, an empty "
            "bar keeps the chord, `N.C.` is silence. They sound softly.",
            "D | G A7 | D/F# . Em7 A7 | D",
            limit=8_000,
        ),
        Field(
            "second",
            "second",
            "A second part for another player of the same instrument, made from the music: in canon "
            "(unison to octave, above or below), or a held note (`pedal on D4`, begun anew in each bar; with "
            "`, tied` held from breath to breath). `block chords` are those of the field `chords`, for a "
            "keyboard (`block chords in the treble clef`).",
            "canon at the octave below after 1 bar",
        ),
        Field(
            "travel",
            "travel",
            "How it goes through the keys: `twelve keys, semitones down` (or up, or fifths, or "
            "fourths, whole tones, minor thirds, major thirds, tritones), or start pitch by start pitch: "
            "`semitones down from D6 to D4, then up`, `semitones up through the range`. If an interval "
            "leads back before it has met all twelve keys, the next round begins a semitone further. Equal: "
            "`tones`, `whole steps`, `half steps`.",
            "twelve keys, semitones down",
        ),
        Field(
            "keys",
            "text",
            "Instead of `travel`: the keys that you want, in your order, each by the note that it is named "
            "after. They are spelled as you write them.",
            "C, F, B flat, E flat",
            limit=120,
        ),
        Field(
            "variations",
            "variations",
            "The written variations, in order. + joins two; `a name = ...` gives one a name to use again.",
            "slurred, swell up + slurred",
        ),
        Field(
            "first time",
            "variations",
            "The music is played twice. This says how to play it the first time: with vibrato or without, "
            "or at one dynamic. It needs a `second time`.",
            "without vibrato",
            limit=500,
        ),
        Field(
            "second time",
            "variations",
            "How to play it the second time.",
            "vibrato late on first long note + vibrato fading on last long note",
            limit=500,
        ),
        Field(
            "grade",
            "text",
            "How much it asks of a player, from 1 (anyone) to 5; after a semicolon those of variations "
            "(`2; eight levels 3`). Daily sets use it. Without it, the grade follows from the music.",
            "2",
            limit=500,
        ),
        Field(
            "spelling",
            "text",
            "`flats` or `sharps`: which of two enharmonic keys to use, such as G flat or F sharp; in minor "
            "`flats` uses A flat instead of G sharp if that avoids double sharps. Or keys by name: "
            "`A flat minor`.",
            "flats",
            limit=120,
        ),
        Field(
            "doubles",
            "text",
            "`keep` keeps all double accidentals; without it, only those of leading notes are printed.",
            "keep",
            limit=20,
        ),
        Field(
            "music",
            "music",
            "The notes, in the home key; of an exercise at most 1,000 notes and rests, and 400 bars.",
            "h D5 q C#5 D5 | w E5 ,",
            limit=60_000,
        ),
        Field(
            "music rising",
            "music",
            "The music for going up, if it differs.",
            "h D5 q E5 D5 | w C#5 ,",
            limit=60_000,
        ),
        Field(
            "music falling",
            "music",
            "The music for going down, if it differs.",
            "h D5 q C#5 D5 | w E5 ,",
            limit=60_000,
        ),
        Field(
            "music second",
            "music",
            "A second part, for another player: as many bars as `music`, each as long. "
            "Bar lines, endings and changes of meter and tempo stand in `music` and hold for both.",
            "h D4 q E4 D4 | w C#4 ,",
            limit=60_000,
        ),
        Field(
            "music second rising",
            "music",
            "The second part of `music rising`.",
            "h D4 q E4 D4 | w C#4 ,",
            limit=60_000,
        ),
        Field(
            "music second falling",
            "music",
            "The second part of `music falling`.",
            "h D4 q E4 D4 | w C#4 ,",
            limit=60_000,
        ),
    )
}
