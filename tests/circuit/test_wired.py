"""What is read from wired specs: transfers, what devices pass on, voltages taken, standby and shared lines."""

from __future__ import annotations

from fractions import Fraction

import pytest

from doorlint.circuit import rest
from doorlint.circuit.arrival import other_rule_tells
from doorlint.circuit.conductors import ALUMINIUM, COPPER, COPPER_CLAD_ALUMINIUM
from doorlint.circuit.demand import passed_on, steady
from doorlint.circuit.feeds import Feed
from doorlint.circuit.lines import conductor_of
from doorlint.circuit.standby import Need
from doorlint.circuit.supplies import LOAD_SHARE, ambient_of
from doorlint.circuit.tolerance import voltage_taken
from doorlint.circuit.transfers import SPARE, conductors_needed, larger_transfers
from doorlint.circuit.voltages import AGE, SOURCE, TEMPERATURE, draws_peak, owner_of, return_partner, units
from doorlint.context import Context
from doorlint.events.door import LOCK_KINDS
from doorlint.outcome import Kind
from doorlint.reviewing import review_text
from doorlint.rulebook import Rulebook
from doorlint.spec.fields import Undecided


def context_of(text: str) -> Context:
    result = review_text(f"doorlint: 1\nproject: {{name: Case}}\n{text}", rulebook=Rulebook())
    assert result.context is not None
    return result.context


def feed_of(context: Context, item: str, supply: str = "dc") -> Feed:
    return next(f for f in context.wiring.feeds if f.identity == item and supply in (f.supply, "any"))


# -- transfers ---------------------------------------------------------------------------------------

TRANSFER = """\
products:
  a: {kind: electric_strike, fail: safe, conductors: 2}
  b: {kind: electric_strike, fail: safe, conductors: 3}
  loop: {kind: power_transfer, transfer: {conductors: 4}}
  wide: {kind: power_transfer, transfer: {conductors: 10}}
  wider: {kind: power_transfer, transfer: {conductors: 12}}
openings:
  D1:
    items:
      loop: {product: loop}
      one: {product: a, through_transfer: loop ONE}
      two: {product: b, through_transfer: loop TWO}
      elsewhere: {product: b}
"""


@pytest.mark.parametrize(
    ("one", "two", "needed"),
    [
        ("", "", 5),
        (", shares_return_with: two", "", 4),
        ("", ", shares_return_with: one", 4),
        (", shares_return_with: two", ", shares_return_with: one", 4),  # they name each other: one conductor is shared
        (", shares_return_with: one", "", 5),  # itself: nothing is shared
        (", parallel_conductors: 2", "", 7),  # out and back once more
        (", parallel_conductors: 3", "", 9),
    ],
)
def test_the_conductors_of_all_devices_led_through(one: str, two: str, needed: int) -> None:
    spec = context_of(TRANSFER.replace(" ONE", one).replace(" TWO", two)).spec
    opening = spec.openings["D1"]
    total, terms, devices = conductors_needed(opening.items["loop"], opening)
    assert total == needed == sum(int(term.text) for term in terms)
    assert [item.name for item in devices] == [term.name for term in terms] == ["one", "two"]


def test_two_conductors_of_a_transfer_are_kept_free() -> None:
    """Common practice, no source."""
    assert SPARE == 2


def test_larger_transfers_are_those_with_enough_conductors_the_smallest_first() -> None:
    spec = context_of(TRANSFER.replace(" ONE", "").replace(" TWO", "")).spec
    found = [repair.title for repair in larger_transfers(spec.openings["D1"].items["loop"], 10, spec)]
    assert found == ["use wide (10 conductors) for loop", "use wider (12 conductors) for loop"]


# -- what devices take and pass on -------------------------------------------------------------------

