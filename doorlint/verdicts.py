"""Whether what a rule says can be shown by every report. Asked of foreign rules: ours are held to it by types."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction
from typing import TypeVar

from .outcome import Change, Cited, Kind, Measure, Outcome, Place, Practice, Related, Repair, Step, Term, Verdict
from .quantity import DIMENSIONS

T = TypeVar("T")

RELATIONS = ("", "at most", "at least", "more than", "less than")


class NoVerdict(ValueError):  # noqa: N818 - it says what was yielded
    """What a rule says is no verdict; the text says which part of it, what was read and what is expected."""


def check(said: Verdict | Outcome) -> None:
    """Raise NoVerdict for a verdict, or the outcome made of it, that some report could not show."""
    _is(said.kind, Kind, "kind")
    if not _text(said.message, "message").strip():
        raise NoVerdict("message is empty, words for people are expected")
    if said.place is not None:
        _place(said.place, "place")
    for related in _all(said.related, Related, "related"):
        _place(related.place, "related place")
        _text(related.caption, "caption")
    _text(said.what, "what")
    _compared(said)
    for step in _all(said.working, Step, "working"):
        _step(step)
    for name in _all(said.missing, str, "missing"):
        _text(name, "missing")
    for ground in _all(said.basis, (Cited, Practice), "basis"):
        _text(str(ground), "basis")
    for repair in _all(said.repairs, Repair, "repairs"):
        _repair(repair)


def changed(said: Outcome) -> Iterator[Place]:
    """The places that the repairs of an outcome change."""
    for repair in said.repairs:
        for change in repair.changes:
            yield change.place


def _compared(said: Verdict | Outcome) -> None:
    if said.relation not in RELATIONS:
        raise NoVerdict(f"relation is {said.relation!r}, one of {', '.join(RELATIONS[1:])} is expected")
    for name, measure in (("measured", said.measured), ("limit", said.limit)):
        if measure is not None:
            _measure(measure, name)
    if said.measured is not None and said.limit is not None:
        if said.measured.dimension != said.limit.dimension:
            both = f"measured is of {said.measured.dimension} and limit of {said.limit.dimension}"
            raise NoVerdict(f"{both}, one dimension is expected")
        if not said.relation:
            raise NoVerdict("relation is empty between measured and limit, for example `at most` is expected")
        if said.margin is not None:
            _measure(said.margin, "margin")


def _measure(measure: object, name: str) -> None:
    measure = _is(measure, Measure, name)
    if measure.dimension not in DIMENSIONS:
        raise NoVerdict(f"{name} is of {measure.dimension!r}, which is no dimension of doorlint.quantity")
    value = measure.value
    if not isinstance(value, Fraction | float | int) or isinstance(value, bool):
        raise NoVerdict(f"{name} is a {type(value).__name__}, a Fraction or float is expected")
    try:
        finite = math.isfinite(float(value))
    except OverflowError:
        finite = False
    if not finite:
        raise NoVerdict(f"{name} is no finite number")
    str(measure)


def _step(step: Step) -> None:
    for name in ("name", "formula", "ground"):
        _text(getattr(step, name), f"{name} of a step")
    if isinstance(step.result, str):
        _text(step.result, "result of a step")
    else:
        _measure(step.result, "result of a step")
    for term in _all(step.terms, Term, "terms of a step"):
        _text(term.name, "name of a term")
        _text(term.text, "text of a term")
        if term.place is not None:
            _place(term.place, "place of a term")


def _repair(repair: Repair) -> None:
    _text(repair.title, "title of a repair")
    _is(repair.life_safety, bool, "life_safety of a repair")
    _is(repair.verified, bool, "verified of a repair")
    for change in _all(repair.changes, Change, "changes of a repair"):
        _place(change.place, "place of a change")
        _text(change.text, "text of a change")
        _text(change.key, "key of a change")


def _place(place: object, name: str) -> None:
    place = _is(place, Place, name)
    _text(place.file, f"file of the {name}")
    _text(place.pointer, f"pointer of the {name}")
    if place.part not in ("key", "value"):
        raise NoVerdict(f"part of the {name} is {place.part!r}, key or value is expected")
    if place.span is not None:
        raise NoVerdict(f"{name} has a span, and a rule knows pointers alone")


def _text(text: object, name: str) -> str:
    text = _is(text, str, name)
    try:
        text.encode()
    except UnicodeEncodeError as error:
        half = error.object[error.start]
        raise NoVerdict(f"{name} holds half a character ({half!r}) and cannot be written") from None
    return text


def _is(value: object, kind: type[T], name: str) -> T:
    if not isinstance(value, kind):
        raise NoVerdict(f"{name} is a {type(value).__name__}, a {kind.__name__} is expected")
    return value


def _all(values: tuple[T, ...], kind: type[T] | tuple[type[T], ...], name: str) -> tuple[T, ...]:
    if not isinstance(values, tuple):
        raise NoVerdict(f"{name} is a {type(values).__name__}, a tuple is expected")
    for value in values:
        if not isinstance(value, kind):
            kinds = kind if isinstance(kind, tuple) else (kind,)
            expected = " or ".join(each.__name__ for each in kinds)
            raise NoVerdict(f"{name} holds a {type(value).__name__}, a {expected} is expected")
    return values
