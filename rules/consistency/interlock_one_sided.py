"""An interlock that only one of its openings knows of."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Undecided, known
from doorlint.spec.model import Opening

RULE = Rule(
    "consistency/interlock-one-sided",
    title="Only one of the openings knows of the interlock",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: opening.interlocked_with not in (None, ()),
    scope="openings that are interlocked with others",
    basis=(Practice("schedule, set, sequence and data say the same; where they differ, the site chooses"),),
    why="One door waits for the other, and the other does not wait for it.",
    cure="State the interlock at both openings.",
    limits="Chains of more than two doors are compared two by two.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    for name in known(opening, "interlocked_with", tuple):
        other = context.spec.openings.get(name)
        if other is None:
            raise Undecided(f"the opening {name}", opening.at("interlocked_with"), stated=False)
        names = () if other.interlocked_with is None else known(other, "interlocked_with", tuple)
        related = (Related(other.place.key, name),)
        if opening.id in names:
            yield ok(f"{opening.id} and {name} name each other", opening.at("interlocked_with"), related=related)
        else:
            text = f"{opening.id} is interlocked with {name}, and {name} not with {opening.id}"
            yield failed(text, opening.at("interlocked_with"), related=related)
