"""A build that is killed at any moment leaves the old site whole or the new site whole.

A small made-up book stands in three versions, each built once in a clean folder; every file of those three
sites is known by its hash. Then, again and again, the book becomes another version, a build of it starts into
the one published folder, and is killed (SIGKILL): the builder alone, or with all that it started. When it is
dead, the published folder must hold, file by file, the site from before or the new one.

- The cache is empty (a kill then mostly meets engraving), whole (it meets pages and the change of places), or
  whatever the last kill left of it.
- A kill comes at a moment drawn from the whole length of a build, from its last tenth, or from the
  milliseconds after the new site is complete, when it changes places with the old one.
- Engravers whose builder is gone must end by themselves, within seconds.

A build that ends before its kill is looked at too, but not counted. After the last kill one more build, with
nothing but what the kills left, must succeed, make the right site and leave nothing beside it.

Linux, as it looks for processes in /proc. Nothing of the program may be edited meanwhile. Run:
`python benchmarks/kills.py [--kills 100] [--seed 1]`; exit status 1 where anything was torn, lost or left.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

from synthetic import write_book, write_exercise

Content = dict[str, str]

_COMPLETE = "sw.js"
"""The file that a build writes last, before the site changes places."""

_OWN = ".git/HEAD"
"""A file of the user's in the published folder, which builds leave alone and kills must not lose."""

_PATIENCE = 60.0
"""Seconds after which an engraver without its builder counts as left running."""

_STAGES = (
    "reading the book",
    "engraving",
    "writing pages",
    "complete, not in place",
    "in place, old site not yet removed",
    "in place",
)

_FOUND = ("old site", "new site", "torn")


def content(site: Path) -> Content:
    """Every file of a site with a hash of its bytes; empty where there is none. Hidden files are no part."""
    names = {path: path.relative_to(site).as_posix() for path in site.rglob("*") if path.is_file()}
    return {
        name: hashlib.sha256(path.read_bytes()).hexdigest()
        for path, name in names.items()
        if not name.startswith(".")
    }


def shorter(book: Path) -> None:
    """Two variations fewer, so that a build takes seconds."""
    for path in (book / "exercises").iterdir():
        text = path.read_text(encoding="utf-8")
        path.write_text(text.replace("slurred, swell up, swell down, detached", "slurred"), encoding="utf-8")


