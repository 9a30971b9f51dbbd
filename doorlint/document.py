"""YAML text -> `Document`: a plain tree plus the exact place of every key and value in the text.

Built from PyYAML *parse events* alone (libyaml's parser where PyYAML was built with it, else the pure
Python one). Node objects (`compose`) or loaded objects (`safe_load`) would be several times slower, lose the
place of an alias use and of every number, and type plain text by YAML 1.1. Plain scalars are typed here by
the core schema of YAML 1.2.2, section 10.3.2; quoted and block scalars stay text, keys are always their text.

Nothing here raises on bad text: what is wrong becomes a `Problem`, and the tree holds what could be trusted.
All offsets are counted in code points of `Document.text`.
"""

from __future__ import annotations

import math
import re
import stat
import sys
from array import array
from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from itertools import islice
from pathlib import Path
from typing import Any, Final, Literal, NamedTuple

import yaml
from yaml.events import (
    AliasEvent,
    DocumentStartEvent,
    MappingEndEvent,
    MappingStartEvent,
    ScalarEvent,
    SequenceEndEvent,
    SequenceStartEvent,
)
from yaml.parser import Parser
from yaml.reader import Reader
from yaml.scanner import Scanner

from .outline import Outline, Value, in_brackets, outline

try:
    from yaml.cyaml import CParser  # type: ignore[attr-defined]  # the stubs do not list it
except ImportError:  # pragma: no cover - depends on how PyYAML was built
    HAVE_LIBYAML = False
else:
    HAVE_LIBYAML = True

__all__ = ["HAVE_LIBYAML", "Document", "Limits", "Problem", "Region", "load", "parse", "read_text"]

ProblemCode = Literal["syntax", "duplicate-key", "limit", "encoding", "alias", "tag", "key", "documents"]

_PROBLEMS_KEPT: Final = 200
"""A text that is wrong everywhere is told so 200 times and no more."""


@dataclass(frozen=True, slots=True)
class Region:
    """A stretch of `Document.text`: code point offsets from 0, `end` exclusive."""

    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Problem:
    """Something wrong with the text itself, before anybody asks what it means.

    `related` names further places, each with a few words: the first of two equal keys, the bracket left open.
    """

    code: ProblemCode
    message: str
    region: Region
    related: tuple[tuple[str, Region], ...] = ()


@dataclass(frozen=True, slots=True)
class Limits:
    """How much one text may ask for. Whatever goes beyond is left out of the tree and reported as "limit"."""

    nodes: int = 5_000_000
    """Values written in the text (containers and scalars; keys not counted)."""
    depth: int = 200
    """Containers inside each other, those reached through aliases included."""
    expansion: int = 1_000_000
    """Values that aliases add, when every alias is counted as a copy."""
    size: int = 64_000_000
    """Code points of text for `parse`, bytes for `load`."""
    key: int = 1024
    """Code points of a key: what YAML 1.2.2 (section 8.2.2) allows a key that has no `?` before it."""
    scalar: int = 100_000
    """Code points of any other scalar."""
    number_digits: int = 100
    """A longer number is kept as text."""


# ----------------------------------------------------------------------------------------------------
# The places


class _Nodes:
    """Where every value stands, in the order in which the text opens them; no Python object per value.

    Node `i` covers text `start[i]:end[i]`, its key `key_start[i]:key_end[i]`. Its children are `i + 1`, then
    each time `after[child]`, up to `after[i]`. For an alias `target` holds the node that the anchor names.
    """

    __slots__ = ("after", "end", "key_end", "key_start", "start", "target")

    def __init__(self) -> None:
        self.start = array("i")
        self.end = array("i")
        self.key_start = array("i")
        self.key_end = array("i")
        self.after = array("i")
        self.target: dict[int, int] = {}

    def children(self, node: int, stop: int) -> Iterator[int]:
        """The children that the tree shows, in its order; `stop` is the end of what is read of `node` so far."""
        return self.siblings(node + 1, stop)

    def siblings(self, child: int, stop: int) -> Iterator[int]:
        while child < stop:
            if self.key_start[child] != _HIDDEN:
                yield child
            child = self.after[child]

    def truncate(self, length: int) -> None:
        for column in (self.start, self.end, self.key_start, self.key_end, self.after):
            del column[length:]
        for node in [node for node in self.target if node >= length]:
            del self.target[node]


_NO_KEY: Final = -1
_HIDDEN: Final = -2
"""Not in the tree (second of two equal keys), but kept: an anchor in it may be used later."""


