"""A lock that needs a key from inside."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Related, Verdict, failed, not_applicable, ok, to_authority
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Item, known
from doorlint.spec.model import Opening

from .lists import CAUTION, case_of, group_of, nobody_leaves, occupancy_of

RULE = Rule(
    "egress/key-to-leave",
    title="It takes a key to get out",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited("International Building Code", "2015 to 2024", "locks and latches", "clause by edition"),
        Cited("NFPA 101", "2012 to 2024", "7.2.1.5", "locks, latches and alarm devices", from_memory=True),
    ),
    evidence=("lock", "group", "main entrance", "sign"),
    why="The one who has the key has gone home.",
    cure="Fit a lock whose lever is free from inside at all times.",
    limits="Places of worship and dwelling units have exceptions of their own. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if nobody_leaves(opening):
        yield not_applicable("nobody leaves through this opening")
        return
    case = case_of(opening, context)
    locks = case.of_kind("mechanical_lock")
    keyed = [item for item in locks if item.sheet and item.sheet.egress_side == "locked"]
    if not keyed:
        if any(item.sheet and item.sheet.egress_side == "free" for item in locks):
            yield ok("no mechanical lock needs a key from inside", locks[0].at("product"))
        else:
            case.insist_on_devices()
            for item in locks:
                if item.sheet is not None and item.sheet.egress_side is UNKNOWN:
                    known(item.sheet, "egress_side", str)
            yield not_applicable("no mechanical lock is said to need a key from inside")
        return
    for item in keyed:
        yield _judged(item, opening, context)


def _judged(item: Item, opening: Opening, context: Context) -> Verdict:
    case = case_of(opening, context)
    related = (Related(item.sheet.at("egress_side"), "locked on the egress side"),) if item.sheet else ()
    at = item.at("product")
    group = group_of(case)
    found, gaps = codes.settings(case.project, "locks/main_door_key", group=group)
    if not found:
        raise gaps[0]
    basis = tuple(setting.basis for setting in found)
    if any(setting.permits is codes.Answer.NO for setting in found):
        return failed(
            f"{item.name} needs a key from inside; group {group} permits none", at, related=related, basis=basis
        )
    if not known(opening, "main_entrance", bool):
        text = f"{item.name} needs a key from inside, and this is no main entrance"
        return failed(text, at, related=related, basis=basis)
    if not known(opening, "sign", bool):
        return failed(
            f"{item.name} needs a key from inside, and the sign is not fitted", at, related=related, basis=basis
        )
    if group.startswith("A"):
        most, lacking = codes.settings(case.project, "locks/main_door_key_load")
        if not most:
            raise lacking[0]
        load = known(occupancy_of(case), "load", int)
        if most[0].admits(load) is codes.Answer.NO:
            text = f"{item.name} needs a key from inside, with {load} people of group {group}"
            return failed(text, at, related=related, basis=(most[0].basis,))
    conditions = "; ".join(dict.fromkeys(setting.condition for setting in found if setting.condition))
    return to_authority(f"{item.name} needs a key from inside: {conditions}", at, related=related, basis=basis)
