"""The process that reads a melody with music21 and answers with the exercise's text.

music21 takes seconds to import and may take any time over a file, so it runs in a process that can be ended.
A question is a line of JSON and then the file's bytes; the answer is a line of JSON.
"""

from __future__ import annotations

import json
import re
import sys
import warnings
import xml.etree.ElementTree as ET
from contextlib import suppress
from dataclasses import replace
from typing import Any, BinaryIO

from ..language.namings import NAMINGS
from ..language.write import write
from ..translation.catalog import Translation, translation_to
from .abc_signs import Decorations, take_decorations
from .remarks import Remarks, plain
from .tune_file import ABC, MIDI, MUSICXML, Unreadable
from .xml_signs import FileSigns, take_signs

MOST_MEMORY = 4 * 1024**3
"""Bytes of address space of the process, where the system can bound it."""

_DECORATION = re.compile(r"^(?![A-Za-z]:|%).*?(![^!\s]+!|[~HLMOPST](?=[_^=]*[A-Ga-g]))", re.MULTILINE)
"""A decoration in a line of music, which music21 passes over (the ABC standard 2.1, section 4.14)."""

_FEW_PARTS = 4
"""With more parts than this, the first is no more likely to be the melody than another."""


def main(source: BinaryIO, sink: BinaryIO) -> None:
    """Answer one question."""
    _bound_memory()
    asked = json.loads(source.readline())
    data = source.read(asked["bytes"])
    warnings.simplefilter("ignore")
    try:
        answer = brought(asked, data)
    except Unreadable as error:
        answer = {"what": error.what, "mend": error.mend}
    except MemoryError:
        answer = {"what": "the file needs too much memory", "mend": "export one melody from it"}
    except Exception as error:  # music21 raises any kind of error over a broken file
        said = plain(f"{type(error).__name__}: {error}", 200)
        answer = {"what": f"music21 cannot read the file ({said})", "mend": "export the melody again"}
    sink.write(json.dumps(answer).encode() + b"\n")
    sink.flush()


def _bound_memory() -> None:
    if sys.platform != "win32":
        import resource

        with suppress(ValueError, OSError):
            resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))


def brought(asked: dict[str, Any], data: bytes) -> dict[str, Any]:
    from .parts import read_part
    from .shaping import shaped

    remarks = Remarks()
    kind = asked["kind"]
    text = data.decode() if kind == ABC else ""
    decorations = take_decorations(text) if text else None
    if decorations:
        data = decorations.text.encode()
    score, (low, high), signs = _parsed(kind, data, translation_to(asked["language"]))
    parts = _parts(score)
    if not parts:
        raise Unreadable("there are no notes in the file", "export the melody again")
    number = asked["part"] or 1
    names = [name for name, _, _ in parts]
    listed = ", ".join(f"{n} {name}" for n, name in enumerate(names[:12], start=1))
    listed += ", ..." * (len(names) > 12)
    if number > len(parts):
        return {
            "what": f"there is no part {number}: the file has {listed}",
            "mend": "choose one of them",
            "use": True,
        }
    if len(parts) > _FEW_PARTS and not asked["part"]:
        what = f"the file has {len(parts)} parts: {listed}"
        return {"what": what, "mend": "choose one with --part, such as --part 1", "use": True}
    name, whole, part = parts[number - 1]
    if len(parts) > 1:
        remarks.add(f"this is part {number} ({name}) of {len(parts)} in the file: {listed}")
    if kind == ABC:
        signs = _decorations(text, decorations, part, remarks)
    melody = read_part(whole, part, kind != MIDI, signs, remarks)
    exercise = shaped(melody, kind != MIDI, remarks)
    if low and exercise.tempo.low == low == exercise.tempo.high:
        exercise = replace(exercise, tempo=replace(exercise.tempo, high=high))
    _say_transposition(part, remarks)
    title = plain(_title(whole), 80) or asked["title"]
    if title.casefold() in asked["titles"]:
        remarks.add(f"another exercise is called {title}, so the address is added to the title")
        title = f"{title} ({asked['slug']})"
    exercise = replace(exercise, title=title, source=_source(whole), rights="private")
    sentences = remarks.sentences()
    text = write(exercise, _remarks(asked["file"], sentences), NAMINGS[asked["notes"]])
    return {"text": text, "title": title, "remarks": sentences}


def _decorations(text: str, found: Decorations | None, part: Any, remarks: Remarks) -> FileSigns:
    """The decorations of ABC, where it is sure which note each is for; else a remark."""
    signs = found.signs if found else FileSigns()
    notes = [each for each in part.recurse().notes if not each.duration.isGrace and each.quarterLength]
    if found is None or signs.count != len([each for each in notes if "Harmony" not in each.classes]):
        signs = FileSigns()
        if _DECORATION.search(text):
            remarks.add("decorations of ABC, such as ~ and !p!, are not read; add those that you need")
    elif found.lost:
        names = plain(", ".join(found.lost), 80)
        remarks.add(f"decorations of ABC that have no word here ({names}); left out")
    return signs


