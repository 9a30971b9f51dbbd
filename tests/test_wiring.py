"""How feeds and contacts are traced, and what devices draw: worked wiring, and wiring that makes no sense."""

from __future__ import annotations

from fractions import Fraction
from graphlib import CycleError, TopologicalSorter
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint.circuit.demand import (
    nominal,
    own_current,
    own_peak,
    passed_on,
    source_voltage,
    steady,
    total_peak,
    total_steady,
)
from doorlint.circuit.feeds import LONGEST_CHAIN, Feed, Wiring, ports
from doorlint.outcome import Outcome
from doorlint.quantity import Band
from doorlint.reviewing import Result, review_text
from doorlint.rulebook import Rulebook, collect
from doorlint.spec import Coil, Undecided

BOOK = collect()
NONE = Rulebook()
SITE = """\
doorlint: 1
project: {name: Case}
products:
  strike: {kind: electric_strike, coil: {voltage: 12 V, current: 450 mA, peak: 600 mA}}
  maglock:
    kind: electromagnetic_lock
    coils: {12 V: {voltage: 12 V, current: 600 mA, supply: dc}, 24 V: {voltage: 24 V, current: 300 mA, supply: dc}}
  horn: {kind: sounder, inputs: {dc: {voltage: 12 V, current: 100 mA}}}
  station: {kind: intercom, inputs: {dc: {voltage: 24 V, power: 12 W}}}
  rc:
    kind: reader_controller
    inputs: {poe: {poe_class: 3}, dc: {voltage: 12 V, current: 180 mA}}
    outputs: {lock: {supply: dc, voltage: 12 V}, aux: {through: dc}}
    contacts: {relay: {form: spdt}, spare: {form: "no"}}
  step-down:
    kind: converter
    inputs: {dc: {voltage: 24 V, current: 20 mA}}
    outputs: {out: {supply: dc, voltage: 12 V}}
    efficiency: 80 %
  button: {kind: exit_button, contacts: {c: {form: nc}}}
power:
  sw: {kind: poe_switch, port_class: 4}
  psu: {kind: power_supply, supply: dc, voltage: 24 V +-5 %, outputs: {ch1: {current: 2 A}, low: {voltage: 12 V}}}
  fire: {kind: power_supply, supply: dc, voltage: 24 V, contacts: {door: {form: nc}}}
  grid: {kind: mains, voltage: 120 V}
openings:
  D1:
    items:
"""


def door(items: str) -> Result:
    indented = "".join(f"      {line}\n" for line in items.strip().splitlines())
    result = review_text(SITE + indented, "case.yaml", rulebook=NONE)
    assert not [o for o in result.outcomes if o.rule.startswith("format/")]
    return result


def wired(items: str) -> Wiring:
    result = door(items)
    assert result.context is not None
    return result.context.wiring


def sound(items: str) -> Wiring:
    wiring = wired(items)
    assert wiring.findings == ()
    return wiring


def feed_of(wiring: Wiring, item: str, index: int = 0) -> Feed:
    return wiring.by_item[f"D1/{item}"][index]


def only(items: str) -> tuple[Outcome, Result]:
    result = door(items)
    (found,) = (o for o in result.outcomes if not o.rule.startswith("waiver/"))
    return found, result


def covered(result: Result, place: Any) -> str:
    return result.documents[place.file].source(result.region(place))


# -- what feeds what -------------------------------------------------------------------------------


def test_a_lock_on_a_supply() -> None:
    wiring = sound("lock: {product: strike, fed_from: psu}")
    feed = feed_of(wiring, "lock")
    assert (feed.supply, feed.terminal.identity, feed.identity) == ("coil", "psu", "D1/lock")
    assert [source.id for source in feed.sources] == ["psu"]
    assert feed.chain == (feed.terminal,)
    assert wiring.unfed == ()


def test_a_channel_of_a_supply_takes_its_voltage_unless_it_has_its_own() -> None:
    wiring = sound("a: {product: strike, fed_from: psu.ch1}\nb: {product: strike, fed_from: psu.low}")
    assert source_voltage(feed_of(wiring, "a").terminal).text == "24 V +-5 %"
    assert source_voltage(feed_of(wiring, "b").terminal).text == "12 V"
    assert feed_of(wiring, "b").terminal.supply == "dc"
    assert [loaded.identity for loaded in wiring.outputs] == ["psu.ch1", "psu.low"]


def test_a_device_with_two_inputs_takes_each_feed_at_the_input_of_its_kind() -> None:
    wiring = sound("rc: {product: rc, fed_from: [sw, psu.low]}\nlock: {product: strike, fed_from: rc.lock}")
    assert [feed.supply for feed in wiring.by_item["D1/rc"]] == ["poe", "dc"]
    assert [source.id for source in feed_of(wiring, "lock").sources] == ["sw", "psu"]
    assert feed_of(wiring, "lock").terminal.identity == "D1/rc.lock"


