"""`doorlint editor`: features registered with pygls, and the reviews behind them."""

from __future__ import annotations

import asyncio
import hashlib
import io
import os
import sys
from collections.abc import Awaitable, Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, TypeVar, cast

from lsprotocol import types
from pygls.exceptions import JsonRpcException, JsonRpcInternalError

from .. import __version__
from .protocol import LOG, EditorProtocol, EditorServer
from .schedule import Schedule, Turn
from .wire import Abilities, Wire

if TYPE_CHECKING:  # rules, physics and features are loaded once the editor has its first answer
    from ..rulebook import Rulebook
    from .buffers import Edit
    from .positions import Encoding
    from .run import State
    from .session import Session, Shown
    from .view import View

DEBOUNCE_MS: Final = 150
_REQUEST_FAILED: Final = -32803  # LSPErrorCodes.RequestFailed of LSP 3.17
_UNTIL_QUIET = 0.4
"""After a glance, how long nothing may be typed before the whole spec is reviewed, s."""

_SOON: Final = 0.02
"""Seconds in which requests that wait for a review are answered before the editor is told to ask again."""

Found = TypeVar("Found")


class Editor:
    """One connection: what is registered with pygls, in terms of a session."""

    def __init__(self, debounce_ms: int) -> None:
        self.abilities = Abilities()
        self.encoding: Encoding = "utf-16"
        self.server = EditorServer("doorlint", __version__, protocol_cls=EditorProtocol, max_workers=2)
        self._glanced = False
        self.schedule = Schedule(self._prepare, self._failed, debounce_ms / 1000)
        self.ended = False
        self._book: Rulebook | None = None
        self._published: set[str] = set()
        self._pulled: dict[str, str] = {}
        self._readers = ThreadPoolExecutor(2, "features")
        self._trier = ThreadPoolExecutor(1, "repairs")
        protocol = cast(EditorProtocol, self.server.protocol)
        protocol.texts = self
        self._register()

    @cached_property
    def session(self) -> Session:
        """The open texts and what is known of them."""
        from .session import Session

        return Session(self.encoding)

    @cached_property
    def wire(self) -> Wire:
        """Messages about them."""
        return Wire(self.session, self.abilities)

    # -- texts -------------------------------------------------------------------------------------

    def opened(self, params: types.DidOpenTextDocumentParams) -> None:
        """A text was opened."""
        item = params.text_document
        buffer = self.session.open(item.uri, item.version, item.text)
        if buffer.path is not None:
            self.schedule.touch(buffer.path, moved=True)

    def changed(self, params: types.DidChangeTextDocumentParams) -> None:
        """A text was changed."""
        document = params.text_document
        try:
            buffer = self.session.change(document.uri, document.version, map(_edit, params.content_changes))
        except KeyError:
            LOG.warning("%s was changed and is not open", document.uri)
            return
        if buffer.path is not None:
            self.schedule.touch(buffer.path)

    def closed(self, params: types.DidCloseTextDocumentParams) -> None:
        """A text was closed."""
        buffer = self.session.close(params.text_document.uri)
        if buffer is not None and buffer.path is not None:
            self.schedule.touch(buffer.path, moved=True)

    # -- reviews -----------------------------------------------------------------------------------

    def _prepare(self) -> Callable[[Turn], Callable[[], None]]:
        """What the worker needs, taken in this thread; the worker touches nothing else."""
        state, buffers = self.session.state, self.session.files
        loop = asyncio.get_running_loop()

        def work(turn: Turn) -> Callable[[], None]:
            from ..rulebook import collect
            from .run import run

            if self._book is None:
                self._book = collect()
            troubles: list[tuple[Path, Exception]] = []

            def early(state: State, name: str) -> None:
                loop.call_soon_threadsafe(self._take_early, turn, state, name)
                turn.rest(_UNTIL_QUIET)

            made = run(
                state, buffers, turn.changed, turn.moved, self._book, turn.go_on,
                lambda root, error: troubles.append((root, error)),
                early,
            )  # fmt: skip
            return lambda: self._take(made, troubles)

        return work

    def _take_early(self, turn: Turn, state: State, name: str) -> None:
        """Show what a glance has told of one file, while the review of its spec is under way."""
        if not turn.wanted or self.schedule.closed:
            return
        self.session.take(state)
        self._glanced = True
        if not self.abilities.pulls:
            for uri, one in self.session.shown().items():
                buffer = self.session.buffer(uri)
                if buffer is not None and buffer.name == name:
                    self._send(uri, one)
                    self._published |= {uri}

    def _send(self, uri: str, one: Shown) -> None:
        params = types.PublishDiagnosticsParams(uri, self.wire.diagnostics(one), version=one.version)
        self.server.text_document_publish_diagnostics(params)

    def _take(self, state: State, troubles: list[tuple[Path, Exception]]) -> None:
        for root, error in troubles:
            LOG.error("the review of %s broke", root, exc_info=error)
            message = f"doorlint itself broke on {root.name} ({type(error).__name__}: {error}); nothing was reviewed"
            self.server.window_show_message(types.ShowMessageParams(types.MessageType.Error, message))
        before = self.session.state
        self.session.take(state)
        self._glanced = False
        if self.abilities.pulls:
            asyncio.get_running_loop().call_later(_SOON, self._ask_to_pull)
        else:
            self._publish()
        if self.abilities.refreshes_hints:
            self.server.protocol.send_request(types.WORKSPACE_INLAY_HINT_REFRESH)
        del before  # to free a large state takes longer than to send the findings, which come first

    def _failed(self, error: BaseException) -> None:
        LOG.error("a run of reviews broke", exc_info=error)

    def _publish(self) -> None:
        """Send the findings of every file, and none for those that have none any more."""
        shown = self.session.shown()
        for uri, one in shown.items():
            buffer = self.session.buffer(uri)
            if buffer is None and not one.found and uri not in self._published:
                continue
            self._send(uri, one)
        for uri in self._published - set(shown):
            buffer = self.session.buffer(uri)
            version = buffer.version if buffer is not None else None
            self.server.text_document_publish_diagnostics(types.PublishDiagnosticsParams(uri, [], version=version))
        self._published = {uri for uri, one in shown.items() if one.found}

    def _ask_to_pull(self) -> None:
        """Let the editor ask again where the findings of a text differ from what it was told."""
        reports = {uri: _number(items) for uri, items in self._reports()}
        if any(reports.get(uri, _number([])) != number for uri, number in self._pulled.items()):
            self.server.protocol.send_request(types.WORKSPACE_DIAGNOSTIC_REFRESH)

    def _reports(self) -> Iterator[tuple[str, list[types.Diagnostic]]]:
        for uri, one in self.session.shown().items():
            yield uri, self.wire.diagnostics(one)

    # -- registration ------------------------------------------------------------------------------

    def _feature(self, method: str, handler: Callable[[Any], Any], options: Any = None) -> None:
        """Register a handler. pygls marks what it is given, so it is given a function of its own."""

        async def waited(params: Any) -> Any:
            return await handler(params)

        def direct(params: Any = None) -> Any:
            return handler(params)

        self.server.feature(method, options)(waited if asyncio.iscoroutinefunction(handler) else direct)

    def _register(self) -> None:
        feature = self._feature
        feature(types.INITIALIZE, self._initialize)
        feature(types.INITIALIZED, self._initialized)
        feature(types.SHUTDOWN, self._shut_down)
        feature(types.TEXT_DOCUMENT_DID_SAVE, self._saved)
        feature(types.WORKSPACE_DID_CHANGE_WATCHED_FILES, self._watched)
        feature(types.TEXT_DOCUMENT_HOVER, self._asking(self._hover))
        options = types.CompletionOptions(trigger_characters=[" ", ":", "{", "[", ",", "."])
        feature(types.TEXT_DOCUMENT_COMPLETION, self._asking(self._complete), options)
        feature(types.TEXT_DOCUMENT_DEFINITION, self._asking(self._define))
        feature(types.TEXT_DOCUMENT_REFERENCES, self._asking(self._refer))
        feature(types.TEXT_DOCUMENT_DOCUMENT_SYMBOL, self._asking(self._symbols))
        feature(types.WORKSPACE_SYMBOL, self._workspace_symbols)
        acting = types.CodeActionOptions([types.CodeActionKind.QuickFix], resolve_provider=True)
        feature(types.TEXT_DOCUMENT_CODE_ACTION, self._asking(self._act, trying=True), acting)
        feature(types.CODE_ACTION_RESOLVE, _resolve)
        feature(types.TEXT_DOCUMENT_INLAY_HINT, self._asking(self._hint))
        feature(types.TEXT_DOCUMENT_PREPARE_RENAME, self._asking(self._prepare_rename))
        feature(types.TEXT_DOCUMENT_RENAME, self._asking(self._rename))

    def _initialize(self, params: types.InitializeParams) -> None:
        encoding = self.server.workspace.position_encoding or types.PositionEncodingKind.Utf16
        self.encoding = types.PositionEncodingKind(encoding).value
        self.abilities = Abilities.of(params.capabilities)
        # without a way to say that other parts have changed too, asking would leave old findings standing
        if self.abilities.pulls and self.abilities.refreshes_diagnostics:
            options = types.DiagnosticOptions(
                inter_file_dependencies=True, workspace_diagnostics=True, identifier="doorlint"
            )
            self._feature(types.TEXT_DOCUMENT_DIAGNOSTIC, self._pull, options)
            self._feature(types.WORKSPACE_DIAGNOSTIC, self._pull_all)
        else:
            self.abilities = replace(self.abilities, pulls=False)

    def _initialized(self, _: types.InitializedParams) -> None:
        self._readers.submit(_load)
        if self.abilities.watches:
            watchers = [types.FileSystemWatcher(f"**/*.{ending}") for ending in ("yaml", "yml")]
            registration = types.Registration(
                "doorlint-files",
                types.WORKSPACE_DID_CHANGE_WATCHED_FILES,
                types.DidChangeWatchedFilesRegistrationOptions(watchers),
            )
            self.server.client_register_capability(types.RegistrationParams([registration]))

    def _shut_down(self, _: Any = None) -> None:
        self.ended = True
        self.close()

    def close(self) -> None:
        """Give up what is under way."""
        self.schedule.close()
        self._readers.shutdown(wait=False, cancel_futures=True)
        self._trier.shutdown(wait=False, cancel_futures=True)

    def _saved(self, params: types.DidSaveTextDocumentParams) -> None:
        from .session import path_of

        path = path_of(params.text_document.uri)
        if path is not None:
            self.schedule.touch(path, moved=True)

    def _watched(self, params: types.DidChangeWatchedFilesParams) -> None:
        from .session import path_of

        paths = [path for event in params.changes if (path := path_of(event.uri)) is not None]
        if paths:
            # a file that comes into a folder may belong to a spec that does not know it yet
            roots = self.session.state.reviewed
            self.schedule.touch(*paths, *roots, moved=True)

    # -- requests ----------------------------------------------------------------------------------

    def _asking(
        self, feature: Callable[[View, Any], Found], *, trying: bool = False
    ) -> Callable[[Any], Awaitable[Found | None]]:
        """A handler of requests about a text: the view is taken as the request comes, the work done in another thread.
        An unknown text has no answer; what breaks is logged and answered with an error."""

        async def handler(params: Any) -> Found | None:
            if trying and self._glanced:
                await self.schedule.settled()  # what is tried goes on from a whole review, not from a glance
            view = self.session.view(params.text_document.uri)
            if view is None:
                LOG.info("%s is not open", params.text_document.uri)
                return None
            from .rename import NoRename

            workers = self._trier if trying else self._readers
            try:
                return await asyncio.get_running_loop().run_in_executor(workers, feature, view, params)
            except NoRename as refusal:
                raise JsonRpcException(str(refusal), _REQUEST_FAILED) from None
            except (JsonRpcException, asyncio.CancelledError):
                raise
            except Exception as error:
                LOG.exception("a request about %s broke", view.buffer.uri)
                raise JsonRpcInternalError(f"doorlint itself broke ({type(error).__name__}: {error})") from None

        return handler

    def _offset(self, view: View, position: types.Position) -> int:
        return self.session.lines(view.buffer.text).offset(position.line, position.character)

    def _hover(self, view: View, params: types.HoverParams) -> types.Hover | None:
        from . import hover

        found = hover.hover(view, self._offset(view, params.position))
        return self.wire.hover(view, found) if found is not None else None

    def _complete(self, view: View, params: types.CompletionParams) -> types.CompletionList:
        from . import completion

        return self.wire.completion(view, completion.complete(view, self._offset(view, params.position)))

    def _define(self, view: View, params: types.DefinitionParams) -> list[types.Location]:
        from . import navigation

        found = navigation.definition(view, self._offset(view, params.position))
        return [self.wire.location(view.parts, target) for target in found]

    def _refer(self, view: View, params: types.ReferenceParams) -> list[types.Location]:
        from . import navigation

        offset = self._offset(view, params.position)
        found = navigation.references(view, offset, params.context.include_declaration)
        return [self.wire.location(view.parts, target) for target in found]

    def _symbols(
        self, view: View, _: types.DocumentSymbolParams
    ) -> list[types.DocumentSymbol] | list[types.SymbolInformation]:
        from . import navigation

        return self.wire.symbols(view, navigation.symbols(view))

    def _workspace_symbols(self, params: types.WorkspaceSymbolParams) -> list[types.WorkspaceSymbol]:
        from . import navigation

        return [
            self.wire.symbol(view, *found)
            for view in self.session.views_of_specs()
            for found in navigation.entries_named(view, params.query)
        ]

    def _act(self, view: View, params: types.CodeActionParams) -> list[types.CodeAction]:
        from . import actions

        only = params.context.only
        if not self.abilities.action_literals or (only and not any(_covers(kind) for kind in only)):
            return []
        start, end = self._offset(view, params.range.start), self._offset(view, params.range.end)
        found = actions.actions(view, min(start, end), max(start, end), lambda: not self.schedule.closed)
        first = next((action for action in found if not action.refused), None)
        return [self.wire.action(view, one, params.context.diagnostics, one is first) for one in found]

    def _hint(self, view: View, params: types.InlayHintParams) -> list[types.InlayHint]:
        from . import hints

        start, end = self._offset(view, params.range.start), self._offset(view, params.range.end)
        return [self.wire.hint(view, one) for one in hints.hints(view, min(start, end), max(start, end))]

    def _prepare_rename(self, view: View, params: types.PrepareRenameParams) -> types.PrepareRenamePlaceholder:
        from . import rename

        found = rename.renamable(view, self._offset(view, params.position))
        lines = self.session.lines(view.buffer.text)
        placeholder = view.buffer.text[found.start : found.end]
        return types.PrepareRenamePlaceholder(self.wire.range(lines, found.start, found.end), placeholder)

    def _rename(self, view: View, params: types.RenameParams) -> types.WorkspaceEdit:
        from . import rename

        changes = rename.rename(view, self._offset(view, params.position), params.new_name)
        return self.wire.edit(view, changes)

    # -- diagnostics that the editor asks for ------------------------------------------------------

    async def _pull(self, params: types.DocumentDiagnosticParams) -> types.DocumentDiagnosticReport:
        """The findings of a text, once no review is due."""
        await self.schedule.settled()
        uri = params.text_document.uri
        buffer = self.session.buffer(uri)
        shown = self.session.shown().get(buffer.uri if buffer is not None else uri)
        items = self.wire.diagnostics(shown) if shown is not None else []
        number = _number(items)
        self._pulled[buffer.uri if buffer is not None else uri] = number
        if params.previous_result_id == number:
            return types.RelatedUnchangedDocumentDiagnosticReport(number)
        return types.RelatedFullDocumentDiagnosticReport(items, result_id=number)

    async def _pull_all(self, params: types.WorkspaceDiagnosticParams) -> types.WorkspaceDiagnosticReport:
        """The findings of every file of the specs with open texts."""
        await self.schedule.settled()
        known = {one.uri: one.value for one in params.previous_result_ids}
        reports: list[types.WorkspaceFullDocumentDiagnosticReport | types.WorkspaceUnchangedDocumentDiagnosticReport]
        reports = []
        shown = self.session.shown()
        for uri in [*shown, *(uri for uri in known if uri not in shown)]:
            one = shown.get(uri)
            items = self.wire.diagnostics(one) if one is not None else []
            version = one.version if one is not None else None
            number = _number(items)
            if known.get(uri) == number:
                reports.append(types.WorkspaceUnchangedDocumentDiagnosticReport(uri, number, version=version))
            else:
                reports.append(types.WorkspaceFullDocumentDiagnosticReport(uri, items, version, result_id=number))
        return types.WorkspaceDiagnosticReport(reports)


