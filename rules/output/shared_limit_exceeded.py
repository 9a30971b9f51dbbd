"""The limit that several outputs of one device share."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.demand import outputs_of, total_steady
from doorlint.circuit.substitutes import lighter_loads
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Place, Practice, Related, Step, Verdict, at_most, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Input, Inputs, Item, known

RULE = Rule(
    "output/shared-limit-exceeded",
    title="Lock and accessories together exceed the limit that outputs share",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: item.sheet is not None and _states_limit(item),
    scope="devices whose data sheet states a limit that their outputs share",
    basis=(
        Practice(
            "a controller fed over PoE passes on only what its converter leaves, for lock and accessories together; "
            "a port of a higher class gives it nothing more, a second feed or a supply of its own does",
            physics="conservation of energy",
        ),
    ),
    evidence=("steady current of all outputs", "shared limit", "margin"),
    why="Each output is within its own rating, but all together bring the controller down when the lock is held.",
    cure="Feed the lock or the accessories from elsewhere, give the controller its "
    "second feed, or use loads that draw less.",
    limits="Outputs that pass an input's voltage straight on count too, as they do on the sheet.",
    incomplete=uncounted.loads,
)


def _states_limit(item: Item) -> bool:
    sheet = item.sheet
    if sheet is None:
        return False
    inputs = sheet.inputs if isinstance(sheet.inputs, Inputs) else None
    loads = (inputs.poe, inputs.dc, inputs.ac) if inputs else ()
    limits = [sheet.output_limit, *(load.output_limit for load in loads if isinstance(load, Input))]
    return any(limit is not None for limit in limits)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    loaded = list(outputs_of(item, context.wiring))
    if not loaded:
        yield not_applicable(f"nothing is fed from the outputs of {item.name}")
        return
    total = Fraction(0)
    steps: list[Step] = []
    related = []
    for output in loaded:
        drawn, step = total_steady(output.feeds, context.wiring)
        total += drawn
        steps.append(step)
        related += [
            Related(feed.load.at("current"), f"{feed.item.name} on {output.terminal.label}")
            for feed in output.feeds[:3]
        ]
    steps.append(Step("all outputs", "sum of the outputs", Measure(total, "current")))
    limit, place, why = _limit(item, context, total)
    names = ", ".join(feed.item.name for output in loaded for feed in output.feeds)
    yield at_most(
        f"steady current of {names}",
        Measure(total, "current"),
        Measure(limit, "current"),
        place,
        limit_name=f"limit that the outputs of {item.name} share{why},",
        related=tuple(related),
        working=tuple(steps),
        repairs=lighter_loads([f for o in loaded for f in o.feeds], context.spec) if total > limit else (),
    )


def _limit(item: Item, context: Context, total: Fraction) -> tuple[Fraction, Place, str]:
    """The limit in force: that of the feed that gives most, else the one for the whole device.

    Raises Undecided where another feed, whose limit is not stated, might give what is lacking.
    """
    sheet = item.sheet
    assert sheet is not None
    best: tuple[Fraction, Place, str] | None = None
    silent: Input | None = None
    for feed in context.wiring.by_item.get(item.identity, ()):
        if isinstance(feed.load, Input) and feed.load.output_limit is None:
            silent = feed.load
        elif isinstance(feed.load, Input):
            value = known(feed.load, "output_limit", Quantity).value
            if best is None or value > best[0]:
                kind = "PoE" if feed.supply == "poe" else feed.supply.upper()
                best = (value, feed.load.at("output_limit"), f" when fed over {kind}")
    if best is not None and best[0] < total and silent is not None and sheet.output_limit is None:
        known(silent, "output_limit", Quantity)
    if best is None:
        best = (known(sheet, "output_limit", Quantity).value, sheet.at("output_limit"), "")
    return best
