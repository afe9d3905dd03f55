"""`stavewright doctor`: what the program needs on this machine, and how to get what is missing."""

from __future__ import annotations

import os
import platform
import shlex
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, field
from importlib.metadata import Distribution, PackageNotFoundError, distribution, version
from pathlib import Path
from typing import TYPE_CHECKING, Any

from packaging.requirements import Requirement
from packaging.specifiers import SpecifierSet

from .. import __version__
from ..plurals import count_of
from ..visible import visible
from .saying import say, say_json

if TYPE_CHECKING:
    from ..engrave.processes.finding import Candidate

GOOD, OPTIONAL, MISSING = "good", "optional", "missing"
"""What a check may find: all is well, only something optional is absent, or something needed is."""

ENGRAVER = "lilypond>=2.24,<2.25"
"""The engraver's wheel, as pip names it."""

_WHEELS = (("linux", "x86_64"), ("darwin", "x86_64"), ("win32", "AMD64"))
"""The systems and processors that it is made for, as the package of that version says (pyproject.toml)."""

_INSTALLERS = {
    "apt-get": "apt-get install",
    "dnf": "dnf install",
    "zypper": "zypper install",
    "pacman": "pacman -S",
}
"""How the package managers of Linux install a package."""

EXTRAS = {
    "cluster": "engraves on other machines (`build --workers`)",
    "completion": "completes commands and names on the Tab key",
    "daily": "searches for the best daily sets (`daily --exact`)",
    "editor": "helps an editor while you write (`language-server`)",
    "import": "brings in melodies from other programs (`new --from`)",
}
"""What the optional parts are for."""

_DEVELOPMENT = ("test",)
"""Extras that only the program's own developers need."""


@dataclass(frozen=True, slots=True)
class Check:
    """What one check found; `mend` is the command that mends it, `facts` are for scripts."""

    name: str
    status: str
    says: str
    mend: str = ""
    facts: dict[str, Any] = field(default_factory=dict)


def doctor(book: Path, trying: bool, as_json: bool) -> int:
    """Say of each thing the program needs whether it is there; 1 where one is missing.

    Nothing is engraved, except for one small piece if `trying`.
    """
    checks = list(examine(book, trying))
    missing = [check for check in checks if check.status == MISSING]
    if as_json:
        told = {"stavewright": __version__, "good": not missing, "checks": [asdict(each) for each in checks]}
        say_json(told)
    else:
        for row in _rows(checks):
            say(row)
        say()
        say(f"{count_of(len(missing), 'thing')} to mend." if missing else "Nothing is missing.")
    return 1 if missing else 0


def examine(book: Path, trying: bool = False) -> Iterator[Check]:
    """Every check, in the order in which it makes sense to mend."""
    try:
        own = distribution("stavewright")
    except PackageNotFoundError:
        yield Check(
            "program",
            MISSING,
            f"Stavewright {__version__} runs from a folder and is not installed, so MkDocs cannot find it",
            _pip("stavewright"),
        )
    else:
        yield _program(own)
        yield _python(own)
        yield _packages(own)
    yield from _guarded("engraver", lambda: [_engraver(trying)])
    yield from _guarded("cache", lambda: [_cache()])
    yield from _guarded("temporary", lambda: [_temporary_folder()])
    yield from _guarded("book", lambda: _book(book))
    with suppress(PackageNotFoundError):
        yield from _extras(distribution("stavewright"))


def _guarded(name: str, look: Callable[[], Iterable[Check]]) -> Iterator[Check]:
    """The checks that a function makes, or one that says which package it cannot be loaded without."""
    try:
        yield from look()
    except ModuleNotFoundError as error:
        package = error.name or "a package"
        yield Check(name, MISSING, f"this cannot be looked at without {package}", _pip("stavewright"))


def _rows(checks: Sequence[Check]) -> Iterator[str]:
    """The checks as lines for a terminal: a name, a status, what was found; and below it what mends it."""
    width = max(len(check.name) for check in checks)
    for check in checks:
        yield f"{check.name:<{width}}  {check.status:<8}  {visible(check.says)}"
        if check.mend:
            yield f"{'':<{width + 12}}{visible(check.mend)}"


def _pip(*wanted: str) -> str:
    """The command that installs something for the Python that runs this program."""
    words = [sys.executable or "python", "-m", "pip", "install", *wanted]
    if sys.platform == "win32":
        # PowerShell runs a quoted program only after &.
        quoted = [f'"{word}"' if set(word) & set(" <>=[],") else word for word in words]
        return "& " * quoted[0].startswith('"') + " ".join(quoted)
    return shlex.join(words)


