"""What a review says: outcomes, their ground and their working. Plain frozen data, used by every room.

Outcome kinds and levels are the words of SARIF 2.1.0 (OASIS), so that a reader of any report meets them unchanged.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from typing import Any, Literal

from .plain import plain
from .quantity import show


class Kind(StrEnum):
    """What became of one requirement for one subject."""

    PASS = "pass"
    FAIL = "fail"
    OPEN = "open"  # data are missing: the requirement could not be decided
    REVIEW = "review"  # the authority having jurisdiction decides
    NOT_APPLICABLE = "notApplicable"


class Level(StrEnum):
    """How serious a failure is."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"

    @property
    def rank(self) -> int:
        """0 for note, 1 for warning, 2 for error."""
        return ("note", "warning", "error").index(self.value)


class _Plain:
    """Data that is copied and sent by its fields alone; several times faster than what dataclasses do by themselves."""

    __slots__ = ()

    def __reduce__(self) -> tuple[object, tuple[object, ...]]:
        cls: Any = type(self)
        return cls, tuple(getattr(self, name) for name in cls.__match_args__)


@plain
class Place(_Plain):
    """A place in the spec: a file (as the spec names it) and a JSON Pointer into it.

    `part` tells whether the key or the value is meant. The key is the place of a field that is not there:
    one points at the owner, by choice and never as a silent fallback. `span` (start and end offset in the
    file's text) is for what has no pointer, such as a syntax error or the second of two equal keys.
    """

    file: str
    pointer: str
    part: Literal["key", "value"] = "value"
    span: tuple[int, int] | None = None

    def child(self, key: str | int) -> Place:
        """The place of the value under `key`."""
        escaped = key if isinstance(key, str) else str(key)
        if "~" in escaped or "/" in escaped:
            escaped = escaped.replace("~", "~0").replace("/", "~1")
        return Place(self.file, f"{self.pointer}/{escaped}")

    @property
    def key(self) -> Place:
        """The same place, meaning its key."""
        return Place(self.file, self.pointer, "key")

    def __str__(self) -> str:
        return f"{self.file}#{self.pointer}"


@plain
class Related(_Plain):
    """A second place that a finding stands on, with a caption."""

    place: Place
    caption: str


@dataclass(frozen=True, slots=True)
class Cited:
    """A published ground. `clause` may be a section title where the number is not confirmed."""

    document: str
    edition: str
    clause: str
    title: str = ""
    from_memory: bool = False

    def __str__(self) -> str:
        parts = [f"{self.document} ({self.edition})" if self.edition else self.document, self.clause, self.title]
        return ", ".join(part for part in parts if part) + (" [from memory]" if self.from_memory else "")


@dataclass(frozen=True, slots=True)
class Practice:
    """A ground in trade practice. `physics` names the law that makes the failure certain, where one does."""

    reason: str
    physics: str = ""
    from_memory: bool = False

    def __str__(self) -> str:
        law = f" (physics: {self.physics})" if self.physics else ""
        return f"practice: {self.reason}{law}" + (" [from memory]" if self.from_memory else "")


Basis = Cited | Practice


@plain
class Measure(_Plain):
    """A number with its dimension, in SI base units: 0.75 of `current` is 750 mA."""

    value: Fraction | float
    dimension: str

    def __str__(self) -> str:
        return show(self.value, self.dimension)


@plain
class Term(_Plain):
    """One term of a formula: its name, its value as text, and where it was read (None for a constant)."""

    name: str
    text: str
    place: Place | None = None


@plain
class Step(_Plain):
    """One line of a calculation: what is computed, by which formula, from what, with which result."""

    name: str
    formula: str
    result: Measure | str
    terms: tuple[Term, ...] = ()
    ground: str = ""


@plain
class Change(_Plain):
    """One edit of the spec. With `key`, the entry `key: text` is put under `place`; else the value at `place`
    is replaced by `text`."""

    place: Place
    text: str
    key: str = ""


@plain
class Repair(_Plain):
    """A change of the spec after which the finding is gone. Rules propose; the review applies each proposal to
    a copy, reviews the copy and offers only what passed (`verified`). A repair that touches life safety is
    shown and never applied by a tool."""

    title: str
    changes: tuple[Change, ...]
    life_safety: bool = False
    verified: bool = False


