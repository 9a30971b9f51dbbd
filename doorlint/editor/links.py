"""Which ids a spec defines, where each is used, and what a use means.

An entity is the way by which an id is known: ("products", id), ("cables", id), ("power", id), ("hardware_sets", id),
("openings", id); ("items", "hardware_sets" or "openings", id of the owner, name) for a device, which belongs to its
hardware set where that lists it; ("outputs", "contacts" or "coils", section, id, name) for a part of a data sheet; and
("rules", id).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final, TypeAlias

from ..document import Document
from .spot import Spot, pointer, value_at, walk

Entity: TypeAlias = tuple[str, ...]

SECTIONS: Final = ("products", "power", "cables", "hardware_sets", "openings")
OWNERS: Final = ("hardware_sets", "openings")
SHEET_PARTS: Final = ("outputs", "contacts", "coils")
ITEM_FIELDS: Final = (
    "signals", "through_transfer", "shares_return_with", "shares_cable_with", "actuated_by",
)  # fmt: skip
NO_ID: Final = frozenset({"none", "unknown", ""})


@dataclass(frozen=True, slots=True)
class Use:
    """An id in a text: what it means, and the stretch of the key or scalar that names it."""

    entity: Entity
    start: int
    end: int
    defines: bool = False


@dataclass(frozen=True, slots=True)
class Found:
    """A place in a document of the spec: `tokens` lead to it."""

    file: str
    tokens: tuple[str, ...]
    value: Any


class Ids:
    """The ids of one spec. Of an id that is defined twice the first counts, as in a review."""

    def __init__(self, documents: Mapping[str, Document]) -> None:
        self.documents = documents

    @cached_property
    def sections(self) -> Mapping[str, Mapping[str, Found]]:
        """For each section its entries by id."""
        found: dict[str, dict[str, Found]] = {section: {} for section in SECTIONS}
        for name, document in self.documents.items():
            for section, entries in found.items():
                listed = document.tree.get(section) if isinstance(document.tree, dict) else None
                if isinstance(listed, dict):
                    for key, value in listed.items():
                        entries.setdefault(key, Found(name, (section, key), value))
        return found

    @cached_property
    def users(self) -> Mapping[str, tuple[str, ...]]:
        """For each hardware set the openings that use it."""
        found: dict[str, list[str]] = {}
        for key, opening in self.sections["openings"].items():
            found.setdefault(text_of(value_at(opening.value, ("set",))), []).append(key)
        return {key: tuple(openings) for key, openings in found.items()}

    def entry(self, section: str, key: str) -> Any:
        """What stands under an id; None where nothing does."""
        found = self.sections.get(section, {}).get(key)
        return None if found is None else found.value

    def set_of(self, opening: str) -> str:
        """The hardware set of an opening; empty where it has none."""
        name = text_of(value_at(self.entry("openings", opening), ("set",)))
        return "" if name in NO_ID else name

    def owners(self, section: str, owner: str) -> tuple[tuple[str, str], ...]:
        """Where the items of an opening or set stand: its set, then itself."""
        if section == "openings" and (shared := self.set_of(owner)):
            return ("hardware_sets", shared), (section, owner)
        return ((section, owner),)

    def items(self, section: str, owner: str) -> dict[str, Any]:
        """The items of an opening or set by name, each with the keys of both where an opening overrides its set."""
        found: dict[str, Any] = {}
        for where in self.owners(section, owner):
            listed = value_at(self.entry(*where), ("items",))
            for name, value in (listed if isinstance(listed, dict) else {}).items():
                found[name] = {**found.get(name, {}), **value} if isinstance(value, dict) else found.get(name, {})
        return found

    def item(self, section: str, owner: str, name: str) -> Entity | None:
        """The device that a name means at an opening or in a set."""
        for where in self.owners(section, owner):
            listed = value_at(self.entry(*where), ("items",))
            if isinstance(listed, dict) and name in listed:
                return ("items", *where, name)
        return None

    def product_of(self, section: str, owner: str, item: str) -> str:
        """The id of the product of a device; empty where none is stated."""
        return text_of(value_at(self.items(section, owner).get(item), ("product",)))

    def definitions(self, entity: Entity) -> tuple[Found, ...]:
        """Where an entity is defined: for a device its entry in the set and those by which openings override it."""
        kind = entity[0]
        if kind in SECTIONS:
            found = self.sections[kind].get(entity[1])
            return (found,) if found is not None else ()
        if kind == "items":
            _, section, owner, name = entity
            owners = [(section, owner)]
            if section == "hardware_sets":
                owners += [("openings", opening) for opening in self.users.get(owner, ())]
            return tuple(place for where in owners if (place := self._below(*where, "items", name)) is not None)
        if kind in SHEET_PARTS:
            place = self._below(entity[1], entity[2], kind, entity[3])
            return (place,) if place is not None else ()
        return ()

    def _below(self, section: str, key: str, *names: str) -> Found | None:
        entry = self.sections[section].get(key)
        if entry is None:
            return None
        above = value_at(entry.value, names[:-1])
        if not isinstance(above, dict) or names[-1] not in above:
            return None
        return Found(entry.file, (section, key, *names), above[names[-1]])

    # -- uses --------------------------------------------------------------------------------------

    def uses(self, document: Document, tokens: tuple[str, ...], part: str, value: Any) -> tuple[Use, ...]:
        """What ids a key or a scalar of a document names."""
        if part == "key":
            entity = self._defined(tokens)
            return (Use(entity, 0, len(tokens[-1]), defines=True),) if entity is not None else ()
        text = text_of(value)
        if text in NO_ID:
            return ()
        if tokens[0] == "waivers" and len(tokens) == 3:
            return self._in_waiver(document, tokens, text)
        field = tokens[-2] if tokens[-1].isdecimal() and len(tokens) > 3 else tokens[-1]
        whole = (0, len(text))
        if tokens[0] == "power" and len(tokens) > 2 and field in ("fed_from", "bonded_with"):
            name = text.partition(".")[0]
            return (Use(("power", name), 0, len(name)),)
        if tokens[0] == "openings" and len(tokens) in (3, 4):
            if field == "set":
                return (Use(("hardware_sets", text), *whole),)
            return (Use(("openings", text), *whole),) if field == "interlocked_with" else ()
        if tokens[0] in OWNERS and len(tokens) > 4 and tokens[2] == "items":
            return self._in_item(tokens, text, field)
        return ()

    def _defined(self, tokens: tuple[str, ...]) -> Entity | None:
        if len(tokens) == 2 and tokens[0] in SECTIONS:
            return tokens
        if len(tokens) == 4 and tokens[0] in OWNERS and tokens[2] == "items":
            return self.item(tokens[0], tokens[1], tokens[3])
        if len(tokens) == 4 and tokens[0] in ("products", "power") and tokens[2] in SHEET_PARTS:
            return (tokens[2], tokens[0], tokens[1], tokens[3])
        return None

    def _in_waiver(self, document: Document, tokens: tuple[str, ...], text: str) -> tuple[Use, ...]:
        whole = (0, len(text))
        if tokens[2] == "rule":
            return (Use(("rules", text), *whole),)
        if tokens[2] == "opening":
            return (Use(("openings", text), *whole),)
        if tokens[2] == "item":
            opening = text_of(value_at(document.tree, (*tokens[:2], "opening")))
            entity = self.item("openings", opening, text)
            return (Use(entity, *whole),) if entity is not None else ()
        return ()

    def _in_item(self, tokens: tuple[str, ...], text: str, field: str) -> tuple[Use, ...]:
        section, owner, item = tokens[0], tokens[1], tokens[3]
        whole = (0, len(text))
        direct = {"product": "products", "cable": "cables"}
        if len(tokens) == 5 and field in direct:
            return (Use((direct[field], text), *whole),)
        if tokens[4] == "suppression" and (len(tokens) == 5 or tokens[-1] == "product"):
            return (Use(("products", text), *whole),)
        if field == "coil_setting":
            return (Use(("coils", "products", self.product_of(section, owner, item), text), *whole),)
        if field == "fed_from":
            return self._dotted(section, owner, text, "outputs")
        if field in ("switched_by", "released_by"):
            return self._dotted(section, owner, text, "contacts")
        if field in ITEM_FIELDS:
            name = text.partition(".")[0]
            entity = self.item(section, owner, name)
            return (Use(entity, 0, len(name)),) if entity is not None else ()
        return ()

    def _dotted(self, section: str, owner: str, text: str, kind: str) -> tuple[Use, ...]:
        """`rc.lock`, `psu-1.3`, `panel.relay.no`: a device or source, then one of its outputs or contacts."""
        name, dot, rest = text.partition(".")
        part = rest.partition(".")[0]
        entity = self.item(section, owner, name)
        if entity is not None:
            sheet = ("products", self.product_of(section, owner, name))
        else:
            entity, sheet = ("power", name), ("power", name)
        found = (Use(entity, 0, len(name)),)
        if not dot or not part or part in ("no", "nc"):
            return found
        return (*found, Use((kind, *sheet, part), len(name) + 1, len(name) + 1 + len(part)))

    def occurrences(self) -> Iterator[tuple[Document, Spot, Use]]:
        """Every id of the spec, defined or used, in the order of the texts."""
        for document in self.documents.values():
            for spot in walk(document):
                for use in self.uses(document, spot.tokens, spot.part, spot.value):
                    yield document, spot, use


def text_of(value: Any) -> str:
    """An id as it is compared: numbers by their text, everything else that is no text as empty."""
    if isinstance(value, str):
        return value
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else ""


def key_region(document: Document, found: Found) -> tuple[int, int]:
    """The key of a place. KeyError where it has none."""
    region = document.region(pointer(found.tokens), "key")
    return region.start, region.end
