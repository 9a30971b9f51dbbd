"""A hardware set that no opening uses."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Undecided
from doorlint.spec.model import HardwareSet, Opening

RULE = Rule(
    "consistency/set-not-used",
    title="No opening uses the hardware set",
    level=Level.NOTE,
    over=HardwareSet,
    basis=(Practice("a schedule lists the sets that are used"),),
    why="It is ordered all the same, or it is the one that the mistyped opening should have had.",
    cure="Use it or leave it out.",
    limits="Sets of a common library that a project includes show up too: exclude them from the "
    "project's includes. Unused products are no finding: a library of products holds those that "
    "a repair may choose.",
)


def check(hardware_set: HardwareSet, context: Context) -> Iterator[Verdict]:
    by_set = context.once("openings by set", lambda: _by_set(context))
    users = by_set.get(hardware_set.id, [])
    if users:
        related = tuple(Related(opening.at("set"), opening.id) for opening in users[:3])
        yield ok(f"{hardware_set.id} is used by {len(users)}", hardware_set.place.key, related=related)
    else:
        for opening in context.spec.openings.values():
            if opening.set is UNKNOWN:
                raise Undecided("set", opening.at("set"), stated=True)
        yield failed(f"no opening uses {hardware_set.id}", hardware_set.place.key)


def _by_set(context: Context) -> dict[object, list[Opening]]:
    found: dict[object, list[Opening]] = {}
    for opening in context.spec.openings.values():
        found.setdefault(opening.set, []).append(opening)
    return found
