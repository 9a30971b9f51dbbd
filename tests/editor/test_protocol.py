"""`doorlint editor` over standard input and output, each feature by the Language Server Protocol 3.17, which pytest-lsp
and lsprotocol speak from the other side."""

from __future__ import annotations

import asyncio
import sys
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any

import pytest
import pytest_asyncio
import pytest_lsp
from editing import SPEC, between, kiosk, terminal
from lsprotocol import types as lsp
from pygls.exceptions import JsonRpcException
from pytest_lsp import ClientServerConfig, LanguageClient

pytestmark = pytest.mark.asyncio(loop_scope="module")

PATIENCE = 60.0
"""Seconds that an answer may take on a busy machine."""

COMMAND = [sys.executable, "-m", "doorlint", "editor", "--debounce", "20"]

PUSHED = lsp.ClientCapabilities(
    text_document=lsp.TextDocumentClientCapabilities(
        publish_diagnostics=lsp.PublishDiagnosticsClientCapabilities(related_information=True, version_support=True),
        hover=lsp.HoverClientCapabilities(content_format=[lsp.MarkupKind.Markdown]),
        completion=lsp.CompletionClientCapabilities(
            completion_item=lsp.ClientCompletionItemOptions(documentation_format=[lsp.MarkupKind.Markdown])
        ),
        document_symbol=lsp.DocumentSymbolClientCapabilities(hierarchical_document_symbol_support=True),
        code_action=lsp.CodeActionClientCapabilities(
            code_action_literal_support=lsp.ClientCodeActionLiteralOptions(
                lsp.ClientCodeActionKindOptions([lsp.CodeActionKind.QuickFix])
            ),
            disabled_support=True,
        ),
        rename=lsp.RenameClientCapabilities(prepare_support=True),
    ),
    workspace=lsp.WorkspaceClientCapabilities(workspace_edit=lsp.WorkspaceEditClientCapabilities(document_changes=True)),
)
PULLED = lsp.ClientCapabilities(
    text_document=lsp.TextDocumentClientCapabilities(diagnostic=lsp.DiagnosticClientCapabilities()),
    workspace=lsp.WorkspaceClientCapabilities(
        diagnostics=lsp.DiagnosticWorkspaceClientCapabilities(refresh_support=True)
    ),
    general=lsp.GeneralClientCapabilities(position_encodings=[lsp.PositionEncodingKind.Utf8]),
)


async def started(client: LanguageClient, capabilities: lsp.ClientCapabilities) -> lsp.InitializeResult:
    """Begin the session; the answer of the server."""
    return await client.initialize_session(lsp.InitializeParams(capabilities=capabilities, root_uri=None))


@pytest_lsp.fixture(config=ClientServerConfig(server_command=COMMAND), scope="module", loop_scope="module")  # type: ignore[untyped-decorator]
async def pushed(lsp_client: LanguageClient) -> AsyncIterator[None]:
    """An editor that is sent diagnostics."""
    await started(lsp_client, PUSHED)
    yield
    await lsp_client.shutdown_session()


@pytest_lsp.fixture(config=ClientServerConfig(server_command=COMMAND), scope="module", loop_scope="module")  # type: ignore[untyped-decorator]
async def pulling(lsp_client: LanguageClient) -> AsyncIterator[None]:
    """An editor that asks for diagnostics, and counts in UTF-8."""
    result = await started(lsp_client, PULLED)
    assert result.capabilities.position_encoding == lsp.PositionEncodingKind.Utf8
    provider = result.capabilities.diagnostic_provider
    assert provider is not None and provider.inter_file_dependencies and provider.workspace_diagnostics
    yield
    await lsp_client.shutdown_session()


class Room:
    """The desks of one test; what is open on them is closed when it ends."""

    def __init__(self) -> None:
        self.desks: list[Desk] = []

    def desk(self, client: Any, path: Path, text: str) -> Desk:
        """Open a text."""
        self.desks.append(Desk(client, path, text))
        return self.desks[-1]