@plain
class Verdict:
    """What a rule's check yields for its subject; the rulebook adds rule, level and subject to make an Outcome.

    `missing` names the fields that an *open* verdict waits for. `relation` reads between measured and limit
    ("at most", "at least", "more than", "less than").
    """

    kind: Kind
    message: str
    place: Place | None = None
    related: tuple[Related, ...] = ()
    measured: Measure | None = None
    limit: Measure | None = None
    relation: str = ""
    what: str = ""
    working: tuple[Step, ...] = ()
    missing: tuple[str, ...] = ()
    basis: tuple[Basis, ...] = ()
    repairs: tuple[Repair, ...] = ()

    @property
    def margin(self) -> Measure | None:
        """How far inside the limit (positive) or outside it (negative) the measured value lies."""
        if self.measured is None or self.limit is None:
            return None
        return _margin(self.measured, self.limit, self.relation)


@plain
class Outcome(_Plain):
    """One requirement applied to one subject.

    `subject` is the identity of what was judged ("114A/lock"), stable under re-ordering and re-formatting.
    `waived` holds the reason of the waiver that covers a failure.
    """

    rule: str
    kind: Kind
    level: Level
    subject: str
    message: str
    place: Place
    related: tuple[Related, ...] = ()
    what: str = ""
    measured: Measure | None = None
    limit: Measure | None = None
    relation: str = ""
    margin: Measure | None = None
    working: tuple[Step, ...] = ()
    missing: tuple[str, ...] = ()
    basis: tuple[Basis, ...] = ()
    repairs: tuple[Repair, ...] = field(default=(), compare=False)
    waived: str = ""


def ok(message: str, at: Place | None = None, **more: object) -> Verdict:
    """The requirement is met."""
    return Verdict(Kind.PASS, message, at, **more)  # type: ignore[arg-type]


def failed(message: str, at: Place, **more: object) -> Verdict:
    """The requirement is not met, shown at `at`."""
    return Verdict(Kind.FAIL, message, at, **more)  # type: ignore[arg-type]


def undecided(message: str, missing: Sequence[str], at: Place | None = None, **more: object) -> Verdict:
    """Data are missing; `missing` names the fields."""
    return Verdict(Kind.OPEN, message, at, missing=tuple(missing), **more)  # type: ignore[arg-type]


def to_authority(message: str, at: Place | None = None, **more: object) -> Verdict:
    """The authority having jurisdiction decides."""
    return Verdict(Kind.REVIEW, message, at, **more)  # type: ignore[arg-type]


def not_applicable(message: str, at: Place | None = None) -> Verdict:
    """The requirement does not concern this subject; `message` says why."""
    return Verdict(Kind.NOT_APPLICABLE, message, at)


def at_most(
    what: str, measured: Measure, limit: Measure, at: Place, *, limit_name: str = "limit", **more: object
) -> Verdict:
    """Pass when measured <= limit, exactly (no hidden tolerance). The message is built from the numbers."""
    kind = Kind.PASS if measured.value <= limit.value else Kind.FAIL
    return _compared(kind, what, measured, limit, at, limit_name, "at most", more)


def at_least(
    what: str, measured: Measure, limit: Measure, at: Place, *, limit_name: str = "limit", **more: object
) -> Verdict:
    """Pass when measured >= limit, exactly (no hidden tolerance). The message is built from the numbers."""
    kind = Kind.PASS if measured.value >= limit.value else Kind.FAIL
    return _compared(kind, what, measured, limit, at, limit_name, "at least", more)


def _compared(
    kind: Kind,
    what: str,
    measured: Measure,
    limit: Measure,
    at: Place,
    limit_name: str,
    relation: str,
    more: dict[str, object],
) -> Verdict:
    margin = _margin(measured, limit, relation)
    side = "above" if relation == "at most" else "below"
    size = Measure(_size(margin.value), margin.dimension)
    if kind is Kind.PASS:
        text = f"{what} {measured} is within the {limit_name} {limit}, margin {size}"
    else:
        text = f"{what} {measured} is {side} the {limit_name} {limit} by {size}"
    return Verdict(
        kind,
        text,
        at,
        measured=measured,
        limit=limit,
        relation=relation,
        what=what,
        **more,  # type: ignore[arg-type]
    )


def _margin(measured: Measure, limit: Measure, relation: str) -> Measure:
    gap = _difference(limit.value, measured.value)
    if relation in ("at least", "more than"):
        gap = -gap
    dimension = "temperature_difference" if limit.dimension == "temperature" else limit.dimension
    return Measure(gap, dimension)


def _size(value: Fraction | float) -> Fraction | float:
    return -value if value < 0 else value


def _difference(a: Fraction | float, b: Fraction | float) -> Fraction | float:
    if isinstance(a, Fraction) and isinstance(b, Fraction):
        return a - b
    return float(a) - float(b)
