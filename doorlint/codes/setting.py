"""One value of one edition, what it admits, and which of several is the strictest."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import Any, Final, TypeAlias

from ..outcome import Cited, Kind, Measure, Place, Related, Verdict
from ..quantity import Band, Quantity, show

Value: TypeAlias = Quantity | Band | int | str | bool | tuple[str, ...]
"""A value of a code, or what the spec has in its place."""


class Answer(StrEnum):
    """Whether a code admits a value."""

    YES = "yes"
    NO = "no"
    APPROVAL = "approval"  # only where the authority approves


@dataclass(frozen=True, slots=True)
class Setting:
    """One value of one edition.

    name, title: of the value file. kind: quantity, range, count, word, flag, list or permission.
    value: in SI units and exact where it is a quantity; None where the edition sets no limit.
    strictness: at_least, more_than, at_most, less_than, within, exactly, all_of, any_of; of a flag `demanded` (yes: it
        has to be there) or `allowed` (no: it must not be there).
    use: `limit` (what the door must meet) or `trigger` (from when on something is demanded).
    with_approval: the value that holds where the authority approves, None where there is none.
    beyond: `approval` where the authority may approve any other value as well.
    order: words from the lenient to the strict one, where they have an order.
    condition: what a `conditional` permission depends on, in words.
    edition: IBC-2021. layer: the edition, or the amendment that supplied the value.
    basis: document, edition, clause. place: where the project adopts the edition.
    """

    name: str
    title: str
    kind: str
    value: Value | None
    strictness: str
    use: str
    edition: str
    layer: str
    basis: Cited
    place: Place
    with_approval: Value | None = None
    condition: str = ""
    note: str = ""
    beyond: str = ""
    order: tuple[str, ...] = ()

    @property
    def relation(self) -> str:
        """The strictness in words: "at most"."""
        return self.strictness.replace("_", " ")

    @property
    def text(self) -> str:
        """The value in words, with its unit: "15 s"."""
        return _text(self.value)

    @property
    def related(self) -> Related:
        """The place where the edition is adopted, for a finding."""
        return Related(self.place, f"{self.edition} is adopted here")

    def admits(self, measured: Value) -> Answer:
        """Whether the code admits `measured`. A band has to lie within the limit as a whole."""
        if self.kind == "permission":
            raise TypeError(f"{self.name} is a permission: ask `permits`")
        if self.value is None or meets(measured, self.value, self.strictness):
            return Answer.YES
        if self.beyond == "approval":
            return Answer.APPROVAL
        if self.with_approval is not None and meets(measured, self.with_approval, self.strictness):
            return Answer.APPROVAL
        return Answer.NO

    def triggers(self, measured: Value) -> bool:
        """Whether `measured` brings on what this value is the trigger of. No trigger: never."""
        if self.use != "trigger":
            raise TypeError(f"{self.name} is a {self.use}, no trigger")
        return self.value is not None and meets(measured, self.value, self.strictness)

    @property
    def permits(self) -> Answer:
        """Whether a permission allows: yes, no, or approval (conditional: see `condition`)."""
        if self.kind != "permission":
            raise TypeError(f"{self.name} is a {self.kind}, no permission")
        return {"permitted": Answer.YES, "conditional": Answer.APPROVAL, "not_permitted": Answer.NO}[str(self.value)]

    def verdict(self, what: str, measured: Value, at: Place, **more: Any) -> Verdict:
        """Pass, fail or review of `measured` against this limit, with message, figures and basis.

        what: what was measured, as the start of a sentence ("delay"). more: further fields of Verdict.
        """
        answer = self.admits(measured)
        kind = {Answer.YES: Kind.PASS, Answer.NO: Kind.FAIL, Answer.APPROVAL: Kind.REVIEW}[answer]
        limit = _limit(self.strictness, self.value)
        if answer is Answer.APPROVAL:
            further = "another value" if self.with_approval is None else _phrase(self.strictness, self.with_approval)
            limit += f"; {further} only where the authority approves"
        message = f"{what} {_text(measured)}: {limit} ({self.layer})"
        figures: dict[str, Any] = {}
        if isinstance(measured, Quantity) and isinstance(self.value, Quantity):
            figures = {
                "measured": Measure(measured.value, measured.dimension),
                "limit": Measure(self.value.value, self.value.dimension),
                "relation": self.relation,
                "what": what,
            }
        related = (self.related, *more.pop("related", ()))
        return Verdict(kind, message, at, related=related, **{"basis": (self.basis,), **figures, **more})


@dataclass(frozen=True, slots=True)
class Conflict:
    """Adopted codes that say different things, neither of which is the stricter. The authority decides."""

    settings: tuple[Setting, ...]

    @property
    def message(self) -> str:
        """What each of them says."""
        each = "; ".join(f"{s.layer}: {s.text}" for s in self.settings)
        return f"{self.settings[0].title}: the adopted codes differ ({each}); the authority decides which governs"

    def verdict(self, at: Place) -> Verdict:
        """The review outcome."""
        related = tuple(s.related for s in self.settings)
        return Verdict(Kind.REVIEW, self.message, at, related=related, basis=tuple(s.basis for s in self.settings))


_NUMERIC: Final = ("at_least", "more_than", "at_most", "less_than")


def meets(measured: Value, limit: Value, strictness: str) -> bool:
    """Whether `measured` stands in the relation to `limit`. Raises TypeError for values that cannot be compared."""
    one, other = getattr(measured, "dimension", None), getattr(limit, "dimension", None)
    if one != other:
        raise TypeError(f"a {one} cannot be compared with a {other}")
    if strictness in _NUMERIC:
        low, high = _ends(measured)
        bound = _number(limit)
        return {
            "at_least": low >= bound,
            "more_than": low > bound,
            "at_most": high <= bound,
            "less_than": high < bound,
        }[strictness]
    if strictness == "within":
        (low, high), (least, most) = _ends(measured), _ends(limit)
        return least <= low and high <= most
    if strictness in ("all_of", "any_of"):
        has = {measured} if isinstance(measured, str) else set(_words(measured))
        wants = set(_words(limit))
        return wants <= has if strictness == "all_of" else bool(wants & has)
    if type(measured) is not type(limit):
        raise TypeError(f"{measured!r} cannot be compared with {limit!r}")
    if strictness == "demanded":
        return bool(measured) or not limit
    if strictness == "allowed":
        return bool(limit) or not measured
    return measured == limit


def strictest(found: Sequence[Setting]) -> Setting | None:
    """The strictest of at least one setting of one value; None where two cannot be ranked."""
    best: Setting | None = found[0]
    for other in found[1:]:
        best = _stricter(best, other) if best is not None else None
    return best


def _stricter(one: Setting, other: Setting) -> Setting | None:
    """The stricter of two settings of one value; None where neither is."""
    if one.value == other.value and one.strictness == other.strictness:
        return one
    if one.value is None or other.value is None:
        return other if one.value is None else one
    if one.strictness in _NUMERIC:
        up = one.strictness in ("at_least", "more_than")
        if up != (other.strictness in ("at_least", "more_than")):
            return None
        a, b = _number(one.value), _number(other.value)
        if a == b:  # the sharp relation leaves less room
            sharp, soft = (one, other) if one.strictness in ("more_than", "less_than") else (other, one)
            return sharp if one.use == "limit" else soft
        highest = up == (one.use == "limit")
        return one if (a > b) == highest else other
    if one.strictness != other.strictness:
        return None
    if one.strictness == "within":
        inside = meets(one.value, other.value, "within")
        return one if inside else other if meets(other.value, one.value, "within") else None
    if one.strictness == "all_of":
        these, those = set(_words(one.value)), set(_words(other.value))
        return one if these >= those else other if these <= those else None
    if all(_text(setting.value) in one.order for setting in (one, other)):
        return max((one, other), key=lambda setting: one.order.index(_text(setting.value)))
    return None


def _ends(value: Value) -> tuple[Fraction, Fraction]:
    return (value.low, value.high) if isinstance(value, Band) else (_number(value), _number(value))


def _number(value: Value) -> Fraction:
    if isinstance(value, Quantity):
        return value.value
    if isinstance(value, int) and not isinstance(value, bool):
        return Fraction(value)
    raise TypeError(f"{value!r} is no number")


def _words(value: Value) -> Collection[str]:
    if isinstance(value, tuple):
        return value
    raise TypeError(f"{value!r} is no list of words")


def _text(value: Value | None) -> str:
    if value is None:
        return "no limit"
    if isinstance(value, Quantity | Band):
        return value.text or " to ".join(dict.fromkeys(show(end, value.dimension) for end in _ends(value)))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(value)
    return str(value)


def _limit(strictness: str, value: Value | None) -> str:
    if value is None:
        return "no limit is set"
    if strictness in ("demanded", "allowed"):
        return f"it is {'' if value else 'not '}{strictness}"
    return f"{_phrase(strictness, value)} is required"


def _phrase(strictness: str, value: Value) -> str:
    if strictness == "exactly":
        return _text(value)
    return f"{strictness.replace('_', ' ')} {_text(value)}"
