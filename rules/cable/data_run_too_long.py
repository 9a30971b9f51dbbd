"""The run of a data line against what its interface carries."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import (
    Change,
    Cited,
    Level,
    Measure,
    Practice,
    Related,
    Repair,
    Step,
    Term,
    Verdict,
    at_most,
    not_applicable,
)
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, known

PULSE = Practice("pulse interfaces are run at most 150 m (500 ft), on screened cable; common practice, no source")
BUS = Cited("TIA-485-A", "1998", "guidance on cable length", "up to about 1200 m at low data rates", from_memory=True)
NETWORK = Cited("ISO/IEC 11801-1", "2017", "balanced channels", "a channel of up to 100 m", from_memory=True)

LONGEST_M = {"pulse": (150, PULSE), "rs_485": (1200, BUS), "ethernet": (100, NETWORK)}

_WORDS = {"pulse": "pulses", "rs_485": "RS-485", "ethernet": "network"}

RULE = Rule(
    "cable/data-run-too-long",
    title="The data line is longer than its interface carries",
    level=Level.WARNING,
    over=Item,
    applies=lambda item: item.sheet is not None and item.sheet.interface is not None,
    scope="products whose data sheet states the interface",
    needs=("sheet.interface",),
    basis=(NETWORK, BUS, PULSE),
    evidence=("run", "longest run of the interface", "margin"),
    why="Reads are missed or the device drops off the line, now and then and in no pattern.",
    cure="A controller nearer to the door, or an interface that reaches farther.",
    limits="The data line is taken to run as long as the feeding cable. Data rate, impedance and stubs are not seen.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    sheet = item.sheet
    assert sheet is not None
    interface = known(sheet, "interface", str)
    feeds = context.wiring.by_item.get(item.identity, ())
    if interface == "ethernet" and any(feed.terminal.supply == "poe" for feed in feeds):
        yield not_applicable(f"{item.name} gets power over its network line; that channel has a rule of its own")
        return
    length = known(item, "length", Quantity)
    longest, ground = LONGEST_M[interface]
    place = item.at("length")
    limit = Measure(longest, "length")
    step = Step(
        "run", "length of the feeding cable", Measure(length.value, "length"), (Term("length", length.text, place),)
    )
    repair = Repair(
        f"keep the run to {longest} m (by a controller nearer to the door)", (Change(place, f"{longest} m"),)
    )
    yield at_most(
        f"run of the data line of {item.name}",
        Measure(length.value, "length"),
        limit,
        place,
        limit_name=f"longest of its interface ({_WORDS[interface]}),",
        related=(Related(sheet.at("interface"), f"interface of {item.name}"),),
        working=(step,),
        basis=(ground,),
        repairs=(repair,) if length.value > longest else (),
    )
