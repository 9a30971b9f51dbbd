"""An opening of which nobody can tell the unsecured side."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.door import READERS, kind_of
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Egress, Opening

RULE = Rule(
    "consistency/unsecured-side-not-clear",
    title="It is not clear which side of the opening is the unsecured one",
    level=Level.WARNING,
    over=Opening,
    basis=(Practice("schedule, set, sequence and data say the same; where they differ, the site chooses"),),
    why="The reader is fitted on the wrong side of the wall.",
    cure="State the unsecured side, and keep the way out on the other.",
    limits="Openings where people leave both ways are not compared.",
    incomplete=uncounted.where_unknown("egress.side"),
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if not any(kind_of(item) in READERS for item in opening.items.values()):
        yield not_applicable("no reader is listed")
        return
    side, at = known(opening, "unsecured_side", str), opening.at("unsecured_side")
    egress = opening.egress if isinstance(opening.egress, Egress) else None
    if egress is not None and egress.side in ("from", "to") and egress.side == side:
        related = (Related(egress.at("side"), "people leave out of it"),)
        text = f"the space named by {side!r} is the unsecured one, and people leave out of it only"
        yield failed(text, at, related=related)
    else:
        yield ok("the unsecured side is stated", at)
