"""Mappings and objects that nobody changes: what a rule is given is the same for the rule after it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import FrozenInstanceError
from typing import Any, Final, NoReturn, TypeVar

K = TypeVar("K")
V = TypeVar("V")


class FrozenDict(dict[K, V]):
    """A dict that cannot be changed. A dict still, so that reading costs nothing more and it can be sent and copied."""

    __slots__ = ()

    def _refuse(self, *_: Any, **__: Any) -> NoReturn:
        raise TypeError("the spec cannot be changed: a rule only reads it, and says what it found in verdicts")

    __setitem__ = __delitem__ = __ior__ = _refuse
    clear = pop = popitem = setdefault = update = _refuse

    def __reduce__(self) -> tuple[type[FrozenDict[K, V]], tuple[dict[K, V]]]:
        return type(self), (dict(self),)


_NOTHING: Final[FrozenDict[Any, Any]] = FrozenDict()


def nothing() -> FrozenDict[Any, Any]:
    """An empty mapping, always the same one."""
    return _NOTHING


def frozen(mapping: Mapping[K, V]) -> FrozenDict[K, V]:
    """The mapping as it is now, for good; itself if it is frozen already."""
    return mapping if isinstance(mapping, FrozenDict) else FrozenDict(mapping)


class SetOnce:
    """An object with caches: attributes whose names begin with an underscore may change, the others are set once."""

    def __setattr__(self, name: str, value: Any) -> None:
        if name[:1] != "_" and name in self.__dict__:
            raise FrozenInstanceError(f"cannot assign to field {name!r}")
        object.__setattr__(self, name, value)
