"""The reader that passes staff through a delayed egress lock: it ends by itself and arms the lock again."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Opening

from ..egress.lists import CAUTION, case_of, follows

RULE = Rule(
    "delayed/bypass-without-end",
    title="The bypass of a delayed egress lock does not end by itself",
    level=Level.WARNING,
    over=Opening,
    basis=(Practice("a bypass by credential lasts some seconds and the lock arms itself again when it ends"),),
    evidence=("unlock time", "schedule"),
    why="Somebody lets a delivery through in the morning, and the door is unguarded for the rest of the day.",
    cure="Give the bypass an unlock time.",
    limits="An alarm for a door held open does the same for one that is propped. " + CAUTION,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    locks = [item for item in case.holding if item.switched_by is not None]
    if follows(case) != "delayed_egress" or not locks:
        yield not_applicable("no credential bypasses a delayed egress lock")
        return
    for item in locks:
        time = known(item, "unlock_time", Quantity)
        if item.unlock_schedule is not None:
            related = (Related(item.at("unlock_time"), f"the bypass lasts {time.text}"),)
            yield failed(f"{item.name} is bypassed by schedule as well", item.at("unlock_schedule"), related=related)
        else:
            yield ok(f"the bypass of {item.name} ends after {time.text}", item.at("unlock_time"))
