"""The share of the voltage that a line loses, against what the trade plans for."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.arrival import line_place
from doorlint.circuit.cures import line_repairs
from doorlint.circuit.demand import nominal, source_voltage
from doorlint.circuit.feeds import Feed
from doorlint.circuit.lines import WARM_CONDUCTOR
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_most, not_applicable
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import Coil

_TARGETS = Practice("10 percent for coils and 5 percent for electronics; common practice, no source")
COILS = Parameter(
    "coil_drop",
    "share of the nominal voltage that the line to a coil may lose",
    "ratio",
    Fraction(10, 100),
    "lower",
    _TARGETS,
)
ELECTRONICS = Parameter(
    "electronics_drop",
    "share of the nominal voltage that the line to electronics may lose",
    "ratio",
    Fraction(5, 100),
    "lower",
    _TARGETS,
)

RULE = Rule(
    "cable/drop-over-target",
    title="The cable loses more of the voltage than the trade plans for",
    level=Level.WARNING,
    over=Feed,
    applies=lambda feed: feed.terminal.supply != "poe",
    scope="devices that are not fed over PoE",
    basis=(
        Practice(
            "the line to a device loses at most 10 percent of the nominal voltage for coils and 5 percent for "
            "electronics, conductors warm; common practice, no source",
            physics="Ohm's law",
        ),
    ),
    evidence=("share lost", "target", "margin"),
    why="The door works as computed, but nothing is left for aged contacts, a longer run than drawn, or another load.",
    cure="A thicker conductor, a shorter run, or 24 V instead of 12 V: it loses a quarter of the share.",
    parameters=(COILS, ELECTRONICS, WARM_CONDUCTOR),
    limits="Lengths as stated: the spec must give real runs, risers and slack included. Whether the device still works "
    "is a rule of its own.",
    incomplete=uncounted.together(uncounted.sharing, uncounted.warmth),
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    found = context.voltages.steady(feed)
    if found.worst_v is None:
        yield not_applicable(f"the circuit of {feed.item.name} has no operating point; that is a rule of its own")
        return
    source = source_voltage(feed.terminal)
    whole = float(nominal(source))
    target = COILS if isinstance(feed.load, Coil) else ELECTRONICS
    share = target.value(context.spec.practice)
    lost = Fraction(round((found.source_v - found.worst_v) / whole * 10**9), 10**9)
    least = found.source_v - float(share) * whole
    terms = (Term("nominal voltage", source.text, feed.terminal.output.place),)
    step = Step(
        "share lost", "(source voltage - voltage at the device) / nominal voltage", Measure(lost, "ratio"), terms
    )
    yield at_most(
        f"share of the voltage lost on the way to {feed.item.name}",
        Measure(lost, "ratio"),
        Measure(share, "ratio"),
        line_place(feed),
        limit_name="target for coils," if target is COILS else "target for electronics,",
        related=(Related(feed.load.place.key, f"what {feed.item.name} draws"),),
        working=(*found.working, step),
        repairs=tuple(line_repairs(feed, found, context.voltages, least)) if lost > share else (),
    )
