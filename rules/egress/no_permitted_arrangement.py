"""Whether a lock that keeps people in by electricity follows one of the arrangements that a code permits."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.egress import NONE_PERMITTED
from doorlint.events import EVENTS
from doorlint.events import Egress as Way
from doorlint.outcome import Cited, Level, Related, Verdict, failed, not_applicable, ok, to_authority
from doorlint.rulebook import Rule
from doorlint.spec import Undecided
from doorlint.spec.model import Egress, Opening

from .lists import CAUTION, Case, case_of, chain, clauses

WORDS = {
    "free_egress": "free egress by hardware",
    "sensor_release": "sensor release",
    "hardware_release": "hardware release",
    "delayed_egress": "delayed egress",
    "controlled_egress": "controlled egress",
    "elevator_lobby": "elevator lobby",
    "stair_reentry": "stair re-entry",
    "interlock": "interlock",
    "detention": "detention",
}

FREE = {"free_egress", "stair_reentry"}  # both let people out by hardware, at all times

RULE = Rule(
    "egress/no-permitted-arrangement",
    title="Electricity holds people in and no permitted arrangement is met",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited("International Building Code", "2015 to 2024", "locks and latches; unlatching", "clause by edition"),
        Cited("NFPA 101", "2012 to 2024", "7.2.1.5 and 7.2.1.6", "locks, latches and special locking arrangements"),
    ),
    evidence=("arrangement as wired", "arrangement as claimed", "shortest chain of events"),
    why="A release on fire alarm alone is no arrangement: in any other event people stand before a locked door.",
    cure="Give free egress by hardware, or complete one arrangement: sensor, hardware on the leaf, delay, staff.",
    limits="The arrangement is read off devices and wiring; a list that is not complete is a rule of its own. "
    + CAUTION,
    life_safety=True,
    incomplete=uncounted.together(uncounted.devices, uncounted.where_unknown("arrangement")),
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    egress = opening.egress
    if isinstance(egress, Egress) and egress.side == "none":
        yield not_applicable("nobody leaves through this opening")
        return
    case = case_of(opening, context)
    arrangement = case.arrangement
    if arrangement.kind is None:
        gaps = arrangement.open_because
        raise gaps[0] if gaps else Undecided("arrangement", opening.at("arrangement"), stated=False)
    claimed = opening.arrangement
    if arrangement.kind == NONE_PERMITTED:
        holders = tuple(Related(item.place.key, f"{item.name} holds the leaf") for item in case.holding[:3])
        text = f"{arrangement.why}: no permitted arrangement is met"
        yield failed(text + _shortest(case), arrangement.place.key, related=holders, basis=_basis(case))
    elif arrangement.kind in ("interlock", "detention"):
        text = f"{WORDS[arrangement.kind]}: no list of a model code covers it; the authority decides"
        yield to_authority(text, arrangement.place.key)
    elif isinstance(claimed, str) and claimed != arrangement.kind and {claimed, arrangement.kind} != FREE:
        text = f"claimed as {WORDS[claimed]}, wired as {WORDS[arrangement.kind]}: {arrangement.why}"
        related = (Related(arrangement.place.key, "what the wiring shows"),)
        yield failed(text, opening.at("arrangement"), related=related)
    else:
        yield ok(f"{WORDS[arrangement.kind]}: {arrangement.why}", arrangement.place.key)


def _basis(case: Case) -> tuple[Cited, ...]:
    """The clauses of the adopted codes; where none is adopted the rule's own ground stands."""
    return clauses(case.project, "unlatching")[0]


def _shortest(case: Case) -> str:
    rows = [case.context.matrix(case.opening).row(event) for event in EVENTS]
    trapped = [row for row in rows if row.egress is Way("impossible")]
    if not trapped:
        return ""
    row = min(trapped, key=lambda row: len(row.because))
    return "; " + chain(row, "egress impossible")
