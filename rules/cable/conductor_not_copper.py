"""The metal of a cable's conductors."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Cable, known

RULE = Rule(
    "cable/conductor-not-copper",
    title="The cable's conductors are not of copper",
    level=Level.WARNING,
    over=Cable,
    basis=(
        Practice(
            "door hardware is wired in copper: aluminium and copper-clad aluminium have about 1.6 times its resistance "
            "and break at small terminals",
            physics="resistivity of aluminium, 61 percent of the conductivity of copper",
        ),
    ),
    evidence=("material",),
    why="Volts are lost that no table of copper shows, network devices start badly, and terminals come loose.",
    cure="A cable with copper conductors throughout.",
    limits="Where the material is not stated, this is open, and the circuit is computed with copper meanwhile.",
)


def check(cable: Cable, context: Context) -> Iterator[Verdict]:
    material = known(cable, "material", str)
    words = material.replace("_", " ").replace("copper clad", "copper-clad")
    if material in ("copper", "tinned_copper"):
        yield ok(f"the conductors of {cable.id} are of {words}", cable.at("material"))
        return
    items = [item for opening in context.spec.openings.values() for item in opening.items.values()]
    related = tuple(
        Related(item.at("cable"), f"laid to {item.identity}") for item in items if item.cable_sheet is cable
    )
    repair = Repair(f"use a cable {cable.id} of copper", (Change(cable.at("material"), "copper"),))
    yield failed(
        f"the conductors of {cable.id} are of {words}", cable.at("material"), related=related[:3], repairs=(repair,)
    )
