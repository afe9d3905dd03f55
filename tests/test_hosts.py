"""The files for hosts in docs/hosts, read by the hosts' own programs where they are installed.

The form of `_headers` is that of https://docs.netlify.com/routing/headers/ (from memory): a path at the
margin, and below it, set in, the headers.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path

import pytest

HOSTS = Path(__file__).parents[1] / "docs" / "hosts"
POLICY = "default-src 'self'"


def read(name: str) -> str:
    return (HOSTS / name).read_text(encoding="utf-8")


def test_the_headers_stand_below_a_path() -> None:
    rows = [row for row in read("_headers").splitlines() if not row.startswith("#")]
    assert rows[0] == "/*" and len(rows) > 1
    headers = dict(re.fullmatch(r"  ([A-Za-z-]+): (.+)", row).groups() for row in rows[1:])  # type: ignore[union-attr]
    assert headers["Content-Security-Policy"] == POLICY
    assert "must-revalidate" in headers["Cache-Control"]


def test_every_host_has_the_same_policy_and_keeps_no_file_unasked() -> None:
    for name in ("nginx.conf", "htaccess"):
        assert f'Content-Security-Policy "{POLICY}"' in read(name)
        assert 'Cache-Control "no-cache"' in read(name)
        # Fonts alone are kept: their names have a number in them.
        assert read(name).count('Cache-Control "public, max-age=31536000, immutable"') == 1
    style = (Path(__file__).parents[1] / "site_src/assets/book.css").read_text(encoding="utf-8")
    fonts = re.findall(r'url\("fonts/(.*?)"\)', style)
    assert len(fonts) == 3 and all(re.fullmatch(r"stavewright-serif-\d+-\w+\.woff2", font) for font in fonts)


def test_apache_packs_no_kind_of_file_without_its_type() -> None:
    text = read("htaccess")
    packed = re.findall(r"\(\?:([a-z|]+)\)\)\$", text)[0].split("|")
    typed = re.findall(r'RewriteRule "\\\.(\w+)\\\.gz\$" - \[T=', text)
    assert sorted(packed) == sorted(typed)
    # The last rule that fits decides: a feed is XML of a kind of its own.
    assert text.index(r"feed\.xml\.gz") > text.index(r'"\.xml\.gz')


def run(*words: str | Path) -> None:
    done = subprocess.run(list(map(str, words)), capture_output=True, text=True, timeout=60)
    assert done.returncode == 0 and "warn" not in done.stderr, done.stderr


def root_of(program: str) -> Path:
    """The root of the system below which Debian's package of a program lies."""
    found = shutil.which(program)
    assert found is not None
    return Path(found).parents[2]


@pytest.mark.skipif(not shutil.which("nginx"), reason="nginx is not installed")
def test_nginx_reads_its_file(tmp_path: Path) -> None:
    types = root_of("nginx") / "etc/nginx/mime.types"
    text = read("nginx.conf").replace("mime.types", str(types)).replace("/srv/book/site", str(tmp_path))
    (tmp_path / "site.conf").write_text(text.replace("listen 80;", "listen 127.0.0.1:8931;"))
    places = "".join(
        f"{name}_temp_path {tmp_path};" for name in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    (tmp_path / "nginx.conf").write_text(
        f"pid {tmp_path}/pid; error_log stderr; events {{}} "
        f"http {{ access_log off; {places} include {tmp_path}/site.conf; }}"
    )
    run("nginx", "-t", "-p", tmp_path, "-c", tmp_path / "nginx.conf", "-e", "stderr")


@pytest.mark.skipif(not shutil.which("apache2"), reason="Apache is not installed")
def test_apache_reads_its_file(tmp_path: Path) -> None:
    modules = root_of("apache2") / "usr/lib/apache2/modules"
    names = ("mpm_event", "authz_core", "mime", "dir", "headers", "rewrite", "env")
    loads = "\n".join(f"LoadModule {name}_module {modules}/mod_{name}.so" for name in names)
    (tmp_path / "types").write_text("text/html html\n")
    (tmp_path / "httpd.conf").write_text(
        f"ServerRoot {tmp_path}\nServerName localhost\nListen 127.0.0.1:8932\n"
        f"ErrorLog {tmp_path}/errors\n{loads}\n"
        f"TypesConfig {tmp_path}/types\nDocumentRoot {tmp_path}\n"
        f"<Directory {tmp_path}>\n{read('htaccess')}\n</Directory>\n"
    )
    run("apache2", "-t", "-f", tmp_path / "httpd.conf")
