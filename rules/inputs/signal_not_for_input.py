"""A device that gives a signal which its input does not take."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import signals_to
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Undecided, known
from doorlint.spec.model import Item

WORDS = {"dry_contact": "a contact without voltage", "voltage": "a voltage", "open_collector": "a transistor to 0 V"}
TAKES = {"dry": "contacts without voltage", "voltage": "voltages", "either": "both"}

RULE = Rule(
    "inputs/signal-not-for-input",
    title="The input does not take the signal that the device gives",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.sheet is not None and item.sheet.signal is not None,
    scope="devices whose signal is stated",
    basis=(
        Practice(
            "a dry input takes contacts only, a voltage input needs a voltage",
            physics="a contact without voltage drives no current",
        ),
    ),
    why="The input reads nothing, or burns out on the first voltage.",
    cure="Put a relay between, or use an input of the kind.",
    limits="Levels and polarity of voltages are not compared.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    panel = context.opening(item).items.get(signals_to(item))
    sheet = item.sheet
    assert sheet is not None
    if item.signals is UNKNOWN:
        known(item, "signals", str)
    if panel is None:
        yield not_applicable(f"{item.name} reports to no device")
        return
    if panel.sheet is None:
        raise Undecided("product", panel.at("product"), stated=panel.product is not None)
    signal, takes = known(sheet, "signal", str), known(panel.sheet, "input_kind", str)
    related = (Related(sheet.at("signal"), item.name), Related(panel.sheet.at("input_kind"), panel.name))
    fits = takes == "either" or (signal == "voltage") == (takes == "voltage")
    text = f"{item.name} gives {WORDS[signal]}, and {panel.name} takes {TAKES[takes]}"
    yield (ok if fits else failed)(text, item.at("signals"), related=related)
