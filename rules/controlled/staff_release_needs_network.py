"""Staff who let people out when the network is lost, or the controller is dead."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events import Egress as Way
from doorlint.events import Event
from doorlint.outcome import Level, Practice, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec.model import Opening

from ..egress.lists import CAUTION, case_of, chain, elsewhere, follows, row_of, unknown_cell

EVENTS = ("network_lost", "poe_port_lost", "controller_dead", "controller_hung")

RULE = Rule(
    "controlled/staff-release-needs-network",
    title="Staff cannot let people out without network or controller",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Practice(
            "staff have a way to let people out that needs neither network nor controller",
            physics="a credential that is checked elsewhere opens nothing when the way there is cut",
        ),
    ),
    evidence=("event", "why", "egress"),
    why="A switch in another building restarts, and a ward is locked in until it is back.",
    cure="Let the controller decide by its own list, and put a key switch of the staff into the feed of the lock.",
    limits="That the staff carry keys and know where to turn them is as good as the spec says. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    if follows(case) != "controlled_egress":
        yield not_applicable(elsewhere(case))
        return
    trapped = False
    for name in EVENTS:
        row = row_of(case, Event(name))
        if row.egress is None:
            raise unknown_cell(row)
        if row.egress is Way("impossible"):
            trapped = True
            yield failed(chain(row, "egress impossible, also for staff"), row.place.key)
    if not trapped:
        yield ok("staff let people out without network and controller", opening.place.key)
