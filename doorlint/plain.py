"""Frozen data that is made by the hundred thousand in one review."""

from __future__ import annotations

from dataclasses import MISSING, dataclass, field, fields
from typing import Any, Final, TypeVar, dataclass_transform

T = TypeVar("T")

_BECOME: Final[Any] = vars(object)["__class__"].__set__


@dataclass_transform(frozen_default=True, field_specifiers=(field,))
def plain(cls: type[T]) -> type[T]:
    """A frozen dataclass with slots, made two to four times faster than dataclasses do it.

    They set each field of a frozen class through `object.__setattr__`. Here an object takes a class with the same slots
    that may be set, and is of its own class again when they are. TypeError for a post-init, or a default that a factory
    makes.
    """
    made: Any = dataclass(frozen=True, slots=True, init=False)(cls)
    listed = fields(made)
    if hasattr(made, "__post_init__") or any(each.default_factory is not MISSING for each in listed):
        raise TypeError(f"{made.__qualname__}: what has a post-init or a default by factory is no plain data")
    defaults = {f"default_{each.name}": each.default for each in listed if each.default is not MISSING}
    defaulted = {each.name: f"{each.name}=default_{each.name}" for each in listed if each.default is not MISSING}
    arguments = ", ".join(defaulted.get(each.name, each.name) for each in listed)
    sets = [f"self.{each.name} = {each.name}" for each in listed]
    body = "\n  ".join(["own = self.__class__", "become(self, settable)", *sets, "self.__class__ = own"])
    settable = type(made.__name__, made.__bases__, {"__slots__": made.__slots__})
    space: dict[str, Any] = {"become": _BECOME, "settable": settable, **defaults}
    made.__init__ = _written(f"def __init__(self, {arguments}):\n  {body}", space)
    made.__init__.__qualname__ = f"{made.__qualname__}.__init__"
    made.__init__.__annotations__ = {**{each.name: each.type for each in listed}, "return": None}
    return made  # type: ignore[no-any-return]


def _written(source: str, space: dict[str, Any]) -> Any:
    """The function `__init__` of a source, which finds the names of `space` as its own, faster than as globals."""
    within: dict[str, Any] = {}
    exec(f"def around({', '.join(space)}):\n {source}\n return __init__", within)
    return within["around"](**space)
