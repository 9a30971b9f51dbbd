"""From the outcome of a stand-in to that of an opening: every sign becomes the opening's own name again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from ..outcome import Change, Kind, Outcome, Place, Related, Repair, Step, Term
from .packing import packed, unpacked


class Bundle:
    """Outcomes of a stand-in that hold for every opening which agrees with it in the fields that were asked for.

    A bundle is sent and stored with the outcomes of each kind packed; they are unpacked when somebody asks for them.
    """

    __slots__ = ("_found", "_packed", "counts")

    def __init__(
        self,
        counts: Mapping[tuple[str, Kind], int],
        found: Mapping[Kind, tuple[Outcome, ...]] = MappingProxyType({}),
        packed: Mapping[Kind, bytes] = MappingProxyType({}),
    ) -> None:
        self.counts = counts
        self._found = dict(found)
        self._packed = packed

    @property
    def kinds(self) -> frozenset[Kind]:
        """The kinds of which it has outcomes."""
        return frozenset({*self._found, *self._packed})

    @property
    def size(self) -> int:
        """How many outcomes it has."""
        return sum(self.counts.values())

    def of(self, kind: Kind) -> tuple[Outcome, ...]:
        """The outcomes of one kind."""
        if kind not in self._found and kind in self._packed:
            self._found[kind] = unpacked(self._packed[kind])
        return self._found.get(kind, ())

    def without(self, kind: Kind) -> Bundle:
        """The bundle without the outcomes of one kind."""
        if kind not in self.kinds:
            return self
        counts = {key: count for key, count in self.counts.items() if key[1] is not kind}
        found = {each: outcomes for each, outcomes in self._found.items() if each is not kind}
        return Bundle(counts, found, {each: data for each, data in self._packed.items() if each is not kind})

    def __reduce__(self) -> tuple[object, tuple[object, ...]]:
        sent = {kind: self._packed[kind] if kind in self._packed else packed(self.of(kind)) for kind in self.kinds}
        return Bundle, (self.counts, {}, sent)


def bundle(outcomes: Iterable[Outcome]) -> Bundle:
    """Outcomes together with their counts."""
    kinds: dict[Kind, list[Outcome]] = {}
    counts: Counter[tuple[str, Kind]] = Counter()
    for outcome in outcomes:
        kinds.setdefault(outcome.kind, []).append(outcome)
        counts[outcome.rule, outcome.kind] += 1
    return Bundle(dict(counts), {kind: tuple(found) for kind, found in kinds.items()})


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
