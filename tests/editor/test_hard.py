"""No message takes the server down: it is sent raw bytes, and asked for a hover afterwards."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from editing import SPEC, kiosk

COMMAND = [sys.executable, "-m", "doorlint", "editor", "--debounce", "0"]


class Server:
    """The command with pipes, spoken to in bytes."""

    def __init__(self, environment: dict[str, str] | None = None) -> None:
        # a file: a pipe that nobody reads would hold the server up once it is full
        self.errors = tempfile.TemporaryFile()  # noqa: SIM115 - closed with the process
        self.process = subprocess.Popen(
            COMMAND, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self.errors, env=environment
        )
        self.number = 0

    def send(self, body: bytes, header: bytes | None = None) -> None:
        """Send one message."""
        assert self.process.stdin is not None
        self.process.stdin.write((header or b"Content-Length: %d\r\n\r\n" % len(body)) + body)
        self.process.stdin.flush()

    def say(self, method: str, params: Any = None, **more: Any) -> None:
        """Send a notification, or with `id` a request."""
        self.send(json.dumps({"jsonrpc": "2.0", "method": method, "params": params, **more}).encode())

    def receive(self) -> dict[str, Any]:
        """The next message from the server. Everything on its standard output has to be one."""
        assert self.process.stdout is not None
        size = 0
        while (line := self.process.stdout.readline()) not in (b"\r\n", b""):
            name, _, value = line.decode("ascii").partition(":")
            assert name in ("Content-Length", "Content-Type"), line
            size = int(value) if name == "Content-Length" else size
        assert size, "the server has closed its output"
        message: dict[str, Any] = json.loads(self.process.stdout.read(size))
        return message

    def ask(self, method: str, params: Any) -> dict[str, Any]:
        """The answer to a request, other messages passed over."""
        self.number += 1
        self.say(method, params, id=self.number)
        return self.answer(self.number)

    def answer(self, number: int | str | None) -> dict[str, Any]:
        """The answer with a number."""
        while True:
            message = self.receive()
            if "method" not in message and message.get("id") == number:
                return message

    def leave(self) -> int:
        """Say goodbye; the exit status."""
        self.ask("shutdown", None)
        self.say("exit")
        return self.process.wait(timeout=60)


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The invented spec."""
    return kiosk(tmp_path_factory.mktemp("kiosk"))[1]


@pytest.fixture(scope="module")
def server(place: Path) -> Iterator[Server]:
    """A server with the invented spec open."""
    made = Server()
    nowhere = {"textDocument": {"uri": "file:///x"}, "position": {"line": 0, "character": 0}}
    early = made.ask("textDocument/hover", nowhere)
    assert early["error"]["code"] == -32002  # LSP 3.17: ServerNotInitialized
    answer = made.ask("initialize", {"processId": None, "rootUri": None, "capabilities": {}})
    capabilities = answer["result"]["capabilities"]
    assert capabilities["positionEncoding"] == "utf-16"
    assert "diagnosticProvider" not in capabilities, "announced to editors that ask only"
    made.say("initialized", {})
    item = {"uri": place.as_uri(), "languageId": "yaml", "version": 1, "text": SPEC}
    made.say("textDocument/didOpen", {"textDocument": item})
    yield made
    made.process.kill()
    made.process.wait()


def alive(server: Server, place: Path) -> None:
    """The server answers rightly."""
    line = next(number for number, text in enumerate(SPEC.split("\n")) if "length: 62 m" in text)
    column = SPEC.split("\n")[line].index("62 m")
    position = {"line": line, "character": column}
    answer = server.ask("textDocument/hover", {"textDocument": {"uri": place.as_uri()}, "position": position})
    assert "203.4 ft" in answer["result"]["contents"]["value"]


