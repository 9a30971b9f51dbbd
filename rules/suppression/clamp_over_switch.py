"""The voltage across a semiconductor switch when it opens, against the highest that it stands."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.releases import SLOW_CLAMP_V, Opener, SwitchedCoil, highest_source, paths
from doorlint.circuit.substitutes import suppressor_swaps
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Repair, Step, Term, Verdict, at_most, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import Undecided, known

from ..output.leakage_holds_coil import switch_unknown

SHARE = Parameter(
    "switch_voltage_share",
    "share of its rated voltage that a semiconductor switch sees at most when it switches a coil off",
    "ratio",
    Fraction(80, 100),
    "lower",
    Practice("80 percent; common practice, no source"),
)

RULE = Rule(
    "suppression/clamp-over-switch",
    title="The suppressor lets through more than the switch stands",
    level=Level.WARNING,
    over=SwitchedCoil,
    applies=lambda switched: any(opener.solid_state for opener in switched.openers) or switch_unknown(switched),
    scope="coils that a semiconductor switches",
    basis=(
        Practice(
            "supply and clamp voltage together stay within 80 percent of what a semiconductor switch stands",
            physics="when the switch opens, the supply and the coil's reversed voltage add up across it",
        ),
    ),
    evidence=("supply and clamp voltage", "80 percent of the switch's highest voltage", "margin"),
    why="The output fails short after some months: the lock stays powered for good.",
    cure="Use a part with a lower clamp voltage that still stands off the supply, or a relay in between.",
    parameters=(SHARE,),
    limits="The stray inductance of the cable is left out; relay contacts are not judged, as their gap stands more.",
    incomplete=uncounted.where_unknown("item.suppression.fitted.suppressor.clamp"),
)


def check(switched: SwitchedCoil, context: Context) -> Iterator[Verdict]:
    if switch_unknown(switched):
        known(switched.feed.terminal.output, "switch", str)
    for opener in switched.openers:
        if opener.solid_state:
            yield _verdict(switched, opener, context)


def _verdict(switched: SwitchedCoil, opener: Opener, context: Context) -> Verdict:
    item = switched.item
    ways = [way for way in paths(switched, opener).found if way.low_v is not None]
    if not ways:
        return not_applicable(f"nothing clamps the voltage of {item.name}")
    lowest = min(ways, key=lambda way: way.high_v if way.high_v is not None else float("inf"))
    if lowest.high_v is None:
        raise Undecided("clamp", lowest.place, stated=False)
    if lowest.high_v <= SLOW_CLAMP_V and opener.part.highest_voltage is None:
        return not_applicable(f"{lowest.label} adds a diode's drop to the supply that {opener.label} switches anyway")
    supply, term = highest_source(switched.feed)
    rated = known(opener.part, "highest_voltage", Quantity)
    across = Measure(supply + lowest.high_v, "voltage")
    clamp = Term(lowest.label, str(Measure(lowest.high_v, "voltage")), lowest.place)
    share = SHARE.value(context.spec.practice)
    limit = Measure(rated.value * share, "voltage")
    swaps: tuple[Repair, ...] = ()
    if across.value > limit.value:
        swaps = tuple(swap for fitted in item.suppression for swap in suppressor_swaps(fitted, context.spec))
    return at_most(
        f"supply and clamp voltage across {opener.label} when it switches {item.name} off",
        across,
        limit,
        lowest.place,
        limit_name=f"most that it may see, {SHARE.show(share)} of its rating,",
        related=(Related(opener.part.at("highest_voltage"), f"{opener.label} stands {rated.text}"),),
        working=(Step("voltage across the switch", "highest source voltage + clamp voltage", across, (term, clamp)),),
        repairs=swaps,
    )
