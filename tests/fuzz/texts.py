"""Raw text and raw bytes: scraps of YAML in no order, and real specs with characters and lines spoilt."""

from __future__ import annotations

import codecs
from collections.abc import Sequence

from .sources import Source, chance, pick
from .values import ODD_TEXTS

SCRAPS = (
    " ", "\n", "a", ": ", ":", "- ", "  ", "\n  ", "\n- ", "[", "]", "{", "}", ",", "? ", "|", ">", "|+", ">-",
    "#", " # x\n", "'", '"', "&a ", "*a", "&b ", "*b", "!!str ", "!x ", "!<tag:a> ", "<<: ", "---", "...",
    "--- |\n", "%YAML 1.2\n", "%TAG ! x\n", "\t", "\r", "\r\n", "\x85", "\u2028", "\u2029", "\ufeff", "\x00",
    "\x1b", "\ud800", "\x7f", "\\", "\\x", "\\u12", "\\U0011", "\\uD83D", "@", "`", "=", "~", "null", "true",
    ".nan", ".inf", "0x", "0o8", "1e999", "doorlint: 1\n", "project: {name: x}\n", "openings:\n", "products:\n",
    "power:\n", "items: ", "include: ", "waivers:\n", "hardware_sets:\n", "cables:\n", "house: ", "unknown",
    "kind: ", "a: 1\n", "a: 1\n", "b: *a\n", "12 V", "\n    ", "\n      ", "x: &a [*a]\n", "\U0001f6aa",
    "e\u0301",
)  # fmt: skip
HEADS = ("doorlint: 1\nproject: {name: x}\n", "doorlint: 1\n", "", "project: {name: x}\nopenings:\n  D1: ")
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "utf-32", "utf-16-be", "latin-1", "cp1252")


def text(source: Source, specs: Sequence[str]) -> str | bytes:
    """One raw input."""
    made = _spoilt(source, pick(source, specs)) if chance(source, 35) else _scraps(source)
    if not chance(source, 12):
        return made
    data = made.encode(pick(source, ENCODINGS), "replace")
    if chance(source, 30):
        data = pick(source, (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE, codecs.BOM_UTF32_LE, codecs.BOM_UTF8)) + data
    if data and chance(source, 50):
        at = source.below(len(data))
        data = data[:at] + bytes([source.below(256)]) + data[at + source.below(2) :]
    return data


def _scraps(source: Source) -> str:
    head = pick(source, HEADS)
    return head + "".join(
        pick(source, ODD_TEXTS) if chance(source, 6) else pick(source, SCRAPS) for _ in range(source.below(40))
    )


def _spoilt(source: Source, spec: str) -> str:
    """A spec with a few places changed, each as a slip of the hand or of a program would."""
    lines = spec.split("\n")
    for _ in range(1 + source.below(4)):
        at = source.below(len(lines))
        line = lines[at]
        column = source.below(len(line) + 1)
        what = source.below(9)
        if what == 0:
            del lines[at]
        elif what == 1:
            lines.insert(at, pick(source, lines))
        elif what == 2:
            lines[at] = line[:column] + pick(source, SCRAPS) + line[column:]
        elif what == 3:
            lines[at] = line[:column] + line[column + 1 + source.below(3) :]
        elif what == 4:
            lines[at] = " " * source.below(9) + line.lstrip()
        elif what == 5:
            key, colon, _ = line.partition(": ")
            lines[at] = key + colon + pick(source, ODD_TEXTS)
        elif what == 6:
            lines[at] = line[:column] + pick(source, ODD_TEXTS) + line[column:]
        elif what == 7:
            lines = lines[: at + 1]
        else:
            lines[at] = line + pick(source, ("\r", " ", "\t", ",", "\x85", " #", ":"))
        if not lines:
            lines = [""]
    return "\n".join(lines)
