"""What of a readable document stands under the cursor."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from ..document import Document, Region


@dataclass(frozen=True, slots=True)
class Spot:
    """A key or a value. `tokens`: the way to it from the root, keys and list indices as text. `start` and `end`: its
    region in the document. `value`: the scalar, or what stands under the key."""

    tokens: tuple[str, ...]
    part: Literal["key", "value"]
    start: int
    end: int
    value: Any

    @property
    def pointer(self) -> str:
        """The JSON Pointer (RFC 6901) of the value."""
        return pointer(self.tokens)


def pointer(tokens: tuple[str, ...]) -> str:
    """The JSON Pointer of a way through keys and indices."""
    return "".join(f"/{token.replace('~', '~0').replace('/', '~1')}" for token in tokens)


def tokens_of(pointer: str) -> tuple[str, ...]:
    """The way that a JSON Pointer describes."""
    return tuple(token.replace("~1", "/").replace("~0", "~") for token in pointer.split("/")[1:])


def value_at(tree: Any, tokens: tuple[str, ...]) -> Any:
    """The value at the end of a way; None where there is no such way."""
    for token in tokens:
        if isinstance(tree, dict):
            tree = tree.get(token)
        elif isinstance(tree, list) and token.isdecimal() and int(token) < len(tree):
            tree = tree[int(token)]
        else:
            return None
    return tree


def spot_at(document: Document, offset: int) -> Spot | None:
    """The key or scalar that an offset stands in or right behind; None between them."""
    tokens: tuple[str, ...] = ()
    value = document.tree
    while isinstance(value, dict | list):
        found = _child(document, tokens, value, offset)
        if found is None:
            return None
        tokens = (*tokens, found)
        keyed = isinstance(value, dict)
        value = value[found] if isinstance(value, dict) else value[int(found)]
        here = pointer(tokens)
        if keyed:
            key = document.region(here, "key")
            if key.start <= offset <= key.end:
                return Spot(tokens, "key", key.start, key.end, value)
        if document.alias_site(here) is not None:
            break  # what it stands for is written elsewhere
    if not tokens:
        return None
    region = document.region(pointer(tokens))
    if region.start <= offset <= region.end:
        return Spot(tokens, "value", region.start, region.end, value)
    return None


def _child(document: Document, tokens: tuple[str, ...], value: Any, offset: int) -> str | None:
    """The last child that starts at or before the offset."""
    names = list(value) if isinstance(value, dict) else [str(index) for index in range(len(value))]
    part: Literal["key", "value"] = "key" if isinstance(value, dict) else "value"
    place = bisect_right(names, offset, key=lambda name: document.region(pointer((*tokens, name)), part).start)
    return names[place - 1] if place else None


def walk(document: Document) -> Iterator[Spot]:
    """Every key and every scalar of a document, in order. What an alias stands for comes once, where it is written."""
    yield from _walk(document, (), document.tree)


def _walk(document: Document, tokens: tuple[str, ...], value: Any) -> Iterator[Spot]:
    if isinstance(value, dict):
        for name, child in value.items():
            way = (*tokens, name)
            key = document.region(pointer(way), "key")
            yield Spot(way, "key", key.start, key.end, child)
            if document.alias_site(pointer(way)) is None:
                yield from _walk(document, way, child)
    elif isinstance(value, list):
        for index, child in enumerate(value):
            way = (*tokens, str(index))
            if document.alias_site(pointer(way)) is None:
                yield from _walk(document, way, child)
    elif tokens:
        region = document.region(pointer(tokens))
        yield Spot(tokens, "value", region.start, region.end, value)


def inner(document: Document, region: Region, text: str, start: int, end: int) -> tuple[int, int] | None:
    """The region of a part of a scalar (`start` to `end` within its text); None where escapes hide it."""
    raw = document.source(region)
    if raw == text:
        return region.start + start, region.start + end
    if len(raw) > 1 and raw[0] in "\"'" and raw[1:-1] == text:
        return region.start + 1 + start, region.start + 1 + end
    return None