@dataclass(frozen=True, eq=False)
class Document:
    """One YAML text, read. `tree` is made of dict, list, str, int, float, bool, None; treat it as read-only.

    Pointers are JSON Pointers (RFC 6901) into `tree`: "" is the whole, "/openings/114A/set" a value, with
    `~1` for a slash and `~0` for a tilde in a key. Values that aliases share are one object in the tree.
    """

    name: str
    text: str = field(repr=False)
    tree: Any = field(repr=False)
    problems: tuple[Problem, ...]
    _given: _Nodes | None = field(repr=False, default=None)
    _outline: Outline | None = field(repr=False, default=None)
    _index: dict[int, dict[str, int]] = field(repr=False, default_factory=dict, init=False)
    _parts: dict[tuple[str, str], Document] = field(repr=False, default_factory=dict, init=False)

    @cached_property
    def _nodes(self) -> _Nodes:
        """Where all values stand. Of a text with an outline, found out when it is first asked for as a whole."""
        if self._given is not None:
            return self._given
        return _Nodes() if self._outline is None else _built(self.text, Limits()).nodes

    def region(self, pointer: str, part: Literal["key", "value"] = "value") -> Region:
        """The text of a value, or of its key.

        Quotes belong to a scalar's region, brackets to a flow collection's; anchors, tags and comments do
        not. A block collection ends with its last value, a block scalar with its last written character. A
        value left empty is a zero-length region right after its colon (or dash). A value reached through an
        alias is where the alias is used (`*name`), and so is a key inside; `alias_site` says where it is
        written.

        Raises KeyError for a pointer that does not exist, and for the key of a list item or of the whole.
        """
        if self._outline is not None:
            found = self._in_part(pointer, part)
            if found is not None:
                return found
        nodes = self._nodes
        node, use = self._find(pointer)
        if part == "key" and (node < 0 or nodes.key_start[node] < 0):
            raise KeyError(f"{pointer!r} has no key")
        # The key before an alias is real text; what lies inside is not written at the place of use.
        if part == "key" and (use is None or use == node):
            return Region(nodes.key_start[node], nodes.key_end[node])
        shown = node if use is None else use
        return Region(nodes.start[shown], nodes.end[shown]) if shown >= 0 else Region(0, 0)

    def has(self, pointer: str, part: Literal["key", "value"] = "value") -> bool:
        """Whether the tree holds this pointer; with "key", whether what it leads to has a key."""
        try:
            return held(self.tree, tokens_of(pointer), part)
        except KeyError:
            return False

    def alias_site(self, pointer: str) -> Region | None:
        """Where a value reached through an alias is written; None without alias. KeyError as `region`."""
        if self._outline is not None and self.has(pointer):
            return None
        node, use = self._find(pointer)
        if use is None:
            return None
        target = self._nodes.target.get(node, node)
        return Region(self._nodes.start[target], self._nodes.end[target])

    def position(self, offset: int) -> tuple[int, int]:
        """Line and column, both from 1, the column in code points. An offset past the end is the end."""
        offset = min(max(offset, 0), len(self.text))
        line = bisect_right(self._line_starts, offset)
        return line, offset - self._line_starts[line - 1] + 1

    def line_text(self, line: int) -> str:
        """One line, counted from 1, without its line break. IndexError if the text has no such line."""
        starts = self._line_starts
        if not 1 <= line <= len(starts):
            raise IndexError(f"{self.name} has lines 1 to {len(starts)}, not {line}")
        end = starts[line] if line < len(starts) else len(self.text)
        return self.text[starts[line - 1] : end].rstrip("\r\n")

    def source(self, region: Region) -> str:
        """The text of a region, exactly as written."""
        return self.text[region.start : region.end]

    @cached_property
    def _line_starts(self) -> array[int]:
        # YAML 1.2 breaks lines at LF, CR LF and CR only; NEL, LS and PS are ordinary characters.
        return array("i", [0, *(match.end() for match in re.finditer(r"\r\n|\n|\r", self.text))])

    def _in_part(self, pointer: str, part: Literal["key", "value"]) -> Region | None:
        """A region inside an entry of a section, of which no more than the entry is read for it; None elsewhere."""
        _, section, entry, *_ = (pointer + "//").split("/", 3)
        assert self._outline is not None
        listed = self._outline.entries.get(section)
        if listed is None or entry not in listed:
            return None
        first, end = self._outline.span(section, entry)
        starts = self._line_starts
        base = starts[first]
        apart = self._parts.get((section, entry))
        if apart is None:
            text = self.text[base : starts[end] if end < len(starts) else len(self.text)]
            tree = {entry: self.tree[section][entry]}
            apart = self._parts[section, entry] = Document(self.name, text, tree, (), _built(text, Limits()).nodes)
        found = apart.region(pointer[len(section) + 1 :], part)
        return Region(found.start + base, found.end + base)

    def _find(self, pointer: str) -> tuple[int, int | None]:
        """The node (-1 if the text has no value at all), and the first alias on the way to it."""
        node, value, use = (0 if len(self._nodes.start) else -1), self.tree, None
        for token in tokens_of(pointer):
            if node in self._nodes.target:
                use = node if use is None else use
                node = self._nodes.target[node]
            if not isinstance(value, dict | list):
                raise KeyError(f"{pointer!r} does not exist in {self.name}")
            index = self._index.get(node)
            if index is None:
                children = self._nodes.children(node, self._nodes.after[node])
                keys = value if isinstance(value, dict) else map(str, range(len(value)))
                index = self._index[node] = dict(zip(keys, children, strict=True))
            if token not in index:
                raise KeyError(f"{pointer!r} does not exist in {self.name}")
            node = index[token]
            value = value[token] if isinstance(value, dict) else value[int(token)]
        if node in self._nodes.target and use is None:
            use = node
        return node, use


def held(tree: Any, tokens: Sequence[str], part: str, *, keyed: bool = False) -> bool:
    """Whether a tree holds what the tokens of a pointer lead to; with part "key", whether that has a key. keyed: the
    tree itself has one."""
    for token in tokens:
        if isinstance(tree, dict) and token in tree:
            tree, keyed = tree[token], True
        elif isinstance(tree, list) and (index := _list_index(token)) < len(tree):
            tree, keyed = tree[index], False
        else:
            return False
    return keyed or part != "key"


def _list_index(token: str) -> int:
    """The number of a list item as a pointer writes it; one beyond any list for another text."""
    plain = token.isascii() and token.isdecimal() and len(token) < 10 and (token[0] != "0" or token == "0")
    return int(token) if plain else sys.maxsize


def tokens_of(pointer: str) -> list[str]:
    """The keys and numbers that a JSON Pointer leads through. KeyError for a text that is none."""
    if not pointer:
        return []
    if not pointer.startswith("/"):
        raise KeyError(f"{pointer!r} is no JSON Pointer: it has to start with '/'")
    tokens = pointer[1:].split("/")
    if "~" in pointer:
        tokens = [token.replace("~1", "/").replace("~0", "~") for token in tokens]
    return tokens