@pytest_asyncio.fixture(loop_scope="module")
async def room() -> AsyncIterator[Room]:
    """A room for one test."""
    made = Room()
    yield made
    for desk in made.desks:
        desk.client.text_document_did_close(lsp.DidCloseTextDocumentParams(desk.document))


class Desk:
    """An editor at work on one text."""

    def __init__(self, client: Any, path: Path, text: str) -> None:
        self.client = client
        self.path = path
        self.uri = path.as_uri()
        self.text = text
        self.version = 1
        item = lsp.TextDocumentItem(self.uri, "yaml", 1, text)
        client.text_document_did_open(lsp.DidOpenTextDocumentParams(item))

    @property
    def document(self) -> lsp.TextDocumentIdentifier:
        return lsp.TextDocumentIdentifier(self.uri)

    def range(self, marked: str) -> lsp.Range:
        """The range between the bars."""
        start, end = between(self.text, marked)
        return lsp.Range(lsp.Position(*start), lsp.Position(*end))

    def at(self, marked: str) -> lsp.Position:
        """The position of the bar."""
        return self.range(marked.replace("|", "||")).start

    def read(self, region: lsp.Range) -> str:
        """The text of a range, of ASCII lines."""
        lines = self.text.split("\n")
        assert region.start.line == region.end.line
        return lines[region.start.line][region.start.character : region.end.character]

    def write(self, marked: str, text: str) -> None:
        """Put a text between the bars."""
        self.version += 1
        change = lsp.TextDocumentContentChangePartial(self.range(marked), text)
        document = lsp.VersionedTextDocumentIdentifier(self.version, self.uri)
        self.client.text_document_did_change(lsp.DidChangeTextDocumentParams(document, [change]))
        before, inside, after = marked.split("|")
        self.text = self.text.replace(before + inside + after, before + text + after)

    async def found(self, wanted: Callable[[list[lsp.Diagnostic]], bool], uri: str = "") -> list[lsp.Diagnostic]:
        """The diagnostics sent for the text, once they are as wanted."""
        for _ in range(int(PATIENCE / 0.05)):
            sent = self.client.diagnostics.get(uri or self.uri)
            if sent is not None and wanted(list(sent)):
                return list(sent)
            await asyncio.sleep(0.05)
        raise AssertionError("the diagnostics wanted did not come")


def codes(found: list[lsp.Diagnostic]) -> set[str]:
    return {str(one.code) for one in found}


async def asked(answer: Any) -> Any:
    return await asyncio.wait_for(answer, PATIENCE)


async def test_diagnostics_are_sent_with_version_and_cleared(
    pushed: LanguageClient, room: Room, tmp_path: Path
) -> None:
    _, path = kiosk(tmp_path)
    versions: list[tuple[str, int | None, int]] = []
    handler = pushed.protocol.fm.features[lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS]

    def noting(params: lsp.PublishDiagnosticsParams) -> None:
        versions.append((params.uri, params.version, len(params.diagnostics)))
        handler(params)

    pushed.protocol.fm.features[lsp.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS] = noting
    desk = room.desk(pushed, path, SPEC)
    found = await desk.found(lambda sent: len(sent) > 5)
    (fault,) = [one for one in found if one.severity is lsp.DiagnosticSeverity.Error]
    assert (fault.source, desk.read(fault.range)) == ("doorlint", "9")
    assert fault.code_description is None
    assert {one.severity for one in found} == set(lsp.DiagnosticSeverity)
    assert any(one.related_information for one in found)
    desk.write("length: |9|}", "9 m")
    await desk.found(lambda sent: str(fault.code) not in codes(sent))
    desk.write("|doorlint: 1\nproject|:", "other: 1\nnothing")
    await desk.found(lambda sent: sent == [])
    numbers = [version for uri, version, _ in versions if uri == desk.uri]
    assert numbers == sorted(numbers, key=lambda number: number or 0) and set(numbers) <= {1, 2, 3}
    assert versions[-1] == (desk.uri, 3, 0)


