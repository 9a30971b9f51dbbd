"""Cures of PoE links, and what is read of a link: ports, devices that pass PoE on, demand and peaks."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

import pytest

from doorlint.circuit.poe_cures import channel_repairs, port_repairs
from doorlint.circuit.poe_links import PoeLink, PoeLinks
from doorlint.outcome import Repair
from doorlint.reviewing import review_text
from doorlint.rulebook import Rulebook
from doorlint.spec.fields import Undecided

SPEC = """\
doorlint: 1
project: {name: Case}
products:
  rc: {kind: reader_controller, inputs: {poe: {poe_class: CLASS, power: 5 W MORE}}}
  far: {kind: reader, inputs: {poe: {poe_class: 1, power: 3 W}}}
  extender:
    kind: poe_extender
    inputs: {poe: {poe_class: 4, power: 1 W}}
    outputs: {out: {PASSED}}
power:
  sw: {kind: poe_switch, PORT}
  other: {kind: poe_switch, standard: 802.3bt, port_class: 8}
  injector: {kind: poe_injector, standard: 802.3bt}
cables:
  cat: {kind: category, category: "6", conductor: 24 AWG}
  thick: {kind: category, category: "6a", conductor: 22 AWG}
  middle: {kind: category, category: "6", conductor: 23 AWG}
  thin: {kind: category, category: "6", conductor: 26 AWG}
  stranded: {kind: multiconductor, conductor: 18 AWG}
openings:
  D1:
    items:
      rc: {product: rc, fed_from: SOURCE, cable: cat, length: LENGTH}
      extender: {product: extender, fed_from: sw, cable: cat, length: 10 m}
      far: {product: far, fed_from: extender.out, cable: cat, length: 10 m}
