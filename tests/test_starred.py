"""The faults that an expert looks for first, each seeded alone into the clean example: it gives its own findings and,
beyond those that are declared as following from it, nothing.

The clean example is that of `test_examples`; some faults are among the mistakes that stand there. A fault whose
device the example does not have brings it along in order first (`ground`), which by itself gives nothing. The table
of faults against findings is printed at the end of the run.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache

import pytest
from test_examples import CLEAN, MISTAKES, failures, reviewed, rulebook, texts

import doorlint
from doorlint import Kind, Result
from doorlint.spec.files import Overlay


@dataclass(frozen=True)
class Edit:
    """The first `right` after `after` in `file` becomes `wrong`."""

    file: str
    after: str
    right: str
    wrong: str


@dataclass(frozen=True)
class Fault:
    """A fault, named by what is wrong.

    found: its own findings, `rule subject`, a failure; `open: rule subject` for one that must stay open.
    follows: rules whose findings follow from it directly, for the same doors and sources, each of which appears.
    """

    name: str
    found: tuple[str, ...]
    edits: tuple[Edit, ...]
    follows: tuple[str, ...] = ()
    ground: tuple[Edit, ...] = ()


OPERATIONS = "openings/operations.yaml"
LANDSIDE = "openings/landside.yaml"
QUAYSIDE = "openings/quayside.yaml"
LOCKS = "products/locks.yaml"
CONTROLLERS = "products/controllers.yaml"
DEVICES = "products/door-devices.yaml"
MECHANICAL = "products/mechanical.yaml"


def of_example(rule: str, subject: str) -> tuple[Edit, ...]:
    """The edit of a mistake that stands in the example."""
    mistake = next(one for one in MISTAKES if (one.rule, one.subject) == (rule, subject))
    return (Edit(mistake.file, mistake.after, mistake.right, mistake.wrong),)


SENSOR = "      exit_sensor: {fed_from: psu-24.2, length: 40 m}"

NO_PART = "        suppression: none"

SAFE_STRIKE = """\
  strike-12-safe:
    kind: electric_strike
    furnished_by: hardware supplier
    holding_force: 1500 lbf
    suits: [cylindrical, mortise]
    title: Electric strike, 12 V
    monitors: [latch]
    fail: safe
    mechanism: solenoid
    coil:
      supply: dc
      voltage: 12 V +-15 %
      current: 450 mA
      peak: 600 mA
      peak_duration: 100 ms
      resistance: 26.7 ohm
      inductance: 80 mH
      pull_in_voltage: 7.8 V
      drop_out_current: 45 mA
      release_fraction: 40 %
      temperature_rise: 30 K
      duty: continuous
      polarity: free
      rectifier: false
      built_in_suppression: none
    conductors: 2
    ip: IP54
    temperature: -20..50 degC
    listings: [UL 1034, UL 10C]
    fire_rating: 90 min
"""
PASSAGE_LOCK = """\
  mortise-passage:
    kind: mechanical_lock
    furnished_by: hardware supplier
    lock_type: mortise
    title: Mortise lock
    function: passage
    latch: true
    key_override: true
    listings: [UL 10C]
    fire_rating: 3 h
