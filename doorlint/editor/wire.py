"""What features find, as the messages of the Language Server Protocol 3.17."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from lsprotocol import types

if TYPE_CHECKING:  # the first answer to an editor does not wait for what only later ones need
    from .actions import Action
    from .completion import Offer
    from .diagnostics import Beside
    from .hints import Hint
    from .hover import Hover
    from .navigation import Symbol, Target
    from .positions import Lines
    from .rename import Change
    from .session import Session, Shown
    from .view import Part, View

SOURCE: Final = "doorlint"

_SEVERITIES: Final = {
    "error": types.DiagnosticSeverity.Error,
    "warning": types.DiagnosticSeverity.Warning,
    "information": types.DiagnosticSeverity.Information,
    "hint": types.DiagnosticSeverity.Hint,
}
_OFFERED: Final = {
    "key": types.CompletionItemKind.Property,
    "word": types.CompletionItemKind.EnumMember,
    "id": types.CompletionItemKind.Reference,
    "rule": types.CompletionItemKind.Value,
}
_SYMBOLS: Final = {
    "section": types.SymbolKind.Namespace,
    "opening": types.SymbolKind.Class,
    "set": types.SymbolKind.Interface,
    "item": types.SymbolKind.Field,
    "product": types.SymbolKind.Struct,
    "power": types.SymbolKind.Event,
    "cable": types.SymbolKind.Constant,
    "part": types.SymbolKind.Property,
}


@dataclass(frozen=True, slots=True)
class Abilities:
    """What the editor says that it can do."""

    pulls: bool = False
    refreshes_diagnostics: bool = False
    refreshes_hints: bool = False
    related: bool = False
    markdown: bool = False
    markdown_offers: bool = False
    document_changes: bool = False
    action_literals: bool = False
    disabled_actions: bool = False
    symbol_trees: bool = False
    watches: bool = False

    @classmethod
    def of(cls, client: types.ClientCapabilities) -> Abilities:
        """What of an editor's capabilities matters here."""
        text = client.text_document or types.TextDocumentClientCapabilities()
        work = client.workspace or types.WorkspaceClientCapabilities()
        hover = text.hover.content_format if text.hover else None
        action = text.code_action
        item = text.completion.completion_item if text.completion else None
        return cls(
            pulls=text.diagnostic is not None,
            refreshes_diagnostics=bool(work.diagnostics and work.diagnostics.refresh_support),
            refreshes_hints=bool(work.inlay_hint and work.inlay_hint.refresh_support),
            related=bool(
                (text.publish_diagnostics and text.publish_diagnostics.related_information)
                or (text.diagnostic and text.diagnostic.related_information)
            ),
            markdown=types.MarkupKind.Markdown in (hover or ()),
            markdown_offers=types.MarkupKind.Markdown in ((item.documentation_format if item else None) or ()),
            document_changes=bool(work.workspace_edit and work.workspace_edit.document_changes),
            action_literals=bool(action and action.code_action_literal_support),
            disabled_actions=bool(action and action.disabled_support),
            symbol_trees=bool(text.document_symbol and text.document_symbol.hierarchical_document_symbol_support),
            watches=bool(work.did_change_watched_files and work.did_change_watched_files.dynamic_registration),
        )


def uri_of(part: Part) -> str:
    """The URI of a file: the editor's own where it is open."""
    if part.buffer is not None:
        return part.buffer.uri
    return part.path.as_uri() if part.path is not None else part.name


