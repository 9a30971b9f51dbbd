"""The energy of a coil against what its suppressor takes up in one pulse."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.coils import SUPPRESSOR_KINDS, stored_energy_j
from doorlint.circuit.releases import SwitchedCoil, highest_source, holding_current_a
from doorlint.circuit.substitutes import suppressor_swaps
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_most, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Product, Undecided, known
from doorlint.spec.model import Suppression, Suppressor

RULE = Rule(
    "suppression/energy-over-rating",
    title="The coil holds more energy than its suppressor takes up",
    level=Level.WARNING,
    over=SwitchedCoil,
    applies=lambda switched: bool(switched.item.suppression),
    scope="coils with a fitted suppressor",
    basis=(
        Practice(
            "the whole energy of the coil stays within the suppressor's energy for one pulse",
            physics="the energy L x I^2 / 2 of the coil has to go somewhere when it is switched off",
        ),
    ),
    evidence=("energy of the coil", "energy of the suppressor", "margin"),
    why="The part wears with every release and fails short: the fuse blows and a fail-safe lock stays open.",
    cure="Fit a part for more energy; varistors and larger TVS parts take joules.",
    limits="One pulse; the mean power of frequent releases is not judged. What the winding itself takes is left out, "
    "so the energy is an upper bound.",
)


def check(switched: SwitchedCoil, context: Context) -> Iterator[Verdict]:
    for fitted in switched.item.suppression:
        yield _verdict(switched, fitted, context)


def _verdict(switched: SwitchedCoil, fitted: Suppression, context: Context) -> Verdict:
    item, coil = switched.item, switched.coil
    if not isinstance(fitted.fitted, Product):
        raise Undecided("product", fitted.at("product"), stated=fitted.product is not None)
    part = known(fitted.fitted, "suppressor", Suppressor)
    if not SUPPRESSOR_KINDS[known(part, "type", str)].needs_stand_off:
        return not_applicable(f"{fitted.product} takes little of the energy: the winding turns it into heat")
    if part.energy is None and coil.inductance is None:  # few sheets state them: one that does asks for the other
        return not_applicable(f"no sheet states an energy to compare: of the coil of {item.name}, of {fitted.product}")
    inductance = known(coil, "inductance", Quantity)
    rated = known(part, "energy", Quantity)
    current = holding_current_a(switched)
    energy = Measure(stored_energy_j(float(inductance.value), current), "energy")
    terms = (
        Term("L", inductance.text, coil.at("inductance")),
        Term("I at highest voltage", str(Measure(current, "current")), highest_source(switched.feed)[1].place),
    )
    return at_most(
        f"energy of the coil of {item.name}",
        energy,
        Measure(rated.value, "energy"),
        fitted.at("product"),
        limit_name=f"pulse energy of {fitted.product},",
        related=(
            Related(part.at("energy"), f"{fitted.product} takes {rated.text}"),
            Related(coil.at("inductance"), "inductance of the coil"),
        ),
        working=(Step("energy of the coil", "L x I^2 / 2", energy, terms),),
        repairs=suppressor_swaps(fitted, context.spec) if energy.value > rated.value else (),
    )
