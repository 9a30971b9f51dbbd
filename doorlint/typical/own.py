"""The fields in which like openings may differ: their names as they are asked for, and their values in an entry."""

from __future__ import annotations

import marshal
import re
from collections.abc import Mapping
from dataclasses import fields
from functools import lru_cache
from typing import Any, Final, TypeAlias

from ..quantity import QuantityError, parse_quantity, within
from ..spec.fields import UNKNOWN
from ..spec.model import Opening
from ..spec.read import read_word

Asked: TypeAlias = tuple[str, str]
"""An own field as it is asked for: ("", field) of the opening or (item, "length"). The field may be followed by
what `searched` or `bounded` add, or by UNREAD."""

SHARED_FIELDS: Final = frozenset({"set", "items", "interlocked_with"})
OWN_FIELDS: Final[Mapping[str, str]] = {
    name.rstrip("_"): name
    for name in (f.name for f in fields(Opening) if "read" in f.metadata)
    if name not in SHARED_FIELDS
}
"""The fields in which like openings may differ, YAML key to field; and each item may in its `length`."""

_ABSENT: Final = "\U000f3fff"
"""Stands for a field that an opening does not have."""

_SEARCHED: Final = " ~ "
_BOUNDED: Final = " in "
UNREAD: Final = " ?"
"""Follows the field where somebody asks whether it is given as unknown."""


def searched(key: str, pattern: re.Pattern[str]) -> str:
    """What is asked for where somebody searches a field of the opening for a pattern."""
    return f"{key}{_SEARCHED}{pattern.flags} {pattern.pattern}"


def bounded(key: str, band: str) -> str:
    """What is asked for where somebody asks whether a length of an item lies in a band."""
    return f"{key}{_BOUNDED}{band}"


class Fields:
    """Own fields that are asked for, sorted out once so that it costs little to read them of many openings."""

    __slots__ = ("_bounded", "_lengths", "_plain", "_searched", "_unread")

    def __init__(self, asked: tuple[Asked, ...]) -> None:
        names = [name for item, name in asked if not item]
        found: dict[str, list[str]] = {}
        for key, mark, pattern in (name.partition(_SEARCHED) for name in names):
            if mark:
                found.setdefault(key, []).append(pattern)
        self._lengths = tuple((item, name) for item, name in asked if item and _BOUNDED not in name)
        self._bounded = tuple((item, *name.split(_BOUNDED, 1)) for item, name in asked if item and _BOUNDED in name)
        self._searched = tuple((key, tuple(patterns)) for key, patterns in found.items())
        self._unread = tuple(name.removesuffix(UNREAD) for name in names if name.endswith(UNREAD))
        self._plain = tuple(name for name in names if _SEARCHED not in name and not name.endswith(UNREAD))

    def of(self, entry: Mapping[str, Any]) -> bytes:
        """The values in the entry of an opening; equal for openings that agree in them, and in what is found."""
        items = entry.get("items", {})
        values = [
            [entry.get(key, _ABSENT) for key in self._plain],
            [(items.get(item) or {}).get(name, _ABSENT) for item, name in self._lengths],
            [_lies_in((items.get(item) or {}).get(name, _ABSENT), band) for item, name, band in self._bounded],
            [_is_unknown(entry, key) for key in self._unread],
            [_searches(entry, key, patterns) for key, patterns in self._searched],
        ]
        return marshal.dumps(values, 2)  # tells 1, 1.0 and true apart, as YAML does


def _is_unknown(entry: Mapping[str, Any], key: str) -> bool:
    return key in entry and read_word(entry[key]) is UNKNOWN


def _searches(entry: Mapping[str, Any], key: str, patterns: tuple[str, ...]) -> list[object]:
    """Of each pattern whether it is found in a field; for what is no pattern, the text itself."""
    text = read_word(entry[key]) if key in entry else UNKNOWN
    if not isinstance(text, str):
        return [False] * len(patterns)
    compiled = map(_compiled, patterns)
    return [text if each is None else each.search(text) is not None for each in compiled]


def _lies_in(length: object, band: str) -> object:
    """Whether a length lies in a band; for what cannot be read as one, the value itself."""
    return _read_within(length, band) if isinstance(length, str) else length


@lru_cache(maxsize=10_000)
def _read_within(length: str, band: str) -> bool | str:
    try:
        return within(parse_quantity(length, "length"), band)
    except QuantityError:
        return length


@lru_cache(maxsize=256)
def _compiled(pattern: str) -> re.Pattern[str] | None:
    flags, _, source = pattern.partition(" ")
    try:
        return re.compile(source, int(flags))
    except (ValueError, re.error):
        return None