TAKEN = """\
products:
  coil: {kind: electric_strike, fail: safe, coil: {voltage: 12 V}}
  board: {kind: door_controller, inputs: {dc: {voltage: 20 V}}}
  stated: {kind: door_controller, inputs: {dc: {voltage: 9..30 V}}}
power: {psu: {kind: power_supply, supply: dc, voltage: VOLTAGE}}
openings:
  D1:
    items:
      coil: {product: coil, fed_from: psu}
      board: {product: board, fed_from: psu}
      stated: {product: stated, fed_from: psu}
"""


def test_the_trade_s_tolerance_stands_where_a_sheet_states_none() -> None:
    """85 to 110 percent for coils, 90 to 110 percent for electronics; common practice, no source."""
    context = context_of(TAKEN.replace("VOLTAGE", "12 V"))

    def taken(item: str) -> tuple[object, ...]:
        band, _ = voltage_taken(feed_of(context, f"D1/{item}", "any").load, context.spec.practice)
        return band.low, band.high, band.nominal

    assert taken("coil") == (Fraction("10.2"), Fraction("13.2"), 12)
    assert taken("board") == (18, 22, 20)
    assert taken("stated") == (9, 30, None)


@pytest.mark.parametrize(("voltage", "told"), [("10.2 V", False), ("10.19 V", True)])
def test_a_source_below_what_the_load_takes_is_a_rule_of_its_own(voltage: str, told: bool) -> None:
    context = context_of(TAKEN.replace("VOLTAGE", voltage))
    verdict = other_rule_tells(feed_of(context, "D1/coil", "any"), context.voltages)
    assert (verdict is not None) is told
    if verdict is not None:
        assert verdict.kind is Kind.NOT_APPLICABLE


TWO_FEEDS = """\
products:
  board:
    kind: door_controller
    efficiency: 80 %
    inputs: {dc: {voltage: 24 V, current: 100 mA}, ac: {voltage: 24 V, current: 200 mA}}
    outputs: {lock: {supply: dc, voltage: 12 V}}
  lock: {kind: electric_strike, fail: safe, coil: {voltage: 12 V, current: 400 mA}}
power:
  direct: {kind: power_supply, supply: dc, voltage: 24 V}
  other: {kind: power_supply, supply: ac, voltage: 24 V}
openings:
  D1: {items: {board: {product: board, fed_from: [direct, other]}, lock: {product: lock, fed_from: board.lock}}}
"""


def test_what_an_output_gives_is_taken_at_the_first_feed_of_its_device() -> None:
    """12 V x 400 mA / (80 % x 24 V) = 250 mA, once."""
    context = context_of(TWO_FEEDS)
    dc, ac = (feed_of(context, "D1/board", supply) for supply in ("dc", "ac"))
    assert passed_on(dc, context.wiring) == Fraction(1, 4)
    assert steady(dc, context.wiring) == Fraction(35, 100)
    assert passed_on(ac, context.wiring) == 0
    assert steady(ac, context.wiring) == Fraction(1, 5)


@pytest.mark.parametrize(
    ("source", "supply"),
    [
        ("{kind: generator, voltage: 24 V}", "ac"),
        ("{kind: generator, supply: dc, voltage: 24 V}", "dc"),
        ("{kind: mains, voltage: 120 V}", "ac"),
        ("{kind: poe_switch}", "poe"),
    ],
)
def test_what_a_source_gives_where_its_kind_says_it_and_where_it_is_stated(source: str, supply: str) -> None:
    context = context_of(
        "products: {any: {kind: other, inputs: {dc: {}, ac: {}, poe: {}}}}\n"
        f"power: {{psu: {source}}}\nopenings: {{D1: {{items: {{any: {{product: any, fed_from: psu}}}}}}}}\n"
    )
    assert feed_of(context, "D1/any", "any").terminal.supply == supply


