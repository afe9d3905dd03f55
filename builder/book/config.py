"""mkdocs.yml, read once and safely for every command: its values, each with the place where it stands.

The rules are MkDocs's own: `INHERIT` takes what is not said here from another file, and `!ENV` takes a value
from the environment. Other tags, such as `!!python/name:...`, may run code. Only MkDocs's own commands obey
them; here their value is a `Foreign`, which no option of the book may be.

The bounds below keep a small file from standing for more than a computer can hold (aliases of aliases) or
follow (brackets in brackets).
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml
from mkdocs.utils.yaml import get_yaml_loader

from ..language.faults import BookFaults, Fault, few, shown
from ..language.fields import MAX_BYTES, Source
from .plain_files import read_plain_file

CONFIG = "mkdocs.yml"
PLUGIN = "stavewright"

MOST_VALUES = 20_000
"""Values that a file may stand for, with every alias written out."""

MOST_DEPTH = 40
"""Lists and mappings within each other."""

MOST_INHERITED = 10
"""Files that take from each other in a row."""

Steps = tuple[str | int, ...]
"""The way to a value: names in mappings and numbers in lists, from the top."""

Place = tuple[Source, int, int]
"""A file, a line and a column, both from 1."""

_BREAK = re.compile("\r\n|[\n\r\x85\u2028\u2029]")


@dataclass(frozen=True, slots=True)
class Foreign:
    """A value whose tag only MkDocs's own commands obey."""

    tag: str


@dataclass(frozen=True, slots=True)
class Config:
    """What mkdocs.yml says, what it inherits included.

    `values` is its mapping; `at` has the place of each value and `named_at` the place of each name.
    """

    values: Mapping[str, Any] = field(default_factory=dict)
    at: Mapping[Steps, Place] = field(default_factory=dict)
    named_at: Mapping[Steps, Place] = field(default_factory=dict)
    file: str = CONFIG

    def fault(self, steps: Steps, what: str, mend: str, *, at_name: bool = False) -> Fault:
        """A fault at a value, or at its name; where there is none, at what it would stand in."""
        for length in range(len(steps), 0, -1):
            value_at = self.at.get(steps[:length])
            place = self.named_at.get(steps[:length], value_at) if at_name else value_at
            if place is not None:
                source, line, column = place
                return source.fault(line, column, what, mend)
        return Source(self.file, ()).fault(1, 1, what, mend)

    def plugins(self) -> Iterator[tuple[Steps, Any, Any]]:
        """Each plugin's steps, name and options; entries that cannot be read have None for a name."""
        listed = self.values.get("plugins")
        if isinstance(listed, Mapping):
            yield from ((("plugins", str(name)), name, options) for name, options in listed.items())
        for number, entry in enumerate(listed if isinstance(listed, list) else ()):
            if isinstance(entry, Mapping) and len(entry) == 1:
                ((name, options),) = entry.items()
                yield ("plugins", number, str(name)), name, options
            else:
                yield ("plugins", number), entry if isinstance(entry, str) else None, None

    def book_plugin(self) -> tuple[Steps, Any]:
        """The steps to the book's own options, and the options; None where there are none to be read."""
        for steps, name, options in self.plugins():
            if isinstance(name, str) and name.removeprefix("/") == PLUGIN:
                return steps, options
        return ("plugins",), None

    def options(self) -> dict[str, Any]:
        """The book's own options as they are written."""
        _, options = self.book_plugin()
        return dict(options) if isinstance(options, Mapping) else {}

    def text(self, name: str) -> str:
        """A setting that is text, or an empty string."""
        given = self.values.get(name)
        return given if isinstance(given, str) else ""

    @property
    def address(self) -> str:
        """Where the site is published, with its last slash; an empty string where that is not said."""
        given = self.text("site_url")
        return given if not given or given.endswith("/") else f"{given}/"


class _Safe(yaml.SafeLoader):
    """Makes plain values only, and says where one cannot be made."""

    def construct_object(self, node: yaml.Node, deep: bool = False) -> Any:
        """The value of a node. Raises yaml.YAMLError with the node's place."""
        try:
            return super().construct_object(node, deep)
        except yaml.MarkedYAMLError as error:
            error.problem_mark = error.problem_mark or node.start_mark
            raise
        except (ValueError, TypeError, AttributeError, LookupError, ArithmeticError) as error:
            said = shown(str(node.value)) if isinstance(node, yaml.ScalarNode) else "this"
            raise yaml.constructor.ConstructorError(
                None, None, f"{said} cannot be read as {node.tag.rpartition(':')[2]}", node.start_mark
            ) from error


