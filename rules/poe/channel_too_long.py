"""The length of a network cable against what a channel may be."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.poe import LONGEST_CHANNEL_M
from doorlint.circuit.poe_links import PoeLink
from doorlint.context import Context
from doorlint.outcome import Change, Cited, Level, Measure, Repair, Step, Term, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Undecided

LONGEST = Fraction(LONGEST_CHANNEL_M)

RULE = Rule(
    "poe/channel-too-long",
    title="The network cable is longer than a channel may be",
    level=Level.ERROR,
    over=PoeLink,
    basis=(
        Cited("ISO/IEC 11801-1", "2017", "channel", "90 m of link and 10 m of cords", from_memory=True),
        Cited("ANSI/TIA-568.2", "D", "channel", "100 m in all", from_memory=True),
    ),
    evidence=("length", "longest channel", "margin"),
    why="Data are lost now and then, and power arrives with less voltage than the standard allows for.",
    cure="Put a switch or an extender on the way, or run fibre with a supply at the door.",
    limits="The length is taken as that of the whole channel, cords included.",
)


def check(link: PoeLink, context: Context) -> Iterator[Verdict]:
    item = link.item
    if not isinstance(item.length, Quantity):
        raise Undecided("length", item.at("length"), stated=item.length is not None)
    over = item.length.value > LONGEST
    change = Repair(f"keep the run to {item.name} to 100 m", (Change(item.at("length"), "100 m"),))
    term = Term("length", item.length.text, item.at("length"))
    step = Step("length of the channel", "as the cable runs", Measure(item.length.value, "length"), (term,))
    yield at_most(
        f"length of the channel to {item.name}",
        Measure(item.length.value, "length"),
        Measure(LONGEST, "length"),
        item.at("length"),
        limit_name="longest channel,",
        working=(step,),
        repairs=(change,) if over else (),
    )
