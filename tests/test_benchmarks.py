"""The scripts beside the package use it as it is: what they import is there, and takes what they give it.

`.ci/types` has mypy look closer; the programs that a script holds as text, it does not see.
"""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
BEGINS = re.compile(r"^(from|import) stavewright\b", re.MULTILINE)
SCRIPTS = sorted((*ROOT.glob("benchmarks/*.py"), *ROOT.glob("docs/**/*.py")))


def programs(source: str) -> Iterator[ast.Module]:
    """A script, and the programs that it holds as text."""
    tree = ast.parse(source)
    yield tree
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and BEGINS.search(node.value):
            yield ast.parse(node.value)


def imported(tree: ast.Module) -> dict[str, object]:
    """What a program imports from the package, by its names there. Raises where it is not there."""
    found: dict[str, object] = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for each in node.names:
                if each.name.partition(".")[0] == "stavewright":
                    module = importlib.import_module(each.name)
                    found[each.asname or "stavewright"] = (
                        module if each.asname else importlib.import_module("stavewright")
                    )
        elif isinstance(node, ast.ImportFrom) and (node.module or "").partition(".")[0] == "stavewright":
            for each in node.names:
                module = importlib.import_module(node.module or "")
                # A module that nobody has imported so far is no attribute of its package yet.
                found[each.asname or each.name] = getattr(module, each.name, None) or importlib.import_module(
                    f"{node.module}.{each.name}"
                )
    return found


def called(function: ast.expr, names: dict[str, object]) -> object:
    """What an expression such as `module.name` stands for, where it begins with an imported name."""
    if isinstance(function, ast.Name):
        return names.get(function.id)
    if isinstance(function, ast.Attribute):
        owner = called(function.value, names)
        # What a class makes is not known here.
        return getattr(owner, function.attr) if inspect.ismodule(owner) else None
    return None


def unfit(tree: ast.Module) -> list[str]:
    """The calls of a program that would be refused, each with the reason."""
    names = imported(tree)
    found = []
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        what, arguments, is_whole = called(node.func, names), node.args, True
        if isinstance(node.func, ast.Name) and node.func.id == "partial":
            what, arguments, is_whole = called(arguments[0], names), arguments[1:], False
        keywords = {each.arg: each for each in node.keywords}
        if not callable(what) or None in keywords or any(isinstance(each, ast.Starred) for each in arguments):
            continue
        signature = inspect.signature(what)
        try:
            (signature.bind if is_whole else signature.bind_partial)(*arguments, **keywords)
        except TypeError as error:
            found.append(f"{ast.unparse(node)}: {error}")
    return found


@pytest.mark.parametrize("place", SCRIPTS, ids=lambda place: place.stem)
def test_a_script_calls_the_package_as_it_is(place: Path) -> None:
    source = place.read_text(encoding="utf-8")
    for tree in programs(source):
        assert unfit(tree) == []
    # What is replaced for a time is named by a text.
    for name in re.findall(r'"(stavewright(?:\.\w+)+)"', source):
        assert name.endswith(".po") or pkgutil.resolve_name(name) is not None


def test_a_call_that_does_not_fit_is_found() -> None:
    begins = "from stavewright import plurals\nfrom stavewright.plurals import count_of\n"
    for call in ("count_of(1)", "plurals.count_of(1, 'a', nothing=2)", "partial(count_of, 1, 2, 3, 4, 5)"):
        (found,) = unfit(ast.parse(begins + call))
        assert found.startswith(call)
    held = f"PROGRAM = '''{begins}count_of()'''"
    assert [len(unfit(tree)) for tree in programs(held)] == [0, 1]
    assert unfit(ast.parse(begins + "count_of(1, 'fault')")) == []
    with pytest.raises(ModuleNotFoundError):
        unfit(ast.parse("from stavewright.plurals import nothing_of_this_name"))