def test_the_place_of_each_of_two_feeds_is_its_own_entry() -> None:
    result = door("rc: {product: rc, fed_from: [sw, psu.low]}\nhorn: {product: horn, fed_from: psu}")
    assert result.context is not None
    places = [feed.place for feed in result.context.wiring.feeds]
    assert [covered(result, place) for place in places] == ["sw", "psu.low", "psu"]


def test_an_output_that_passes_an_input_on_has_its_voltage() -> None:
    wiring = sound("rc: {product: rc, fed_from: [sw, psu.low]}\nhorn: {product: horn, fed_from: rc.aux}")
    terminal = feed_of(wiring, "horn").terminal
    assert terminal.passes_on is feed_of(wiring, "rc", 1)
    assert source_voltage(terminal).text == "12 V"
    assert terminal.supply == "dc"


def test_an_output_that_passes_on_an_input_that_nothing_feeds_has_no_known_voltage() -> None:
    wiring = sound("rc: {product: rc, fed_from: sw}\nhorn: {product: horn, fed_from: rc.aux}")
    with pytest.raises(Undecided):
        source_voltage(feed_of(wiring, "horn").terminal)


def test_the_only_output_needs_no_name_and_the_input_may_be_named() -> None:
    wiring = sound("conv: {product: step-down, fed_from: psu, input: dc}\nlock: {product: strike, fed_from: conv}")
    assert [terminal.label for terminal in feed_of(wiring, "lock").chain] == ["conv.out", "psu"]


def test_contacts_stand_in_series_with_what_they_switch() -> None:
    wiring = sound(
        "rc: {product: rc, fed_from: sw}\nexit: {product: button}\n"
        "lock: {product: strike, fed_from: psu, switched_by: rc.relay.nc, released_by: [fire.door, exit, unknown]}"
    )
    uses = feed_of(wiring, "lock").contacts
    assert [(use.identity, use.terminal, use.why) for use in uses] == [
        ("fire.door", "", "released_by"),
        ("D1/exit.c", "", "released_by"),
        ("D1/rc.relay", "nc", "switched_by"),
    ]
    assert {loaded.identity for loaded in wiring.contacts} == {"fire.door", "D1/exit.c", "D1/rc.relay"}


def test_a_device_with_inputs_that_nothing_feeds_is_listed() -> None:
    wiring = sound("rc: {product: rc}\nexit: {product: button}\nhorn: {product: horn, fed_from: unknown}")
    assert [item.name for item in wiring.unfed] == ["rc", "horn"]


def test_the_mains_give_ac_and_a_poe_source_gives_poe() -> None:
    wiring = sound("a: {product: strike, fed_from: grid}\nrc: {product: rc, fed_from: sw}")
    assert feed_of(wiring, "a").terminal.supply == "ac"
    terminal = feed_of(wiring, "rc").terminal
    assert (terminal.supply, terminal.output.poe_class) == ("poe", 4)


def test_what_follows_from_another_field_is_shown_where_that_field_stands() -> None:
    result = door("a: {product: strike, fed_from: grid}\nrc: {product: rc, fed_from: [sw, psu]}")
    assert result.context is not None
    by_item = result.context.wiring.by_item
    assert covered(result, by_item["D1/a"][0].terminal.output.at("supply")) == "mains"
    assert covered(result, by_item["D1/rc"][0].terminal.output.at("supply")) == "poe_switch"
    assert covered(result, by_item["D1/rc"][0].load.at("supply")) == "poe"
    assert covered(result, by_item["D1/rc"][1].load.at("supply")) == "dc"


def test_a_coil_whose_setting_is_not_stated_has_what_its_settings_share() -> None:
    result = door("lock: {product: maglock, fed_from: psu}\nset: {product: maglock, coil_setting: 24 V, fed_from: psu}")
    assert result.spec is not None
    items = result.spec.openings["D1"].items
    coil = ports(items["lock"])["coil"]
    assert isinstance(coil, Coil)
    assert (coil.voltage, coil.current, coil.supply) == (None, None, "dc")
    assert covered(result, coil.at("voltage")) == "lock"
    assert covered(result, coil.at("supply")) == "dc"
    chosen = ports(items["set"])["coil"]
    assert covered(result, chosen.at("voltage")) == "24 V"


# -- what contradicts itself -----------------------------------------------------------------------


