"""The language server: the Language Server Protocol 3.17 (Microsoft, open specification), spoken by pygls.

An editor starts it and talks to it over the standard input and output. It reads the texts that the editor has
open and the settings of the book around them; it writes nothing.
"""

from __future__ import annotations

from pathlib import Path

from lsprotocol import types as lsp
from pygls.lsp.server import LanguageServer
from pygls.uris import to_fs_path
from pygls.workspace import TextDocument

from .. import __version__
from ..language.faults import Fault
from ..language.format import formatted
from ..visible import visible
from .checking import BookWords, end_of, faults_in, find_book, words_of
from .help import Choice, choices_at, meaning_at

_UNNAMED = "exercise.warmup"
_KINDS = {
    "field": lsp.CompletionItemKind.Property,
    "word": lsp.CompletionItemKind.Keyword,
    "variation": lsp.CompletionItemKind.Function,
}


def language_server() -> LanguageServer:
    """A server that knows exercises; its `start_io` serves one editor."""
    server = LanguageServer("stavewright", __version__)

    @server.feature(lsp.TEXT_DOCUMENT_DID_OPEN)
    def opened(asked: lsp.DidOpenTextDocumentParams) -> None:
        publish_faults(asked.text_document.uri)

    @server.feature(lsp.TEXT_DOCUMENT_DID_CHANGE)
    def changed(asked: lsp.DidChangeTextDocumentParams) -> None:
        publish_faults(asked.text_document.uri)

    @server.feature(lsp.TEXT_DOCUMENT_DID_CLOSE)
    def closed(asked: lsp.DidCloseTextDocumentParams) -> None:
        nothing = lsp.PublishDiagnosticsParams(asked.text_document.uri, [])
        server.text_document_publish_diagnostics(nothing)

    @server.feature(lsp.TEXT_DOCUMENT_COMPLETION)
    def complete(asked: lsp.CompletionParams) -> list[lsp.CompletionItem]:
        document = server.workspace.get_text_document(asked.text_document.uri)
        place = document.position_codec.position_from_client_units(document.lines, asked.position)
        words = _words(document)
        found = choices_at(rows_of(document), place.line, place.character, words.named, words.naming)
        return [_item(document, choice, place.line, place.character) for choice in found]

    @server.feature(lsp.TEXT_DOCUMENT_HOVER)
    def hover(asked: lsp.HoverParams) -> lsp.Hover | None:
        document = server.workspace.get_text_document(asked.text_document.uri)
        place = document.position_codec.position_from_client_units(document.lines, asked.position)
        naming = _words(document).naming
        found = meaning_at(rows_of(document), place.line, place.character, naming)
        if found is None:
            return None
        said = _markdown(f"**{found.name}** {found.means}", found.example)
        return lsp.Hover(said, _range(document, place.line, found.span.start, found.span.end))

    @server.feature(lsp.TEXT_DOCUMENT_FORMATTING)
    def format_text(asked: lsp.DocumentFormattingParams) -> list[lsp.TextEdit]:
        document = server.workspace.get_text_document(asked.text_document.uri)
        text = formatted(document.filename or _UNNAMED, document.source.encode(), _words(document).naming)
        if not isinstance(text, str) or text == document.source:
            return []
        whole = lsp.Range(lsp.Position(0, 0), lsp.Position(len(document.lines), 0))
        return [lsp.TextEdit(whole, text)]

    def publish_faults(uri: str) -> None:
        document = server.workspace.get_text_document(uri)
        found = faults_in(document.filename or _UNNAMED, document.source, _words(document))
        faults = [_diagnostic(document, fault) for fault in found]
        server.text_document_publish_diagnostics(
            lsp.PublishDiagnosticsParams(uri, faults, version=document.version)
        )

    return server


def rows_of(document: TextDocument) -> list[str]:
    """The document's lines without their ends."""
    return [line.rstrip("\r\n") for line in document.lines]


def _words(document: TextDocument) -> BookWords:
    """What the book around a document adds to the language; nothing for a text that lies in no folder."""
    path = to_fs_path(document.uri)
    folder = find_book(Path(path)) if path else None
    return words_of(folder) if folder else BookWords()


def _range(document: TextDocument, line: int, start: int, end: int) -> lsp.Range:
    """Columns of a line, in the editor's units."""
    plain = lsp.Range(lsp.Position(line, start), lsp.Position(line, end))
    return document.position_codec.range_to_client_units(document.lines, plain)


def _diagnostic(document: TextDocument, fault: Fault) -> lsp.Diagnostic:
    place = _range(document, fault.line - 1, fault.column - 1, end_of(fault) - 1)
    severity = lsp.DiagnosticSeverity.Error
    return lsp.Diagnostic(
        place, f"{visible(fault.what)}; {visible(fault.mend)}", severity, source="stavewright"
    )


def _item(document: TextDocument, choice: Choice, line: int, column: int) -> lsp.CompletionItem:
    return lsp.CompletionItem(
        choice.name,
        kind=_KINDS[choice.kind],
        documentation=_markdown(choice.means, choice.example),
        text_edit=lsp.TextEdit(_range(document, line, choice.start, column), choice.written),
    )


def _markdown(means: str, example: str) -> lsp.MarkupContent:
    shown = f"\n\n```\n{example.strip()}\n```" if example else ""
    return lsp.MarkupContent(lsp.MarkupKind.Markdown, means + shown)