@dataclass
class Bench:
    """The places of one run, and what it has found."""

    place: Path
    dice: random.Random
    versions: list[Path] = field(default_factory=list)
    wanted: list[Content] = field(default_factory=list)
    lengths: dict[str, float] = field(default_factory=dict)
    found: Counter[str] = field(default_factory=Counter)
    stages: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    longest: float = 0.0

    @property
    def book(self) -> Path:
        """The book that changes."""
        return self.place / "book"

    @property
    def published(self) -> Path:
        """Where its site is."""
        return self.place / "published" / "site"

    @property
    def cache(self) -> Path:
        """Where its pieces are kept."""
        return self.place / "cache"

    @property
    def servers(self) -> Path:
        """Where engravers have their folders; its name in their environment tells that they are ours."""
        return self.place / "servers"

    def command(self, book: Path, site: Path) -> list[str]:
        """A build, even where nothing has changed."""
        return [
            sys.executable,
            "-m",
            "stavewright",
            "build",
            "--again",
            "--book",
            str(book),
            "--out",
            str(site),
        ]

    def start(self, book: Path, site: Path, cache: Path) -> subprocess.Popen[bytes]:
        """Start a build in a session of its own; what it says goes to a file."""
        environment = os.environ | {"STAVEWRIGHT_CACHE": str(cache), "TMPDIR": str(self.servers)}
        with (self.place / "said.txt").open("wb") as said:
            return subprocess.Popen(
                self.command(book, site),
                env=environment,
                stdin=subprocess.DEVNULL,
                stdout=said,
                stderr=said,
                start_new_session=True,
            )

    def build(self, book: Path, site: Path, cache: Path) -> float:
        """A build to its end; returns its seconds. Raises RuntimeError where it fails."""
        started = time.monotonic()
        if self.start(book, site, cache).wait():
            raise RuntimeError((self.place / "said.txt").read_text(encoding="utf-8"))
        return time.monotonic() - started

    def prepare(self, seed: int) -> None:
        """Write the versions, build each in a clean folder, and one into the published folder."""
        self.servers.mkdir()
        for number in range(3):
            version = self.place / f"version-{number}"
            write_book(version, 1, seed + number)
            write_exercise(version, f"only-in-{number}", random.Random(seed - number))
            shorter(version)
            site = self.place / f"whole-{number}" / "site"
            length = self.build(version, site, self.place / f"cold-{number}")
            self.lengths["empty"] = max(length, self.lengths.get("empty", 0))
            self.versions.append(version)
            self.wanted.append(content(site))
            # The cache that holds all three.
            self.build(version, self.place / "first" / "site", self.place / "whole-cache")
        self.take(0)
        self.build(self.book, self.published, self.place / "whole-cache")
        self.lengths["whole"] = min(
            self.build(self.book, self.published, self.place / "whole-cache") for _ in range(3)
        )
        self.lengths["as left"] = self.lengths["empty"]
        (self.published / _OWN).parent.mkdir()
        (self.published / _OWN).write_text("the user's own", encoding="utf-8")
        if content(self.published) != self.wanted[0]:
            raise RuntimeError("the same book made another site; there is nothing to compare with")

    def take(self, version: int) -> None:
        """Make the book another version."""
        shutil.rmtree(self.book, ignore_errors=True)
        shutil.copytree(self.versions[version], self.book)

    def ready(self, cache: str) -> None:
        """Empty or fill the cache, or leave it."""
        if cache != "as left":
            shutil.rmtree(self.cache, ignore_errors=True)
        if cache == "whole":
            shutil.copytree(self.place / "whole-cache", self.cache)

    def left(self) -> set[Path]:
        """Folders beside the site."""
        found = (path for path in self.published.parent.iterdir() if path != self.published)
        return {path for path in found if path.is_dir()}

    def ours(self) -> list[int]:
        """Every process that works for a build of this run, by the folder in its environment."""
        mark = f"TMPDIR={self.servers}\0".encode()
        found = []
        for folder in Path("/proc").iterdir():
            if folder.name.isdigit():
                with suppress(OSError):
                    if mark in (folder / "environ").read_bytes():
                        found.append(int(folder.name))
        return found

    def wait_for(
        self, builder: subprocess.Popen[bytes], moment: str, length: float, before: set[Path]
    ) -> None:
        """Wait until a kill is due, or the build has ended."""
        started = time.monotonic()
        if moment == "at the change":
            while builder.poll() is None:
                if any((path / _COMPLETE).exists() for path in self.left() - before):
                    time.sleep(self.dice.uniform(0, 0.012))
                    return
                time.sleep(0.0005)
            return
        part = self.dice.uniform(0, 1) if moment == "anywhere" else self.dice.uniform(0.9, 1.02)
        with suppress(subprocess.TimeoutExpired):
            builder.wait(max(0.0, started + part * length - time.monotonic()))

    def kill(self, builder: subprocess.Popen[bytes], whole_tree: bool) -> bool:
        """Kill a build; False where it had ended. What it started must end too."""
        killed = builder.poll() is None
        builder.kill()
        builder.wait()
        since = time.monotonic()
        while running := self.ours():
            if whole_tree:
                for process in running:
                    with suppress(OSError):
                        os.kill(process, signal.SIGKILL)
            elif time.monotonic() - since > _PATIENCE:
                self.wrong.append(f"engravers were left running: {len(running)}")
                whole_tree = True
            time.sleep(0.01)
        if killed and not whole_tree:
            self.longest = max(self.longest, time.monotonic() - since)
        return killed

    def stage(self, mine: set[Path], new: bool) -> str:
        """How far a build was, by the folder that it left."""
        if new:
            return _STAGES[4] if mine else _STAGES[5]
        if not mine:
            return _STAGES[0]
        [folder] = mine
        if (folder / _COMPLETE).exists():
            return _STAGES[3]
        return _STAGES[2] if any(folder.iterdir()) else _STAGES[1]

    def once(self, shown: int) -> tuple[bool, int]:
        """Change the book, build, kill and look; whether it was killed, and which version is shown now."""
        version = self.dice.choice([number for number in range(3) if number != shown])
        cache = self.dice.choice(("empty", "whole", "whole", "as left"))
        moment = self.dice.choice(("anywhere", "anywhere", "at the end", "at the change"))
        whole_tree = self.dice.random() < 0.4
        self.take(version)
        self.ready(cache)
        before = self.left()
        started = time.monotonic()
        builder = self.start(self.book, self.published, self.cache)
        self.wait_for(builder, moment, self.lengths[cache], before)
        killed = self.kill(builder, whole_tree)
        now = content(self.published)
        old, new = now == self.wanted[shown], now == self.wanted[version]
        if not killed:
            self.found["ended before its kill"] += 1
            # Other work on the machine comes and goes, and the moments shall fall within a build.
            self.lengths[cache] = min(self.lengths[cache], time.monotonic() - started)
            if not new:
                self.wrong.append(f"a build that ended left another site: {self.differences(now, version)}")
            return False, version
        self.found["old site" if old else "new site" if new else "torn"] += 1
        self.found[f"with the cache {cache}"] += 1
        self.found[f"killed {moment}"] += 1
        self.found["killed with all that it started" if whole_tree else "killed alone"] += 1
        self.stages[self.stage(self.left() - before, new)] += 1
        if not old and not new:
            self.wrong.append(f"torn: {self.differences(now, version)}")
            self.build(self.book, self.published, self.cache)
            return True, version
        return True, version if new else shown

    def differences(self, now: Content, version: int) -> str:
        """A few of the files that are not as they should be."""
        wanted = self.wanted[version]
        names = sorted(name for name in wanted.keys() | now.keys() if wanted.get(name) != now.get(name))
        return f"{len(names)} files, such as {', '.join(names[:5])}"

    def finish(self, shown: int) -> None:
        """One more build from what the kills left; nothing of them may stay."""
        self.found["folders left beside the site"] = len(self.left())
        self.found["engravers' folders left"] = sum(path.is_dir() for path in self.servers.iterdir())
        # An empty cache, so that engravers are at work.
        self.ready("empty")
        version = (shown + 1) % 3
        self.take(version)
        self.build(self.book, self.published, self.cache)
        if content(self.published) != self.wanted[version]:
            self.wrong.append("the build after the last kill made another site")
        if not (self.published / _OWN).is_file():
            self.wrong.append(f"the user's own is lost: {_OWN}")
        for place in {*self.published.parent.iterdir(), *self.servers.iterdir()} - {self.published}:
            self.wrong.append(f"still there after the last build: {place.name}")
        if running := self.ours():
            self.wrong.append(f"still running after the last build: {len(running)}")


def main() -> None:
    """Kill, look and count."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="kills-") as name:
        bench = Bench(Path(name), random.Random(arguments.seed))
        bench.prepare(arguments.seed)
        lengths = bench.lengths
        print(f"a build from nothing takes {lengths['empty']:.1f} s, with a cache {lengths['whole']:.1f} s")
        shown, kills = 0, 0
        while kills < arguments.kills:
            killed, shown = bench.once(shown)
            kills += killed
            if killed and kills % 10 == 0:
                print(f"{kills} kills, {bench.found['torn']} torn", file=sys.stderr)
        bench.finish(shown)
    print(f"{kills} kills, seed {arguments.seed}:")
    for stage in _STAGES:
        print(f"  {bench.stages[stage]:4} killed {stage}")
    print("found:")
    for words in _FOUND:
        print(f"  {bench.found[words]:4} {words}")
    print("how:")
    for words in sorted(bench.found.keys() - set(_FOUND)):
        print(f"  {bench.found[words]:4} {words}")
    print(f"engravers without their builder ended within {bench.longest:.1f} s")
    for sentence in bench.wrong:
        print(f"wrong: {sentence}")
    sys.exit(1 if bench.wrong else 0)


if __name__ == "__main__":
    main()
