"""The suppression schedule: what takes a coil's current when it is switched off, and how long the lock then holds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ..circuit.coils import stored_energy_j
from ..circuit.releases import SwitchedCoil, coil_ohm, holding_current_a, slowest_path, slowest_release
from ..context import Context
from ..quantity import Band, Quantity
from ..reviewing import Result
from ..spec.fields import known
from ..spec.model import Product, Suppression, Suppressor
from .tables import NONE, Cell, Column, Open, Table, computed, found, number, optional, stated, text, words

COILS = (
    Column("item"), Column("product"), Column("supply"), Column("coil voltage"), Column("coil current", "A"),
    Column("inductance", "mH"), Column("switched by"), Column("fitted"), Column("built into the item"),
    Column("takes the current"), Column("opposing voltage", "V"), Column("energy in the coil", "mJ"),
    Column("lets go after", "s"),
)  # fmt: skip
PARTS = (
    Column("item"), Column("part"), Column("type"), Column("fitted at"), Column("cathode to"),
    Column("stand-off", "V"), Column("clamp", "V"), Column("resistance", "ohm"), Column("energy rating", "J"),
)  # fmt: skip


def build(_: Result, context: Context) -> tuple[Table, ...]:
    """One row for each coil, and one for each part fitted."""
    coils: list[SwitchedCoil] = list(context.subjects[SwitchedCoil])
    return (
        Table(
            "coils",
            "Coils",
            COILS,
            tuple(_coil(coil) for coil in coils),
            notes=(
                "Of several switches the one with the slowest release counts. The time is the electrical part alone: "
                "what stays in the iron and the moving parts come on top.",
                "A coil that nothing switches off has no switch to protect.",
            ),
        ),
        Table("parts", "Parts to be fitted", PARTS, tuple(row for coil in coils for row in _parts(coil)), notes=(
            "At the coil rather than at the far end of its line, unless the spec says otherwise.",
        )),
    )  # fmt: skip


def _coil(coil: SwitchedCoil) -> tuple[Cell, ...]:
    item = coil.item
    return (
        words(coil.identity),
        text(item.product, "product"),
        text(coil.coil.supply, "supply"),
        text(coil.coil.voltage, "voltage"),
        stated(coil.coil, "current", "current", "A"),
        stated(coil.coil, "inductance", "inductance", "mH"),
        words(", ".join(opener.label for opener in coil.openers)) if coil.openers else NONE,
        _fitted(coil),
        text(coil.coil.built_in_suppression, "built_in_suppression"),
        found(lambda: _taking(coil)),
        computed(lambda: _opposing(coil), "voltage", "V"),
        computed(lambda: _energy(coil), "energy", "mJ"),
        lets_go(coil),
    )


def _fitted(coil: SwitchedCoil) -> Cell:
    item = coil.item
    if item.suppression_unknown:
        return Open(("suppression",))
    if item.suppression:
        return words(", ".join(str(one.product) for one in item.suppression))
    return "none, as the spec says" if item.no_suppression else NONE


def _taking(coil: SwitchedCoil) -> Cell:
    way = slowest_path(coil)
    return NONE if way is None else words(way[0].label)


def _opposing(coil: SwitchedCoil) -> float | None:
    way = slowest_path(coil)
    return None if way is None else way[1]


def _energy(coil: SwitchedCoil) -> float:
    inductance = float(known(coil.coil, "inductance", Quantity).value)
    known(coil.coil, "voltage", Band)
    coil_ohm(coil.coil)
    return stored_energy_j(inductance, holding_current_a(coil))


def lets_go(coil: SwitchedCoil) -> Cell:
    """The electrical part of the slowest release, s."""
    if not coil.openers:
        return "nothing switches it"

    def cell() -> Cell:
        release = slowest_release(coil)
        if release is None:
            return "at once, with an arc in the switch"
        return number(release.electrical_s, "time", "s")

    return found(cell)


def _parts(coil: SwitchedCoil) -> Iterator[tuple[Cell, ...]]:
    for one in coil.item.suppression:
        yield words(coil.identity), text(one.product, "product"), *_part(one)


def _part(one: Suppression) -> tuple[Cell, ...]:
    product: Any = one.fitted
    part = product.suppressor if isinstance(product, Product) else None
    where, cathode = text(one.location, "location"), optional(one.cathode)
    if not isinstance(part, Suppressor):
        gap = Open(("suppressor",)) if isinstance(product, Product) else Open(("product",))
        return gap, where, cathode, gap, gap, gap, gap

    def of(name: str, dimension: str, unit: str) -> Cell:
        return NONE if getattr(part, name) is None else stated(part, name, dimension, unit)

    return (
        text(part.type, "type"),
        where,
        cathode,
        of("stand_off", "voltage", "V"),
        of("clamp", "voltage", "V"),
        of("resistance", "resistance", "ohm"),
        of("energy", "energy", "J"),
    )