def _program(own: Distribution) -> Check:
    groups = {entry.group for entry in own.entry_points if entry.name == "stavewright"}
    absent = {"mkdocs.plugins", "mkdocs.themes"} - groups
    if absent:
        says = f"Stavewright {__version__}; its installation is damaged: MkDocs finds no plugin or no theme"
        return Check("program", MISSING, says, _pip("--force-reinstall", "--no-deps", "stavewright"))
    where = str(Path(__file__).parent.parent)
    says = f"Stavewright {__version__}, in {where}"
    return Check("program", GOOD, says, facts={"version": __version__, "folder": where})


def _python(own: Distribution) -> Check:
    asked = own.metadata["Requires-Python"] or ""
    says = f"Python {platform.python_version()}, {sys.executable}"
    facts = {"version": platform.python_version(), "program": sys.executable, "system": sys.platform}
    if SpecifierSet(asked).contains(platform.python_version(), prereleases=True):
        return Check("python", GOOD, says, facts=facts)
    mend = "install Python 3.11 or later, make a new environment with it, and install Stavewright there"
    return Check("python", MISSING, f"{says}, is too old", mend, facts)


def _packages(own: Distribution) -> Check:
    """The packages that are always needed; the engraver's has a row of its own."""
    wanted = [each for each in _wanted(own, "") if each.name != "lilypond"]
    found = {each.name: _installed(each.name) for each in wanted}
    wrong = [each for each in wanted if not _meets(found[each.name], each)]
    if not wrong:
        says = f"all {len(wanted)} are installed in the versions that are needed"
        return Check("packages", GOOD, says, facts=found)
    said = ", ".join(
        f"{each.name} {found[each.name]}, not {each.specifier}"
        if found[each.name]
        else f"{each.name} is not installed"
        for each in wrong
    )
    return Check("packages", MISSING, said, _pip(*map(_plain, wrong)), found)


def _wanted(own: Distribution, extra: str) -> list[Requirement]:
    """What is required on this system: always where `extra` is empty, or else by that extra alone."""
    found = []
    for line in own.requires or ():
        each = Requirement(line)
        always = each.marker is None or each.marker.evaluate({"extra": ""})
        if always if not extra else not always and each.marker and each.marker.evaluate({"extra": extra}):
            found.append(each)
    return found


def _plain(each: Requirement) -> str:
    """A requirement without its marker, for pip."""
    return f"{each.name}{each.specifier}"


