"""The peak current of the loads against what an output gives for as long as the peak lasts."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.demand import own_current, own_peak, total_peak
from doorlint.circuit.feeds import LoadedOutput
from doorlint.circuit.substitutes import lighter_loads
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import known

RULE = Rule(
    "output/peak-over-rating",
    title="Loads peak above what the output that feeds them gives",
    level=Level.ERROR,
    over=LoadedOutput,
    applies=lambda loaded: loaded.terminal.supply != "poe",
    scope="outputs other than PoE ports",
    needs=("output.current",),
    basis=(
        Practice(
            "an output carries the peak of its loads for as long as it lasts; where its sheet states no peak, its "
            "steady rating counts",
            physics="an electronic output cuts or folds back above its limit within milliseconds",
        ),
    ),
    evidence=("peak current", "peak rating", "margin"),
    why="The lock clicks but does not pull, or the controller restarts at the moment the lock fires.",
    cure="Use a lock with a lower peak, an output with a higher one, or a supply of its own.",
    limits="All loads of one output are taken to peak together.",
    incomplete=uncounted.loads,
)


def check(loaded: LoadedOutput, context: Context) -> Iterator[Verdict]:
    total, step = total_peak(loaded.feeds, context.wiring)
    output = loaded.output
    name, rating = "current", known(output, "current", Quantity)
    if output.peak is not None:
        peak = known(output, "peak", Quantity)
        if peak.value >= rating.value and _lasts(loaded):
            name, rating = "peak", peak
    names = " and ".join(feed.item.name for feed in loaded.feeds[:3])
    more = f" and {len(loaded.feeds) - 3} more" if len(loaded.feeds) > 3 else ""
    related = tuple(Related(feed.load.at("peak"), f"peak of {feed.item.name}") for feed in loaded.feeds[:3])
    kind = "peak rating" if name == "peak" else "rating"
    yield at_most(
        f"peak current of {names}{more}",
        Measure(total, "current"),
        Measure(rating.value, "current"),
        output.at(name),
        limit_name=f"{kind} of {loaded.terminal.label},",
        related=related,
        working=(step,),
        repairs=lighter_loads(loaded.feeds, context.spec) if total > rating.value else (),
    )


def _lasts(loaded: LoadedOutput) -> bool:
    """Whether the output gives its peak for as long as the longest peak of its loads."""
    longest = max(
        (
            known(feed.load, "peak_duration", Quantity).value
            for feed in loaded.feeds
            if own_peak(feed) > own_current(feed)
        ),
        default=None,
    )
    return longest is None or longest <= known(loaded.output, "peak_duration", Quantity).value
