"""The steady current of a channel against what its fuse or resettable fuse holds."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.demand import total_steady
from doorlint.circuit.feeds import LoadedOutput
from doorlint.circuit.lines import celsius
from doorlint.circuit.supplies import ambient_of, ptc_share
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_most, not_applicable
from doorlint.quantity import Band, Quantity
from doorlint.rulebook import Rule
from doorlint.spec import PowerSource, Undecided, known

FUSE_SHARE = Fraction(3, 4)

RULE = Rule(
    "power/channel-protection-overloaded",
    title="A channel carries more than its fuse holds for good",
    level=Level.WARNING,
    over=LoadedOutput,
    applies=lambda loaded: isinstance(loaded.terminal.owner, PowerSource) and loaded.output.protection is not None,
    scope="outputs of power sources whose protection is stated",
    basis=(
        Practice(
            "a fuse is loaded with 75 percent of its rating; a resettable fuse holds less when warm, about 75 percent "
            "at 50 degC and 60 percent at 70 degC"
        ),
    ),
    evidence=("steady current", "current that the protection holds", "margin"),
    why="The channel drops out on hot days, at random, and comes back before anybody looks.",
    cure="Use a larger fuse where the cable and the channel stand it, or spread the loads over two channels.",
    limits="Holding currents; how long a fuse stands a peak is in its curve, which the spec does not hold.",
    incomplete=uncounted.loads,
)


def check(loaded: LoadedOutput, context: Context) -> Iterator[Verdict]:
    output, source = loaded.output, loaded.terminal.owner
    assert isinstance(source, PowerSource)
    protection = known(output, "protection", str)
    if protection == "none":
        yield not_applicable(f"{loaded.terminal.label} has no protection of its own")
        return
    total, step = total_steady(loaded.feeds, context.wiring)
    rated = known(output, "protection_current", Quantity).value
    share, term = _share(protection, source, total, rated)
    limit = rated * share
    given = Term("protection current", str(Measure(rated, "current")), output.at("protection_current"))
    held = Step("current held", f"protection current x {float(share):.3g}", Measure(limit, "current"), (given, *term))
    names = " and ".join(feed.item.name for feed in loaded.feeds[:3])
    yield at_most(
        f"steady current of {names}" + (f" and {len(loaded.feeds) - 3} more" if len(loaded.feeds) > 3 else ""),
        Measure(total, "current"),
        Measure(limit, "current"),
        output.at("protection_current"),
        limit_name=f"current that the {protection.replace('ptc', 'resettable fuse')} of {loaded.terminal.label} holds,",
        related=tuple(Related(feed.load.at("current"), f"current of {feed.identity}") for feed in loaded.feeds[:3]),
        working=(step, held),
    )


def _share(protection: str, source: PowerSource, total: Fraction, rated: Fraction) -> tuple[Fraction, tuple[Term, ...]]:
    """Share of the protection current that is held. Asks for the ambient temperature only where it decides."""
    if protection == "electronic":
        return Fraction(1), ()
    if protection == "fuse":
        return FUSE_SHARE, ()
    try:
        ambient, place = ambient_of(source)
    except Undecided:
        worst = ptc_share(celsius(source.temperature.high)) if isinstance(source.temperature, Band) else None
        if total > rated:
            return Fraction(1), ()
        if worst is not None and total <= rated * worst and isinstance(source.temperature, Band):
            text = str(Measure(source.temperature.high, "temperature"))
            return worst, (Term("warmest that the source works in", text, source.at("temperature")),)
        raise
    share = ptc_share(celsius(ambient.high))
    if share is None:
        raise Undecided("ambient", place, stated=True)
    return share, (Term("warmest ambient", str(Measure(ambient.high, "temperature")), place),)
