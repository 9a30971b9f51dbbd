"""What one review leaves for the next of the same spec: documents that have not changed, and like openings."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from .document import Document
from .judging import Judge
from .outcome import Outcome
from .spec.files import Files, Library, Overlay
from .typical.families import Families
from .typical.share import Sharing
from .typical.world import World

if TYPE_CHECKING:
    from .store.folder import Store


@dataclass
class Kept:
    """What is known after one review, taken for the next as far as nothing has changed that it rests on.

    least: from how many like openings on they are judged as one; with 1, every opening is remembered.
    sharing: how the openings of the last review stood to each other, for a glance at a change of one.
    store: where families are looked for that earlier runs have met.
    """

    least: int = 2
    sharing: Sharing | None = field(default=None, repr=False)
    store: Store | None = None
    _library: Library = field(default_factory=Library)
    _faults: dict[str, tuple[Document, tuple[Outcome, ...]]] = field(default_factory=dict)
    _mark: object = None
    _families: Families = field(default_factory=Families)
    _address: str | None = None
    _read: int = 0

    @property
    def known(self) -> Families:
        """The like openings that are known so far."""
        return self._families

    def overlay(self, overlay: Overlay | None) -> Overlay:
        """The overlay, with the documents that were read before."""
        return replace(overlay or Overlay(), library=self._library)

    def faults(self, files: Files, check: Callable[[str, Document], Iterator[Outcome]]) -> list[Outcome]:
        """The faults against the format of every document, those that have not changed as they were."""
        found: list[Outcome] = []
        for name, document in files.documents.items():
            held = self._faults.get(name)
            if held is None or held[0] is not document:
                held = self._faults[name] = (document, tuple(check(name, document)))
            found += held[1]
        return found

    def families(self, around: World, judges: Sequence[Judge]) -> Families:
        """What is known in a world, with these rules; nothing, where either has changed."""
        rules = tuple((id(each.module), each.level, each.notes) for each in judges)
        mark = (around.mark(), around.spec.practice, around.faulty, rules)
        if mark != self._mark:
            self._mark, self._families = mark, self._stored(around, judges)
        return self._families

    def _stored(self, around: World, judges: Sequence[Judge]) -> Families:
        """What earlier runs have left of a world."""
        self._address = None
        if self.store is None:
            return Families()
        from .store import families

        self._address = families.address(around, judges)
        found = families.read(self.store, self._address) if self._address is not None else Families()
        self._read = families.size(found)
        return found

    def store_families(self) -> None:
        """Leave the families of the last review to later runs, if they are not what an earlier run has left."""
        if self.store is not None and self._address is not None:
            from .store import families

            if self._families.refuted or families.size(self._families) > self._read:
                families.write(self.store, self._address, self._families)