HOVER = "textDocument/hover"
MALFORMED: dict[str, tuple[str, Any]] = {
    "no parameters": (HOVER, None),
    "empty parameters": (HOVER, {}),
    "a list of parameters": (HOVER, [1, 2]),
    "no position": (HOVER, {"textDocument": {"uri": "file:///x"}}),
    "a position in words": (HOVER, {"textDocument": {"uri": "file:///x"}, "position": {"line": "a", "character": "b"}}),
    "a text by number": (HOVER, {"textDocument": 7, "position": {"line": 0, "character": 0}}),
    "renaming to nothing": ("textDocument/rename", {"textDocument": {"uri": "file:///x"}}),
    "no such method": ("textDocument/noSuchThing", {}),
    "no such command": ("workspace/executeCommand", {"command": "none", "arguments": []}),
}


@pytest.mark.parametrize("case", MALFORMED)
def test_a_request_that_makes_no_sense_is_answered_with_an_error(server: Server, place: Path, case: str) -> None:
    answer = server.ask(*MALFORMED[case])
    assert answer["error"]["code"] in (-32600, -32601, -32602, -32603)  # JSON-RPC 2.0, section 5.1
    assert answer["error"]["message"]
    alive(server, place)


URIS = [
    "file:///no/such/folder/x.yaml", "untitled:Untitled-1", "", "file://", "file:///a%00b.yaml", "http://[x", "file:///",
    "file:///dev/null", "file:///proc/self/mem", "file:relative", "\ud800",
]  # fmt: skip
REQUESTS: dict[str, dict[str, Any]] = {
    HOVER: {},
    "textDocument/completion": {},
    "textDocument/definition": {},
    "textDocument/references": {"context": {"includeDeclaration": True}},
    "textDocument/documentSymbol": {},
    "textDocument/codeAction": {"context": {"diagnostics": []}},
    "textDocument/inlayHint": {},
    "textDocument/prepareRename": {},
    "textDocument/rename": {"newName": "x"},
}
FAR = {"line": 2**31 - 1, "character": 2**31 - 1}


@pytest.mark.parametrize("uri", URIS)
def test_an_unknown_text_has_no_answer(server: Server, place: Path, uri: str) -> None:
    for method, more in REQUESTS.items():
        whole = {"start": {"line": 0, "character": 0}, "end": FAR}
        params = {"textDocument": {"uri": uri}, "position": FAR, "range": whole, **more}
        assert server.ask(method, params).get("result") in (None, [], {})
    for method in ("didClose", "didSave"):
        server.say(f"textDocument/{method}", {"textDocument": {"uri": uri}})
    change = {"textDocument": {"uri": uri, "version": 2}, "contentChanges": [{"text": "x"}]}
    server.say("textDocument/didChange", change)
    alive(server, place)


@pytest.mark.parametrize("uri", URIS)
def test_a_text_that_is_no_file_or_no_spec_can_be_open(server: Server, place: Path, uri: str) -> None:
    item = {"uri": uri, "languageId": "yaml", "version": 1, "text": SPEC}
    server.say("textDocument/didOpen", {"textDocument": item})
    for method, more in REQUESTS.items():
        whole = {"start": FAR, "end": {"line": 0, "character": 0}}
        params = {"textDocument": {"uri": uri}, "position": {"line": 4, "character": 9}, "range": whole, **more}
        answer = server.ask(method, params)
        assert "result" in answer or answer["error"]["code"] == -32803, (method, answer)
    server.say("textDocument/didClose", {"textDocument": {"uri": uri}})
    alive(server, place)


def test_positions_beyond_the_text_are_its_end(server: Server, place: Path) -> None:
    for method, more in REQUESTS.items():
        whole = {"start": FAR, "end": FAR}
        params = {"textDocument": {"uri": place.as_uri()}, "position": FAR, "range": whole, **more}
        answer = server.ask(method, params)
        assert "result" in answer or answer["error"]["code"] == -32803, (method, answer)
    alive(server, place)


