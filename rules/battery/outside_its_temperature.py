"""The temperature around a battery against what its chemistry stands."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from types import MappingProxyType

from doorlint.circuit.lines import KELVIN_AT_0_C
from doorlint.circuit.supplies import FEEDERS
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Place, Practice, Step, Term, Verdict, at_least, at_most
from doorlint.quantity import Band
from doorlint.rulebook import Rule
from doorlint.spec import Battery, PowerSource, known

# Coldest and warmest place in degC, charging included. Common practice, from memory.
STANDS = MappingProxyType({"lead_acid": (-20, 40), "lifepo4": (0, 45), "li_ion": (0, 45), "nimh": (0, 45)})

RULE = Rule(
    "battery/outside-its-temperature",
    title="The battery stands where it is too cold or too warm for it",
    level=Level.WARNING,
    over=PowerSource,
    applies=lambda source: source.kind in FEEDERS and source.battery is not None,
    scope="power supplies and UPS with a battery",
    basis=(
        Practice(
            "a lead-acid battery stands between -20 and 40 degC, as its life halves with each 10 K above 25 degC; "
            "lithium and nickel batteries are not charged below 0 nor above 45 degC",
            from_memory=True,
        ),
    ),
    evidence=("temperature of the place", "what the chemistry stands", "margin"),
    why="An outdoor box takes the capacity in winter and the life in summer.",
    cure="Move the battery indoors, heat or ventilate its box, or use a battery made for that range.",
    limits="The battery maker's own range goes before these figures.",
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    battery = known(source, "battery", Battery)
    low, high = STANDS[known(battery, "chemistry", str)]
    band, place = _place(source, battery)
    warmest = Measure(Fraction(high) + KELVIN_AT_0_C, "temperature")
    coldest = Measure(Fraction(low) + KELVIN_AT_0_C, "temperature")
    yield at_most(
        f"warmest place of the battery of {source.id}",
        Measure(band.high, "temperature"),
        warmest,
        place,
        limit_name="highest that it stands",
        working=(_step("highest that it stands", warmest, battery),),
    )
    yield at_least(
        f"coldest place of the battery of {source.id}",
        Measure(band.low, "temperature"),
        coldest,
        place,
        limit_name="lowest that it stands",
        working=(_step("lowest that it stands", coldest, battery),),
    )


def _step(name: str, limit: Measure, battery: Battery) -> Step:
    return Step(name, "by its chemistry", limit, (Term("chemistry", str(battery.chemistry), battery.at("chemistry")),))


def _place(source: PowerSource, battery: Battery) -> tuple[Band, Place]:
    if battery.temperature is None and isinstance(source.ambient, Band):
        return source.ambient, source.at("ambient")
    return known(battery, "temperature", Band), battery.at("temperature")
