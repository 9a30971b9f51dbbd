"""A cable that nobody furnishes, or more than one party."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict
from doorlint.rulebook import Rule
from doorlint.spec.model import Cable

from .parties import one_party

RULE = Rule(
    "consistency/nobody-furnishes-cable",
    title="Nobody furnishes a cable, or more than one party does",
    level=Level.WARNING,
    over=Cable,
    basis=(
        Practice(
            "each thing has exactly one party that furnishes, installs and connects it; guide specifications ask for it"
        ),
    ),
    why="The electrician lays what the drawing shows; the drawing shows no lock cable.",
    cure="Name one party for each device in the list of responsibilities.",
    limits="Judged only in projects that name a party for anything at all.",
)


def check(cable: Cable, context: Context) -> Iterator[Verdict]:
    yield one_party(cable.identity, "furnished_by", (cable,), context)
