"""The line between fire alarm and lock is cut: does the lock let go, or does somebody at least learn of it?"""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.feeds import ContactUse
from doorlint.context import Context
from doorlint.events.door import closed_without_power
from doorlint.outcome import Change, Cited, Level, Practice, Related, Repair, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item, Opening

from ..egress.lists import CAUTION
from .doors import fire_contacts, insist_on_fire_contacts, leads_out, locks_of

RULE = Rule(
    "failure/fire-line-fault-hidden",
    title="A cut line to the fire alarm leaves the door locked and says nothing",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Practice(
            "the release relay is held by the line of the fire alarm, so that a cut releases",
            physics="a relay that must be energised to release does nothing on a cut line",
        ),
        Cited("NFPA 72", "2010 to 2022", "emergency control function interfaces", from_memory=True),
        Cited("BS 7273-4", "2015", "categories of actuation", from_memory=True),
    ),
    evidence=("energised at rest", "supervised"),
    why="The ceiling fitter cut the line two years ago, the test on the panel shows green, and the door stays locked.",
    cure="Hold the relay energised in normal operation, or supervise the line to its end.",
    limits="The wiring inside the fire alarm system is not in the spec. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    uses = {use.owner.name: use for use in fire_contacts(opening, context) if isinstance(use.owner, Item)}
    bears = leads_out(opening, context)
    if not uses and bears:
        insist_on_fire_contacts(opening, context)
    if not uses or not bears:
        why = "nothing holds people in electrically" if uses else "no device of the fire alarm acts on a lock here"
        yield not_applicable(why)
        return
    for use in uses.values():
        assert isinstance(use.owner, Item)
        yield _judged(use.owner, use)


def _judged(item: Item, use: ContactUse) -> Verdict:
    related = (Related(use.place, f"{item.name} in the feed"),)
    if item.energised_at_rest is not True and item.supervised is True:
        return ok(f"the line of {item.name} is supervised: a fault is reported", item.at("supervised"))
    if known(item, "energised_at_rest", bool):
        without = closed_without_power(use)
        if without.value is None:
            raise without.gaps[0]
        if without.value:
            text = f"{item.name} is energised at rest, and its contact keeps the lock fed when it drops"
            return failed(text, use.place, related=(Related(item.at("energised_at_rest"), "energised at rest"),))
        return ok(f"{item.name} is held by its line: a cut releases the lock", item.at("energised_at_rest"))
    known(item, "supervised", bool)
    text = f"{item.name} must be energised to release: a cut line leaves the door locked and nobody learns of it"
    repair = Repair("hold the relay energised", (Change(item.at("energised_at_rest"), "true"),), life_safety=True)
    return failed(text, item.at("energised_at_rest"), related=related, repairs=(repair,))
