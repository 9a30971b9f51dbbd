"""Worked example openings (common practice, no source): every cell of six doors, and how cells move with one change.

Letters: L locked, U unlocked; T latched, N not latched; F free, D delayed, S staff only, X impossible; in without a
credential n, y, t (for the granted time); in with one y, n, k (mechanical key only); ? open.
"""

from __future__ import annotations

import pytest
from worked import ORDER, changed, letters, opened, table

from doorlint.events import Event

WORKED = {
    "storefront_magnet": """
        E0 L N F n y; E1 U N F t y; E2 U N F t y; E3 L N F n y; E4 L N F n n; E5 L N F n y; E6 U N F y y
        E7a L N F n n; E7b L N F n n; E7c U N F y y; E8 U N F y y; E9 U N F y y; E10 L N F n n; E11 U N F y y
        E12 L N F n y; E13 L N F n n; E14 L N F n y""",
    "stair_reentry": """
        E0 L T F n y; E1 U T F t y; E2 L T F n y; E3 L T F n y; E4 L T F n n; E5 L T F n y; E6 U T F y y
        E7a L T F n n; E7b L T F n n; E7c U T F y y; E8 U T F y y; E9 U T F y y; E10 L T F n n; E11 L T F n y
        E12 L T F n y; E13 L T F n n; E14 L T F n y""",
    # A mechanical key opens in lockdown too: a command does not reach a cylinder. So E13 ends in k, here and below.
    "server_room": """
        E0 L T F n y; E1 U N F t y; E2 L T F n y; E3 L T F n y; E4 L T F n k; E5 L T F n y; E6 L T F n k
        E7a L T F n k; E7b L T F n k; E7c U N F y y; E8 L T F n k; E9 L T F n k; E10 L T F n k; E11 L T F n y
        E12 L T F n y; E13 L T F n k; E14 L T F n y""",
    # While a credential keeps the magnet released, a resident gets out as well: E1 is F.
    "memory_care": """
        E0 L N S n y; E1 U N F t y; E2 L N S n y; E3 L N S n y; E4 L N S n n; E5 L N S n y; E6 U N F y y
        E7a L N S n n; E7b L N S n n; E7c U N F y y; E8 U N F y y; E9 U N F y y; E10 L N S n n; E11 L N S n y
        E12 L N S n y; E13 L N S n n; E14 L N S n y""",
    "storefront_pair": """
        E0 L T F n y; E1 U N F t y; E2 L T F n y; E3 L T F n y; E4 L T F n k; E5 L T F n y; E6 L T F n k
        E7a L T F n k; E7b L T F n k; E7c U N F y y; E8 L T F n y; E9 L T F n k; E10 L T F n k; E11 L T F n y
        E12 L T F n y; E13 L T F n k; E14 L T F n y""",
    "electrical_room": """
        E0 L T F n y; E1 U T F t y; E2 L T F n y; E3 L T F n y; E4 L T F n k; E5 L T F n y; E6 L T F n k
        E7a L T F n k; E7b L T F n k; E7c U T F y y; E8 L T F n y; E9 L T F n k; E10 L T F n k; E11 L T F n y
        E12 L T F n y; E13 L T F n k; E14 L T F n y""",
}

ARRANGEMENTS = {
    "storefront_magnet": "sensor_release",
    "stair_reentry": "stair_reentry",
    "server_room": "free_egress",
    "memory_care": "controlled_egress",
    "storefront_pair": "free_egress",
    "electrical_room": "free_egress",
}


def rows(text: str) -> dict[str, str]:
    """`E0 L N F n y; ...` as a mapping."""
    parts = (part.strip() for line in text.splitlines() for part in line.split(";"))
    return {part.split()[0]: " ".join(part.split()[1:]) for part in parts if part}


@pytest.mark.parametrize("name", WORKED)
def test_every_cell_of_a_worked_opening_is_computed(name: str) -> None:
    opening, context = opened(changed(name))
    expected = rows(WORKED[name])
    assert list(expected) == list(ORDER)
    assert table(context.matrix(opening)) == expected
    assert all(not row.missing for row in context.matrix(opening).rows)
    assert context.arrangement(opening).kind == ARRANGEMENTS[name]


