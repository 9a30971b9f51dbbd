"""The protocol underneath: what keeps the server up whatever it is sent.

pygls leaves a request whose parameters it cannot read without an answer, and breaks lines at more characters than the
Language Server Protocol does; both are put right here.
"""

from __future__ import annotations

import json
import logging
from typing import Any, Protocol

from lsprotocol import types
from pygls.exceptions import (
    JsonRpcException,
    JsonRpcInvalidParams,
    JsonRpcInvalidRequest,
    JsonRpcParseError,
    JsonRpcServerNotInitialized,
)
from pygls.lsp.server import LanguageServer
from pygls.protocol import LanguageServerProtocol
from pygls.protocol.language_server import lsp_method

LOG = logging.getLogger("doorlint.editor")


class Texts(Protocol):
    """Who is told about open texts."""

    def opened(self, params: types.DidOpenTextDocumentParams) -> None:
        """A text was opened."""

    def changed(self, params: types.DidChangeTextDocumentParams) -> None:
        """A text was changed."""

    def closed(self, params: types.DidCloseTextDocumentParams) -> None:
        """A text was closed."""


class EditorProtocol(LanguageServerProtocol):
    """The protocol with an answer to every request, and texts kept by the session."""

    texts: Texts | None = None

    @lsp_method(types.TEXT_DOCUMENT_DID_OPEN)
    def lsp_text_document__did_open(self, params: types.DidOpenTextDocumentParams) -> None:
        """A text was opened."""
        if self.texts is not None:
            self.texts.opened(params)

    @lsp_method(types.TEXT_DOCUMENT_DID_CHANGE)
    def lsp_text_document__did_change(
        self, params: types.DidChangeTextDocumentParams
    ) -> None:
        """A text was changed."""
        if self.texts is not None:
            self.texts.changed(params)

    @lsp_method(types.TEXT_DOCUMENT_DID_CLOSE)
    def lsp_text_document__did_close(self, params: types.DidCloseTextDocumentParams) -> None:
        """A text was closed."""
        if self.texts is not None:
            self.texts.closed(params)

    def structure_message(self, data: dict[str, Any]) -> Any:
        """A message from JSON. A request that cannot be read is answered with an error before this raises."""
        try:
            return super().structure_message(data)
        except JsonRpcException as error:
            if "id" in data and "method" in data:
                what = JsonRpcInvalidParams(f"the parameters of {data['method']!r} cannot be read")
                self._send_response(data["id"], None, what.to_response_error())
            raise error

    def handle_message(self, message: Any) -> None:
        """Hand a message to whom it concerns; what is none is answered with an error."""
        if not hasattr(message, "jsonrpc"):
            number = message.get("id") if isinstance(message, dict) else None
            self._refuse(number, JsonRpcInvalidRequest("a message is an object with `jsonrpc`"))
            return
        number, method = getattr(message, "id", None), getattr(message, "method", None)
        if method is not None and number is not None:
            if self._shutdown:
                self._refuse(number, JsonRpcInvalidRequest("the server is shutting down"))
                return
            if self._workspace is None and method != types.INITIALIZE:
                self._refuse(number, JsonRpcServerNotInitialized("the server waits for `initialize`"))
                return
        super().handle_message(message)

    def _refuse(self, number: Any, error: JsonRpcException) -> None:
        self._send_response(number, None, error.to_response_error())


class EditorServer(LanguageServer):
    """pygls's server; its own troubles are logged, never shown in a window."""

    def report_server_error(self, error: Exception, source: Any) -> None:  # noqa: ARG002 - pygls names it
        """Log what broke. A text that is no JSON is answered, as the protocol asks."""
        LOG.error("%s", error)
        if isinstance(error, json.JSONDecodeError):
            protocol: Any = self.protocol
            protocol._send_response(None, None, JsonRpcParseError("this is no JSON").to_response_error())
