"""Lighthouse's four scores for each kind of page of a built site, and what each page weighs.

    python benchmarks/lighthouse.py [site] [--lighthouse "npx lighthouse@12.2.3"]

Serves the site with compression, as hosts do, below a sub-path, and opens it in Chromium through Lighthouse
(npm, Node 20 or later). Performance is simulated for a slow phone and moves with the load of the machine.
"""

from __future__ import annotations

import argparse
import functools
import gzip
import http.server
import json
import os
import shlex
import shutil
import subprocess
import sys
import tempfile
import threading
from pathlib import Path
from typing import Any

KINDS = ("home", "exercise", "in key", "key", "find", "print")
CATEGORIES = ("performance", "accessibility", "best-practices", "seo")
COMPRESSED = (".html", ".css", ".js", ".svg", ".json", ".xml")


class Compressing(http.server.SimpleHTTPRequestHandler):
    """A static host below /book/ that compresses text."""

    def log_message(self, format: str, *args: Any) -> None:
        """Say nothing."""

    def do_GET(self) -> None:
        """A file, compressed where it is text."""
        self.path = self.path.removeprefix("/book") or "/"
        path = Path(self.translate_path(self.path))
        if path.is_dir():
            path /= "index.html"
        if path.suffix not in COMPRESSED or not path.is_file():
            super().do_GET()
            return
        data = gzip.compress(path.read_bytes(), 6)
        self.send_response(200)
        self.send_header("Content-Type", self.guess_type(str(path)))
        self.send_header("Content-Encoding", "gzip")
        self.send_header("Content-Length", str(len(data)))
        self.send_header("Cache-Control", "max-age=31536000")
        self.end_headers()
        self.wfile.write(data)


def addresses(site: Path) -> dict[str, str]:
    """One page of each kind: of exercises in a key, the heaviest."""
    in_key = max(site.glob("**/exercises/*/*/index.html"), key=lambda path: path.stat().st_size)
    found = {
        "home": site / "index.html",
        "exercise": in_key.parent.parent / "index.html",
        "in key": in_key,
        "key": max(site.glob("**/keys/*/index.html"), key=lambda path: path.stat().st_size),
        "find": site / "find/index.html",
        "print": site / "print/index.html",
    }
    return {kind: found[kind].relative_to(site).as_posix() for kind in KINDS}


def scores(command: list[str], address: str, folder: str) -> dict[str, Any]:
    """Lighthouse's report of one page. Raises CalledProcessError where it fails."""
    flags = "--headless=new --no-sandbox --disable-gpu --disable-background-networking"
    out = Path(folder) / "report.json"
    asked = [*command, address, "--output=json", f"--output-path={out}", "--quiet", f"--chrome-flags={flags}"]
    environment = {**os.environ, "CHROME_PATH": shutil.which("chromium") or "chromium"}
    subprocess.run(asked, check=True, env=environment, stdout=subprocess.DEVNULL)
    report: dict[str, Any] = json.loads(out.read_text(encoding="utf-8"))
    return report


def main() -> int:
    """Print a row a page; 1 where a score is below 95."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("site", type=Path, nargs="?", default=Path("site"))
    parser.add_argument("--lighthouse", default="npx --yes lighthouse@12.2.3")
    asked = parser.parse_args()
    handler = functools.partial(Compressing, directory=asked.site)
    host = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    threading.Thread(target=host.serve_forever, daemon=True).start()
    print(f"{'page':10}" + "".join(f"{name:>16}" for name in (*CATEGORIES, "KB transferred")))
    low = False
    with tempfile.TemporaryDirectory() as folder:
        for kind, page in addresses(asked.site).items():
            address = f"http://127.0.0.1:{host.server_port}/book/{page}"
            report = scores(shlex.split(asked.lighthouse), address, folder)
            row = [round(100 * (report["categories"][name]["score"] or 0)) for name in CATEGORIES]
            weight = report["audits"]["total-byte-weight"]["numericValue"] / 1000
            print(f"{kind:10}" + "".join(f"{score:16}" for score in row) + f"{weight:16.0f}")
            low = low or min(row) < 95
            for audit in report["audits"].values():
                if audit.get("score") == 0 and audit["scoreDisplayMode"] == "binary":
                    print(f"{'':10}{audit['id']}: {audit['title']}", file=sys.stderr)
    host.shutdown()
    return 1 if low else 0


if __name__ == "__main__":
    sys.exit(main())
