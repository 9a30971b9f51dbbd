"""Values of an intake as YAML text: plain where nobody can misread it, quoted otherwise."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Final, TypeAlias

from .records import Value

Node: TypeAlias = "Value | dict[str, Node]"

_PLAIN: Final = re.compile(r"(?:[A-Za-z]|[0-9]+(?:\.[0-9]+)? +[A-Za-z])[A-Za-z0-9 _/().%-]*(?<! )")
# words that some YAML reader takes for a flag, a number or nothing
_TAKEN: Final = frozenset(["null", "true", "false", "yes", "no", "on", "off", "y", "n", "nan", "inf"])


def is_plain(text: str) -> bool:
    """Whether the text can stand without quotes, as a key and in a flow mapping too."""
    return _PLAIN.fullmatch(text) is not None and text.lower() not in _TAKEN


def scalar(value: Value) -> str:
    """One value as YAML."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value)
    if is_plain(value):
        return value
    shown = json.dumps(value, ensure_ascii=False)
    return "".join(char if char.isprintable() else _escaped(char) for char in shown)


def _escaped(char: str) -> str:
    return f"\\u{ord(char):04x}" if ord(char) < 0x10000 else f"\\U{ord(char):08x}"


def flow(node: Node) -> str:
    """A value or a mapping on one line."""
    if isinstance(node, dict):
        return "{" + ", ".join(f"{scalar(key)}: {flow(value)}" for key, value in node.items()) + "}"
    return scalar(node)


def entry(key: str, body: Mapping[str, Node], indent: str, step: str = "  ") -> str:
    """One entry of a block mapping: its key on a line of its own, below it a line for each field."""
    if not body:
        return f"{indent}{scalar(key)}: {{}}\n"
    lines = [f"{indent}{step}{scalar(name)}: {flow(value)}\n" for name, value in body.items()]
    return f"{indent}{scalar(key)}:\n" + "".join(lines)
