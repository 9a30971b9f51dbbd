"""Sensor and lock together against the time in which a person walks up to the door."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint.circuit.releases import Opener, SwitchedCoil, release
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Term, Verdict, at_most
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, Product, known

from ..suppression.freewheel_across_magnet import other_parts

WALKING_M_PER_S = Fraction(12, 10)
"""Speed of a person who walks up to a door. Common practice, no source."""


def _is_sensor(item: Item) -> bool:
    return item.sheet is not None and item.sheet.kind == "request_to_exit_sensor"


def _by_sensor(switched: SwitchedCoil) -> list[tuple[Opener, Item]]:
    """The openers that are request-to-exit sensors whose detection distance the spec states."""
    found = []
    for opener in switched.openers:
        owner = opener.use.owner if opener.use is not None else None
        if isinstance(owner, Item) and owner.detection_distance is not None and _is_sensor(owner):
            found.append((opener, owner))
    return found


RULE = Rule(
    "release/slower-than-walk",
    title="People reach the door before sensor and lock have released it",
    level=Level.WARNING,
    over=SwitchedCoil,
    applies=lambda switched: bool(_by_sensor(switched)),
    scope="locks released by a sensor whose detection distance the spec states",
    basis=(
        Practice(
            "sensor and lock together need no longer than a person takes from where the sensor sees them, at 1.2 m/s",
            physics="time is distance over speed",
        ),
    ),
    evidence=("sensor and release time", "walking time", "margin"),
    why="People walk into a door that has seen them and is still locked.",
    cure="Let the sensor see people earlier, use a faster one, or a suppressor that lets the lock go sooner.",
    limits="The electrical part of the release alone; a relay between sensor and lock counts where the spec gives it.",
)


def check(switched: SwitchedCoil, context: Context) -> Iterator[Verdict]:
    for opener, sensor in _by_sensor(switched):
        yield _verdict(switched, opener, sensor, context)


def _verdict(switched: SwitchedCoil, opener: Opener, sensor: Item, context: Context) -> Verdict:
    assert isinstance(sensor.sheet, Product)
    distance = known(sensor, "detection_distance", Quantity)
    response = known(sensor.sheet, "response_time", Quantity)
    found = release(switched, opener)
    electrical = found.electrical_s if found is not None else 0.0
    total = Measure(float(response.value) + electrical, "time")
    walk = Measure(distance.value / WALKING_M_PER_S, "time")
    terms = (
        Term("sensor", response.text, sensor.sheet.at("response_time")),
        Term("lock", str(Measure(electrical, "time"))),
    )
    steps = found.working if found is not None else ()
    reach = Step(
        "walking time", "distance / 1.2 m/s", walk, (Term("distance", distance.text, sensor.at("detection_distance")),)
    )
    return at_most(
        f"time of {sensor.name} and {switched.item.name} together",
        total,
        walk,
        opener.place,
        limit_name="walking time",
        related=(
            Related(sensor.sheet.at("response_time"), f"{sensor.name} takes {response.text}"),
            Related(sensor.at("detection_distance"), f"it sees people {distance.text} away"),
        ),
        working=(*steps, Step("sensor and lock", "response time + release time", total, terms), reach),
        repairs=tuple(other_parts(switched, context)) if total.value > walk.value else (),
    )
