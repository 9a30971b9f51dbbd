"""From the outcome of a stand-in to that of an opening: every sign becomes the opening's own name again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from ..outcome import Change, Kind, Outcome, Place, Related, Repair, Step, Term


@dataclass(frozen=True)
class Bundle:
    """Outcomes of a stand-in that hold for every opening which agrees with it in the fields that were asked for."""

    outcomes: tuple[Outcome, ...]
    counts: Mapping[tuple[str, Kind], int] = field(default_factory=dict)
    by_kind: Mapping[Kind, tuple[Outcome, ...]] = field(default_factory=dict)


def bundle(outcomes: Iterable[Outcome]) -> Bundle:
    """Outcomes together with their counts."""
    listed = tuple(outcomes)
    kinds: dict[Kind, list[Outcome]] = {}
    for outcome in listed:
        kinds.setdefault(outcome.kind, []).append(outcome)
    counts = Counter((outcome.rule, outcome.kind) for outcome in listed)
    return Bundle(listed, dict(counts), {kind: tuple(found) for kind, found in kinds.items()})


def table(names: Mapping[str, str]) -> Mapping[int, str]:
    """The names by sign, as `str.translate` takes them."""
    return {ord(sign): name for sign, name in names.items()}


def told(outcome: Outcome, names: Mapping[int, str]) -> Outcome:
    """The outcome with names in place of signs; `names` is a `table`."""
    return replace(
        outcome,
        subject=outcome.subject.translate(names),
        message=outcome.message.translate(names),
        place=_place(outcome.place, names),
        related=tuple(Related(_place(each.place, names), each.caption.translate(names)) for each in outcome.related),
        what=outcome.what.translate(names),
        working=tuple(_step(step, names) for step in outcome.working),
        repairs=tuple(_repair(repair, names) for repair in outcome.repairs),
    )


def _place(place: Place, names: Mapping[int, str]) -> Place:
    return Place(place.file.translate(names), place.pointer.translate(names), place.part, place.span)


def _step(step: Step, names: Mapping[int, str]) -> Step:
    terms = tuple(
        Term(
            term.name.translate(names),
            term.text.translate(names),
            None if term.place is None else _place(term.place, names),
        )
        for term in step.terms
    )
    result = step.result.translate(names) if isinstance(step.result, str) else step.result
    name, formula = step.name.translate(names), step.formula.translate(names)
    return Step(name, formula, result, terms, step.ground.translate(names))


def _repair(repair: Repair, names: Mapping[int, str]) -> Repair:
    changes = tuple(
        Change(_place(change.place, names), change.text.translate(names), change.key.translate(names))
        for change in repair.changes
    )
    return replace(repair, title=repair.title.translate(names), changes=changes)
