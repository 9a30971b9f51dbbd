"""An id changed wherever it stands in the spec."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

from ..document import Region
from ..report.text import plain
from .links import NO_ID, SECTIONS, SHEET_PARTS, Entity, Use, text_of
from .markdown import written
from .navigation import Target, use_at
from .spot import Spot
from .view import View

_WHAT: Final = {
    "products": "a product", "power": "a power source", "cables": "a cable", "hardware_sets": "a hardware set",
    "openings": "an opening", "items": "an item", "outputs": "an output", "contacts": "a contact", "coils": "a coil",
}  # fmt: skip


class NoRename(Exception):  # noqa: N818 - told to the user as it stands
    """What is asked cannot be renamed, or not so."""


@dataclass(frozen=True, slots=True)
class Change:
    """A text that replaces a region of a file."""

    target: Target
    text: str


def renamable(view: View, offset: int) -> Target:
    """The id under the cursor. Raises NoRename where there is none."""
    spot, use = _found(view, offset)
    text = spot.tokens[-1] if spot.part == "key" else text_of(spot.value)
    raw = view.buffer.text[spot.start : spot.end]
    shift = 1 if raw[:1] in ("'", '"') and raw[1:-1] == text else 0
    if not shift and raw != text:
        return Target(view.name, spot.start, spot.end)
    return Target(view.name, spot.start + shift + use.start, spot.start + shift + use.end)


def rename(view: View, offset: int, name: str) -> tuple[Change, ...]:
    """The changes that give the id under the cursor another name. Raises NoRename with the reason where that would
    change what the spec means, or where a text of the spec cannot be read."""
    entity = _found(view, offset)[1].entity
    _allowed(view, entity, name)
    broken = [part.name for part in view.parts.values() if part.stale]
    if broken:
        raise NoRename(f"{broken[0]} cannot be read as it stands; mend it first, so that no use is missed")
    changes = []
    if name == entity[-1]:
        return ()
    for document, spot, use in view.ids.occurrences():
        if use.entity != entity:
            continue
        text = spot.tokens[-1] if spot.part == "key" else text_of(spot.value)
        new = f"{text[: use.start]}{name}{text[use.end :]}"
        raw = document.source(Region(spot.start, spot.end))
        changes.append(Change(Target(document.name, spot.start, spot.end), _as_written(raw, text, new)))
    return tuple(changes)


def _as_written(raw: str, old: str, new: str) -> str:
    """The new text of a scalar, quoted as the old one was where that still reads right."""
    if raw[:1] == "'" and raw[1:-1] == old and "'" not in new:
        return f"'{new}'"
    if raw[:1] == '"':
        return written(new) if not re.fullmatch(r"[^\"\\\n\r]*", new) else f'"{new}"'
    return written(new)


def _found(view: View, offset: int) -> tuple[Spot, Use]:
    found = use_at(view, offset)
    if found is None:
        raise NoRename("there is no id here that can be renamed")
    spot, use = found
    if use.entity[0] == "rules":
        raise NoRename("the id of a rule belongs to doorlint, or to the package that brings the rule")
    if not view.ids.definitions(use.entity):
        raise NoRename(f"{plain(use.entity[-1])} is not defined in this spec")
    return spot, use


def _allowed(view: View, entity: Entity, name: str) -> None:
    what = _WHAT[entity[0]]
    if name in NO_ID or name != name.strip() or not name.isprintable():
        raise NoRename(f"{name!r} cannot be the id of {what}: write a name, not `unknown` and not `none`")
    if entity[0] in ("items", *SHEET_PARTS, "power") and entity[0] != "coils" and re.search(r"[./\s]", name):
        raise NoRename(f"{name!r} cannot be the id of {what}: a dot joins device and output, so a name has no dot, "
                       "slash or blank")
    if entity[0] in ("outputs", "contacts") and name in ("no", "nc"):
        raise NoRename(f"{name!r} is the terminal of a contact")
    if name != entity[-1] and _taken(view, entity, name):
        raise NoRename(f"there is {what} {plain(name)} already")


def _taken(view: View, entity: Entity, name: str) -> bool:
    if entity[0] in SECTIONS:
        clash = entity[0] == "power" and any(
            name in view.ids.items("openings", opening) for opening in view.ids.sections["openings"]
        )
        return clash or bool(view.ids.definitions((*entity[:-1], name)))
    if entity[0] == "items":
        owners = [entity[1:3]]
        if entity[1] == "hardware_sets":
            owners += [("openings", opening) for opening in view.ids.users.get(entity[2], ())]
        return name in view.ids.sections["power"] or any(name in view.ids.items(*owner) for owner in owners)
    return bool(view.ids.definitions((*entity[:-1], name)))