def _foreign(loader: yaml.SafeLoader, suffix: str, node: yaml.Node) -> Foreign:
    return Foreign(node.tag.replace("tag:yaml.org,2002:", "!!"))


_Safe.add_multi_constructor("!", _foreign)
_Safe.add_multi_constructor("tag:", _foreign)
_LOADER: Any = get_yaml_loader(_Safe)


def read_config_file(path: Path) -> Config:
    """What a mkdocs.yml says. Raises OSError, or BookFaults where it cannot be read."""
    return _read(path, path.parent, ())


def _read(path: Path, folder: Path, before: tuple[Path, ...]) -> Config:
    name = Path(os.path.relpath(path, folder)).as_posix()
    source, text = _decoded(name, read_plain_file(path, MAX_BYTES + 1))
    root, values = _loaded(source, text)
    if values is None:
        return Config(file=name)
    if not isinstance(values, dict):
        mend = "write lines such as `site_name: The book of our studio`"
        raise BookFaults([source.fault(1, 1, "these are no settings", mend)])
    at: dict[Steps, Place] = {}
    named_at: dict[Steps, Place] = {}
    _note_places(root, (), source, at, named_at)
    here = Config(values, at, named_at, name)
    return here if "INHERIT" not in values else _inherited(here, path, folder, (*before, path.resolve()))


def _inherited(config: Config, path: Path, folder: Path, before: tuple[Path, ...]) -> Config:
    """A configuration with what it takes from the file that it names."""
    own = dict(config.values)
    named = own.pop("INHERIT")

    def wrong(what: str, mend: str) -> BookFaults:
        return BookFaults([config.fault(("INHERIT",), f"INHERIT: {what}", mend)])

    if not isinstance(named, str) or "\0" in named:
        raise wrong("this names no file", "write it as in `INHERIT: ../base.yml`")
    # As MkDocs finds it: `..` is taken away before any link is followed.
    parent = Path(os.path.normpath(path.parent / named))
    try:
        if parent.resolve() in before or len(before) > MOST_INHERITED:
            raise wrong(
                "the files inherit from each other in a circle, or too many one from another", "take it out"
            )
        found = _read(parent, folder, before)
    except OSError as error:
        raise wrong(f"{shown(named)} cannot be read: {error.strerror}", "name a file beside this") from None
    return Config(
        _merged(found.values, own),
        {**found.at, **config.at},
        {**found.named_at, **config.named_at},
        config.file,
    )


def _merged(under: Mapping[str, Any], over: Mapping[str, Any]) -> dict[str, Any]:
    """Two mappings as one, as MkDocs merges them: mappings within are merged too, lists are not."""
    made = dict(under)
    for name, value in over.items():
        below = made.get(name)
        both = isinstance(below, Mapping) and isinstance(value, Mapping)
        made[name] = _merged(below, value) if both else value  # type: ignore[arg-type]
    return made


def _decoded(name: str, data: bytes) -> tuple[Source, str]:
    """A file's lines and its text. Raises BookFaults."""
    empty = Source(name, ())
    if len(data) > MAX_BYTES:
        what = f"the file is larger than {MAX_BYTES // 1024} KB"
        raise BookFaults([empty.fault(1, 1, what, "keep to the settings of the book")])
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = data[: error.start].decode("utf-8-sig", "replace")
        line, column = _line_and_column(before)
        what = f"the file is not UTF-8 text (byte {data[error.start]:#04x})"
        mend = "save it from your editor with the encoding UTF-8"
        raise BookFaults([empty.fault(line, column, what, mend)]) from None
    return Source(name, tuple(_BREAK.split(text))), text


def _line_and_column(before: str) -> tuple[int, int]:
    rows = _BREAK.split(before)
    return len(rows), len(rows[-1]) + 1


def _line_and_column_of(mark: Any) -> tuple[int, int]:
    """The place of PyYAML's mark, which counts from 0."""
    return (mark.line + 1, mark.column + 1) if mark else (1, 1)