async def test_other_files_get_diagnostics_and_lose_them(
    pushed: LanguageClient, room: Room, tmp_path: Path
) -> None:
    folder = terminal(tmp_path)
    path = folder / "openings" / "operations.yaml"
    desk = room.desk(pushed, path, path.read_text())
    await desk.found(lambda sent: "suppression/reversed" in codes(sent))
    other = (folder / "openings" / "landside.yaml").as_uri()
    await desk.found(lambda sent: "supply/current-kind-mismatch" in codes(sent), other)
    pushed.text_document_did_close(lsp.DidCloseTextDocumentParams(desk.document))
    await desk.found(lambda sent: sent == [])
    await desk.found(lambda sent: sent == [], other)


async def test_diagnostics_are_given_when_asked(pulling: LanguageClient, room: Room, tmp_path: Path) -> None:
    text = SPEC.replace("Invented kiosk", "Kiosk é𐐀").replace("reason: it is a bell", "reason: é𐐀, until: x")
    _, path = kiosk(tmp_path, text)
    desk = room.desk(pulling, path, text)
    ask = lsp.DocumentDiagnosticParams(desk.document)
    first = await asked(pulling.text_document_diagnostic_async(ask))
    assert isinstance(first, lsp.RelatedFullDocumentDiagnosticReport)
    assert len(first.items) > 5
    (bad,) = [one for one in first.items if one.code == "format/wrong-value"]
    line = text.encode().split(b"\n")[bad.range.start.line]
    assert line[bad.range.start.character : bad.range.end.character] == b"x", "columns count bytes in UTF-8"
    again = await asked(
        pulling.text_document_diagnostic_async(
            lsp.DocumentDiagnosticParams(desk.document, previous_result_id=first.result_id)
        )
    )
    assert isinstance(again, lsp.RelatedUnchangedDocumentDiagnosticReport) and again.result_id == first.result_id
    everything = await asked(pulling.workspace_diagnostic_async(lsp.WorkspaceDiagnosticParams([])))
    assert [report.uri for report in everything.items] == [desk.uri]
    assert everything.items[0].items == first.items and everything.items[0].version == 1
    known = [lsp.PreviousResultId(desk.uri, first.result_id or "")]
    unchanged = await asked(pulling.workspace_diagnostic_async(lsp.WorkspaceDiagnosticParams(known)))
    assert [report.kind for report in unchanged.items] == ["unchanged"]
    assert pulling.diagnostics == {}, "nothing is sent to an editor that asks"


async def test_an_editor_that_asks_is_told_when_other_files_have_changed(
    pulling: LanguageClient, room: Room, tmp_path: Path
) -> None:
    refreshed = asyncio.Event()
    pulling.protocol.fm.features[lsp.WORKSPACE_DIAGNOSTIC_REFRESH] = lambda *_: refreshed.set()
    sheets, doors = tmp_path.resolve() / "a.yaml", tmp_path.resolve() / "doors.yaml"
    cut = SPEC.index("hardware_sets:")
    doors.write_text(f"doorlint: 1\n{SPEC[cut:]}")
    desk = room.desk(pulling, sheets, f"{SPEC[:cut]}include: doors.yaml\n")
    sheets.write_text(desk.text)
    other = room.desk(pulling, doors, doors.read_text())
    before = await asked(pulling.text_document_diagnostic_async(lsp.DocumentDiagnosticParams(other.document)))
    refreshed.clear()
    desk.write("  |cat6|: {kind", "cat-6")
    await asyncio.wait_for(refreshed.wait(), PATIENCE)
    after = await asked(pulling.text_document_diagnostic_async(lsp.DocumentDiagnosticParams(other.document)))
    assert "reference/unknown-id" in codes(after.items) - codes(before.items)


