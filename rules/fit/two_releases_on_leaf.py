"""Two electric releases on one leaf, of which each alone would do."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.door import EXIT_GROUP, LEVER_LOCKS, LOCK_KINDS, kind_of
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Opening

RULE = Rule(
    "fit/two-releases-on-leaf",
    title="An electric strike and an electrified lock hold the same latch",
    level=Level.WARNING,
    over=Opening,
    basis=(Practice("one latch has one electric release: the strike that holds it, or the lock that draws it"),),
    evidence=("devices on one leaf",),
    why="Two outputs, two fail states, two chances to stay shut; nobody knows which one a card is to work.",
    cure="Take one of them out of the set.",
    limits="A magnet beside a lock is another matter: it does not act on the latch.",
    incomplete=uncounted.devices,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    leaves = [leaf for leaf in context.door(opening).leaves if leaf.strikes]
    if not leaves:
        yield not_applicable("the opening has no electric strike")
    for leaf in leaves:
        electric = [one for one in leaf.latchers if kind_of(one) in LOCK_KINDS & (LEVER_LOCKS | EXIT_GROUP)]
        strike = leaf.strikes[0]
        if electric:
            related = tuple(Related(one.place.key, "acts on the same latch") for one in electric)
            text = f"{strike.name} and {electric[0].name} both release the latch of one leaf"
            yield failed(text, strike.place.key, related=related)
        else:
            yield ok(f"{strike.name} is the one electric release of its leaf", strike.place.key)