"""


def link(
    item: str = "rc",
    *,
    asked: int = 3,
    more: str = "",
    port: str = "standard: 802.3at, port_class: 4",
    source: str = "sw",
    length: str = "60 m",
    passed: str = "through: poe",
) -> tuple[PoeLink, PoeLinks]:
    text = SPEC.replace("CLASS", str(asked)).replace(" MORE", more).replace("PORT", port).replace("SOURCE", source)
    result = review_text(text.replace("LENGTH", length).replace("PASSED", passed), rulebook=Rulebook())
    assert result.context is not None
    return result.context.poe.by_item[f"D1/{item}"], result.context.poe


def titles(repairs: Iterable[Repair]) -> list[str]:
    return [repair.title for repair in repairs]


# -- ports -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("port", "asked", "changes"),
    [
        ("standard: 802.3at, port_class: 3", 4, {"/power/sw/port_class": "4"}),
        ("standard: 802.3at, port_class: 4", 6, {"/power/sw/port_class": "6", "/power/sw/standard": "802.3bt"}),
        # without a stated class a port has what its standard has; 802.3bt alone does not say whether that is 6 or 8
        ("standard: 802.3at", 6, {"/power/sw/standard": "802.3bt"}),
        ("standard: 802.3at", 8, {"/power/sw/standard": "802.3bt", "/power/sw": "8"}),
        ("standard: 802.3at, port_class: 4", 8, {"/power/sw/port_class": "8", "/power/sw/standard": "802.3bt"}),
    ],
)
def test_a_port_is_raised_to_the_class_asked_for_and_to_a_standard_that_has_it(
    port: str, asked: int, changes: dict[str, str]
) -> None:
    first, *others = port_repairs(*link(asked=asked, port=port))
    assert first.title == f"use ports of class {asked} for sw"
    assert len(first.changes) == len(changes)
    assert {change.place.pointer: change.text for change in first.changes} == changes
    assert titles(others) == ["feed rc from other"]  # the injector does not state its class


def test_a_port_that_has_the_class_asked_for_needs_no_cure() -> None:
    assert titles(port_repairs(*link(asked=4))) == []


def test_an_output_of_a_source_has_its_own_class() -> None:
    port = "standard: 802.3at, port_class: 4, outputs: {low: {poe_class: 2}, plain: {}}"
    for output, number, pointer in (
        ("sw.low", 2, "/power/sw/outputs/low/poe_class"),
        ("sw.plain", 4, "/power/sw/port_class"),
        ("sw", 4, "/power/sw/port_class"),
    ):
        found, poe = link(port=port, source=output)
        grant = poe.grant(found)
        assert (grant.port, grant.port_place.pointer) == (number, pointer)
    first, *_ = port_repairs(*link(port=port, source="sw.low"))
    assert [change.place.pointer for change in first.changes] == ["/power/sw/outputs/low/poe_class"]


def test_a_stated_class_is_never_above_what_the_standard_has() -> None:
    found, poe = link(port="standard: 802.3af, port_class: 4", asked=4)
    assert (poe.grant(found).port, poe.grant(found).port_place.pointer) == (3, "/power/sw/standard")


# -- channels ----------------------------------------------------------------------------------------


def test_thicker_network_cables_come_first_the_next_one_before_the_thickest() -> None:
    found, poe = link()
    channel = poe.channel(found)
    proposed = titles(channel_repairs(found, poe, channel.ohm * 0.9))
    assert proposed == ["lay middle to rc", "lay thick to rc", "keep the run to rc to 54 m"]
    # 23 AWG has about 79 percent of the resistance of 24 AWG, 22 AWG about 63 percent
    assert titles(channel_repairs(found, poe, channel.ohm * 0.7)) == ["lay thick to rc", "keep the run to rc to 42 m"]


def test_a_run_is_never_proposed_at_its_own_length() -> None:
    found, poe = link()
    proposed = titles(channel_repairs(found, poe, poe.channel(found).ohm))
    assert proposed == ["lay middle to rc", "lay thick to rc"]
    assert titles(channel_repairs(found, poe, 0.001)) == []  # less than half a metre would be left


def test_a_device_without_a_cable_has_none_to_change() -> None:
    assert titles(channel_repairs(*link(length="0 m"), 1.0)) == []


# -- devices that pass PoE on ------------------------------------------------------------------------


def test_a_device_passes_poe_on_by_an_output_of_that_supply_or_through_its_input() -> None:
    for passed in ("through: poe", "supply: poe, poe_class: 2"):
        assert link("extender", passed=passed)[0].carries_poe
        assert not link("far", passed=passed)[0].carries_poe
    assert not link("rc")[0].carries_poe


def test_what_is_passed_on_has_the_class_that_the_extender_got_and_a_port_of_its_own_has_its_own() -> None:
    found, poe = link("far", passed="through: poe")
    assert poe.grant(found).port == 4
    found, poe = link("far", passed="supply: poe, poe_class: 2")
    assert poe.grant(found).port == 2
    found, poe = link("far", passed="supply: poe")
    with pytest.raises(Undecided, match="poe_class"):
        poe.grant(found)


def test_the_least_demand_of_an_extender_is_its_own_and_what_leaves_for_the_far_device() -> None:
    found, poe = link("extender")
    demand = poe.demand(found)
    (far,) = demand.carried
    assert not far.converted
    assert far.power_w >= 3  # what the far device draws, and what its channel loses
    assert demand.least_w == demand.total_w == Fraction(1) + far.power_w


def test_a_device_that_states_a_voltage_but_no_peak_has_no_rise() -> None:
    found, poe = link(more=", voltage: 48 V")
    assert poe.peak(found).rises == ()
    found, poe = link(more=", voltage: 48 V, peak: 150 mA, peak_duration: 1 s")
    (rise,) = poe.peak(found).rises
    assert rise.extra_w == Fraction(48) * Fraction(15, 100) - 5  # 7.2 W for a second, 2.2 W above its 5 W


BEHIND = """\
doorlint: 1
project: {name: Case}
products:
  splitter:
    kind: poe_splitter
    efficiency: 100 %
    inputs: {poe: {poe_class: 6, power: 0 W}}
    outputs: {out: {supply: dc, voltage: 48 V}}
  midspan:
    kind: converter
    efficiency: 80 %
    inputs: {dc: {voltage: 48 V, current: 0 A, peak: 0 A}}
    outputs: {port: {supply: poe, poe_class: 3, voltage: 48 V}}
  reader:
    kind: reader
    inputs: {poe: {poe_class: 3, voltage: 48 V, current: 100 mA, peak: 200 mA, peak_duration: 1 s}}
power: {sw: {kind: poe_switch, standard: 802.3bt, port_class: 6}}
openings:
  D1:
    items:
      splitter: {product: splitter, fed_from: sw, length: 0 m}
      midspan: {product: midspan, fed_from: splitter.out}
      reader: {product: reader, fed_from: midspan.port, length: 0 m}
"""


def test_the_peak_of_a_device_counts_also_behind_a_port_that_is_fed_with_direct_current() -> None:
    """100 mA more at 48 V through a converter of 80 percent: 6 W, beside the 6 W that it takes steadily."""
    result = review_text(BEHIND, rulebook=Rulebook())
    assert result.context is not None
    peak = result.context.poe.peak(result.context.poe.by_item["D1/splitter"])
    assert peak.steady_w == 6
    assert [rise.extra_w for rise in peak.rises] == [6]
