"""A hardware set of another revision than the project."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import HardwareSet

RULE = Rule(
    "consistency/set-of-other-revision",
    title="The hardware set is of another revision than the project",
    level=Level.WARNING,
    over=HardwareSet,
    applies=lambda hardware_set: hardware_set.revision is not None,
    scope="sets that state their revision",
    basis=(Practice("schedule, set, sequence and data say the same; where they differ, the site chooses"),),
    why="Set C goes with schedule D, and the one change that mattered is not in it.",
    cure="Check the set against the current revision, and raise its own.",
    limits="Judged only where the set states its revision.",
)


def check(hardware_set: HardwareSet, context: Context) -> Iterator[Verdict]:
    project = context.spec.project
    own, at = known(hardware_set, "revision", str), hardware_set.at("revision")
    current = known(project, "revision", str)
    related = (Related(project.at("revision"), f"project revision {current}"),)
    text = f"{hardware_set.id} is of revision {own}, the project of revision {current}"
    yield (ok if own == current else failed)(text, at, related=related)
