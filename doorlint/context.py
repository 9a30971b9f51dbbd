"""What a rule may ask besides its subject: the spec and the analyses of it, each computed once for a review."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from typing import Any

from .circuit.feeds import Feed, LoadedContact, LoadedOutput, Wiring, trace
from .circuit.poe_links import PoeLink, PoeLinks, PoeSource, poe_links
from .circuit.releases import SwitchedCoil, switched_coils
from .circuit.supplies import Supplies
from .circuit.voltages import Problems, Voltages
from .egress import Arrangement, classify
from .events import FaultRow, Matrix, matrix, pairs, singles
from .events.door import Door
from .exposure import Exposed, exposed
from .facts import Fact, Facts
from .quantity import Band, Quantity, within
from .rulebook import Rule
from .spec.fields import UNKNOWN, Part, each_once
from .spec.frozen import frozen
from .spec.model import Cable, HardwareSet, Item, Opening, PowerSource, Product, Project, Spec, Waiver


@dataclass(frozen=True)
class Context:
    """The spec and its analyses. `subjects` gives what there is of each type that a rule may be declared over."""

    spec: Spec
    wiring: Wiring
    voltages: Voltages
    poe: PoeLinks
    facts: Facts
    subjects: Mapping[type[Any], Sequence[Any]] = field(default_factory=dict)

    @cached_property
    def supplies(self) -> Supplies:
        """What each power source carries, and its battery."""
        return Supplies(self.spec, self.wiring)

    @cached_property
    def _kept(self) -> dict[tuple[str, str], Any]:
        """What was computed for an opening, by what it is and the opening's id."""
        return {}

    def _once(self, what: str, opening: Opening, compute: Callable[[], Any]) -> Any:
        key = (what, opening.id)
        if key not in self._kept:
            self._kept[key] = compute()
        return self._kept[key]

    def once(self, what: str, compute: Callable[[], Any]) -> Any:
        """What `compute` gives, computed once for the review: an index of the whole spec that many subjects ask."""
        key = (what, "")
        if key not in self._kept:
            self._kept[key] = compute()
        return self._kept[key]

    def fact(self, what: str, compute: Fact) -> bool:
        """Whether something is so of the spec as a whole, found out once for the review."""
        return self.facts.fact(what, compute)

    def stated_anywhere(self, name: str) -> bool:
        """Whether any item, product, power source or cable of the spec states a field."""

        def stated(spec: Spec) -> bool:
            items: Iterable[Any] = each_once(item for each in spec.openings.values() for item in each.items.values())
            groups = (items, spec.products.values(), spec.power.values(), spec.cables.values())
            return any(getattr(part, name, None) is not None for group in groups for part in group)

        return self.fact(f"stated anywhere: {name}", stated)

    def door(self, opening: Opening) -> Door:
        """The opening as the state model of events sees it."""
        found: Door = self._once("door", opening, lambda: Door(opening, self.spec, self.wiring))
        return found

    def matrix(self, opening: Opening) -> Matrix:
        """What the opening does in each event."""
        found: Matrix = self._once("matrix", opening, lambda: matrix(opening, self))
        return found

    def singles(self, opening: Opening) -> tuple[FaultRow, ...]:
        """What the opening does under each single fault."""
        found: tuple[FaultRow, ...] = self._once("singles", opening, lambda: singles(opening, self))
        return found

    def pairs(self, opening: Opening) -> tuple[FaultRow, ...]:
        """What an opening marked critical does under each pair of faults."""
        found: tuple[FaultRow, ...] = self._once("pairs", opening, lambda: pairs(opening, self))
        return found

    def arrangement(self, opening: Opening) -> Arrangement:
        """The locking arrangement that the opening follows by its wiring."""
        found: Arrangement = self._once("arrangement", opening, lambda: classify(opening, self))
        return found

    def exposed(self, opening: Opening) -> tuple[Exposed, ...]:
        """The conductors of the opening with what becomes of the door when each is shorted or opened."""
        found: tuple[Exposed, ...] = self._once("exposed", opening, lambda: exposed(opening, self))
        return found

    def parameter(self, rule: Rule, name: str) -> Fraction:
        """A figure of practice of a rule, SI: as the house standards set it, else the rule's default."""
        return rule.parameter(name).value(self.spec.practice)

    def matches(self, opening: Opening, field_name: str, pattern: re.Pattern[str]) -> tuple[re.Match[str], ...]:
        """What matches a pattern in a text of an opening; nothing where it has no such text.

        Texts differ from opening to opening; a rule that asks in this way can be applied to many at once, as long as
        they say nothing that it looks for.
        """
        text = getattr(opening, field_name)
        return tuple(pattern.finditer(text)) if isinstance(text, str) else ()

    def lies_in(self, part: Part, field_name: str, band: str) -> bool | None:
        """Whether a figure of a part lies within a band, written as in a spec; None where it has no such figure.

        Lengths differ from opening to opening; a rule that asks in this way can be applied once to many.
        """
        value = getattr(part, field_name, None)
        return within(value, band) if isinstance(value, Quantity | Band) else None

    def given_as_unknown(self, opening: Opening, field_name: str) -> bool:
        """Whether a text of an opening is given as unknown, or cannot be read; for rules that ask with `matches`."""
        return getattr(opening, field_name) is UNKNOWN

    def opening(self, item: Item) -> Opening:
        """The opening that an item belongs to."""
        return self.spec.openings[item.opening]


def analyse(spec: Spec, facts: Facts | None = None, problems: Problems | None = None) -> Context:
    """Run the analyses on a spec. facts, problems: what has been found out of it before, and of its circuits."""
    wiring = trace(spec)
    poe = poe_links(spec, wiring)
    items = tuple(item for opening in spec.openings.values() for item in opening.items.values())
    subjects: dict[type[Any], Sequence[Any]] = {
        Project: (spec.project,),
        Opening: tuple(spec.openings.values()),
        Item: items,
        Product: tuple(spec.products.values()),
        HardwareSet: tuple(spec.sets.values()),
        Cable: tuple(spec.cables.values()),
        PowerSource: tuple(spec.power.values()),
        Feed: wiring.feeds,
        LoadedOutput: wiring.outputs,
        LoadedContact: wiring.contacts,
        SwitchedCoil: switched_coils(wiring),
        PoeLink: poe.links,
        PoeSource: poe.sources,
        Waiver: spec.waivers,
    }
    voltages = Voltages(spec, wiring, _problems=problems if problems is not None else {})
    return Context(spec, wiring, voltages, poe, facts or Facts(spec), frozen(subjects))
