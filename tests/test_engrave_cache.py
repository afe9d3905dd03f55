"""The cache of engraved pieces: whole or not at all, bounded, shared by builds at once, and cleared."""

from __future__ import annotations

import os
import re
import sys
import threading
import time
from dataclasses import fields, replace
from fractions import Fraction
from importlib.resources import files
from importlib.util import resolve_name
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stavewright.cache.store import MARK, CacheStore, key_of
from stavewright.cli import main
from stavewright.engrave import piece as piece_module
from stavewright.engrave.faces import face_files
from stavewright.engrave.piece import STAND, Engraved, Layout, Piece
from stavewright.engrave.processes.lilypond import Engraver
from stavewright.engrave.processes.scheduler import engrave_all
from stavewright.music.event import Event, Place, Tempo, Value
from stavewright.music.keys import Key
from stavewright.music.pitch import Pitch
from stavewright.music.score import Bar, Meter, Score, Staff
from stavewright.music.winds.instruments import FLUTE

ENGRAVER = Engraver("lilypond", "2.24.3", True)
KEYS = [key_of([str(number)]) for number in range(40)]


def some_score() -> Score:
    quarter = Value(Fraction(1, 4))
    pitches = [Pitch.parse(name) for name in ("D5", "E5", "F#5", "D5")]
    bar = Bar(tuple(Event(pitch, quarter, place=Place(7, 3)) for pitch in pitches))
    return Score(Key(1, 0, "major"), Meter(4, 4), Tempo(quarter, 54, 66), (Staff((bar,)),), FLUTE.compass)


def test_what_is_put_is_got(tmp_path: Path) -> None:
    cache = CacheStore(tmp_path)
    assert cache.get(KEYS[0]) is None
    assert not cache.has(KEYS[0])
    for key in KEYS:
        assert cache.put(key, key.encode() * 3)
    assert [cache.get(key) for key in KEYS] == [key.encode() * 3 for key in KEYS]
    assert all(map(cache.has, KEYS))
    assert cache.size()[0] == len(KEYS)
    assert CacheStore(tmp_path).clear() == len(KEYS)
    assert cache.size() == (0, 0)


@given(st.data())
def test_damage_is_seen_and_removed(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject) -> None:
    cache = CacheStore(tmp_path_factory.mktemp("cache"))
    cache.put(KEYS[0], b"ink of a piece")
    [path] = cache.place.glob("??/*.piece")
    whole = path.read_bytes()
    place = data.draw(st.integers(0, len(whole) - 1))
    damaged = data.draw(
        st.sampled_from(
            [whole[:place], whole[:place] + bytes([whole[place] ^ 1]) + whole[place + 1 :], whole + b"x"]
        )
    )
    path.write_bytes(damaged)
    assert cache.get(KEYS[0]) is None
    assert not path.exists()
    cache.put(KEYS[0], b"ink of a piece")
    assert cache.get(KEYS[0]) == b"ink of a piece"


