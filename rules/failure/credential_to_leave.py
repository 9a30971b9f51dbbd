"""A credential, a code or staff needed to get out, where no arrangement permits it."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events import Egress as Way
from doorlint.events import Event
from doorlint.outcome import Cited, Level, Related, Verdict, failed, not_applicable, ok, to_authority
from doorlint.rulebook import Rule
from doorlint.spec.model import Egress, Opening

from ..egress.lists import CAUTION, clauses, nobody_leaves
from .doors import lock_place, locks_of, open_for, row_of, way

RULE = Rule(
    "failure/credential-to-leave",
    title="It takes a credential, a code or staff to get out",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(
        Cited("International Building Code", "2015 to 2024", "doors readily openable", "clause by edition"),
        Cited("NFPA 101", "2012 to 2024", "7.2.1.5", "locks, latches and alarm devices", from_memory=True),
    ),
    evidence=("egress in normal operation", "readers on the egress side"),
    why="The visitor has no card, and the reader on the way out knows nobody when its network is gone.",
    cure="Free the egress side by hardware; a reader there may record who leaves, and must not decide it.",
    limits="Places of care and detention have arrangements of their own, judged by rules of their own. " + CAUTION,
    life_safety=True,
    incomplete=uncounted.together(uncounted.devices, uncounted.where_unknown("items.side")),
)

BY_STAFF = ("controlled_egress", "detention", "elevator_lobby")


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if nobody_leaves(opening):
        yield not_applicable("nobody leaves through this opening")
        return
    arrangement = context.arrangement(opening)
    normal = row_of(opening, context, Event.NORMAL)
    grounds, _ = clauses(context.spec.project, "free_egress")
    readers = context.door(opening).readers(inside=True)
    related = tuple(Related(reader.place.key, f"{reader.name} on the egress side") for reader in readers[:3])
    if arrangement.kind in BY_STAFF:
        yield not_applicable(f"people leave with staff by arrangement: {arrangement.why}")
    elif normal.egress is None:
        yield open_for((normal,), opening)
    elif normal.egress is Way.STAFF:
        text = way(normal.event.title, normal.because, "only a credential or a key lets people out")
        yield failed(text, lock_place(opening), related=related, basis=grounds)
    elif isinstance(opening.egress, Egress) and opening.egress.by == "credential" and normal.egress is Way.FREE:
        text = "people are said to leave by credential, and the wiring lets them out without: which is meant?"
        yield to_authority(text, opening.egress.at("by"), related=related, basis=grounds)
    else:
        note = "; readers inside only record" if readers else ""
        yield ok(f"it takes no credential to get out{note}", lock_place(opening), basis=grounds)
