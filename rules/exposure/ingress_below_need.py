"""Ingress protection of a device against the exposure of the side that it is on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from doorlint.circuit.ingress import IngressCode, IngressError, covers, nema_minimum_ip, parse_ip
from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.outcome import (
    Cited,
    Level,
    Place,
    Practice,
    Related,
    Verdict,
    failed,
    not_applicable,
    ok,
    undecided,
)
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import UNKNOWN, Item, Product, Undecided, known
from doorlint.spec.model import Exposure

# Exposure, from mild to severe, and the IP code that it asks for.
_CLASSES = Practice("IP54 under a canopy, IP65 in the open, IP66 where water jets are used; common practice, no source")
NEEDED: Mapping[str, Parameter | None] = MappingProxyType(
    {
        "interior": None,
        "sheltered": Parameter(
            "ingress_sheltered", "IP code of a device in a sheltered place", "ingress", "IP54", "higher", _CLASSES
        ),
        "exposed": Parameter(
            "ingress_exposed", "IP code of a device in an exposed place", "ingress", "IP65", "higher", _CLASSES
        ),
        "wash_down": Parameter(
            "ingress_wash_down",
            "IP code of a device in a place that is washed down",
            "ingress",
            "IP66",
            "higher",
            _CLASSES,
        ),
    }
)
PLACE_WORDS = MappingProxyType(
    {
        "interior": "an interior place",
        "sheltered": "a sheltered place",
        "exposed": "an exposed place",
        "wash_down": "a place that is washed down",
    }
)
# Products without electrics, or whose electrics sit elsewhere.
MECHANICAL = ("closer", "mechanical_lock", "exit_device", "cylinder", "suppressor", "power_transfer")

RULE = Rule(
    "exposure/ingress-below-need",
    title="The device is less tight than its place asks for",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: item.sheet is None or item.sheet.kind not in MECHANICAL,
    scope="electrical devices",
    basis=(
        Cited("IEC 60529", "1989 with amendments 1 and 2", "clauses 5 and 6", "what each digit of an IP code says"),
        Cited("NEMA 250", "2018", "informative comparison of types with IP codes", from_memory=True),
        Practice(
            "IP54 under a canopy, IP65 in the open, IP66 where water jets are used; nothing is asked indoors",
            physics="water between live parts conducts and corrodes",
        ),
    ),
    evidence=("exposure of the side", "IP code asked for", "IP code of the device"),
    why="An indoor reader outdoors fills with water in its first winter; a magnet that rusts loses its hold.",
    cure="Use a device of the class asked for, or move it to the sheltered side.",
    parameters=tuple(asked for asked in NEEDED.values() if asked is not None),
    limits="The tightness of cable entry, back-box and seal on site is not in the spec; corrosion and temperature are "
    "rules of their own.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    if item.sheet is None:
        raise Undecided("product", item.at("product"), stated=item.product is not None)
    place_word, where = exposure_of(item, context)
    parameter = NEEDED[place_word]
    if parameter is None:
        yield not_applicable(f"{item.name} is in {PLACE_WORDS[place_word]}: no ingress class is asked for", where)
        return
    needed = parameter.code(context.spec.practice)
    try:
        code, field = ingress_of(item.sheet)
    except IngressError as error:
        text = f"cannot be decided: {error.message}; write it like {error.example}"
        yield undecided(text, ("ip",), item.sheet.at("ip"))
        return
    fits = covers(code, parse_ip(needed))
    asked = f"{item.name} is in {PLACE_WORDS[place_word]}, which asks for {needed}"
    written = getattr(item.sheet, field)
    related = (Related(item.sheet.at(field), f"{written} on the data sheet"), Related(where, "the exposure"))
    if fits is None:
        text = f"cannot be decided: {asked}; {written} does not say whether it is met"
        yield undecided(text, (field,), item.sheet.at(field), related=related[1:])
    elif fits:
        yield ok(f"{asked}; it has {written}", item.at("product"), related=related)
    else:
        repairs = tuple(other_products(item, context.spec))
        yield failed(f"{asked}; it has {written}", item.at("product"), related=related, repairs=repairs)


def ingress_of(sheet: Product) -> tuple[IngressCode, str]:
    """The IP code of a product and the field it comes from; a NEMA type gives the code that it at least reaches."""
    if isinstance(sheet.ip, str):
        return parse_ip(sheet.ip), "ip"
    if isinstance(sheet.nema, str):
        code = nema_minimum_ip(sheet.nema)
        if code is not None:
            return code, "nema"
    raise Undecided("ip", sheet.at("ip"), stated=sheet.ip is UNKNOWN)


def exposure_of(item: Item, context: Context) -> tuple[str, Place]:
    """How exposed an item is, and where the spec says so. What stands in leaf or frame takes the worse side."""
    if item.exposure is not None:
        return known(item, "exposure", str), item.at("exposure")
    side = known(item, "side", str)
    if side == "remote":
        raise Undecided("exposure", item.at("exposure"), stated=False)
    opening = context.opening(item)
    exposure = opening.exposure
    if not isinstance(exposure, Exposure):
        raise Undecided("exposure", opening.at("exposure"), stated=exposure is UNKNOWN)
    if side in ("unsecured", "secured"):
        return known(exposure, side, str), exposure.at(side)
    sides = {name: getattr(exposure, name) for name in ("unsecured", "secured")}
    order = tuple(NEEDED)
    stated = {name: word for name, word in sides.items() if isinstance(word, str)}
    worst = max(stated, key=lambda name: order.index(stated[name]), default="")
    if len(stated) < 2 and (not worst or stated[worst] != order[-1]):
        lacking = next(name for name in sides if name not in stated)
        raise Undecided(lacking, exposure.at(lacking), stated=sides[lacking] is UNKNOWN)
    return stated[worst], exposure.at(worst)
