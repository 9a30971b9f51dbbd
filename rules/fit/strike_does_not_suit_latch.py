"""An electric strike against the latch that it has to hold and let go."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.events.door import STRIKE, kind_of
from doorlint.mechanics.strikes import DEADBOLT, LOCK_TYPES, takes_latch
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok, undecided
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Item, Product, known

from .latches import latches_at, lock_type

RULE = Rule(
    "fit/strike-does-not-suit-latch",
    title="The strike is not made for the lock whose bolt it has to let go",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) == STRIKE,
    scope="electric strikes",
    basis=(
        Practice(
            "a strike lets go the types of latch that its sheet names, and no thrown deadbolt",
            physics="a keeper lets go what lies in it; a bolt beside or beyond it stays engaged",
        ),
    ),
    evidence=("type of lock", "what the strike suits", "deadbolt"),
    why="The strike clicks and the door stays shut; it is found at commissioning, with the frame cut already.",
    cure="Use a strike made for the lock, or an electrified lock in place of both.",
    limits="A lock that is not listed is not judged; the depth of the keeper is a rule of its own.",
)


def check(strike: Item, context: Context) -> Iterator[Verdict]:
    latches = latches_at(strike, context)
    if not latches:
        yield not_applicable("no lock or exit device is listed on the leaf")
    for lock in latches:
        assert isinstance(lock.sheet, Product)
        at, related = strike.at("product"), (Related(lock.at("product"), f"the lock is {lock.product}"),)
        suits = strike.sheet.suits if isinstance(strike.sheet, Product) else None
        if lock.sheet.deadbolt is True and isinstance(strike.sheet, Product) and suits is UNKNOWN:
            known(strike.sheet, "suits", tuple)
        if lock.sheet.deadbolt is True and not (isinstance(suits, tuple) and DEADBOLT in suits):
            text = f"{lock.name} has a deadbolt, which {strike.name} does not let go once it is thrown"
            yield failed(text, at, related=related)
        else:
            yield _verdict(strike, lock, context, related)


def _verdict(strike: Item, lock: Item, context: Context, related: tuple[Related, ...]) -> Verdict:
    assert isinstance(strike.sheet, Product)
    suits, kind = known(strike.sheet, "suits", tuple), lock_type(lock)
    fits, listed, at = takes_latch(suits, kind), ", ".join(suits), strike.at("product")
    if fits is None:
        text = f"cannot be decided: {listed} and {kind}; known types of lock are {', '.join(LOCK_TYPES)}"
        return undecided(text, ("suits",), strike.sheet.at("suits"), related=related)
    if fits:
        return ok(f"{strike.name} is made for {listed}; {lock.name} is of type {kind}", at, related=related)
    text = f"{strike.name} is made for {listed}, and {lock.name} is of type {kind}"
    return failed(text, at, related=related, repairs=tuple(other_products(strike, context.spec)))
