"""What is reported in each event and how the lock comes back, worked by hand for doors of this folder (common practice,
no source): whoever reports has to live and to be heard; what a command released is no alarm."""

from __future__ import annotations

import pytest
from worked import ORDER, changed, letters, opened

from doorlint.events import Event, Row

LOST = "panel does not answer"
BOND = "lock: bond released without a command"

ALARMS = {
    "storefront_magnet": {
        "E3": (LOST,),
        "E4": (LOST,),  # its controller hangs on a PoE port
        "E5": ("mains failure at supply",),  # the controller lives by its UPS
        "E6": (LOST, "mains failure at supply", "low battery at supply"),  # a dead controller tells of no bond
        "E7a": (LOST,),
        "E7b": (LOST,),
        "E7c": (BOND,),
        "E9": (BOND,),
        "E10": ("tamper at reader",),
        "E11": (BOND,),
        "E12": ("position: door held open",),
    },
    # The strike draws on the splitter behind the switch and the UPS; the relay module is no controller that is polled.
    "server_room": {
        "E3": ("rc does not answer",),
        "E4": ("rc does not answer",),
        "E5": ("mains failure at ups",),
        "E6": ("rc does not answer", "mains failure at ups", "low battery at ups"),
        "E7a": ("rc does not answer",),
        "E7b": ("rc does not answer",),
        "E7c": ("lock: latch released without a command",),
        "E9": ("line fault at lock",),  # fail-secure: it stays locked
        "E10": ("rc does not answer", "tamper at rc"),  # the cylinder outside has no tamper contact
        "E12": ("position: door held open",),
    },
}


@pytest.mark.parametrize("name", ALARMS)
def test_every_event_is_reported_by_what_can_report_it(name: str) -> None:
    opening, context = opened(changed(name))
    matrix = context.matrix(opening)
    found = {short: matrix.row(event).alarms for short, event in ORDER.items()}
    assert {short: alarms for short, alarms in found.items() if alarms} == ALARMS[name]


def row(name: str, event: Event, *changes: tuple[str, str], sound: bool = True) -> Row:
    """One row of a worked opening after some changes."""
    opening, context = opened(changed(name, *changes), sound=sound)
    return context.matrix(opening).row(event)


def test_a_supervised_line_of_a_release_device_tells_that_its_power_is_lost() -> None:
    supervised = ("energised_at_rest: true}\n      button", "energised_at_rest: true, supervised: true}\n      button")
    found = row("storefront_magnet", Event.SENSOR_POWER_LOST, supervised)
    assert found.alarms == ("line fault at sensor", BOND)


def test_a_latch_monitor_that_reports_to_nobody_named_is_heard_while_a_controller_lives() -> None:
    monitor = [
        ("  closer: {kind: closer}", "  closer: {kind: closer}\n  monitor: {kind: latch_monitor}"),
        ("      closer: {product", "      monitor: {product: monitor, side: boundary}\n      closer: {product"),
    ]
    found = row("storefront_magnet", Event.OUTPUT_STUCK, *monitor)
    assert found.alarms == (BOND, "monitor: latch released without a command")
    # with standby used up the magnet lets go, and nobody is left to tell
    assert row("storefront_magnet", Event.STANDBY_EXHAUSTED, *monitor).alarms[-1] == "low battery at supply"


def test_a_dead_controller_tells_of_no_lock_that_has_let_go() -> None:
    safe = [("lock: {product: strike,", "lock: {product: safe_strike,"), ("module.relay.no", "module.relay.nc")]
    found = row("server_room", Event.POE_PORT_LOST, *safe)
    assert found.lock == "unlocked"
    assert found.alarms == ("rc does not answer",)


@pytest.mark.parametrize("event", [Event.CONTROLLER_DEAD, Event.CONTROLLER_HUNG])
def test_a_lock_that_lets_go_with_its_controller_is_not_reported_by_it(event: Event) -> None:
    at_rest = [("switched_by: panel.lock.nc", "switched_by: panel.lock.no"), ("on_hang: holds", "on_hang: rest")]
    found = row("storefront_magnet", event, *at_rest)
    assert (found.lock, found.alarms, found.relock) == ("unlocked", (LOST,), "when the controller works again")


