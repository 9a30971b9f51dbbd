"""The list of delayed egress: every item of it, for a lock that lets people out only after a delay."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import (
    Change,
    Cited,
    Kind,
    Level,
    Measure,
    Repair,
    Step,
    Term,
    Verdict,
    failed,
    not_applicable,
    ok,
    to_authority,
)
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Undecided, known
from doorlint.spec.model import Egress, Opening

from ..egress.lists import (
    BY_HAND,
    CAUTION,
    Case,
    Requirement,
    building_of,
    case_of,
    count,
    elsewhere,
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
    why="A delay where none is permitted, or one that fire, loss of power and staff do not end, holds people in.",
    cure="Complete the list; where the occupancy does not permit a delay, an alarm on free egress does the same work.",
    limits="The words of the sign are not in the spec: compare them with the adopted text. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    if follows(case) != "delayed_egress":
        yield not_applicable(elsewhere(case))
        return
    yield from judged(REQUIREMENTS, case, "delayed_egress")


def _egress(case: Case) -> Egress:
    return known(case.opening, "egress", Egress)


def _occupancy(case: Case) -> Verdict:
    return permission(case, "delayed_egress/permission", "delayed egress", _excepted)


def _excepted(case: Case) -> bool | None:
    """Whether the classroom or courtroom exception of the building code holds."""
    occupancy, group = occupancy_of(case), group_of(case)
    if group.startswith("E"):
        most = codes.lookup(case.project, "building", "delayed_egress/classroom_load")
        return (
            known(occupancy, "use", str) == "classroom"
            and most.admits(known(occupancy, "load", int)) is codes.Answer.YES
        )
    if group.startswith("A"):
        if group not in ("A", "A-3") or known(occupancy, "use", str) != "courtroom":  # courtrooms are of group A-3
            return False
        sprinkled = known(building_of(case), "sprinkler", str) == "throughout"
        return sprinkled and not known(case.opening, "main_entrance", bool)
    return None


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
    cure = Repair("arm it by hand", (Change(egress.at("rearm"), "manual"),), life_safety=True)
    return failed("it arms itself again", egress.at("rearm"), repairs=(cure,))


def _together(case: Case) -> Verdict:
    egress = _egress(case)
    if known(egress, "locks_in_path", int) < 2:
        return ok("one delay on the way out", egress.at("locks_in_path"))
    group = group_of(case)
    limit = codes.lookup(case.project, "building", "delayed_egress/combined_delay", group=group)
    delays = known(egress, "total_delay", Quantity)
    at = egress.at("total_delay")
    step = Step("delays together", "as stated", Measure(delays.value, "time"), (Term("total_delay", delays.text, at),))
    return limit.verdict("delays on the way out together", delays, at, working=(step,))


def _sounder(case: Case) -> Verdict:
    sounders = [item for item in case.of_kind("sounder") if item.side in ("secured", "boundary")]
    if sounders:
        return ok(f"{sounders[0].name} sounds at the door", sounders[0].at("product"))
    device = next(iter(case.of_kind("delayed_egress_device")), None)
    if device is None:
        case.insist_on_devices()
        for sounder in case.of_kind("sounder"):
            known(sounder, "side", str)
        return failed("nothing sounds at the door while the delay runs", case.opening.place.key)
    if listed(case, "delayed_egress/listing", (device,)).kind is Kind.PASS:
        return ok(f"the sounder is part of {device.name}, which is listed", device.at("product"))
    raise Undecided("a sounder at the door", case.opening.place.key, stated=False)


def _scheduled(case: Case) -> Verdict:
    for item in case.holding:
        if item.unlock_schedule is not None:
            text = f"{item.name} is unlocked by schedule: a sign that stays lit then says what is not so"
            return to_authority(text, item.at("unlock_schedule"))
    return ok("no schedule contradicts the sign", case.opening.place.key)


def _opening(value: str, what: str, field: str) -> Requirement:
    name = f"delayed_egress/{value}"
    return Requirement(what, name, lambda case: figure(case, name, what, case.opening, field))


def _figure(value: str, what: str) -> Requirement:
    name = f"delayed_egress/{value}"
    return Requirement(what, name, lambda case: figure(case, name, what, _egress(case), value))


REQUIREMENTS = (
    Requirement("occupancy", "", _occupancy),
    Requirement("sprinklers or detection", "delayed_egress/protection", protection),
    Requirement("hazard of contents", "", _hazard),
    _figure("delay", "delay"),
    _figure("initiation", "initiation time"),
    _figure("force", "force"),
    Requirement("adjustment", "", _adjustable),
    Requirement("fire alarm", "delayed_egress/fire_release", lambda case: on_fire_alarm(case, free_in)),
    Requirement(
        "loss of lock power",
        "delayed_egress/power_release",
        lambda case: free_in(case, "lock_cable_cut", "standby_exhausted"),
    ),
    Requirement("release from another place", "delayed_egress/remote_release", _remote),
    Requirement("re-arming", "delayed_egress/rearm", _rearm),
    Requirement(
        "delays on the way out",
        "delayed_egress/locks_in_path",
        lambda case: count(
            case, "delayed_egress/locks_in_path", "delays on the way out", _egress(case), "locks_in_path"
        ),
    ),
    Requirement("delays together", "delayed_egress/combined_delay", _together),
    Requirement(
        "sign",
        "delayed_egress/sign",
        lambda case: stated(case.opening, "sign", "the sign is fitted", "the sign is not fitted"),
    ),
    _opening("sign_letters", "letters of the sign", "sign_letters"),
    _opening("sign_stroke", "strokes of the letters", "sign_stroke"),
    _opening("sign_distance", "distance of the sign", "sign_distance"),
    Requirement(
        "emergency lighting",
        "delayed_egress/emergency_lighting",
        lambda case: stated(
            case.opening, "emergency_lighting", "the egress side is lit in an emergency", "the egress side is not lit"
        ),
    ),
    Requirement("sounder", "delayed_egress/local_alarm", _sounder),
    Requirement("schedule", "", _scheduled),
    Requirement(
        "listing",
        "delayed_egress/listing",
        lambda case: listed(case, "delayed_egress/listing", system(case, "delayed_egress_device")),
    ),
)
