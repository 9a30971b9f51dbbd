"""The changes that are proposed for lines, coils, supplies and batteries: which, in which order, and when none is."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

import pytest

from doorlint.circuit.cures import line_repairs, longest_run, setting_repairs
from doorlint.circuit.feeds import Feed
from doorlint.circuit.substitutes import other_products, other_sources, suppressor_swaps, suppressors
from doorlint.circuit.supply_cures import larger_battery, load_elsewhere
from doorlint.context import Context
from doorlint.outcome import Repair
from doorlint.reviewing import review_text
from doorlint.rulebook import Rulebook
from doorlint.spec.model import Battery, Item

LINE = """\
doorlint: 1
project: {name: Case}
products:
  lock: {kind: electric_strike, fail: secure, COIL}
cables:
  thin: {kind: multiconductor, CONDUCTOR, conductors: 2}
  thick: {kind: multiconductor, conductor: 14 AWG, conductors: 2}
  mid: {kind: multiconductor, conductor: 18 AWG, conductors: 2}
  thinner: {kind: multiconductor, conductor: 24 AWG, conductors: 2}
  network: {kind: category, category: "5e", conductor: 12 AWG}
  unknown: {kind: multiconductor, conductors: 2}
power:
  psu: {kind: power_supply, supply: dc, voltage: 12 V}
openings: {D1: {items: {lock: {product: lock, fed_from: psu, cable: thin, length: LENGTH}}}}
"""
COIL = "coil: {supply: dc, voltage: 12 V, current: 500 mA}"


def line(conductor: str = "conductor: 22 AWG", length: str = "60 m", coil: str = COIL) -> str:
    return LINE.replace("CONDUCTOR", conductor).replace("LENGTH", length).replace("COIL", coil)


def context_of(text: str) -> Context:
    result = review_text(text, rulebook=Rulebook())
    assert result.context is not None
    return result.context


def feed_of(context: Context, item: str) -> Feed:
    return next(feed for feed in context.wiring.feeds if feed.identity == item)


def item_of(context: Context, opening: str, name: str) -> Item:
    return context.spec.openings[opening].items[name]


def titles(repairs: Iterable[Repair]) -> list[str]:
    return [repair.title for repair in repairs]


# -- lines -------------------------------------------------------------------------------------------


def proposed(text: str) -> list[str]:
    context = context_of(text)
    feed = feed_of(context, "D1/lock")
    return titles(line_repairs(feed, context.voltages.steady(feed), context.voltages))


def test_the_next_thicker_cable_and_gauge_come_first_and_the_run_after_them() -> None:
    found = proposed(line())
    gauges = [f"use {number} AWG for cable thin" for number in (20, 18, 16, 14, 12, 10, 8, 6)]
    assert found[:10] == ["lay mid to lock", "lay thick to lock", *gauges]
    assert found[10].startswith("keep the run to ")
    assert len(found) == 11


def test_metric_sizes_are_raised_in_metric_sizes() -> None:
    found = proposed(line("conductor: 1.5 mm2"))
    assert found[:4] == ["lay thick to lock", *(f"use {area} mm2 for cable thin" for area in ("2.5", "4", "6"))]


def test_a_cable_given_by_its_resistance_has_no_next_gauge() -> None:
    found = proposed(line("conductor: 22 AWG, resistance: 60 ohm/km"))
    assert not [title for title in found if title.startswith("use ")]
    assert found[:2] == ["lay mid to lock", "lay thick to lock"]


@pytest.mark.parametrize(
    ("length", "minimum_v", "metres"), [("1 m", 7.5, 0.5), ("1 m", 9.0, None), ("1 m", 1.0, 0.5), ("0.5 m", 9.0, None)]
)
def test_a_run_is_shortened_in_half_metres_down_to_one_of_them(
    length: str, minimum_v: float, metres: float | None
) -> None:
    """24 ohm at 12 V behind 10 ohm per metre, out and back, copper 8 % above its 20 degC value at 40 degC: half a metre
    leaves 12 x 24 / (24 + 10.8) = 8.3 V, one metre 12 x 24 / (24 + 21.6) = 6.3 V."""
    context = context_of(line("resistance: 10 ohm/m", length))
    found = context.voltages.steady(feed_of(context, "D1/lock"))
    assert longest_run(found, context.voltages, minimum_v) == metres


def test_the_longest_run_is_the_last_half_metre_that_passes() -> None:
    context = context_of(line())
    found = context.voltages.steady(feed_of(context, "D1/lock"))
    longest = longest_run(found, context.voltages, 10.2)
    assert longest is not None
    assert (context.voltages.at_length(found, longest) or 0) >= 10.2
    assert (context.voltages.at_length(found, longest + 0.5) or 0) < 10.2


def test_the_other_setting_of_a_coil_is_proposed() -> None:
    text = line(coil="").replace(
        "fail: secure, }",
        "fail: secure, coils: {low: {voltage: 12 V, current: 500 mA}, high: {voltage: 24 V, current: 250 mA}}}",
    )
    context = context_of(text.replace("product: lock,", "product: lock, coil_setting: low,"))
    assert titles(setting_repairs(item_of(context, "D1", "lock"))) == ["set the coil of lock to high"]
    bare = context_of(text.replace("product: lock,", ""))
    assert titles(setting_repairs(item_of(bare, "D1", "lock"))) == []


# -- other products and sources ----------------------------------------------------------------------

PRODUCTS = """\
doorlint: 1
project: {name: Case}
products:
  now: {kind: electric_strike, fail: secure, coil: {voltage: 12 V, current: 500 mA}}
  same: {kind: electric_strike, fail: secure, coil: {voltage: 12 V, current: 300 mA}}
  safe: {kind: electric_strike, fail: safe, coil: {voltage: 12 V, current: 300 mA}}
  magnet: {kind: electromagnetic_lock, fail: secure, coil: {voltage: 12 V, current: 300 mA}}
  a-uni: {kind: suppressor, suppressor: {type: tvs_unidirectional, stand_off: 15 V}}
  b-diode: {kind: suppressor, suppressor: {type: diode}}
  c-bi: {kind: suppressor, suppressor: {type: tvs_bidirectional, stand_off: 15 V}}
  d-other: {kind: other, suppressor: {type: mov, stand_off: 15 V}}
