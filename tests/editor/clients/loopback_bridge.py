"""A language server that speaks over standard input and output, put behind a web socket on the loopback interface.

One server is started for each connection. A message is one JSON text on the socket and, after the base protocol of the
Language Server Protocol 3.17, a header with `Content-Length` and the JSON text on the pipes.
"""

from __future__ import annotations

import contextlib
import subprocess
import threading
from collections.abc import Iterator, Mapping, Sequence
from typing import IO

from websockets.exceptions import ConnectionClosed
from websockets.sync.server import ServerConnection, serve


def frame(message: str) -> bytes:
    """A message as it goes through a pipe."""
    body = message.encode("utf-8")
    return b"Content-Length: %d\r\n\r\n" % len(body) + body


def messages(pipe: IO[bytes]) -> Iterator[str]:
    """The messages that come out of a pipe until it ends. Raises ValueError where anything else stands in it."""
    while header := pipe.readline():
        length = 0
        while header.strip():
            name, _, value = header.decode("ascii").partition(":")
            if name.lower() == "content-length":
                length = int(value)
            elif name.lower() != "content-type":
                raise ValueError(f"no header of the protocol: {header!r}")
            header = pipe.readline()
        yield pipe.read(length).decode("utf-8")


@contextlib.contextmanager
def bridge(command: Sequence[str], environment: Mapping[str, str]) -> Iterator[str]:
    """The address of a web socket behind which `command` answers, until the block ends."""

    def answer(connection: ServerConnection) -> None:
        with subprocess.Popen(
            command, env=environment, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
        ) as server:
            assert server.stdin is not None
            assert server.stdout is not None
            back = threading.Thread(target=_pass_on, args=(server.stdout, connection), daemon=True)
            back.start()
            with contextlib.suppress(ConnectionClosed, BrokenPipeError):
                for message in connection:
                    assert isinstance(message, str)
                    server.stdin.write(frame(message))
                    server.stdin.flush()
            server.kill()
            back.join(timeout=5)

    with serve(answer, "127.0.0.1", 0, max_size=None) as listening:
        thread = threading.Thread(target=listening.serve_forever, daemon=True)
        thread.start()
        port = listening.socket.getsockname()[1]
        yield f"ws://127.0.0.1:{port}"
        listening.shutdown()
        thread.join(timeout=5)


def _pass_on(pipe: IO[bytes], connection: ServerConnection) -> None:
    with contextlib.suppress(ConnectionClosed):
        for message in messages(pipe):
            connection.send(message)
