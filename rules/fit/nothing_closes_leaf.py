"""A leaf that is locked electrically and that nothing closes."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Opening

CLOSING = ("closer", "swing_operator", "sliding_operator")

RULE = Rule(
    "fit/nothing-closes-leaf",
    title="The leaf is locked electrically and nothing closes it",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: opening.fire_rating in (None, "none"),
    scope="openings without fire rating; fire doors have a rule of their own",
    basis=(
        Practice(
            "a leaf under access control closes by itself, each leaf of a pair for itself",
            physics="a lock locks a leaf that is closed, and an armature holds where it meets its magnet",
        ),
    ),
    evidence=("electric locks", "closers"),
    why="The last person leaves the door ajar; the reader, the lock and the alarm guard an open door.",
    cure="Fit a closer or an operator to each leaf.",
    limits="Spring hinges and gravity are not in the format; say so in a waiver.",
    incomplete=uncounted.together(uncounted.devices, uncounted.where_unknown("items.leaf")),
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    leaves = [leaf for leaf in context.door(opening).leaves if leaf.locks]
    if not leaves:
        yield not_applicable("nothing electric locks the opening")
    closing = [item for item in opening.items.values() if kind_of(item) in CLOSING]
    for leaf in leaves:
        lock = leaf.locks[0]
        found = [item for item in closing if item.leaf in (leaf.name, None) or leaf.name == "single"]
        if found:
            yield ok(f"{found[0].name} closes the leaf that {lock.name} locks", found[0].place.key)
        elif gaps := uncounted.together(uncounted.devices, uncounted.where_unknown("items.leaf"))(opening, context):
            raise gaps[0]
        else:
            related = (Related(lock.place.key, "locks the leaf"),)
            yield failed(f"{lock.name} locks a leaf that nothing closes", opening.place.key, related=related)
