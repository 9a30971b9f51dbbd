"""The locking arrangement by devices and wiring, delayed egress, and the odd controller settings."""

from __future__ import annotations

import pytest
from worked import changed, letters, opened, table

from doorlint.egress import NO_WAY_OUT, NONE_PERMITTED
from doorlint.events import Event

BASE = "storefront_magnet"
FEED = "released_by: [fire.relay.no, button.press.nc, sensor.relay.no]"
SENSOR_ITEM = (
    "      sensor: {product: sensor, side: secured, fed_from: supply, signals: panel.request_to_exit,"
    " energised_at_rest: true}\n"
)
BUTTON_ITEM = (
    "      button: {product: button, side: secured, marked: true, hold_time: 30 s, timer: pneumatic,"
    " signals: panel.request_to_exit}\n"
)
NO_SENSOR = [(SENSOR_ITEM, ""), (", sensor.relay.no]", "]")]
NO_BUTTON = [(BUTTON_ITEM, ""), ("button.press.nc, ", "")]
NOBODY = [(SENSOR_ITEM, ""), (BUTTON_ITEM, ""), (FEED, "released_by: fire.relay.no")]
BAR = [
    *NOBODY[:2],
    ("  fire: {kind", "  bar: {kind: touch_bar, contacts: {press: {form: nc}}}\n  fire: {kind"),
    ("      fire: {product", "      bar: {product: bar, side: boundary}\n      fire: {product"),
    (FEED, "released_by: [fire.relay.no, bar.press.nc]"),
]
INSIDE_READER = [
    *NOBODY,
    (
        "      fire: {product",
        "      inside: {product: reader, side: secured, fed_from: panel.reader}\n      fire: {product",
    ),
]

ARRANGEMENTS = {
    "sensor and button": ([], "sensor_release"),
    "sensor heard by the controller only": ([(", sensor.relay.no]", "]")], "sensor_release"),
    "touch bar in the feed": (BAR, "hardware_release"),
    "a button alone": (NO_SENSOR, NONE_PERMITTED),
    "a sensor alone": (NO_BUTTON, "sensor_release"),
    "the fire alarm alone": (NOBODY, NONE_PERMITTED),
    "a reader to get out": (INSIDE_READER, NONE_PERMITTED),
    "a reader to get out, place of care": ([*INSIDE_READER, ("group: M", "group: I-1")], "controlled_egress"),
    "nothing, at a lobby of elevators": ([*NOBODY, ("critical: true", "elevator_lobby: true")], "elevator_lobby"),
    "one of two doors": ([("critical: true", "interlocked_with: [inner]")], "interlock"),
    "detention": ([*NOBODY, ("critical: true", "arrangement: detention")], "detention"),
    "no way out": ([*NOBODY, ("egress: {side: from, by: sensor}", "egress: {side: none}")], NO_WAY_OUT),
    "released after a delay": (
        [*BAR, ("egress: {side: from, by: sensor}", "egress: {side: from, by: bar, delay: 15 s, rearm: manual}")],
        "delayed_egress",
    ),
}


@pytest.mark.parametrize("name", ARRANGEMENTS)
def test_the_arrangement_follows_from_devices_and_wiring(name: str) -> None:
    changes, kind = ARRANGEMENTS[name]
    opening, context = opened(changed(BASE, *changes), sound=name != "one of two doors")
    arrangement = context.arrangement(opening)
    assert arrangement.kind == kind
    assert [item.name for item in arrangement.holding] == ["lock"]
    assert "lock" in arrangement.why and arrangement.place == opening.items["lock"].place.key


def test_what_is_not_known_of_the_egress_side_leaves_the_arrangement_open() -> None:
    opening, context = opened(changed("stair_reentry", ("egress_side: free, ", "")))
    arrangement = context.arrangement(opening)
    assert arrangement.kind is None
    assert [gap.name for gap in arrangement.open_because] == ["egress_side"]


