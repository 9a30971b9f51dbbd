"""An exit device on a fire door: labelled as fire exit hardware, and with no mechanical dogging."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN
from doorlint.spec.fields import Undecided
from doorlint.spec.model import Item, Product

from .doors import CAUTION, grounds, is_rated

DEVICES = ("exit_device", "latch_retraction_exit_device")
FIRE_LISTINGS = ("UL 10C", "EN 1634-1")

RULE = Rule(
    "fire/exit-device-not-for-fire",
    title="An exit device on a fire door is no fire exit hardware",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) in DEVICES,
    scope="exit devices",
    basis=(
        Cited("NFPA 80", "2010 to 2022", "fire exit hardware", from_memory=True),
        Practice("a device on a fire door cannot be held retracted by hand", physics="a dogged latch holds nothing"),
    ),
    evidence=("label", "dogging", "listings"),
    why="Somebody dogs the bars down in the morning, and in the fire nothing latches the doors.",
    cure="Fit fire exit hardware, which has no mechanical dogging.",
    limits="The words of the label on the door itself are seen on site. " + CAUTION,
    life_safety=True,
    incomplete=uncounted.where_unknown("sheet.dogging"),
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    sheet = item.sheet
    if not is_rated(opening):
        yield not_applicable("the opening is not fire-rated")
        return
    assert sheet is not None
    basis = grounds(context.spec.project, "fire_door/mechanical_dogging", "panic_hardware/fire_listing")
    rated = Related(opening.at("fire_rating"), f"rated {opening.fire_rating}")
    if sheet.dogging == "mechanical":
        related = (Related(sheet.at("dogging"), "mechanical dogging"), rated)
        yield failed(f"{item.name} can be held retracted by hand", item.at("product"), related=related, basis=basis)
    elif sheet.label in ("panic", "none"):
        related = (Related(sheet.at("label"), f"label {sheet.label}"), rated)
        yield failed(f"{item.name} is no fire exit hardware", item.at("product"), related=related, basis=basis)
    elif sheet.label == "fire_exit" or _listed_for_fire(sheet):
        yield ok(f"{item.name} is fire exit hardware", item.at("product"), basis=basis)
    else:
        raise Undecided("label", sheet.at("label"), stated=sheet.label is UNKNOWN)


def _listed_for_fire(sheet: Product) -> bool:
    listings = sheet.listings if isinstance(sheet.listings, tuple) else ()
    return "UL 305" in listings and any(name in listings for name in FIRE_LISTINGS)
