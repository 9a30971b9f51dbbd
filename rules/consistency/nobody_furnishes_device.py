"""A device that nobody furnishes, or more than one party."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, known
from doorlint.spec.model import Item

from .parties import one_party

RULE = Rule(
    "consistency/nobody-furnishes-device",
    title="Nobody furnishes a device, or more than one party does",
    level=Level.WARNING,
    over=Item,
    basis=(
        Practice(
            "each thing has exactly one party that furnishes, installs and connects it; guide specifications ask for it"
        ),
    ),
    why="It is missed at the opening ceremony: each thought that the other brings it.",
    cure="Name one party for each device in the list of responsibilities.",
    limits="Judged only in projects that name a party for anything at all.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    if item.sheet is None and item.furnished_by is None and item.product is UNKNOWN:
        known(item, "product", str)  # the entry of the product may name the party
    yield one_party(item.identity, "furnished_by", (item, item.sheet), context)