UNKNOWN_AND_PERHAPS_ALL_THAT_LACKS = {
    "what the sensor is": ([("sensor: {product: sensor,", "sensor: {product: unknown,")], "product"),
    "what is in the feed": ([*NO_SENSOR, ("[fire.relay.no, button.press.nc]", "unknown")], "released_by"),
    "what feeds the lock": ([*NO_SENSOR, ("side: secured\n        fed_from: supply", "fed_from: unknown")], "fed_from"),
    "whether it is a lobby": ([*NOBODY, ("critical: true", "elevator_lobby: unknown")], "elevator_lobby"),
    "the occupancy": ([*INSIDE_READER, ("{group: M, load: 40}", "{group: unknown}")], "group"),
    "what the way out is": ([*NO_SENSOR, ("{side: from, by: sensor}", "unknown")], "egress"),
}


@pytest.mark.parametrize("name", UNKNOWN_AND_PERHAPS_ALL_THAT_LACKS)
def test_data_given_as_unknown_leave_open_whether_an_arrangement_is_met(name: str) -> None:
    changes, field = UNKNOWN_AND_PERHAPS_ALL_THAT_LACKS[name]
    opening, context = opened(changed(BASE, *changes), sound=False)
    arrangement = context.arrangement(opening)
    assert arrangement.kind is None
    assert field in [gap.name for gap in arrangement.open_because]
    assert [item.name for item in arrangement.holding] == ["lock"]


NONE_BUT_BY_BUTTON = [*NO_SENSOR, ("side: secured, marked", "side: SIDE, marked")]


@pytest.mark.parametrize(("side", "way"), [("secured", "F"), ("unsecured", "X"), ("unknown", "?")])
def test_a_button_on_an_unknown_side_may_let_people_out_or_not(side: str, way: str) -> None:
    opening, context = opened(changed(BASE, *NONE_BUT_BY_BUTTON).replace("SIDE", side))
    row = context.matrix(opening).row(Event.EGRESS_ACTION)
    assert letters(row).split()[2] == way
    assert row.missing == (("side",) if side == "unknown" else ())


@pytest.mark.parametrize(("told", "way"), [("panel.request_to_exit", "F"), ("unknown", "?")])
def test_a_button_may_tell_the_controller_where_it_is_unknown_whom_it_tells(told: str, way: str) -> None:
    heard_only = [*NO_SENSOR, ("button.press.nc]", "]"), ("[fire.relay.no, ]", "fire.relay.no")]
    text = changed(BASE, *heard_only)
    ending = "timer: pneumatic, signals: panel.request_to_exit}"
    assert text.count(ending) == 1
    opening, context = opened(text.replace(ending, f"timer: pneumatic, signals: {told}}}"))
    assert letters(context.matrix(opening).row(Event.EGRESS_ACTION)).split()[2] == way


@pytest.mark.parametrize(("field", "word"), [("side", "unknown"), ("product", "unknown")])
def test_what_may_be_a_reader_inside_may_let_staff_out(field: str, word: str) -> None:
    text = changed(BASE, *INSIDE_READER)
    inside = "inside: {product: reader, side: secured,"
    assert text.count(inside) == 1
    assert letters(opened(text)[1].matrix(opened(text)[0]).row(Event.NORMAL)).split()[2] == "S"
    known = {"product": "reader", "side": "secured", field: word}
    opening, context = opened(text.replace(inside, f"inside: {{product: {known['product']}, side: {known['side']},"))
    row = context.matrix(opening).row(Event.NORMAL)
    assert letters(row).split()[2] == "?"
    assert field in row.missing


def test_a_lock_inside_that_holds_people_in_is_no_free_egress() -> None:
    opening, context = opened(changed("stair_reentry", ("egress_side: free", "egress_side: locked")))
    assert context.arrangement(opening).kind == NONE_PERMITTED
    found = table(context.matrix(opening))
    assert (found["E0"], found["E6"]) == ("L T X n y", "U T F y y")


def test_a_magnet_released_by_its_bar_after_a_delay() -> None:
    delay = ("egress: {side: from, by: sensor}", "egress: {side: from, by: bar, delay: 15 s, rearm: manual}")
    opening, context = opened(changed(BASE, *BAR, delay))
    found = table(context.matrix(opening))
    assert (found["E0"], found["E7b"], found["E8"], found["E6"]) == ("L N D n y", "L N D n n", "U N F y y", "U N F y y")
    assert context.matrix(opening).row(Event.FIRE_ALARM).relock.endswith("armed again by hand")


