"""A door that is secured both ways, analysed for one direction only."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, known
from doorlint.spec.model import Egress, Opening

from .lists import CAUTION

RULE = Rule(
    "egress/one-direction-only",
    title="The door is locked both ways and egress is stated for one",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: opening.unsecured_side in ("both", UNKNOWN),
    scope="openings that need a credential from both sides",
    basis=(Practice("a corridor is a way out in both directions until the plan of escape routes says that it is not"),),
    evidence=("unsecured side", "side of egress"),
    why="People who come from the other side stand before a lock that nobody thought of.",
    cure="State egress for both sides, or that the plan has no way out through this opening on the other side.",
    limits="Which side needs a way out is on the plan of escape routes, not in the spec. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    known(opening, "unsecured_side", str)
    egress = known(opening, "egress", Egress)
    side = known(egress, "side", str)
    at = egress.at("side")
    if side in ("both", "none"):
        yield ok(f"egress is stated for {'both sides' if side == 'both' else 'neither side'}", at)
    elif opening.alternative_exit is True:
        yield ok("people on the other side have another way out", opening.at("alternative_exit"))
    else:
        if opening.alternative_exit is UNKNOWN:
            known(opening, "alternative_exit", bool)
        related = (Related(opening.at("unsecured_side"), "a credential is needed from both sides"),)
        yield failed(f"egress is stated from one side only ({side})", at, related=related)
