"""The relay or output that switches the lock sits inside a device on the unsecured side."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.reach import Exposed
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Item, Opening

from ..failure.doors import WORN, lock_place, locks_of, open_because, resists, way

RULE = Rule(
    "tamper/lock-switched-outside",
    title="The lock is switched inside a device on the unsecured side",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Practice(
            "what switches a lock sits on the secured side, or in a relay module there that obeys only its own reader",
            physics="a bridge across two terminals is a closed contact",
        ),
    ),
    evidence=("device", "terminal", "what is done to it"),
    why="Two screws, a faceplate, two wires joined: the door is open, and the log shows nothing.",
    cure="Fit a relay module on the secured side with an authenticated link, or move the controller inside.",
    limits="A module whose link is not authenticated obeys whoever speaks its language. " + WORN,
    incomplete=uncounted.together(
        uncounted.devices,
        uncounted.where_unknown(
            "items.switched_by",
            "items.released_by",
            "items.side",
            "items.sheet.authenticated_link",
        ),
    ),
)

SWITCHES = ("contact", "output", "link")


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    yield from exposures(opening, context, SWITCHES, "nothing that switches the lock is reached from outside")


def exposures(opening: Opening, context: Context, kinds: tuple[str, ...], fine: str) -> Iterator[Verdict]:
    """One failure for each conductor of these kinds that unlocks the door when it is attacked; open where unknown."""
    concerned = [one for one in context.exposed(opening) if one.conductor.what in kinds]
    unlocking = [one for one in concerned if one.unlocks is True]
    unknown = [one for one in concerned if one.unlocks is None]
    if not concerned:
        yield not_applicable("there is no such conductor here")
    elif not unlocking and not unknown:
        yield ok(fine, lock_place(opening))
    elif not resists(opening):
        yield not_applicable(f"the opening need not resist (security {opening.security})")
    else:
        yield from map(_failed, unlocking)
        if unknown:
            gaps = [gap for one in unknown for gap in one.open_because]
            labels = ", ".join(dict.fromkeys(one.conductor.label for one in unknown))
            yield open_because(gaps, f"cannot be decided for: {labels}", opening)


def _failed(one: Exposed) -> Verdict:
    item = one.conductor.item
    caption = f"{item.name} can be reached" if isinstance(item, Item) else f"{item.id} can be reached"
    gone = tuple(Related(lock.place.key, f"{lock.name} lets go") for lock in one.locks)
    related = (Related(item.place.key, caption), *gone)
    return failed(way("somebody outside", one.because, "unlocked"), one.conductor.place, related=related[:3])
