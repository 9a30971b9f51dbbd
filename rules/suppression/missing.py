"""A coil with nothing to take its energy when it is switched off."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.feeds import Feed
from doorlint.circuit.substitutes import suppressors
from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Coil, Undecided, known

RULE = Rule(
    "suppression/missing",
    title="Nothing limits the voltage of the coil when it is switched off",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: isinstance(feed.load, Coil),
    scope="coils",
    basis=(
        Practice(
            "every coil has a suppressor, built in or fitted at the lock",
            physics="a coil that is switched off drives its current on, at whatever voltage that takes",
        ),
    ),
    evidence=("built-in suppression", "fitted suppression"),
    why="The kick of several hundred volts welds the relay contact, resets readers and puts odd bits on data lines.",
    cure="Fit a diode at a DC strike; at a magnet, or on AC, a bidirectional part, so that the release stays quick.",
    limits="A suppressor inside a device that its data sheet does not mention is not seen.",
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    item, coil = feed.item, feed.coil
    assert coil is not None
    if item.suppression:
        names = ", ".join(str(one.product or "a suppressor") for one in item.suppression)
        yield ok(f"{item.name} has {names}", item.at("suppression"))
        return
    if coil.built_in_suppression is None or known(coil, "built_in_suppression", str) != "none":
        built_in = known(coil, "built_in_suppression", str)
        yield ok(f"{item.name} has it built in ({built_in.replace('_', ' ')})", coil.at("built_in_suppression"))
        return
    if item.suppression_unknown:
        raise Undecided("suppression", item.at("suppression"), stated=True)
    related = (Related(coil.at("built_in_suppression"), "nothing built in"),)
    what = "the spec fits none" if not item.no_suppression else "the spec says that none is fitted"
    at = item.at("suppression") if item.no_suppression else item.at("product")
    yield failed(
        f"the coil of {item.name} has no suppression built in, and {what}",
        at,
        related=related,
        repairs=tuple(suppressors(item, context.spec)),
    )
