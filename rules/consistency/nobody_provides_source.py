"""A power source that nobody furnishes, installs or connects, or more than one party."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict
from doorlint.rulebook import Rule
from doorlint.spec.model import PowerSource

from .parties import one_party

RULE = Rule(
    "consistency/nobody-provides-source",
    title="Nobody furnishes, installs or connects a source, or several do",
    level=Level.WARNING,
    over=PowerSource,
    basis=(
        Practice(
            "each thing has exactly one party that furnishes, installs and connects it; guide specifications ask for it"
        ),
    ),
    why="The supply is in nobody's bid; the doors wait for it.",
    cure="Name one party for each device in the list of responsibilities.",
    limits="Judged only in projects that name a party for anything at all.",
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    for field in ("furnished_by", "installed_by", "wired_by"):
        yield one_party(source.identity, field, (source,), context)