THROUGH = """\
products:
  board: {kind: door_controller, inputs: {dc: {voltage: 12 V}}, outputs: {lock: {through: dc, voltage: 12 V}}}
  lock: {kind: electric_strike, fail: safe, coil: {voltage: 12 V, current: 400 mA}}
power: {psu: {kind: power_supply, supply: dc, voltage: 13 V}}
openings: {D1: {items: {board: {product: board FED}, lock: {product: lock, fed_from: board.lock INPUT}}}}
"""


def test_an_output_that_passes_on_has_its_stated_voltage_only_while_nothing_feeds_the_device() -> None:
    fed = feed_of(context_of(THROUGH.replace(" FED", ", fed_from: psu").replace(" INPUT", "")), "D1/lock", "any")
    bare = feed_of(context_of(THROUGH.replace(" FED", "").replace(" INPUT", "")), "D1/lock", "any")
    assert [getattr(feed.terminal.voltage, "nominal", None) for feed in (fed, bare)] == [13, 12]


def test_an_input_that_a_device_has_not_leaves_the_one_that_it_has() -> None:
    context = context_of(THROUGH.replace(" FED", ", fed_from: psu").replace(" INPUT", ", input: ac"))
    assert feed_of(context, "D1/lock", "any").coil is not None


def test_ways_that_part_and_meet_many_times_are_each_passed_once() -> None:
    """Thirty devices in a row, each with two feeds from the one before: a thousand million ways, one source."""
    boards = ["      b0: {product: board, fed_from: psu}"]
    boards += [f"      b{n}: {{product: board, fed_from: [b{n - 1}.one, b{n - 1}.two]}}" for n in range(1, 30)]
    context = context_of(
        "products:\n  board:\n    kind: other\n    inputs: {dc: {voltage: 12 V}, ac: {voltage: 12 V}}\n"
        "    outputs: {one: {supply: dc, voltage: 12 V}, two: {supply: ac, voltage: 12 V}}\n"
        "power: {psu: {kind: power_supply, supply: dc, voltage: 12 V}}\n"
        "openings:\n  D1:\n    items:\n" + "\n".join(boards) + "\n"
    )
    last = feed_of(context, "D1/b29")
    assert len(context.wiring.by_item["D1/b29"]) == 2
    assert [source.id for source in last.sources] == ["psu"]


@pytest.mark.parametrize(
    ("material", "metal"),
    [
        ("", COPPER),
        (", material: copper", COPPER),
        (", material: tinned_copper", COPPER),
        (", material: aluminium", ALUMINIUM),
        (", material: copper_clad_aluminium", COPPER_CLAD_ALUMINIUM),
    ],
)
def test_the_metal_of_a_cable(material: str, metal: object) -> None:
    spec = context_of(f"cables: {{run: {{kind: multiconductor, conductor: 18 AWG{material}}}}}\n").spec
    found = conductor_of(spec.cables["run"])
    assert found.material is metal
    assert found.coating == ("tinned" if "tinned" in material else "plain")


def test_the_kinds_that_lock_are_the_same_for_currents_and_for_events() -> None:
    assert set(rest.LOCKS) == LOCK_KINDS


# -- supplies and standby ----------------------------------------------------------------------------

STANDBY = """\
products: {lock: {kind: electromagnetic_lock, fail: safe, coil: {voltage: 12 V, current: 1 A}}}
power:
  psu:
    kind: power_supply
    supply: dc
    voltage: 12 V
    current: 5 A
    battery: {chemistry: lead_acid, capacity: 7 Ah, BATTERY}
openings: {D1: {items: {lock: {product: lock, fed_from: psu}}}}
"""


def need(battery: str, hours: Fraction = Fraction(10)) -> Need:
    context = context_of(STANDBY.replace("BATTERY", battery))
    return context.supplies.need(context.spec.power["psu"], hours * 3600)


def amperehours(value: Fraction | None) -> float | None:
    return None if value is None else float(value) / 3600