"""
DELAYED_DOOR = (
    Edit("project.yaml", "project:", "fire_alarm_relays: 5", "fire_alarm_relays: 6"),
    Edit(
        LOCKS,
        "products:",
        "  hold-open-24:",
        """\
  delayed-24:
    kind: delayed_egress_device
    furnished_by: hardware supplier
    label: panic
    latch: true
    title: Exit device with delayed egress, 24 V
    monitors: [latch, request_to_exit]
    fail: safe
    mechanism: magnet
    coil:
      supply: dc
      voltage: 24 V +-15 %
      current: 350 mA
      peak: 350 mA
      peak_duration: 1 ms
      resistance: 68.6 ohm
      inductance: 180 mH
      pull_in_voltage: 15.6 V
      drop_out_current: 35 mA
      release_fraction: 30 %
      temperature_rise: 30 K
      duty: continuous
      polarity: free
      rectifier: false
      built_in_suppression: mov
    conductors: 6
    ip: IP40
    temperature: 0..49 degC
    listings: [UL 294, UL 305]
    fire_rating: none
  key-switch:
    kind: key_switch
    furnished_by: integrator
    title: Key switch for staff, opens the feed of the lock itself
    contacts:
      turn:
        form: nc
        switch: relay
        current: 3 A
        inductive_current: 1 A
        peak: 5 A
        peak_duration: 100 ms
        highest_voltage: 30 V
        smallest_current: 1 mA
        resistance: 50 mohm
        category: DC-13
        rest: closed
        built_in_suppression: none
    conductors: 2
    ip: IP40
    ik: IK08
    temperature: 0..49 degC
    listings: [UL 294]
  hold-open-24:""",
    ),
    Edit(
        LANDSIDE,
        "openings:",
        "  L07:",
        """\
  L08:
    title: Side exit of the left luggage hall, delayed
    from: left luggage hall
    to: side yard
    unsecured_side: to
    exposure: {unsecured: sheltered, secured: interior}
    fire_rating: none
    stair: false
    security: low
    emergency_lighting: true
    sign: true
    sign_letters: 1 in
    sign_stroke: 1/8 in
    sign_distance: 12 in
    occupancy: {group: B, load: 12, hazard: ordinary}
    egress:
      side: from
      by: bar
      delay: 15 s
      initiation: 3 s
      force: 15 lbf
      rearm: manual
      delay_adjustable: false
      locks_in_path: 1
    leaf: {count: 1, width: 36 in, height: 7 ft, thickness: 1 3/4 in, material: hollow_metal, swing: out, hand: right}
    items:
      panel: {product: panel-24, side: remote, exposure: interior, fed_from: psu-24.14, cable: 18/2, length: 4 m}
      bar:
        product: delayed-24
        side: secured
        leaf: single
        fed_from: psu-24.14
        cable: 14/2
        length: 30 m
        through_transfer: transfer
        switched_by: panel.lock.nc
        released_by: [fire_alarm.relay.no, key.turn.nc]
        unlock_time: 10 s
        release_group: fire
        signals: panel.request_to_exit
        suppression: none
      transfer: {product: transfer-10, side: boundary, leaf: single}
      key: {product: key-switch, side: remote, exposure: interior}
      fire_alarm: {product: fire-relay, side: remote, exposure: interior, energised_at_rest: true, reset: manual}
      door_contact: {product: contact-door, side: boundary, leaf: single, signals: panel.door_position}
      cylinder: {product: cylinder, side: unsecured, leaf: single}
      closer: {product: closer, side: secured, leaf: single}
  L07:""",
    ),
)
"""A door with delayed egress that is in order, on the free channel of the 24 V supply."""

OPERATOR = (
    Edit(
        MECHANICAL,
        "products:",
        "  cylinder:",
        """\
  operator:
    kind: swing_operator
    furnished_by: hardware supplier
    title: Swing operator
    fire_rating: none
  cylinder:""",
    ),
    Edit(LOCKS, "  latch-retraction-24:", "    mechanism: motor", "    mechanism: motor\n    response_time: 700 ms"),
    Edit(
        LANDSIDE,
        "  L01:",
        "      reader: {length: 9 m}",
        "      reader: {length: 9 m}\n"
        "      operator: {product: operator, side: secured, leaf: active, start_delay: 1 s}",
    ),
)
"""An operator at the ticket hall entrance that waits for the latches."""

FAULTS = (
    Fault(
        "too little voltage at the end of a long run",
        ("supply/voltage-below-minimum O05/lock",),
        (Edit(OPERATIONS, "  O05:", "length: 24 m", "length: 260 m"),),
        ("cable/drop-over-target O05/lock", "supply/voltage-sags-at-peak O05/lock"),
    ),
    Fault(
        "enough voltage on mains, too little at the end of the battery",
        ("supply/voltage-below-minimum L06/lock",),
        (Edit(LANDSIDE, "  L06:", "        length: 33 m", "        length: 150 m\n        cable: 18/2"),),
        ("supply/voltage-sags-at-peak L06/lock",),
    ),
    Fault(
        "locks that fire together peak above what the supply gives",
        ("power/peak-over-supply psu-24e",),
        (
            Edit("power.yaml", "  psu-24e:", "current: 6 A", "current: 1.6 A"),
            Edit("power.yaml", "  psu-24e:", "peak: 8 A", "peak: 1.7 A"),
        ),
        ("release/leaves-peak-together L01",),
    ),
    Fault(
        "a lock shares the conductor of electronics",
        ("cable/return-lifted-by-lock O01/relay_module",),
        (
            Edit(OPERATIONS, "relay_module:", "length: 1 m", "length: 1 m, shares_return_with: lock"),
            Edit(OPERATIONS, "        fed_from: splitter.out", "length: 5 m", "length: 30 m"),
        ),
    ),
    Fault(
        "a coil for short pulses is held on all day",
        ("supply/intermittent-coil-held L05/lock",),
        (
            Edit(LANDSIDE, "  L05:", "        length: 28 m", "        length: 28 m\n        unlock_schedule: 8 h"),
            Edit(LANDSIDE, "  L05:", "    unsecured_side: to", "    unsecured_side: to\n    first_person_in: true"),
        ),
    ),
    Fault(
        "the door draws more over PoE than its port gives",
        ("poe/draw-above-available-power O03/rc",),
        (Edit(CONTROLLERS, "  rc-office:", "power: 5 W", "power: 20 W"),),
    ),
    Fault(
        "the lock's peak is more than the PoE port gives",
        ("poe/peak-above-port-limit O01/splitter",),
        (
            Edit(CONTROLLERS, "  splitter-12:", "power: 0.8 W", "power: 17 W"),
            Edit(CONTROLLERS, "  splitter-12:", "hold_up: 10 ms", "hold_up: 1 ms"),
        ),
    ),
    Fault(
        "the switch has promised more power than it has",
        ("poe/budget-exceeded sw-1",),
        (Edit("power.yaml", "  sw-1:", "budget: 370 W", "budget: 200 W"),),
    ),
    Fault(
        "the PoE switch is not backed up as the locks are",
        ("poe/standby-below-requirement sw-1",),
        (Edit("power.yaml", "  sw-1:", "fed_from: ups-1", "fed_from: mains"),),
    ),
    Fault(
        "the fire alarm releases a PoE lock by software only",
        ("poe/fire-release-through-software Q04/lock",),
        (
            Edit(QUAYSIDE, "product: magnet-24-marine", "fed_from: psu-24.11", "fed_from: splitter.out"),
            Edit(
                QUAYSIDE,
                "product: magnet-24-marine",
                "length: 72 m",
                "length: 9 m\n        released_by: [exit_sensor.relay.no, exit_button.press.nc]",
            ),
        ),
        (
            "egress/fire-alarm-does-not-release Q04",
            "egress/sensor-release-incomplete Q04",
            "release/fail-safe-held-by-poe-alone Q04/lock",
            "consistency/fire-alarm-relays-differ project",
        ),
    ),
    Fault(
        "the contact is rated for less than the lock draws",
        ("contact/current-over-rating O02/relay_module.relay",),
        of_example("contact/current-over-rating", "O02/relay_module.relay"),
    ),
    Fault(
        "the fail-secure lock is on the normally closed contact",
        ("contact/form-against-fail-mode O06/lock",),
        (Edit(OPERATIONS, "  O06:", "switched_by: rc.relay.no", "switched_by: rc.relay.nc"),),
    ),
    Fault(
        "the contact of the fire alarm is too weak for the locks on it",
        tuple(f"contact/current-over-rating {door}/fire_alarm.relay" for door in ("L02", "L03", "L07", "O01", "Q04")),
        (Edit(CONTROLLERS, "  fire-relay:", "inductive_current: 1 A", "inductive_current: 100 mA"),),
    ),
    Fault(
        "nothing takes the energy of the coil",
        ("suppression/missing O01/lock",),
        of_example("suppression/missing", "O01/lock"),
    ),
    Fault(
        "a diode lies across a magnet",
        ("suppression/freewheel-across-magnet Q04/lock",),
        (
            Edit(QUAYSIDE, "product: magnet-24-marine", "suppression: tvs-bi-33", "suppression: diode-1a"),
            Edit(LOCKS, "  magnet-24-marine:", "      inductance: 1.2 H\n", ""),
        ),
    ),
    Fault(
        "the power transfer has too few conductors",
        ("cable/transfer-too-few-conductors O07/transfer",),
        (Edit(LOCKS, "  mortise-12-safe:", "conductors: 5", "conductors: 12"),),
    ),
    Fault(
        "the battery is too small",
        ("battery/capacity-too-small psu-12",),
        (Edit("power.yaml", "  psu-12:", "capacity: 40 Ah", "capacity: 12 Ah"),),
    ),
    Fault(
        "the lock fails the wrong way for its door",
        ("failure/fail-mode-against-function L02/lock",),
        (Edit(LANDSIDE, "  L02:", NO_PART, NO_PART + "\n        fail: secure"),),
        (
            "contact/form-against-fail-mode L02/lock",
            "release/fail-mode-not-of-product L02/lock",
            "egress/fire-alarm-does-not-release L02",
            "egress/impossible-in-an-event L02",
            "egress/sensor-release-incomplete L02",
            "failure/no-way-in-without-power L02",
        ),
    ),
    Fault(
        "nobody has said what the controller does when the network is lost",
        ("open: failure/event-not-covered O07",),
        (Edit(CONTROLLERS, "  rc-keypad:", "    offline: local_list\n", ""),),
        ("open: failure/network-loss-unlocks O07",),
    ),
    Fault(
        "one device torn off outside opens the door",
        ("failure/outside-device-opens O07",),
        (Edit(OPERATIONS, "  O07:", "security: low", "security: medium"),),
        ("tamper/lock-switched-outside O07", "failure/fail-safe-without-need O07/lock"),
    ),
    Fault(
        "it takes a credential to get out",
        ("failure/credential-to-leave L02",),
        (
            Edit(
                LANDSIDE,
                "  L02:",
                SENSOR,
                """\
      exit_sensor: {omit: true}
      exit_button: {omit: true}
      reader_inside:
        product: reader-indoor
        side: secured
        fed_from: panel.reader
        cable: 18/4-screened
        screen_earthed: source
        length: 38 m""",
            ),
            Edit(LANDSIDE, "  L02:", NO_PART, NO_PART + "\n        released_by: fire_alarm.relay.no"),
        ),
        (
            "egress/no-permitted-arrangement L02",
            "egress/impossible-in-an-event L02",
            "egress/panic-hardware-absent L02",
            "failure/controller-failure-traps L02",
            "failure/lockdown-stops-egress L02",
            "consistency/way-out-not-listed L02",
        ),
    ),
    Fault(
        "held by a magnet that a button and the fire alarm alone release",
        ("egress/no-permitted-arrangement L02",),
        (
            Edit(LANDSIDE, "  L02:", SENSOR, "      exit_sensor: {omit: true}"),
            Edit(
                LANDSIDE,
                "  L02:",
                NO_PART,
                NO_PART + "\n        released_by: [exit_button.press.nc, fire_alarm.relay.no]",
            ),
        ),
        ("egress/panic-hardware-absent L02", "consistency/way-out-not-listed L02"),
    ),
    Fault(
        "the list of the sensor release is not complete",
        ("egress/sensor-release-incomplete L02",),
        (Edit(LANDSIDE, "  L02:", "      exit_sensor:", "      exit_button: {marked: false}\n      exit_sensor:"),),
    ),
    Fault(
        "the exit button works through the controller",
        ("egress/button-through-controller L02",),
        (
            Edit(
                LANDSIDE,
                "  L02:",
                NO_PART,
                NO_PART + "\n        released_by: [exit_sensor.relay.no, fire_alarm.relay.no]",
            ),
        ),
        ("egress/sensor-release-incomplete L02",),
    ),
    Fault(
        "it takes two motions to get out",
        ("egress/several-releasing-motions L04",),
        (
            Edit(
                LANDSIDE,
                "  L04:",
                "      door_contact:",
                "      second_latch: {product: mortise-storeroom, side: boundary, leaf: single}\n      door_contact:",
            ),
        ),
    ),
    Fault(
        "panic hardware is required and is not there",
        ("egress/panic-hardware-absent L04",),
        (Edit(LANDSIDE, "  L04:", "{group: B, load: 30}", "{group: A-3, load: 80}"),),
    ),
    Fault(
        "a fail-safe strike on a fire door",
        ("fire/strike-fail-safe O01/lock",),
        (
            Edit(LOCKS, "products:", "  strike-24:", SAFE_STRIKE + "  strike-24:"),
            Edit(OPERATIONS, "  O01:", "product: strike-12", "product: strike-12-safe"),
            Edit(OPERATIONS, "  O01:", "relay_module.relay.no", "relay_module.relay.nc"),
        ),
        (
            "fire/unlatched-in-fire-alarm O01",
            "failure/fire-alarm-opens-free-egress-door O01",
            "failure/fail-safe-without-need O01/lock",
            "release/fail-safe-held-by-poe-alone O01/lock",
        ),
    ),
    Fault(
        "the strike of a fire door stays unlatched in a fire alarm",
        ("fire/unlatched-in-fire-alarm O01",),
        (
            Edit(OPERATIONS, "  O01:", "        released_by: fire_alarm.relay.no\n", "        unlock_schedule: 8 h\n"),
            Edit(OPERATIONS, "  O01:", "    unsecured_side: to", "    unsecured_side: to\n    first_person_in: true"),
        ),
        ("consistency/fire-alarm-relays-differ project",),
    ),
    Fault(
        "a fire door is cut on site",
        ("fire/cut-on-site O01",),
        (Edit(OPERATIONS, "  O01:", "preparation: factory", "preparation: job_site"),),
    ),
    Fault(
        "the stair side of the door cannot be unlocked",
        ("stair/stair-side-stays-locked L03",),
        (Edit(LOCKS, "  mortise-24-safe:", "fail: safe", "fail: secure"),),
        ("contact/form-against-fail-mode L03/lock",),
    ),
    Fault(
        "the relay that opens the door is in a device outside",
        ("tamper/lock-switched-outside O03",),
        (Edit(OPERATIONS, "  O03:", "security: low", "security: medium"),),
        ("failure/outside-device-opens O03",),
    ),
    Fault(
        "the exit sensor can be triggered from outside",
        ("tamper/exit-sensor-triggered-outside L02/exit_sensor",),
        (Edit(DEVICES, "  exit-sensor:", "sensing: dual", "sensing: passive_infrared"),),
    ),
    Fault(
        "the strike is not made for the lock",
        ("fit/strike-does-not-suit-latch L06/lock",),
        (Edit(LOCKS, "  strike-24:", "suits: [cylindrical, mortise]", "suits: [rim]"),),
    ),
    Fault(
        "a lever outside that is always free beside an electric strike",
        ("fit/lock-function-past-release L04/latch",),
        (
            Edit(MECHANICAL, "products:", "  cylinder:", PASSAGE_LOCK + "  cylinder:"),
            Edit(LANDSIDE, "  L04:", "product: mortise-storeroom", "product: mortise-passage"),
        ),
        ("failure/event-not-covered L04",),
    ),
    Fault(
        "title and data sheet contradict each other",
        ("consistency/fail-mode-against-text L04",),
        (Edit(LANDSIDE, "  L04:", "under the canopy", "under the canopy, fail-safe strike"),),
    ),
    Fault(
        "nobody furnishes a device",
        ("consistency/nobody-furnishes-device Q02/lock",),
        (Edit(LOCKS, "  motor-lock-24:", "    furnished_by: hardware supplier\n", ""),),
    ),
    Fault(
        "a length that nobody knows must not pass",
        ("open: supply/voltage-below-minimum Q01/lock",),
        (Edit(QUAYSIDE, "  Q01:", "length: 65 m", "length: unknown"),),
        (
            "open: supply/voltage-sags-at-peak Q01/lock",
            "open: supply/hot-coil-below-pull-in Q01/lock",
            "open: cable/drop-over-target Q01/lock",
        ),
    ),
    Fault(
        "delayed egress where the occupancy permits none",
        ("delayed/requirements-not-met L08",),
        (Edit(LANDSIDE, "  L08:", "{group: B, load: 12, hazard: ordinary}", "{group: H-3, load: 12, hazard: high}"),),
        ground=DELAYED_DOOR,
    ),
    Fault(
        "the operator drives the leaf before its latch is drawn",
        ("access/operator-before-lock L01/operator",),
        (Edit(LANDSIDE, "  L01:", "start_delay: 1 s", "start_delay: 200 ms"),),
        ground=OPERATOR,
    ),
    Fault(
        "an indoor device hangs in the open",
        ("exposure/ingress-below-need Q01/reader",),
        of_example("exposure/ingress-below-need", "Q01/reader"),
        ("exposure/impact-below-need Q01/reader", "exposure/outside-operating-temperature Q01/reader"),
    ),
)


def edited(edits: Iterable[Edit]) -> Result:
    """The review of the clean example with these edits."""
    changed: dict[str, str] = {}
    for edit in edits:
        text = changed.get(edit.file, texts(CLEAN)[edit.file])
        start = text.index(edit.right, text.index(edit.after))
        changed[edit.file] = text[:start] + edit.wrong + text[start + len(edit.right) :]
    overlay = Overlay({(CLEAN / name).resolve(): text for name, text in changed.items()})
    return doorlint.review(CLEAN, rulebook=rulebook(), overlay=overlay)


def told(result: Result) -> Counter[str]:
    """What failed (`rule subject`) or could not be decided (`open: rule subject`), counted."""
    return Counter(
        f"{'open: ' if outcome.kind is Kind.OPEN else ''}{outcome.rule} {outcome.subject}"
        for outcome in failures(result)
    )


@cache
def told_by_clean() -> Counter[str]:
    return told(reviewed(CLEAN))


def test_the_faults_are_forty_and_each_is_named() -> None:
    assert len(FAULTS) == 40
    assert len({fault.name for fault in FAULTS}) == 40


def test_the_clean_example_gives_none() -> None:
    assert not reviewed(CLEAN).broken
    assert told_by_clean() == Counter()


@pytest.mark.parametrize("fault", [fault for fault in FAULTS if fault.ground], ids=lambda fault: fault.name)
def test_what_a_fault_brings_along_is_in_order(fault: Fault) -> None:
    result = edited(fault.ground)
    assert not result.broken
    assert told(result) - told_by_clean() == Counter()


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_fault_alone_gives_its_findings_and_nothing_else(
    fault: Fault, record_property: Callable[[str, object], None]
) -> None:
    result = edited((*fault.ground, *fault.edits))
    assert not result.broken
    new = told(result) - told_by_clean()
    assert set(new) == {*fault.found, *fault.follows}
    record_property("starred", (fault.name, fault.found, len(fault.follows)))


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.name)
def test_a_rule_that_finds_a_fault_had_looked_before(fault: Fault) -> None:
    """In the example in order, the rule judged the same subject, or others of its kind, and found nothing."""
    before = edited(fault.ground) if fault.ground else reviewed(CLEAN)
    for one in fault.found:
        rule = one.removeprefix("open: ").partition(" ")[0]
        judged = before.counts()[rule]
        assert sum(judged.values()) > 0
        assert judged[Kind.FAIL] == judged[Kind.OPEN] == 0
