"""What is handed to others: the source archive is whole, and one line installs the program everywhere.

The commands of MANIFEST.in are in https://setuptools.pypa.io/en/latest/userguide/miscellaneous.html.
"""

from __future__ import annotations

import re
import runpy
import subprocess
import tomllib
from fnmatch import fnmatch
from pathlib import Path

import pytest
import yaml

from stavewright import __version__
from stavewright.cli.doctor import _WHEELS

ROOT = Path(__file__).parents[1]


def in_archive(name: str) -> bool:
    """Whether MANIFEST.in puts a file into the source archive; setuptools adds pyproject.toml by itself."""
    for line in (ROOT / "MANIFEST.in").read_text(encoding="utf-8").splitlines():
        command, *words = line.split()
        if command == "include" and name in words:
            return True
        if command == "graft" and name.startswith(f"{words[0]}/"):
            return True
        if command == "recursive-include" and name.startswith(f"{words[0]}/"):
            last = name.rpartition("/")[2]
            if any(fnmatch(last, pattern) for pattern in words[1:]):
                return True
    return name == "pyproject.toml"


@pytest.mark.slow
def test_the_source_archive_holds_every_file() -> None:
    if not (ROOT / ".git").exists():
        pytest.skip("this is no clone")
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    assert [name for name in listed.splitlines() if not in_archive(name)] == []


def test_what_an_index_shows_is_there() -> None:
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert told["authors"] and len(told["keywords"]) > 3 and len(told["description"]) < 200
    versions = {
        each.rpartition(" ")[2] for each in told["classifiers"] if each.startswith("Programming Language")
    }
    assert told["requires-python"] == ">=3.11" and {"3.11", "3.12", "3.13"} <= versions
    # With a licence expression (PEP 639) a classifier of a licence is an error.
    assert not any(each.startswith("License ::") for each in told["classifiers"])


def test_the_terms_of_the_fonts_come_with_them() -> None:
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    licences = {path for pattern in told["project"]["license-files"] for path in ROOT.glob(pattern)}
    texts = {path.name: path.read_text(encoding="utf-8") for path in licences}
    assert "GNU GENERAL PUBLIC LICENSE" in texts["LICENSE"]
    assert "LaTeX Project Public License" in texts["GUST-FONT-LICENSE.txt"]
    # The manifest names every file, and each is installed.
    folders = ROOT / "builder/engrave/fonts", ROOT / "site_src/assets/fonts"
    fonts = {path.name for folder in folders for path in folder.iterdir() if path.suffix != ".txt"}
    assert fonts == set(re.findall(r"stavewright-serif-[\w-]+\.\w+", texts["MANIFEST-StavewrightSerif.txt"]))
    data = told["tool"]["setuptools"]["package-data"]
    assert "fonts/*" in data["stavewright.engrave"] and "assets/**" in data["stavewright_theme"]


def test_an_index_would_find_nothing_missing() -> None:
    """The names of core metadata are those of https://packaging.python.org/en/latest/specifications/core-metadata/."""
    ratings = pytest.importorskip("pyroma.ratings")
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    metadata = {
        "name": told["name"],
        "version": __version__,
        "summary": told["description"],
        "description": (ROOT / told["readme"]).read_text(encoding="utf-8"),
        "description-content-type": "text/markdown",
        "classifier": told["classifiers"],
        "keywords": ",".join(told["keywords"]),
        "author-email": ", ".join(f"{each['name']} <{each['email']}>" for each in told["authors"]),
        "project-url": [f"{name}, {address}" for name, address in told["urls"].items()],
        "license-expression": told["license"],
        "requires-python": told["requires-python"],
    }
    assert ratings.rate(metadata) == (10, [])
    # It would say if something were.
    assert ratings.rate({**metadata, "author-email": ""})[0] < 10


