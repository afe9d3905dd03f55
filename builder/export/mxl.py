"""A MusicXML file in its packed form, .mxl: a ZIP that notation programs open as it is.

As the W3C Music Notation Community Group's MusicXML 4.0 has it ("Compressed .mxl files"): first the kind of
file, not packed, then a container that names the score, and the score. The same score gives the same bytes.
"""

from __future__ import annotations

import zipfile
from io import BytesIO

_KIND = "application/vnd.recordare.musicxml"
_SCORE = "score.musicxml"
_CONTAINER = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    f'<container><rootfiles><rootfile full-path="{_SCORE}" media-type="{_KIND}+xml"/>'
    "</rootfiles></container>\n"
)
_FIRST_DAY = 1980, 1, 1, 0, 0, 0
"""The earliest date that a ZIP can state, for every file in it."""


def pack_musicxml(score: bytes) -> bytes:
    """The packed form of a MusicXML file's bytes."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w") as packed:
        for name, data in (("mimetype", _KIND), ("META-INF/container.xml", _CONTAINER), (_SCORE, score)):
            about = zipfile.ZipInfo(name, _FIRST_DAY)
            about.create_system = 3
            about.external_attr = 0o644 << 16
            way = zipfile.ZIP_STORED if name == "mimetype" else zipfile.ZIP_DEFLATED
            packed.writestr(about, data, way, 9)
    return out.getvalue()
