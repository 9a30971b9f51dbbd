"""Small pieces of Markdown, and YAML values on one line."""

from __future__ import annotations

import json
import re
from typing import Any, Final

from ..document import parse
from ..report.text import plain

_SPECIAL: Final = re.compile(r"([\\`*_\[\]<>#|~])")
_LONGEST: Final = 160


def words(text: str) -> str:
    """A text that is shown as it stands."""
    return _SPECIAL.sub(r"\\\1", plain(" ".join(text.split())))


def code(text: str) -> str:
    """A text in a code span; one that holds backticks has longer marks around it."""
    shown = plain(text)
    longest = max((len(run) for run in re.findall("`+", shown)), default=0)
    marks = "`" * (longest + 1)
    pad = " " if shown[:1] == "`" or shown[-1:] == "`" else ""
    return f"{marks}{pad}{shown}{pad}{marks}"


def without(markdown: str) -> str:
    """Markdown of ours as plain text, for an editor that shows no other."""
    text = re.sub(r"\*\*(.*?)\*\*", r"\1", markdown)
    text = re.sub(r"(?<![\\`])(`+)(?!`) ?(.*?) ?(?<!`)\1(?!`)", r"\2", text)
    return re.sub(r"\\([\\`*_\[\]<>#|~])", r"\1", text)


def written(value: str, *, number: bool = False) -> str:
    """A text as a YAML scalar that reads as that text everywhere: plain where that does, else in double quotes. With
    `number` digits need no quotes."""
    if not re.search(r"[\n\r]|^\s|\s$", value) and value:
        for text in (f"k: {value}", f"{{k: {value}}}", f"[{value}]"):
            document = parse(text)
            tree = document.tree
            read = tree.get("k") if isinstance(tree, dict) and len(tree) == 1 else tree
            read = read[0] if isinstance(read, list) and len(read) == 1 else read
            if document.problems or not (read == value or (number and isinstance(read, int) and str(read) == value)):
                break
        else:
            return value
    return json.dumps(value, ensure_ascii=False)


def flow(value: Any, longest: int = _LONGEST) -> str:
    """A value as YAML on one line, cut where it is long."""
    shown = _flow(value)
    return shown if len(shown) <= longest else f"{shown[: longest - 3]}..."


def _flow(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {_flow(child)}" for key, child in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_flow(child) for child in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    return "" if value is None else str(value)
