"""What a rule may ask besides its subject: the spec and the analyses of it, each computed once for a review."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from .circuit.feeds import Feed, LoadedContact, LoadedOutput, Wiring, trace
from .circuit.voltages import Voltages
from .spec.model import Item, Opening, PowerSource, Project, Spec, Waiver


@dataclass(frozen=True)
class Context:
    """The spec and its analyses. `subjects` gives what there is of each type that a rule may be declared over."""

    spec: Spec
    wiring: Wiring
    voltages: Voltages
    subjects: Mapping[type[Any], Sequence[Any]] = field(default_factory=dict)

    def opening(self, item: Item) -> Opening:
        """The opening that an item belongs to."""
        return self.spec.openings[item.opening]


def analyse(spec: Spec) -> Context:
    """Run the analyses on a spec."""
    wiring = trace(spec)
    items = tuple(item for opening in spec.openings.values() for item in opening.items.values())
    subjects: dict[type[Any], Sequence[Any]] = {
        Project: (spec.project,),
        Opening: tuple(spec.openings.values()),
        Item: items,
        PowerSource: tuple(spec.power.values()),
        Feed: wiring.feeds,
        LoadedOutput: wiring.outputs,
        LoadedContact: wiring.contacts,
        Waiver: spec.waivers,
    }
    return Context(spec, wiring, Voltages(spec, wiring), subjects)
