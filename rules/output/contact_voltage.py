"""The voltage that a contact switches against the highest that it may switch."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.demand import source_voltage
from doorlint.circuit.feeds import LoadedContact
from doorlint.circuit.substitutes import other_sources
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_most, not_applicable
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import known

USUAL_V = Fraction(30)

RULE = Rule(
    "contact/voltage-over-rating",
    title="The contact switches a higher voltage than it may",
    level=Level.ERROR,
    over=LoadedContact,
    basis=(
        Practice(
            "a contact switches no more than its highest voltage; the contacts of this trade are for 30 V DC at least, "
            "so where none is stated it is asked for above that",
            physics="the arc of an opening contact does not go out above the voltage that its gap can break",
        ),
    ),
    evidence=("highest source voltage", "highest voltage of the contact", "margin"),
    why="The arc burns on until the contact has gone.",
    cure="Use a contact for that voltage, or feed the load from a lower one.",
    limits="The kick of an unsuppressed coil comes on top and is a rule of its own.",
)


def check(loaded: LoadedContact, context: Context) -> Iterator[Verdict]:
    feeds = {feed.terminal.identity: feed for feed in loaded.feeds}.values()
    feed = max(feeds, key=lambda one: source_voltage(one.terminal).high)
    volts = source_voltage(feed.terminal)
    contact = loaded.contact
    if contact.highest_voltage is None and volts.high <= USUAL_V:
        yield not_applicable(f"{loaded.use.name} switches {volts.text}, which every contact of this trade may")
        return
    rated = known(contact, "highest_voltage", Quantity)
    place = feed.terminal.output.at("voltage")
    yield at_most(
        f"voltage of {feed.terminal.label}",
        Measure(volts.high, "voltage"),
        Measure(rated.value, "voltage"),
        contact.at("highest_voltage"),
        limit_name=f"highest that {loaded.use.name} may switch,",
        related=(Related(place, f"{feed.terminal.label} gives {volts.text}"),),
        working=(
            Step(
                "highest source voltage",
                "top of its range",
                Measure(volts.high, "voltage"),
                (Term("source", volts.text, place),),
            ),
        ),
        repairs=tuple(other_sources(feed, context.spec)) if volts.high > rated.value else (),
    )