async def test_hover_completion_and_navigation(pushed: LanguageClient, room: Room, tmp_path: Path) -> None:
    _, path = kiosk(tmp_path)
    desk = room.desk(pushed, path, SPEC)
    await desk.found(bool)
    place = desk.at("product: strike|-12, side")
    seen = await asked(pushed.text_document_hover_async(lsp.HoverParams(desk.document, place)))
    assert seen.contents.kind == lsp.MarkupKind.Markdown and "voltage: 12 V" in seen.contents.value
    assert desk.read(seen.range) == "strike-12"
    nothing = desk.at("project: {name: Invented kiosk,| site")
    assert await asked(pushed.text_document_hover_async(lsp.HoverParams(desk.document, nothing))) is None

    place = desk.at("fed_from: psu-1.|2")
    listed = await asked(pushed.text_document_completion_async(lsp.CompletionParams(desk.document, place)))
    assert {"psu-1.1", "rc.lock", "sw-1"} <= {item.label for item in listed.items}
    assert {desk.read(item.text_edit.range) for item in listed.items} == {"psu-1.2"}

    place = desk.at("product: strike|-12, side")
    (target,) = await asked(pushed.text_document_definition_async(lsp.DefinitionParams(desk.document, place)))
    assert (target.uri, desk.read(target.range)) == (desk.uri, "strike-12")
    asking = lsp.ReferenceParams(lsp.ReferenceContext(True), desk.document, place)
    uses = await asked(pushed.text_document_references_async(asking))
    assert [desk.read(use.range) for use in uses] == ["strike-12"] * 3

    tree = await asked(pushed.text_document_document_symbol_async(lsp.DocumentSymbolParams(desk.document)))
    (openings,) = [symbol for symbol in tree if symbol.name == "Openings"]
    assert [desk.read(child.selection_range) for child in openings.children] == ["114A", "114B"]
    names = await asked(pushed.workspace_symbol_async(lsp.WorkspaceSymbolParams("HW")))
    assert [(symbol.name, desk.read(symbol.location.range)) for symbol in names] == [("HW-1", "HW-1")]


async def test_renaming_is_one_edit_for_the_version_seen(
    pushed: LanguageClient, room: Room, tmp_path: Path
) -> None:
    _, path = kiosk(tmp_path)
    desk = room.desk(pushed, path, SPEC)
    await desk.found(bool)
    place = desk.at("fed_from: psu|-1.2")
    offered = await asked(
        pushed.text_document_prepare_rename_async(lsp.PrepareRenameParams(desk.document, place))
    )
    assert (offered.placeholder, desk.read(offered.range)) == ("psu-1", "psu-1")
    edit = await asked(
        pushed.text_document_rename_async(
            lsp.RenameParams(text_document=desk.document, position=place, new_name="psu-9")
        )
    )
    (changed,) = edit.document_changes
    assert (changed.text_document.uri, changed.text_document.version) == (desk.uri, 1)
    assert [(desk.read(one.range), one.new_text) for one in changed.edits] == [
        ("psu-1", "psu-9"),
        ("psu-1.2", "psu-9.2"),
    ]
    with pytest.raises(JsonRpcException, match="already"):
        await asked(
            pushed.text_document_rename_async(
                lsp.RenameParams(text_document=desk.document, position=place, new_name="sw-1")
            )
        )