def test_the_capacity_for_a_standby_time_by_hand() -> None:
    """1 A for 10 h with a battery sized for 80 % left (IEEE 485, from memory) and 93 % brought out over 10 h at 20 degC
    (common practice, no source): 10 / (0.8 x 0.93) = 13.44 Ah."""
    found = need("temperature: 20 degC")
    assert amperehours(found.least) == amperehours(found.most) == pytest.approx(10 / (0.8 * 0.93))
    assert found.doubts == ()


def test_a_temperature_below_the_table_leaves_the_most_open_and_the_least_without_it() -> None:
    found = need("temperature: -30 degC")
    assert amperehours(found.least) == pytest.approx(10 / (0.8 * 0.93))
    assert found.most is None
    assert [doubt.name for doubt in found.doubts] == ["temperature"]


def test_a_temperature_that_is_not_stated_is_taken_mild_for_the_least_and_cold_for_the_most() -> None:
    found = need("replacement: 4 a")
    assert amperehours(found.least) == pytest.approx(10 / (0.8 * 0.93))
    assert found.most is not None and found.most > found.least
    assert [doubt.name for doubt in found.doubts] == ["temperature"]


def test_a_discharge_shorter_than_the_table_leaves_the_most_open() -> None:
    found = need("temperature: 20 degC", Fraction(1, 3))
    assert amperehours(found.least) == pytest.approx(1 / 3 / 0.8)
    assert found.most is None
    assert [doubt.name for doubt in found.doubts] == ["discharge table"]


@pytest.mark.parametrize(
    ("end", "share", "doubts"),
    [
        ("0 V", 1.0, []),
        ("10.5 V", 1.0, []),  # 1.75 V per cell
        ("10.8 V", 0.97, []),  # 1.80 V per cell
        ("11.6 V", None, ["discharge table"]),  # 1.93 V per cell: beyond the figures of practice
    ],
)
def test_stopping_at_a_high_voltage_leaves_capacity_behind(end: str, share: float | None, doubts: list[str]) -> None:
    found = need(f"temperature: 20 degC, voltage: 12 V, cut_off_voltage: {end}")
    plain = 10 / (0.8 * 0.93)
    assert amperehours(found.least) == pytest.approx(plain / (share or 1))
    assert amperehours(found.most) == (None if share is None else pytest.approx(plain / share))
    assert [doubt.name for doubt in found.doubts] == doubts


def test_a_battery_of_no_volts_is_open_and_no_division() -> None:
    with pytest.raises(Undecided, match="voltage"):
        need("temperature: 20 degC, voltage: 0 V, regulated: true")


def test_a_supply_is_loaded_to_four_fifths_where_nobody_says_otherwise() -> None:
    """75 to 80 percent; common practice, no source."""
    assert LOAD_SHARE.value({}) == Fraction(4, 5)


def test_the_temperature_around_a_source_is_its_own_else_that_of_its_battery() -> None:
    def source(more: str) -> object:
        text = STANDBY.replace("BATTERY", more.partition("/")[0]).replace("current: 5 A", more.partition("/")[2])
        return context_of(text).spec.power["psu"]

    band, place = ambient_of(source("temperature: 5..30 degC/current: 5 A"))  # type: ignore[arg-type]
    assert (band.text, place.pointer) == ("5..30 degC", "/power/psu/battery/temperature")
    band, place = ambient_of(source("temperature: 5..30 degC/ambient: 0..40 degC"))  # type: ignore[arg-type]
    assert (band.text, place.pointer) == ("0..40 degC", "/power/psu/ambient")
    with pytest.raises(Undecided, match="ambient"):
        ambient_of(source("replacement: 4 a/current: 5 A"))  # type: ignore[arg-type]


# -- lines that are shared ---------------------------------------------------------------------------