BYTES = {
    "no JSON": (b"{", None),
    "no UTF-8": (b"\xff\xfe", None),
    "a list": (b"[]", None),
    "a number": (b"1", None),
    "an empty object": (b"{}", None),
    "no version of JSON-RPC": (b'{"id": 77, "method": "shutdown"}', None),
    "another version": (b'{"jsonrpc": "1.0", "id": 78, "method": "shutdown"}', None),
    "a notification that cannot be read": (b'{"jsonrpc": "2.0", "method": "textDocument/didOpen", "params": 3}', None),
    "an answer to no request": (b'{"jsonrpc": "2.0", "id": "x", "result": 1}', None),
    "an error to no request": (b'{"jsonrpc": "2.0", "id": 1, "error": {"code": -32601, "message": "no"}}', None),
    "a cancellation of nothing": (b'{"jsonrpc": "2.0", "method": "$/cancelRequest", "params": {"id": 99}}', None),
    "deep nesting": (b"[" * 5000 + b"]" * 5000, None),
    "lines before the header": (b"{}", b"hello\r\nX: y\r\nContent-Length: 2\r\n\r\n"),
}


@pytest.mark.parametrize("case", BYTES)
def test_bytes_that_make_no_sense_are_passed_over(server: Server, place: Path, case: str) -> None:
    server.send(*BYTES[case])
    alive(server, place)


def test_a_file_deleted_while_it_is_open(server: Server, tmp_path: Path, place: Path) -> None:
    path = tmp_path.resolve() / "kiosk.yaml"
    path.write_text(SPEC)
    item = {"uri": path.as_uri(), "languageId": "yaml", "version": 1, "text": SPEC}
    server.say("textDocument/didOpen", {"textDocument": item})
    path.unlink()
    tmp_path.rmdir()
    server.say("workspace/didChangeWatchedFiles", {"changes": [{"uri": path.as_uri(), "type": 3}]})
    change = {"textDocument": {"uri": path.as_uri(), "version": 2}, "contentChanges": [{"text": "# x\n" + SPEC}]}
    server.say("textDocument/didChange", change)
    while True:
        message = server.receive()
        params = message.get("params") or {}
        if message.get("method") == "textDocument/publishDiagnostics" and params.get("version") == 2:
            break
    assert params["uri"] == path.as_uri() and len(params["diagnostics"]) > 5
    server.say("textDocument/didClose", {"textDocument": {"uri": path.as_uri()}})
    alive(server, place)


@pytest.mark.parametrize(("encoding", "columns"), [("utf-8", 7), ("utf-16", 4), ("utf-32", 3), (None, 4)])
def test_columns_count_in_the_encoding_agreed_on(tmp_path: Path, encoding: str | None, columns: int) -> None:
    """U+1F6AA takes 4 bytes in UTF-8 and a surrogate pair in UTF-16, e with U+0301 3 bytes (Unicode 15, chapter 3.9).
    Without a word from the editor it is UTF-16 (LSP 3.17, PositionEncodingKind)."""
    path = tmp_path.resolve() / "kiosk.yaml"
    note = 'note: "\U0001f6aae\u0301\t", '
    text = SPEC.replace("rc: {length: 62 m}", "rc: {" + note + "length: 62}")
    server = Server()
    general = {} if encoding is None else {"general": {"positionEncodings": [encoding]}}
    answer = server.ask("initialize", {"processId": None, "rootUri": None, "capabilities": general})
    assert answer["result"]["capabilities"]["positionEncoding"] == (encoding or "utf-16")
    item = {"uri": path.as_uri(), "languageId": "yaml", "version": 1, "text": text}
    server.say("textDocument/didOpen", {"textDocument": item})
    while (message := server.receive()).get("method") != "textDocument/publishDiagnostics":
        pass
    line = next(number for number, one in enumerate(text.split("\n")) if "62}" in one)
    (found,) = [one for one in message["params"]["diagnostics"] if "`62`" in one["message"] or '"62"' in one["message"]]
    before = text.split("\n")[line].partition("62}")[0]
    start = len(before) - len("\U0001f6aae\u0301") + columns
    assert found["range"]["start"] == {"line": line, "character": start}
    assert found["range"]["end"] == {"line": line, "character": start + 2}
    # and the way back: the same place by its position
    asked = {"textDocument": {"uri": path.as_uri()}, "position": {"line": line, "character": start + 1}}
    assert "no unit" in server.ask("textDocument/hover", asked)["result"]["contents"]["value"]
    assert server.leave() == 0


