"""Make the pictures of README.md from a built site of the demo book, with Chromium.

    .venv/bin/stavewright build
    .venv/bin/python docs/pictures/make.py [SITE]

`text-and-keys.png` has an exercise's text beside its keys, `devices.png` the site on a tablet and a phone,
and `sample.pdf` is what `print --exercise` writes. All three show the exercise `EXERCISE`. The text is that
of its file without the fields that are prose; it must fit into `LINES` lines.
"""

from __future__ import annotations

import base64
import html
import shutil
import subprocess
import sys
from pathlib import Path

from playwright.sync_api import Browser, Page, sync_playwright

from stavewright.language.read import SUFFIX, read

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
EXERCISE = "far-shore"
KEY = "e-flat"
PROSE = ("purpose", "attend", "about", "kind", "rights", "source", "added", "grade")
"""Fields that are left out of the picture: an exercise is one without them, too."""

LINES = 12
COLUMNS = 60
"""Letters of a line of text in the picture; a longer one goes on below, set in."""

SCALE = 2
"""Pixels of a picture for each pixel of a page, so that staff lines are sharp on any screen."""

PLAIN = """
  body { margin: 0; padding: 28px; background: #fcfaf5; display: flex; gap: 36px; align-items: center; }
  pre { margin: 0; flex: none; font: 13px/1.6 monospace; color: #1c1916; }
  pre b { color: #8a2b1c; font-weight: normal; }
"""
KEYS = """
  main ol { flex: 1; list-style: none; margin: 0; padding: 0; display: grid; gap: 10px 28px;
    grid-template-columns: 1fr 1fr 1fr; }
  main li { margin: 0; padding: 0; border: 0; min-width: 0; }
  main li h3 { margin: 0; font-size: 14px; } main li .place { display: none; }
  main li svg { width: 100% !important; height: auto !important; }
"""


def shown_text(source: str) -> str:
    """An exercise's text without its prose, its long lines broken. Raises ValueError where that is too long.

    What is shown can be read as it is: the fields, the music and the words are those of the file.
    """
    kept: list[str] = []
    leaves = False
    for row in source.splitlines():
        if not row.strip() or row.startswith("#"):
            continue
        if not row.startswith(" "):
            leaves = row.partition(":")[0] in PROSE
        if not leaves:
            kept += broken(row)
    text = "\n".join(kept)
    if len(kept) > LINES or read(EXERCISE + SUFFIX, text.encode()).exercise is None:
        raise ValueError(f"{EXERCISE}: its text has {len(kept)} lines without its prose, or cannot be read")
    return text


def broken(row: str) -> list[str]:
    """A line of an exercise, in pieces of at most `COLUMNS` letters where it has room to break."""
    rows = []
    while len(row) > COLUMNS and (at := row.rfind(" ", 4, COLUMNS)) > 4:
        rows.append(row[:at].rstrip())
        row = "    " + row[at:].strip()
    return [*rows, row]


def coloured(text: str) -> str:
    """The text as HTML, the names of fields in another colour."""
    rows = []
    for row in text.split("\n"):
        name, colon, rest = row.partition(":")
        is_field = colon and not row.startswith(" ")
        said = f"<b>{html.escape(name)}:</b>{html.escape(rest)}" if is_field else html.escape(row)
        rows.append(said)
    return "\n".join(rows)


def text_and_keys(browser: Browser, site: Path, text: str) -> bytes:
    """The text on the left, and twelve keys as the exercise's page shows them on the right."""
    page = browser.new_page(viewport={"width": 1320, "height": 400}, device_scale_factor=SCALE)
    page.goto((site / "exercises" / EXERCISE / "index.html").as_uri())
    page.evaluate(
        """text => {
          const keys = document.querySelector(".glance ol");
          const sprite = [...document.body.children].filter((each) => each.matches("svg"));
          const main = document.createElement("main"), words = document.createElement("pre");
          main.style.display = "contents";
          words.innerHTML = text;
          main.append(words, keys);
          document.body.replaceChildren(...sprite, main);
          document.body.className = "";
        }""",
        coloured(text),
    )
    page.add_style_tag(content=PLAIN + KEYS)
    return settled(page).locator("body").screenshot()


def settled(page: Page) -> Page:
    """A page whose letters have come."""
    page.evaluate("document.fonts.ready")
    return page


def screen(browser: Browser, site: Path, width: int, height: int) -> str:
    """The page of one key, as a device of this size shows it, as an address of a picture."""
    page = browser.new_page(
        viewport={"width": width, "height": height}, device_scale_factor=SCALE, has_touch=True
    )
    page.goto((site / "exercises" / EXERCISE / KEY / "index.html").as_uri())
    if height > 2 * width:
        # On a narrow screen the music begins further down.
        page.evaluate("document.querySelector('[id$=-as-written]').scrollIntoView({ behavior: 'instant' })")
        page.wait_for_timeout(500)
    data = settled(page).screenshot()
    page.close()
    return f"data:image/png;base64,{base64.b64encode(data).decode()}"


def devices(browser: Browser, site: Path) -> bytes:
    """A tablet and a phone beside each other, each in a frame."""
    tablet, phone = screen(browser, site, 820, 1060), screen(browser, site, 390, 844)
    page = browser.new_page(viewport={"width": 1000, "height": 700}, device_scale_factor=SCALE)
    page.set_content(
        f"""<style>
        body {{ margin: 0; padding: 20px; display: inline-flex; gap: 40px; align-items: end; }}
        img {{ border: 10px solid #26221e; border-radius: 22px; display: block; }}
        </style><body><img src="{tablet}" width="480"><img src="{phone}" width="250"></body>"""
    )
    page.wait_for_function("[...document.images].every((each) => each.complete)")
    return page.locator("body").screenshot()


def main() -> None:
    site = Path(sys.argv[1] if len(sys.argv) > 1 else ROOT / "site").resolve()
    text = shown_text((ROOT / "exercises" / (EXERCISE + SUFFIX)).read_text(encoding="utf-8"))
    with sync_playwright() as driver:
        path = shutil.which("chromium-headless-shell") or shutil.which("chromium")
        browser = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        (HERE / "text-and-keys.png").write_bytes(text_and_keys(browser, site, text))
        (HERE / "devices.png").write_bytes(devices(browser, site))
        browser.close()
    command = [
        sys.executable,
        "-m",
        "stavewright",
        "print",
        "--exercise",
        EXERCISE,
        "-o",
        str(HERE / "sample.pdf"),
    ]
    subprocess.run(command, cwd=ROOT, check=True)


if __name__ == "__main__":
    main()