def _remarks(file: str, sentences: tuple[str, ...]) -> dict[str, tuple[str, ...]]:
    head = [f"Brought in from {plain(file, 120)} by `stavewright new --from`."]
    head += ["What the file has and this text has not, or has otherwise:"] * bool(sentences)
    return {
        "": (*head, *(f"- {sentence}" for sentence in sentences)),
        "rights": (
            "FILL THIS IN: who made the melody, and on what terms it may be published, such as",
            "`public domain` or `Anna Berg 2026, CC BY 4.0`.",
            "While it says private, the exercise stays out of the site.",
        ),
    }


def _parsed(kind: str, data: bytes, translation: Translation) -> tuple[Any, tuple[int, int], FileSigns]:
    """What music21 makes of a file, and what it does not read: the range of its tempo (or zeros), signs."""
    from music21.converter import subConverters

    reader: Any
    if kind == MIDI:
        reader = subConverters.ConverterMidi()
        reader.parseData(data)
        return reader.stream, (0, 0), FileSigns()
    if kind == ABC:
        reader = subConverters.ConverterABC()
        reader.parseData(data.decode())
        return reader.stream, (0, 0), FileSigns()
    assert kind == MUSICXML
    root = ET.fromstring(data)
    if root.tag != "score-partwise":
        what = f"the XML is {plain(root.tag, 40)}, and not partwise MusicXML"
        raise Unreadable(what, "export the melody as MusicXML, sorted by parts (score-partwise)")
    _move_wedge_ends(root)
    tempo = _lower_tempo(root)
    signs = take_signs(root, translation.gettext)
    reader = subConverters.ConverterMusicXML()
    reader.parseData(ET.tostring(root, encoding="unicode"))
    return reader.stream, tempo, signs


def _move_wedge_ends(root: ET.Element) -> None:
    """Put the end of a hairpin after the notes that its offset goes over: music21 does not read it."""
    for measure in root.iter("measure"):
        for direction in [each for each in measure if each.tag == "direction"]:
            wedge, offset = direction.find("direction-type/wedge"), direction.findtext("offset")
            if wedge is None or wedge.get("type") != "stop" or not offset:
                continue
            ahead, children = float(offset), list(measure)
            place = children.index(direction)
            for after in range(place + 1, len(children)):
                duration = children[after].findtext("duration")
                if children[after].tag != "note" or ahead <= 0:
                    break
                ahead -= float(duration or 0)
                place = after
            measure.remove(direction)
            measure.insert(place, direction)


def _lower_tempo(root: ET.Element) -> tuple[int, int]:
    """Put the lower number for each range of tempos, such as 54-66; the first range, or zeros."""
    found = (0, 0)
    for said in root.iter("per-minute"):
        if match := re.fullmatch(r"\s*(\d{2,3})\s*[-–]\s*(\d{2,3})\s*", said.text or ""):
            low, high = int(match[1]), int(match[2])
            said.text = match[1]
            found = found if found[0] or not 20 <= low <= high <= 400 else (low, high)
    return found


def _parts(score: Any) -> list[tuple[str, Any, Any]]:
    """Every part with notes: its name, the score or tune it is of, and music21's part."""
    scores = list(getattr(score, "scores", ())) if "Opus" in score.classes else [score]
    found = []
    for each in scores:
        parts = list(getattr(each, "parts", ())) or [each]
        for part in parts:
            if not part.recurse().notes:
                continue
            name = part.partName or (part.partAbbreviation or "") if hasattr(part, "partName") else ""
            if len(scores) > 1:
                name = " ".join(filter(None, (_title(each), name if len(parts) > 1 else "")))
            found.append((plain(name or "without a name", 40), each, part))
    return found


def _title(score: Any) -> str:
    about = score.metadata
    return str(about.bestTitle or about.movementName or "") if about is not None else ""


def _source(score: Any) -> str:
    """What the file says of where the melody is from, in one line."""
    about = score.metadata
    said: list[str] = []
    if about is not None:
        said += dict.fromkeys(str(each) for each in (*about.composers, *about.lyricists))
        for item in ("source", "copyright"):
            for value in about[item] or ():
                said.append(f"its file says of the {'rights' if item == 'copyright' else item}: {value}")
    return plain("; ".join(said), 500)


def _say_transposition(part: Any, remarks: Remarks) -> None:
    for instrument in part.recurse().getElementsByClass("Instrument"):
        if instrument.transposition is not None and instrument.transposition.semitones:
            name = plain(instrument, 60)
            remarks.add(f"the part is for a transposing instrument ({name}); its notes are as written")
            return
