"""What must hold for every door and event, over generated openings (common practice, no source).

The letters (a) to (j) order the assertions: egress, latch in a fire, the outside device, the network, lockdown, reset,
fail mode, contact form, alarms, sensor release.
"""

from __future__ import annotations

import copy
import json

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from strategies import Drawn, sound_openings, tangled_openings
from worked import opened, table

from doorlint.context import Context
from doorlint.events import EVENTS, Egress, Event, Ingress, Latch, Lock
from doorlint.events.circuit import Case
from doorlint.events.moment import cells
from doorlint.spec.model import Opening

MODEST = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])

COLUMNS = ("lock", "latch", "egress", "ingress_without", "ingress_with")


def door(drawn: Drawn) -> tuple[Opening, Context]:
    return opened(drawn.text)


@given(sound_openings())
@MODEST
def test_everything_about_a_sound_opening_is_known(drawn: Drawn) -> None:
    opening, context = door(drawn)
    for row in context.matrix(opening).rows:
        assert None not in [getattr(row, column) for column in COLUMNS], (row, row.missing)
    expected = {"sensor": "sensor_release", "bar": "hardware_release", "staff": "none permitted"}
    kind = "delayed_egress" if drawn.lock == "delayed" else expected.get(drawn.release, "free_egress")
    assert context.arrangement(opening).kind == kind


@given(sound_openings())
@MODEST
def test_a_nobody_is_trapped_in_any_event(drawn: Drawn) -> None:
    opening, context = door(drawn)
    for row in context.matrix(opening).rows:
        assert row.egress is not Egress.IMPOSSIBLE, row
        if drawn.release != "staff" and drawn.lock != "delayed":
            assert row.egress is Egress.FREE, row


@given(sound_openings())
@MODEST
def test_b_a_rated_door_latches_in_a_fire_whatever_else_goes_on(drawn: Drawn) -> None:
    opening, context = door(drawn)
    if not drawn.rated:
        return
    assert context.matrix(opening).row(Event.FIRE_ALARM).latch is Latch.LATCHED
    for case in (Case(fire=True, grant=True), Case(fire=True, stuck=True), Case(fire=True, network_lost=True)):
        assert cells(context.door(opening), case).latch.value is True


@given(sound_openings())
@MODEST
def test_c_nothing_done_outside_opens_a_secured_door(drawn: Drawn) -> None:
    opening, context = door(drawn)
    assert context.matrix(opening).row(Event.OUTSIDE_DEVICE_TORN_OFF).ingress_without is Ingress.NO
    assert all(one.unlocks is False for one in context.exposed(opening))


@given(sound_openings())
@MODEST
def test_d_losing_the_network_unlocks_nothing(drawn: Drawn) -> None:
    opening, context = door(drawn)
    matrix = context.matrix(opening)
    assert matrix.row(Event.NORMAL).lock is Lock.LOCKED
    assert matrix.row(Event.NETWORK_LOST).lock is Lock.LOCKED


@given(sound_openings())
@MODEST
def test_e_lockdown_makes_no_way_out_worse(drawn: Drawn) -> None:
    opening, context = door(drawn)
    matrix = context.matrix(opening)
    before, after = matrix.row(Event.NORMAL), matrix.row(Event.LOCKDOWN)
    assert before.egress is not None and after.egress is not None
    assert after.egress.rank <= before.egress.rank
    assert after.ingress_with in (Ingress.NO, Ingress.KEY)


@given(sound_openings())
@MODEST
def test_f_the_lock_comes_back_only_after_reset_by_hand(drawn: Drawn) -> None:
    opening, context = door(drawn)
    matrix = context.matrix(opening)
    fire, reset = matrix.row(Event.FIRE_ALARM), matrix.row(Event.ALARM_RESET)
    assert reset.lock is Lock.LOCKED
    if fire.lock is Lock.UNLOCKED:
        assert "manual reset" in fire.relock
        assert ("by hand" in fire.relock) == (drawn.lock == "delayed")
    else:
        assert fire.relock == ""


@given(sound_openings())
@MODEST
def test_g_a_cut_cable_shows_the_fail_mode(drawn: Drawn) -> None:
    opening, context = door(drawn)
    for event in (Event.LOCK_CABLE_CUT, Event.STANDBY_EXHAUSTED):
        expected = Lock.UNLOCKED if drawn.fail == "safe" else Lock.LOCKED
        assert context.matrix(opening).row(event).lock is expected


