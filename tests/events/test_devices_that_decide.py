"""Who decides and what follows from a device's kind: contacts of sources and relays, bolts, keypads, pairs of leaves
(common practice, no source), each worked by hand on a door of this folder."""

from __future__ import annotations

import pytest
from worked import changed, letters, opened, table

from doorlint.events import Event, Row
from doorlint.events.matrix import _worse_out
from doorlint.events.states import Egress

BASE = "storefront_magnet"
FEED = "released_by: [fire.relay.no, button.press.nc, sensor.relay.no]"
CLOSER = "      closer: {product: closer"
SWITCH = "  switch: {kind: poe_switch"


def row(name: str, event: Event, *changes: tuple[str, str]) -> Row:
    """One row of a worked opening after some changes."""
    opening, context = opened(changed(name, *changes))
    return context.matrix(opening).row(event)


# -- contacts of power sources and relays ------------------------------------------------------------


def test_the_contact_of_a_fire_alarm_panel_releases_in_a_fire_and_that_of_a_supply_does_not() -> None:
    panel = "  alarm: {kind: fire_alarm_panel, supply: dc, voltage: 24 V, contacts: {relay: {form: spdt}}}\n"
    by_panel = [(SWITCH, panel + SWITCH), (FEED, "released_by: alarm.relay.no")]
    assert letters(row(BASE, Event.NORMAL, *by_panel)).startswith("L")
    assert letters(row(BASE, Event.FIRE_ALARM, *by_panel)).startswith("U")
    supply = panel.replace("fire_alarm_panel", "power_supply")
    by_supply = [(SWITCH, supply + SWITCH), (FEED, "released_by: alarm.relay.no")]
    assert letters(row(BASE, Event.FIRE_ALARM, *by_supply)).startswith("L")


@pytest.mark.parametrize(
    ("energised", "terminal", "lock"),
    [("true", "no", "L"), ("true", "nc", "U"), ("false", "no", "U"), ("false", "nc", "L")],
)
def test_a_relay_whose_feed_is_not_listed_stands_as_it_is_said_to_rest(
    energised: str, terminal: str, lock: str
) -> None:
    relay = [
        ("  closer: {kind: closer}", "  closer: {kind: closer}\n  aux: {kind: relay, contacts: {c: {form: spdt}}}"),
        (CLOSER, f"      aux: {{product: aux, side: secured, energised_at_rest: {energised}}}\n{CLOSER}"),
        (FEED, f"released_by: aux.c.{terminal}"),
    ]
    assert letters(row(BASE, Event.NORMAL, *relay))[0] == lock


# -- who decides -------------------------------------------------------------------------------------

RELAY_OUTSIDE = (
    "fed_from: splitter.out, released_by: fire.relay.no, switched_by: module.relay.no",
    "fed_from: rc.lock",
)


def test_a_keypad_that_switches_the_lock_with_its_own_output_decides() -> None:
    keypad = ("    kind: reader_controller\n", "    kind: keypad\n")
    opening, context = opened(changed("server_room", keypad, RELAY_OUTSIDE))
    found = table(context.matrix(opening))
    assert (found["E0"], found["E1"], found["E7a"], found["E10"]) == (
        "L T F n y",
        "U N F t y",
        "L T F n k",
        "U N F y y",
    )
    assert context.matrix(opening).row(Event.NETWORK_LOST).alarms == ("rc does not answer",)


def test_an_intercom_among_the_releases_is_no_controller() -> None:
    intercom = [
        (
            "  closer: {kind: closer}",
            "  closer: {kind: closer}\n  intercom: {kind: intercom, contacts: {c: {form: spdt}}}",
        ),
        (CLOSER, f"      intercom: {{product: intercom, side: unsecured, fed_from: supply}}\n{CLOSER}"),
        ("button.press.nc, ", "button.press.nc, intercom.c.nc, "),
    ]
    opening, context = opened(changed(BASE, *intercom), sound=False)
    assert context.matrix(opening).row(Event.NETWORK_LOST).alarms == ("panel does not answer",)
    switched = ("switched_by: panel.lock.nc", "switched_by: [panel.lock.nc, intercom.c.nc]")
    opening, context = opened(changed(BASE, *intercom[:2], switched), sound=False)
    assert context.matrix(opening).row(Event.NETWORK_LOST).alarms == (
        "panel does not answer",
        "intercom does not answer",
    )


def test_a_reader_in_another_room_lets_nobody_in() -> None:
    remote = ("reader: {product: reader, side: unsecured", "reader: {product: reader, side: remote")
    assert letters(row(BASE, Event.CREDENTIAL, remote)) == "L N F n n"


# -- what a lock is ----------------------------------------------------------------------------------

BOLT = [
    ("kind: electromagnetic_lock, fail: safe,", "kind: electric_bolt, fail: safe, key_override: false,"),
]
NOBODY = [
    (FEED, "released_by: fire.relay.no"),
    ("signals: panel.request_to_exit, energised", "energised"),
    ("timer: pneumatic, signals: panel.request_to_exit}", "timer: pneumatic}"),
]


def test_an_electric_bolt_latches_while_it_is_locked_and_holds_people_in_unless_its_sheet_frees_them() -> None:
    opening, context = opened(changed(BASE, *BOLT))
    found = table(context.matrix(opening))
    assert (found["E0"], found["E4"], found["E6"]) == ("L T F n y", "L T F n n", "U N F y y")
    assert letters(row(BASE, Event.NORMAL, *BOLT, *NOBODY)) == "L T X n y"
    free = ("key_override: false,", "key_override: false, egress_side: free,")
    assert letters(row(BASE, Event.NORMAL, *BOLT, free, *NOBODY)) == "L T F n y"


