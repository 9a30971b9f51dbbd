"""A fail-safe lock where people get out by hardware anyway: it only opens the door after each outage."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Item

from .doors import WORN, is_lock, resists, with_fail_mode

RULE = Rule(
    "failure/fail-safe-without-need",
    title="A fail-safe lock where people get out by hardware anyway",
    level=Level.NOTE,
    over=Item,
    applies=is_lock,
    scope="electric locks",
    basis=(Practice("where hardware frees egress, a lock is fail-secure unless something else calls for fail-safe"),),
    evidence=("lock", "fail mode"),
    why="Chosen for safety, it adds none: the lever opens anyway. After each outage the door stands open to everybody.",
    cure="Choose fail-secure, with a cylinder for the responders.",
    limits="Stair doors, and doors that are to open for the fire service, call for fail-safe. " + WORN,
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    door = context.door(opening)
    held = door.held_inside(item)
    if opening.stair is True:
        yield not_applicable("a stair door has to unlock without power")
        return
    if held.value is True:
        yield not_applicable(f"{item.name} holds people in: it has to be fail-safe")
        return
    if held.value is None:
        raise held.gaps[0]
    mode = door.fail_mode(item)
    if mode is None:
        raise door.fail_gap(item)
    at = item.at("fail") if item.fail is not None else item.at("product")
    if mode != "safe":
        yield ok(f"{item.name} stays locked without power, and people get out by hardware", at)
    elif not resists(opening):
        yield not_applicable(f"the opening need not resist (security {opening.security})")
    else:
        text = f"{item.name} is fail-safe, and people get out by hardware: it only opens the door when power is gone"
        yield failed(text, at, repairs=tuple(with_fail_mode(item, "secure")))
