"""Real specs to spoil: the cases beside the rules, the worked openings, single openings of the invented terminal."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from doorlint.cases import ENDING, load_cases
from doorlint.document import load, parse

from .sources import Seeded
from .writing import written

ROOT = Path(__file__).parent.parent.parent
SECTIONS = ("products", "power", "cables", "hardware_sets", "openings")
_WHOLE = re.compile(r"```yaml\n(doorlint: 1\nproject:\n.*?)```", re.DOTALL)


@cache
def texts() -> tuple[str, ...]:
    """The texts of all real specs, the small ones many times as often as the large ones."""
    found = [case.spec for path in sorted((ROOT / "rules").rglob(f"*{ENDING}")) for case in load_cases(path)]
    found += [path.read_text(encoding="utf-8") for path in sorted((ROOT / "tests/events/specs").glob("*.yaml"))]
    found += [whole[1] for whole in _WHOLE.finditer((ROOT / "README.md").read_text(encoding="utf-8"))]
    found += [written(tree, Seeded(0)) for tree in _openings(ROOT / "examples/gull_point_ferry_terminal")]
    return tuple(found)


@cache
def trees() -> tuple[Any, ...]:
    """The same specs as trees; treat them as read-only."""
    return tuple(tree for text in texts() if isinstance(tree := parse(text).tree, dict))


@cache
def values() -> Mapping[str, tuple[Any, ...]]:
    """The values that stand under each key anywhere, for values that stand where they might."""
    found: dict[str, dict[str, Any]] = {}

    def walk(value: Any) -> None:
        if isinstance(value, dict):
            for key, child in value.items():
                seen = found.setdefault(key, {})
                if len(seen) < 60:
                    seen.setdefault(repr(child), child)
                walk(child)
        elif isinstance(value, list):
            for child in value:
                walk(child)

    for tree in trees():
        walk(tree)
    return {key: tuple(seen.values()) for key, seen in found.items()}


def _openings(folder: Path) -> Iterator[Any]:
    """Each opening of a spec in several files as a spec of its own, with what it names."""
    whole: dict[str, dict[str, Any]] = {section: {} for section in SECTIONS}
    project: Any = {}
    for path in sorted(folder.rglob("*.yaml")):
        tree = load(path).tree
        project = tree.get("project", project)
        for section in SECTIONS:
            whole[section].update(tree.get(section, {}))
    for name, opening in whole["openings"].items():
        kept: dict[str, dict[str, Any]] = {section: {} for section in SECTIONS}
        kept["openings"][name] = opening
        for _ in range(4):  # a set names products, a product names none: four rounds reach everything
            named = set(_words(kept))
            for section in SECTIONS[:-1]:
                kept[section].update({key: value for key, value in whole[section].items() if key in named})
        yield {"doorlint": 1, "project": project, **{k: v for k, v in kept.items() if v}}


def _words(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for child in value.values():
            yield from _words(child)
    elif isinstance(value, list):
        for child in value:
            yield from _words(child)
    else:
        yield str(value)
