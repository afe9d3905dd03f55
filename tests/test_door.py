"""What the system refuses a command becomes one line and a status, and a preview answers only its own."""

from __future__ import annotations

import errno
import os
import shlex
import socket
import subprocess
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pytest
from conftest import sweep

from stavewright.cli import main
from stavewright.cli.door import through_door
from stavewright.cli.saying import say
from stavewright.language.read import SUFFIX
from stavewright.site.live_reload import guarded

WriteBook = Callable[[dict[str, str | bytes]], Path]
Tiny = Callable[[str], str]
COMMAND = "import sys; from stavewright.cli import command; sys.exit(command())"
LONG = "a" * 5000

posix = pytest.mark.skipif(sys.platform == "win32", reason="a shell's redirections")


@pytest.fixture
def folder(book: WriteBook, two_keys: Tiny) -> Path:
    """A small book."""
    return book({"one": two_keys("One")})


def in_shell(folder: Path, words: str, around: str = "{}") -> subprocess.CompletedProcess[str]:
    """A command in a shell that stands in a book, with redirections around it; `status` is its own."""
    command = f"{shlex.quote(sys.executable)} -c {shlex.quote(COMMAND)} {words}"
    script = around.format(f"{{ {command}; echo status $? >&9; }}")
    environment = {**os.environ, "PYTHONPATH": str(Path(__file__).parent.parent)}
    environment.pop("PYTHONUNBUFFERED", None)
    return subprocess.run(
        ["/bin/sh", "-c", f"{{ {script}; }} 9>&1"],
        cwd=folder,
        capture_output=True,
        text=True,
        env=environment,
    )


@posix
@pytest.mark.parametrize("words", ["check", "daily --minutes 5", "--help", "daily --help"])
def test_a_full_output_is_told_on_one_line(folder: Path, words: str) -> None:
    done = in_shell(folder, words, "{} >/dev/full")
    assert done.stdout == "status 1\n"
    assert done.stderr == "the output cannot be written: No space left on device\n"


@posix
def test_where_errors_find_no_place_either_the_status_is_left(folder: Path) -> None:
    done = in_shell(folder, "check", "{} >/dev/full 2>/dev/full")
    assert done.stdout == "status 1\n"


@posix
@pytest.mark.parametrize("words", ["check", "daily --minutes 5 --days 90", "--help"])
def test_who_reads_no_further_hears_no_more(folder: Path, words: str) -> None:
    for number in range(60):
        (folder / "exercises" / f"bad-{number}{SUFFIX}").write_text("title: \n" * 60)
    if words != "check":
        for path in (folder / "exercises").glob("bad-*"):
            path.unlink()
    done = in_shell(folder, words, "{} | :")
    assert done.stdout == "status 1\n"
    assert done.stderr == ""


@posix
@sweep("closed", ["<&-", ">&-", "2>&-", "<&- >&- 2>&-"], every_day=1)
def test_a_closed_stream_keeps_nothing_from_being_made(folder: Path, closed: str) -> None:
    """The engraver's words would else stand in whatever file was opened first."""
    done = in_shell(folder, "build", f"{{}} {closed}")
    assert "status 0" in done.stdout
    assert "Traceback" not in done.stderr
    page = (folder / "site" / "exercises" / "one" / "d" / "index.html").read_text(encoding="utf-8")
    assert "<svg" in page


@pytest.mark.parametrize(
    "arguments",
    [
        ["print", "--all", "-o", LONG],
        ["print", "--all", "-o", "nowhere/x.pdf"],
        ["export", "--midi", "-o", LONG],
        ["daily", "--minutes", "5", "-o", LONG],
        ["daily", "--minutes", "5", "--calendar", "nowhere/x.ics"],
        ["daily", "--minutes", "5", "--from", "9999-12-31"],
        ["daily", "--minutes", "5", "--from", "9999-12-30", "--days", "3", "--calendar", "x.ics"],
        ["daily", "--minutes", "5", "--paper", "\udcff"],
        ["print", "--all", "--set", LONG, "-o", "x.pdf"],
        ["print", "--exercise", "\udcff", "-o", "x.pdf"],
        ["new", "\udcff"],
    ],
    ids=lambda arguments: ascii(" ".join(arguments))[:40],
)
def test_what_cannot_be_is_wrong_use(
    folder: Path,
    arguments: list[str],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(folder)
    assert main(arguments) == 2
    said = capsys.readouterr()
    (row,) = (said.out + said.err).splitlines()
    assert len(row) < 600


@pytest.mark.parametrize("command", ["check", "new x", "build"])
def test_a_book_in_a_folder_of_an_impossible_name(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*command.split(), "--book", LONG]) == 1
    assert "cannot be read: File name too long" in capsys.readouterr().err


