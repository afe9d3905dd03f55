"""The scripts of one matter as one file: a page asks for a few files, not for thirty."""

from __future__ import annotations

from mkdocs.config.defaults import MkDocsConfig
from mkdocs.structure.files import File, Files

from ..book.addresses import ASSETS

JOINED = {
    "sound": (
        *("tuning", "voices", "timing", "levels", "play", "heads", "mark", "ground", "settings"),
        *("bar", "pick", "targets", "pitch_of_sound", "intervals", "microphone", "recording", "own_pitch"),
        *("own_playing", "desk"),
    ),
    "stand": ("pieces", "rows", "turn", "panel", "stand"),
}
"""What `assets/sound.js` and `assets/stand.js` are made of, from the folders of those names, in order."""


def join_scripts(files: Files, config: MkDocsConfig) -> None:
    """Put one script in the place of those of each folder, in the theme's version or a book's own.

    Raises KeyError where one of them is missing.
    """
    for name, parts in JOINED.items():
        found = [files.src_uris[f"{ASSETS}{name}/{part}.js"] for part in parts]
        for file in found:
            files.remove(file)
        content = "".join(file.content_string for file in found)
        files.append(File.generated(config, f"{ASSETS}{name}.js", content=content))
