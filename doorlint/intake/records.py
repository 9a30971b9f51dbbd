"""What a source says about openings, before it is written: every value with the text it was read from and its place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

Value: TypeAlias = str | int | bool
"""A value as it stands in YAML: a word or a quantity with its unit, a whole number, a flag."""


class IntakeProblem(Exception):  # noqa: N818 - told to the user as it stands, in one line
    """The source could not be taken in. The message is one line for the user; nothing was written."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One datum of a source. `text`: as found there. `value`: as it is to be written in YAML, None where the text was
    not understood (the spec then says `unknown`). `place`: where it stands, such as `Doors!C14`."""

    text: str
    value: Value | None
    place: str


@dataclass(frozen=True, slots=True)
class Record:
    """One opening of a source. `opening`: its id. `fields`: by path below the opening, such as `leaf.width`,
    `fire_rating` or `exposure.unsecured`; what the source does not state is left out. `place`: where the opening
    stands in the source."""

    opening: str
    fields: Mapping[str, Cell]
    place: str = ""


@dataclass(frozen=True, slots=True)
class NotUnderstood:
    """One text of the source that did not go into the spec. `place` as in `Cell`; `why`: what was expected;
    `opening`: whose it is, "" where the text belongs to none that could be told."""

    place: str
    text: str
    why: str
    opening: str = ""


@dataclass(frozen=True, slots=True)
class Intake:
    """All that was taken from one source. `title`: what the source calls the project, "" where it does not say.
    `notes`: what the user should know of how it was read, one line each."""

    records: tuple[Record, ...]
    not_understood: tuple[NotUnderstood, ...] = ()
    notes: tuple[str, ...] = ()
    title: str = ""


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that writing changed in the spec: `before` is None where it was added, `after` as written."""

    opening: str
    path: str
    before: Value | None
    after: Value
    place: str


@dataclass(frozen=True, slots=True)
class Conflict:
    """Source and spec differ and both changed: the spec was left as it is. `path` is "" for the opening as a whole;
    `last`: what the source said at the last intake, None where it said nothing."""

    opening: str
    path: str
    spec: Value | None
    source: Value | None
    last: Value | None
    place: str
    why: str


@dataclass(frozen=True, slots=True)
class Written:
    """What `write_spec` did. `files`: those written, by name below the spec's folder, in order. `source`: the name
    under which the source is remembered. `left_out`: how many of its openings stay out of the spec, as was settled.
    `new`: there was no spec before."""

    changes: tuple[Change, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    files: tuple[str, ...] = ()
    source: str = ""
    left_out: int = 0
    new: bool = False