async def test_repairs_and_figures(pushed: LanguageClient, room: Room, tmp_path: Path) -> None:
    path = terminal(tmp_path) / "openings" / "operations.yaml"
    desk = room.desk(pushed, path, path.read_text())
    sent = await desk.found(lambda sent: "suppression/reversed" in codes(sent))

    async def acting(code: str) -> list[lsp.CodeAction]:
        (finding,) = [one for one in sent if one.code == code]
        context = lsp.CodeActionContext([finding], [lsp.CodeActionKind.QuickFix])
        asking = lsp.CodeActionParams(desk.document, finding.range, context)
        found = await asked(pushed.text_document_code_action_async(asking))
        assert all(action.kind == lsp.CodeActionKind.QuickFix for action in found)
        return [action for action in found if list(action.diagnostics or ()) == [finding]]

    (turn,) = await acting("suppression/reversed")
    assert turn.edit is not None and turn.edit.document_changes is not None
    (document,) = turn.edit.document_changes
    assert isinstance(document, lsp.TextDocumentEdit)
    edits = [(desk.read(edit.range), edit.new_text) for edit in document.edits if isinstance(edit, lsp.TextEdit)]
    assert edits == [("to_negative", "to_positive")]
    assert document.text_document.version == 1 and turn.disabled is None
    assert (await asked(pushed.code_action_resolve_async(turn))).edit == turn.edit

    (held, *_) = await acting("release/fail-safe-held-by-poe-alone")
    assert held.edit is None and held.command is None
    assert held.disabled is not None and "life safety" in held.disabled.reason
    with pytest.raises(JsonRpcException, match="life safety"):
        await asked(pushed.code_action_resolve_async(held))

    nothing = lsp.CodeActionParams(
        desk.document, lsp.Range(lsp.Position(0, 0), lsp.Position(0, 0)),
        lsp.CodeActionContext([], [lsp.CodeActionKind.Refactor]),
    )  # fmt: skip
    assert await asked(pushed.text_document_code_action_async(nothing)) == ()

    region = lsp.Range(lsp.Position(0, 0), lsp.Position(60, 0))
    figures = await asked(pushed.text_document_inlay_hint_async(lsp.InlayHintParams(desk.document, region)))
    lines = desk.text.split("\n")
    shown = {lines[one.position.line].strip().partition(":")[0]: one.label for one in figures}
    assert " V, margin +" in shown["lock"]
    assert all(one.position.line <= 60 for one in figures)


async def test_a_broken_text_keeps_its_context(pushed: LanguageClient, room: Room, tmp_path: Path) -> None:
    _, path = kiosk(tmp_path)
    desk = room.desk(pushed, path, SPEC)
    before = codes(await desk.found(bool))
    desk.write("openings:\n||  114A:", "  115: {set: [\n")
    place = desk.at("product: strike|-12, side")
    seen = await asked(pushed.text_document_hover_async(lsp.HoverParams(desk.document, place)))
    assert "voltage: 12 V" in seen.contents.value
    sent = await desk.found(lambda sent: "document/syntax" in codes(sent))
    assert before <= codes(sent)
    desk.write("115: {set: |[|", "H")
    place = desk.at("115: {set: H|")
    listed = await asked(pushed.text_document_completion_async(lsp.CompletionParams(desk.document, place)))
    assert "HW-1" in {item.label for item in listed.items}
    (target,) = await asked(
        pushed.text_document_definition_async(
            lsp.DefinitionParams(desk.document, desk.at("product: strike|-12, side"))
        )
    )
    assert desk.read(target.range) == "strike-12"


async def test_changes_that_follow_each_other_end_with_the_findings_of_the_last(
    pushed: LanguageClient, room: Room, tmp_path: Path
) -> None:
    _, path = kiosk(tmp_path)
    desk = room.desk(pushed, path, SPEC)
    await desk.found(bool)
    for number in range(12):
        text = "cat6" if number % 2 else "cat-of-nobody"
        desk.write("fed_from: sw-1, cable: |" + ("cat-of-nobody" if number % 2 else "cat6") + "|}", text)
        await asyncio.sleep(0.03)
    assert "cable: cat6}" in desk.text
    await asyncio.sleep(0.2)
    sent = await desk.found(lambda sent: not any("cat-of-nobody" in one.message for one in sent))
    assert sent
