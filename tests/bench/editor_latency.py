"""From a keystroke to the diagnostics that follow from it, over the protocol, in a portfolio of invented openings.

    python -m tests.bench.editor_latency --openings 1000 --files 20 --keystrokes 40

Opens one file of the portfolio in `doorlint editor`, types as an author does, and takes the time from sending the
change to receiving the diagnostics of that version. What the server waits on purpose (the debounce) is taken off. The
floor beside it is the time in which libyaml gives the bare events of the same texts, in the same run. A measurement,
not a test: it fails only where the server does not answer.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import sysconfig
import tempfile
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import yaml

from .portfolio import write

MEDIAN_OF = 5
SHARED = "a title of a power source"


@dataclass(frozen=True)
class Keystroke:
    """One change: what is replaced in one line, by what (both may be empty), and where (from 0)."""

    line: int
    start: int
    old: str
    new: str


class Server:
    """`doorlint editor` with a client that only takes pushed diagnostics."""

    def __init__(self, command: Sequence[str], patience: float) -> None:
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self._patience = patience
        self._watch = threading.Timer(patience, self._process.kill)
        assert self._process.stdout is not None
        self._messages = _messages(self._process.stdout)
        self.first_answer = self._timed(self._greet)

    def _timed(self, act: Callable[[], object]) -> float:
        started = time.perf_counter()
        self._watch = threading.Timer(self._patience, self._process.kill)
        self._watch.start()
        try:
            act()
        except StopIteration:
            raise SystemExit(f"doorlint editor gave no answer within {self._patience:.0f} s") from None
        finally:
            self._watch.cancel()
        return time.perf_counter() - started

    def _greet(self) -> None:
        synchronised = {"didSave": True}
        documents = {"synchronization": synchronised, "publishDiagnostics": {"versionSupport": True}}
        params = {"processId": None, "rootUri": None, "capabilities": {"textDocument": documents}}
        self._send({"id": 1, "method": "initialize", "params": params})
        next(message for message in self._received() if message.get("id") == 1)
        self._send({"method": "initialized", "params": {}})

    def open(self, file: Path, text: str) -> float:
        """Open a file; the seconds until its diagnostics."""
        given = {"uri": file.as_uri(), "languageId": "yaml", "version": 0, "text": text}
        return self._until_told(file, 0, "textDocument/didOpen", {"textDocument": given})

    def change(self, file: Path, version: int, stroke: Keystroke) -> float:
        """Send one keystroke; the seconds until the diagnostics of that version."""
        first = {"line": stroke.line, "character": stroke.start}
        last = {"line": stroke.line, "character": stroke.start + len(stroke.old)}
        params = {
            "textDocument": {"uri": file.as_uri(), "version": version},
            "contentChanges": [{"range": {"start": first, "end": last}, "text": stroke.new}],
        }
        return self._until_told(file, version, "textDocument/didChange", params)

    def close(self) -> None:
        """Ask the server to leave, and see that it does."""
        self._send({"id": 2, "method": "shutdown"})
        self._timed(lambda: next(message for message in self._received() if message.get("id") == 2))
        self._send({"method": "exit"})
        self._process.wait(timeout=20)

    def _until_told(self, file: Path, version: int, method: str, params: Any) -> float:
        def act() -> None:
            self._send({"method": method, "params": params})
            for message in self._received():
                told = message["params"] if message.get("method") == "textDocument/publishDiagnostics" else {}
                if told.get("uri") == file.as_uri() and told.get("version", version) == version:
                    return
            raise StopIteration

        return self._timed(act)

    def _send(self, message: dict[str, Any]) -> None:
        body = json.dumps({"jsonrpc": "2.0", **message}).encode()
        assert self._process.stdin is not None
        self._process.stdin.write(b"Content-Length: %d\r\n\r\n" % len(body) + body)
        self._process.stdin.flush()

    def _received(self) -> Iterator[dict[str, Any]]:
        for message in self._messages:
            if "method" in message and "id" in message:
                self._send({"id": message["id"], "result": None})
            else:
                yield message


def _messages(pipe: IO[bytes]) -> Iterator[dict[str, Any]]:
    while header := pipe.readline():
        length = 0
        while header.strip():
            name, _, value = header.partition(b":")
            if name.lower() == b"content-length":
                length = int(value)
            header = pipe.readline()
        yield json.loads(pipe.read(length))


def strokes(text: str, count: int) -> dict[str, list[Keystroke]]:
    """What an author types, by what it touches. Each list leaves the text as it was. The last touches what openings
    share, so that the whole spec is reviewed before it is told."""
    lines = text.splitlines()
    start = lines.index("openings:")
    return {
        "a length": _digits(lines, "length: ", count, start),
        "a title": _letters(lines, "title: ", count, start),
        "an id, half typed between": _ids(lines, count),
        SHARED: _letters(lines[:start], "title: ", min(count, 6)),
    }


def _places(lines: list[str], key: str, count: int, start: int = 0) -> Iterator[tuple[int, int]]:
    """Lines from `start` on that hold a key and the column after it, spread over the text, repeated where few."""
    held = [(n, line.index(key) + len(key)) for n, line in enumerate(lines) if key in line and n >= start]
    for index in range(count):
        yield held[index * 7919 % len(held)]


def _digits(lines: list[str], key: str, count: int, start: int) -> list[Keystroke]:
    made = []
    for line, column in _places(lines, key, count // 2, start):
        digit = lines[line][column]
        other = str((int(digit) + 1) % 9 + 1)
        made += [Keystroke(line, column, digit, other), Keystroke(line, column, other, digit)]
    return made


def _letters(lines: list[str], key: str, count: int, start: int = 0) -> list[Keystroke]:
    made = []
    for line, column in _places(lines, key, count // 2, start):
        made += [Keystroke(line, column + 1, "", "x"), Keystroke(line, column + 1, "x", "")]
    return made


def _ids(lines: list[str], count: int) -> list[Keystroke]:
    made = []
    for line, column in _places(lines, "set: T-", count // 2):
        last = lines[line][column : column + 1]
        made += [Keystroke(line, column, last, ""), Keystroke(line, column, "", last)]
    return made


def floor(texts: Sequence[str]) -> float:
    """Seconds in which libyaml gives the bare events of the texts: the median of a few passes."""

    def once() -> float:
        started = time.perf_counter()
        for text in texts:
            for _ in yaml.parse(text, Loader=yaml.CSafeLoader):
                pass
        return time.perf_counter() - started

    return statistics.median(once() for _ in range(MEDIAN_OF))


def quantile(values: Sequence[float], share: float) -> float:
    """The value below which a share of the values lies, by rank."""
    ranked = sorted(values)
    return ranked[min(len(ranked) - 1, round(share * (len(ranked) - 1)))]


def run(folder: Path, given: argparse.Namespace) -> Iterator[str]:
    """The rows of the table."""
    root = write(folder, openings=given.openings, sets=given.sets, files=given.files, seed=given.seed)
    files = sorted((root.parent / "openings").glob("*.yaml"))
    edited = files[len(files) // 2]
    text = edited.read_text(encoding="utf-8")
    parts = [path.read_text(encoding="utf-8") for path in sorted(root.parent.rglob("*.yaml"))]
    own, whole = floor([text]), floor(parts)
    yield f"{given.openings} openings in {len(files)} files; {edited.name} is edited; debounce {given.debounce} ms"
    yield f"{'floor: bare events of the edited file':<44} {own * 1000:9.1f} ms"
    yield f"{'floor: bare events of all files':<44} {whole * 1000:9.1f} ms"
    server = Server([_command(), "editor", "--debounce", str(given.debounce)], given.patience)
    yield f"{'start of the server':<44} {server.first_answer * 1000:9.1f} ms"
    yield f"{'first diagnostics after opening':<44} {server.open(edited, text) * 1000:9.1f} ms"
    yield ""
    heads = f"{'n':>4} {'p50':>8} {'p95':>8} {'worst':>8} {'p95 / own floor':>16} {'/ all':>8}"
    yield f"{'beyond the debounce, ms':<30} {heads}"
    version = 0
    everything: list[float] = []
    for name, typed in strokes(text, given.keystrokes).items():
        took = []
        for stroke in typed:
            version += 1
            took.append(server.change(edited, version, stroke) - given.debounce / 1000)
        everything += took if name != SHARED else []
        yield _row(name, took, own, whole)
    yield _row("all in openings", everything, own, whole)
    server.close()


def _row(name: str, took: Sequence[float], own: float, whole: float) -> str:
    p50, p95, worst = (1000 * value for value in (quantile(took, 0.5), quantile(took, 0.95), max(took)))
    ratios = f"{p95 / 1000 / own:>15.1f}x {p95 / 1000 / whole:>7.2f}x"
    return f"{name:<30} {len(took):>4} {p50:>8.1f} {p95:>8.1f} {worst:>8.1f} {ratios}"


def _command() -> str:
    beside = shutil.which("doorlint", path=os.pathsep.join([sysconfig.get_path("scripts"), os.environ["PATH"]]))
    if beside is None:
        sys.exit("the command doorlint is not installed")
    return beside


def main() -> None:
    """The command."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--openings", type=int, default=1000)
    parser.add_argument("--sets", type=int, default=40)
    parser.add_argument("--files", type=int, default=20)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--keystrokes", type=int, default=40, help="of each sort")
    parser.add_argument("--debounce", type=int, default=150, help="milliseconds that the server waits on purpose")
    parser.add_argument("--patience", type=float, default=600, help="seconds until an answer is given up")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        for row in run(Path(folder), given):
            print(row, flush=True)


if __name__ == "__main__":
    main()
