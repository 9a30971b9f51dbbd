"""When a door operator begins to drive, against when the lock has let go."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from doorlint import uncounted
from doorlint.circuit.releases import SwitchedCoil, is_magnet, slowest_release
from doorlint.context import Context
from doorlint.mechanics.sequence import OPERATOR_MARGIN_S, earliest_start_s
from doorlint.outcome import (
    Change,
    Level,
    Measure,
    Practice,
    Related,
    Repair,
    Step,
    Term,
    Verdict,
    at_least,
    not_applicable,
    ok,
)
from doorlint.quantity import Quantity
from doorlint.rulebook import Parameter, Rule
from doorlint.spec import Item, Undecided, known

from .operators import is_operator, leaves_of

MARGIN = Parameter(
    "operator_margin",
    "time from the release of the lock until an operator may drive the leaf",
    "time",
    OPERATOR_MARGIN_S,
    "higher",
    Practice("0.2 s for what stays in the iron, the moving parts and the relays; common practice, no source"),
)

RULE = Rule(
    "access/operator-before-lock",
    title="The operator drives the leaf before its lock has let go",
    level=Level.ERROR,
    over=Item,
    applies=is_operator,
    scope="door operators",
    basis=(
        Practice(
            "an operator starts 0.2 s after the lock has let go at the earliest, or waits for the lock's own report",
            physics="a leaf that is still held does not move: the drive works against the lock",
        ),
    ),
    evidence=("start delay", "release time of the lock", "margin"),
    why="Gears strip, the exit device is ripped off, the magnet and the motor fight at every passage.",
    cure="Start the operator by a sequencing relay or its own lock output, later than the lock lets go.",
    parameters=(MARGIN,),
    limits="Of a magnet the electrical part of the release is computed where the sheet states no response time; what "
    "stays in the iron comes on top, and the margin has to cover it.",
    incomplete=uncounted.where_unknown("items.release_delay"),
)


def check(operator: Item, context: Context) -> Iterator[Verdict]:
    locks = {lock.name: lock for leaf in leaves_of(operator, context) for lock in leaf.locks}
    if not locks:
        yield not_applicable(f"nothing electric locks the leaf that {operator.name} drives")
    elif operator.waits_for_unlocked is True:
        yield ok(f"{operator.name} waits until the lock reports that it is free", operator.at("waits_for_unlocked"))
    else:
        for lock in locks.values():
            yield _verdict(operator, lock, context)


def _verdict(operator: Item, lock: Item, context: Context) -> Verdict:
    released, steps, related = _release(lock, context)
    delay = known(operator, "start_delay", Quantity)
    at = operator.at("start_delay")
    margin = context.parameter(RULE, "operator_margin")
    need = Measure(earliest_start_s(released, margin), "time")
    term = Term("release", str(Measure(released, "time")), lock.at("product"))
    step = Step("earliest start", f"release + {Measure(margin, 'time')}", need, (term,))
    stated = Step("start delay", "as stated", Measure(delay.value, "time"), (Term("start_delay", delay.text, at),))
    tenths = -(-need.value * 10 // 1)
    repair = Repair(
        f"let {operator.name} start {int(tenths) * 100} ms after the signal", (Change(at, f"{int(tenths) * 100} ms"),)
    )
    return at_least(
        f"start delay of {operator.name} after {lock.name} is released",
        Measure(delay.value, "time"),
        need,
        at,
        limit_name="earliest start",
        related=(related,),
        working=(*steps, step, stated),
        repairs=(repair,) if delay.value < need.value else (),
    )


def _release(lock: Item, context: Context) -> tuple[Fraction | float, tuple[Step, ...], Related]:
    """How long after the signal a lock is free, with its working: by its sheet, or by the decay of its current."""
    staggered = lock.release_delay.value if isinstance(lock.release_delay, Quantity) else Fraction(0)
    sheet = lock.sheet
    assert sheet is not None
    if sheet.response_time is None and is_magnet(lock):
        coil = next((c for c in context.subjects[SwitchedCoil] if c.item.identity == lock.identity), None)
        found = slowest_release(coil) if coil is not None else None
        if found is not None:
            related = Related(found.path.place, f"{found.path.label} carries the current of {lock.name} on")
            return found.electrical_s + float(staggered), found.working, related
        if coil is None:
            raise Undecided("response_time", sheet.at("response_time"), stated=False)
        return staggered, (), Related(lock.at("product"), "nothing carries its current on")
    response = known(sheet, "response_time", Quantity)
    return response.value + staggered, (), Related(sheet.at("response_time"), f"{lock.name} takes {response.text}")