@pytest.mark.parametrize("name", WORKED)
def test_each_row_says_why_and_how_the_lock_comes_back(name: str) -> None:
    opening, context = opened(changed(name))
    for row in context.matrix(opening).rows:
        assert row.because
        assert bool(row.relock) == (row.lock == "unlocked")
        assert row.place == opening.place


FEED = """        fed_from: supply
        released_by: [fire.relay.no, button.press.nc, sensor.relay.no]
"""

MUTATIONS = {
    "storefront: the button reaches the controller only": (
        "storefront_magnet",
        [(", button.press.nc,", ",")],
        "E7a L N F n n; E7b L N F n n; E2 U N F t y",  # the sensor still releases; the pair below traps
    ),
    "storefront: the sensor's relay is normally open and its supply has no standby": (
        "storefront_magnet",
        [
            ("sensor.relay.no]", "sensor.relay.nc]"),
            ("fed_from: supply, signals: panel.request_to_exit, energised_at_rest: true", "fed_from: bare_supply"),
        ],
        "E0 L N F n y; E5 L N F n y; E11 L N F n y",  # E11 ought to be U: it stays locked, free by the button alone
    ),
    "storefront: the controller sits in the reader outside, the relay with it": (
        "storefront_magnet",
        [
            ("panel: {product: panel, side: remote", "panel: {product: panel, side: unsecured"),
        ],
        "E0 L N F n y; E10 U N F y y",
    ),
    "storefront: the fire alarm is not in the feed": (
        "storefront_magnet",
        [("[fire.relay.no, ", "[")],
        "E8 L N F n y; E6 U N F y y",
    ),
    "stair: a fail-safe strike instead": (
        "stair_reentry",
        [
            ("lock: {product: mortise,", "latch: {product: stair_lock, side: boundary}\n      lock: {product: strike,"),
            (", through_transfer: transfer,", ","),
        ],
        "E0 L T F n y; E6 U N F y y; E8 U N F y y; E9 U N F y y",
    ),
    "stair: a fail-secure lock instead": (
        "stair_reentry",
        [
            ("kind: electrified_mortise_lock, fail: safe", "kind: electrified_mortise_lock, fail: secure"),
            ("panel.lock.nc", "panel.lock.no"),
        ],
        "E0 L T F n y; E6 L T F n n; E8 L T F n n; E9 L T F n n",
    ),
    "stair: a magnet is added without release in the hardware": (
        "stair_reentry",
        [
            (
                "      transfer: {product: transfer,",
                "      magnet: {product: magnet, side: secured, fed_from: supply, released_by: command.relay.no,"
                " switched_by: panel.lock.nc}\n      transfer: {product: transfer,",
            )
        ],
        "E0 L T X n y; E6 U T F y y; E8 U T F y y; E7b L T X n n",
    ),
    "server room: the lock relay in the reader, its pair in the reader's cable": (
        "server_room",
        [("fed_from: splitter.out, released_by: fire.relay.no, switched_by: module.relay.no", "fed_from: rc.lock")],
        "E0 L T F n y; E10 U N F y y; E8 L T F n y",
    ),
    "server room: a fail-safe strike": (
        "server_room",
        [("lock: {product: strike,", "lock: {product: safe_strike,"), ("module.relay.no", "module.relay.nc")],
        "E0 L T F n y; E4 U N F y y; E6 U N F y y; E9 U N F y y",
    ),
    "server room: no cylinder, no key": (
        "server_room",
        [("      cylinder: {product: cylinder, side: unsecured}\n", ""), ("key_override: true", "key_override: false")],
        "E0 L T F n y; E4 L T F n n; E6 L T F n n; E13 L T F n n",
    ),
    "server room: passage function": (
        "server_room",
        [("function: storeroom", "function: passage")],
        "E0 L T F y y; E4 L T F y y; E8 L T F y y",
    ),
    "server room: nothing takes the strike's feed away in a fire": (
        "server_room",
        [("released_by: fire.relay.no, ", "")],
        "E8 L T F n y",
    ),
    "server room: the strike draws on a class 3 port through the same splitter (cells do not move)": (
        "server_room",
        [("poe_class: 4, power: 6 W", "poe_class: 3, power: 6 W")],
        "E0 L T F n y; E10 L T F n k",
    ),
    "server room: the link to the relay module proves nothing": (
        "server_room",
        [("authenticated_link: true", "authenticated_link: false")],
        "E0 L T F n y; E10 U N F y y",
    ),
    "memory care: both key switches reach software only": (
        "memory_care",
        [(", nurse_key.turn.nc, door_key.turn.nc]", "]")],
        "E0 L N S n y; E4 L N X n n; E7a L N X n n; E7b L N X n n",
    ),
    "memory care: staff credentials need the network": (
        "memory_care",
        [("offline: local_list", "offline: locked"), (", nurse_key.turn.nc, door_key.turn.nc]", "]")],
        "E3 L N S n n",  # the key switches still ask the controller, which is alive
    ),
    "memory care: staff credentials need the network and there are no key switches": (
        "memory_care",
        [
            ("offline: local_list", "offline: locked"),
            (", nurse_key.turn.nc, door_key.turn.nc]", "]"),
            ("      door_key: {product: key, side: secured, signals: panel.key}\n", ""),
            ("      nurse_key: {product: key, side: remote, signals: panel.key}\n", ""),
        ],
        "E0 L N S n y; E3 L N X n n",
    ),
    "storefront pair: retraction fed through the fire alarm": (
        "storefront_pair",
        [
            ("  sensor: {kind", "  fire: {kind: fire_alarm_relay, contacts: {relay: {form: spdt}}}\n  sensor: {kind"),
            (
                "      sensor: {product",
                "      fire: {product: fire, side: remote, energised_at_rest: true}\n      sensor: {product",
            ),
            ("switched_by: panel.lock.no,", "released_by: fire.relay.no, switched_by: panel.lock.no,"),
        ],
        "E0 L T F n y; E1 U N F t y; E8 L T F n k",
    ),
    "electrical room: a deadbolt is added": (
        "electrical_room",
        [("      cylinder: {", "      deadbolt: {product: bolt, side: boundary}\n      cylinder: {")],
        "E0 L T ? n k",  # whether the deadbolt draws with the bar is not stated; outside it needs its key
    ),
}