@given(sound_openings())
@MODEST
def test_h_a_dead_controller_shows_the_form_of_its_contact(drawn: Drawn) -> None:
    opening, context = door(drawn)
    passes = drawn.terminal == "nc"  # an output at rest gives nothing, and a relay behind it drops out
    locked = passes if drawn.fail == "safe" else not passes
    expected = Lock.LOCKED if locked else Lock.UNLOCKED
    assert context.matrix(opening).row(Event.CONTROLLER_DEAD).lock is expected


@given(sound_openings())
@MODEST
def test_i_an_unlocked_door_is_reported(drawn: Drawn) -> None:
    opening, context = door(drawn)
    for event in (Event.STANDBY_EXHAUSTED, Event.LOCK_CABLE_CUT, Event.OUTSIDE_DEVICE_TORN_OFF, Event.OUTPUT_STUCK):
        row = context.matrix(opening).row(event)
        assert row.alarms or row.lock is Lock.LOCKED, row


@given(sound_openings())
@MODEST
def test_j_a_sensor_without_power_releases(drawn: Drawn) -> None:
    opening, context = door(drawn)
    row = context.matrix(opening).row(Event.SENSOR_POWER_LOST)
    assert row.lock is (Lock.UNLOCKED if drawn.release == "sensor" else Lock.LOCKED)


FORGETTABLE = (
    ("lock", "fail"),
    ("lock", "egress_side"),
    ("lock", "latch"),
    ("lock", "key_override"),
    ("mechanical", "function"),
    ("mechanical", "latch"),
    ("panel", "offline"),
    ("panel", "on_hang"),
    ("station", "offline"),
    ("module", "authenticated_link"),
    ("module", "on_hang"),
    ("lock", "kind"),
)


@given(sound_openings(), st.sampled_from(FORGETTABLE))
@settings(max_examples=90, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_forgetting_a_fact_opens_cells_and_turns_none_round(drawn: Drawn, fact: tuple[str, str]) -> None:
    product, field = fact
    if field not in drawn.spec["products"].get(product, {}):
        return
    before = table(door(drawn)[1].matrix(door(drawn)[0]))
    spec = copy.deepcopy(drawn.spec)
    spec["products"][product][field] = "unknown"
    opening, context = opened(json.dumps(spec), sound=False)
    for short, row in table(context.matrix(opening)).items():
        for known, now in zip(before[short].split(), row.split(), strict=True):
            assert now in (known, "?"), (short, fact)


@given(sound_openings())
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_pairs_hold_what_single_faults_show(drawn: Drawn) -> None:
    """A pair with a fault that changes nothing equals the other fault; only critical openings have pairs."""
    opening, context = door(drawn)
    pairs, singles = context.pairs(opening), context.singles(opening)
    assert bool(pairs) == drawn.spec["openings"]["d"]["critical"]
    assert len(pairs) in (0, len(singles) * (len(singles) - 1) // 2)
    for row in pairs:
        if Event.STANDBY_EXHAUSTED in [fault.event for fault in row.faults] and drawn.fail == "safe":
            stuck = Event.OUTSIDE_DEVICE_TORN_OFF in [fault.event for fault in row.faults]
            assert row.lock is Lock.UNLOCKED or stuck


@given(tangled_openings())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_contradictory_wiring_breaks_nothing(text: str) -> None:
    opening, context = opened(text, sound=False)
    matrix = context.matrix(opening)
    assert [row.event for row in matrix.rows] == list(EVENTS)
    for row in matrix.rows:
        assert bool(row.missing) == (None in [getattr(row, column) for column in COLUMNS])
    context.arrangement(opening)
    assert context.pairs(opening)
    context.exposed(opening)


@pytest.mark.parametrize(
    ("wiring", "missing"),
    [
        ('"fed_from": "lock"', "fed_from"),  # fed by itself
        ('"fed_from": "supply", "switched_by": "ghost.relay.nc"', "switched_by"),  # a relay that is not there
    ],
)
def test_a_lock_in_contradictory_wiring_is_open_and_told(wiring: str, missing: str) -> None:
    text = (
        '{"doorlint": 1, "project": {"name": "Invented"}, "products": {"magnet": {"kind": "electromagnetic_lock", '
        '"coil": {"voltage": "24 V", "current": "500 mA"}}}, "power": {"supply": {"kind": "power_supply", '
        '"supply": "dc", "voltage": "24 V", "backup": "4 h"}}, "openings": {"d": {"items": {"lock": '
        '{"product": "magnet", ' + wiring + "}}}}}"
    )
    opening, context = opened(text, sound=False)
    assert context.wiring.findings
    row = context.matrix(opening).row(Event.NORMAL)
    assert row.lock is None and missing in row.missing
    assert all(gap.place for gap in row.open_because)
