"""The temperature around a supply against the one that it works in."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.supplies import FEEDERS, ambient_of
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_least, at_most
from doorlint.quantity import Band
from doorlint.rulebook import Rule
from doorlint.spec import PowerSource, known

RULE = Rule(
    "power/outside-operating-temperature",
    title="The supply stands where it is colder or warmer than it works in",
    level=Level.WARNING,
    over=PowerSource,
    applies=lambda source: source.kind in FEEDERS and source.temperature is not None,
    scope="power supplies and UPS whose operating temperature is stated",
    basis=(Practice("a supply is used within the ambient temperature that its sheet states"),),
    evidence=("ambient temperature", "operating temperature", "margin"),
    why="A supply in a hot enclosure shuts down in summer; its capacitors dry out years before their time.",
    cure="Hang it where it is within its range, ventilate the enclosure, or use one for that range.",
    limits="The ambient inside the enclosure counts, which is 10 to 20 K warmer than the room at full load.",
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    allowed = known(source, "temperature", Band)
    ambient, place = ambient_of(source)
    related = (Related(source.at("temperature"), "the range that it works in"),)
    term = Term("operating temperature", allowed.text, source.at("temperature"))
    ends = {"highest": Measure(allowed.high, "temperature"), "lowest": Measure(allowed.low, "temperature")}
    steps = {end: Step(f"{end} operating temperature", "as its sheet states", ends[end], (term,)) for end in ends}
    yield at_most(
        f"warmest ambient of {source.id}",
        Measure(ambient.high, "temperature"),
        ends["highest"],
        place,
        limit_name="highest operating temperature",
        related=related,
        working=(steps["highest"],),
    )
    yield at_least(
        f"coldest ambient of {source.id}",
        Measure(ambient.low, "temperature"),
        ends["lowest"],
        place,
        limit_name="lowest operating temperature",
        related=related,
        working=(steps["lowest"],),
    )
