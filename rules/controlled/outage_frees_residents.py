"""What a loss of power does to people who are kept in for their own safety."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events import Event, Lock
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening, PowerSource

from ..egress.lists import CAUTION, Case, case_of, chain, elsewhere, feeds_of, follows, row_of, unknown_cell

RULE = Rule(
    "controlled/outage-frees-residents",
    title="An outage releases the door and residents can walk out",
    level=Level.NOTE,
    over=Opening,
    basis=(
        Practice(
            "where a code wants release on loss of power, staff are warned of it and the standby is decided in writing"
        ),
    ),
    evidence=("event", "state of the lock", "transfer time"),
    why="The generator takes ten seconds to start; a resident needs five to be in the street.",
    cure="Plan alarm and staff for the outage; a battery that carries the lock through is for the authority.",
    limits="The battery of such a lock bears on the release on loss of power: do not add one without the authority. "
    + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    if follows(case) != "controlled_egress":
        yield not_applicable(elsewhere(case))
        return
    gap = _transfer(case)
    if gap is not None:
        yield gap
        return
    row = row_of(case, Event("standby_exhausted"))
    if row.lock is None:
        raise unknown_cell(row)
    if row.lock is Lock("unlocked"):
        yield failed(f"{chain(row, 'residents can leave')}; plan alarm and staff for it", row.place.key)
    else:
        yield ok("no outage releases the door", row.place.key)


def _transfer(case: Case) -> Verdict | None:
    """A generator without battery: the lock is without power until it has taken over."""
    for item in case.holding:
        for feed in feeds_of(case, item):
            for source in feed.sources:
                generator = _unbridged(source, case)
                if generator is not None and isinstance(generator.transfer_time, Quantity):
                    time = generator.transfer_time.text
                    text = f"{item.name} has no power for {time} until {generator.id} has taken over"
                    related = (Related(generator.at("transfer_time"), "the transfer time"),)
                    return failed(f"{text}: it lets go and residents can leave", item.place.key, related=related)
    return None


def _unbridged(source: PowerSource, case: Case) -> PowerSource | None:
    """The generator that a source hangs on with no battery in between."""
    passed: set[str] = set()
    here: PowerSource | None = source
    while here is not None and here.id not in passed:
        if here.battery is not None or here.backup is not None:
            return None
        if here.kind == "generator" and isinstance(here.transfer_time, Quantity) and here.transfer_time.value:
            return here
        passed.add(here.id)
        behind = here.fed_from.partition(".")[0] if isinstance(here.fed_from, str) else ""
        here = case.context.spec.power.get(behind)
    return None