# ----------------------------------------------------------------------------------------------------
# Scalars: the core schema of YAML 1.2.2, section 10.3.2

_CORE_WORDS: Final[dict[str, bool | float | None]] = {
    **dict.fromkeys(("", "~", "null", "Null", "NULL")),
    **dict.fromkeys(("true", "True", "TRUE"), True),
    **dict.fromkeys(("false", "False", "FALSE"), False),
    **{sign + word: math.inf for sign in ("", "+") for word in (".inf", ".Inf", ".INF")},
    **{"-" + word: -math.inf for word in (".inf", ".Inf", ".INF")},
    **dict.fromkeys((".nan", ".NaN", ".NAN"), math.nan),
}
_NUMBER_START: Final = frozenset("0123456789+-.")
# How a plain scalar that is not text may begin; empty apart.
_TYPED_START: Final = _NUMBER_START | frozenset("~nNtTfF")
_BLOCK_STYLES: Final = ("|", ">")
_INT: Final = re.compile(r"[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+")
_FLOAT: Final = re.compile(r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?")


def _plain_value(text: str, digits: int) -> str | int | float | bool | None:
    """A plain scalar by the core schema; a number that is too long or not finite stays text."""
    if text in _CORE_WORDS:
        return _CORE_WORDS[text]
    if text[0] not in _NUMBER_START or len(text) > digits:
        return text
    if _INT.fullmatch(text):
        # int(text, 0) would refuse the leading zeros that the core schema reads as decimal (010 is ten).
        base = {"0o": 8, "0x": 16}.get(text[:2], 10)
        return int(text if base == 10 else text[2:], base)
    if _FLOAT.fullmatch(text):
        number = float(text)
        return number if math.isfinite(number) else text
    return text


_CORE_TAG: Final = "tag:yaml.org,2002:"
_SCALAR_TAGS: Final[dict[str, tuple[type, ...]]] = {
    "int": (int,),
    "float": (float, int),
    "bool": (bool,),
    "null": (type(None),),
}


# ----------------------------------------------------------------------------------------------------
# From events to tree and places


class _PureParser(Reader, Scanner, Parser):
    """PyYAML's pure Python parser, without composer, resolver and constructor."""

    def __init__(self, text: str) -> None:
        Reader.__init__(self, text)
        Scanner.__init__(self)
        Parser.__init__(self)


class _Frame:
    """A container still open."""

    __slots__ = (
        "anchor",
        "as_key",
        "bracketed",
        "first",
        "flow",
        "height",
        "key",
        "key_end",
        "key_start",
        "last_child",
        "last_end",
        "mapping",
        "node",
        "unindexed",
        "value",
    )

    def __init__(self, node: int, value: Any, *, mapping: bool, flow: bool, start: int) -> None:
        self.node = node
        self.value = value
        self.mapping = mapping
        self.flow = flow
        self.bracketed = False
        self.as_key = False
        self.anchor: _Anchor | None = None
        self.key: str | None = None
        self.key_start = _NO_KEY
        self.key_end = _NO_KEY
        self.first: dict[str, int] = {}  # node by key, filled only when a key comes twice
        self.unindexed = node + 1  # the first child not in it
        self.last_child = -1
        self.last_end = start
        self.height = 1


class _Anchor:
    __slots__ = ("height", "name", "node", "ready", "size", "value")

    def __init__(self, name: str, node: int, size: int) -> None:
        self.name = name
        self.node = node
        self.size = size
        self.value: Any = None
        self.height = 0
        self.ready = False


# An anchor or a tag, and what may stand between it and the value.
_PROPERTY: Final = re.compile(r"(?:!<[^>\s]*>|[&!][^\s,\[\]{}]*)(?:[ \t\r\n]+(?:#[^\r\n]*(?:[ \t\r\n]+|\Z))*)?")


class _Builder:
    """One pass over the events. Its state lives as long as one call of `parse`."""

    def __init__(self, text: str, shift: int, limits: Limits, restore: dict[int, str]) -> None:
        self.text = text
        self.shift = shift
        self.limits = limits
        self.restore = restore
        self.nodes = _Nodes()
        self.problems: list[Problem] = []
        self.tree: Any = None
        self.stack: list[_Frame] = []
        self.anchors: dict[str, _Anchor] = {}
        self.extra = 0  # values that aliases have added so far
        self.truncated = False

    # -- the pass ----------------------------------------------------------------------------------

    def run(self, next_event: Callable[[], Any]) -> None:
        documents = 0
        try:
            # A bound method called until it returns None: PyYAML's own end of stream.
            for event in iter(next_event, None):
                kind = type(event)
                if kind is ScalarEvent:
                    self.scalar(event)
                elif kind is MappingStartEvent:
                    self.open(event, {}, next_event)
                elif kind is MappingEndEvent or kind is SequenceEndEvent:
                    self.close(event.end_mark.index + self.shift)
                elif kind is SequenceStartEvent:
                    self.open(event, [], next_event)
                elif kind is AliasEvent:
                    self.alias(event)
                elif kind is DocumentStartEvent:
                    documents += 1
                    if documents > 1:
                        self.second_document(event)
                        return
                if self.truncated:
                    break
        except _READ_ERRORS as error:
            self.syntax_error(error)
        while self.stack:  # only after an error or a limit
            self.close(self.stack[-1].last_end)

    def scalar(self, event: Any) -> None:
        """The usual scalar; short, because most of the pass is spent here. `rare_scalar` takes the others."""
        text: str = event.value
        style = event.style
        stack = self.stack
        if (
            not text
            or not stack
            or style in _BLOCK_STYLES
            or event.anchor is not None
            or event.tag is not None
            or self.restore
            or len(text) > self.limits.key
            or (style == '"' and not HAVE_LIBYAML)
        ):
            self.rare_scalar(event)
            return
        frame = stack[-1]
        start: int = event.start_mark.index + self.shift
        end: int = event.end_mark.index + self.shift
        if frame.mapping and frame.key is None:
            if text in frame.value:
                self.begin_entry(frame, text, start, end)
                return
            frame.key = text
            frame.key_start = start
            frame.key_end = frame.last_end = end
            return
        if not style and text[0] in _TYPED_START:
            self.attach(_plain_value(text, self.limits.number_digits), start, end)
        else:
            self.attach(text, start, end)

    def rare_scalar(self, event: Any) -> None:
        """Any scalar: empty, tagged, anchored, a text block, the whole document."""
        shift = self.shift
        start: int = event.start_mark.index + shift
        end: int = event.end_mark.index + shift
        text: str = event.value
        if self.restore:
            text = text.translate(self.restore)
        style, tag = event.style, event.tag
        plain = not style  # the pure parser says None, libyaml ""
        if plain and not text:
            start = end = self.empty_place(end)
        elif event.anchor is not None or tag is not None:
            start = self.skip_properties(start, end)
        if style in _BLOCK_STYLES:
            end = start + len(self.text[start:end].rstrip())
        if not HAVE_LIBYAML and _SURROGATE.search(text):  # libyaml refuses such an escape itself
            message = "a backslash escape here names half a character; expected the character itself"
            self.problem("encoding", message, Region(start, end))
            text = _SURROGATE.sub("\N{REPLACEMENT CHARACTER}", text)
        frame = self.stack[-1] if self.stack else None
        as_key = frame is not None and frame.mapping and frame.key is None
        longest = self.limits.key if as_key else self.limits.scalar
        if len(text) > longest:
            what = "key" if as_key else "text"
            self.problem("limit", f"this {what} is longer than {longest} characters and left out", Region(start, end))
            if frame is not None and as_key:
                self.begin_entry(frame, None, start, end)
            else:
                self.attach(None, start, end)
            return
        if frame is not None and as_key:
            if event.anchor is not None:
                node = self.hide(start, end)
                if node >= 0:
                    value = _plain_value(text, self.limits.number_digits) if plain else text
                    self.finish_anchor(_Anchor(event.anchor, node, self.size() - 1), value, 0)
            if tag is not None:
                self.tagged(tag, text, Region(start, end), plain=False)
            missing = plain and not text
            if missing:
                message = "there is no key before the ':'; expected `key: value`"
                self.problem("key", message, Region(start, end))
            self.begin_entry(frame, None if missing else text, start, end)
            return
        value = text
        if tag is not None:
            value = self.tagged(tag, text, Region(start, end), plain=plain)
        elif plain:
            value = _plain_value(text, self.limits.number_digits)
        node = self.attach(value, start, end)
        if event.anchor is not None and node >= 0:
            self.finish_anchor(_Anchor(event.anchor, node, self.size() - 1), value, 0)

    def open(self, event: Any, value: Any, next_event: Callable[[], Any]) -> None:
        start: int = event.start_mark.index + self.shift
        end: int = event.end_mark.index + self.shift
        mapping = isinstance(value, dict)
        if event.anchor is not None or event.tag is not None:
            start = self.skip_properties(start, end)
        if event.tag is not None and event.tag not in ("!", _CORE_TAG + ("map" if mapping else "seq")):
            self.bad_tag(event.tag, Region(start, max(start, end)))
        if len(self.stack) >= self.limits.depth:
            self.skip(start, next_event)
            return
        parent = self.stack[-1] if self.stack else None
        as_key = parent is not None and parent.mapping and parent.key is None
        node = self.attach(value, start, start, opening=True)
        if node < 0:
            return
        frame = _Frame(node, value, mapping=mapping, flow=bool(event.flow_style), start=start)
        frame.bracketed = frame.flow and self.text[start : start + 1] in ("[", "{")
        frame.as_key = as_key
        if event.anchor is not None:
            frame.anchor = _Anchor(event.anchor, node, self.size() - 1)
            self.anchors[event.anchor] = frame.anchor
        self.stack.append(frame)

    def close(self, event_end: int) -> None:
        frame = self.stack.pop()
        nodes = self.nodes
        # PyYAML ends a block collection at the next token, past comments and blank lines.
        end = event_end if frame.bracketed else frame.last_end
        nodes.end[frame.node] = end
        nodes.after[frame.node] = len(nodes.start)
        if frame.anchor is not None:
            self.finish_anchor(frame.anchor, frame.value, frame.height)
        if not self.stack:
            return
        parent = self.stack[-1]
        parent.last_end = max(parent.last_end, end)
        parent.height = max(parent.height, frame.height + 1)
        if frame.as_key:
            self.collection_key(parent, frame.node)

    def alias(self, event: Any) -> None:
        region = Region(event.start_mark.index + self.shift, event.end_mark.index + self.shift)
        anchor = self.anchors.get(event.anchor)
        name = event.anchor
        frame = self.stack[-1] if self.stack else None
        if frame is not None and frame.mapping and frame.key is None:
            self.problem("key", f"the alias *{name} stands for a key; expected the key written out", region)
            self.begin_entry(frame, None, region.start, region.end)
            return
        if anchor is None:
            message = f"*{name} has no anchor; expected `&{name}` before a value further up"
            self.problem("alias", message, region)
        elif not anchor.ready:
            place = self.nodes.start[anchor.node]
            self.problem(
                "alias",
                f"*{name} stands inside the value that &{name} names, so the value would contain itself",
                region,
                (f"&{name} names the value that starts here", Region(place, min(place + 1, len(self.text)))),
            )
        elif self.extra + anchor.size - 1 > self.limits.expansion:
            message = f"*{name} is left out: aliases here stand for more than {self.limits.expansion} values"
            self.problem("limit", message, region)
        elif len(self.stack) + anchor.height > self.limits.depth:
            message = f"*{name} is left out: it nests deeper than {self.limits.depth} containers"
            self.problem("limit", message, region)
        else:
            node = self.attach(anchor.value, region.start, region.end)
            if node >= 0:
                # An anchor never names an alias, so targets need no chain.
                self.nodes.target[node] = anchor.node
                self.extra += anchor.size - 1
                if frame is not None:
                    frame.height = max(frame.height, anchor.height + 1)
            return
        self.attach(None, region.start, region.end)

    # -- entries -----------------------------------------------------------------------------------

    def begin_entry(self, frame: _Frame, key: str | None, start: int, end: int) -> None:
        """A key was read. None: what follows it is read, checked and left out of the tree."""
        frame.last_end = max(frame.last_end, end)
        hidden = key is None
        if key is not None and key in frame.value:
            hidden = True
            listed = len(self.problems) < _PROBLEMS_KEPT  # else spare the search
            first = self.key_region(frame, key) if listed else Region(start, end)
            message = f"the key {_quoted(key)} is written twice in one mapping; only the first counts"
            self.problem("duplicate-key", message, Region(start, end), ("first written here", first))
        frame.key = "" if key is None else key
        frame.key_start = _HIDDEN if hidden else start
        frame.key_end = end

    def key_region(self, frame: _Frame, key: str) -> Region:
        nodes = self.nodes
        keys = islice(frame.value, len(frame.first), None)
        frame.first.update(zip(keys, nodes.siblings(frame.unindexed, len(nodes.start)), strict=True))
        frame.unindexed = len(nodes.start)
        child = frame.first[key]
        return Region(nodes.key_start[child], nodes.key_end[child])

    def attach(self, value: Any, start: int, end: int, *, opening: bool = False) -> int:
        """Add a value to the innermost open container (or as the whole); its node, or -1 past the limit."""
        nodes = self.nodes
        node = len(nodes.start)
        if node >= self.limits.nodes:
            self.too_many(start, end)
            return -1
        key_start = key_end = _NO_KEY
        if not self.stack:
            self.tree = value
        else:
            frame = self.stack[-1]
            if not frame.mapping:
                frame.value.append(value)
            elif frame.key is None:  # a container as key; `close` reports it
                key_start = key_end = _HIDDEN
            else:
                key_start, key_end = frame.key_start, frame.key_end
                if key_start != _HIDDEN:
                    frame.value[frame.key] = value
                frame.key = None
            frame.last_child = node
            if not opening and end > frame.last_end:
                frame.last_end = end
        nodes.start.append(start)
        nodes.end.append(end)
        nodes.key_start.append(key_start)
        nodes.key_end.append(key_end)
        nodes.after.append(node + 1)
        return node

    def hide(self, start: int, end: int) -> int:
        """Add a node that the tree does not show; -1 past the limit."""
        nodes = self.nodes
        node = len(nodes.start)
        if node >= self.limits.nodes:
            self.too_many(start, end)
            return -1
        for column, number in (
            (nodes.start, start),
            (nodes.end, end),
            (nodes.key_start, _HIDDEN),
            (nodes.key_end, _HIDDEN),
            (nodes.after, node + 1),
        ):
            column.append(number)
        return node

    def too_many(self, start: int, end: int) -> None:
        if not self.truncated:
            message = f"the text holds more than {self.limits.nodes} values; the rest is left out"
            self.problem("limit", message, Region(start, end))
        self.truncated = True

    def size(self) -> int:
        """Values so far, every alias counted as a copy."""
        return len(self.nodes.start) + self.extra

    def finish_anchor(self, anchor: _Anchor, value: Any, height: int) -> None:
        anchor.value = value
        anchor.height = height
        anchor.size = self.size() - anchor.size
        anchor.ready = True
        current = self.anchors.get(anchor.name)
        # The same name may have been given again inside; the later one counts.
        if current is None or current.node <= anchor.node:
            self.anchors[anchor.name] = anchor

    def collection_key(self, parent: _Frame, node: int) -> None:
        region = Region(self.nodes.start[node], self.nodes.end[node])
        self.problem("key", "a list or mapping stands where a key belongs; expected a word or a text", region)
        self.begin_entry(parent, None, region.start, region.end)

    def skip(self, start: int, next_event: Callable[[], Any]) -> None:
        """Read past a container that lies too deep."""
        message = f"nested deeper than {self.limits.depth} containers; this part is left out"
        self.problem("limit", message, Region(start, min(start + 1, len(self.text))))
        depth, end = 1, start
        while depth:
            event = next_event()
            kind = type(event)
            if kind is MappingStartEvent or kind is SequenceStartEvent:
                depth += 1
            elif kind is MappingEndEvent or kind is SequenceEndEvent:
                depth -= 1
                if event.start_mark.index == event.end_mark.index:
                    continue  # a block collection "ends" at the next token
            end = event.end_mark.index + self.shift
        end = start + len(self.text[start:end].rstrip())
        frame = self.stack[-1] if self.stack else None
        if frame is not None and frame.mapping and frame.key is None:
            self.begin_entry(frame, None, start, end)
        else:
            self.attach(None, start, end)

    # -- places ------------------------------------------------------------------------------------

    def skip_properties(self, start: int, end: int) -> int:
        """The start of a value after its anchor and tag, which PyYAML counts in."""
        while match := _PROPERTY.match(self.text, start, end):
            start = match.end()
        return start

    def empty_place(self, mark: int) -> int:
        """Where a value that is not written would start: right after its colon, or where PyYAML puts it."""
        frame = self.stack[-1] if self.stack else None
        if frame is None or not frame.mapping or frame.key is None or frame.key_end > mark:
            return mark
        between = self.text[frame.key_end : mark]
        blank = len(between) - len(between.lstrip())
        if between[blank : blank + 1] == ":" and not between[blank + 1 :].strip():
            return frame.key_end + blank + 1
        return mark if between.strip() else frame.key_end

    # -- what is wrong -----------------------------------------------------------------------------

    def problem(self, code: ProblemCode, message: str, region: Region, *related: tuple[str, Region]) -> None:
        if len(self.problems) < _PROBLEMS_KEPT:
            self.problems.append(Problem(code, message, region, related))
        elif len(self.problems) == _PROBLEMS_KEPT:
            message = f"more than {_PROBLEMS_KEPT} problems in this text; the rest is not listed"
            self.problems.append(Problem("limit", message, region))

    def bad_tag(self, tag: str, region: Region) -> None:
        name = tag if tag.startswith("!") else f"!<{tag}>"
        self.problem("tag", f"the tag {name} has no meaning here and is ignored; expected no tag", region)

    def tagged(self, tag: str, text: str, region: Region, *, plain: bool) -> Any:
        """The value of a scalar that carries a tag."""
        name = tag.removeprefix(_CORE_TAG)
        if tag == "!" or (name == "str" and name != tag):
            return text
        wanted = _SCALAR_TAGS.get(name) if name != tag else None
        value = _plain_value(text, self.limits.number_digits)
        if wanted is None:
            self.bad_tag(tag, region)
            return value if plain else text
        # bool is an int to Python, not to YAML.
        if isinstance(value, wanted) and (not isinstance(value, bool) or bool in wanted):
            return float(value) if name == "float" and isinstance(value, int) else value
        self.problem("tag", f"{_quoted(text)} is tagged !!{name} but is none; it is kept as text", region)
        return text

    def second_document(self, event: Any) -> None:
        start = event.start_mark.index + self.shift
        end = max(start, event.end_mark.index + self.shift)
        message = "a second YAML document starts here and is not read; expected one document per file"
        self.problem("documents", message, Region(start, end))

    def syntax_error(self, error: Exception) -> None:
        offset, message, related = _explain(error, self.text, self.shift)
        word = re.compile(r"[^\s]{1,40}|[ \t]{0,40}").match(self.text, offset)
        region = Region(offset, word.end() if word else offset)
        self.problem("syntax", message, region, *related)
        self.salvage(offset)

    def salvage(self, offset: int) -> None:
        """Drop what the error makes doubtful: open brackets, a half-read entry, a text that ran on."""
        innermost = True
        while self.stack:
            frame = self.stack[-1]
            if not (frame.flow or frame.as_key):
                frame.key = None
                if innermost:
                    self.drop_doubtful(frame, offset)
                    innermost = False
                if frame.value:
                    return
            self.stack.pop()
            self.nodes.truncate(frame.node)
            if not self.stack:
                self.tree = None
                return
            self.detach_last(self.stack[-1], frame)

    def detach_last(self, parent: _Frame, frame: _Frame) -> None:
        """Take a dropped container out of its parent, if it was shown there."""
        parent.last_child = -1
        shown = parent.value and frame.value is (
            next(reversed(parent.value.values())) if parent.mapping else parent.value[-1]
        )
        if shown:
            if parent.mapping:
                parent.value.popitem()
            else:
                parent.value.pop()
        self.refresh_end(parent)

    def drop_doubtful(self, frame: _Frame, offset: int) -> None:
        nodes = self.nodes
        child = frame.last_child
        if child < 0 or not frame.value or nodes.key_start[child] == _HIDDEN or child in nodes.target:
            self.refresh_end(frame)
            return
        last = next(reversed(frame.value.values())) if frame.mapping else frame.value[-1]
        source = self.text[nodes.start[child] : nodes.end[child]]
        gap = self.text[nodes.end[child] : offset]
        run_on = "\n" in source or "\r" in source
        same_line = "\n" not in gap and "\r" not in gap
        if not isinstance(last, dict | list) and (run_on or same_line):
            nodes.truncate(child)
            if frame.mapping:
                frame.value.popitem()
            else:
                frame.value.pop()
        self.refresh_end(frame)

    def refresh_end(self, frame: _Frame) -> None:
        """After entries were dropped, end the container with what is left."""
        nodes = self.nodes
        end = nodes.start[frame.node]
        for child in nodes.children(frame.node, len(nodes.start)):
            end = max(end, nodes.end[child], nodes.key_end[child])
        frame.last_end = end


def _quoted(text: str) -> str:
    shown = text if len(text) <= 60 else text[:57] + "..."
    return '"' + "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in shown) + '"'


# ----------------------------------------------------------------------------------------------------
# Syntax errors in our own words

# ValueError, OverflowError: the pure parser lets chr() and int() fail on `\UFFFFFFFF` or a huge %YAML.
_READ_ERRORS: Final = (yaml.YAMLError, ValueError, OverflowError, RecursionError)

_UNCLOSED_QUOTES: Final = "the quotes opened here are never closed; expected the closing quote"
_LIST_COLUMN: Final = "this does not line up with the list items above; expected '- ' at their column"
_BAD_TAG: Final = "the tag here cannot be read; expected no tag"
_BAD_DIRECTIVE: Final = "the line that starts with '%' cannot be read; expected no such line"
_SHORT_ESCAPE: Final = "the backslash escape here is cut short; expected hexadecimal digits"


class _Said(NamedTuple):
    """What to say when PyYAML's problem and context hold these words; the first match counts."""

    problem: str
    context: str
    message: str
    at_context: bool = False
    """Whether the place where it began says more than the place where the parser gave up."""


_SYNTAX: Final = (
    _Said("nesting depth", "", "the brackets nest too deep; expected fewer inside each other"),
    _Said("could not find expected ':'", "", "no ':' follows this key; expected `key: value`", True),
    _Said(
        "mapping values are not allowed",
        "",
        "a ':' stands where no key can be; expected one `key: value` per line, "
        "or quotes round a text that contains ': '",
    ),
    _Said("tab", "", "a tab stands in the indentation; expected spaces"),
    _Said("',' or ']'", "", "the list opened with '[' does not go on like this; expected ',' or ']'"),
    _Said("',' or '}'", "", "the mapping opened with '{' does not go on like this; expected ',' or '}'"),
    _Said("end of stream", "quoted", _UNCLOSED_QUOTES, True),
    _Said("document indicator", "quoted", _UNCLOSED_QUOTES, True),
    _Said(
        "escape",
        "",
        "the backslash here starts no known escape; expected two for one backslash, or single quotes round the text",
    ),
    _Said("hexdecimal", "", _SHORT_ESCAPE),  # libyaml's spelling
    _Said("hexadecimal", "", _SHORT_ESCAPE),
    _Said("Unicode character code", "", "the backslash escape here names no character"),
    _Said(
        "sequence entries are not allowed",
        "",
        "a list item '- ' cannot start here; expected it on a line of its own below the key",
    ),
    _Said("not allowed", "", "no key can start here; expected it on a line of its own"),
    _Said("'-' indicator", "", _LIST_COLUMN),
    _Said("", "block sequence", _LIST_COLUMN),
    _Said("", "block collection", _LIST_COLUMN),
    _Said("", "flow node", "a value is missing here; expected a value before ',' or the closing bracket"),
    _Said("", "block node", "a value is missing here; expected a value"),
    _Said("", "block scalar", "the line that opens the text block cannot be read; expected only '|' or '>'"),
    _Said("tag", "", _BAD_TAG),
    _Said("", "tag", _BAD_TAG),
    _Said("", "anchor", "the anchor here cannot be read; expected '&' and a name of letters and digits"),
    _Said("", "alias", "the alias here cannot be read; expected '*' and a name of letters and digits"),
    _Said("", "directive", _BAD_DIRECTIVE),
    _Said("incompatible", "", "the %YAML line asks for another YAML; expected 1.2 or no such line"),
    _Said("directive", "", _BAD_DIRECTIVE),
    _Said("document start", "", "text stands after the end of the document; expected one mapping per file"),
    _Said("", "simple key", "this is too long for a key, or no ':' follows it; expected `key: value`"),
)


def _explain(error: Exception, text: str, shift: int) -> tuple[int, str, tuple[tuple[str, Region], ...]]:
    """Offset, message and further places of an error that PyYAML raised."""
    problem = str(getattr(error, "problem", None) or "")
    context = str(getattr(error, "context", None) or "")
    mark = getattr(error, "problem_mark", None)
    context_mark = getattr(error, "context_mark", None)
    offset = len(text) if mark is None else min(mark.index + shift, len(text))
    opened = None if context_mark is None else min(context_mark.index + shift, len(text))
    if "cannot start any token" in problem:
        return offset, _bad_start(text[offset : offset + 1]), ()
    if "block mapping" in context:
        before = text[max(text.rfind("\n", 0, offset), text.rfind("\r", 0, offset)) + 1 : offset]
        if offset >= len(text):
            message = "the text ends in the middle of an entry; expected `key: value`"
        elif before.strip():
            message = "something follows a value that was complete; expected the next key on its own line"
        else:
            message = "this line does not line up with the keys above; expected the same indentation"
        return offset, message, _opened_at(text, opened, "the mapping starts here")
    for said in _SYNTAX:
        if said.problem in problem and said.context in context:
            if said.at_context and opened is not None:
                return opened, said.message, ()
            if said.problem == "escape" and text[offset - 1 : offset] == "\\":
                offset -= 1  # the pure parser points behind the backslash, libyaml at it
            in_brackets = said.problem.startswith("','")
            return offset, said.message, _opened_at(text, opened, "opened here") if in_brackets else ()
    return offset, "this cannot be read as YAML", ()


def _bad_start(char: str) -> str:
    if char == "\t":
        return "a tab stands in the indentation; expected spaces"
    return f"a value cannot start with {_quoted(char)}; expected quotes round the text"


def _opened_at(text: str, offset: int | None, words: str) -> tuple[tuple[str, Region], ...]:
    if offset is None:
        return ()
    return ((words, Region(offset, min(offset + 1, len(text)))),)


# ----------------------------------------------------------------------------------------------------
# Characters

# What YAML 1.2.2 (section 5.1) does not allow in a text; lone surrogates, which cannot be encoded, among it.
_FORBIDDEN: Final = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_ALLOWED_ASCII: Final = bytes(code for code in range(128) if _FORBIDDEN.match(chr(code)) is None)
_SURROGATE: Final = re.compile("[\ud800-\udfff]")
# PyYAML breaks lines at these by YAML 1.1; by YAML 1.2 (section 5.4) they are ordinary characters.
_OLD_BREAKS: Final = "\x85\u2028\u2029"


def _replace_forbidden(text: str, problems: list[Problem]) -> str:
    for count, match in enumerate(_FORBIDDEN.finditer(text)):
        if count == 20:
            message = "more characters that a YAML text cannot hold follow; they are not listed"
            problems.append(Problem("encoding", message, Region(match.start(), match.end())))
            break
        message = f"the character U+{ord(match.group()):04X} cannot stand in a YAML text; expected it removed"
        problems.append(Problem("encoding", message, Region(match.start(), match.end())))
    # One for one, so that every offset stays right.
    return _FORBIDDEN.sub("\N{REPLACEMENT CHARACTER}", text) if problems else text


def _hide_old_breaks(text: str) -> tuple[str, dict[int, str]]:
    """Stand-ins for NEL, LS and PS, and the table that puts them back into values."""
    used = set(text)
    if used.isdisjoint(_OLD_BREAKS):
        return text, {}
    free = (code for code in range(0xF0000, 0xFFFFE) if chr(code) not in used)
    stand_ins = dict(zip(_OLD_BREAKS, free, strict=False))
    hidden = text.translate({ord(char): code for char, code in stand_ins.items()})
    return hidden, {code: char for char, code in stand_ins.items()}


# ----------------------------------------------------------------------------------------------------
# The doors


def parse(text: str, name: str = "<text>", limits: Limits = Limits()) -> Document:
    """Read a YAML text. Never raises on what the text holds; see `Document.problems`."""
    if len(text) > limits.size:
        message = f"the text is longer than {limits.size} characters and is not read"
        return Document(name, text, None, (Problem("limit", message, Region(0, 0)),))
    if limits == _USUAL:
        found = outline(text, _behind_a_colon, _usual_plain, limits.nodes) if _is_plain(text) else None
        if found is not None:
            return Document(name, text, found.tree, (), None, found)
    builder = _built(text, limits)
    return Document(name, text, builder.tree, tuple(builder.problems), builder.nodes)


_USUAL: Final = Limits()


def _built(text: str, limits: Limits) -> _Builder:
    """All that the parser says of a text."""
    problems: list[Problem] = []
    readable = _replace_forbidden(text, problems)
    readable, restore = _hide_old_breaks(readable)
    # libyaml does not count a byte order mark, the pure parser does; without it both agree.
    content = readable.lstrip("\ufeff")
    builder = _Builder(text, len(text) - len(content), limits, restore)
    builder.problems = problems
    try:
        parser = CParser(content) if HAVE_LIBYAML else _PureParser(content)
    except _READ_ERRORS as error:  # pragma: no cover - forbidden characters are gone by now
        builder.syntax_error(error)
    else:
        builder.run(parser.get_event)
    return builder


def _is_plain(text: str) -> bool:
    """Whether a text holds none of the characters that are looked at by themselves."""
    if text.isascii():
        return not text.encode("ascii").translate(None, _ALLOWED_ASCII)  # several times faster than a search
    if text.startswith("\ufeff") or any(char in text for char in _OLD_BREAKS):
        return False
    return _FORBIDDEN.search(text) is None


def _usual_plain(text: str) -> str | int | float | bool | None:
    return _plain_value(text, _USUAL.number_digits) if text[0] in _TYPED_START else text


@lru_cache(maxsize=20_000)
def _behind_a_colon(text: str) -> Value | None:
    """What stands behind the colon of a key; None where that has a fault or an anchor, or is no single value."""
    usual = in_brackets(text.strip(" "), _usual_plain)
    if usual is not None:
        return usual
    builder = _built(f"k:{text}", _USUAL)
    tree = builder.tree
    if builder.problems or builder.anchors or not isinstance(tree, dict) or list(tree) != ["k"]:
        return None
    return Value(tree["k"], len(builder.nodes.start) - 1)


_MARKS: Final = (
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe\x00\x00", "utf-32"),
    (b"\x00\x00\xfe\xff", "utf-32"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)


def decoded(data: bytes) -> str:
    """The text of a YAML file's bytes, as `read_text` takes them. Raises UnicodeDecodeError."""
    return data.decode(_encoding(data))


def _encoding(data: bytes) -> str:
    return next((codec for mark, codec in _MARKS if data.startswith(mark)), "utf-8")


def read_text(data: bytes, name: str = "<text>", limits: Limits = Limits()) -> Document:
    """Read the bytes of a YAML file: UTF-8, or what a byte order mark announces (UTF-8, UTF-16, UTF-32).

    Bytes that do not fit make a Document with an empty tree and a Problem "encoding" at the first place; its
    text holds U+FFFD for them.
    """
    try:
        return parse(decoded(data), name, limits)
    except UnicodeDecodeError as error:
        encoding = _encoding(data)
        place = len(data[: error.start].decode(encoding, errors="replace"))
        text = data.decode(encoding, errors="replace")
        announced = encoding.removesuffix("-sig").upper()
        message = f"byte {error.start} is no {announced} text; expected the file saved as UTF-8"
        region = Region(place, min(place + 1, len(text)))
        return Document(name, text, None, (Problem("encoding", message, region),))


def load(path: Path, limits: Limits = Limits()) -> Document:
    """Read a YAML file. OSError is the caller's, and raised for a pipe or device too, which might never end.

    A file whose encoding cannot be read has an empty tree and a Problem "encoding".
    """
    if not stat.S_ISREG(path.stat().st_mode):
        raise OSError("is no regular file")
    with path.open("rb") as file:
        data = file.read(limits.size + 1)
    if len(data) > limits.size:
        message = f"the file is longer than {limits.size} bytes and is not read"
        return Document(str(path), "", None, (Problem("limit", message, Region(0, 0)),))
    return read_text(data, str(path), limits)
