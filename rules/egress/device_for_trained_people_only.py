"""Emergency exit devices for people who know them, where anybody has to get out (European standards)."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Related, Verdict, failed, ok, to_authority
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Item, known
from doorlint.spec.model import Egress, Occupancy

from .lists import CAUTION, kind_of
from .panic import DEVICES

STANDARDS = ("EN 179", "EN 1125", "EN 13637")


def claims(item: Item) -> tuple[str, ...]:
    """The exit device standards that an item's product claims."""
    listings = item.sheet.listings if item.sheet is not None and isinstance(item.sheet.listings, tuple) else ()
    return tuple(s for s in STANDARDS if any(words == s or words.startswith((f"{s}:", f"{s} ")) for words in listings))


def _listings_unknown(item: Item) -> bool:
    """Whether an exit device may claim one, for its listings are given as unknown."""
    return kind_of(item) in DEVICES and item.sheet is not None and item.sheet.listings is UNKNOWN


RULE = Rule(
    "egress/device-for-trained-people-only",
    title="The exit device suits only people who know it",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: bool(claims(item)) or _listings_unknown(item),
    scope="devices that claim EN 179, EN 1125 or EN 13637",
    basis=(
        Cited("EN 179", "2008", "3.19", "where panic is not expected"),
        Cited("EN 1125", "2008", "scope", "where panic can arise"),
        Cited("EN 13637", "2015", "scope; time delay", from_memory=True),
    ),
    evidence=("users", "standard claimed", "delay"),
    why="In a crowd a lever is not found, and who finds it is pressed against the door that it should open.",
    cure="Fit a device to EN 1125 where the public or a crowd has to get out.",
    limits="Who uses the door is as the spec says. Delay and denied exit hang on the competent authority. " + CAUTION,
    life_safety=True,
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    opening = context.opening(item)
    if item.sheet is not None:
        known(item.sheet, "listings", tuple)
    claimed = claims(item)
    at = item.at("product")
    occupancy = known(opening, "occupancy", Occupancy)
    users = known(occupancy, "users", str)
    who = Related(occupancy.at("users"), f"the users are {users}")
    if "EN 1125" in claimed or (users == "trained" and "EN 179" in claimed):
        yield ok(f"{item.name} ({' and '.join(claimed)}) suits {users} users", at)
    elif "EN 179" in claimed:
        yield failed(f"{item.name} is to EN 179, and panic can arise among {users} users", at, related=(who,))
    if "EN 13637" not in claimed:
        return
    delay = opening.egress.delay if isinstance(opening.egress, Egress) else None
    if delay is UNKNOWN:
        known(known(opening, "egress", Egress), "delay", Quantity)
    if not isinstance(delay, Quantity) or not delay.value:
        yield ok(f"{item.name} is to EN 13637, without delay", at)
        return
    limit = codes.published("delayed_egress/delay", "EN-13637-2015")
    second = codes.published("delayed_egress/central_delay", "EN-13637-2015")
    place = known(opening, "egress", Egress).at("delay")
    if limit.admits(delay) is codes.Answer.NO and second.admits(delay) is codes.Answer.NO:
        yield failed(f"a delay of {delay.text} is more than EN 13637 knows", place, basis=(limit.basis, second.basis))
    else:
        text = f"a delay of {delay.text} under EN 13637 needs the approval of the competent authority"
        yield to_authority(text, place, basis=(limit.basis,))