def _loaded(source: Source, text: str) -> tuple[yaml.Node | None, Any]:
    """The file's node and its value. Raises BookFaults."""
    try:
        if bound := _beyond_bounds(text):
            mark, what, mend = bound
            raise BookFaults([source.fault(*_line_and_column_of(mark), what, mend)])
        loader = _LOADER(text)
        try:
            root: yaml.Node | None = loader.get_single_node()
            if faults := list(_names_twice(root, source, set())):
                raise BookFaults(few(faults))
            return root, None if root is None else loader.construct_document(root)
        finally:
            loader.dispose()
    except yaml.reader.ReaderError as error:
        line, column = _line_and_column(text[: error.position])
        what = f"an invisible character, U+{ord(text[error.position]):04X}"
        mend = "delete it and retype the text around it"
        raise BookFaults([source.fault(line, column, what, mend)]) from None
    except yaml.MarkedYAMLError as error:
        line, column = _line_and_column_of(error.problem_mark or error.context_mark)
        said = " ".join(filter(None, (error.context, error.problem)))
        mend = "mind the spaces at the beginning of lines, the colons, the quotes and the brackets"
        if "'\\t'" in said:
            mend = "write spaces in place of the tab"
        raise BookFaults([source.fault(line, column, f"this cannot be read: {said}", mend)]) from None


def _beyond_bounds(text: str) -> tuple[Any, str, str] | None:
    """Where a text goes beyond the bounds of this module, what is wrong there, and how to mend it.

    It looks at one event of the text after the other, so it needs little memory whatever the text says.
    """
    # Of each anchor, and of each list or mapping that is open: how many values, and how deep.
    known: dict[str, tuple[int, int]] = {}
    open_ones: list[tuple[str | None, int]] = []
    depths = [0]
    size = 0
    for event in yaml.parse(text, Loader=_Safe):
        below = 0
        if isinstance(event, yaml.CollectionStartEvent):
            open_ones.append((event.anchor, size))
            depths.append(0)
        elif isinstance(event, yaml.CollectionEndEvent):
            anchor, before = open_ones.pop()
            below = depths.pop() + 1
            if anchor:
                known[anchor] = size - before, below
        elif isinstance(event, yaml.AliasEvent):
            if any(anchor == event.anchor for anchor, _ in open_ones):
                return event.start_mark, f"`*{event.anchor}` stands within itself", "take it out"
            values, below = known.get(str(event.anchor), (0, 0))
            size += values
        elif isinstance(event, yaml.ScalarEvent) and event.anchor:
            known[event.anchor] = 1, 0
        size += isinstance(event, yaml.NodeEvent)
        depths[-1] = max(depths[-1], below)
        if len(open_ones) + below > MOST_DEPTH:
            what = f"lists and mappings lie within each other more than {MOST_DEPTH} deep"
            return event.start_mark, what, "close some brackets, or set the lines less far in"
        if size > MOST_VALUES:
            what = f"the file stands for more than {MOST_VALUES:,} values"
            return event.start_mark, what, "take out aliases such as `*this`, or shorten the lists"
    return None


def _names_twice(node: yaml.Node | None, source: Source, seen: set[int]) -> Iterator[Fault]:
    """A fault for each name that stands twice in one mapping."""
    if id(node) in seen or not isinstance(node, yaml.CollectionNode):
        return
    seen.add(id(node))
    if isinstance(node, yaml.SequenceNode):
        for each in node.value:
            yield from _names_twice(each, source, seen)
        return
    first: dict[str, int] = {}
    for name, value in node.value:
        if isinstance(name, yaml.ScalarNode) and name.value != "<<":
            line, column = _line_and_column_of(name.start_mark)
            if name.value in first:
                what = f"the name {shown(name.value)} appears a second time"
                mend = f"keep one; the first is on line {first[name.value]}"
                yield source.fault(line, column, what, mend)
            first.setdefault(name.value, line)
        yield from _names_twice(value, source, seen)


def _note_places(
    node: yaml.Node | None,
    steps: Steps,
    source: Source,
    at: dict[Steps, Place],
    named_at: dict[Steps, Place],
) -> None:
    """Write down where each value and each name stands, by the way to it."""
    if node is None:
        return
    at[steps] = source, *_line_and_column_of(node.start_mark)
    if isinstance(node, yaml.SequenceNode):
        for number, each in enumerate(node.value):
            _note_places(each, (*steps, number), source, at, named_at)
    elif isinstance(node, yaml.MappingNode):
        for name, value in node.value:
            if isinstance(name, yaml.ScalarNode):
                there = (*steps, name.value)
                named_at[there] = source, *_line_and_column_of(name.start_mark)
                _note_places(value, there, source, at, named_at)
