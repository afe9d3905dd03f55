"""A melody's file before music21 reads it: what kind it is, unpacked within bounds, without entities.

An archive may unpack to far more than it holds, and a few lines of XML may declare entities that grow to
gigabytes. So this module unpacks the archive itself, and refuses declared entities, very deep and very large
files. Compressed MusicXML: W3C Music Notation Community Group, MusicXML 4.0, "Compressed .mxl files". MIDI's
header: the MIDI Association, Standard MIDI Files 1.0.
"""

from __future__ import annotations

import io
import re
import xml.etree.ElementTree as ET
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path
from xml.parsers import expat

from ..book.plain_files import read_plain_file

MOST_BYTES = 8 * 1024 * 1024
"""Bytes: a larger file is not read."""

MOST_UNPACKED = 32 * 1024 * 1024
"""Bytes: the most that a compressed file may unpack to."""

MOST_MEMBERS = 1_000
"""The most files in an archive."""

MOST_ELEMENTS = 400_000
"""The most elements of a MusicXML file; a whole symphony movement has about as many."""

DEEPEST = 40
"""The deepest that elements may be nested; MusicXML needs about ten."""

MUSICXML, ABC, MIDI = "MusicXML", "ABC", "MIDI"
_MXL_CONTAINER = "META-INF/container.xml"
_ABC_FIELD = re.compile(r"^[XTMLK]:", re.MULTILINE)
_KINDS = "MusicXML (.musicxml, .xml, .mxl), ABC (.abc) and MIDI (.mid)"


class Unreadable(Exception):
    """Raised where a file holds no melody that can be read; `what` says why, `mend` how to mend it."""

    def __init__(self, what: str, mend: str) -> None:
        super().__init__(f"{what}; {mend}")
        self.what, self.mend = what, mend


@dataclass(frozen=True, slots=True)
class TuneFile:
    """A file's kind (MUSICXML, ABC or MIDI) and its bytes, unpacked."""

    kind: str
    data: bytes


def open_tune_file(path: Path) -> TuneFile:
    """A file that may hold a melody. Raises OSError, or Unreadable."""
    data = read_plain_file(path, MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        what = f"the file is larger than {MOST_BYTES // 1024**2} MB"
        raise Unreadable(what, "export one melody from the program it is from")
    return tune_file(data)


def tune_file(data: bytes) -> TuneFile:
    """What a file's bytes hold, by the bytes and not by its name. Raises Unreadable."""
    if not data.strip():
        raise Unreadable("the file is empty", "export the melody again")
    if data.startswith(b"MThd"):
        _check_midi(data)
        return TuneFile(MIDI, data)
    if data.startswith(b"PK"):
        return TuneFile(MUSICXML, _checked_xml(_unpacked(data)))
    if data.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<") or data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return TuneFile(MUSICXML, _checked_xml(data))
    text = _abc_text(data)
    if text is not None:
        return TuneFile(ABC, text.encode())
    raise Unreadable("the file is neither MusicXML nor ABC nor MIDI", f"these can be read: {_KINDS}")


def _abc_text(data: bytes) -> str | None:
    """The text of an ABC file, which has its fields at the beginning of lines; None where it is none."""
    if b"\0" in data:
        return None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return text if len(set(_ABC_FIELD.findall(text))) > 1 and "K:" in text else None


def _check_midi(data: bytes) -> None:
    length, form = int.from_bytes(data[4:8], "big"), int.from_bytes(data[8:10], "big")
    if len(data) < 14 or length < 6 or data.find(b"MTrk", 8) < 0:
        raise Unreadable("the MIDI file breaks off in its header", "export it again")
    if form > 1:
        raise Unreadable("the MIDI file is of format 2, a row of patterns", "export it as format 0 or 1")


def _unpacked(data: bytes) -> bytes:
    """The score in a compressed MusicXML file."""
    mend = "export the melody again, as uncompressed MusicXML"
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
            if len(names) > MOST_MEMBERS:
                raise Unreadable(f"the archive holds {len(names):,} files", mend)
            return _member(archive, _score_name(archive, names))
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        OSError,
        NotImplementedError,
        RuntimeError,
        ValueError,
    ) as error:
        raise Unreadable(f"the archive cannot be unpacked: {error}", mend) from None


def _score_name(archive: zipfile.ZipFile, names: list[str]) -> str:
    if _MXL_CONTAINER in names:
        root = ET.fromstring(_checked_xml(_member(archive, _MXL_CONTAINER)))
        for element in root.iter():
            named = element.get("full-path", "")
            if element.tag.rpartition("}")[2] == "rootfile" and named in names:
                return named
    scores = [
        name for name in names if name.endswith((".xml", ".musicxml")) and not name.startswith("META-INF")
    ]
    if not scores:
        raise Unreadable("the archive holds no MusicXML", f"these can be read: {_KINDS}")
    return scores[0]


def _member(archive: zipfile.ZipFile, name: str) -> bytes:
    """A file of the archive. What it says of its size is not believed."""
    with archive.open(name) as file:
        data = file.read(MOST_UNPACKED + 1)
    if len(data) > MOST_UNPACKED:
        what = f"the archive unpacks to more than {MOST_UNPACKED // 1024**2} MB"
        raise Unreadable(what, "export one melody from the program it is from")
    return data


class _Guard:
    """Counts the elements of an XML file while expat reads it."""

    def __init__(self) -> None:
        self.depth = self.count = 0

    def start(self, name: str, attributes: dict[str, str]) -> None:
        self.depth += 1
        self.count += 1
        if self.count > MOST_ELEMENTS or self.depth > DEEPEST:
            much = (
                f"more than {MOST_ELEMENTS:,} elements"
                if self.depth <= DEEPEST
                else "too deeply nested elements"
            )
            raise Unreadable(f"the XML has {much}", "export one melody from the program it is from")

    def end(self, name: str) -> None:
        self.depth -= 1

    def entity(self, *declared: object) -> None:
        raise Unreadable(
            "the XML declares entities, which MusicXML does not need", "export the melody again, without them"
        )


def _checked_xml(data: bytes) -> bytes:
    """The same bytes, once expat has read them within bounds."""
    guard = _Guard()
    parser = expat.ParserCreate()
    parser.StartElementHandler = guard.start
    parser.EndElementHandler = guard.end
    parser.EntityDeclHandler = guard.entity
    parser.UnparsedEntityDeclHandler = guard.entity
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        what = f"the XML is broken at line {error.lineno}, column {error.offset + 1}"
        raise Unreadable(what, "export the melody again") from None
    except (LookupError, ValueError):
        raise Unreadable("the XML names an encoding that is not known", "export it as UTF-8") from None
    return data