def test_no_release_while_an_address_leads_nowhere(capsys: pytest.CaptureFixture[str]) -> None:
    check = runpy.run_path(str(ROOT / ".ci" / "addresses"))
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    left = check["placeholders"](told)
    assert check["main"]() == bool(left)
    said = capsys.readouterr().err
    assert all(f"{address} leads nowhere" in said for address in left)
    # In the developers' guide as long as there is one, and no longer.
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert ("refuses as long as `.ci/addresses` finds a placeholder" in guide) == bool(left)
    for addresses, found in (
        (["https://book.example/", "https://BOOK.EXAMPLE.:443/x", "mailto:a@b.example"], 3),
        (["https://example.org/", "https://book.test/a.example", "https://examples.dev"], 0),
    ):
        urls = dict(zip("abc", addresses, strict=True))
        assert len(check["placeholders"]({"urls": urls})) == found
    for address, found in (("a@b.example", 1), ("example@b.org", 0)):
        assert len(check["placeholders"]({"authors": [{"name": "A", "email": address}]})) == found


def test_a_release_is_checked_before_anything_is_made() -> None:
    text = (ROOT / ".github" / "workflows" / "release.yml").read_text(encoding="utf-8")
    (job,) = yaml.safe_load(text)["jobs"].values()
    runs = [step["run"] for step in job["steps"] if "run" in step]
    assert runs[0] == "python .ci/addresses"
    assert [line for line in runs if line.startswith("gh release")] == runs[-1:]
    # What it uses is pinned as in the tests' workflow, by the same commits.
    tests = (ROOT / ".github" / "workflows" / "tests.yml").read_text(encoding="utf-8")
    assert re.findall("uses: .*", text) == re.findall("uses: .*", tests)


@pytest.mark.parametrize(
    "place", sorted({*ROOT.glob("*.md"), *ROOT.glob("docs/*.md"), *ROOT.glob("builder/**/*.py")})
)
def test_an_optional_part_is_installed_in_one_way(place: Path) -> None:
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    text = place.read_text(encoding="utf-8")
    for line in re.findall(r"pip install[^\n`]*\[\w+\][^\n`]*", text):
        extra = re.findall(r"\[(\w+)\]", line)[0]
        assert extra in told["optional-dependencies"], line
        # Developers install what the tests need from their clone.
        wanted = "'.[test]'" if extra == "test" else f"'stavewright[{extra}]'"
        assert wanted in line and "-e '.[" not in line.replace("-e '.[test]'", ""), line


def test_the_checks_of_a_host_are_pinned_and_know_every_python() -> None:
    """What is pinned is pinned by a commit; the tag stands behind it for readers."""
    text = (ROOT / ".github" / "workflows" / "tests.yml").read_text(encoding="utf-8")
    used = re.findall(r"uses: (.*)", text)
    assert used and all(re.fullmatch(r"[\w/-]+@[0-9a-f]{40} # v[0-9.]+", each) for each in used)
    told = yaml.safe_load(text)
    assert told["permissions"] == {"contents": "read"}
    (job,) = told["jobs"].values()
    matrix = job["strategy"]["matrix"]
    assert {each.partition("-")[0] for each in matrix["system"]} == {"ubuntu", "macos", "windows"}
    classifiers = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"][
        "classifiers"
    ]
    versions = re.findall(r"Python :: (3\.\d+)", "\n".join(classifiers))
    assert matrix["python"] == [*versions, "3.x"]
    extras = {
        extra for line in re.findall(r"pip install.*", text) for extra in re.findall(r"\[(\w+)\]", line)
    }
    assert extras == {"test"}