SHARED = """\
products:
  small: {kind: electromagnetic_lock, fail: safe, coil: {voltage: 12 V, current: 100 mA}}
  large: {kind: electromagnetic_lock, fail: safe, coil: {voltage: 12 V, current: 2 A}}
  rc: {kind: door_controller, contacts: {relay: {form: spdt, resistance: 1 ohm}}}
cables: {run: {kind: multiconductor, conductor: 22 AWG}}
power: {psu: {kind: power_supply, supply: dc, voltage: VOLTAGE}}
openings:
  D1:
    items:
      rc: {product: rc}
      near: {product: small, fed_from: psu, switched_by: rc.relay.nc, cable: run, length: 1 m}
      far: {product: large, fed_from: psu, switched_by: rc.relay.nc, cable: run, length: 100 m}
"""


def test_what_shares_a_contact_with_a_long_line_has_least_while_that_line_is_cool() -> None:
    """Warm, the long line carries less current through the contact of 1 ohm, and more is left for the lock near by.

    By hand: 22 AWG has 0.05296 ohm per metre at 20 degC. The far lock's 6 ohm and 2 x 100 m make 16.59 ohm, the near
    one's 120 ohm and 2 x 1 m 120.1 ohm, both in parallel 14.58 ohm behind the 1 ohm of the contact. The near lock has
    12 V x 14.58 / 15.58 x 120 / 120.1 = 11.22 V."""
    context = context_of(SHARED.replace("VOLTAGE", "12 V"))
    near, far = (context.voltages.steady(feed_of(context, f"D1/{name}", "any")) for name in ("near", "far"))
    assert near.temperature_c == 20.0
    assert near.worst_v == pytest.approx(11.22, abs=0.005)
    assert far.temperature_c == 40.0  # the warmest that a conductor is taken to be; never above
    assert (near.source_v, far.source_v) == (12.0, 12.0)


@pytest.mark.parametrize(
    ("voltage", "contact", "length", "dominating"),
    [
        ("10..14 V", "resistance: 1 ohm", "20 m", SOURCE),
        ("12 V", "resistance: 1 ohm", "100 m", TEMPERATURE),
        ("12 V", "current: 5 A", "1 m", AGE),  # a contact that is not stated ages
    ],
)
def test_what_counts_most_beside_nominal_conditions(voltage: str, contact: str, length: str, dominating: str) -> None:
    text = SHARED.replace("VOLTAGE", voltage).replace("resistance: 1 ohm", contact).replace("100 m", length)
    alone = text.replace(
        "      near: {product: small, fed_from: psu, switched_by: rc.relay.nc, cable: run, length: 1 m}\n", ""
    )
    context = context_of(alone)
    assert context.voltages.steady(feed_of(context, "D1/far", "any")).dominating == dominating


def test_what_a_contact_a_splice_and_a_transfer_add_to_a_line_new_and_aged() -> None:
    """Common practice, no source, where a sheet states nothing."""
    context = context_of(
        "products:\n  lock: {kind: electromagnetic_lock, fail: safe, coil: {voltage: 12 V, current: 1 A}}\n"
        "  rc: {kind: door_controller, contacts: {relay: {form: spdt}}}\n"
        "  loop: {kind: power_transfer, transfer: {conductors: 4}}\n"
        "power: {psu: {kind: power_supply, supply: dc, voltage: 12 V}}\n"
        "openings:\n  D1:\n    items:\n      rc: {product: rc}\n      loop: {product: loop}\n"
        "      lock: {product: lock, fed_from: psu, switched_by: rc.relay.nc, length: 0 m, splices: 3,"
        " through_transfer: loop}\n"
    )
    found = context.voltages.line(feed_of(context, "D1/lock", "any"))
    figures = [(each.name, each.leg, each.new_ohm, each.aged_ohm) for each in found.elements]
    assert figures[0] == ("contact relay", "plus", 0.05, 0.2)
    assert [row[:2] for row in figures[1:3]] == [("splices", "plus"), ("splices", "minus")]
    assert [row[2:] for row in figures[1:3]] == 2 * [pytest.approx((3 * 0.02, 3 * 0.2))]
    assert figures[3:] == [("transfer", "plus", 0.02, 0.15), ("transfer", "minus", 0.02, 0.15)]
    assert found.loop_ohm(20.0, 1.0) == pytest.approx(0.2 + 2 * 0.6 + 2 * 0.15)


