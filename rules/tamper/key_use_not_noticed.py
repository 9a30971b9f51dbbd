"""A key that opens the door without anybody noticing."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events.door import kind_of, signals_to
from doorlint.outcome import Level, Practice, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Item, Opening

from .doors import is_high

RULE = Rule(
    "tamper/key-use-not-noticed",
    title="A key opens the door and nothing notices",
    level=Level.WARNING,
    over=Opening,
    applies=is_high,
    scope="openings of high security",
    basis=(Practice("opening by key shows as a forced door or is reported by the cylinder"),),
    why="The lost key is used at night for years.",
    cure="Have the forced-door alarm in use, so that opening without a credential is noticed, or a "
    "cylinder that reports.",
    limits="How keys are kept and counted is not in the spec.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    keyed = [item for item in opening.items.values() if _keyed(item)]
    if not keyed:
        yield not_applicable("no key is listed")
        return
    place, name = keyed[0].place.key, keyed[0].name
    watching = [i for i in opening.items.values() if kind_of(i) == "door_position_switch" and signals_to(i)]
    if any(item.sheet and isinstance(item.sheet.monitors, tuple) and "key" in item.sheet.monitors for item in keyed):
        yield ok(f"{name} reports the use of a key", place)
    elif not watching:
        uncounted.insist([*uncounted.devices(opening, context), *_watching(opening, context)])
        yield failed(f"a key opens {name}, and nothing reports the position of the leaf", place)
    elif "forced" in known(opening, "alarms", tuple):
        yield ok(f"a door opened by key shows as forced, by {watching[0].name}", place)
    else:
        yield failed(f"a key opens {name}, and no alarm of a forced door is in use", opening.at("alarms"))


_watching = uncounted.where_unknown("items.sheet.monitors", "items.signals")
"""What may report that a key is used, where that is given as unknown."""


def _keyed(item: Item) -> bool:
    return kind_of(item) == "cylinder" or (item.sheet is not None and item.sheet.key_override is True)
