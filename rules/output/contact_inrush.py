"""The charging current of a device's capacitors against the peak that a contact stands."""

from __future__ import annotations

import math
from collections.abc import Iterator

from doorlint.circuit.demand import source_voltage
from doorlint.circuit.feeds import Feed, LoadedContact
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Place, Practice, Related, Step, Term, Verdict, at_most, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Input, Undecided, known

NEW_CONTACTS_C = 20.0

RULE = Rule(
    "contact/inrush-over-rating",
    title="Charging capacitors draw more than the contact that closes stands",
    level=Level.WARNING,
    over=LoadedContact,
    basis=(
        Practice(
            "the charging current is compared with the contact's peak by its heat: I^2 t of the charge against that of "
            "the stated peak",
            physics="an empty capacitor is a short circuit; only the resistance of the line limits its current",
        ),
    ),
    evidence=("charging current as an equal peak", "peak that the contact stands", "margin"),
    why="The contact welds after some months of charging the capacitors of an operator or an electronic lock.",
    cure="Put an NTC in series, use a solid-state switch, or switch the device by its control input.",
    limits="The resistance inside capacitors and supply is left out, so the current is an upper bound. Only devices "
    "whose sheet states a capacitance are judged.",
)


def check(loaded: LoadedContact, context: Context) -> Iterator[Verdict]:
    charged = [feed for feed in loaded.feeds if isinstance(feed.load, Input) and feed.load.capacitance is not None]
    if not charged:
        yield not_applicable(f"no device behind {loaded.use.name} states a capacitance")
        return
    for feed in charged:
        yield _verdict(loaded, feed, context)


def _verdict(loaded: LoadedContact, feed: Feed, context: Context) -> Verdict:
    load = feed.load
    assert isinstance(load, Input)
    if feed.terminal.supply == "poe":
        return not_applicable(f"{feed.item.name} is fed over PoE, whose port limits the current")
    capacitance = known(load, "capacitance", Quantity)
    volts = source_voltage(feed.terminal)
    ohm = context.voltages.line(feed).loop_ohm(NEW_CONTACTS_C, 0.0)
    if ohm <= 0:
        raise Undecided("resistance", loaded.contact.at("resistance"), stated=True)
    first = float(volts.high) / ohm
    name = "peak" if loaded.contact.peak is not None else "current"
    rating = known(loaded.contact, name, Quantity)
    place: Place = loaded.contact.at(name)
    terms = (
        Term("highest source voltage", volts.text, feed.terminal.output.at("voltage")),
        Term("loop resistance, new and cold", str(Measure(ohm, "resistance")), feed.item.at("length")),
    )
    steps = [Step("charging current at first", "V / R", Measure(first, "current"), terms)]
    equal = first
    if first > rating.value and name == "peak":
        duration = known(loaded.contact, "peak_duration", Quantity)
        heat = float(capacitance.value) * float(volts.high) ** 2 / (2 * ohm)
        if duration.value > 0:
            equal = min(first, math.sqrt(heat / float(duration.value)))
        terms = (
            Term("C", capacitance.text, load.at("capacitance")),
            Term("duration of the stated peak, t", duration.text, loaded.contact.at("peak_duration")),
        )
        steps.append(Step("peak of equal heat", "sqrt(C V^2 / (2 R t))", Measure(equal, "current"), terms))
    return at_most(
        f"charging current of {feed.item.name}, as a peak of equal heat,",
        Measure(equal, "current"),
        Measure(rating.value, "current"),
        place,
        limit_name=f"{'peak' if name == 'peak' else 'current'} that {loaded.use.name} stands,",
        related=(Related(load.at("capacitance"), f"{feed.item.name} charges {capacitance.text}"),),
        working=tuple(steps),
    )
