"""All outcomes of a review in one order, those of like openings told only when somebody asks for them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TypeAlias, overload

from ..document import Document
from ..outcome import Kind, Outcome
from .telling import Bundle, table, told

Told: TypeAlias = tuple[Mapping[str, str], tuple[Bundle, ...]]
"""The names of an opening by sign, and the bundles that hold for it."""


class Listing(Sequence[Outcome]):
    """Outcomes sorted by file, place, rule and subject. Counting them, or asking for some kinds, tells no others."""

    def __init__(self, single: Sequence[Outcome], openings: Sequence[Told], documents: Mapping[str, Document]) -> None:
        self._single = single
        self._openings = openings
        self._documents = documents
        self._all: tuple[Outcome, ...] | None = None
        self._kinds: dict[frozenset[Kind], tuple[Outcome, ...]] = {}

    def counts(self) -> Mapping[tuple[str, Kind], int]:
        """How many outcomes each rule has of each kind."""
        counted = Counter((outcome.rule, outcome.kind) for outcome in self._single)
        uses = Counter(id(bundle) for _, bundles in self._openings for bundle in bundles)
        bundles = {id(bundle): bundle for _, bundles in self._openings for bundle in bundles}
        for number, times in uses.items():
            for key, count in bundles[number].counts.items():
                counted[key] += times * count
        return counted

    def of_kinds(self, kinds: Iterable[Kind]) -> tuple[Outcome, ...]:
        """The outcomes of some kinds, in order."""
        wanted = frozenset(kinds)
        if wanted not in self._kinds:
            found = [outcome for outcome in self._single if outcome.kind in wanted]
            for own, bundles in self._openings:
                names = table(own)
                for bundle in bundles:
                    for kind in (each for each in Kind if each in wanted):
                        found += [told(outcome, names) for outcome in bundle.of(kind)]
            self._kinds[wanted] = tuple(sorted(found, key=self._key))
        return self._kinds[wanted]

    def with_kind(self, kind: Kind, outcomes: Iterable[Outcome]) -> Listing:
        """The same outcomes, but for those of one kind, which are given anew."""
        single = [outcome for outcome in self._single if outcome.kind is not kind]
        left = [(names, tuple(bundle.without(kind) for bundle in bundles)) for names, bundles in self._openings]
        return Listing([*single, *outcomes], left, self._documents)

    def _key(self, outcome: Outcome) -> tuple[int, int, str, str, str]:
        order = self._order
        place = outcome.place
        if place.span is not None:
            start = place.span[0]
        else:
            start = self._documents[place.file].region(place.pointer, place.part if place.pointer else "value").start
        return (order[place.file], start, outcome.rule, outcome.subject, outcome.message)

    @property
    def _order(self) -> Mapping[str, int]:
        if not hasattr(self, "_ordered"):
            self._ordered = {name: index for index, name in enumerate(self._documents)}
        return self._ordered

    def _told(self) -> tuple[Outcome, ...]:
        if self._all is None:
            self._all = self.of_kinds(Kind)
        return self._all

    @overload
    def __getitem__(self, index: int) -> Outcome: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Outcome]: ...
    def __getitem__(self, index: int | slice) -> Outcome | Sequence[Outcome]:
        return self._told()[index]

    def __iter__(self) -> Iterator[Outcome]:
        return iter(self._told())

    def __len__(self) -> int:
        return len(self._single) + sum(b.size for _, bundles in self._openings for b in bundles)

    def __eq__(self, other: object) -> bool:
        return self._told() == tuple(other) if isinstance(other, Sequence) else NotImplemented

    def __hash__(self) -> int:
        return hash(self._told())

    def __repr__(self) -> str:
        return f"Listing of {len(self)} outcomes"


def listing(single: Sequence[Outcome], openings: Sequence[Told], documents: Mapping[str, Document]) -> Listing:
    """The outcomes that were found one by one, and those of like openings."""
    return Listing(single, openings, documents)


def counts(outcomes: Sequence[Outcome]) -> Mapping[tuple[str, Kind], int]:
    """How many outcomes each rule has of each kind."""
    if isinstance(outcomes, Listing):
        return outcomes.counts()
    return Counter((outcome.rule, outcome.kind) for outcome in outcomes)


def of_kinds(outcomes: Sequence[Outcome], kinds: Iterable[Kind]) -> Sequence[Outcome]:
    """The outcomes of some kinds, in order."""
    if isinstance(outcomes, Listing):
        return outcomes.of_kinds(kinds)
    wanted = frozenset(kinds)
    return tuple(outcome for outcome in outcomes if outcome.kind in wanted)


def with_kind(outcomes: Sequence[Outcome], kind: Kind, given: Iterable[Outcome]) -> Sequence[Outcome]:
    """The same outcomes in the same order, but for those of one kind, which are given anew with their places."""
    if isinstance(outcomes, Listing):
        return outcomes.with_kind(kind, given)
    anew = iter(given)
    return tuple(next(anew) if outcome.kind is kind else outcome for outcome in outcomes)
