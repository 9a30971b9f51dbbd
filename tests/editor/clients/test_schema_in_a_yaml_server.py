"""The two ways to give a YAML server the schema, as `examples/editors/README.md` tells them, with a real one.

The server is yaml-language-server, which reads JSON Schema by its own validator and knows nothing of doorlint.
"""

from __future__ import annotations

import json
import re
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from client_room import PATIENCE, SETTINGS, environment
from loopback_bridge import frame, messages
from npm_programs import installed

README = (SETTINGS / "README.md").read_text(encoding="utf-8")
SPEC = """\
doorlint: 1
project: {name: Invented boathouse}
power:
  psu: {kind: power_supply, supply: dc, voltage: 12 V}
"""
MISSPELT = SPEC.replace("voltage", "voltaje")


def block(language: str, holding: str) -> str:
    """The block of the README in a language that holds a text."""
    (found,) = [text for text in re.findall(rf"```{language}\n(.*?)```", README, re.DOTALL) if holding in text]
    return str(found)


@pytest.fixture(scope="module")
def schema() -> str:
    """Where the schema is, by the command that the README gives."""
    command = block("sh", "spec.schema.json").strip()
    program, script = command.split(" -c ")
    assert program == "python3"
    done = subprocess.run([sys.executable, "-c", script.strip('"')], capture_output=True, text=True, check=True)
    path = done.stdout.strip()
    assert json.loads(Path(path).read_text(encoding="utf-8"))["title"]
    return path


class YamlServer:
    """A YAML server that asks for its settings and then serves one file at a time."""

    def __init__(self, command: list[str], home: Path, settings: Any) -> None:
        self._settings = settings
        self._process = subprocess.Popen(
            command, env=environment(home), stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        )
        self._watch = threading.Timer(PATIENCE, self._process.kill)  # whoever waits for it then gets an error
        self._watch.start()
        assert self._process.stdout is not None
        self._messages = messages(self._process.stdout)
        hover = {"hover": {"contentFormat": ["markdown"]}}
        capabilities = {"workspace": {"configuration": True}, "textDocument": hover}
        self._ask("initialize", {"processId": None, "rootUri": None, "capabilities": capabilities})
        self._tell("initialized", {})

    def _send(self, message: dict[str, Any]) -> None:
        assert self._process.stdin is not None
        self._process.stdin.write(frame(json.dumps({"jsonrpc": "2.0", **message})))
        self._process.stdin.flush()

    def _tell(self, method: str, params: Any) -> None:
        self._send({"method": method, "params": params})

    def _ask(self, method: str, params: Any) -> Any:
        self._send({"id": method, "method": method, "params": params})
        return next(message for message in self._received() if message.get("id") == method)["result"]

    def _received(self) -> Iterator[dict[str, Any]]:
        for text in self._messages:
            message = json.loads(text)
            if "method" in message and "id" in message:
                self._send({"id": message["id"], "result": self._answer(message)})
            else:
                yield message

    def _answer(self, request: dict[str, Any]) -> Any:
        if request["method"] != "workspace/configuration":
            return None
        return [self._settings.get(item["section"]) for item in request["params"]["items"]]

    def open(self, file: Path) -> list[str]:
        """Open a file; what the server reports about it."""
        given = {"uri": file.as_uri(), "languageId": "yaml", "version": 1, "text": file.read_text(encoding="utf-8")}
        self._tell("textDocument/didOpen", {"textDocument": given})
        told = next(
            message["params"]
            for message in self._received()
            if message.get("method") == "textDocument/publishDiagnostics" and message["params"]["uri"] == file.as_uri()
        )
        return [found["message"] for found in told["diagnostics"]]

    def hover(self, file: Path, line: int, column: int) -> str:
        """What the server shows at a position from 0."""
        where = {"textDocument": {"uri": file.as_uri()}, "position": {"line": line, "character": column}}
        return json.dumps(self._ask("textDocument/hover", where))

    def close(self) -> None:
        self._watch.cancel()
        self._process.kill()
        self._process.communicate()


def serve(pytestconfig: pytest.Config, home: Path, settings: Any) -> YamlServer:
    """A YAML server that reaches for no catalogue of schemas."""
    command = [str(installed(pytestconfig) / ".bin" / "yaml-language-server"), "--stdio"]
    yaml = {"schemaStore": {"enable": False}, "validate": True, "hover": True, **settings.get("yaml", {})}
    return YamlServer(command, home, {"yaml": yaml})


@pytest.fixture(params=["named in the file", "named in the settings"])
def given(
    request: pytest.FixtureRequest, pytestconfig: pytest.Config, schema: str, tmp_path: Path
) -> Iterator[tuple[YamlServer, str]]:
    """A YAML server, and what stands at the top of each file."""
    if request.param == "named in the file":
        settings, head = {}, block("yaml", "$schema").replace("SCHEMA", schema)
    else:
        settings, head = json.loads(block("json", "schemas").replace("SCHEMA", Path(schema).as_uri())), ""
    server = serve(pytestconfig, tmp_path / "home", settings)
    yield server, head
    server.close()


def test_the_schema_reaches_the_author(given: tuple[YamlServer, str], schema: str, tmp_path: Path) -> None:
    server, head = given
    right, wrong = tmp_path / "doors" / "right.yaml", tmp_path / "doors" / "wrong.yaml"
    right.parent.mkdir()
    right.write_text(head + SPEC, encoding="utf-8")
    wrong.write_text(head + MISSPELT, encoding="utf-8")
    assert server.open(right) == []
    assert any("voltaje" in message for message in server.open(wrong))
    line = (head + SPEC).splitlines().index("power:")
    described = json.loads(Path(schema).read_text(encoding="utf-8"))["properties"]["power"]["description"]
    assert described.split(".")[0] in server.hover(right, line, 2)
