"""The adopted code wants the stair doors unlocked from one place: there has to be one, and wires to it."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Cited, Level, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Opening

from ..failure.doors import lock_place, locks_of
from .demands import CAUTION, building_of, demanding, gives_reentry, no_floor_door, remote_releases

RULE = Rule(
    "stair/no-command-point",
    title="Stair doors cannot be unlocked from one place",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(Cited("International Building Code", "2015 to 2024", "stairway doors", "clause by edition"),),
    evidence=("command point", "device in the feed of the lock"),
    why="The fire service loses its first minutes walking from floor to floor with a key.",
    cure="Take one switch at the fire command center, or inside the main entrance, into the feed of every such lock.",
    limits="Whether one switch unlocks all doors of the stair at once shows in the wiring of the stair. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    reason = no_floor_door(opening)
    settled = () if reason else tuple(gives_reentry(opening, context))
    if reason or settled:
        yield from settled or (not_applicable(reason),)
        return
    project = context.spec.project
    found = demanding(project, "stair_reentry/release")
    asking = [s for s in found if isinstance(s.value, tuple) and "command_point" in s.value]
    if not asking:
        yield not_applicable("no adopted code demands a release from one place here")
        return
    basis, adopted = tuple(s.basis for s in asking), asking[0].related
    building = building_of(project)
    at = building.at("command_point")
    if known(building, "command_point", str) == "none":
        yield failed("there is no place from which the stair doors are unlocked", at, related=(adopted,), basis=basis)
        return
    devices = remote_releases(opening, context)
    if devices:
        text = f"{devices[0].name}, at another place, breaks the feed of the lock"
        yield ok(text, devices[0].place.key, basis=basis)
    else:
        related = (adopted, Related(at, f"command point: {building.command_point}"))
        text = "no device at another place breaks the feed of the lock"
        yield failed(text, lock_place(opening), related=related, basis=basis)
