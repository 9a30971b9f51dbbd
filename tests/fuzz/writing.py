"""Trees as YAML text, in the styles in which people write it."""

from __future__ import annotations

import json
import re
from typing import Any

from .sources import Source, chance

_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9_./ %+-]*[A-Za-z0-9%]|[A-Za-z]")
_WORDS = frozenset(("true", "false", "null", "True", "TRUE", "False", "FALSE", "Null", "NULL"))


def written(tree: Any, source: Source) -> str:
    """The tree as YAML: blocks, with flow collections here and there."""
    if not isinstance(tree, dict | list) or not tree or chance(source, 5):
        return flow(tree) + "\n"
    lines: list[str] = []
    _block(tree, 0, source, lines)
    return "\n".join(lines) + "\n"


def flow(value: Any) -> str:
    """A value on one line. JSON is YAML; characters that JSON would leave bare and YAML refuses are escaped."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_key(key)}: {flow(child)}" for key, child in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(flow, value)) + "]"
    if isinstance(value, str):
        return value if _PLAIN.fullmatch(value) and value not in _WORDS else json.dumps(value)
    if isinstance(value, float):
        return repr(value)
    return json.dumps(value)


def _key(key: Any) -> str:
    # past 1024 characters YAML takes a key only behind "? "
    return flow(str(key)[:1000])


def _block(value: Any, depth: int, source: Source, lines: list[str]) -> None:
    pad = "  " * depth
    entries = value.items() if isinstance(value, dict) else ((None, one) for one in value)
    for key, child in entries:
        head = f"{pad}- " if key is None else f"{pad}{_key(key)}:"
        if isinstance(child, dict | list) and child and not chance(source, 25):
            lines.append(head.rstrip())
            _block(child, depth + 1, source, lines)
        else:
            lines.append(f"{head.rstrip()} {flow(child)}")
