"""Where an id is defined and used, and what a file or a spec holds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from ..document import Region
from .links import SECTIONS, Use, key_region, text_of
from .spot import Spot, inner, pointer, value_at
from .view import View

SymbolKind = Literal["section", "opening", "set", "item", "product", "power", "cable", "part"]

_KINDS: Final[dict[str, SymbolKind]] = {
    "openings": "opening",
    "hardware_sets": "set",
    "products": "product",
    "power": "power",
    "cables": "cable",
}
_TITLES: Final = {
    "openings": "Openings",
    "hardware_sets": "Hardware sets",
    "products": "Products",
    "power": "Power",
    "cables": "Cables",
    "project": "Project",
    "waivers": "Waivers",
}
_PARTS: Final = ("outputs", "contacts", "coils", "inputs")


@dataclass(frozen=True, slots=True)
class Target:
    """A region of a file of the spec, as its text stands now."""

    file: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Symbol:
    """An entry of a file: `start` to `end` is all of it, `name_start` to `name_end` its key."""

    name: str
    detail: str
    kind: SymbolKind
    start: int
    end: int
    name_start: int
    name_end: int
    children: tuple[Symbol, ...] = ()


def use_at(view: View, offset: int) -> tuple[Spot, Use] | None:
    """The id under the cursor. In `psu-1.3` that is the source or its output."""
    spot = view.spot(offset)
    if spot is None:
        return None
    uses = view.ids.uses(view.part.document, spot.tokens, spot.part, spot.value)
    quoted = view.buffer.text[spot.start : spot.start + 1] in ("'", '"')
    at = offset - spot.start - (1 if quoted else 0)
    here = [use for use in uses if use.start <= at <= use.end]
    found = here[0] if here else uses[0] if uses and spot.part == "value" else None
    return (spot, found) if found is not None else None


def definition(view: View, offset: int) -> tuple[Target, ...]:
    """Where the id under the cursor is defined; for a device its own entry at the opening too, that first."""
    found = use_at(view, offset)
    if found is None:
        return ()
    spot, use = found
    places = view.ids.definitions(use.entity)
    if use.entity[0] == "items":
        here = spot.tokens[:2]
        places = tuple(
            [p for p in places if p.tokens[:2] == here and here != use.entity[1:3]]
            + [p for p in places if p.tokens[:2] == use.entity[1:3]]
        )
    targets = []
    for place in places:
        part = view.parts[place.file]
        region = part.carry.region(*key_region(part.document, place))
        if region is not None:
            targets.append(Target(place.file, *region))
    return tuple(targets)


def references(view: View, offset: int, definitions: bool) -> tuple[Target, ...]:
    """Every use of the id under the cursor in the whole spec, with or without the places that define it."""
    found = use_at(view, offset)
    if found is None:
        return ()
    targets = []
    for document, spot, use in view.ids.occurrences():
        if use.entity == found[1].entity and (definitions or not use.defines):
            part = view.parts[document.name]
            text = spot.tokens[-1] if spot.part == "key" else text_of(spot.value)
            exact = inner(document, Region(spot.start, spot.end), text, use.start, use.end)
            region = part.carry.region(*(exact or (spot.start, spot.end)))
            if region is not None:
                targets.append(Target(document.name, *region))
    return tuple(targets)


# -- symbols ---------------------------------------------------------------------------------------


def symbols(view: View) -> tuple[Symbol, ...]:
    """The entries of the file under the cursor: openings and sets with their items, data sheets with their parts."""
    tree = view.part.document.tree
    if not isinstance(tree, dict):
        return ()
    found = []
    for section, entries in tree.items():
        if section in SECTIONS and isinstance(entries, dict):
            children = tuple(_entries(view, section, entries))
            symbol = _symbol(view, (section,), _TITLES[section], "", "section", children)
        elif section in _TITLES:
            symbol = _symbol(view, (section,), _TITLES[section], "", "section")
        else:
            continue
        if symbol is not None:
            found.append(symbol)
    return tuple(found)


def _entries(view: View, section: str, entries: dict[str, object]) -> Iterator[Symbol]:
    for key, value in entries.items():
        title, kind = (text_of(value_at(value, (name,))) for name in ("title", "kind"))
        children = []
        items = value_at(value, ("items",)) if section in ("openings", "hardware_sets") else None
        for name, item in (items if isinstance(items, dict) else {}).items():
            product = text_of(value_at(item, ("product",)))
            children.append(_symbol(view, (section, key, "items", name), name, product, "item"))
        for part in _PARTS if section in ("products", "power") else ():
            listed = value_at(value, (part,))
            for name in listed if isinstance(listed, dict) else ():
                children.append(_symbol(view, (section, key, part, name), name, part, "part"))
        detail = title or kind
        inside = tuple(child for child in children if child is not None)
        symbol = _symbol(view, (section, key), key, detail, _KINDS[section], inside)
        if symbol is not None:
            yield symbol


def _symbol(
    view: View, tokens: tuple[str, ...], name: str, detail: str, kind: SymbolKind, children: tuple[Symbol, ...] = ()
) -> Symbol | None:
    document = view.part.document
    key = document.region(pointer(tokens), "key")
    value = document.region(pointer(tokens))
    if not name.strip() or document.alias_site(pointer(tokens[:-1])) is not None:
        return None
    # an alias stands before what it names in no order: the entry then is its key alone
    end = max(value.end, key.end) if value.start >= key.start else key.end
    whole = view.part.carry.region(key.start, end)
    named = view.part.carry.region(key.start, key.end)
    if whole is None or named is None:
        return None
    return Symbol(name, detail, kind, *whole, *named, children)


def entries_named(view: View, query: str) -> Iterator[tuple[str, SymbolKind, str, Target]]:
    """The ids of the spec that hold a text, in any case of letters: (id, kind, section, place)."""
    sought = query.casefold()
    for section, entries in view.ids.sections.items():
        for key, found in entries.items():
            if sought in key.casefold():
                part = view.parts[found.file]
                region = part.carry.region(*key_region(part.document, found))
                if region is not None:
                    yield key, _KINDS[section], _TITLES[section], Target(found.file, *region)
