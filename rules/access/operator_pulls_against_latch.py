"""A door operator on a leaf whose latch nothing draws back."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.door import EXIT_GROUP, LEVER_LOCKS, RETRACTION, kind_of
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, known

from .operators import is_operator, leaves_of

RULE = Rule(
    "access/operator-pulls-against-latch",
    title="The operator pulls at a leaf whose latch nothing draws back",
    level=Level.ERROR,
    over=Item,
    applies=is_operator,
    scope="door operators",
    basis=(
        Practice(
            "a leaf that is driven has a strike that lets the latch go, electric latch retraction, or no latch",
            physics="freeing a lever leaves the latchbolt in its keeper until somebody turns the lever",
        ),
    ),
    evidence=("latching device", "what releases it"),
    why="The lever is freed by the card, nobody turns it, and the motor pulls at the latch until something gives.",
    cure="Fit an electric strike that suits the latch, latch retraction, or a magnet with a lock without latch.",
    limits="Rods and bolts that are not listed are not seen; that the strike suits the latch is a rule of its own.",
    incomplete=uncounted.devices,
)


def check(operator: Item, context: Context) -> Iterator[Verdict]:
    latching = [(leaf, item) for leaf in leaves_of(operator, context) for item in leaf.latchers]
    if not latching:
        uncounted.insist(uncounted.devices(operator, context))
        yield not_applicable(f"no latch is listed on the leaf that {operator.name} drives")
    retracts = {leaf.name for leaf, item in latching if kind_of(item) == RETRACTION}
    for leaf, item in latching:
        related = (Related(item.at("product"), f"the latch of {item.name}"),)
        if leaf.strikes:
            text = f"{leaf.strikes[0].name} lets the latch of {item.name} go"
            yield ok(text, operator.place.key, related=related)
        elif leaf.name in retracts and kind_of(item) in EXIT_GROUP:
            yield ok(f"the latch of {item.name} is drawn back electrically", operator.place.key, related=related)
        elif _latches(item):
            uncounted.insist(uncounted.devices(operator, context))
            text = f"{operator.name} drives the leaf, and nothing draws the latch of {item.name} back"
            yield failed(text, operator.place.key, related=related)
        else:
            yield ok(f"{item.name} has no latch that stays engaged", operator.place.key, related=related)


def _latches(item: Item) -> bool:
    assert item.sheet is not None
    if item.sheet.latch is None and kind_of(item) in LEVER_LOCKS | EXIT_GROUP:
        return True  # by what they are
    return known(item.sheet, "latch", bool)
