"""A fail-safe strike on a fire door lets the latch go without power."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import STRIKE, kind_of
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item

from ..failure.doors import with_fail_mode
from .doors import CAUTION, grounds, unrated

RULE = Rule(
    "fire/strike-fail-safe",
    title="A fail-safe electric strike on a fire door",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) == STRIKE,
    scope="electric strikes",
    basis=(
        Cited("NFPA 80", "2010 to 2022", "latching of swinging fire doors", "follows from positive latching"),
        Practice(
            "a strike on a fire door is fail-secure",
            physics="the keeper of a fail-safe strike is free without power, and nothing holds the latch",
        ),
    ),
    evidence=("fail mode", "fire rating"),
    why="Fire takes the power, the keeper swings free, and the pressure of the fire pushes the door open.",
    cure="Take a fail-secure strike; where the door is to unlock without power, a fail-safe lock that stays latched.",
    limits="No sentence of the standard says it in words. " + CAUTION,
    life_safety=True,
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    if unrated(opening):
        yield not_applicable("the opening is not fire-rated")
        return
    door = context.door(opening)
    mode = door.fail_mode(item)
    at = item.at("fail") if item.fail is not None else item.at("product")
    if mode is None:
        raise door.fail_gap(item)
    basis = grounds(context.spec.project, "fire_door/strike_fail", "fire_door/active_latch")
    if mode == "secure":
        yield ok(f"{item.name} is fail-secure: the latch is held without power", at, basis=basis)
    else:
        rated = known(opening, "fire_rating", str)
        related = (Related(opening.at("fire_rating"), f"rated {rated}"),)
        text = f"{item.name} is fail-{mode} on a door rated {rated}: without power nothing holds the latch"
        yield failed(text, at, related=related, basis=basis, repairs=tuple(with_fail_mode(item, "secure")))