def test_the_container_runs_as_nobody_special_and_finds_what_it_copies() -> None:
    """By the forms of https://docs.docker.com/reference/dockerfile/ (from memory); nothing is built."""
    text = (ROOT / "docs" / "Dockerfile").read_text(encoding="utf-8").replace("\\\n", " ")
    rows = [line.split(maxsplit=1) for line in text.splitlines() if line and not line.startswith("#")]
    words = [row[0] for row in rows]
    assert set(words) <= {"FROM", "RUN", "COPY", "USER", "ENV", "WORKDIR", "ENTRYPOINT", "CMD"}
    (base,) = [said for word, said in rows if word == "FROM"]
    name, _, tag = base.partition(":")
    assert name == "python" and re.match(r"3\.\d+-", tag)
    (user,) = [said for word, said in rows if word == "USER"]
    assert user != "root" and words.index("USER") > max(n for n, word in enumerate(words) if word == "RUN")
    assert f" {user}" in next(said for word, said in rows if "useradd" in said)
    place = next(said for word, said in rows if word == "WORKDIR")
    kept = next(said for word, said in rows if word == "ENV").partition("=")[2]
    # The folder of what is kept is one that `init` tells git to leave alone.
    assert kept.startswith(f"{place}/")
    ignored = (ROOT / "builder" / "templates" / "gitignore").read_text(encoding="utf-8").splitlines()
    assert f"{kept.removeprefix(place)}/" in ignored


def test_each_system_has_its_commands() -> None:
    """The commands of docs/installing.md are of this program, and the table names the engraver's wheels."""
    text = (ROOT / "docs" / "installing.md").read_text(encoding="utf-8")
    for system in ("## Linux", "## macOS", "## Windows"):
        part = text.partition(f"{system}\n")[2].partition("\n## ")[0]
        (block,) = re.findall(r"```\w*\n(.*?)```", part, re.DOTALL)
        runs = re.findall(r"stavewright[\\/](?:bin|Scripts)[\\/](\w+) (\S+)", block)
        assert runs == [("pip", "install"), ("stavewright", "init"), ("stavewright", "serve")]
    told = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    marker = next(line for line in told["dependencies"] if line.startswith("lilypond"))
    by_pip = re.findall(r"sys_platform == '(\w+)' and platform_machine == '(\w+)'", marker)
    assert by_pip == [*_WHEELS] == [("linux", "x86_64"), ("darwin", "x86_64"), ("win32", "AMD64")]


def test_what_readme_shows_is_there_and_can_be_made_again() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    shown = {Path(each).name for each in re.findall(r"\]\((docs/pictures/[^)]+)\)", text)}
    folder = ROOT / "docs" / "pictures"
    assert shown == {path.name for path in folder.iterdir() if path.is_file() and path.suffix != ".py"}
    # The script names what it writes, and reads the exercise that it shows.
    script = (folder / "make.py").read_text(encoding="utf-8")
    assert all(f'"{name}"' in script for name in shown)
    made = runpy.run_path(str(folder / "make.py"))
    source = (ROOT / "exercises" / f"{made['EXERCISE']}.warmup").read_text(encoding="utf-8")
    rows = made["shown_text"](source).splitlines()
    assert rows[0].startswith("title: ") and len(rows) <= made["LINES"]
    assert max(map(len, rows)) <= made["COLUMNS"]
    # Nothing but prose and the ends of lines is different from the file.
    assert " ".join(rows).split() == " ".join(without(source, made["PROSE"])).split()


def without(source: str, fields: tuple[str, ...]) -> list[str]:
    """The lines of an exercise that are no part of some fields, and no remarks."""
    parts = re.split(r"(?m)^(?=\S)", source)
    return [part for part in parts if not part.startswith(("#", *(f"{field}:" for field in fields)))]


def test_readme_begins_with_what_it_is_and_three_commands() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    begins = text.partition("## Install\n")[0]
    # One line, the job in a paragraph, two pictures, one command to try, and three for a book.
    line, job, *pictures = begins.split("\n\n")[1:5]
    assert len(line.splitlines()) == 1
    assert 3 < len(job.splitlines()) < 8
    assert all(picture.startswith("![") for picture in pictures)
    assert len(begins.splitlines()) < 60
    block = re.findall(r"```\n(.*?)```", begins, re.DOTALL)[1].strip().splitlines()
    assert len(block) == 3
