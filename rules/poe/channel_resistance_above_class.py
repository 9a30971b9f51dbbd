"""The resistance of a channel against the worst channel that its class allows for."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.poe_cures import channel_repairs
from doorlint.circuit.poe_links import PoeLink
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Practice, Related, Verdict, at_most, not_applicable
from doorlint.rulebook import Rule

RULE = Rule(
    "poe/channel-resistance-above-class",
    title="The channel has more resistance than its PoE class allows for",
    level=Level.WARNING,
    over=PoeLink,
    applies=lambda link: not link.passive,
    scope="ports that give power by IEEE 802.3",
    basis=(
        Cited("IEEE 802.3", "2022", "clauses 33 and 145", "resistance of the channel by type", from_memory=True),
        Practice(
            "the channel stays within the resistance for which the standard promises its power",
            physics="the loss is the square of the current times the resistance",
        ),
    ),
    evidence=("resistance, warm", "resistance of the worst channel", "margin"),
    why="Beyond it the standard promises no power at the device, and the cable runs warm.",
    cure="Use cable of a thicker conductor or solid copper, or a shorter run.",
    limits="Cords of thinner wire count only as far as the spec describes the cable; unbalance is not in it.",
)


def check(link: PoeLink, context: Context) -> Iterator[Verdict]:
    granted = context.poe.grant(link).granted
    if granted is None:
        yield not_applicable("the port may not power the device at all")
        return
    channel = context.poe.channel(link)
    over = channel.ohm > granted.channel_ohm
    yield at_most(
        f"resistance of the channel to {link.item.name} at {channel.temperature_c:.0f} degC",
        Measure(channel.ohm, "resistance"),
        Measure(granted.channel_ohm, "resistance"),
        link.item.at("length"),
        limit_name=f"worst channel of class {granted.number},",
        related=(Related(link.item.at("cable"), "the cable"),) if link.item.cable is not None else (),
        working=(channel.step,),
        repairs=tuple(channel_repairs(link, context.poe, granted.channel_ohm)) if over else (),
    )
