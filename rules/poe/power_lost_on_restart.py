"""Whether a switch goes on giving power while it restarts."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.poe_cures import setting
from doorlint.circuit.poe_links import PoeSource
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Repair, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import known

RULE = Rule(
    "poe/power-lost-on-restart",
    title="Every restart of the switch takes the power from its doors",
    level=Level.WARNING,
    over=PoeSource,
    applies=lambda poe: bool(poe.links) and poe.source.kind == "poe_switch",
    scope="switches with devices on them",
    basis=(
        Practice("ports that feed doors keep their power while the switch restarts, and no schedule switches them off"),
    ),
    evidence=("power during a restart",),
    why="Doors open, or cannot be opened, at two in the morning when the switch is updated.",
    cure="Use a switch that keeps the power of its ports while it restarts and set it so; update in a guarded hour.",
    limits="Schedules and who may change a port are settings of the switch that the spec does not hold.",
)


def check(poe: PoeSource, context: Context) -> Iterator[Verdict]:
    source = poe.source
    at = source.at("keeps_power_on_restart")
    if known(source, "keeps_power_on_restart", bool):
        yield ok(f"{source.id} keeps the power of its ports while it restarts", at)
        return
    count = len(poe.openings)
    doors = "1 opening" if count == 1 else f"{count} openings"
    change = setting(source, "keeps_power_on_restart", "true")
    yield failed(
        f"{source.id} drops the power of {doors} whenever it restarts",
        at,
        related=tuple(Related(link.place, f"{link.identity} is on it") for link in poe.links[:3]),
        repairs=(Repair(f"use a switch that keeps power on restart for {source.id}", (change,)),),
    )
