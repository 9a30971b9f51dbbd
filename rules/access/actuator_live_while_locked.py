"""A push plate that starts the operator whether the door is locked or not."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import CONTROLLERS, kind_of, signals_to
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, Item, known

from .operators import bears_lock, operators

RULE = Rule(
    "access/actuator-live-while-locked",
    title="The outside actuator starts the operator while the door is locked",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: kind_of(item) == "actuator" and item.side in (None, UNKNOWN, "unsecured"),
    scope="actuators of door operators on the unsecured side",
    basis=(
        Practice(
            "an actuator outside has an effect only while the door is unlocked",
            physics="the motor pushes against a lock that holds",
        ),
    ),
    evidence=("actuator", "what it starts", "when it has an effect"),
    why="Everybody who tries the plate at night lets the motor work against the lock, until one of them breaks.",
    cure="Lead the actuator through the controller, or through a contact that is closed only while unlocked.",
    limits="A contact inside the operator that does this is seen only where the spec says `enabled: unlocked`.",
)


def check(plate: Item, context: Context) -> Iterator[Verdict]:
    if plate.side is UNKNOWN:
        known(plate, "side", str)
    found = operators(plate, context)
    if not found or not bears_lock(plate, context):
        yield not_applicable("the opening has no operator or no electric lock")
        return
    for operator in found:
        sources = known(operator, "actuated_by", tuple)
        related = (Related(operator.at("actuated_by"), f"what starts {operator.name}"),)
        if plate.name not in sources:
            yield _through(plate, operator, sources, context)
        elif known(plate, "enabled", str) == "unlocked":
            yield ok(f"{plate.name} has an effect only while unlocked", plate.at("enabled"), related=related)
        else:
            text = f"{plate.name} starts {operator.name} while the door is locked"
            change = Change(plate.at("enabled"), "unlocked")
            repairs = (Repair(f"let {plate.name} have an effect only while unlocked", (change,)),)
            yield failed(text, plate.at("enabled"), related=related, repairs=repairs)


def _through(plate: Item, operator: Item, sources: tuple[str, ...], context: Context) -> Verdict:
    by = context.opening(plate).items.get(signals_to(plate))
    if by is not None and kind_of(by) in CONTROLLERS and by.name in sources:
        related = (Related(operator.at("actuated_by"), f"{by.name} starts {operator.name}"),)
        return ok(f"{plate.name} reports to {by.name}, which decides", plate.at("signals"), related=related)
    if plate.signals is None or plate.signals is UNKNOWN:
        known(plate, "signals", str)
    return not_applicable(f"{plate.name} does not start {operator.name}")
