"""Fewer licensed doors than doors with readers."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.door import READERS, kind_of
from doorlint.outcome import Level, Practice, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Project

RULE = Rule(
    "consistency/licences-short",
    title="The licence covers fewer doors than have readers",
    level=Level.WARNING,
    over=Project,
    applies=lambda project: project.door_licences is not None,
    scope="projects that state their licences",
    basis=(Practice("a licence covers each door with a reader"),),
    why="The last door cannot be enrolled on the day of handover.",
    cure="Buy the licences, with some to spare.",
    limits="How a system counts its doors differs: by door, reader or controller.",
    incomplete=uncounted.devices_of_all,
)


def check(project: Project, context: Context) -> Iterator[Verdict]:
    licensed, at = known(project, "door_licences", int), project.at("door_licences")
    openings = context.spec.openings.values()
    doors = [o for o in openings if any(kind_of(item) in READERS for item in o.items.values())]
    text = f"{licensed} doors are licensed, and {len(doors)} have readers"
    yield (ok if licensed >= len(doors) else failed)(text, at)