def test_devices_that_feed_each_other() -> None:
    found, result = only("a: {product: step-down, fed_from: b}\nb: {product: step-down, fed_from: a}")
    assert found.rule == "wiring/feed-loop"
    assert "a -> b -> a" in found.message
    assert covered(result, found.place) == "a"
    assert [covered(result, related.place) for related in found.related] == ["b"]


def test_a_device_that_feeds_itself() -> None:
    found, result = only("a: {product: step-down, fed_from: a}")
    assert found.rule == "wiring/feed-loop"
    assert covered(result, found.place) == "a"
    assert found.related


def test_one_input_fed_twice() -> None:
    found, result = only("lock: {product: strike, fed_from: [psu.low, psu.ch1]}")
    assert found.rule == "wiring/two-feeds"
    assert covered(result, found.place) == "psu.ch1"
    assert [covered(result, related.place) for related in found.related] == ["psu.low"]


@pytest.mark.parametrize(
    ("items", "rule", "text", "told", "other"),
    [
        ("lock: {product: strike, fed_from: pzu}", "reference/unknown-id", "pzu", "did you mean psu?", "psu"),
        ("lock: {product: strike, fed_from: nowhere}", "reference/unknown-id", "nowhere", "no power source", None),
        ("lock: {product: strike, fed_from: psu.ch9}", "reference/unknown-id", "psu.ch9", "ch1, low", "psu"),
        (
            "rc: {product: rc, fed_from: sw}\nlock: {product: strike, fed_from: rc}",
            "reference/unclear-output",
            "rc",
            "several outputs, lock, aux",
            "rc",
        ),
        ("rc: {product: rc, fed_from: grid}", "reference/unclear-output", "grid", "inputs poe, dc", "grid"),
        (
            "exit: {product: button}\nlock: {product: strike, fed_from: psu, switched_by: exti}",
            "reference/unknown-id",
            "exti",
            "did you mean exit?",
            "exit",
        ),
        (
            "rc: {product: rc, fed_from: sw}\nlock: {product: strike, fed_from: psu, switched_by: rc.relais}",
            "reference/unknown-id",
            "rc.relais",
            "its contacts are relay, spare",
            "rc",
        ),
        (
            "rc: {product: rc, fed_from: sw}\nlock: {product: strike, fed_from: psu, switched_by: rc}",
            "reference/unknown-id",
            "rc",
            "its contacts are relay, spare",
            "rc",
        ),
    ],
)
def test_a_reference_that_does_not_resolve(items: str, rule: str, text: str, told: str, other: str | None) -> None:
    found, result = only(items)
    assert found.rule == rule
    assert covered(result, found.place) == text
    assert told in found.message
    assert [covered(result, related.place) for related in found.related] == ([other] if other else [])


def test_sources_that_feed_each_other_and_a_source_fed_from_nowhere() -> None:
    text = (
        "doorlint: 1\nproject: {name: Case}\npower:\n"
        "  a: {kind: ups, fed_from: b}\n  b: {kind: power_supply, fed_from: a}\n"
        "  c: {kind: power_supply, fed_from: a}\n  d: {kind: power_supply, fed_from: e}\n"
    )
    result = review_text(text, "case.yaml", rulebook=NONE)
    loop, lost = sorted(result.outcomes, key=lambda o: o.rule, reverse=True)
    assert loop.rule == "wiring/feed-loop"
    assert {covered(result, loop.place), *(covered(result, r.place) for r in loop.related)} == {"a", "b"}
    assert (lost.rule, covered(result, lost.place)) == ("reference/unknown-id", "e")


def test_a_chain_longer_than_any_door_needs_is_told_and_not_followed() -> None:
    count = LONGEST_CHAIN * 10
    lines = [f"d{n}: {{product: step-down, fed_from: {f'd{n - 1}' if n else 'psu'}}}" for n in reversed(range(count))]
    result = door("\n".join(lines))
    assert {o.rule for o in result.outcomes} == {"document/over-limit"}
    assert all(o.related for o in result.outcomes)


# -- what is drawn ---------------------------------------------------------------------------------


def test_own_current_and_peak() -> None:
    wiring = sound("lock: {product: strike, fed_from: psu}\nstation: {product: station, fed_from: psu}")
    assert own_current(feed_of(wiring, "lock")) == Fraction(45, 100)
    assert own_peak(feed_of(wiring, "lock")) == Fraction(60, 100)
    assert own_current(feed_of(wiring, "station")) == Fraction(1, 2)  # 12 W at 24 V
    with pytest.raises(Undecided) as gap:
        own_peak(feed_of(wiring, "station"))
    assert gap.value.name == "peak"


