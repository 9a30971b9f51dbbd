"""Resistance of hardware against corrosion where the air is salt or carries chlorine."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from types import MappingProxyType

from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Place, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Item, Product, Site, Undecided, known

from .ingress_below_need import exposure_of

NEEDED: Mapping[str, int] = MappingProxyType({"marine": 4, "industrial": 4, "pool": 5, "urban": 3, "inland": 3})
"""Grade of EN 1670 outdoors by the setting; at a pool indoors too. Common practice, no source."""

RULE = Rule(
    "exposure/corrosion-below-need",
    title="The device resists corrosion less than the air there asks for",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: isinstance(item.sheet, Product) and item.sheet.corrosion_class is not None,
    scope="devices whose corrosion class is stated",
    basis=(
        Cited("EN 1670", "2007", "grades", "hours in neutral salt spray", from_memory=True),
        Practice("outdoors grade 3, near the sea and industry grade 4; at a pool grade 5, indoors too"),
    ),
    evidence=("setting", "class asked for", "class of the device"),
    why="Keepers seize, screws rust through, and bond plates no longer touch.",
    cure="Use hardware of the class asked for: stainless steel of a grade made for salt or chlorine.",
    limits="Products whose sheet states no class are not judged; the class says nothing of looks.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    assert isinstance(item.sheet, Product)
    word, where = exposure_of(item, context)
    setting, at = _setting(context)
    if word == "interior" and setting != "pool":
        yield not_applicable(f"{item.name} is indoors, in dry air")
        return
    need, has = NEEDED[setting], known(item.sheet, "corrosion_class", int)
    related = (
        Related(item.sheet.at("corrosion_class"), f"class {has}"),
        Related(at, setting),
        Related(where, "exposure"),
    )
    text = f"the air is {setting}, which asks for class {need} of EN 1670; {item.name} has {has}"
    if has >= need:
        yield ok(text, item.at("product"), related=related)
    else:
        yield failed(text, item.at("product"), related=related, repairs=tuple(other_products(item, context.spec)))


def _setting(context: Context) -> tuple[str, Place]:
    site = context.spec.project.site
    if not isinstance(site, Site):
        raise Undecided("site", context.spec.project.at("site"), stated=site is UNKNOWN)
    return known(site, "setting", str), site.at("setting")
