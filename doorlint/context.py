"""What a rule may ask besides its subject: the spec and the analyses of it, each computed once for a review."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from .circuit.feeds import Feed, LoadedContact, LoadedOutput, Wiring, trace
from .circuit.poe_links import PoeLink, PoeLinks, PoeSource, poe_links
from .circuit.releases import SwitchedCoil, switched_coils
from .circuit.supplies import Supplies
from .circuit.voltages import Voltages
from .spec.model import Cable, Item, Opening, PowerSource, Project, Spec, Waiver


@dataclass(frozen=True)
class Context:
    """The spec and its analyses. `subjects` gives what there is of each type that a rule may be declared over."""

    spec: Spec
    wiring: Wiring
    voltages: Voltages
    poe: PoeLinks
    subjects: Mapping[type[Any], Sequence[Any]] = field(default_factory=dict)

    @cached_property
    def supplies(self) -> Supplies:
        """What each power source carries, and its battery."""
        return Supplies(self.spec, self.wiring)

    def opening(self, item: Item) -> Opening:
        """The opening that an item belongs to."""
        return self.spec.openings[item.opening]


def analyse(spec: Spec) -> Context:
    """Run the analyses on a spec."""
    wiring = trace(spec)
    poe = poe_links(spec, wiring)
    items = tuple(item for opening in spec.openings.values() for item in opening.items.values())
    subjects: dict[type[Any], Sequence[Any]] = {
        Project: (spec.project,),
        Opening: tuple(spec.openings.values()),
        Item: items,
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
    return Context(spec, wiring, Voltages(spec, wiring), poe, subjects)