def _installed(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""


def _meets(found: str, each: Requirement) -> bool:
    return bool(found) and each.specifier.contains(found, prereleases=True)


def _engraver(trying: bool) -> Check:
    from ..engrave.faces import engraver_faces
    from ..engrave.processes.finding import look_at_engravers
    from ..engrave.processes.lilypond import EngraverMissing

    try:
        seen = look_at_engravers()
        fit = next((each for each in seen if not each.unfit), None)
        if fit and trying:
            fit = _tried()
    except EngraverMissing as problem:
        return Check("engraver", MISSING, str(problem), _engraver_mend())
    passed_over = "; ".join(f"{each.path}: {each.unfit}" for each in seen if each.unfit)
    if fit is None:
        return Check("engraver", MISSING, passed_over or "no LilyPond was found", _engraver_mend())
    facts = {"path": fit.path, "version": fit.version, "cairo": fit.cairo, "tried": trying}
    said = [f"LilyPond {fit.version}, {fit.path}"]
    if trying:
        said.append("it has engraved a small piece")
    if passed_over:
        said.append(f"passed over: {passed_over}")
    if fit.cairo is None:
        said.append("not tried yet: `--try` tells whether it draws with Cairo, which is faster")
    elif fit.cairo:
        said.append("it draws with Cairo")
    else:
        said.append("it has no Cairo back end, so that engraving takes about ten times as long")
        if not engraver_faces(fit.path):
            said.append(
                "its serif face C059 was not found, so the site shows words in Cyrillic and other scripts as "
                "text; on Debian, `sudo apt-get install fonts-urw-base35 fontconfig` brings it"
            )
    slow = fit.cairo is False
    mend = _pip(ENGRAVER) if slow and _has_wheel() else ""
    return Check("engraver", OPTIONAL if slow else GOOD, "; ".join(said), mend, facts)


def _tried() -> Candidate:
    """The engraver that a build takes, once it has engraved a small piece. Raises EngraverMissing."""
    from ..engrave.processes.finding import Candidate, find_engraver
    from ..engrave.processes.lilypond import EngraverMissing
    from ..engrave.processes.trial import find_trial_failure

    engraver = find_engraver()
    if failure := find_trial_failure(engraver):
        raise EngraverMissing(f"{engraver.path}: LilyPond {engraver.version} fails on {failure}")
    return Candidate(engraver.path, engraver.version, engraver.cairo)


def _has_wheel() -> bool:
    """Whether pip has an engraver for this system."""
    return (sys.platform, platform.machine()) in _WHEELS


def _engraver_mend() -> str:
    """The command that brings a good engraver to this system."""
    if os.environ.get("STAVEWRIGHT_LILYPOND"):
        # The user's own choice comes before the installed engraver.
        return _unset("STAVEWRIGHT_LILYPOND")
    if _has_wheel():
        return _pip(ENGRAVER)
    if sys.platform == "win32":
        return "download LilyPond from https://lilypond.org, and put its folder `bin` on the path"
    if sys.platform == "darwin":
        return "brew install lilypond"
    found = next((installer for installer in _INSTALLERS if shutil.which(installer)), "")
    return f"sudo {_INSTALLERS[found]} lilypond" if found else "install LilyPond 2.24 or later"


def _unset(name: str) -> str:
    """The command that takes a variable out of the environment."""
    return f"Remove-Item Env:{name}" if sys.platform == "win32" else f"unset {name}"


def _cache() -> Check:
    from ..cache.store import CacheRefused, CacheStore, bound, folder, own_folder

    place = folder()
    try:
        most = bound()
    except ValueError as problem:
        return Check("cache", MISSING, str(problem), _unset("STAVEWRIGHT_CACHE_MB"))
    try:
        own_folder(place)
        with tempfile.TemporaryFile(dir=place):
            pass
    except CacheRefused as problem:
        return Check("cache", MISSING, str(problem), _cache_mend())
    except OSError as error:
        says = f"{place} cannot be written ({error.strerror}); every build engraves everything again"
        return Check("cache", MISSING, says, _cache_mend(), {"folder": str(place)})
    pieces, size = CacheStore(place).size()
    says = f"{place}, {count_of(pieces, 'piece')}, {size / 1e6:.1f} of at most {most / 1e6:.0f} MB"
    facts = {"folder": str(place), "pieces": pieces, "bytes": size, "most_bytes": most}
    return Check("cache", GOOD, says, facts=facts)


def _cache_mend() -> str:
    if sys.platform == "win32":
        return r'$env:STAVEWRIGHT_CACHE = "$env:LOCALAPPDATA\stavewright-cache"'
    return 'export STAVEWRIGHT_CACHE="$HOME/stavewright-cache"'


def _temporary_folder() -> Check:
    from ..engrave.processes.lilypond import no_room_left

    place = tempfile.gettempdir()
    facts = {"folder": place}
    if full := no_room_left():
        mend = '$env:TEMP = "FOLDER"' if sys.platform == "win32" else "export TMPDIR=FOLDER"
        return Check("temporary", MISSING, full, mend, facts)
    return Check("temporary", GOOD, f"{place} has room", facts=facts)


def _book(place: Path) -> Iterator[Check]:
    """Whether a folder holds a book, and where its exercises and pages lie; nothing in them is judged."""
    from ..book.options import exercises_folder
    from ..book.read import BookProblem, pages_folder, read_config
    from ..language.faults import BookFaults
    from ..language.read import SUFFIX

    try:
        config = read_config(place)
    except BookProblem as problem:
        yield Check("book", MISSING, str(problem), "stavewright init")
        return
    except BookFaults as found:
        says = f"{count_of(len(found.faults), 'fault')}, the first: {found.faults[0]}"
        yield Check("book", MISSING, says, "stavewright check")
        return
    name = config.text("site_name") or "a book without a name"
    yield Check("book", GOOD, f"{name}, in {place.absolute()}", facts={"folder": str(place.absolute())})
    home = place / exercises_folder(config.options())
    count = _count(lambda: sum(path.is_file() for path in home.rglob(f"*{SUFFIX}")))
    pages = str(pages_folder(place, config))
    facts = {"folder": str(home), "count": count, "pages": pages}
    if not count:
        yield Check("exercises", MISSING, f"{home}: no exercises here", "stavewright new evening-bell", facts)
        return
    says = f"{count_of(count, 'exercise')} in {home}; pages of your own lie in {pages}"
    yield Check("exercises", GOOD, says, facts=facts)


def _count(count: Callable[[], int]) -> int:
    """A number of files; 0 where their folder is not there or cannot be read."""
    try:
        return count()
    except OSError:
        return 0


def _extras(own: Distribution) -> Iterator[Check]:
    for extra in sorted(set(own.metadata.get_all("Provides-Extra") or ()) - set(_DEVELOPMENT)):
        wanted = _wanted(own, extra)
        found = {each.name: _installed(each.name) for each in wanted}
        purpose = EXTRAS.get(extra, "is optional")
        if all(_meets(found[each.name], each) for each in wanted):
            yield Check(extra, GOOD, f"installed; it {purpose}", facts=found)
        else:
            says = f"not installed; it {purpose}"
            yield Check(extra, OPTIONAL, says, _pip(f"stavewright[{extra}]"), found)
