"""Doors that a fire alarm has unlocked stay unlocked until somebody resets the alarm by hand."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import Change, Cited, Level, Repair, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.fields import Undecided
from doorlint.spec.model import Item, Opening

from ..egress.lists import CAUTION
from .doors import fire_contacts, insist_on_fire_contacts, leads_out, locks_of

RULE = Rule(
    "failure/relocks-by-itself-after-alarm",
    title="Doors lock again by themselves after a fire alarm",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(Cited("NFPA 72", "2010 to 2022", "21.9", "electrically locked doors", from_memory=True),),
    evidence=("device of the fire alarm", "reset"),
    why="The horns are silenced, the doors lock, and those who went back for somebody are locked in with the smoke.",
    cure="Latch the release until the alarm condition is reset by hand.",
    limits="The program of the fire alarm system is not in the spec. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    used = {use.owner.name: use.owner for use in fire_contacts(opening, context) if isinstance(use.owner, Item)}
    bears = leads_out(opening, context)
    if not used and bears:
        insist_on_fire_contacts(opening, context)
    if not used or not bears:
        why = "nothing holds people in electrically" if used else "no device of the fire alarm acts on a lock here"
        yield not_applicable(why)
        return
    grounds = _grounds(context)
    for item in used.values():
        if known(item, "reset", str) == "manual":
            yield ok(f"{item.name} stays released until the alarm is reset by hand", item.at("reset"), basis=grounds)
            continue
        repair = Repair("release until manual reset", (Change(item.at("reset"), "manual"),), life_safety=True)
        text = f"{item.name} lets the door lock again by itself, with the alarm condition not reset"
        yield failed(text, item.at("reset"), basis=grounds, repairs=(repair,))


def _grounds(context: Context) -> tuple[Cited, ...]:
    """The clause of the adopted edition; every known edition says the same, so without one the rule's ground stands."""
    try:
        return (codes.lookup(context.spec.project, "fire_alarm", "fire_alarm/relock").basis,)
    except Undecided:
        return ()
