"""The book's own words in other languages: the catalogs are whole, and words know what they are made of.

Key names are compared with those that publishers print (from memory).
"""

from __future__ import annotations

import pickle
import re
from importlib.machinery import SourceFileLoader
from importlib.util import module_from_spec, spec_from_loader
from pathlib import Path
from types import ModuleType

import pytest
from babel.messages.catalog import Catalog

from stavewright.book.book_language import language_of, locale_remark
from stavewright.book.config import read_config_file
from stavewright.music.instruments import INSTRUMENTS
from stavewright.music.keys import MODES, Key, in_words
from stavewright.music.pitch import Pitch
from stavewright.translation.catalog import LANGUAGES, TO_ENGLISH, missing, script_messages, translation_to
from stavewright.translation.note_names import NAMES
from stavewright.translation.said import capital, counted, joined, key_name, listed, note_name, phrase, term
from stavewright.variations.printed_names import label_words

ROOT = Path(__file__).parents[1]
OTHERS = tuple(language for language in LANGUAGES if language != "en")


@pytest.fixture(scope="module")
def catalogs() -> ModuleType:
    """`.ci/catalogs`, which finds the messages."""
    loader = SourceFileLoader("catalogs", str(ROOT / ".ci" / "catalogs"))
    spec = spec_from_loader("catalogs", loader)
    assert spec is not None
    module = module_from_spec(spec)
    loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def template(catalogs: ModuleType) -> Catalog:
    """Every message of the code, the templates and the scripts."""
    found: Catalog = catalogs.messages()
    return found


def catalog_of(catalogs: ModuleType, language: str) -> Catalog:
    found: Catalog = catalogs.read(ROOT / f"builder/locale/{language}/LC_MESSAGES/stavewright.po")
    return found


def test_every_language_has_a_catalog(catalogs: ModuleType) -> None:
    assert tuple(place.parents[1].name for place in catalogs.places()) == OTHERS
    assert set(NAMES) == set(OTHERS)


@pytest.mark.parametrize("language", OTHERS)
def test_a_catalog_has_the_messages_of_the_code_and_translates_each(
    catalogs: ModuleType, template: Catalog, language: str
) -> None:
    catalog = catalog_of(catalogs, language)
    assert len(template) > 600
    assert catalogs.names(catalog) == catalogs.names(template), "run .ci/catalogs"
    assert catalogs.lacking(catalog) == [] and missing(language) == ()
    assert not any(message.fuzzy for message in catalog if message.id)


PLACEHOLDER = re.compile(r"\{\w+\}|%\(\w+\)s|</?a\b")


@pytest.mark.parametrize("language", OTHERS)
def test_a_translation_has_the_placeholders_of_its_message(catalogs: ModuleType, language: str) -> None:
    for message in catalog_of(catalogs, language):
        if not message.id:
            continue
        ids = (message.id,) if isinstance(message.id, str) else message.id
        said = (message.string,) if isinstance(message.string, str) else message.string
        wanted = {each for one in ids for each in PLACEHOLDER.findall(one)}
        for words in said:
            found = PLACEHOLDER.findall(words)
            # The first form may say the count in a word: `an octave higher`.
            optional = {"{count}"} if len(ids) > 1 else set()
            assert set(found) <= wanted and wanted - set(found) <= optional, (ids, words)
            # Within an attribute of a page a quotation mark would end it.
            assert '"' not in re.sub(r'<a href="[^"]*">', "", words), words
            # Where a message begins with a space, it follows other words. French sets one before a colon.
            assert words.startswith(" ") or not ids[0].startswith(" "), words
            assert "%" not in words.replace("%(", "") or "%" in ids[0], words


def test_words_made_of_data_are_in_the_catalogs(catalogs: ModuleType, template: Catalog) -> None:
    known = {name for _, name in catalogs.names(template)}
    for instrument in INSTRUMENTS.values():
        assert {instrument.name, *(register.name for register in instrument.registers)} <= known
    assert set(MODES) <= known


KEYS = {
    ("B", -1, "major"): "B-Dur, si bémol majeur, si bemol mayor, si bemolle maggiore, Bes groot",
    ("B", 0, "minor"): "h-Moll, si mineur, si menor, si minore, b klein",
    ("B", -1, "minor"): "b-Moll, si bémol mineur, si bemol menor, si bemolle minore, bes klein",
    ("F", 1, "minor"): "fis-Moll, fa dièse mineur, fa sostenido menor, fa diesis minore, fis klein",
    ("E", -1, "major"): "Es-Dur, mi bémol majeur, mi bemol mayor, mi bemolle maggiore, Es groot",
    ("A", -1, "major"): "As-Dur, la bémol majeur, la bemol mayor, la bemolle maggiore, As groot",
    ("D", 0, "dorian"): "D dorisch, ré dorien, re dórico, re dorico, D dorisch",
    ("D", -1, ""): "auf Des, sur ré bémol, sobre re bemol, su re bemolle, op Des",
}