RETURNS = """\
products: {lock: {kind: electromagnetic_lock, fail: safe, coil: {voltage: 12 V, current: 100 mA}}}
cables: {run: {kind: multiconductor, conductor: 22 AWG}}
power: {psu: {kind: power_supply, supply: dc, voltage: 12 V}}
openings:
  D1:
    items:
      a: {product: lock, fed_from: psu, cable: run, length: 1 m, shares_return_with: b}
      b: {product: lock, fed_from: psu, cable: run, length: 1 m, shares_return_with: c}
      c: {product: lock, fed_from: psu, cable: run, length: 1 m, shares_return_with: LAST}
"""


@pytest.mark.parametrize(
    ("last", "partners"),
    [
        ("b", {"a": "b", "b": None, "c": "b"}),  # b and c name each other: b owns the conductor, and a goes back in it
        ("a", {"a": None, "b": "c", "c": "a"}),  # all in a ring: the first owns it
    ],
)
def test_the_conductor_that_a_return_runs_in(last: str, partners: dict[str, str | None]) -> None:
    context = context_of(RETURNS.replace("LAST", last))
    for name, partner in partners.items():
        found = return_partner(feed_of(context, f"D1/{name}", "any"), context.wiring)
        assert (found.item.name if found is not None else None) == partner


HOT = """\
products:
  load: {kind: KIND, LOAD}
  rc: {kind: door_controller, contacts: {relay: {form: spdt, resistance: 1 ohm}}}
power: {psu: {kind: power_supply, supply: dc, voltage: 12 V}}
openings:
  D1:
    items:
      rc: {product: rc}
      load: {product: load, fed_from: psu, switched_by: rc.relay.nc, length: 0 m}
      other: {product: load, fed_from: psu, switched_by: rc.relay.nc, length: 0 m}
"""


def loaded(load: str, kind: str = "electromagnetic_lock") -> tuple[Context, Feed]:
    context = context_of(HOT.replace("LOAD", load).replace("KIND", kind))
    return context, feed_of(context, "D1/load", "any")


def test_one_coil_is_warm_while_the_other_on_its_contact_is_cold() -> None:
    """Copper, 100 K warmer: 12 ohm become 12 x 1.393 = 16.72 ohm; beside the other's 12 ohm 6.99 ohm behind 1 ohm:
    12 V x 6.99 / 7.99 = 10.50 V. Both cold: 6 / 7 of 12 V."""
    context, feed = loaded("fail: safe, coil: {voltage: 12 V, current: 1 A, temperature_rise: 100 K}")
    hot = context.voltages.hot(feed)
    assert hot is not None
    assert hot.worst_v == pytest.approx(12 * 6.986 / 7.986, abs=0.002)
    assert context.voltages.steady(feed).worst_v == pytest.approx(12 * 6 / 7)


def test_the_working_tells_the_figures_of_the_load() -> None:
    context, feed = loaded("fail: safe, coil: {voltage: 12 V, current: 1 A, peak: unknown}")
    (step,) = [step for step in context.voltages.steady(feed).working if step.name == "current into load"]
    assert [(term.name, term.text) for term in step.terms] == [
        ("voltage of load", "12 V"),
        ("current of load", "1 A"),
        ("peak of load", "unknown"),
    ]


