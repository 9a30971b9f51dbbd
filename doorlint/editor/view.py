"""What a feature may look at: the text under the cursor, the other texts as they are now, and the last review."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

from ..document import Document
from ..outcome import Place
from ..reviewing import Result
from .buffers import Buffer, broken
from .carry import Carry, carry
from .links import Ids
from .spot import Spot, spot_at


@dataclass(frozen=True, eq=False)
class Part:
    """One file of a spec as it is now. `good`: the document that was read last; it serves where the text of now cannot
    be read."""

    path: Path | None
    name: str
    buffer: Buffer | None = field(repr=False)
    good: Document | None = field(repr=False)

    @cached_property
    def document(self) -> Document:
        """The last text that could be read: mostly that of now."""
        if self.buffer is not None and (self.good is None or not self.buffer.broken):
            return self.buffer.document
        assert self.good is not None
        return self.good

    @property
    def text(self) -> str:
        """The text of now."""
        return self.buffer.text if self.buffer is not None else self.document.text

    @cached_property
    def carry(self) -> Carry:
        """How places of `document` are found in `text`."""
        return carry(self.document.text, self.text)

    @property
    def stale(self) -> bool:
        """Whether the text of now cannot be read."""
        return broken(self.document) or self.document.text != self.text

    def region(self, pointer: str, part: str) -> tuple[int, int] | None:
        """The region of a place in the text of now; None where it is not there any more."""
        try:
            found = self.document.region(pointer, "key" if part == "key" and pointer else "value")
        except KeyError:
            return None
        return self.carry.region(found.start, found.end)


@dataclass(frozen=True, eq=False)
class View:
    """The texts of one moment. `name`: what the review calls the file under the cursor. `result`: the last review of
    the spec that it belongs to, None before there is one. `parts`: the files of the spec by name."""

    buffer: Buffer
    name: str
    result: Result | None
    parts: Mapping[str, Part]

    @property
    def part(self) -> Part:
        """The file under the cursor."""
        return self.parts[self.name]

    @cached_property
    def ids(self) -> Ids:
        """The ids of the spec."""
        return Ids({name: part.document for name, part in self.parts.items()})

    def spot(self, offset: int) -> Spot | None:
        """The key or value at an offset of the text, its region in the text of now."""
        then = self.part.carry.back(offset)
        found = spot_at(self.part.document, then) if then is not None else None
        if found is None:
            return None
        region = self.part.carry.region(found.start, found.end)
        return Spot(found.tokens, found.part, *region, found.value) if region is not None else None

    def region(self, place: Place) -> tuple[int, int] | None:
        """Where a place of the review stands in the text of now; None where that cannot be told."""
        part = self.parts.get(place.file)
        if part is None:
            return None
        if place.span is None:
            return part.region(place.pointer, place.part)
        reviewed = self.result.documents.get(place.file) if self.result is not None else None
        return carry(reviewed.text, part.text).region(*place.span) if reviewed is not None else None
