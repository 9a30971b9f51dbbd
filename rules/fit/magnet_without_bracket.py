"""A magnet on a leaf that swings towards it, or on frameless glass."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.door import kind_of
from doorlint.mechanics.sides import leaf_of, swings_into
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, known

RULE = Rule(
    "fit/magnet-without-bracket",
    title="Magnet and armature do not meet without the bracket for this leaf",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) == "electromagnetic_lock",
    scope="electromagnetic locks, direct hold",
    basis=(
        Practice(
            "on the side to which the leaf swings a magnet takes angles for magnet and armature; on frameless glass a "
            "clamp",
            physics="a magnet holds by the faces that touch",
        ),
    ),
    evidence=("side of the magnet", "swing", "material of the leaf", "bracket"),
    why="The installer bends something on site; it works loose, and one day the magnet lies on the floor.",
    cure="List the bracket with the magnet.",
    limits="Whether head and leaf are strong and high enough for the screws is seen on site.",
    incomplete=uncounted.where_unknown("opening.leaf.material"),
)


def check(magnet: Item, context: Context) -> Iterator[Verdict]:
    opening, leaf = context.opening(magnet), leaf_of(context.opening(magnet))
    side = known(magnet, "side", str)
    if leaf.material == "glass":
        needed, because = ("glass",), (Related(leaf.at("material"), "frameless glass"),)
    elif side not in ("unsecured", "secured"):
        yield not_applicable(f"{magnet.name} stands in leaf or frame")
        return
    elif swings_into(opening, side):
        needed, because = ("zl",), (Related(leaf.at("swing"), f"the leaf swings to the side of {magnet.name}"),)
    else:
        yield ok(f"the leaf swings away from {magnet.name}: the faces meet without bracket", magnet.place.key)
        return
    at = magnet.at("bracket")
    if known(magnet, "bracket", str) in needed:
        yield ok(f"{magnet.name} has the {needed[0]} bracket", at, related=because)
    else:
        repair = Repair(f"list the {needed[0]} bracket with {magnet.name}", (Change(at, needed[0]),))
        text = f"{magnet.name} has {magnet.bracket} as bracket, and this leaf takes {needed[0]}"
        yield failed(text, at, related=because, repairs=(repair,))