def test_nothing_else_is_printed_and_the_status_tells_the_goodbye(tmp_path: Path) -> None:
    """A package of rules that prints, whatever way, does not spoil the protocol."""
    package = tmp_path / "loud_rules"
    package.mkdir()
    (package / "__init__.py").write_text(
        "import os\nfrom doorlint import hookimpl\nprint('loud')\nos.write(1, b'louder')\n"
        "@hookimpl\ndef doorlint_rules():\n    print('loudest', flush=True)\n    return []\n"
    )
    metadata = tmp_path / "loud_rules-1.dist-info"
    metadata.mkdir()
    (metadata / "METADATA").write_text("Metadata-Version: 2.1\nName: loud-rules\nVersion: 1\n")
    (metadata / "entry_points.txt").write_text("[doorlint]\nloud = loud_rules\n")
    path = tmp_path / "kiosk.yaml"
    path.write_text(SPEC)
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(tmp_path), os.environ.get("PYTHONPATH", "")])}
    server = Server(environment)
    server.ask("initialize", {"processId": None, "rootUri": None, "capabilities": {}})
    item = {"uri": path.as_uri(), "languageId": "yaml", "version": 1, "text": SPEC}
    server.say("textDocument/didOpen", {"textDocument": item})
    while (message := server.receive()).get("method") != "textDocument/publishDiagnostics":
        pass
    assert message["params"]["diagnostics"]
    assert server.leave() == 0
    server.errors.seek(0)
    errors = server.errors.read().decode()
    assert all(word in errors for word in ("loud", "louder", "loudest"))


def test_without_its_extra_the_command_says_what_to_install(tmp_path: Path) -> None:
    (tmp_path / "pygls.py").write_text("raise ModuleNotFoundError('no pygls', name='pygls')\n")
    paths = os.pathsep.join([str(tmp_path), os.environ.get("PYTHONPATH", "")])
    process = subprocess.run(
        COMMAND, input=b"", capture_output=True, timeout=60, check=False, env={**os.environ, "PYTHONPATH": paths}
    )
    assert (process.returncode, process.stdout) == (2, b"")
    assert b"pip install 'doorlint[editor]'" in process.stderr and b"Traceback" not in process.stderr


def test_an_editor_that_leaves_without_a_word_ends_the_server() -> None:
    process = subprocess.run(COMMAND, input=b"", capture_output=True, timeout=60, check=False)
    assert (process.returncode, process.stdout) == (1, b"")


def test_over_a_port_of_this_machine() -> None:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    process = subprocess.Popen([*COMMAND, "--port", str(port)], stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    try:
        for _ in range(600):
            try:
                line = socket.create_connection(("127.0.0.1", port), timeout=60)
                break
            except ConnectionRefusedError:
                time.sleep(0.1)
        with line:
            body = json.dumps({"jsonrpc": "2.0", "id": 1, "method": "shutdown"}).encode()
            line.sendall(b"Content-Length: %d\r\n\r\n" % len(body) + body)
            assert b"-32002" in line.recv(4096)
            taken = subprocess.run([*COMMAND, "--port", str(port)], capture_output=True, timeout=60, check=False)
            assert taken.returncode == 2 and b"in use" in taken.stderr.lower()
    finally:
        process.kill()
        process.communicate()