@pytest.mark.parametrize("name", MUTATIONS)
def test_one_change_moves_the_cells_that_hang_on_it(name: str) -> None:
    base, changes, expected = MUTATIONS[name]
    opening, context = opened(changed(base, *changes))
    found = table(context.matrix(opening))
    assert {short: found[short] for short in rows(expected)} == rows(expected)


def test_the_outside_relay_is_found_by_its_output_and_the_secured_module_cures_it() -> None:
    relay_outside = (
        "fed_from: splitter.out, released_by: fire.relay.no, switched_by: module.relay.no",
        "fed_from: rc.lock",
    )
    opening, context = opened(changed("server_room", relay_outside))
    unlocking = [one for one in context.exposed(opening) if one.unlocks]
    assert [one.conductor.what for one in unlocking] == ["output"]
    assert unlocking[0].conductor.item.identity == "server/rc"
    assert [lock.name for lock in unlocking[0].locks] == ["lock"]
    assert unlocking[0].because[0] == "rc is on the unsecured side"
    opening, context = opened(changed("server_room"))
    assert not any(one.unlocks is not False for one in context.exposed(opening))
    reached = {one.conductor.label: one.conductor.reached.value for one in context.exposed(opening)}
    assert reached == {
        "the feed of rc": True,
        "the feed of splitter": False,
        "the feed of module": False,
        "the link from rc to module": False,
        "the feed of lock": False,
        "the contact fire.relay in the feed of lock": False,
        "the contact module.relay in the feed of lock": False,
        "splitter.out, which feeds lock": False,
        "the power source switch": False,
    }


def test_conductors_in_the_readers_cable_are_reached() -> None:
    shared = ("product: strike, side: boundary,", "product: strike, side: boundary, shares_cable_with: rc,")
    opening, context = opened(changed("server_room", shared))
    (found,) = [one for one in context.exposed(opening) if one.unlocks]
    assert found.conductor.label == "the feed of lock" and found.act == "given current"
    assert letters(context.matrix(opening).row(Event.OUTSIDE_DEVICE_TORN_OFF)) == "U N F y y"
    rex = (
        "signals: panel.request_to_exit, energised_at_rest",
        "signals: panel.request_to_exit, shares_cable_with: reader, energised_at_rest",
    )
    opening, context = opened(changed("storefront_magnet", rex))
    assert {one.conductor.what for one in context.exposed(opening) if one.unlocks} == {"signal", "contact", "supply"}


