"""A conductor that unlocks the door when it is joined, cut or fed, and that is reached from outside."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from ..failure.doors import WORN, locks_of
from .lock_switched_outside import exposures

RULE = Rule(
    "tamper/conductor-reachable-outside",
    title="A conductor that unlocks the door can be reached from outside",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Practice(
            "no conductor of a lock or of a request to exit enters a cable or box on the unsecured side",
            physics="a fail-safe lock opens on a cut or short, a fail-secure one on a battery, an input on a bridge",
        ),
    ),
    evidence=("conductor", "why it is reached", "what is done to it"),
    why="The spare pair of the reader cable carries the lock, and a nine-volt battery opens the door.",
    cure="Run the lock and the request to exit in cables of their own that end on the secured side.",
    limits="A cable above a public ceiling is not seen unless the spec tells where it runs. " + WORN,
    incomplete=uncounted.together(
        uncounted.devices,
        uncounted.where_unknown(
            "items.shares_cable_with",
            "items.side",
            "items.signals",
            "items.fed_from",
            "items.switched_by",
        ),
    ),
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    fine = "no conductor reached from outside unlocks the door"
    yield from exposures(opening, context, ("pair", "signal", "supply"), fine)
