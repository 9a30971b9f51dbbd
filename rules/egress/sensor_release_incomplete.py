"""The list of the sensor release: every item of it, for a lock that a sensor on the egress side releases."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import Cited, Level, Related, Verdict, failed, not_applicable, ok, to_authority
from doorlint.rulebook import Rule
from doorlint.spec import Item, Undecided, known
from doorlint.spec.model import Opening

from .lists import (
    BY_HAND,
    CAUTION,
    SENSORS,
    Case,
    Requirement,
    approved,
    breaks_directly,
    case_of,
    elsewhere,
    figure,
    follows,
    judged,
    listed,
    on_fire_alarm,
    permission,
    stated,
    system,
    unlocked_in,
)
from .panic import has_panic_hardware, wants_panic_hardware

RULE = Rule(
    "egress/sensor-release-incomplete",
    title="The list of the sensor release is not complete",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited(
            "International Building Code",
            "2015 to 2024",
            "sensor release of electrically locked egress doors",
            "clause by edition",
        ),
        Cited("NFPA 101", "2012 to 2024", "7.2.1.6.2", "sensor release of electrical locking systems"),
    ),
    evidence=("distance", "height", "hold time", "limit"),
    why="One item short of the list the door is refused at inspection, and traps people on the day of that item.",
    cure="Complete the list, or use hardware that gives free egress without electricity.",
    limits="Whether the sensor sees everybody who approaches is judged on site. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    if follows(case) != "sensor_release":
        yield not_applicable(elsewhere(case))
        return
    yield from judged(REQUIREMENTS, case, "sensor_release")


def _sensor(case: Case) -> Verdict:
    sensors = case.of_kind(*SENSORS)
    if not sensors:
        case.insist_on_devices()
        return failed("no sensor stands on the egress side", case.opening.place.key)
    for sensor in sensors:
        if known(sensor, "side", str) == "secured":
            return ok(f"{sensor.name} stands on the egress side", sensor.at("side"))
    case.insist_on_devices()
    return failed(f"{sensors[0].name} does not stand on the egress side", sensors[0].at("side"))


def _button(case: Case) -> Item:
    listed = case.of_kind(*BY_HAND)
    buttons = [item for item in listed if item.side in ("secured", None)]
    if not buttons:
        case.insist_on_devices()
        for item in listed:
            known(item, "side", str)
        raise Undecided("an exit button or emergency release on the egress side", case.opening.place.key, stated=False)
    return buttons[0]


def _hand_release(case: Case) -> Verdict:
    if not case.of_kind(*BY_HAND):
        case.insist_on_devices()
        return failed("no release by hand stands at the opening", case.opening.place.key)
    return breaks_directly(case, BY_HAND, "a release by hand on the egress side", "secured")


def _timer(case: Case) -> Verdict:
    button = _button(case)
    timer = known(button, "timer", str)
    if timer != "electronic":
        return ok(f"the hold time of {button.name} needs no electronics ({timer})", button.at("timer"))
    for contact in button.sheet.contacts.values() if button.sheet is not None else ():
        if known(contact, "rest", str) == "closed":
            text = f"the electronic timer of {button.name} keeps the lock fed when it is dead"
            return failed(text, button.at("timer"), related=(Related(contact.at("rest"), "closed at rest"),))
    return ok(f"the electronic timer of {button.name} releases the lock when it is dead", button.at("timer"))


def _with_panic_hardware(case: Case) -> Verdict:
    at = case.opening.at("occupancy")
    if not wants_panic_hardware(case) and not has_panic_hardware(case):
        return ok("panic hardware is not required here", at)
    setting = codes.governing(case.project, "sensor_release/with_panic_hardware")
    if isinstance(setting, codes.Conflict):
        return setting.verdict(at)
    if setting.permits is codes.Answer.NO:
        text = f"a sensor may not release a door that needs panic hardware ({setting.layer})"
        return failed(text, at, related=(setting.related,), basis=(setting.basis,))
    text = f"the door needs panic hardware; {setting.layer} does not say that a sensor may release it"
    return approved(case, to_authority(text, at, related=(setting.related,), basis=(setting.basis,)))


REQUIREMENTS = (
    Requirement("occupancy", "", lambda case: permission(case, "sensor_release/permission", "sensor release")),
    Requirement("sensor on the egress side", "sensor_release/sensor_side", _sensor),
    Requirement("sensor in the feed of the lock", "", lambda case: breaks_directly(case, SENSORS, "a sensor")),
    Requirement(
        "loss of sensor power", "sensor_release/power_release", lambda case: unlocked_in(case, "sensor_power_lost")
    ),
    Requirement(
        "loss of lock power",
        "sensor_release/power_release",
        lambda case: unlocked_in(case, "lock_cable_cut", "standby_exhausted"),
    ),
    Requirement("release by hand, direct", "sensor_release/direct_interruption", _hand_release),
    Requirement(
        "release by hand, distance",
        "sensor_release/button_distance",
        lambda case: figure(
            case, "sensor_release/button_distance", "distance of the release", _button(case), "distance"
        ),
    ),
    Requirement(
        "release by hand, height",
        "sensor_release/button_height",
        lambda case: figure(
            case, "sensor_release/button_height", "height of the release", _button(case), "mount_height"
        ),
    ),
    Requirement(
        "release by hand, sign",
        "sensor_release/button_marked",
        lambda case: stated(_button(case), "marked", "the release is marked", "the release is not marked"),
    ),
    Requirement(
        "release by hand, hold time",
        "sensor_release/hold_time",
        lambda case: figure(case, "sensor_release/hold_time", "hold time of the release", _button(case), "hold_time"),
    ),
    Requirement("release by hand, timer", "sensor_release/direct_interruption", _timer),
    Requirement("fire alarm", "sensor_release/fire_release", on_fire_alarm),
    Requirement(
        "emergency lighting",
        "sensor_release/emergency_lighting",
        lambda case: stated(
            case.opening, "emergency_lighting", "the egress side is lit in an emergency", "the egress side is not lit"
        ),
    ),
    Requirement(
        "listing",
        "sensor_release/listing",
        lambda case: listed(case, "sensor_release/listing", system(case, *SENSORS)),
    ),
    Requirement("panic hardware", "", _with_panic_hardware),
)
