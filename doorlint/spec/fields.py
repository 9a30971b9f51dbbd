"""How the fields of the spec's frozen dataclasses are declared and asked for.

A field may be a value, `None` (not stated) or `UNKNOWN` (the author says that it is missing). Both lead to an
*open* outcome when a rule needs the value; `known` is the one way to insist on it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import MISSING, dataclass, field, fields
from enum import Enum
from functools import cache
from types import MemberDescriptorType
from typing import TYPE_CHECKING, Any, Final, TypeAlias, TypeVar

from ..outcome import Place
from .frozen import nothing

T = TypeVar("T")


class Unknown(Enum):
    """The one value `UNKNOWN`: what the author wrote as `unknown`."""

    UNKNOWN = "unknown"

    def __repr__(self) -> str:
        return "UNKNOWN"


UNKNOWN: Final = Unknown.UNKNOWN

Maybe: TypeAlias = T | Unknown | None


class Undecided(Exception):  # noqa: N818 - it is no error: the rulebook turns it into an open outcome
    """A rule needs a value that the spec does not give. `name` is the field, `place` where it belongs."""

    def __init__(self, name: str, place: Place, stated: bool) -> None:
        super().__init__(name)
        self.name = name
        self.place = place
        self.stated = stated


@dataclass(frozen=True, slots=True, kw_only=True, repr=False, eq=False)
class Part:
    """A mapping of the spec. `place` is where it stands; places take no part in equality.

    Parts are shown, compared and hashed by what stands here: what the decorator would make for each of the forty parts
    by itself takes longer than the review of a door.

    `shorthand`: the author wrote one word for the whole part, so every field stands at `place`.
    `elsewhere`: the places of fields that do not stand in this mapping but follow from something outside it.
    """

    place: Place = field(compare=False, repr=False)
    shorthand: bool = field(default=False, compare=False, repr=False)
    elsewhere: Mapping[str, Place] = field(default_factory=nothing, compare=False, repr=False)

    def __eq__(self, other: object) -> bool:
        if other.__class__ is not self.__class__:
            return NotImplemented
        return all(getattr(self, name) == getattr(other, name) for name in self._compared())

    def __hash__(self) -> int:
        return hash(tuple(getattr(self, name) for name in self._compared()))

    def _compared(self) -> tuple[str, ...]:
        kind: Any = type(self)
        return _compared_of(kind)

    def __repr__(self) -> str:
        shown = ", ".join(f"{each.name}={getattr(self, each.name)!r}" for each in fields(self) if each.repr)
        return f"{type(self).__qualname__}({shown})"

    def at(self, name: str) -> Place:
        """Where field `name` stands; the key of this part where the field is not stated."""
        if self.shorthand:
            return self.place
        if name in self.elsewhere:
            return self.elsewhere[name]
        return self.place.key if getattr(self, name) is None else self.place.child(name)


@cache
def _compared_of(cls: Any) -> tuple[str, ...]:
    """The fields that take part in equality."""
    return tuple(each.name for each in fields(cls) if each.compare)


Unread = Callable[[str], Mapping[str, Any]]
"""Gives the value of a field that was not read yet, with those of fields that are read with it; without the field where
it is not stated."""


class ReadLater(Part):
    """A part whose fields may be read when they are first asked for: of most openings of a large spec few ever are."""

    __slots__ = ("_unread",)
    _unread: Unread

    if not TYPE_CHECKING:  # which would take any name for a field

        def __getattr__(self, name: str) -> Any:
            """The value of a field that was not asked for before."""
            cls = self.__class__
            defaults = _defaults(cls)
            if name not in defaults:
                raise AttributeError(f"{cls.__name__!r} object has no attribute {name!r}")
            found = self._unread(name)
            put = _slots(cls)
            if name in found:
                for each, value in found.items():
                    put[each](self, value)
                return found[name]
            put[name](self, defaults[name])
            return defaults[name]


L = TypeVar("L", bound=ReadLater)
P = TypeVar("P", bound=Part)


def read_later(cls: type[L], place: Place, unread: Unread, **now: Any) -> L:
    """A part of which only some fields are there now. Raises KeyError for a field that it does not have."""
    made = object.__new__(cls)
    of: Any = cls
    put = _slots(of)
    put["place"](made, place)
    put["_unread"](made, unread)
    for name, value in now.items():
        put[name](made, value)
    return made


@cache
def _slots(cls: Any) -> Mapping[str, Callable[[Any, Any], None]]:
    """What sets each field of a part, which its attributes refuse, and which a subclass may read otherwise."""
    found: dict[str, Callable[[Any, Any], None]] = {}
    for base in reversed(cls.__mro__):
        members = {name: each for name, each in vars(base).items() if isinstance(each, MemberDescriptorType)}
        found.update({name: each.__set__ for name, each in members.items()})
    return found


def read_again(part: L, cls: type[L], **now: Any) -> L:
    """Another part that reads its fields as this one does, but for those that are given now."""
    return read_later(cls, part.place, part._unread, **now)


def each_once(parts: Iterable[P]) -> Iterable[P]:
    """The parts, but of those that read all their fields from one entry only one."""
    return {id(getattr(part, "_unread", part)): part for part in parts}.values()


@cache
def _defaults(cls: Any) -> Mapping[str, Any]:
    """What each field is where it is not stated; fields that are always given are not among them."""
    found = {}
    for each in fields(cls):
        if each.default is not MISSING:
            found[each.name] = each.default
        elif each.default_factory is not MISSING:
            found[each.name] = each.default_factory()
    return found


def known(part: Part, name: str, kind: type[T]) -> T:
    """The value of `part.name`, which is of type `kind`.

    Raises Undecided when the spec does not state it or says `unknown`.
    """
    value = getattr(part, name)
    if value is None or value is UNKNOWN:
        raise Undecided(name, part.at(name), stated=value is not None)
    if not isinstance(value, kind):
        raise TypeError(f"{type(part).__name__}.{name} is a {type(value).__name__}, not a {kind.__name__}")
    return value


@dataclass(frozen=True, slots=True)
class Reader:
    """How a field is read: `what` is one of quantity, band, wire, word, number, flag, words, part, parts, list;
    `of` is the dimension, or the class of the part."""

    what: str
    of: Any = None


def _declared(what: str, of: Any = None) -> Any:
    return field(default=None, metadata={"read": Reader(what, of)})


def quantity(dimension: str) -> Any:
    """One value with unit."""
    return _declared("quantity", dimension)


def band(dimension: str) -> Any:
    """A value with unit and perhaps a tolerance, or a range."""
    return _declared("band", dimension)


def wire() -> Any:
    """A wire size."""
    return _declared("wire")


def word() -> Any:
    """A text or a word of a closed list."""
    return _declared("word")


def number() -> Any:
    """A whole number."""
    return _declared("number")


def flag() -> Any:
    """true or false."""
    return _declared("flag")


def words(whole: bool = False) -> Any:
    """A list of texts; a single text reads as a list of one. `whole`: a list that holds `unknown` among others is
    unknown as a whole, since nobody can tell what else belongs in it."""
    return _declared("words", "whole" if whole else None)


def part(of: type[Part]) -> Any:
    """A nested mapping."""
    return _declared("part", of)


def parts(of: type[Part]) -> Any:
    """A mapping from names to nested mappings; absent reads as an empty one."""
    return field(default_factory=nothing, metadata={"read": Reader("parts", of)})


def several(of: type[Part]) -> Any:
    """A list of nested mappings; absent reads as an empty one."""
    return field(default=(), metadata={"read": Reader("list", of)})