class Wire:
    """Turns findings, targets and edits of one session into messages."""

    def __init__(self, session: Session, abilities: Abilities) -> None:
        self.session = session
        self.abilities = abilities

    def range(self, lines: Lines, start: int, end: int) -> types.Range:
        """A region as the editor names it."""
        return types.Range(types.Position(*lines.position(start)), types.Position(*lines.position(end)))

    def location(self, parts: Mapping[str, Part], target: Target | Beside) -> types.Location:
        """A region of a file."""
        part = parts[target.file]
        found = self.range(self.session.lines(part.text), target.start, target.end)
        return types.Location(uri_of(part), found)

    def diagnostics(self, shown: Shown) -> list[types.Diagnostic]:
        """The findings of one file."""
        lines = self.session.lines(shown.text)
        made = []
        for parts, finding in shown.found:
            related = None
            if self.abilities.related:
                related = [
                    types.DiagnosticRelatedInformation(
                        self.location(parts, one), one.caption
                    )
                    for one in finding.beside
                    if one.file in parts
                ]
            made.append(
                types.Diagnostic(
                    range=self.range(lines, finding.start, finding.end),
                    severity=_SEVERITIES[finding.severity],
                    code=finding.code,
                    source=SOURCE,
                    message=finding.message,
                    related_information=related or None,
                )
            )
        return made

    def markup(self, markdown: str, shown: bool) -> types.MarkupContent:
        """Markdown, or plain text where the editor shows no other."""
        if shown:
            return types.MarkupContent(types.MarkupKind.Markdown, markdown)
        from .markdown import without

        return types.MarkupContent(types.MarkupKind.PlainText, without(markdown))

    def hover(self, view: View, found: Hover) -> types.Hover:
        """What is shown about a region."""
        lines = self.session.lines(view.buffer.text)
        markup = self.markup(found.markdown, self.abilities.markdown)
        return types.Hover(markup, self.range(lines, found.start, found.end))

    def completion(self, view: View, offers: Iterable[Offer]) -> types.CompletionList:
        """Proposals, in the order in which they are to be shown."""
        lines = self.session.lines(view.buffer.text)
        items = []
        for number, offer in enumerate(sorted(offers, key=lambda one: one.rank)):
            begun = offer.text[:1] if offer.text[:1] in ("'", '"') else ""
            edited = self.range(lines, offer.start, offer.end)
            items.append(
                types.CompletionItem(
                    label=offer.label,
                    kind=_OFFERED[offer.kind],
                    detail=offer.detail or None,
                    documentation=self.markup(offer.about, self.abilities.markdown_offers) if offer.about else None,
                    sort_text=f"{number:05}",
                    filter_text=f"{begun}{offer.label}",
                    insert_text_format=types.InsertTextFormat.PlainText,
                    text_edit=types.TextEdit(edited, offer.text),
                )
            )
        return types.CompletionList(is_incomplete=False, items=items)

    def symbols(
        self, view: View, found: Iterable[Symbol]
    ) -> list[types.DocumentSymbol] | list[types.SymbolInformation]:
        """The entries of a file, as a tree where the editor shows trees."""
        lines = self.session.lines(view.buffer.text)
        if self.abilities.symbol_trees:
            return [self._tree(lines, symbol) for symbol in found]
        return [info for symbol in found for info in self._flat(view.buffer.uri, lines, symbol, "")]

    def _tree(self, lines: Lines, symbol: Symbol) -> types.DocumentSymbol:
        return types.DocumentSymbol(
            name=symbol.name,
            kind=_SYMBOLS[symbol.kind],
            range=self.range(lines, symbol.start, symbol.end),
            selection_range=self.range(lines, symbol.name_start, symbol.name_end),
            detail=symbol.detail or None,
            children=[self._tree(lines, child) for child in symbol.children],
        )

    def _flat(self, uri: str, lines: Lines, symbol: Symbol, within: str) -> Iterable[types.SymbolInformation]:
        place = types.Location(uri, self.range(lines, symbol.start, symbol.end))
        yield types.SymbolInformation(place, symbol.name, _SYMBOLS[symbol.kind], container_name=within or None)
        for child in symbol.children:
            yield from self._flat(uri, lines, child, symbol.name)

    def symbol(self, view: View, name: str, kind: str, section: str, target: Target) -> types.WorkspaceSymbol:
        """An id of a spec."""
        return types.WorkspaceSymbol(self.location(view.parts, target), name, _SYMBOLS[kind], container_name=section)

    def edit(self, view: View, changes: Iterable[Change]) -> types.WorkspaceEdit:
        """Changes of files, bound to the versions that they were made for where the editor can do that."""
        by_file: dict[str, list[types.TextEdit]] = {}
        for change in changes:
            part = view.parts[change.target.file]
            region = self.range(self.session.lines(part.text), change.target.start, change.target.end)
            by_file.setdefault(change.target.file, []).append(types.TextEdit(region, change.text))
        if not self.abilities.document_changes:
            return types.WorkspaceEdit({uri_of(view.parts[name]): made for name, made in by_file.items()})
        documents: list[
            types.TextDocumentEdit | types.CreateFile | types.RenameFile | types.DeleteFile
        ] = []
        for name, edits in by_file.items():
            part = view.parts[name]
            version = part.buffer.version if part.buffer is not None else None
            document = types.OptionalVersionedTextDocumentIdentifier(uri_of(part), version)
            documents.append(types.TextDocumentEdit(document, list(edits)))
        return types.WorkspaceEdit(document_changes=documents)

    def action(
        self, view: View, action: Action, given: Iterable[types.Diagnostic], preferred: bool
    ) -> types.CodeAction:
        """A repair. One that is shown only has neither edit nor command."""
        lines = self.session.lines(view.buffer.text)
        region = self.range(lines, action.start, action.end)
        cured = [one for one in given if one.code == action.code and one.range == region]
        made = types.CodeAction(
            title=action.title,
            kind=types.CodeActionKind.QuickFix,
            diagnostics=cured or None,
        )
        if action.refused:
            made.data = {"refused": action.refused}
            if self.abilities.disabled_actions:
                made.disabled = types.CodeActionDisabled(action.refused)
        else:
            made.edit = self.edit(view, action.changes)
            made.is_preferred = preferred or None
        return made

    def hint(self, view: View, found: Hint) -> types.InlayHint:
        """A figure beside a line."""
        place = types.Position(*self.session.lines(view.buffer.text).position(found.offset))
        return types.InlayHint(place, found.text, tooltip=found.about, padding_left=True)
