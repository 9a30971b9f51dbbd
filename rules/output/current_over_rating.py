"""The steady current through an output or a contact against its rating."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.demand import total_steady
from doorlint.circuit.feeds import LoadedOutput
from doorlint.circuit.substitutes import lighter_loads
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import known

RULE = Rule(
    "output/current-over-rating",
    title="Loads draw more than the output that feeds them is rated for",
    level=Level.ERROR,
    over=LoadedOutput,
    applies=lambda loaded: loaded.terminal.supply != "poe",
    scope="outputs other than PoE ports",
    needs=("output.current",),
    basis=(
        Practice(
            "the loads on an output stay at or below its rated current",
            physics="an output beyond its rating limits its current, drops its voltage or overheats",
        ),
    ),
    evidence=("steady current", "rating", "margin"),
    why="The output folds back or its switch burns, and the lock does not work.",
    cure="Use a load that draws less, another output, or a supply of its own switched by a relay.",
    limits="Holding currents at nominal voltage; peaks are a rule of their own.",
    incomplete=uncounted.loads,
)


def check(loaded: LoadedOutput, context: Context) -> Iterator[Verdict]:
    total, step = total_steady(loaded.feeds, context.wiring)
    rating = known(loaded.output, "current", Quantity)
    names = " and ".join(feed.item.name for feed in loaded.feeds[:3])
    more = f" and {len(loaded.feeds) - 3} more" if len(loaded.feeds) > 3 else ""
    related = tuple(
        Related(feed.load.at("current"), f"{feed.item.name} draws its current by this") for feed in loaded.feeds[:3]
    )
    yield at_most(
        f"steady current of {names}{more}",
        Measure(total, "current"),
        Measure(rating.value, "current"),
        loaded.output.at("current"),
        limit_name=f"rating of {loaded.terminal.label},",
        related=related,
        working=(step,),
        repairs=lighter_loads(loaded.feeds, context.spec) if total > rating.value else (),
    )
