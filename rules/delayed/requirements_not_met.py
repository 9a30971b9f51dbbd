"""The list of delayed egress: every item of it, for a lock that lets people out only after a delay."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Cited, Level, Measure, Related, Step, Term, Verdict, at_most, failed, not_applicable, ok, to_authority
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Item, Undecided, known
from doorlint.spec.model import Egress, Opening

from ..egress.lists import (
    BY_HAND,
    CAUTION,
    Case,
    Requirement,
    case_of,
    figure,
    follows,
    free_in,
    group_of,
    in_series,
    judged,
    listed,
    occupancy_of,
    on_fire_alarm,
    permission,
    protection,
    stated,
    system,
)

TWICE = ("I-2", "I-3")
LONGEST_TOGETHER = Quantity.of("30 s") if hasattr(Quantity, "of") else None

RULE = Rule(
    "delayed/requirements-not-met",
    title="The list of delayed egress is not complete",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited("International Building Code", "2015 to 2024", "delayed egress", "clause by edition"),
        Cited("NFPA 101", "2012 to 2024", "7.2.1.6.1", "delayed egress locking systems"),
    ),
    evidence=("delay", "initiation time", "force", "sign", "limit"),
    why="A delay where it is not permitted, or one that fire, loss of power and staff do not end at once, holds people in.",
    cure="Complete the list; where the occupancy does not permit a delay, an alarm on free egress does the same work.",
    limits="The words of the sign are not in the spec: compare them with the adopted text. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    if follows(case) != "delayed_egress":
        yield not_applicable(f"the opening follows another arrangement: {case.arrangement.why}")
        return
    yield from judged(REQUIREMENTS, case, "delayed_egress")


def _egress(case: Case) -> Egress:
    return known(case.opening, "egress", Egress)


def _occupancy(case: Case) -> Verdict:
    verdict = permission(case, "delayed_egress/occupancy", "delayed egress")
    return verdict


def _hazard(case: Case) -> Verdict:
    if "life_safety" not in case.project.codes:
        return ok("no adopted code asks for it here", case.opening.place.key)
    occupancy = occupancy_of(case)
    hazard = known(occupancy, "hazard", str)
    at = occupancy.at("hazard")
    if hazard == "high":
        return failed("the contents are of high hazard", at)
    return ok(f"the contents are of {hazard} hazard", at)


def _adjustable(case: Case) -> Verdict:
    egress = _egress(case)
    at = egress.at("delay_adjustable")
    if known(egress, "delay_adjustable", bool):
        return to_authority("the delay can be changed in the field, which local texts bar: show how it is locked", at)
    return ok("the delay cannot be changed in the field", at)


def _remote(case: Case) -> Verdict:
    for item in case.holding:
        uses = in_series(case, item, BY_HAND, "remote")
        if not uses:
            remote = [other for other in case.of_kind(*BY_HAND) if other.side == "remote"]
            at = remote[0].place.key if remote else item.at("released_by")
            return failed(f"no switch at another place breaks the feed of {item.name}", at)
    return ok("a switch at another place ends the delay", case.opening.place.key)


def _rearm(case: Case) -> Verdict:
    egress = _egress(case)
    if known(egress, "rearm", str) == "manual":
        return ok("armed again by hand", egress.at("rearm"))
    return failed("it arms itself again", egress.at("rearm"))


def _one_in_path(case: Case) -> Verdict:
    egress = _egress(case)
    count, at = known(egress, "locks_in_path", int), egress.at("locks_in_path")
    if count <= 1:
        return ok("one delay on the way out", at)
    group = group_of(case)
    if group not in TWICE or count > 2:
        return failed(f"{count} delays on the way out, one is permitted in group {group}", at)
    together = known(egress, "total_delay", Quantity)
    place = egress.at("total_delay")
    limit = Measure(30 * together.value / together.value if together.value else together.value, "time")
    step = Step("delays together", "as stated", Measure(together.value, "time"), (Term("total_delay", together.text, place),))
    return at_most(
        "two delays together", Measure(together.value, "time"), limit, place, limit_name="exception of up to", working=(step,)
    )


def _sign(case: Case) -> Verdict:
    return stated(case.opening, "sign", "the sign is fitted", "the sign is not fitted")


def _sounder(case: Case) -> Verdict:
    sounders = [item for item in case.of_kind("sounder") if item.side in ("secured", "boundary")]
    if sounders:
        return ok(f"{sounders[0].name} sounds at the door", sounders[0].at("product"))
    device = next((item for item in case.of_kind("delayed_egress_device")), None)
    if device is None:
        return failed("nothing sounds at the door while the delay runs", case.opening.place.key)
    if listed((device,)).passed if hasattr(Verdict, "passed") else listed((device,)).kind == "pass":
        return ok(f"the sounder is part of {device.name}, which is listed", device.at("product"))
    raise Undecided("a sounder at the door", case.opening.place.key, stated=False)


def _scheduled(case: Case) -> Verdict:
    for item in case.holding:
        if item.unlock_schedule is not None:
            text = f"{item.name} is unlocked by schedule: a sign that stays lit then says what is not so"
            return to_authority(text, item.at("unlock_schedule"))
    return ok("no schedule contradicts the sign", case.opening.place.key)


def _main(case: Case) -> Item:
    items = case.holding or case.of_kind("delayed_egress_device")
    if not items:
        raise Undecided("what holds the opening", case.opening.place.key, stated=False)
    return items[0]


REQUIREMENTS = (
    Requirement("occupancy", _occupancy),
    Requirement("sprinklers or detection", protection),
    Requirement("hazard of contents", _hazard),
    Requirement("delay", lambda case: figure(case, "delayed_egress/delay", "delay", _egress(case), "delay")),
    Requirement(
        "initiation", lambda case: figure(case, "delayed_egress/initiation", "initiation time", _egress(case), "initiation")
    ),
    Requirement("force", lambda case: figure(case, "delayed_egress/force", "force", _egress(case), "force")),
    Requirement("adjustment", _adjustable),
    Requirement("fire alarm", lambda case: on_fire_alarm(case, free_in)),
    Requirement("loss of lock power", lambda case: free_in(case, "lock_cable_cut", "standby_exhausted")),
    Requirement("release from another place", _remote),
    Requirement("re-arming", _rearm),
    Requirement("delays on the way out", _one_in_path),
    Requirement("sign", _sign),
    Requirement(
        "sign, letters", lambda case: figure(case, "delayed_egress/sign_letters", "letters", case.opening, "sign_letters")
    ),
    Requirement(
        "sign, strokes", lambda case: figure(case, "delayed_egress/sign_stroke", "strokes", case.opening, "sign_stroke")
    ),
    Requirement(
        "sign, distance",
        lambda case: figure(case, "delayed_egress/sign_distance", "distance of the sign", case.opening, "sign_distance"),
    ),
    Requirement(
        "emergency lighting",
        lambda case: stated(
            case.opening, "emergency_lighting", "the egress side is lit in an emergency", "the egress side is not lit"
        ),
    ),
    Requirement("sounder", _sounder),
    Requirement("schedule", _scheduled),
    Requirement("listing", lambda case: listed(system(case, "delayed_egress_device"))),
)
