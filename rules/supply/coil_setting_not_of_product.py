"""The setting of a coil that can be set to several voltages."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.demand import source_voltage
from doorlint.circuit.substitutes import as_yaml
from doorlint.circuit.tolerance import voltage_taken
from doorlint.context import Context
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, Undecided, known

RULE = Rule(
    "supply/coil-setting-not-of-product",
    title="The coil setting is none of the settings of its product",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: item.sheet is not None and bool(item.sheet.coils) and item.sheet.coil is None,
    scope="products whose coil can be set to several voltages",
    needs=("coil_setting",),
    basis=(
        Practice(
            "a device for several voltages is delivered at one setting; the spec says which one is used",
            physics="a coil set to 12 V draws twice its current on 24 V, one set to 24 V does not pull on 12 V",
        ),
    ),
    evidence=("setting", "settings of the product"),
    why="The jumper stays as it came from the factory: dead or burnt locks, and a wrong current in every sum.",
    cure="State the setting that the product has and the supply asks for.",
    limits="Whether the jumper in the delivered device is set so has to be looked at on site.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    sheet = item.sheet
    assert sheet is not None
    setting = known(item, "coil_setting", str)
    listed = ", ".join(sheet.coils)
    if setting in sheet.coils:
        yield ok(f"{item.name} is set to {setting}, one of {listed}", item.at("coil_setting"))
        return
    yield failed(
        f"{item.name} is set to {setting!r}; the settings of {sheet.id} are {listed}",
        item.at("coil_setting"),
        related=(Related(sheet.place.key, "the product with its settings"),),
        repairs=tuple(_repairs(item, context)),
    )


def _repairs(item: Item, context: Context) -> Iterator[Repair]:
    """The settings that the voltage of the feed suits."""
    assert item.sheet is not None
    for name, coil in item.sheet.coils.items():
        for feed in context.wiring.by_item.get(item.identity, ()):
            try:
                source = source_voltage(feed.terminal)
                taken, _ = voltage_taken(coil, context.spec.practice)
            except Undecided:
                continue
            if taken.low <= source.low and source.high <= taken.high:
                yield Repair(f"set {item.name} to {name}", (Change(item.at("coil_setting"), as_yaml(name)),))