def _load() -> None:
    """Load in another thread what the first text will need."""
    from . import run, session  # noqa: F401 - imported to be there


def _resolve(action: types.CodeAction) -> types.CodeAction:
    """A repair that was chosen. One that touches life safety is refused with the reason, whatever the editor shows."""
    refused = action.data.get("refused") if isinstance(action.data, dict) else None
    if refused:
        raise JsonRpcException(str(refused), _REQUEST_FAILED)
    return action


def _covers(kind: types.CodeActionKind | str) -> bool:
    """Whether quick fixes are of a kind that the editor asks for; kinds are made of parts joined by dots."""
    return kind in ("", types.CodeActionKind.Empty, types.CodeActionKind.QuickFix)


def _number(items: list[types.Diagnostic]) -> str:
    """A short text that is the same for the same findings alone."""
    return hashlib.sha256(repr(items).encode("utf-8", "surrogatepass")).hexdigest()[:20]


def _edit(change: types.TextDocumentContentChangeEvent) -> Edit:
    if isinstance(change, types.TextDocumentContentChangePartial):
        start, end = change.range.start, change.range.end
        return (start.line, start.character), (end.line, end.character), change.text
    return change.text


def serve(port: int | None = None, debounce_ms: int = DEBOUNCE_MS) -> int:
    """Serve one editor over standard input and output, or over a port of this machine alone; the exit status is 0 where
    the editor said `shutdown` first. Raises OSError where the port cannot be had."""
    editor = Editor(debounce_ms)
    try:
        if port is None:
            with _own_output() as output:
                editor.server.start_io(sys.stdin.buffer, output)
        else:
            editor.server.start_tcp("127.0.0.1", port)
    except SystemExit:
        pass  # how pygls leaves
    finally:
        editor.close()
    return 0 if editor.ended else 1


def _own_output() -> io.BufferedWriter:
    """Standard output for the protocol alone: whatever else is written there, by a rule or a library, goes to standard
    error from now on."""
    sys.stdout.flush()
    own = os.dup(sys.stdout.fileno())
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())
    return os.fdopen(own, "wb")
