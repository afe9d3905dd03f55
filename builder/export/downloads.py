"""Files to download: a piece as MIDI to hear, and as MusicXML to open in a notation program."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import partial

from ..book.addresses import SiteFile, setting_address
from ..book.pieces import AS_WRITTEN, InstrumentBook, Rendition, SettingPieces, instrument_root
from ..cache.memo import memo_bytes
from ..cache.store import CacheStore
from ..engrave.engravings import Engravings
from ..music.keys import in_words
from ..music.score import Score
from ..music.sounding.performance import performance_fingerprint
from ..translation.catalog import TO_ENGLISH, Translation
from ..translation.said import Said, joined
from ..variations.printed_names import label_words
from .midi import midi
from .musicxml import WorkInfo, musicxml
from .mxl import pack_musicxml

SUFFIXES = {"MIDI": ".mid", "MusicXML": ".musicxml"}
"""The two kinds of file, by what they are called."""
_SITE_SUFFIXES = {**SUFFIXES, "MusicXML": ".mxl"}
"""The same on the site, where MusicXML is packed."""


def stem(placed: SettingPieces, part: Rendition) -> str:
    """A file's name without its suffix, safe anywhere: `slow-tide-flute-d-flat-5-falling-swell-up`."""
    setting = placed.setting
    names = [setting.exercise.slug, setting.instrument.slug, setting.name]
    if part.label != AS_WRITTEN:
        names.append(re.sub(r"[^a-z0-9]+", "-", part.label.lower()).strip("-"))
    return "-".join(filter(None, names))


def title(placed: SettingPieces, part: Rendition) -> Said:
    """`Slow tide in D flat major, swell up`."""
    setting = placed.setting
    name = joined((setting.exercise.title, in_words(setting.called.name)))
    return name if part.label == AS_WRITTEN else joined((name, label_words(part.label)), ", ")


def written(
    kind: str, placed: SettingPieces, part: Rendition, score: Score, translation: Translation = TO_ENGLISH
) -> bytes:
    """The bytes of a part's file of a kind named in SUFFIXES; its titles are in the book's language."""
    exercise, instrument = placed.setting.exercise, placed.setting.instrument
    called = translation.say(title(placed, part))
    instrument = replace(instrument, name=translation.gettext(instrument.name))
    if kind == "MIDI":
        return midi(score, called, instrument)
    return musicxml(score, WorkInfo(called, exercise.rights, exercise.source), instrument)


def _on_site(
    kind: str, placed: SettingPieces, part: Rendition, score: Score, translation: Translation
) -> bytes:
    """The bytes of a part's file on the site."""
    data = written(kind, placed, part, score, translation)
    return pack_musicxml(data) if kind == "MusicXML" else data


def addresses(folder: str, placed: SettingPieces) -> tuple[tuple[str, str], ...]:
    """Kind and address of each file of a setting, in its page's folder; empty if it cannot be played."""
    if not placed.parts:
        return ()
    name = stem(placed, placed.parts[0])
    return tuple((kind, f"{folder}{name}{suffix}") for kind, suffix in _SITE_SUFFIXES.items())


def downloads(
    instrument_books: tuple[InstrumentBook, ...],
    engravings: Engravings[str],
    translation: Translation = TO_ENGLISH,
) -> Iterator[SiteFile]:
    """The files of every setting of the site as written; they are cached beside its engraving."""
    store = CacheStore()
    for instrument_book in instrument_books:
        root = instrument_root(instrument_book.instrument, len(instrument_books))
        instrument = repr(instrument_book.instrument)
        for exercise, pages in instrument_book.exercises:
            for page in pages:
                for placed in page.placed:
                    for kind, address in addresses(setting_address(root, exercise.slug, page.key), placed):
                        first = placed.parts[0]
                        if first.score is None:
                            continue
                        said = (
                            translation.language,
                            translation.say(title(placed, first)),
                            exercise.rights,
                            exercise.source,
                            performance_fingerprint(first.score),
                        )
                        parts = kind, instrument, engravings.key(first.name), *said
                        make = partial(_on_site, kind, placed, first, first.score, translation)
                        yield SiteFile(address, memo_bytes(store, "download", parts, make))
