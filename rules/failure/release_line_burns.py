"""A release that must be energised runs through cable that burns."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Cable, Item, Opening

from ..egress.lists import CAUTION
from .doors import fire_contacts, insist_on_fire_contacts, leads_out, locks_of

RULE = Rule(
    "failure/release-line-burns",
    title="A release that needs current runs through cable that burns",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Practice(
            "a release path works by losing current; one that needs current is supervised and resists fire",
            physics="a burnt conductor carries no current",
        ),
    ),
    evidence=("energised at rest", "cable", "supervised"),
    why="The fire eats the cable before it reaches the detector, and the relay never gets the current that releases.",
    cure="Let the release work by losing current; else take a fire alarm cable that resists fire, and supervise it.",
    limits="How long a cable resists fire is judged by its own test, not by the spec. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    items = {use.owner.name: use.owner for use in fire_contacts(opening, context) if isinstance(use.owner, Item)}
    bears = leads_out(opening, context)
    if not items and bears:
        insist_on_fire_contacts(opening, context)
    if not items or not bears:
        why = "nothing holds people in electrically" if items else "no device of the fire alarm acts on a lock here"
        yield not_applicable(why)
        return
    for item in items.values():
        if item.energised_at_rest is True:
            yield ok(f"{item.name} releases by losing current", item.at("energised_at_rest"))
        elif not known(item, "energised_at_rest", bool):
            yield _by_current(item)


def _by_current(item: Item) -> Verdict:
    related = (Related(item.at("energised_at_rest"), f"{item.name} releases by getting current"),)
    known(item, "cable", str)
    cable = item.cable_sheet
    if not isinstance(cable, Cable) or known(cable, "kind", str) != "fire_alarm":
        text = f"{item.name} releases by getting current, over a cable that is no fire alarm cable"
        return failed(text, item.at("cable"), related=related)
    if not known(item, "supervised", bool):
        text = f"{item.name} releases by getting current, over a line that nothing supervises"
        return failed(text, item.at("supervised"), related=related)
    return ok(f"{item.name} releases over a supervised fire alarm cable", item.at("cable"))