power:
  psu: {kind: power_supply, supply: dc, voltage: 12 V}
  low: {kind: power_supply, supply: dc, voltage: 10 V}
  high: {kind: power_supply, supply: dc, voltage: 24 V}
  wide: {kind: power_supply, supply: dc, voltage: 10..13 V}
  mains: {kind: mains, supply: ac, voltage: 12 V}
  many: {kind: power_supply, supply: dc, voltage: 12 V, outputs: {"1": {}, "2": {voltage: 24 V}}}
openings:
  D1:
    items:
      lock: {product: now, fed_from: psu}
      fitted: {product: now, fed_from: psu, suppression: c-bi}
      bare: {side: secured}
"""


def test_other_products_are_those_of_the_same_kind_and_fail_mode() -> None:
    context = context_of(PRODUCTS)
    assert titles(other_products(item_of(context, "D1", "lock"), context.spec)) == ["use same in place of now for lock"]
    assert titles(other_products(item_of(context, "D1", "bare"), context.spec)) == []


def test_other_sources_are_supplies_whose_voltage_the_load_takes_as_a_whole() -> None:
    context = context_of(PRODUCTS)
    assert titles(other_sources(feed_of(context, "D1/lock"), context.spec)) == ["feed lock from many.1"]


def test_no_more_than_six_are_proposed() -> None:
    more = "".join(f"  more{n}: {{kind: power_supply, supply: dc, voltage: 12 V}}\n" for n in range(8))
    context = context_of(PRODUCTS.replace("power:\n", f"power:\n{more}"))
    found = titles(other_sources(feed_of(context, "D1/lock"), context.spec))
    assert found == [f"feed lock from more{n}" for n in range(6)]


def test_suppressors_that_conduct_both_ways_come_first_and_other_parts_never() -> None:
    context = context_of(PRODUCTS)
    found = list(suppressors(item_of(context, "D1", "lock"), context.spec))
    assert titles(found) == ["fit c-bi at lock", "fit a-uni at lock", "fit b-diode at lock"]
    assert {change.key for repair in found for change in repair.changes} == {"suppression"}  # a field that is not there
    fitted = item_of(context, "D1", "fitted")
    assert {change.key for repair in suppressors(fitted, context.spec) for change in repair.changes} == {""}
    swaps = titles(suppressor_swaps(fitted.suppression[0], context.spec))
    assert swaps == ["fit a-uni in place of c-bi", "fit b-diode in place of c-bi"]


# -- supplies and batteries --------------------------------------------------------------------------

SUPPLIES = """\
doorlint: 1
project: {name: Case}
products: {lock: {kind: electromagnetic_lock, fail: safe, coil: {voltage: 12 V, current: 800 mA}}}
power:
  psu: {kind: power_supply, supply: dc, voltage: 12 V, current: 1 A}
  other: {kind: power_supply, supply: dc, voltage: 12 V, current: CURRENT OUTPUTS}