def test_a_passed_on_load_adds_its_current_and_a_converted_one_its_power() -> None:
    wiring = sound(
        "rc: {product: rc, fed_from: [sw, psu.low]}\nhorn: {product: horn, fed_from: rc.aux}\n"
        "conv: {product: step-down, fed_from: psu}\nlock: {product: strike, fed_from: conv}"
    )
    assert passed_on(feed_of(wiring, "rc", 1), wiring) == Fraction(1, 10)
    assert passed_on(feed_of(wiring, "rc", 0), wiring) == 0
    # 450 mA x 12 V = 5.4 W; / 0.8 = 6.75 W; / 24 V = 281.25 mA; + 20 mA of its own
    assert steady(feed_of(wiring, "conv"), wiring) == Fraction(28125, 100000) + Fraction(2, 100)


def test_totals_come_with_their_working() -> None:
    wiring = sound("one: {product: strike, fed_from: psu}\ntwo: {product: strike, fed_from: psu}")
    total, step = total_steady(wiring.feeds, wiring)
    assert total == Fraction(9, 10)
    assert step.formula == "one + two"
    assert [term.text for term in step.terms] == ["450 mA", "450 mA"]
    peak, step = total_peak(wiring.feeds, wiring)
    assert peak == Fraction(12, 10)
    assert step.formula == "one peak + two peak"


def test_the_nominal_value_of_a_range_is_its_middle() -> None:
    assert nominal(Band(Fraction(12), Fraction(24), None, "voltage", "12..24 V")) == 18
    assert nominal(Band(Fraction(12), Fraction(24), Fraction(20), "voltage", "")) == 20


# -- wiring that makes no sense --------------------------------------------------------------------

NAMES = [f"i{n}" for n in range(6)]
TARGETS = [
    *NAMES,
    *(f"{name}.{output}" for name in NAMES for output in ("lock", "aux", "out", "nothing")),
    "sw",
    "psu",
    "psu.ch1",
    "psu.none",
    "grid",
    "lost",
    "unknown",
    "",
    ".",
    "..",
    "a.b.c",
]
CONTACTS = [
    *(f"{name}.relay" for name in NAMES),
    *NAMES,
    "fire.door.nc",
    "i0.relay.no",
    "lost.x.nc",
    "unknown",
    "",
    ".",
]
reference = st.one_of(st.sampled_from(TARGETS), st.lists(st.sampled_from(TARGETS), max_size=4))
item = st.fixed_dictionaries(
    {"product": st.sampled_from(["strike", "maglock", "horn", "station", "rc", "step-down", "button", "lost"])},
    optional={
        "fed_from": reference,
        "input": st.sampled_from(["poe", "dc", "ac", "unknown"]),
        "switched_by": st.one_of(st.sampled_from(CONTACTS), st.lists(st.sampled_from(CONTACTS), max_size=3)),
        "released_by": st.sampled_from(CONTACTS),
        "coil_setting": st.sampled_from(["12 V", "24 V", "48 V", "unknown"]),
    },
)
items = st.dictionaries(st.sampled_from(NAMES), item, min_size=1)


@settings(max_examples=150, deadline=None)
@given(generated=items)
def test_no_wiring_raises_or_breaks_a_rule_and_each_contradiction_names_both_places(generated: dict[str, Any]) -> None:
    text = SITE + "".join(f"      {name}: {yaml.safe_dump(one, default_flow_style=True, width=9999).strip()}\n"
                          for name, one in generated.items())  # fmt: skip
    result = review_text(text, "case.yaml", rulebook=BOOK)
    assert not result.broken, [o.message for o in result.outcomes if o.rule == "rulebook/rule-broke"]
    assert result.context is not None
    for found in result.context.wiring.findings:
        assert covered(result, found.place) or found.place.part == "value"  # an empty reference covers no text
        for related in found.related:
            result.region(related.place)
        if found.rule.startswith("wiring/") or found.rule == "reference/unclear-output":
            assert found.related, found.message
    for feed in result.context.wiring.feeds:
        assert len(feed.chain) <= len(generated)
        assert feed.sources is not None


@settings(max_examples=150, deadline=None)
@given(st.dictionaries(st.sampled_from(NAMES), st.sampled_from([*NAMES, "psu"]), min_size=1))
def test_a_feed_loop_is_found_exactly_where_the_graph_has_a_cycle(fed: dict[str, str]) -> None:
    """Against the topological sort of Python's standard library."""
    lines = "\n".join(f"{name}: {{product: step-down, fed_from: {source}}}" for name, source in fed.items())
    looped = any(o.rule == "wiring/feed-loop" for o in wired(lines).findings)
    try:
        TopologicalSorter({name: [source] for name, source in fed.items()}).prepare()
    except CycleError:
        assert looped
    else:
        assert not looped
