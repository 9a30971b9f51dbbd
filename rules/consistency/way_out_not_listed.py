"""The means by which people leave, and no such device in the list."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import DELAYED, EXIT_GROUP, LEVER_LOCKS, kind_of
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Undecided, known
from doorlint.spec.model import Egress, Item, Opening

MEANS = {
    "lever": LEVER_LOCKS | {"mechanical_lock"},
    "bar": EXIT_GROUP | {"touch_bar", DELAYED},
    "button": frozenset({"exit_button", "emergency_release"}),
    "sensor": frozenset({"request_to_exit_sensor"}),
}

RULE = Rule(
    "consistency/way-out-not-listed",
    title="The device by which people are to leave is not listed",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: opening.egress is not None,
    scope="openings whose egress is described",
    basis=(Practice("schedule, set, sequence and data say the same; where they differ, the site chooses"),),
    why="The egress note says bar; nobody ordered one.",
    cure="List the device, or correct by what people leave.",
    limits="A door without lock is left by pushing: write `free`.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    egress = known(opening, "egress", Egress)
    by, at = known(egress, "by", str), egress.at("by")
    if by not in MEANS or not opening.items:
        yield not_applicable(f"people leave by {by}, which asks for no device, or no device is listed at all")
        return
    found = [item for item in opening.items.values() if _serves(item, by)]
    if found:
        yield ok(f"people leave by {by}: {found[0].name}", at, related=(Related(found[0].place.key, found[0].name),))
        return
    vague = next((item for item in opening.items.values() if not kind_of(item)), None)
    if vague is not None:
        raise Undecided("product", vague.at("product"), stated=vague.product is not None)
    yield failed(f"people are to leave by {by}, and no {by} is among the devices of {opening.id}", at)


def _serves(item: Item, by: str) -> bool:
    sheet = item.sheet
    freed = by == "lever" and sheet is not None and sheet.egress_side == "free"
    return kind_of(item) in MEANS[by] or freed
