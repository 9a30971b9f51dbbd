"""The state of one connection with an editor: its open texts, and the specs as last reviewed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import unquote, urlsplit
from urllib.request import url2pathname

from .buffers import Buffer, Edit, lines_of
from .diagnostics import Finding
from .positions import Encoding, Lines
from .run import Reviewed, State
from .view import Part, View


def path_of(uri: str) -> Path | None:
    """The file of a URI with links resolved; None for what is no file."""
    try:
        parts = urlsplit(uri)
        if parts.scheme != "file":
            return None
        path = Path(url2pathname(parts.path))
        return path.resolve() if path.is_absolute() else None
    except (ValueError, OSError, RuntimeError):  # a NUL, a host that is none, links in a circle
        return None


@dataclass(frozen=True, slots=True)
class Shown:
    """The findings of one file: `text` is what they were found in, `version` the editor's number for it. `found`: each
    finding with the files of its spec."""

    uri: str
    version: int | None
    text: str
    found: tuple[tuple[Mapping[str, Part], Finding], ...]


class Session:
    """Open texts by URI, and what was found out about them. Belongs to one thread; what it hands out is frozen."""

    def __init__(self, encoding: Encoding = "utf-16") -> None:
        self.encoding = encoding
        self.state = State()
        self._buffers: dict[str, Buffer] = {}
        self._views: dict[str, tuple[object, View]] = {}

    # -- texts -------------------------------------------------------------------------------------

    def open(self, uri: str, version: int | None, text: str) -> Buffer:
        """Take a text that the editor has opened."""
        buffer = Buffer(uri, path_of(uri), version, text)
        self._keep(buffer)
        return buffer

    def change(self, uri: str, version: int | None, edits: Iterable[Edit]) -> Buffer:
        """Take changes of an open text. KeyError where it is not open."""
        buffer = self._buffers[unquote(uri)].changed(edits, version, self.encoding)
        self._keep(buffer)
        return buffer

    def close(self, uri: str) -> Buffer | None:
        """Forget a text; None where it was not open."""
        self._views.clear()
        return self._buffers.pop(unquote(uri), None)

    def _keep(self, buffer: Buffer) -> None:
        self._views.clear()
        self._buffers[unquote(buffer.uri)] = buffer

    def take(self, state: State) -> None:
        """Take what a run has found."""
        self._views.clear()
        self.state = state

    def buffer(self, uri: str) -> Buffer | None:
        """An open text."""
        return self._buffers.get(unquote(uri))

    @property
    def buffers(self) -> tuple[Buffer, ...]:
        """All open texts."""
        return tuple(self._buffers.values())

    @property
    def files(self) -> dict[Path, Buffer]:
        """The open texts that are files, by path."""
        return {buffer.path: buffer for buffer in self._buffers.values() if buffer.path is not None}

    # -- views -------------------------------------------------------------------------------------

    def view(self, uri: str) -> View | None:
        """What features may look at for an open text; None where it is not open."""
        buffer = self.buffer(uri)
        if buffer is None:
            return None
        kept = self._views.get(unquote(uri))
        if kept is not None and kept[0] is buffer:
            return kept[1]
        made = self._view(buffer)
        self._views[unquote(uri)] = (buffer, made)
        return made

    def _view(self, buffer: Buffer) -> View:
        reviewed = self._reviewed(buffer)
        parts: dict[str, Part] = {}
        name = buffer.name
        if reviewed is not None:
            parts = self.parts(reviewed)
            name = next((key for key, part in parts.items() if part.path == buffer.path), name)
        if name not in parts:
            parts[name] = Part(buffer.path, name, buffer, None)
        return View(buffer, name, reviewed.result if reviewed is not None else None, parts)

    def _reviewed(self, buffer: Buffer) -> Reviewed | None:
        roots = self.state.homes.get(buffer.path, ()) if buffer.path is not None else ()
        return next((self.state.reviewed[root] for root in roots if root in self.state.reviewed), None)

    def parts(self, reviewed: Reviewed) -> dict[str, Part]:
        """The files of a spec with their texts of now."""
        files = self.files
        return {
            name: Part(part.path, name, files.get(part.path) if part.path is not None else None, part.good)
            for name, part in reviewed.parts.items()
        }

    def views_of_specs(self) -> Iterator[View]:
        """A view of each spec that was reviewed and has an open text."""
        told = set()
        for buffer in self.buffers:
            reviewed = self._reviewed(buffer)
            if reviewed is not None and reviewed.root not in told:
                told.add(reviewed.root)
                view = self.view(buffer.uri)
                if view is not None:
                    yield view

    # -- what to show ------------------------------------------------------------------------------

    def shown(self) -> dict[str, Shown]:
        """For each file that has findings or is open, by URI, what the last run found about it."""
        found: dict[str, list[tuple[Mapping[str, Part], Finding]]] = {}
        texts: dict[str, tuple[int | None, str]] = {}
        for reviewed in self.state.reviewed.values():
            for name, part in reviewed.parts.items():
                uri = self.uri_of(part)
                texts.setdefault(uri, (part.buffer.version if part.buffer is not None else None, part.text))
                found.setdefault(uri, []).extend((reviewed.parts, one) for one in reviewed.findings.get(name, ()))
        for path, strays in self.state.strays.items():
            buffer = self.files.get(path)
            if buffer is not None and buffer.uri not in texts:
                part = Part(path, buffer.name, buffer, None)
                texts[buffer.uri] = (buffer.version, buffer.text)
                found.setdefault(buffer.uri, []).extend(({buffer.name: part}, one) for one in strays)
        return {uri: Shown(uri, version, text, tuple(found.get(uri, ()))) for uri, (version, text) in texts.items()}

    def uri_of(self, part: Part) -> str:
        """The URI of a file: the editor's own where it is open."""
        buffer = self.files.get(part.path) if part.path is not None else part.buffer
        if buffer is not None:
            return buffer.uri
        return part.path.as_uri() if part.path is not None else part.name

    def lines(self, text: str) -> Lines:
        """The lines of a text as the editor counts them."""
        return lines_of(text, self.encoding)
