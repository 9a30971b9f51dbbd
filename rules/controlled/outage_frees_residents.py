"""What a loss of power does to people who are kept in for their own safety."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events import Event, Lock
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

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
                battery = source.battery is not None or source.backup is not None
                if not battery and isinstance(source.transfer_time, Quantity) and source.transfer_time.value:
                    text = (
                        f"{source.id} has no power for {source.transfer_time.text} until the generator has taken over"
                    )
                    related = (Related(source.at("transfer_time"), "the transfer time"),)
                    return failed(
                        f"{text}: {item.name} lets go and residents can leave", item.place.key, related=related
                    )
    return None
