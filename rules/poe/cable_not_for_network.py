"""Whether a device fed over PoE is on network cable with copper conductors."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.poe_cures import quoted
from doorlint.circuit.poe_links import PoeLink
from doorlint.context import Context
from doorlint.outcome import Change, Cited, Level, Practice, Related, Repair, Verdict, failed, not_applicable, ok
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Cable, Undecided, known

COPPER = ("copper", "tinned_copper")

RULE = Rule(
    "poe/cable-not-for-network",
    title="The PoE device is on a cable that is no copper network cable",
    level=Level.ERROR,
    over=PoeLink,
    basis=(
        Cited("IEEE 802.3", "2022", "clauses 33 and 145", "cabling for power", from_memory=True),
        Cited("ANSI/TIA-568.2", "D", "balanced cable", "conductors of solid or stranded copper", from_memory=True),
        Practice(
            "power over Ethernet runs on category cable of copper",
            physics="copper-clad aluminium has about 1.5 times the resistance of copper of the same size",
        ),
    ),
    evidence=("kind of cable", "conductor material"),
    why="Clad cable heats, breaks at its terminals and loses voltage; without twisted pairs no data pass.",
    cure="Use category cable, 5e or better, with solid copper conductors.",
    limits="What is laid in the end is seen only on site: measure the loop.",
)


def check(link: PoeLink, context: Context) -> Iterator[Verdict]:
    item = link.item
    cable = item.cable_sheet
    if cable is None:
        if isinstance(item.length, Quantity) and item.length.value == 0:
            yield not_applicable(f"{item.name} has no cable of its own to its port")
            return
        raise Undecided("cable", item.at("cable"), stated=item.cable is not None)
    at = item.at("cable")
    fitting = [name for name, each in context.spec.cables.items() if _fits(each)]
    repairs = tuple(Repair(f"lay {name} to {item.name}", (Change(at, quoted(name)),)) for name in fitting[:3])
    kind = known(cable, "kind", str)
    if kind != "category":
        text = f"{item.name} is fed over PoE on {item.cable}, which is {kind.replace('_', ' ')} cable"
        yield failed(text, at, related=(Related(cable.at("kind"), "the kind of cable"),), repairs=repairs)
    elif cable.material is not None and known(cable, "material", str) not in COPPER:
        metal = str(cable.material).replace("_", " ")
        text = f"{item.name} is fed over PoE on {item.cable}, whose conductors are {metal}"
        yield failed(text, at, related=(Related(cable.at("material"), "the conductors"),), repairs=repairs)
    elif cable.material is None and cable.category is None:
        raise Undecided("material", cable.at("material"), stated=False)
    else:
        metal = "copper" if cable.material is not None else "copper, as its category demands"
        yield ok(f"{item.cable} is network cable of {metal}", at)


def _fits(cable: Cable) -> bool:
    return cable.kind == "category" and cable.material in (None, *COPPER)
