"""Specs made from the schema alone: every key, word, unit and nesting that the format allows, put together at random.

They are valid by the schema (what it forbids in combination is taken out again), but make sense only by chance. Names
come from small pools, so that items, products, sources and cables mostly find each other.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from typing import Any, Final

from doorlint.document import parse
from doorlint.quantity import DIMENSIONS
from doorlint.schema import check, schema_text

from .sources import Source, chance, pick
from .values import odd, quantity
from .writing import flow

PRODUCTS: Final = ("p1", "p2", "p3", "p4", "rc-poe")
SOURCES: Final = ("sw-1", "psu", "ups", "mains")
ITEMS: Final = ("lock", "rc", "btn", "dps", "xfer")
PORTS: Final = ("lock", "relay", "aux", "reader")
CABLES: Final = ("18/2", "cat6")
OPENINGS: Final = ("D1", "D2")
SETS: Final = ("HW-1",)
_REFERENCES: Final[Mapping[str, tuple[str, ...]]] = {
    "product": PRODUCTS,
    "suppression": (*PRODUCTS, "none"),
    "cable": CABLES,
    "set": SETS,
    "opening": OPENINGS,
    "interlocked_with": OPENINGS,
    "bonded_with": SOURCES,
    "item": ITEMS,
    "shares_return_with": ITEMS,
    "shares_cable_with": ITEMS,
    "through_transfer": ITEMS,
    "fed_from": (*SOURCES, *ITEMS, *(f"{item}.{port}" for item in ITEMS for port in PORTS)),
    "switched_by": tuple(f"{item}.{port}" for item in ITEMS for port in PORTS),
    "released_by": tuple(f"{item}.{port}" for item in ITEMS for port in PORTS),
    "signals": tuple(f"{item}.{port}" for item in ITEMS for port in PORTS),
    "actuated_by": ITEMS,
    "coil_setting": ("12 V", "24 V"),
}
_NAMES: Final[Mapping[str, tuple[str, ...]]] = {
    "products": PRODUCTS,
    "power": SOURCES,
    "cables": CABLES,
    "openings": OPENINGS,
    "hardware_sets": SETS,
    "items": ITEMS,
    "outputs": PORTS,
    "contacts": PORTS,
    "coils": ("12 V", "24 V"),
}
_FORMS: Final[Mapping[str, tuple[str, ...]]] = {
    "ip": ("IP54", "IP65/IP67", "IPXX", "IP20", "IP69K", "IP00"),
    "nema": ("1", "3R", "4X", "13"),
    "ik": ("IK08", "IK00", "IK11"),
    "until": ("2027-06-30", "2020-01-01", "9999-12-31", "0001-01-01"),
}


@cache
def schema() -> Mapping[str, Any]:
    """The schema of a spec."""
    found: Mapping[str, Any] = json.loads(schema_text("spec"))
    return found


@cache
def rules() -> tuple[str, ...]:
    """Ids of rules, for waivers."""
    from doorlint.rulebook import collect

    return tuple(rule.id for rule in collect().rules)


class _Growing:
    """One tree in the making. `left`: how many values it may still get."""

    def __init__(self, source: Source, left: int) -> None:
        self.source = source
        self.left = left
        self.kind = ""

    def value(self, part: Mapping[str, Any], key: str, depth: int) -> Any:
        part = _resolved(part)
        source = self.source
        self.left -= 1
        types = part.get("type", "object")
        types = [types] if isinstance(types, str) else list(types)
        if "x-form" in part:
            return quantity(source, part.get("x-dimension", ""), part["x-form"], list(part.get("examples", ())))
        if words := part.get("enum"):
            return pick(source, words)
        if "object" in types and not (self.left < 0 and "string" in types):
            return self.mapping(part, key, depth)
        if "array" in types and (types == ["array"] or chance(source, 40)):
            return [self.value(part.get("items", {"type": "string"}), key, depth + 1) for _ in range(source.below(3))]
        if "boolean" in types and not chance(source, 5):
            return chance(source, 50)
        if "integer" in types and not chance(source, 5):
            low, high = part.get("minimum", 0), part.get("maximum", 10**12)
            return pick(source, (max(low, 1), low, min(low + 1, high), min(low + 5, high), min(200, high), high))
        return self.text(part, key)

    def text(self, part: Mapping[str, Any], key: str) -> Any:
        source = self.source
        if part.get("pattern") == "^unknown$" or chance(source, 4):
            return "unknown"
        if key in _FORMS:
            return pick(source, _FORMS[key])
        if key == "rule":
            return pick(source, rules())
        if key in _REFERENCES and not chance(source, 5):
            return pick(source, _REFERENCES[key])
        examples = part.get("examples", ())
        if examples and not chance(source, 10):
            found = pick(source, examples)
            return pick(source, found) if isinstance(found, list) else found
        found = odd(source)
        return found if isinstance(found, str) else str(found)

    def mapping(self, part: Mapping[str, Any], key: str, depth: int) -> dict[str, Any]:
        source = self.source
        made: dict[str, Any] = {}
        properties = part.get("properties", {})
        others = part.get("additionalProperties")
        if isinstance(others, dict):
            names = _NAMES.get(key, ("a", "b"))
            most = len(names) if depth < 2 or key == "items" else 2
            for name in names[: 1 + source.below(most)]:
                made[name] = self.value(others, key, depth + 1)
        # few keys of many: a spec that states everything is as odd as one that states nothing
        share = 100 if depth == 0 else 45 if len(properties) < 12 else 22
        for name, child in properties.items():
            needed = name in part.get("required", ()) or name in ("kind", "product", "items", "inputs")
            if child is False or not (needed or (self.left > 0 and chance(source, share))):
                continue
            if name in ("include", "house", "doorlint"):
                continue
            made[name] = self.value(child, name, depth + 1)
        return made


def _resolved(part: Mapping[str, Any]) -> Mapping[str, Any]:
    while "$ref" in part:
        name = part["$ref"].removeprefix("#/$defs/")
        part = {**schema()["$defs"][name], **{k: v for k, v in part.items() if k != "$ref"}}
    return part


def tree(source: Source, size: int = 400) -> dict[str, Any]:
    """A tree of about so many values, valid by the schema."""
    made = _Growing(source, size).value(schema(), "", 0)
    whole: dict[str, Any] = {"doorlint": 1, **made}
    if "project" not in whole:
        whole["project"] = {"name": "Invented"}
    return pruned(whole)


def pruned(whole: dict[str, Any], rounds: int = 8) -> dict[str, Any]:
    """The tree without what the schema finds fault with."""
    for _ in range(rounds):
        faults = check(parse(flow(whole)))
        if not faults:
            break
        for fault in faults:
            _drop(whole, fault.pointer)
    return whole


def is_valid(whole: Any) -> bool:
    """Whether the schema finds no fault with a tree."""
    return not check(parse(flow(whole)))


def _drop(whole: dict[str, Any], pointer: str) -> None:
    tokens = [token.replace("~1", "/").replace("~0", "~") for token in pointer.split("/")[1:]]
    here: Any = whole
    for token in tokens[:-1]:
        try:
            here = here[token] if isinstance(here, dict) else here[int(token)]
        except (LookupError, ValueError):
            return  # what held it is gone already
    if not tokens:
        return
    if isinstance(here, dict):
        here.pop(tokens[-1], None)
    elif isinstance(here, list) and int(tokens[-1]) < len(here):
        here[int(tokens[-1])] = "unknown"


def dimensions() -> tuple[str, ...]:
    """The dimensions that quantities may have."""
    return tuple(DIMENSIONS)
