"""A device that nobody installs, or more than one party."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict
from doorlint.rulebook import Rule
from doorlint.spec.model import Item

from .parties import one_party

RULE = Rule(
    "consistency/nobody-installs",
    title="Nobody installs a device, or more than one party does",
    level=Level.WARNING,
    over=Item,
    basis=(
        Practice(
            "each thing has exactly one party that furnishes, installs and connects it; guide specifications ask for it"
        ),
    ),
    why="The power transfer lies in its box on the day of acceptance.",
    cure="Name one party for each device in the list of responsibilities.",
    limits="Judged only in projects that name a party for anything at all.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    yield one_party(item.identity, "installed_by", (item,), context)
