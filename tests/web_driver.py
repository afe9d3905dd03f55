"""Browsers other than Chromium, driven by the commands of W3C WebDriver.

WebKitGTK's driver takes them over HTTP. Firefox takes the same commands through Marionette, its own socket,
because Debian has no geckodriver. A packet of Marionette is its length, a colon and JSON: `[0, id, name,
parameters]` asks, `[1, id, error, result]` answers (firefox-source-docs.mozilla.org, "Marionette protocol").
"""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

SECONDS = 60
"""How long a browser may take to begin, and a page to come to what is waited for."""

_PREFERENCES = {
    "app.update.disabledForTesting": True,
    "browser.startup.homepage_override.mstone": "ignore",
    "datareporting.policy.dataSubmissionEnabled": False,
    "marionette.port": 0,
    "network.captive-portal-service.enabled": False,
    "network.connectivity-service.enabled": False,
}
"""Firefox's own settings: it asks nobody for news, and chooses a free port."""

_ELEMENT = "element-6066-11e4-a52e-4f735466cecf"
"""The key of an element's name in an answer (W3C WebDriver, 12.1)."""

_PATHS = {
    "ExecuteScript": "execute/sync",
    "FindElement": "element",
    "Navigate": "url",
    "PerformActions": "actions",
    "SetTimeouts": "timeouts",
    "SetWindowRect": "window/rect",
}
_KEYS = {"PageDown": "\ue00f", "PageUp": "\ue00e", "ArrowRight": "\ue014", "ArrowLeft": "\ue012"}

Send = Callable[[str, dict[str, Any]], Any]


class EngineMissing(Exception):
    """A browser, or what it needs, is not on this machine; the words say which package brings it."""


class CommandFailed(Exception):
    """A browser could not carry out a command."""


class Session:
    """One window of a browser."""

    def __init__(self, send: Send) -> None:
        """Take a function that carries out a command by its name and parameters, and gives its value."""
        self.send = send
        send("SetTimeouts", {"script": SECONDS * 1000, "pageLoad": SECONDS * 1000, "implicit": 0})

    def goto(self, address: str) -> None:
        """Open a page, and wait until it is loaded."""
        self.send("Navigate", {"url": address})

    def value(self, script: str) -> Any:
        """The value of an expression in the page."""
        return self.send("ExecuteScript", {"script": f"return ({script});", "args": []})

    def wait(self, script: str) -> Any:
        """The value of an expression, once it is true."""
        end = time.monotonic() + SECONDS
        while not (found := self.value(script)):
            assert time.monotonic() < end, f"never true: {script}"
            time.sleep(0.05)
        return found

    def press(self, key: str) -> None:
        """Press a key and let it go."""
        steps = [{"type": kind, "value": _KEYS[key]} for kind in ("keyDown", "keyUp")]
        self.send("PerformActions", {"actions": [{"type": "key", "id": "keys", "actions": steps}]})

    def click(self, selector: str) -> None:
        """Click in the middle of the first element of a selector, as with a mouse."""
        shown = "scrollIntoView({ behavior: 'instant', block: 'center' })"
        self.value(f"document.querySelector({json.dumps(selector)}).{shown}")
        answer = self.send("FindElement", {"using": "css selector", "value": selector})
        origin = {_ELEMENT: answer.get("value", answer)[_ELEMENT]}
        steps = [
            {"type": "pointerMove", "duration": 0, "x": 0, "y": 0, "origin": origin},
            {"type": "pointerDown", "button": 0},
            {"type": "pointerUp", "button": 0},
        ]
        mouse = {"type": "pointer", "id": "mouse", "parameters": {"pointerType": "mouse"}, "actions": steps}
        self.send("PerformActions", {"actions": [mouse]})


def _program(name: str, package: str) -> str:
    path = shutil.which(name)
    if path is None:
        raise EngineMissing(f"no {name} on this machine: apt-get install {package}")
    return path


@contextmanager
def _running(command: list[str], folder: Path, **variables: str) -> Iterator[subprocess.Popen[bytes]]:
    """A program with a home of its own, ended on the way out."""
    environment = os.environ | {"HOME": str(folder), "NO_AT_BRIDGE": "1"} | variables
    program = subprocess.Popen(
        command, env=environment, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    )
    try:
        yield program
    finally:
        program.terminate()
        program.wait(SECONDS)