openings:
  {D1: {items: {lock: {product: lock, fed_from: psu}}}, D2: {items: {lock: {product: lock, fed_from: psu}}}LOADED}
"""


def moved(current: str, outputs: str = "", loaded: str = "") -> list[str]:
    text = SUPPLIES.replace("CURRENT", current).replace("OUTPUTS", outputs).replace("LOADED", loaded)
    context = context_of(text)
    return titles(load_elsewhere(context.spec.power["psu"], Fraction(1, 2), context.supplies))


def test_a_load_moves_to_a_supply_that_has_just_room_for_it() -> None:
    """A supply is loaded to 80 % of its rating (common practice, no source): 1 A has room for 800 mA."""
    both = ["feed D1/lock from other", "feed D2/lock from other"]
    assert moved("1 A") == both
    assert moved("999 mA") == []
    on_it = ", D3: {items: {lock: {product: lock, fed_from: other}}}"
    assert moved("1 A", loaded=on_it) == []
    assert moved("2 A", loaded=on_it) == both


def test_a_load_moves_to_an_output_that_has_nothing_on_it() -> None:
    outputs = ", outputs: {one: {}, two: {}}"
    on_one = ", D3: {items: {lock: {product: lock, fed_from: other.one}}}"
    assert moved("5 A", outputs) == ["feed D1/lock from other.one", "feed D2/lock from other.one"]
    assert moved("5 A", outputs, on_one) == ["feed D1/lock from other.two", "feed D2/lock from other.two"]
    both = on_one + ", D4: {items: {lock: {product: lock, fed_from: other.two}}}"
    assert moved("5 A", outputs, both) == []


@pytest.mark.parametrize(
    ("charger", "needed"),
    [("280 mA", []), ("279 mA", ["use a battery of 7 Ah and a charger of 300 mA"])],
)
def test_a_larger_battery_brings_a_larger_charger_only_where_the_present_one_is_too_small(
    charger: str, needed: list[str]
) -> None:
    """80 % of 7 Ah back within 24 h with 1.2 Ah put in for each regained: 1.2 x 0.8 x 7 / 24 = 280 mA."""
    context = context_of(
        "doorlint: 1\nproject: {name: Case}\npower:\n  psu: {kind: power_supply, supply: dc, voltage: 12 V,"
        f" battery: {{chemistry: lead_acid, capacity: 2.3 Ah, voltage: 12 V, charge_current: {charger}}}}}\n"
    )
    battery = context.spec.power["psu"].battery
    assert isinstance(battery, Battery)
    assert titles(larger_battery(battery, Fraction(5 * 3600))) == ["use a battery of 7 Ah", *needed]