DELAYED = [
    *NOBODY[:2],
    ("kind: electromagnetic_lock, fail: safe,", "kind: delayed_egress_device, fail: safe, latch: true,"),
    ("egress: {side: from, by: sensor}", "egress: {side: from, by: bar, delay: 15 s, rearm: manual}"),
]


@pytest.mark.parametrize("wired", [True, False])
def test_a_delayed_egress_device_hears_the_fire_alarm_by_its_feed_or_by_a_signal(wired: bool) -> None:
    by_signal = [
        (f"        {FEED}\n", ""),
        ("energised_at_rest: true, reset: manual}", "reset: manual, signals: lock.fire}"),
    ]
    changes = [*DELAYED, (FEED, "released_by: fire.relay.no")] if wired else [*DELAYED, *by_signal]
    opening, context = opened(changed(BASE, *changes))
    assert context.arrangement(opening).kind == "delayed_egress"
    found = table(context.matrix(opening))
    assert (found["E0"], found["E2"]) == ("L T D n y", "L T D n y")
    assert found["E7b"] == "L T D n n"
    assert (found["E8"], found["E6"], found["E9"]) == ("U T F y y", "U T F y y", "U T F y y")


def test_controllers_that_unlock_offline_or_fall_to_rest_when_they_hang() -> None:
    opening, context = opened(changed(BASE, ("offline: local_list", "offline: unlocked")))
    assert letters(context.matrix(opening).row(Event.NETWORK_LOST)) == "U N F y y"
    opening, context = opened(changed(BASE, ("offline: local_list", "offline: locked")))
    assert letters(context.matrix(opening).row(Event.NETWORK_LOST)) == "L N F n n"
    normally_open = ("switched_by: panel.lock.nc", "switched_by: panel.lock.no")
    for word, expected in (("rest", "U N F y y"), ("holds", "L N F n n"), ("unknown", "? N F ? ?")):
        opening, context = opened(changed(BASE, normally_open, ("on_hang: holds", f"on_hang: {word}")))
        row = context.matrix(opening).row(Event.CONTROLLER_HUNG)
        assert letters(row) == expected
        assert row.missing == (("on_hang",) if word == "unknown" else ())


def test_a_fire_signal_to_the_controller_releases_only_while_the_controller_lives() -> None:
    by_software = [("[fire.relay.no, ", "["), ("reset: manual}", "reset: manual, signals: panel.fire}")]
    opening, context = opened(changed(BASE, *by_software))
    assert letters(context.matrix(opening).row(Event.FIRE_ALARM)) == "U N F y y"
    from doorlint.events.moment import Case, cells

    assert cells(context.door(opening), Case(fire=True, hung=True)).lock.value is True


def test_a_device_whose_side_is_not_known_leaves_the_outside_open() -> None:
    text = changed(
        "server_room",
        ("rc: {product: reader_controller, side: unsecured,", "rc: {product: reader_controller, side: unknown,"),
    )
    relay_in_it = (
        "fed_from: splitter.out, released_by: fire.relay.no, switched_by: module.relay.no",
        "fed_from: rc.lock",
    )
    opening, context = opened(text.replace(*relay_in_it))
    row = context.matrix(opening).row(Event.OUTSIDE_DEVICE_TORN_OFF)
    assert row.lock is None and row.missing == ("side",)
    assert [one.unlocks for one in context.exposed(opening) if one.conductor.what == "output"] == [None]


def test_openings_that_list_no_lock() -> None:
    only_closer = """
doorlint: 1
project: {name: Invented}
products: {closer: {kind: closer}}
openings: {d: {egress: {side: both, by: BY}, items: {closer: {product: closer}}}}
"""
    opening, context = opened(only_closer.replace("BY", "free"))
    assert set(table(context.matrix(opening)).values()) == {"U N F y y"}
    opening, context = opened(only_closer.replace("BY", "bar"))
    assert set(table(context.matrix(opening)).values()) == {"U ? F y y"}
    opening, context = opened("doorlint: 1\nproject: {name: Invented}\nopenings: {d: {egress: {side: both}}}\n")
    assert set(table(context.matrix(opening)).values()) == {"? ? ? ? ?"}
    assert context.arrangement(opening).kind is None