@contextmanager
def _loudspeaker(folder: Path) -> Iterator[dict[str, str]]:
    """A loudspeaker that nobody hears, as variables for a program; none where PulseAudio is missing."""
    path = shutil.which("pulseaudio")
    if path is None:
        yield {}
        return
    place = folder / "loudspeaker"
    modules = ["module-null-sink", f"module-native-protocol-unix socket={place} auth-anonymous=1"]
    command = [
        path,
        "-n",
        "--exit-idle-time=-1",
        "--use-pid-file=no",
        *(f"--load={each}" for each in modules),
    ]
    with _running(command, folder, XDG_RUNTIME_DIR=str(folder)) as program:
        _wait_until(place.exists, program)
        yield {"PULSE_SERVER": f"unix:{place}"}


def _wait_until(begun: Callable[[], bool], program: subprocess.Popen[bytes]) -> None:
    """Wait for a sign that a program has begun."""
    end = time.monotonic() + SECONDS
    while not begun():
        assert program.poll() is None and time.monotonic() < end, f"{program.args!r} did not begin"
        time.sleep(0.05)


@contextmanager
def firefox(folder: Path) -> Iterator[Session]:
    """Firefox without a window of its own; its profile lies in an empty folder."""
    path = _program("firefox-esr", "firefox-esr")
    rows = [f"user_pref({json.dumps(name)}, {json.dumps(value)});" for name, value in _PREFERENCES.items()]
    (folder / "user.js").write_text("\n".join(rows) + "\n", encoding="utf-8")
    command = [path, "--headless", "--marionette", "--no-remote", "--profile", str(folder)]
    told = folder / "MarionetteActivePort"
    with _loudspeaker(folder) as variables, _running(command, folder, **variables) as program:
        _wait_until(lambda: told.exists() and told.stat().st_size > 0, program)
        port = int(told.read_text(encoding="utf-8"))
        with socket.create_connection(("127.0.0.1", port), SECONDS * 2) as connection:
            stream = connection.makefile("rwb")

            def received() -> Any:
                length = b""
                while (digit := stream.read(1)) != b":":
                    length += digit
                return json.loads(stream.read(int(length)))

            def send(name: str, parameters: dict[str, Any]) -> Any:
                packet = json.dumps([0, 1, f"WebDriver:{name}", parameters]).encode()
                stream.write(str(len(packet)).encode() + b":" + packet)
                stream.flush()
                _, _, error, result = received()
                if error:
                    raise CommandFailed(f"{name}: {error['error']}: {error['message']}")
                return result["value"] if isinstance(result, dict) and "value" in result else result

            received()
            send("NewSession", {"capabilities": {}})
            yield Session(send)


@contextmanager
def webkit(folder: Path) -> Iterator[Session]:
    """WebKitGTK's small browser on a screen that nobody sees."""
    driver = _program("WebKitWebDriver", "webkit2gtk-driver")
    screen = _program("Xvfb", "xvfb")
    engines = sorted(Path("/usr").glob("lib*/**/webkit2gtk-4.*/MiniBrowser"))
    if not engines:
        raise EngineMissing("no MiniBrowser of WebKitGTK on this machine: apt-get install webkit2gtk-driver")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    with _running([screen, "-displayfd", "1", "-screen", "0", "1280x1024x24"], folder) as shown:
        assert shown.stdout
        display = ":" + shown.stdout.readline().decode().strip()
        with (
            _loudspeaker(folder) as variables,
            _running([driver, f"--port={port}"], folder, DISPLAY=display, **variables),
        ):
            browser = {"binary": str(engines[-1]), "args": ["--automation"]}
            asked = {"capabilities": {"alwaysMatch": {"webkitgtk:browserOptions": browser}}}
            root = f"http://127.0.0.1:{port}/session"
            session = f"{root}/{_posted(root, asked, patient=True)['sessionId']}"
            try:
                yield Session(lambda name, parameters: _posted(f"{session}/{_PATHS[name]}", parameters))
            finally:
                urllib.request.urlopen(urllib.request.Request(session, method="DELETE"), timeout=SECONDS)


def _posted(address: str, parameters: dict[str, Any], patient: bool = False) -> Any:
    """The value that a driver answers; a patient asker waits until the driver has begun."""
    request = urllib.request.Request(address, json.dumps(parameters).encode())
    end = time.monotonic() + SECONDS
    while True:
        try:
            with urllib.request.urlopen(request, timeout=SECONDS * 2) as answer:
                return json.load(answer)["value"]
        except urllib.error.HTTPError as fault:
            raise CommandFailed(fault.read().decode()) from None
        except urllib.error.URLError:
            if not patient or time.monotonic() > end:
                raise
            time.sleep(0.05)
