"""A text as the editor holds it, saved or not."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from pathlib import Path

from ..document import Document, parse
from .positions import Encoding, Lines

Edit = tuple[tuple[int, int], tuple[int, int], str] | str
"""A change that an editor reports: from (line, character) to (line, character) a new text, or a whole new text."""

_UNREADABLE = frozenset({"syntax", "encoding", "limit"})


@dataclass(frozen=True, eq=False)
class Buffer:
    """One open text. `path`: the file with links resolved; None for a text that is no file yet."""

    uri: str
    path: Path | None
    version: int | None
    text: str = field(repr=False)

    @property
    def name(self) -> str:
        """What documents made of it are called: as a review calls a file whose root is given as a full path."""
        return self.path.as_posix() if self.path is not None else self.uri

    @cached_property
    def document(self) -> Document:
        """The text, read."""
        return parse(self.text, self.name)

    @property
    def broken(self) -> bool:
        """Whether part of the text could not be read, so that entries may be missing."""
        return broken(self.document)

    def changed(self, edits: Iterable[Edit], version: int | None, encoding: Encoding) -> Buffer:
        """The buffer after the changes, each made to the text that the one before has left."""
        text = self.text
        for edit in edits:
            if isinstance(edit, str):
                text = edit
                continue
            lines = lines_of(text, encoding)
            start, end = lines.offset(*edit[0]), lines.offset(*edit[1])
            text = text[: min(start, end)] + edit[2] + text[max(start, end) :]
        return replace(self, text=text, version=version)


def broken(document: Document) -> bool:
    """Whether part of a document could not be read."""
    return any(problem.code in _UNREADABLE for problem in document.problems)


@lru_cache(maxsize=32)
def lines_of(text: str, encoding: Encoding) -> Lines:
    """The lines of a text; kept for the texts in use, for a request asks many times."""
    return Lines(text, encoding)
