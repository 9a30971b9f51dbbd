"""A return conductor shared with a device that another supply feeds."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.voltages import owner_of
from doorlint.context import Context
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, Undecided, known

RULE = Rule(
    "cable/return-of-other-supply",
    title="The shared return belongs to a device on another supply",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: item.shares_return_with is not None,
    scope="items that say with which other one they share their return conductor",
    basis=(
        Practice(
            "loads share a return only where one supply feeds both",
            physics="Kirchhoff's current law: the current of a load flows back to the supply that it came from",
        ),
    ),
    evidence=("supplies of both",),
    why="The lock finds no way back, or finds one through the electronics and earth connections of the other supply.",
    cure="A return conductor of its own, or feed both from one supply.",
    limits="Sees what `shares_return_with` says. A return shared on site without a word in the spec is not "
    "found.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    name = known(item, "shares_return_with", str)
    place = item.at("shares_return_with")
    if name == "none":
        yield ok(f"{item.name} has a return of its own", place)
        return
    repairs = (Repair(f"a return conductor of its own for {item.name}", (Change(place, "none"),)),)
    other = context.opening(item).items.get(name)
    if other is None or other is item:
        what = "itself" if other is item else f"{name!r}, which is no item of this opening"
        yield failed(f"{item.name} shares its return with {what}", place, repairs=repairs)
        return
    own, theirs = (_owners(one, context) for one in (item, other))
    if own & theirs:
        yield ok(f"{item.name} and {name} are fed by {', '.join(sorted(own & theirs))} and share its return", place)
        return
    ours, others = ", ".join(sorted(own)), ", ".join(sorted(theirs))
    text = f"{item.name} is fed by {ours}, and {name}, whose return it shares, by {others}"
    related = (Related(other.at("fed_from"), f"what feeds {name}"),)
    yield failed(text, place, related=related, repairs=repairs)


def _owners(item: Item, context: Context) -> set[str]:
    """What holds the voltage of an item's feeds, PoE apart. Raises Undecided where nothing known feeds it."""
    feeds = context.wiring.by_item.get(item.identity, ())
    found = {owner_of(feed.terminal) for feed in feeds if feed.terminal.supply != "poe"}
    if not found:
        raise Undecided("fed_from", item.at("fed_from"), stated=item.fed_from is not None)
    return found
