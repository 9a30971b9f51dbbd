"""The list of the hardware release: a switch in lever, bar or touch bar on the leaf breaks the lock's current."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Cited, Level, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Undecided, known
from doorlint.spec.model import Opening

from .lists import (
    CAUTION,
    ON_LEAF,
    Case,
    Requirement,
    breaks_directly,
    case_of,
    follows,
    in_series,
    judged,
    listed,
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
    limits="That the operation is obvious and works with one hand in any light is taken from the kind of device. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    if follows(case) != "hardware_release":
        yield not_applicable(f"the opening follows another arrangement: {case.arrangement.why}")
        return
    yield from judged(REQUIREMENTS, case, "hardware_release")


def _on_leaf(case: Case) -> Verdict:
    for item in case.holding:
        for use in in_series(case, item, ON_LEAF):
            device = case.opening.items[use.owner.name] if use.owner.identity.startswith(case.opening.id) else None
            if device is not None:
                return ok(f"{device.name} is operated on the leaf", device.at("product"))
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
                text = f"{use.owner.name} without power keeps the feed of {item.name} closed"
                return failed(text, use.place, related=(Related(use.contact.at("rest"), "closed at rest"),))
    return ok("the release works without power of its own", case.opening.place.key)


def _panic(case: Case) -> Verdict:
    at = case.opening.at("occupancy")
    if not wants_panic_hardware(case):
        return ok("panic hardware is not required here", at)
    for item in case.holding:
        owners = [use.owner for use in in_series(case, item, DEVICES)]
        if not any(getattr(owner.sheet, "label", None) in LABELS for owner in owners if hasattr(owner, "sheet")):
            return failed(f"no panic or fire exit hardware breaks the feed of {item.name}", item.place.key)
    return ok("the panic hardware releases the lock as well", at)


def _switches(case: Case) -> Verdict:
    if not case.holding:
        raise Undecided("what holds the opening", case.opening.place.key, stated=False)
    return breaks_directly(case, ON_LEAF, "the hardware on the leaf")


REQUIREMENTS = (
    Requirement("occupancy", lambda case: permission(case, "hardware_release/occupancy", "hardware release")),
    Requirement("hardware on the leaf", _on_leaf),
    Requirement("direct interruption", _switches),
    Requirement("immediate release", _at_once),
    Requirement("release without power of its own", _without_power),
    Requirement("loss of lock power", lambda case: unlocked_in(case, "lock_cable_cut", "standby_exhausted")),
    Requirement("panic hardware", _panic),
    Requirement("listing", lambda case: listed(system(case, "touch_bar"))),
)
