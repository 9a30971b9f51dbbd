"""A sensor that unlocks a door although people leave by its lever."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import kind_of, signals_to
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item

from ..failure.doors import locks_of

RULE = Rule(
    "inputs/sensor-unlocks-free-door",
    title="A sensor unlocks a door that people open by its lever anyway",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: kind_of(item) == "request_to_exit_sensor",
    scope="request-to-exit sensors",
    basis=(Practice("where hardware lets people out, a sensor only holds back the alarm"),),
    why="The strike clicks whenever somebody walks past inside, and each click is a chance to slip in.",
    cure="Let the controller only hold back the alarm of a forced door.",
    limits="What the controller does is as stated; only a test shows that it is so.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    arrangement = context.arrangement(opening)
    if arrangement.kind is None and not arrangement.holding:
        raise arrangement.open_because[0]
    if arrangement.holding or not locks_of(opening) or not signals_to(item):
        yield not_applicable(f"{item.name} lets people out, or reports to nobody")
    elif known(item, "on_request", str) == "shunts_alarm":
        yield ok(f"{item.name} only holds back the alarm", item.at("on_request"))
    else:
        text = f"{item.name} unlocks the door for everybody who walks past inside"
        yield failed(text, item.at("on_request"), related=(Related(arrangement.place, arrangement.why),))