def test_the_least_recently_used_leave_first(tmp_path: Path) -> None:
    cache = CacheStore(tmp_path)
    for age, key in enumerate(KEYS):
        cache.put(key, bytes(1000))
        [path] = tmp_path.glob(f"{key[:2]}/{key[2:]}*")
        os.utime(path, (time.time() - 1000 + age,) * 2)
    assert cache.get(KEYS[0]) is not None
    size = cache.size()[1]
    assert CacheStore(tmp_path, most=size // 2).trim() == len(KEYS) // 2
    left = [key for key in KEYS if cache.has(key)]
    assert left == [KEYS[0], *KEYS[len(KEYS) // 2 + 1 :]]
    assert CacheStore(tmp_path, most=size).trim() == 0


def test_the_bound_is_the_users_to_set(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path))
    for said, status in (("", 0), ("300", 0), ("0", 2), ("-1", 2), ("many", 2), ("1e3", 2), ("٣", 2)):
        monkeypatch.setenv("STAVEWRIGHT_CACHE_MB", said)
        assert main(["cache"]) == status, said
        told = capsys.readouterr()
        assert (f"of at most {'300' if said else '2147'} MB" in told.out) == (status == 0)
        assert ("write one such as 2000" in told.err) == (status == 2)


def test_what_a_build_has_used_stays_until_its_end(tmp_path: Path) -> None:
    cache = CacheStore(tmp_path, most=0)
    began = time.time() - 1
    for key in KEYS[:2]:
        cache.put(key, b"ink")
    [path] = tmp_path.glob(f"{KEYS[0][:2]}/*")
    os.utime(path, (began - 100, began - 100))
    assert cache.trim(since=began) == 1
    assert cache.has(KEYS[1])


def test_a_cache_well_within_its_bound_is_not_looked_at_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keys = [key_of(["many", str(number)]) for number in range(2000)]
    cache = CacheStore(tmp_path)
    assert all(cache.put(key, b"ink" * 100) for key in keys)
    folders = [path for path in tmp_path.iterdir() if path.is_dir()]
    assert len(folders) > 200
    looked: list[int] = []
    seen = CacheStore._seen

    def counted(found: list[Path]) -> tuple[list[tuple[int, int, Path]], int]:
        looked.append(len(found))
        return seen(found)

    monkeypatch.setattr(CacheStore, "_seen", staticmethod(counted))
    whole = cache.size()[1]
    assert CacheStore(tmp_path, most=2 * whole).trim() == 0
    assert len(looked) == 1
    assert looked[0] <= len(folders) // 16 + 1
    # Near the bound, and beyond it, all are counted.
    assert CacheStore(tmp_path, most=whole).trim() == 0
    assert looked[-1] == len(folders)
    assert CacheStore(tmp_path, most=whole // 2).trim() >= 1000
    assert cache.size()[1] <= whole // 2


def test_what_a_killed_build_has_left_goes_in_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache = CacheStore(tmp_path)
    for number in range(500):
        cache.put(key_of([str(number)]), b"ink")
    halves = [folder / ".new-stavewright-half_way" for folder in (tmp_path, *tmp_path.glob("??"))]
    for half in halves:
        half.write_bytes(b"half")
        os.utime(half, (1000, 1000))
    now = time.time()
    for later in range(16):
        monkeypatch.setattr(time, "time", lambda later=later: now + later)
        cache.trim()
    assert not any(half.exists() for half in halves)
    assert cache.size()[0] == 500


def foreign_files(place: Path) -> list[Path]:
    """Files that are none of the cache's, each like one in some way, and all of them very old."""
    piece = f"{'0' * 62}.piece"
    names = [
        "thesis.doc",
        ".new-notes",
        ".new-stavewright-notes.txt",
        "ab/mine.piece",
        f"ab/{piece}.bak",
        "ab/.new-12345678",
        f"abc/{piece}",
        f"xy/{piece}",
        "deep/er/.new-stavewright-12345678",
    ]
    files = [place / name for name in names]
    for path in files:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("mine")
        os.utime(path, (1000, 1000))
    return files


@pytest.mark.parametrize("marked", [True, False])
def test_what_is_not_the_caches_is_never_removed(tmp_path: Path, marked: bool) -> None:
    files = foreign_files(tmp_path)
    outside = tmp_path.with_name(f"{tmp_path.name}-outside")
    outside.mkdir()
    files.append(outside / f"{'1' * 62}.piece")
    files[-1].write_text("mine")
    (tmp_path / "cd").symlink_to(outside)
    cache = CacheStore(tmp_path, most=0)
    assert all(cache.put(key, b"ink") for key in KEYS)
    if not marked:
        (tmp_path / MARK).write_text("somebody's own words")
    for _ in range(16):
        cache.trim()
    assert (cache.size()[0] == 0) == marked
    assert all(cache.put(key, b"ink") for key in KEYS)
    assert CacheStore(tmp_path).put(KEYS[0], b"ink")
    assert cache.clear() == (len(KEYS) if marked else 0)
    assert all(path.read_text() == "mine" for path in files)
    # What stands under a key's name and is no piece is not removed without the mark.
    path = tmp_path / KEYS[0][:2] / f"{KEYS[0][2:]}.piece"
    path.write_text("mine")
    assert cache.get(KEYS[0]) is None
    assert path.exists() != marked


def test_a_folder_without_a_mark_is_not_cleared(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(tmp_path))
    CacheStore().put(KEYS[0], b"ink")
    (tmp_path / MARK).unlink()
    assert main(["cache", "--clear"]) == 1
    assert f"{tmp_path}: cannot be cleared: the file {MARK}" in capsys.readouterr().err
    assert CacheStore().has(KEYS[0])
    # As it is with a cache of the first version, until something is kept in it.
    CacheStore().put(KEYS[1], b"ink")
    assert main(["cache", "--clear"]) == 0
    assert not CacheStore().has(KEYS[0])


def test_builds_at_once_do_not_disturb_each_other(tmp_path: Path) -> None:
    wrong: list[str] = []

    def build() -> None:
        cache = CacheStore(tmp_path, most=10_000)
        for _ in range(15):
            for key in KEYS:
                found = cache.get(key)
                if found not in (None, key.encode() * 20):
                    wrong.append(key)
                cache.put(key, key.encode() * 20)
            cache.trim()

    threads = [threading.Thread(target=build) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not wrong
    assert not list(tmp_path.glob("??/.new-*"))


@pytest.mark.skipif(sys.platform == "win32", reason="Windows marks files, not folders, as read-only")
def test_a_folder_that_cannot_be_written_keeps_nothing_and_harms_nothing(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("not a folder")
    cache = CacheStore(tmp_path / "file")
    assert not cache.put(KEYS[0], b"ink")
    assert cache.get(KEYS[0]) is None
    assert not cache.has(KEYS[0])
    assert cache.trim() == cache.clear() == 0
    wanted = {"a": Piece("a", "\\score { { c'1 } }\n")}
    assert isinstance(engrave_all(wanted, wanted.__getitem__, cache=cache)["a"], Engraved)


def test_a_damaged_or_missing_entry_is_engraved_again(tmp_path: Path) -> None:
    wanted = {name: Piece(name, f"\\score {{ {{ {name}'1 }} }}\n") for name in "cde"}
    cache = CacheStore(tmp_path)
    made = engrave_all(wanted, wanted.__getitem__, cache=cache)
    before = {name: made[name] for name in wanted}
    paths = sorted(tmp_path.glob("??/*.piece"))
    paths[0].write_bytes(b"rubbish")
    paths[1].unlink()
    # One is whole as the cache sees it, but no piece.
    [key] = [path.parent.name + path.stem for path in paths[2:]]
    cache.put(key, b"{}\n")
    assert {name: made[name] for name in wanted} == before
    assert engrave_all(wanted, wanted.__getitem__, cache=cache)["c"] == before["c"]
    assert len(list(tmp_path.glob("??/*.piece"))) == 3


def test_a_key_changes_with_all_that_decides_the_ink(monkeypatch: pytest.MonkeyPatch) -> None:
    score = some_score()
    first = Piece("a", score).key(ENGRAVER)
    assert Piece("another name", some_score()).key(ENGRAVER) == first
    other_note = score.each_event(lambda event: replace(event, pitch=Pitch.parse("C5")))
    changed = {
        "layout": Piece("a", score, Layout(90, 20)).key(ENGRAVER),
        "staff": Piece("a", score, Layout(STAND.width, 18)).key(ENGRAVER),
        "engraver": Piece("a", score).key(replace(ENGRAVER, version="2.24.4")),
        "abilities": Piece("a", score).key(replace(ENGRAVER, cairo=False)),
        "notes": Piece("a", other_note).key(ENGRAVER),
        "key": Piece("a", replace(score, key=Key(2, 0, "minor"))).key(ENGRAVER),
        "words": Piece("a", score.each_event(lambda event: replace(event, above="x"))).key(ENGRAVER),
        "notation": Piece("a", "\\score { { c'1 } }").key(ENGRAVER),
    }
    monkeypatch.setattr(piece_module, "code", lambda: "other code")
    changed["code"] = Piece("a", score).key(ENGRAVER)
    assert len({first, *changed.values()}) == len(changed) + 1


def test_where_a_note_stands_in_its_text_is_not_in_the_key() -> None:
    score = some_score()
    moved = score.each_event(lambda event: replace(event, place=Place(99, 1)))
    assert Piece("a", moved).key(ENGRAVER) == Piece("a", score).key(ENGRAVER)


def test_music_that_sounds_otherwise_but_looks_the_same_is_engraved_once() -> None:
    score = some_score()
    slower = replace(score, tempo=Tempo(score.tempo.beat, 40, 48), sounds=-2)
    one, other = Piece("a", score), Piece("a", slower)
    assert one.notation == other.notation
    assert one.key(ENGRAVER) == other.key(ENGRAVER)
    # A change of tempo within the music is printed.
    changed = score.with_bars((replace(score.line.bars[0], tempo=Tempo(score.tempo.beat, 40, 48)),))
    assert Piece("a", changed).key(ENGRAVER) != one.key(ENGRAVER)


def test_the_key_leaves_out_only_what_leaves_no_ink() -> None:
    kinds = (Score, Staff, Bar, Event, Value, Pitch, Key, Meter, Tempo)
    left_out = {
        (kind.__name__, field.name)
        for kind in kinds
        for field in fields(kind)
        if field.name not in dict(piece_module._fields(kind))
    }
    assert left_out == {
        ("Event", "place"),
        ("Value", "length"),  # follows from the others
        ("Staff", "ladder"),
        ("Score", "compass"),
        ("Score", "tempo"),
        ("Score", "breath"),
        ("Score", "sounds"),
    }


def test_the_key_knows_the_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    before = piece_module.code.__wrapped__()
    assert before == piece_module.code()
    monkeypatch.setattr(piece_module, "faces_hash", lambda: "other letters")
    assert piece_module.code.__wrapped__() != before
    # Where the program is installed decides nothing.
    assert all(Path(path).is_absolute() and Path(path).is_file() for path in face_files())
    assert not any(path in repr(STAND) for path in face_files())


def test_the_key_knows_every_file_that_makes_ink() -> None:
    """From the worker on, every file of these rooms that is imported counts, and the style."""
    known = {f"{room}.{name}" for room, names in piece_module.CODE for name in names}
    waiting, found = (
        ["stavewright.engrave.processes.worker", "stavewright.engrave.notation"],
        {
            "stavewright.engrave.player.ly",
            "stavewright.engrave.signs.ly",
            "stavewright.engrave.style.ly",
        },
    )
    while waiting:
        module = waiting.pop()
        found.add(f"{module}.py")
        room, _, file = module.rpartition(".")
        text = files(room).joinpath(f"{file}.py").read_text()
        for imported in re.findall(r"^ *from (\.+[\w.]+) import", text, re.MULTILINE):
            name = resolve_name(imported, room)
            # Where ink is kept, where engravers work and what words say has no part in what it looks like.
            apart = name.startswith(
                (
                    "stavewright.cache.",
                    "stavewright.jobs.",
                    "stavewright.translation.",
                    "stavewright.visible",
                )
            )
            if f"{name}.py" not in found and not apart:
                waiting.append(name)
    assert known == found


@given(st.lists(st.text(max_size=3), max_size=4), st.lists(st.text(max_size=3), max_size=4))
def test_different_values_are_said_differently(one: list[str], other: list[str]) -> None:
    said = [piece_module._said(tuple(values)) for values in (one, other)]
    assert (said[0] == said[1]) == (one == other)
