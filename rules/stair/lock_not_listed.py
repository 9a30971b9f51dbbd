"""A stair lock that is released from a distance: some editions name the listing that it has to have."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item

from ..failure.doors import is_lock
from .demands import CAUTION, demanding, no_floor_door

RULE = Rule(
    "stair/lock-not-listed",
    title="A stair lock lacks the listing that the adopted edition names",
    level=Level.ERROR,
    over=Item,
    applies=is_lock,
    scope="electric locks",
    basis=(
        Cited("International Building Code", "2021, 2024", "stairway doors", "clause by edition", from_memory=True),
        Cited("NFPA 101", "2021, 2024", "re-entry from stair enclosures", "clause by edition", from_memory=True),
    ),
    evidence=("listings", "edition"),
    why="Everything works, and the lock is refused for want of a line on its label.",
    cure="Take a lock with the listing, as a unit of the access control system.",
    limits="The other units of the system may need the listing as well. " + CAUTION,
    life_safety=True,
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    reason = no_floor_door(context.opening(item))
    asking: tuple[codes.Setting, ...] = () if reason else demanding(context.spec.project, "stair_reentry/listing")
    if not asking:
        yield not_applicable(reason or "no adopted code demands re-entry for a stair of this height")
        return
    assert item.sheet is not None
    listings = known(item.sheet, "listings", tuple)
    wanted = tuple(dict.fromkeys(name for setting in asking for name in _names(setting)))
    lacking = [name for name in wanted if not any(one == name or one.startswith(f"{name} ") for one in listings)]
    basis, adopted = tuple(setting.basis for setting in asking), asking[0].related
    if lacking:
        related = (Related(item.sheet.at("listings"), "its listings"), adopted)
        text = f"{item.name} is not listed to {' and '.join(lacking)}, which {asking[0].layer} names"
        yield failed(text, item.at("product"), related=related, basis=basis)
    else:
        yield ok(f"{item.name} is listed to {' and '.join(wanted)}", item.at("product"), basis=basis)


def _names(setting: codes.Setting) -> tuple[str, ...]:
    return setting.value if isinstance(setting.value, tuple) else ()