def test_a_device_without_a_product_reports_nothing() -> None:
    odd = "      odd: {product: unknown, side: unsecured}\n"
    text = changed("storefront_magnet", ("      closer: {product", f"{odd}      closer: {{product"))
    opening, context = opened(text, sound=False)
    matrix = context.matrix(opening)
    assert matrix.row(Event.OUTSIDE_DEVICE_TORN_OFF).alarms == ("tamper at reader",)
    assert matrix.row(Event.DOOR_POSITION_FAULT).alarms == ("position: door held open",)


RELOCK = {
    "storefront_magnet": {
        "E1": "5 s after the grant",
        "E2": "30 s after the last use",
        "E6": "when power is back",
        "E7c": "after repair",
        "E8": "after manual reset of the fire alarm",
        "E9": "after repair",
        "E11": "when power is back",
    },
    "memory_care": {
        "E1": "10 s after the grant",
        "E6": "when power is back",
        "E7c": "after repair",
        "E8": "after manual reset of the fire alarm, armed again by hand",
        "E9": "after repair",
    },
}


@pytest.mark.parametrize("name", RELOCK)
def test_the_lock_comes_back_by_what_took_it_away(name: str) -> None:
    opening, context = opened(changed(name))
    matrix = context.matrix(opening)
    found = {short: matrix.row(event).relock for short, event in ORDER.items()}
    assert {short: text for short, text in found.items() if text} == RELOCK[name]


def test_a_lock_opened_at_the_device_outside_comes_back_by_repair() -> None:
    relay_outside = (
        "fed_from: splitter.out, released_by: fire.relay.no, switched_by: module.relay.no",
        "fed_from: rc.lock",
    )
    assert row("server_room", Event.OUTSIDE_DEVICE_TORN_OFF, relay_outside).relock == "after repair"


def test_a_controller_that_unlocks_offline_locks_again_when_it_is_back() -> None:
    offline = ("offline: local_list", "offline: unlocked")
    assert row("storefront_magnet", Event.NETWORK_LOST, offline).relock == "when the controller works again"


@pytest.mark.parametrize(
    ("first", "second", "text"),
    [
        ("automatic", "automatic", "by itself when the alarm falls silent, armed again by hand"),
        ("automatic", "manual", "after manual reset of the fire alarm, armed again by hand"),
        ("automatic", "unknown", "after reset of the fire alarm; the spec does not say how, armed again by hand"),
        ("unknown", "unknown", "after reset of the fire alarm; the spec does not say how, armed again by hand"),
    ],
)
def test_every_fire_alarm_contact_in_the_feed_has_to_be_reset(first: str, second: str, text: str) -> None:
    resets = [
        (
            "      fire: {product: fire, side: remote, energised_at_rest: true, reset: manual}",
            f"      fire: {{product: fire, side: remote, energised_at_rest: true, reset: {first}}}",
        ),
        (
            "waterflow: {product: fire, side: remote, energised_at_rest: true, reset: manual}",
            f"waterflow: {{product: fire, side: remote, energised_at_rest: true, reset: {second}}}",
        ),
    ]
    assert row("memory_care", Event.FIRE_ALARM, *resets).relock == text


def test_what_is_not_known_of_the_egress_side_says_nothing_of_arming() -> None:
    unknown = ("egress: {side: from, by: credential, locks_in_path: 1, rearm: manual}", "egress: unknown")
    assert row("memory_care", Event.FIRE_ALARM, unknown).relock == "after manual reset of the fire alarm"


def test_arming_by_itself_is_told() -> None:
    arms = ("rearm: manual}", "rearm: automatic}")
    assert row("memory_care", Event.FIRE_ALARM, arms).relock.endswith(", arms itself")


def test_the_time_of_a_generator_until_it_takes_over_is_told() -> None:
    found = row("memory_care", Event.MAINS_LOST)
    assert found.because[-1].startswith("power is gone for 10 s until generator has taken over")
    assert found.alarms == ("mains failure at generator", "mains failure at supply")
    assert letters(found) == "L N S n y"
