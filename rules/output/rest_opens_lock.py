"""What a powered output does while its device has no power, restarts or has failed."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.releases import SwitchedCoil
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Undecided, known

from ..release.fail_safe_held_by_poe_alone import HOLDERS, fail_mode


def _by_output(switched: SwitchedCoil) -> bool:
    sheet = switched.item.sheet
    terminal = switched.feed.terminal.output
    return sheet is not None and sheet.kind in HOLDERS and terminal.switch in ("relay", "solid_state", UNKNOWN)


RULE = Rule(
    "output/rest-opens-lock",
    title="The lock opens when the device that switches it is off or restarts",
    level=Level.ERROR,
    over=SwitchedCoil,
    applies=_by_output,
    scope="locks on a switched output",
    basis=(
        Practice(
            "what an output does while its device starts or has failed is known, and does not open a fail-secure lock",
            physics="a fail-secure lock opens when it gets current",
        ),
    ),
    evidence=("fail mode", "state of the output at rest"),
    why="The door pops open whenever the controller restarts for an update.",
    cure="Use an output that is off while its device starts, or set it so.",
    limits="Pulses shorter than a lock's response while a device starts are not on data sheets.",
)


def check(switched: SwitchedCoil, context: Context) -> Iterator[Verdict]:
    item, terminal = switched.item, switched.feed.terminal
    if fail_mode(item) != "secure":
        yield not_applicable(f"{item.name} is not fail-secure: no current opens it")
        return
    if switched.feed.contacts:
        yield not_applicable(f"contacts in series decide whether {item.name} gets current")
        return
    output = terminal.output
    known(output, "switch", str)
    if output.rest is None and terminal.passes_on is None and terminal.upstream:
        yield ok(f"{terminal.label} gets its power from its own device, so it gives none without", terminal.place)
        return
    rest = known(output, "rest", str)
    related = (Related(output.at("rest"), f"{terminal.label} at rest: {rest}"),)
    if rest == "open":
        yield ok(f"{terminal.label} gives nothing while its device is off", output.at("rest"))
    elif rest == "closed":
        text = f"{terminal.label} passes current while its device is off, and {item.name} is fail-secure: it opens"
        yield failed(text, switched.feed.place, related=related)
    else:
        raise Undecided("rest", output.at("rest"), stated=True)