def test_the_last_days_of_the_calendar_are_still_planned(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "x.ics"
    arguments = ["daily", "--minutes", "5", "--from", "9999-12-29", "--days", "2", "--calendar", str(out)]
    assert main([*arguments, "--book", str(folder)]) == 0
    assert b"DTSTART;VALUE=DATE:99991230" in out.read_bytes()


@pytest.mark.skipif(sys.platform != "linux", reason="only there a name may hold any byte")
@pytest.mark.parametrize("name", [b"odd-\xff", b"new\nline", b"$(touch x)", b"%00", b"#a"], ids=ascii)
def test_a_book_in_a_folder_of_an_odd_name(
    folder: Path, name: bytes, capsys: pytest.CaptureFixture[str]
) -> None:
    odd = folder.rename(folder.parent / os.fsdecode(name))
    assert main(["build", "--book", str(odd)]) == 0
    assert main(["build", "--book", str(odd)]) == 0
    assert "unchanged" in capsys.readouterr().out
    assert (odd / "site" / "index.html").is_file()


@pytest.mark.skipif(sys.platform == "win32", reason="pipes and devices of the file system")
@pytest.mark.parametrize("kind", ["folder", "pipe", "device", "nothing"])
def test_what_is_no_file_is_a_fault_and_never_waited_for(
    folder: Path, kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    for path in (folder / "exercises" / f"two{SUFFIX}", folder / "instruments.toml"):
        if kind == "folder":
            path.mkdir()
        elif kind == "pipe":
            os.mkfifo(path)
        else:
            path.symlink_to("/dev/zero" if kind == "device" else "nowhere")
    with (folder / "mkdocs.yml").open("a") as config:
        config.write(f"      links: [exercises/two{SUFFIX}, instruments.toml]\n")
    assert main(["check", "--book", str(folder)]) == 1
    said = capsys.readouterr().out
    assert f"exercises/two{SUFFIX}:1:1: this cannot be read: " in said
    if kind != "nothing":
        assert "instruments.toml:1:1: this cannot be read: " in said


def test_a_file_that_may_not_be_read_is_a_fault(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """As for a user who is not root."""
    whole = Path.open

    def refusing(path: Path, *rest: Any, **more: Any) -> Any:
        if path.name == f"one{SUFFIX}":
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return whole(path, *rest, **more)

    monkeypatch.setattr(Path, "open", refusing)
    assert main(["check", "--book", str(folder)]) == 1
    assert f"exercises/one{SUFFIX}:1:1: this cannot be read: Permission denied; " in capsys.readouterr().out


@pytest.mark.parametrize("command", ["cache", "cache --clear", "check", "export --midi -o out"])
def test_a_cache_that_is_a_file_is_no_hindrance(
    folder: Path, command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    monkeypatch.setenv("STAVEWRIGHT_CACHE", str(folder / "mkdocs.yml"))
    before = (folder / "mkdocs.yml").read_bytes()
    assert main(command.split()) == 0
    assert (folder / "mkdocs.yml").read_bytes() == before


@sweep("command", ["stavewright", "mkdocs"], every_day=1)
def test_a_port_in_use_is_told(folder: Path, command: str) -> None:
    program = ["-c", COMMAND] if command == "stavewright" else ["-m", "mkdocs"]
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        address = f"127.0.0.1:{taken.getsockname()[1]}"
        option = "--address" if command == "stavewright" else "--dev-addr"
        done = subprocess.run(
            [sys.executable, *program, "serve", option, address], cwd=folder, capture_output=True, text=True
        )
    assert done.returncode == 1
    assert f"{address}: nothing can be served here: Address already in use; name another" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_fault_of_the_program_goes_through() -> None:
    """It must be seen whole, to be mended."""

    def faulty() -> int:
        raise OSError(errno.EINVAL, "Invalid argument")

    with pytest.raises(OSError, match="Invalid argument"):
        through_door(faulty)
    with pytest.raises(ZeroDivisionError):
        through_door(lambda: 1 // 0)


def test_a_refusal_of_the_system_is_told(capsys: pytest.CaptureFixture[str]) -> None:
    def refused() -> int:
        say("so far")
        raise OSError(errno.ENOSPC, "No space left on device", "a/file")

    assert through_door(refused) == 1
    said = capsys.readouterr()
    assert (said.out, said.err) == (
        "so far\n",
        "a/file: this cannot be read or written: No space left on device\n",
    )


def asked(host: str | None, path: str = "/", listens: str = "127.0.0.1") -> tuple[str, str]:
    """The status of an answer, and the path that the server was asked for."""
    got: list[str] = []
    status: list[str] = []

    def server(environ: dict[str, Any], start: Callable[..., Any]) -> Iterable[bytes]:
        got.append(environ["PATH_INFO"])
        start("200 OK", [])
        return []

    environ = {"PATH_INFO": path} | ({} if host is None else {"HTTP_HOST": host})
    list(guarded(server, listens)(environ, lambda said, headers: status.append(said)))
    return status[0], "".join(got)


@pytest.mark.parametrize("host", ["localhost", "LOCALHOST:8000", "127.0.0.1:8000", "[::1]", "[::1]:8000"])
def test_a_preview_answers_under_its_own_names(host: str) -> None:
    assert asked(host) == ("200 OK", "/")


@pytest.mark.parametrize(
    "host",
    ["evil.example", "localhost.evil.example", "127.0.0.1.evil.example:80", "10.0.0.7", "", None, "[x"],
)
def test_a_preview_answers_under_no_other_name(host: str | None) -> None:
    assert asked(host) == ("403 Forbidden", "")


def test_a_preview_answers_where_it_was_told_to_listen() -> None:
    assert asked("10.0.0.7:8000", listens="10.0.0.7")[0] == "200 OK"
    # To all addresses: under each of them, but under no stranger's name.
    assert asked("10.0.0.7:8000", listens="0.0.0.0")[0] == "200 OK"
    assert asked("[fe80::1]:8000", listens="::")[0] == "200 OK"
    assert asked(f"{socket.gethostname()}:8000", listens="0.0.0.0")[0] == "200 OK"
    assert asked("evil.example", listens="0.0.0.0")[0] == "403 Forbidden"


def test_an_address_with_nothing_in_it_is_no_fault_of_the_server() -> None:
    """A file's name cannot hold U+0000; to look for one raises ValueError."""
    assert asked("localhost", "/a\0b") == ("200 OK", "/a%00b")


# -- encodings -------------------------------------------------------------------------------------------

MANY_COMMANDS = """\
import contextlib, sys
from stavewright.cli import main
for words in {commands!r}:
    try:
        status = main(words.split())
    except SystemExit as end:
        status = end.code
    print("STATUS", status, words.split()[0], flush=True)
"""
"""Commands one after another in one process; each is told with its status."""

ENCODINGS = {
    "ascii": {"PYTHONIOENCODING": "ascii"},
    "windows": {"PYTHONIOENCODING": "cp1252"},
    "no locale": {"LC_ALL": "C", "LANG": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
}


@sweep("encoding", ENCODINGS, every_day=1)
def test_no_word_is_lost_to_an_encoding(encoding: str, book: WriteBook, two_keys: Tiny) -> None:
    place = book({"one": two_keys("Тихий ♭ прилив"), "two": two_keys("Übung, 静か")})
    config = place / "mkdocs.yml"
    config.write_text(config.read_text(encoding="utf-8") + "site_description: тихо\n", encoding="utf-8")
    good = {
        "check": 0,
        "check --json": 0,
        "check --coverage": 0,
        "daily --minutes 5": 0,
        "daily --minutes 5 --json": 0,
        "format --check": 0,
        "doctor": 0,
        "cache": 0,
        "export --midi --exercise one -o out": 0,
        "print --exercise тихо -o one.pdf": 2,
        "print --exercise one --key Ж -o one.pdf": 2,
        "print --selection тихо.set -o one.pdf": 2,
        "init тихо --title Тихо --instruments Флейта": 2,
        "new тихо": 2,
        "new three --from тихо.mid": 2,
        "build --workers tcp://тихо:1": 2,
        "тихо": 2,
    }
    bad = {"check": 1, "build": 1, "daily": 1, "print --all -o out.pdf": 1, "format": 1}
    environment = {**os.environ, **ENCODINGS[encoding], "PYTHONPATH": str(Path(__file__).parent.parent)}

    def run(commands: Iterable[str]) -> tuple[list[int], str]:
        # As the arguments of a program they would depend on the locale too.
        code = MANY_COMMANDS.format(commands=list(commands))
        done = subprocess.run(
            [sys.executable, "-"], input=ascii_source(code), cwd=place, env=environment, capture_output=True
        )
        assert b"Traceback" not in done.stderr, done.stderr.decode(errors="replace")
        assert done.returncode == 0
        return done.stdout.decode("cp1252" if encoding == "windows" else "ascii")

    told = run(good)
    assert [int(line.split()[1]) for line in told.splitlines() if line.startswith("STATUS")] == [
        *good.values()
    ]
    assert r"\u0422\u0438\u0445\u0438\u0439" in told
    text = two_keys("Тихий").replace("w D5", "w D5 Ж")
    (place / "exercises" / f"one{SUFFIX}").write_text(text, encoding="utf-8")
    told = run(bad)
    assert [int(line.split()[1]) for line in told.splitlines() if line.startswith("STATUS")] == [
        *bad.values()
    ]
    assert r"'\u0416'" in told


def ascii_source(code: str) -> bytes:
    """A script in which every letter beyond ASCII is an escape."""
    return code.encode("ascii", "backslashreplace")
