"""Compiled templates are kept as long as the process: a preview builds the site again and again.

MkDocs makes a new environment for each build, and to compile all templates takes longer than to write the
pages of a small book.
"""

from __future__ import annotations

from types import CodeType

from jinja2 import BytecodeCache
from jinja2.bccache import Bucket
from mkdocs.config.defaults import MkDocsConfig

_kept: dict[str, tuple[str, CodeType]] = {}
"""By a template's name and file: the checksum of its source, and what was compiled from it."""


class CompiledTemplates(BytecodeCache):
    """Keeps a template's code in memory until its source changes.

    It is for environments that are all set up alike, for the code depends on that too.
    """

    def load_bytecode(self, bucket: Bucket) -> None:
        """Give the code where it was compiled from this source."""
        checksum, code = _kept.get(bucket.key, ("", None))
        if checksum == bucket.checksum:
            bucket.code = code

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep the code."""
        assert bucket.code is not None
        _kept[bucket.key] = bucket.checksum, bucket.code


def compiled_templates(config: MkDocsConfig) -> CompiledTemplates | None:
    """The cache for a book's environment; None where a hook or another plugin may change that."""
    alone = not config.hooks and set(config.plugins) == {"stavewright"}
    return CompiledTemplates() if alone else None
