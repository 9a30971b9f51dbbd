"""The capacitance at a PoE input against what a port charges while it starts a device."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.poe import HIGHEST_VOLTAGE_V, PD_INRUSH_LIMIT_A
from doorlint.circuit.poe_links import PoeLink, exact
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Practice, Related, Step, Term, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Input, known

LIMIT = Fraction(180, 10**6)
LONGEST_S = Fraction(50, 1000)

RULE = Rule(
    "poe/input-capacitance-above-start-up",
    title="The capacitance at the PoE input is too much to start from a port",
    level=Level.ERROR,
    over=PoeLink,
    applies=lambda link: not link.passive and link.load.capacitance is not None,
    scope="PoE inputs whose capacitance is stated",
    basis=(
        Cited("IEEE 802.3", "2022", "clauses 33 and 145", "inrush: 180 uF, 350 mA, 50 ms", from_memory=True),
        Practice(
            "up to 180 uF the port limits the inrush; with more the device limits its own to 350 mA and is charged "
            "within 50 ms",
            physics="t = C V / I: a port that is still limiting after its start-up time switches off",
        ),
    ),
    evidence=("capacitance", "most that the port charges", "margin"),
    why="A capacitor added to hold up the lock keeps the device from ever starting.",
    cure="Put the capacitor behind a limiter, or at the low-voltage output, where the converter charges it.",
    limits="The peak current of the input is taken as the limit that the device sets itself at start.",
)


def check(link: PoeLink, context: Context) -> Iterator[Verdict]:
    load, name = link.load, link.item.name
    stated = known(load, "capacitance", Quantity)
    related: tuple[Related, ...] = (Related(link.place, f"{name} is fed from here"),)
    charged = Step("capacitance", "as stated", Measure(stated.value, "capacitance"), (_term(load, "capacitance"),))
    if stated.value <= LIMIT:
        yield at_most(
            f"capacitance at the input of {name}",
            Measure(stated.value, "capacitance"),
            Measure(LIMIT, "capacitance"),
            load.at("capacitance"),
            limit_name="most that a port charges,",
            related=related,
            working=(charged,),
        )
        return
    limited = known(load, "peak", Quantity)
    related += (Related(load.at("peak"), f"{name} limits its inrush to {limited.text}"),)
    if limited.value > exact(PD_INRUSH_LIMIT_A) or limited.value <= 0:
        yield at_most(
            f"inrush of {name}, with {stated.text} at its input,",
            Measure(limited.value, "current"),
            Measure(exact(PD_INRUSH_LIMIT_A), "current"),
            load.at("capacitance"),
            limit_name="most that a device may take above 180 uF,",
            related=related,
            working=(charged,),
        )
        return
    time = stated.value * exact(HIGHEST_VOLTAGE_V) / limited.value
    terms = (_term(load, "capacitance"), Term("highest voltage", f"{HIGHEST_VOLTAGE_V:g} V"), _term(load, "peak"))
    step = Step("time to charge", "capacitance x voltage / current", Measure(time, "time"), terms, "t = C V / I")
    yield at_most(
        f"time to charge {stated.text} at the input of {name}",
        Measure(time, "time"),
        Measure(LONGEST_S, "time"),
        load.at("capacitance"),
        limit_name="start-up time of a port,",
        related=related,
        working=(charged, step),
    )


def _term(load: Input, name: str) -> Term:
    return Term(name, known(load, name, Quantity).text, load.at(name))
