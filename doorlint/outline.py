"""The tree of a plainly written text, line by line: most of a spec is `key: value` below each other, and many of its
lines come again and again.

Only how block mappings nest is read here. What stands behind a colon, if it is more than words or a number, is read by
the YAML parser, once for all lines that say the same. A text that holds anything else (an anchor, a tab, a key that is
no plain word, a fault of any sort) has no outline: the parser reads it whole, and is the one to say what is wrong.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

MOST_LEVELS: Final = 20
"""Of block mappings inside each other; with MOST_BRACKETS behind a colon still far from what the parser allows."""
MOST_BRACKETS: Final = 100
LONGEST_WORDS: Final = 1000
"""Code points of a key or a plain scalar; the parser looks at longer ones."""

_KEY: Final = re.compile(r"[A-Za-z0-9_][\w.+/-]*(?: [\w.+/-]+)*|\"[\w.+/ -]+\"|'[\w.+/ -]+'", re.ASCII)
# No sign that means something in YAML at the start, none that could end a plain scalar further on.
_WORDS: Final = re.compile(r"-?[\w.](?:[^:#\x00-\x1f\x7f-\xa0\ufeff]*[^:#\s\x00-\x1f\x7f-\xa0\ufeff])?")
# The same in brackets, where commas and brackets end it too.
_IN_BRACKETS: Final = re.compile(r"-?[\w.](?:[\w./%+° -]*[\w./%+°-])?")
_TEXT_BLOCK: Final = re.compile(r"[|>][0-9+-]*[ ]*(?:#.*)?$", re.MULTILINE)
_PROPERTIES: Final = ("&", "*", "!")


@dataclass(frozen=True, slots=True)
class Value:
    """What stands behind a colon. count: the values in it, itself among them."""

    value: Any
    count: int


Parse = Callable[[str], Value | None]
"""Reads what stands behind the colon of a key at the left edge; None where it has a fault or an anchor."""


@dataclass(frozen=True, slots=True)
class Outline:
    """tree: as the parser gives it. entries: for each section, and the keys in it, the number of its line from 0.
    starts: the lines at which a section or an entry begins, in order. lines: how many there are."""

    tree: dict[str, Any]
    entries: Mapping[str, Mapping[str, int]]
    starts: Sequence[int]
    lines: int

    def span(self, section: str, key: str) -> tuple[int, int]:
        """The lines of an entry, the second exclusive. KeyError where there is none."""
        first = self.entries[section][key]
        after = bisect_right(self.starts, first)
        return first, self.starts[after] if after < len(self.starts) else self.lines


def outline(text: str, parse: Parse, plain: Callable[[str], Any], most: int) -> Outline | None:
    """The outline of a text; None where it holds what only the parser can read, or more than `most` values.

    parse: reads what is not plain. plain: the value of a plain scalar.
    """
    lines = _lines(text)
    if lines is None:
        return None
    try:
        return _Reader(lines, parse, plain, most).read()
    except _Unusual:
        return None


class _Unusual(Exception):  # noqa: N818 - no error: the parser reads such a text
    """Something that is left to the parser."""


def in_brackets(text: str, plain: Callable[[str], Any]) -> Value | None:
    """A mapping in brackets of words and numbers, `{fed_from: psu-1.2, length: 5 m}`; None for anything else."""
    if text[:1] != "{" or text[-1:] != "}":
        return None
    found: dict[str, Any] = {}
    for entry in text[1:-1].split(","):
        key, colon, value = entry.partition(": ")
        key, value = key.strip(" "), value.strip(" ")
        if not colon or key in found or not _KEY.fullmatch(key) or not _IN_BRACKETS.fullmatch(value):
            return None
        if key[0] in "\"'" or len(entry) > LONGEST_WORDS:
            return None
        found[key] = plain(value)
    return Value(found, len(found) + 1)


def _lines(text: str) -> list[str] | None:
    """The lines of a text without tabs that has one sort of line ends."""
    if "\t" in text:
        return None
    if "\r" not in text:
        return text.split("\n")
    pairs = text.count("\r\n")
    return text.split("\r\n") if text.count("\r") == pairs == text.count("\n") else None


class _Keys(dict[str, str]):
    """A key by how it is written."""

    def __missing__(self, written: str) -> str:
        if len(written) > LONGEST_WORDS or _KEY.fullmatch(written) is None:
            raise _Unusual
        key = self[written] = written[1:-1] if written[0] in "\"'" else written
        return key


_OTHER: Final = object()


class _Words(dict[str, Any]):
    """A plain scalar by how it is written; _OTHER for what is none, or not for sure."""

    def __init__(self, plain: Callable[[str], Any]) -> None:
        self.plain = plain

    def __missing__(self, written: str) -> Any:
        usual = len(written) <= LONGEST_WORDS and _WORDS.fullmatch(written) is not None
        found = self[written] = self.plain(written) if usual else _OTHER
        return found


class _Reader:
    """One pass over the lines. Its state lives as long as one call of `outline`."""

    def __init__(self, lines: list[str], parse: Parse, plain: Callable[[str], Any], most: int) -> None:
        self.lines = lines
        self.bodies = [line.lstrip(" ") for line in lines]
        self.indents = [len(line) - len(body) for line, body in zip(lines, self.bodies, strict=True)]
        self.said = [number for number, body in enumerate(self.bodies) if body and body[0] != "#"]
        if self.said and lines[self.said[0]] == "---":
            del self.said[0]
        self.parse = parse
        self.words = _Words(plain)
        self.most = most
        self.count = 1

    def read(self) -> Outline:
        """The whole text. Raises _Unusual."""
        bodies, indents, said, words = self.bodies, self.indents, self.said, self.words
        keys = _Keys()
        tree: dict[str, Any] = {}
        margins, holders = [0], [tree]  # the open mappings: where their keys stand, and what they hold so far
        margin, holder = 0, tree
        entries: dict[str, dict[str, int]] = {}
        starts: list[int] = []
        section = ""
        waiting: str | None = None  # a key whose value is on the lines below, if there is one
        at, last = 0, len(said)
        while at < last:
            number = said[at]
            body, indent = bodies[number], indents[number]
            if waiting is not None:
                key, waiting = waiting, None
                self.count += 1
                if indent >= margin and (body == "-" or body.startswith("- ")):
                    end = self._list_end(at, indent)
                    holder[key] = self._parsed("\n" + self._text(number, end, indent))
                    at = end
                    continue
                if indent > margin:
                    holder[key] = made = dict[str, Any]()
                    margin, holder = indent, made
                    margins.append(indent)
                    holders.append(made)
                    if len(margins) > MOST_LEVELS:
                        raise _Unusual
                else:
                    holder[key] = None
            if indent != margin:
                while indent < margin:
                    margins.pop()
                    holders.pop()
                    margin, holder = margins[-1], holders[-1]
                if indent != margin:
                    raise _Unusual
            head, colon, rest = body.partition(": ")
            if not colon:
                if body[-1] != ":":
                    raise _Unusual
                head = body[:-1]
            key = keys[head]
            if key in holder:
                raise _Unusual
            depth = len(margins)
            if depth == 1:
                section = key
                starts.append(number)
            elif depth == 2:
                entries.setdefault(section, {})[key] = number
                starts.append(number)
            at += 1
            goes_on = at < last and indents[said[at]] > indent
            found = words[rest] if rest and not goes_on else _OTHER
            if found is not _OTHER:
                holder[key] = found
                self.count += 1
                continue
            rest = rest.strip(" ")
            if not rest or rest[0] == "#":
                waiting = key
                holder[key] = None
                continue
            if rest.startswith(_PROPERTIES):
                raise _Unusual
            if goes_on or rest[0] in "|>":
                end = self._end(at, indent)
                take = self._block if rest[0] in "|>" else self._text
                rest += "\n" + take(number + 1, end, indent)
                at = end
            holder[key] = self._parsed(" " + rest)
        if waiting is not None:
            self.count += 1
        if not tree or self.count > self.most:
            raise _Unusual
        return Outline(tree, entries, starts, len(self.lines))

    def _end(self, at: int, indent: int) -> int:
        """Past all that belongs to a key which stands at `indent`, from a place in `said` on."""
        while at < len(self.said) and self.indents[self.said[at]] > indent:
            at += 1
        return at

    def _list_end(self, at: int, indent: int) -> int:
        """Past a list whose dashes stand at `indent`."""
        while at < len(self.said):
            number = self.said[at]
            here, body = self.indents[number], self.bodies[number]
            if here < indent or (here == indent and body != "-" and not body.startswith("- ")):
                break
            at += 1
        return at

    def _text(self, number: int, end: int, indent: int) -> str:
        """The lines up to a place in `said`, without the spaces before their key's column."""
        last = self.said[end - 1] + 1
        text = "\n".join(self._dedented(line, indent) for line in self.lines[number:last]) + "\n"
        if _TEXT_BLOCK.search(text):
            raise _Unusual  # what looks like a remark or a blank line may belong to it
        return text

    def _block(self, number: int, end: int, indent: int) -> str:
        """The lines of a block of text, which holds what looks like a remark too; up to a place in `said`."""
        past = number
        while past < len(self.lines) and (not self.bodies[past] or self.indents[past] > indent):
            past += 1
        cut = past < len(self.lines) and self.said[end - 1] >= past  # by a remark further left
        if cut or "+" in self.bodies[number - 1] or (past == len(self.lines) and self.bodies[-1]):
            raise _Unusual  # or the blank lines after it count, or it ends without a line end
        return "\n".join(self._dedented(line, indent) for line in self.lines[number:past]) + "\n"

    def _dedented(self, line: str, indent: int) -> str:
        if line[:indent].strip(" "):
            raise _Unusual  # a remark further left, which may end what goes on here
        return line[indent:]

    def _parsed(self, text: str) -> Any:
        """What the parser reads behind a colon."""
        if len(text) > MOST_BRACKETS and _deep(text):
            raise _Unusual
        found = self.parse(text)
        if found is None:
            raise _Unusual
        self.count += found.count
        return found.value


def _deep(text: str) -> bool:
    """Whether brackets and dashes might stand inside each other further than MOST_BRACKETS."""
    if text.count("[") + text.count("{") + text.count("- ") <= MOST_BRACKETS:
        return False
    depth = deepest = 0
    for char in text:
        depth += (char in "[{") - (char in "]}")
        deepest = max(deepest, depth)
    return deepest + max(line.count("- ") for line in text.split("\n")) > MOST_BRACKETS
