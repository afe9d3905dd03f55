"""A template is compiled once in a process, and again only where its source changes."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from jinja2 import Environment, FileSystemLoader
from mkdocs.config import load_config

from stavewright.site import compiled_templates as module
from stavewright.site.compiled_templates import CompiledTemplates, compiled_templates

WriteBook = Callable[[dict[str, str | bytes]], Path]


@pytest.fixture
def compiled(monkeypatch: pytest.MonkeyPatch) -> list[str | None]:
    """The names of the templates that are compiled from now on."""
    names: list[str | None] = []
    compile = Environment._compile

    def noted(self: Environment, source: str, filename: str) -> object:
        names.append(Path(filename).name)
        return compile(self, source, filename)

    monkeypatch.setattr(Environment, "_compile", noted)
    monkeypatch.setattr(module, "_kept", {})
    return names


def written(folder: Path) -> str:
    """What a new environment writes from the folder's page."""
    environment = Environment(
        loader=FileSystemLoader(folder), autoescape=True, bytecode_cache=CompiledTemplates()
    )
    return environment.get_template("page.html").render(name="<A>")


def test_a_template_is_compiled_once_until_it_changes(tmp_path: Path, compiled: list[str | None]) -> None:
    (tmp_path / "base.html").write_text("<p>{% block main %}{% endblock %}</p>")
    (tmp_path / "page.html").write_text("{% extends 'base.html' %}{% block main %}{{ name }}{% endblock %}")
    assert written(tmp_path) == "<p>&lt;A&gt;</p>"
    assert sorted(filter(None, compiled)) == ["base.html", "page.html"]
    assert written(tmp_path) == "<p>&lt;A&gt;</p>"
    assert len(compiled) == 2
    (tmp_path / "base.html").write_text("<h1>{% block main %}{% endblock %}</h1>")
    assert written(tmp_path) == "<h1>&lt;A&gt;</h1>"
    assert compiled[2:] == ["base.html"]


def test_templates_of_one_name_in_two_folders_are_two(tmp_path: Path, compiled: list[str | None]) -> None:
    for name in ("one", "other"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "page.html").write_text(f"{name} {{{{ name }}}}")
    assert [written(tmp_path / name) for name in ("one", "other", "one")] == [
        "one &lt;A&gt;",
        "other &lt;A&gt;",
        "one &lt;A&gt;",
    ]
    assert len(compiled) == 2


def test_nothing_is_kept_where_another_may_set_the_environment_up(book: WriteBook) -> None:
    path = book({}) / "mkdocs.yml"
    text = path.read_text(encoding="utf-8")
    (path.parent / "hook.py").write_text("def on_env(env, config, files):\n    env.autoescape = False\n")
    kept = {}
    for name, more in (
        ("alone", text),
        ("a hook", text + "hooks: [hook.py]\n"),
        ("a plugin", text.replace("plugins:\n", "plugins:\n  - search\n")),
    ):
        path.write_text(more, encoding="utf-8")
        kept[name] = compiled_templates(load_config(str(path)))
    assert isinstance(kept["alone"], CompiledTemplates)
    assert kept["a hook"] is kept["a plugin"] is None
