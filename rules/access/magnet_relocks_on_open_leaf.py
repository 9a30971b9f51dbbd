"""A magnet that gets its current again while the leaf is open."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.door import MAGNETS, kind_of, signals_to
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, Undecided, known

RULE = Rule(
    "access/magnet-relocks-on-open-leaf",
    title="The magnet is switched on again while the leaf is still open",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: kind_of(item) in MAGNETS and item.relock is not None,
    scope="magnets of which the spec says when they lock again",
    basis=(
        Practice(
            "a magnet gets its current again once the position switch says that the leaf is closed",
            physics="an energised magnet draws a leaf that comes near, and the armature hits it",
        ),
    ),
    evidence=("relocking", "position switch"),
    why="The leaf slams the last centimetres, the armature works loose, and fingers are in between.",
    cure="Let the controller lock again on the signal of the door position switch.",
    limits="Whether the controller can do so is in its manual.",
)


def check(magnet: Item, context: Context) -> Iterator[Verdict]:
    at = magnet.at("relock")
    again = known(magnet, "relock", str)
    if again != "on_close":
        when = "as soon as the leaf opens" if again == "on_open" else "by time, wherever the leaf is"
        repair = Repair(f"let {magnet.name} lock again once the leaf is closed", (Change(at, "on_close"),))
        yield failed(f"{magnet.name} locks again {when}", at, repairs=(repair,))
        return
    items = context.opening(magnet).items.values()
    switches = [one for one in items if kind_of(one) == "door_position_switch"]
    if not switches:
        uncounted.insist(uncounted.devices(magnet, context))
        yield failed(f"{magnet.name} is to lock once the leaf is closed, and nothing reports the position", at)
        return
    if not any(signals_to(one) for one in switches):
        raise Undecided("signals", switches[0].at("signals"), stated=switches[0].signals is not None)
    related = (Related(switches[0].place.key, "reports the position"),)
    yield ok(f"{magnet.name} locks once the leaf is closed", at, related=related)