def test_a_short_outside_takes_down_what_hangs_on_the_same_output() -> None:
    shared = [
        ("fed_from: panel.reader, signals: panel.reader}", "fed_from: supply}"),
        ("inputs: {dc: {voltage: 12 V, current: 100 mA}}", "inputs: {dc: {voltage: 24 V, current: 100 mA}}"),
    ]
    opening, context = opened(changed("storefront_magnet", *shared))
    (found,) = [one for one in context.exposed(opening) if one.unlocks]
    assert (found.conductor.label, found.act) == ("the feed of reader", "shorted")
    assert "supply is shorted" in found.because


def test_a_power_source_within_reach_opens_a_fail_safe_lock() -> None:
    opening, context = opened(
        changed("storefront_magnet", ("backup: 4 h, location: secured", "backup: 4 h, location: unsecured"))
    )
    (found,) = [one for one in context.exposed(opening) if one.unlocks]
    assert found.conductor.what == "mains"


def test_pairs_of_faults_find_the_trap_that_no_single_fault_shows() -> None:
    button_by_controller = (", button.press.nc,", ",")
    opening, context = opened(changed("storefront_magnet", button_by_controller))
    assert {row.egress for row in context.singles(opening)} == {"free"}
    trapped = [row for row in context.pairs(opening) if row.egress == "impossible"]
    names = {tuple(fault.item or fault.event for fault in row.faults) for row in trapped}
    assert (Event.CONTROLLER_HUNG, "sensor") in names
    assert all(row.because for row in trapped)
    opening, context = opened(changed("storefront_magnet"))
    trapped = [row for row in context.pairs(opening) if row.egress == "impossible"]
    assert [tuple(fault.item for fault in row.faults) for row in trapped] == [("sensor", "button")]
    opening, context = opened(changed("storefront_magnet", ("critical: true", "critical: false")))
    assert context.pairs(opening) == ()


UNKNOWNS = [
    ("stair_reentry", ("egress_side: free, ", ""), {"egress_side"}, {"egress"}),
    ("stair_reentry", ("electrified_mortise_lock, fail: safe,", "electrified_mortise_lock,"), {"fail"}, {"lock"}),
    ("server_room", ("function: storeroom, ", "function: unknown, "), {"function"}, {"ingress_without"}),
    ("server_room", ("energised_at_rest: true, ", ""), {"energised_at_rest"}, set()),
    ("storefront_magnet", ("on_hang: holds", "on_hang: unknown"), set(), set()),
    (
        "server_room",
        ("{form: spdt, rest: open}}, on_hang: holds", "{form: spdt, rest: open}}, on_hang: unknown"),
        set(),
        set(),
    ),
]


@pytest.mark.parametrize(("name", "change", "names", "columns"), UNKNOWNS)
def test_missing_data_open_only_the_cells_that_hang_on_them(
    name: str, change: tuple[str, str], names: set[str], columns: set[str]
) -> None:
    opening, context = opened(changed(name, change))
    matrix = context.matrix(opening)
    assert {missing for row in matrix.rows for missing in row.missing} == names
    for row in matrix.rows:
        cells = {
            column: getattr(row, column) for column in ("lock", "latch", "egress", "ingress_without", "ingress_with")
        }
        assert bool(row.missing) == (None in cells.values())
    normal = matrix.row(Event.NORMAL)
    for column in columns:
        assert getattr(normal, column) is None
    if name == "server_room" and names == {"energised_at_rest"}:
        # a fire alarm may close a contact to release the strike or open one to secure it
        assert matrix.row(Event.FIRE_ALARM).lock is None and normal.lock == "locked"


def test_standby_that_is_not_stated_leaves_mains_loss_open() -> None:
    bare = ("fed_from: mains, supply: dc, voltage: 24 V, backup: 4 h, location", "supply: dc, voltage: 24 V, location")
    opening, context = opened(changed("storefront_magnet", bare))
    row = context.matrix(opening).row(Event.MAINS_LOST)
    assert row.lock is None and row.missing == ("backup",) and row.egress == "free"
    assert context.matrix(opening).row(Event.STANDBY_EXHAUSTED).lock == "unlocked"