@pytest.mark.parametrize(
    ("kind", "load", "draws"),
    [
        ("electromagnetic_lock", "fail: safe, coil: {voltage: 12 V, current: 1 A}", False),  # nothing in it moves
        ("reader", "inputs: {dc: {voltage: 12 V, current: 1 A}}", False),
        ("electric_strike", "fail: safe, coil: {voltage: 12 V, current: 1 A, peak: 2 A}", True),
        ("electric_strike", "fail: safe, coil: {voltage: 12 V, current: 1 A, peak: 1 A}", False),
        ("reader", "inputs: {dc: {voltage: 12 V, current: 1 A, peak: 2 A}}", True),
    ],
)
def test_what_draws_more_for_a_moment(kind: str, load: str, draws: bool) -> None:
    assert draws_peak(loaded(load, kind)[1]) is draws


def test_a_lock_that_moves_something_has_to_state_its_peak() -> None:
    with pytest.raises(Undecided, match="peak"):
        draws_peak(loaded("fail: safe, coil: {voltage: 12 V, current: 1 A}", "electric_strike")[1])


UNITS = """\
products:
  lock: {kind: electromagnetic_lock, fail: safe, coil: {voltage: 12 V, current: 1 A}}
  rc: {kind: door_controller, contacts: {relay: {form: spdt}}}
  board:
    kind: other
    inputs: {dc: {voltage: 12 V, current: 0 A}}
    outputs: {on: {through: dc}, own: {supply: dc, voltage: 12 V}}
power: {psu: {kind: power_supply, supply: dc, voltage: 12 V, outputs: {"1": {}, "2": {}}}}
openings:
  D1:
    items:
      rc: {product: rc}
      board: {product: board, fed_from: psu.1}
      one: {product: lock, fed_from: ONE, switched_by: rc.relay.nc}
      two: {product: lock, fed_from: TWO, switched_by: rc.relay.nc}
"""


@pytest.mark.parametrize(
    ("one", "two", "groups"),
    [
        ("psu.2", "psu.2", [{"board"}, {"one", "two"}]),
        ("psu.1", "psu.2", [{"board"}, {"one"}, {"two"}]),  # one contact in two lines is no shared conductor
        ("board.on", "psu.2", [{"board", "one"}, {"two"}]),
        ("board.own", "psu.2", [{"board"}, {"one"}, {"two"}]),
    ],
)
def test_what_is_solved_as_one_circuit_shares_conductors(one: str, two: str, groups: list[set[str]]) -> None:
    context = context_of(UNITS.replace("ONE", one).replace("TWO", two))
    assert [{feed.item.name for feed in unit.feeds} for unit in units(context.wiring)] == groups


def test_the_device_that_holds_the_voltage_of_an_output() -> None:
    context = context_of(UNITS.replace("ONE", "board.on").replace("TWO", "board.own"))
    owners = [owner_of(feed_of(context, f"D1/{name}", "any").terminal) for name in ("board", "one", "two")]
    assert owners == ["psu", "psu", "D1/board"]


CARRIED = """\
products:
  rc:
    kind: reader_controller
    efficiency: 80 %
    inputs: {poe: {poe_class: 3, power: 2 W}, dc: {voltage: 12 V, current: 100 mA}}
    outputs: {lock: {supply: dc, voltage: 12 V}}
  lock: {kind: electric_strike, fail: safe, coil: {voltage: 12 V, current: 400 mA}}
power:
  sw: {kind: poe_switch, standard: 802.3at}
  psu: {kind: power_supply, supply: dc, voltage: 12 V}
openings: {D1: {items: {rc: {product: rc, fed_from: FED}, lock: {product: lock, fed_from: rc.lock}}}}
"""


@pytest.mark.parametrize(("fed", "outputs"), [("psu", ["lock"]), ("sw", [])])
def test_currents_are_followed_through_a_device_that_is_fed_with_direct_current(fed: str, outputs: list[str]) -> None:
    """What a device draws over PoE is counted as power, by its link."""
    context = context_of(CARRIED.replace("FED", fed))
    carried = context.supplies.passed_on_outputs(feed_of(context, "D1/rc", "any"))
    assert [output.terminal.name for output in carried] == outputs