@pytest.mark.parametrize(("key", "said"), KEYS.items())
def test_keys_are_named_as_their_country_prints_them(key: tuple[str, int, str], said: str) -> None:
    letter, alter, mode = key
    name = Key("CDEFGAB".index(letter), alter, mode).name
    assert [translation_to(language).say(name) for language in ("de", "fr", "es", "it", "nl")] == said.split(
        ", "
    )
    assert TO_ENGLISH.say(name) == name and type(TO_ENGLISH.say(name)) is str


@pytest.mark.parametrize(
    ("pitch", "said"),
    [
        ("F#5", "Fis5, fa dièse 5, fa sostenido 5, fa diesis 5, Fis5"),
        ("Bb3", "B3, si bémol 3, si bemol 3, si bemolle 3, Bes3"),
        ("B4", "H4, si4, si4, si4, B4"),
        ("Bbb4", "Heses4, si double bémol 4, si doble bemol 4, si doppio bemolle 4, Beses4"),
        ("Ab4", "As4, la bémol 4, la bemol 4, la bemolle 4, As4"),
    ],
)
def test_notes_are_named_as_their_country_prints_them(pitch: str, said: str) -> None:
    name = Pitch.parse(pitch).spoken
    assert [translation_to(language).say(name) for language in ("de", "fr", "es", "it", "nl")] == said.split(
        ", "
    )


def test_words_know_what_they_are_made_of() -> None:
    german = translation_to("de")
    said = joined((phrase("Every exercise in {key}", key=key_name("B minor")), listed(["x", "y", "z"])), "; ")
    assert said == "Every exercise in B minor; x, y and z"
    assert german.say(said) == "Alle Übungen in h-Moll; x, y und z"
    assert german.say(pickle.loads(pickle.dumps(said))) == german.say(said)
    assert german.say(capital(in_words("on D flat"))) == "Auf Des"
    assert german.say(counted("{count} minute", "{count} minutes", 1)) == "1 Minute"
    assert translation_to("fr").say(counted("{count} minute", "{count} minutes", 0)) == "0 minute"
    # A text of the author's is never translated, even if it is a word of the catalogs.
    assert german.say("Notes") == "Notes" and german.say(term("Contents")) == "Inhalt"
    assert german.say(phrase("{title} in every key", title="Contents")) == "Contents in allen Tonarten"
    assert german.say(note_name("C")) == "C" and german.gettext("") == ""


def test_a_word_that_a_catalog_lacks_is_english() -> None:
    assert translation_to("de").say(term("a word that nobody wrote")) == "a word that nobody wrote"


@pytest.mark.parametrize(
    ("label", "english", "said"),
    [
        ("as written", "as written", "wie notiert"),
        (
            "slurred + swell from p to f to pp",
            "slurred + swell p to f to pp",
            "gebunden + Schwellton p bis f bis pp",
        ),
        (
            "tonguing double in triplets ladder 60 to 96 by 12",
            "double tongue in triplets, 60 to 96",
            "Doppelzunge in Triolen, 60 bis 96",
        ),
        ("my evening", "my evening", "my evening"),
    ],
)
def test_ways_of_playing_are_named(label: str, english: str, said: str) -> None:
    words = label_words(label)
    assert words == english and translation_to("de").say(words) == said


@pytest.mark.parametrize(
    ("theme", "language"),
    [
        ("theme: stavewright", "en"),
        ("theme: {name: stavewright}", "en"),
        ("theme: {name: stavewright, locale: de}", "de"),
        ("theme: {name: stavewright, locale: de_AT}", "de"),
        ("theme: {name: stavewright, locale: pl}", "en"),
    ],
)
def test_the_locale_of_the_theme_is_the_language(tmp_path: Path, theme: str, language: str) -> None:
    (tmp_path / "mkdocs.yml").write_text(f"site_name: Book\n{theme}\n", encoding="utf-8")
    config = read_config_file(tmp_path / "mkdocs.yml")
    assert language_of(config) == language
    assert ("'pl'" in locale_remark(config)) == ("pl" in theme)


def test_scripts_are_given_their_words_and_no_others() -> None:
    words = script_messages("de")
    assert words["Stop"] == "Stopp" and words["{count} key"] == ["{count} Tonart", "{count} Tonarten"]
    assert "Focus" not in words and "The language of the exercises" not in words


def test_every_message_of_the_scripts_is_found(catalogs: ModuleType) -> None:
    """Babel does not look into the values of a template string."""
    scripts = sorted((ROOT / "site_src/assets").rglob("*.js"))
    asked = [
        message
        for script in scripts
        for message in re.findall(r'stavewrightSay(?:Count)?\("([^"]+)"', script.read_text(encoding="utf-8"))
    ]
    assert len(asked) > 100
    assert set(asked) <= set(script_messages("de"))
