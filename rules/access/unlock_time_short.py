"""The time for which a lock stays unlocked against the way from the reader to the handle."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import LOCK_KINDS, READERS, kind_of
from doorlint.mechanics.sequence import PULL_S, TURN_S, unlock_time_needed_s
from doorlint.outcome import (
    Change,
    Level,
    Measure,
    Practice,
    Related,
    Repair,
    Step,
    Term,
    Verdict,
    at_least,
    not_applicable,
)
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, known

RULE = Rule(
    "access/unlock-time-short",
    title="The door locks again before people get from the reader to it",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: kind_of(item) in LOCK_KINDS and item.unlock_time is not None,
    scope="electric locks whose unlock time is stated",
    basis=(
        Practice(
            "somebody with a walking aid moves at 0.5 m/s, takes 1 s to turn to the lever and 1 s to draw the leaf",
            physics="time is distance over speed",
        ),
    ),
    evidence=("distance of the reader", "unlock time", "time needed"),
    why="The card is read, the lock clicks, and clicks again before the hand is on the lever.",
    cure="Unlock for longer and lock again when the leaf has closed, or put the reader beside the handle.",
    limits="The distance is in plan; a card in the left hand, a trolley or a queue take longer.",
)


def check(lock: Item, context: Context) -> Iterator[Verdict]:
    readers = [one for one in context.opening(lock).items.values() if kind_of(one) in READERS]
    far = [one for one in readers if one.distance is not None]
    if not far:
        yield not_applicable("every reader is taken to be at the door, for none states a distance from it")
    for reader in far:
        distance, time = known(reader, "distance", Quantity), known(lock, "unlock_time", Quantity)
        need, at = Measure(unlock_time_needed_s(distance.value), "time"), lock.at("unlock_time")
        formula = f"distance / 0.5 m/s + {TURN_S} s + {PULL_S} s"
        step = Step("time needed", formula, need, (Term("distance", distance.text, reader.at("distance")),))
        whole = Measure(-(-need.value // 1), "time")
        yield at_least(
            f"unlock time of {lock.name} for {reader.name}",
            Measure(time.value, "time"),
            need,
            at,
            limit_name="time needed",
            related=(Related(reader.at("distance"), f"{reader.name} is {distance.text} from the door"),),
            working=(step,),
            repairs=(Repair(f"unlock {lock.name} for {whole}", (Change(at, str(whole)),)),)
            if time.value < need.value
            else (),
        )
