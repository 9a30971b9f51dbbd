"""The list of the hardware release: a switch in lever, bar or touch bar on the leaf breaks the lock's current."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Cited, Level, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, known
from doorlint.spec.model import Opening

from .lists import (
    CAUTION,
    ON_LEAF,
    Case,
    Requirement,
    breaks_directly,
    case_of,
    elsewhere,
    follows,
    in_series,
    judged,
    listed,
    owner_name,
    permission,
    system,
    unlocked_in,
)
from .panic import DEVICES, LABELS, wants_panic_hardware

RULE = Rule(
    "egress/hardware-release-incomplete",
    title="The list of the hardware release is not complete",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited(
            "International Building Code",
            "2015 to 2024",
            "door hardware release of electrically locked egress doors",
            "clause by edition",
        ),
        Cited(
            "NFPA 101",
            "2012 to 2024",
            "door hardware release of electrically locked egress doors",
            "7.2.1.5.6, from 2021 7.2.1.6.3",
            from_memory=True,
        ),
    ),
    evidence=("release in the feed", "what loss of power does"),
    why="Without the whole list a single worn switch in the bar keeps the magnet on while people push.",
    cure="Complete the list, or use hardware that gives free egress without electricity.",
    limits="That the operation is obvious and works with one hand in any light is taken from the kind of device. "
    + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    if follows(case) != "hardware_release":
        yield not_applicable(elsewhere(case))
        return
    yield from judged(REQUIREMENTS, case, "hardware_release")


def _on_leaf(case: Case) -> Verdict:
    for item in case.holding:
        for use in in_series(case, item, ON_LEAF):
            return ok(f"{owner_name(use)} is operated on the leaf", use.place)
    return failed("what releases the lock is not on the leaf", case.opening.place.key)


def _at_once(case: Case) -> Verdict:
    for item in case.holding:
        if item.release_delay is not None:
            return failed(f"{item.name} is released late ({item.release_delay})", item.at("release_delay"))
    return ok("nothing delays the release", case.opening.place.key)


def _without_power(case: Case) -> Verdict:
    """A touch bar senses with electronics: without power its contact has to leave the lock without current."""
    for item in case.holding:
        for use in in_series(case, item, ("touch_bar",)):
            if known(use.contact, "rest", str) == "closed":
                text = f"{owner_name(use)} without power keeps the feed of {item.name} closed"
                return failed(text, use.place, related=(Related(use.contact.at("rest"), "closed at rest"),))
    return ok("the release works without power of its own", case.opening.place.key)


def _panic(case: Case) -> Verdict:
    at = case.opening.at("occupancy")
    if not wants_panic_hardware(case):
        return ok("panic hardware is not required here", at)
    for item in case.holding:
        owners = [use.owner for use in in_series(case, item, DEVICES)]
        if not any(isinstance(o, Item) and o.sheet is not None and o.sheet.label in LABELS for o in owners):
            return failed(f"no panic or fire exit hardware breaks the feed of {item.name}", item.place.key)
    return ok("the panic hardware releases the lock as well", at)


REQUIREMENTS = (
    Requirement("occupancy", "", lambda case: permission(case, "hardware_release/permission", "hardware release")),
    Requirement("hardware on the leaf", "hardware_release/on_leaf", _on_leaf),
    Requirement(
        "direct interruption",
        "hardware_release/direct_interruption",
        lambda case: breaks_directly(case, ON_LEAF, "the hardware on the leaf"),
    ),
    Requirement("immediate release", "hardware_release/direct_interruption", _at_once),
    Requirement("release without power of its own", "hardware_release/power_release", _without_power),
    Requirement(
        "loss of lock power",
        "hardware_release/power_release",
        lambda case: unlocked_in(case, "lock_cable_cut", "standby_exhausted"),
    ),
    Requirement("panic hardware", "hardware_release/panic_hardware_releases", _panic),
    Requirement(
        "listing",
        "hardware_release/listing",
        lambda case: listed(case, "hardware_release/listing", system(case, "touch_bar")),
    ),
)
