"""The line that feeds a device: cable, contacts, splices and power transfer in series, as resistances.

Every part keeps where it was read, so that a calculation can be shown and checked.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from ..outcome import Practice, Term
from ..quantity import Band, Quantity, WireSize
from ..rulebook import Parameter
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
from .demand import above_zero
from .feeds import ContactUse, Feed

KELVIN_AT_0_C = Fraction(27315, 100)
REFERENCE_C = 20.0
WARM_CONDUCTOR = Parameter(
    "conductor_temperature",
    "temperature that a conductor is taken to have at least: cable above ceilings and in frames",
    "temperature",
    KELVIN_AT_0_C + 40,
    "higher",
    Practice("40 degC; common practice, no source"),
)

CABLE_OUT, CABLE_BACK = "cable out", "cable back"

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
    """The line of one feed, from its terminal to the device. The first `contacts` of its elements are contacts."""

    feed: Feed
    elements: tuple[Element, ...]
    length_m: float
    conductor: Conductor | None
    contacts: int = 0

    @property
    def behind_contacts(self) -> tuple[Element, ...]:
        """The elements that the feed has to itself: contacts stand first and may be shared with other feeds."""
        return self.elements[self.contacts :]

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
    """The conductor of a cable; of solid copper where the spec does not say.

    Raises Undecided where its size or a resistance is not known, or material or strand are given as unknown.
    """
    strand = known(cable, "strand", str) if cable.strand is not None else "solid"
    material = known(cable, "material", str) if cable.material is not None else "copper"
    coating: Coating = "tinned" if material == "tinned_copper" else "plain"
    metal = MATERIALS.get(material.removeprefix("tinned_").replace("copper_clad_aluminium", "copper-clad aluminium"))
    given = float(above_zero(cable, "resistance")) if isinstance(cable.resistance, Quantity) else None
    awg, area = None, None
    if isinstance(cable.conductor, WireSize):
        awg = cable.conductor.awg
        area = float(cable.conductor.area_mm2) if cable.conductor.area_mm2 is not None else None
    elif cable.conductor is None and isinstance(cable.category, str):
        awg = CATEGORY_CONDUCTOR_AWG.get(cable.category.lower())
    if area == 0 and given is None:
        raise Undecided("conductor above zero", cable.at("conductor"), stated=False)
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
    """The warmest that a conductor to an opening is taken to be: its ambient, and at least 40 degC or what a
    house standard sets."""
    ambient = opening.ambient if isinstance(opening.ambient, Band) else None
    if ambient is None and spec.project.site is not None and not isinstance(spec.project.site, str):
        site = getattr(spec.project.site, "ambient", None)
        ambient = site if isinstance(site, Band) else None
    warm = celsius(WARM_CONDUCTOR.value(spec.practice))
    return max(warm, celsius(ambient.high)) if ambient is not None else warm


def line_of(feed: Feed, opening: Opening, *, own_return: bool = True) -> Line:
    """The line of a feed. Raises Undecided where cable or length is not known (a length of 0 m needs no cable).

    own_return: False where the way back runs in the conductor of another item.
    """
    item = feed.item
    length = known(item, "length", Quantity)
    length_m = float(length.value)
    elements: list[Element] = []
    conductor = None
    parallel = _count(item, "parallel_conductors", 1)
    if length_m > 0:
        if item.cable_sheet is None:
            raise Undecided("cable", item.at("cable"), stated=item.cable is not None)
        conductor = conductor_of(item.cable_sheet)
        one_way = resistance_ohm_per_m(conductor) * length_m / parallel
        alpha = conductor.material.alpha_20c_per_k
        term = Term(f"{item.cable} {length.text}", f"{one_way:.3g} ohm one way at 20 degC", item.at("length"))
        elements.append(Element(CABLE_OUT, "plus", one_way, one_way, alpha, term))
        if own_return:
            elements.append(Element(CABLE_BACK, "minus", one_way, one_way, alpha, term))
    splices = _count(item, "splices", 0)
    if splices:
        new, aged = (splices * ohm for ohm in SPLICE_OHM)
        term = Term("splices", f"{splices} at {SPLICE_OHM[0]:g} to {SPLICE_OHM[1]:g} ohm", item.at("splices"))
        elements.append(Element("splices", "plus", new, aged, 0.0, term))
        if own_return:
            elements.append(Element("splices", "minus", new, aged, 0.0, term))
    if item.through_transfer is not None:
        elements.extend(_transfer(item, opening, parallel))
    contacts = tuple(_contact(use) for use in feed.contacts)
    return Line(feed, (*contacts, *elements), length_m, conductor, len(contacts))


def _count(item: Item, name: str, least: int) -> int:
    """A whole number of an item; `least` where it is not stated. Raises Undecided where it is given as unknown."""
    if getattr(item, name) is None:
        return least
    value: object = getattr(item, name)
    if not isinstance(value, int):
        raise Undecided(name, item.at(name), stated=True)
    return max(value, least)


def _contact(use: ContactUse) -> Element:
    new, aged = CONTACT_OHM
    stated = use.contact.resistance
    if isinstance(stated, Quantity):
        new, aged = float(stated.value), max(float(stated.value), aged)
    term = Term(use.identity, f"contact, {new:g} to {aged:g} ohm", use.place)
    return Element(f"contact {use.name}", "plus", new, aged, 0.0, term)


def _transfer(item: Item, opening: Opening, parallel: int) -> list[Element]:
    through = opening.items.get(str(item.through_transfer))
    sheet = through.sheet if through is not None else None
    if sheet is None or not isinstance(sheet.transfer, Transfer):
        raise Undecided("through_transfer", item.at("through_transfer"), stated=True)
    new, aged = TRANSFER_CONDUCTOR_OHM
    if isinstance(sheet.transfer.resistance, Quantity):
        new = aged = float(sheet.transfer.resistance.value)
    new, aged = new / parallel, aged / parallel
    place = sheet.transfer.at("resistance")
    term = Term(f"conductor of {item.through_transfer}", f"{new:g} to {aged:g} ohm", place)
    legs: tuple[Literal["plus", "minus"], ...] = ("plus", "minus")
    return [Element("transfer", leg, new, aged, 0.0, term) for leg in legs]