# -- what is missing ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "name", "pointer"),
    [
        (("fail: safe, latch: true", "latch: true"), "fail", "/products/mortise"),
        (("fail: safe, latch: true", "fail: selectable, latch: true"), "fail", "/openings/stair/items/lock"),
        (
            (", coil: {voltage: 24 V, current: 300 mA}, monitors: [bolt", ", monitors: [bolt"),
            "coil",
            "/products/mortise",
        ),
        (
            ("side: boundary, fed_from: supply", "side: boundary, fed_from: unknown"),
            "fed_from",
            "/openings/stair/items/lock/fed_from",
        ),
    ],
)
def test_what_keeps_a_lock_from_being_known_is_asked_for_where_it_belongs(
    change: tuple[str, str], name: str, pointer: str
) -> None:
    found = row("stair_reentry", Event.NORMAL, change)
    assert found.lock is None
    assert {(gap.name, gap.place.pointer) for gap in found.open_because} == {(name, pointer)}


def test_two_looks_at_one_spec_find_the_same_also_where_it_is_open() -> None:
    text = changed("stair_reentry", ("fail: safe, latch: true", "latch: true"))
    (one, first), (other, second) = opened(text), opened(text)
    assert first.matrix(one) == second.matrix(other)
    assert first.matrix(one).row(Event.NORMAL).open_because
    assert first.singles(one) == second.singles(other)
    assert any(row.open_because for row in first.singles(one))


# -- two leaves --------------------------------------------------------------------------------------

PAIR = """
doorlint: 1
project: {name: Invented}
products:
  lever: {kind: electrified_mortise_lock, fail: safe, latch: true, coil: {voltage: 24 V, current: 300 mA}}
  bar: {kind: exit_device, latch: true}
  magnet: {kind: electromagnetic_lock, fail: safe, coil: {voltage: 24 V, current: 500 mA}}
power: {supply: {kind: power_supply, supply: dc, voltage: 24 V, backup: 4 h}}
openings:
  d:
    unsecured_side: to
    egress: {side: from, by: lever}
    leaf: {count: 2}
    items:
      one: {product: lever, side: boundary, leaf: active, fed_from: supply}
      other: {product: OTHER, side: secured, leaf: inactive FED}
"""


def test_a_leaf_of_which_nothing_is_known_may_be_the_way_out_and_a_free_one_is() -> None:
    opening, context = opened(PAIR.replace("OTHER", "magnet").replace("FED", ", fed_from: supply"))
    normal = context.matrix(opening).row(Event.NORMAL)
    assert normal.egress is None  # the magnet holds its leaf; whether the lever draws inside is not stated
    assert normal.missing[0] == "egress_side"
    opening, context = opened(PAIR.replace("OTHER", "bar").replace("FED", ""))
    assert context.matrix(opening).row(Event.NORMAL).egress == "free"


# -- what is reached outside -------------------------------------------------------------------------


def test_a_link_of_which_no_sheet_says_whether_it_is_proven_leaves_the_door_open() -> None:
    unsaid = [("    authenticated_link: true\n", ""), (", authenticated_link: true}", "}")]
    opening, context = opened(changed("server_room", *unsaid))
    (link,) = [one for one in context.exposed(opening) if one.conductor.what == "link"]
    assert link.unlocks is None and [gap.name for gap in link.open_because] == ["authenticated_link"]
    found = context.matrix(opening).row(Event.OUTSIDE_DEVICE_TORN_OFF)
    assert found.lock is None and found.missing == ("authenticated_link",)


@pytest.mark.parametrize(("protection", "unlocks"), [("none", True), ("ptc", False)])
def test_a_short_outside_passes_an_output_without_protection(protection: str, unlocks: bool) -> None:
    passing = [
        ("inputs: {poe: {poe_class: 4, power: 6 W}}", "inputs: {dc: {voltage: 24 V, current: 200 mA}}"),
        ("reader: {supply: dc, voltage: 12 V, switch: none}", f"reader: {{through: dc, protection: {protection}}}"),
        ("inputs: {dc: {voltage: 12 V, current: 100 mA}}", "inputs: {dc: {voltage: 24 V, current: 100 mA}}"),
        ("side: remote, fed_from: switch", "side: remote, fed_from: supply"),
    ]
    opening, context = opened(changed(BASE, *passing))
    (feed,) = [one for one in context.exposed(opening) if one.conductor.label == "the feed of reader"]
    assert (feed.unlocks, feed.act) == (unlocks, "shorted" if unlocks else "")


@pytest.mark.parametrize(
    ("one", "other", "worse"),
    [
        (Egress.FREE, Egress.DELAYED, Egress.DELAYED),
        (Egress.STAFF, Egress.DELAYED, Egress.STAFF),
        (Egress.FREE, None, None),
        (Egress.IMPOSSIBLE, None, Egress.IMPOSSIBLE),  # whatever the other is
        (None, None, None),
    ],
)
def test_of_two_ways_out_the_worse_counts(one: Egress | None, other: Egress | None, worse: Egress | None) -> None:
    assert _worse_out(one, other) is _worse_out(other, one) is worse
