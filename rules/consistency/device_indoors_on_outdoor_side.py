"""A device given as indoors on a side that is outdoors."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, known
from doorlint.spec.model import Exposure, Item

RULE = Rule(
    "consistency/device-indoors-on-outdoor-side",
    title="A device is given as interior on a side that is not",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.exposure is not None and item.side in ("secured", "unsecured", UNKNOWN),
    scope="devices on a side with an exposure of their own",
    basis=(Practice("schedule, set, sequence and data say the same; where they differ, the site chooses"),),
    why="The override hides that the reader hangs in the rain.",
    cure="State the exposure that the device has, or move it to the inside.",
    limits="A device in a box of its own may be drier than its side: the product then says so by its IP code.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    exposure = context.opening(item).exposure
    if not isinstance(exposure, Exposure):
        yield not_applicable("the opening states no exposure that the device's could contradict")
        return
    side = known(item, "side", str)
    own, outer = known(item, "exposure", str), known(exposure, side, str)
    related = (Related(exposure.at(side), f"the {side} side is {outer}"),)
    if own == "interior" and outer != "interior":
        yield failed(f"{item.name} is given as interior, and its side is {outer}", item.at("exposure"), related=related)
    else:
        yield ok(f"{item.name} is {own}, its side {outer}", item.at("exposure"), related=related)
