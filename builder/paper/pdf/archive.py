"""What makes a PDF last (ISO 19005-2, PDF/A-2u): its metadata as XMP, and what its colours mean."""

from __future__ import annotations

import re
import struct
from xml.sax.saxutils import escape

from pikepdf import Array, Dictionary, Name, Object, Pdf, String

from ..page import DocumentInfo

PRODUCER = "Stavewright"

_NO_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Characters that XML 1.0 has not (section 2.2)."""


def add_metadata(book: Pdf, about: DocumentInfo) -> None:
    """What the file says of itself, twice and alike: as XMP and in the older way. It holds no date."""
    title, author, language = (_NO_XML.sub("", said) for said in (about.title, about.author, about.language))
    for name, said in (("Title", title), ("Author", author), ("Producer", PRODUCER)):
        book.docinfo[f"/{name}"] = String(said)
    packet = _XMP.format(
        title=escape(title), author=escape(author), language=escape(language), producer=escape(PRODUCER)
    )
    book.Root.Metadata = book.make_stream(packet.encode(), Type=Name.Metadata, Subtype=Name.XML)
    book.Root.Lang = String(language)
    book.Root.ViewerPreferences = Dictionary(DisplayDocTitle=True)
    book.Root.OutputIntents = Array([_output_intent(book)])


# The schema of pdfuaid is described in the file, as ISO 19005-2, 6.6.2.3.3, asks for one it does not know.
_XMP = """\
<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
<rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
<rdf:Description rdf:about=""
  xmlns:dc="http://purl.org/dc/elements/1.1/"
  xmlns:pdf="http://ns.adobe.com/pdf/1.3/"
  xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/"
  xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/"
  xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
  xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#"
  xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">
<dc:format>application/pdf</dc:format>
<dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
<dc:creator><rdf:Seq><rdf:li>{author}</rdf:li></rdf:Seq></dc:creator>
<dc:language><rdf:Bag><rdf:li>{language}</rdf:li></rdf:Bag></dc:language>
<pdf:Producer>{producer}</pdf:Producer>
<pdfaid:part>2</pdfaid:part>
<pdfaid:conformance>U</pdfaid:conformance>
<pdfuaid:part>1</pdfuaid:part>
<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:schema>PDF/UA Universal Accessibility Schema</pdfaSchema:schema>
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource">
<pdfaProperty:name>part</pdfaProperty:name>
<pdfaProperty:valueType>Integer</pdfaProperty:valueType>
<pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Part of ISO 14289 to which the file conforms</pdfaProperty:description>
</rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas>
</rdf:Description>
</rdf:RDF>
</x:xmpmeta>
<?xpacket end="r"?>"""

_COLOURS = "sRGB colours with a gamma of 2.2"


def _output_intent(book: Pdf) -> Object:
    """What the file's grey, and the red, green and blue of pictures, are meant to be.

    Black stays a device's own black, which a press prints with one ink.
    """
    profile = book.make_stream(colour_profile(), N=3)
    return book.make_indirect(
        Dictionary(
            Type=Name.OutputIntent,
            S=Name.GTS_PDFA1,
            OutputConditionIdentifier=String("Custom"),
            Info=String(_COLOURS),
            DestOutputProfile=profile,
        )
    )


_WHITE = (0.9642, 1.0, 0.8249)
_PRIMARIES = ((0.4361, 0.2225, 0.0139), (0.3851, 0.7169, 0.0971), (0.1431, 0.0606, 0.7141))
"""XYZ of the white D50, and adapted to it of sRGB's red, green and blue (IEC 61966-2-1), from memory."""


def colour_profile() -> bytes:
    """A profile of a screen in the form of ICC.1:2001-04, version 2, always the same."""
    name = _COLOURS.encode()
    # A text that stands in three ways, of which the latter two are empty.
    described = b"desc" + struct.pack(">II", 0, len(name) + 1) + name + b"\0" + bytes(8 + 3 + 67)
    blocks = {
        b"desc": described,
        b"cprt": b"text" + bytes(4) + b"No rights are reserved.\0",
        b"wtpt": _xyz(_WHITE),
        **{tag: _xyz(xyz) for tag, xyz in zip((b"rXYZ", b"gXYZ", b"bXYZ"), _PRIMARIES, strict=True)},
        **{tag: b"curv" + struct.pack(">IIH", 0, 1, round(2.2 * 256)) for tag in (b"rTRC", b"gTRC", b"bTRC")},
    }
    table, body = struct.pack(">I", len(blocks)), b""
    start = 128 + 4 + 12 * len(blocks)
    for tag, block in blocks.items():
        table += tag + struct.pack(">II", start + len(body), len(block))
        body += block + bytes(-len(block) % 4)
    head = struct.pack(">I", start + len(body)) + bytes(4) + struct.pack(">I", 0x02100000)
    # A profile must have a date: here that of the standard.
    head += b"mntrRGB XYZ " + struct.pack(">6H", 1999, 10, 1, 0, 0, 0) + b"acsp" + bytes(28)
    return head.ljust(68, b"\0") + _numbers(_WHITE) + bytes(128 - 80) + table + body


def _xyz(values: tuple[float, float, float]) -> bytes:
    return b"XYZ " + bytes(4) + _numbers(values)


def _numbers(values: tuple[float, float, float]) -> bytes:
    """Three numbers, each in 16 bits and 16 more behind the point."""
    return struct.pack(">iii", *(round(value * 65536) for value in values))
