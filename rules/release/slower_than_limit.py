"""The time in which a lock lets go after its current is interrupted, against the time that a person waits."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.releases import SwitchedCoil, highest_source, is_magnet, slowest_path, slowest_release
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Verdict, at_most, not_applicable, ok
from doorlint.rulebook import Parameter, Rule

from ..suppression.freewheel_across_magnet import FAST_SHARE, other_parts
from .fail_safe_held_by_poe_alone import HOLDERS, fail_mode

LIMIT = Parameter(
    "release_time",
    "time within which a lock on the way out lets go, electrical part",
    "time",
    Fraction(1, 2),
    "lower",
    Practice("half a second; common practice, no source"),
)

RULE = Rule(
    "release/slower-than-limit",
    title="The lock lets go later than people wait for",
    level=Level.ERROR,
    over=SwitchedCoil,
    applies=lambda switched: switched.item.sheet is not None and switched.item.sheet.kind in HOLDERS,
    scope="the coils of locks",
    basis=(
        Practice(
            "a lock on the way out lets go within half a second; more is felt as a door that is stuck",
            physics="the current of a coil dies with L/R, the slower the lower the voltage that opposes it",
        ),
    ),
    evidence=("release time, electrical part", "limit", "margin", "what carries the current on"),
    why="The button is pressed and the door does not open: people push, hit it, and an operator fights the magnet.",
    cure="Across a magnet use a varistor or a bidirectional TVS and no diode; put lamps, sounders and relays before "
    "the contact, not behind it.",
    parameters=(LIMIT,),
    limits="The electrical part alone: what stays in the iron and the moving parts come on top. A coil in parallel "
    "counts as its resistance. Contacts are taken to open without arc.",
    life_safety=True,
    incomplete=uncounted.together(
        uncounted.devices,
        uncounted.where_unknown("coil.release_fraction", "items.switched_by", "items.fed_from"),
    ),
)


def check(switched: SwitchedCoil, context: Context) -> Iterator[Verdict]:
    item, coil = switched.item, switched.coil
    magnet = is_magnet(item)
    if switched.feed.terminal.supply == "ac" and coil.rectifier is not True:
        yield not_applicable(f"{item.name} is fed with AC, whose current ends by itself")
        return
    if not magnet and coil.inductance is None:
        yield not_applicable(
            f"{item.name} is no magnet and its inductance is not stated: its current dies in milliseconds"
        )
        return
    if not magnet and fail_mode(item) != "safe":
        yield not_applicable(f"{item.name} is not released by the loss of its current")
        return
    if coil.inductance is None:
        yield _without_inductance(switched)
        return
    found = slowest_release(switched)
    if found is None:
        yield not_applicable(f"nothing carries the current of {item.name} on after it is switched off")
        return
    limit = LIMIT.value(context.spec.practice)
    by = f" after {found.opener.label} opens" if found.opener is not None else ""
    yield at_most(
        f"release time of {item.name}{by}, electrical part,",
        Measure(found.electrical_s, "time"),
        Measure(limit, "time"),
        found.path.place,
        limit_name="limit",
        related=(Related(coil.at("inductance"), f"{found.path.label} carries the current on through this inductance"),),
        working=found.working,
        repairs=tuple(other_parts(switched, context)) if found.electrical_s > limit else (),
    )


def _without_inductance(switched: SwitchedCoil) -> Verdict:
    way = slowest_path(switched)
    if way is None:
        return not_applicable(f"nothing carries the current of {switched.item.name} on after it is switched off")
    path, volts = way
    if volts < FAST_SHARE * highest_source(switched.feed)[0]:
        return not_applicable(f"{path.label} holds the current up and the inductance is not stated: a rule of its own")
    text = f"{path.label} opposes the current of {switched.item.name} with {Measure(volts, 'voltage')}: gone within L/R"
    return ok(text, path.place)
