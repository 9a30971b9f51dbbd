"""The line that feeds a device: cable, contacts, splices and power transfer in series, as resistances.

Every part keeps where it was read, so that a calculation can be shown and checked.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from ..outcome import Term
from ..quantity import Band, Quantity, WireSize
from ..spec.fields import Undecided, known
from ..spec.model import Cable, Item, Opening, Spec, Transfer
from .conductors import (
    CATEGORY_CONDUCTOR_AWG,
    CONTACT_OHM,
    COPPER,
    MATERIALS,
    SPLICE_OHM,
    TRANSFER_CONDUCTOR_OHM,
    Coating,
    Conductor,
    Construction,
    resistance_ohm_per_m,
)
from .feeds import Feed

KELVIN_AT_0_C = Fraction(27315, 100)
REFERENCE_C = 20.0
WARM_CONDUCTOR_C = 40.0
"""Conductor temperature that a calculation takes at least: cable above ceilings and in frames. Common practice."""

_STRANDS: dict[str, Construction] = {
    "solid": "solid",
    "class_1": "solid",
    "stranded": "stranded",
    "class_2": "stranded",
    "class_5": "flexible",
}


@dataclass(frozen=True, slots=True)
class Element:
    """One part in series on a line, passed once by the current. Resistances in ohm.

    new_ohm and aged_ohm bound a contact or splice; for a conductor both are equal, at 20 degC, and `alpha`
    carries its temperature coefficient per kelvin. `leg`: on the way out (plus) or back (minus).
    """

    name: str
    leg: Literal["plus", "minus"]
    new_ohm: float
    aged_ohm: float
    alpha: float
    term: Term

    def ohm(self, temperature_c: float, age: float) -> float:
        """Resistance at a conductor temperature and an age from 0 (new) to 1 (aged)."""
        middle = self.new_ohm + (self.aged_ohm - self.new_ohm) * age
        return middle * (1 + self.alpha * (temperature_c - REFERENCE_C))


@dataclass(frozen=True, slots=True)
class Line:
    """The line of one feed, from its terminal to the device."""

    feed: Feed
    elements: tuple[Element, ...]
    length_m: float
    conductor: Conductor | None

    def ohm(self, leg: str, temperature_c: float, age: float) -> float:
        """Resistance of one leg."""
        return sum(element.ohm(temperature_c, age) for element in self.elements if element.leg == leg)

    def loop_ohm(self, temperature_c: float, age: float) -> float:
        """Out and back."""
        return self.ohm("plus", temperature_c, age) + self.ohm("minus", temperature_c, age)


def celsius(kelvin: Fraction) -> float:
    """A temperature of the model in degC."""
    return float(kelvin - KELVIN_AT_0_C)


def conductor_of(cable: Cable) -> Conductor:
    """The conductor of a cable. Raises Undecided where its size is not known."""
    strand = known(cable, "strand", str) if cable.strand is not None else "solid"
    material = cable.material if isinstance(cable.material, str) else "copper"
    coating: Coating = "tinned" if material == "tinned_copper" else "plain"
    metal = MATERIALS.get(material.removeprefix("tinned_").replace("copper_clad_aluminium", "copper-clad aluminium"))
    given = float(known(cable, "resistance", Quantity).value) if cable.resistance is not None else None
    awg, area = None, None
    if isinstance(cable.conductor, WireSize):
        awg = cable.conductor.awg
        area = float(cable.conductor.area_mm2) if cable.conductor.area_mm2 is not None else None
    elif cable.conductor is None and isinstance(cable.category, str):
        awg = CATEGORY_CONDUCTOR_AWG.get(cable.category.lower())
    if awg is None and area is None and given is None:
        raise Undecided("conductor", cable.at("conductor"), stated=cable.conductor is not None)
    return Conductor(
        awg=awg,
        area_mm2=area,
        construction=_STRANDS[strand],
        coating=coating,
        material=metal or COPPER,
        given_ohm_per_m=given,
    )


def warm_conductor_c(spec: Spec, opening: Opening) -> float:
    """The warmest that a conductor to an opening is taken to be: its ambient, and never below 40 degC."""
    ambient = opening.ambient if isinstance(opening.ambient, Band) else None
    if ambient is None and spec.project.site is not None and not isinstance(spec.project.site, str):
        site = getattr(spec.project.site, "ambient", None)
        ambient = site if isinstance(site, Band) else None
    return max(WARM_CONDUCTOR_C, celsius(ambient.high)) if ambient is not None else WARM_CONDUCTOR_C


def line_of(feed: Feed, opening: Opening) -> Line:
    """The line of a feed. Raises Undecided where cable or length is not known (a length of 0 m needs no cable)."""
    item = feed.item
    length = known(item, "length", Quantity)
    length_m = float(length.value)
    elements: list[Element] = []
    conductor = None
    if length_m > 0:
        if item.cable_sheet is None:
            raise Undecided("cable", item.at("cable"), stated=item.cable is not None)
        conductor = conductor_of(item.cable_sheet)
        parallel = item.parallel_conductors if isinstance(item.parallel_conductors, int) else 1
        one_way = resistance_ohm_per_m(conductor) * length_m / max(parallel, 1)
        alpha = conductor.material.alpha_20c_per_k
        term = Term(f"{item.cable} {length.text}", f"{one_way:.3g} ohm one way at 20 degC", item.at("length"))
        elements.append(Element("cable out", "plus", one_way, one_way, alpha, term))
        if item.shares_return_with is None:
            elements.append(Element("cable back", "minus", one_way, one_way, alpha, term))
    for use in feed.contacts:
        elements.append(_contact(use.name, use.contact.resistance, Term(use.identity, "contact", use.place)))
    splices = item.splices if isinstance(item.splices, int) else 0
    if splices:
        new, aged = (splices * ohm for ohm in SPLICE_OHM)
        term = Term("splices", f"{splices} at {SPLICE_OHM[0]:g} to {SPLICE_OHM[1]:g} ohm", item.at("splices"))
        elements.append(Element("splices", "plus", new, aged, 0.0, term))
    if isinstance(item.through_transfer, str):
        elements.extend(_transfer(item, opening))
    return Line(feed, tuple(elements), length_m, conductor)


def _contact(name: str, stated: object, term: Term) -> Element:
    new, aged = CONTACT_OHM
    if isinstance(stated, Quantity):
        new = aged = float(stated.value)
    return Element(f"contact {name}", "plus", new, aged, 0.0, Term(term.name, f"{new:g} to {aged:g} ohm", term.place))


def _transfer(item: Item, opening: Opening) -> list[Element]:
    through = opening.items.get(str(item.through_transfer))
    sheet = through.sheet if through is not None else None
    if sheet is None or not isinstance(sheet.transfer, Transfer):
        raise Undecided("through_transfer", item.at("through_transfer"), stated=True)
    new, aged = TRANSFER_CONDUCTOR_OHM
    place = sheet.transfer.at("resistance")
    if isinstance(sheet.transfer.resistance, Quantity):
        new = aged = float(sheet.transfer.resistance.value)
    doubled = item.parallel_conductors if isinstance(item.parallel_conductors, int) else 1
    new, aged = new / max(doubled, 1), aged / max(doubled, 1)
    term = Term(f"conductor of {item.through_transfer}", f"{new:g} to {aged:g} ohm", place)
    legs: tuple[Literal["plus", "minus"], ...] = ("plus", "minus")
    return [Element("transfer", leg, new, aged, 0.0, term) for leg in legs]
