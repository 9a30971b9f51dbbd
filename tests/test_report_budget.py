"""The power budget: the PoE schedule against hand calculation, what is open, and the page as a whole."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from doorlint.report import budget
from doorlint.report.budget import COLUMNS, poe_lines, render
from doorlint.report.text import CAUTIONS
from doorlint.reviewing import Result, review, review_text
from doorlint.rulebook import Rulebook

EXAMPLE = Path(__file__).parent.parent / "examples" / "gull_point_ferry_terminal_clean"

SPEC = """\
doorlint: 1
project: {name: Invented}
products:
  lock: {kind: electric_strike, coil: {voltage: 12 V, current: 500 mA, peak: 600 mA, peak_duration: 80 ms}}
  rc:
    kind: reader_controller
    efficiency: 80 %
    inputs: {poe: {poe_class: 3, power: 3 W}}
    outputs: {lock: {supply: dc, voltage: 12 V}}
power:
  ups: {kind: ups, backup: 3 h}
  sw:
    kind: poe_switch
    standard: 802.3at
    ports: 8
    budget: 77 W
    allocation: by_class
    fed_from: ups
    required_backup: 4 h
cables: {cat6: {kind: category, category: 6, conductor: 24 AWG}}
openings:
  D1:
    items:
      rc: {product: rc, fed_from: sw, cable: cat6, length: 50 m}
      lock: {product: lock, fed_from: rc.lock}
"""


def reviewed(text: str) -> Result:
    return review_text(text, "door.yaml", rulebook=Rulebook())


def row(result: Result, device: str) -> dict[str, str]:
    """One row of the schedule by its columns, which stand at least two spaces apart."""
    lines = poe_lines(result)
    found = next(line for line in lines if re.match(rf"\s+{re.escape(device)}\s\s", line))
    return dict(zip(COLUMNS, re.split(r"\s{2,}", found.strip()), strict=True))


def test_the_schedule_shows_what_a_hand_calculation_gives() -> None:
    """By hand: 3 W + 6 W / 0.8 = 10.5 W of 12.95 W, 2.45 W left; at the peak 3 + 7.2 / 0.8 = 12 W.

    Class 3 is 15.4 W at the port and 12.95 W at the device (IEEE 802.3). 50 m of 24 AWG, 84.2 ohm/km at 20 degC, at
    40 degC: 4.54 ohm.
    """
    assert row(reviewed(SPEC), "D1/rc") == {
        "device": "D1/rc",
        "asks": "3",
        "gets": "3",
        "channel": "50 m 4.54 ohm",
        "set aside": "15.4 W",
        "available": "12.95 W",
        "drawn": "10.5 W",
        "margin": "2.45 W",
        "peak": "12 W 80 ms",
    }


def test_the_source_is_headed_by_its_budget_and_its_standby() -> None:
    """By hand: one class 3 port takes 15.4 W of 77 W, 20 %."""
    text = "\n".join(poe_lines(reviewed(SPEC)))
    assert "sw: PoE switch, 802.3at, fed from ups" in text
    assert "1 of 8 ports in use; set aside by class 15.4 W of 77 W (20 %), 61.6 W left" in text
    assert "without mains: 3 h (ups states 3 h); required: 4 h" in text
    assert "D1/rc = itself 3 W + lock 6 W, at 80 % efficiency" in text
    assert "  D1: 3 h (sw)" in text


def test_by_use_the_loss_of_the_channel_comes_on_top() -> None:
    """By hand: P V / V_pd with V_pd = (44 + sqrt(44^2 - 4 x 10.5 x 4.541)) / 2 = 42.89 V: 10.77 W."""
    found = row(reviewed(SPEC.replace("by_class", "by_use")), "D1/rc")
    assert found["set aside"] == "10.77 W"


def test_what_is_not_known_is_open_and_never_a_number() -> None:
    result = reviewed(SPEC.replace(", power: 3 W", "").replace(", length: 50 m", ""))
    found = row(result, "D1/rc")
    assert [found[name] for name in ("channel", "available", "drawn", "margin", "peak")] == ["open"] * 5
    assert found["set aside"] == "15.4 W"
    lines = poe_lines(result)
    assert "  open: D1/rc: length is not stated" in lines
    assert "  open: D1/rc: power is not stated" in lines
    assert "  D1/rc = itself open + lock 6 W, at 80 % efficiency" in lines


def test_an_unknown_load_is_open_in_the_sum_and_in_its_parts() -> None:
    result = reviewed(SPEC.replace("current: 500 mA", "current: unknown"))
    assert row(result, "D1/rc")["drawn"] == "open"
    assert "  open: D1/rc: current is not known" in poe_lines(result)
    assert "lock open" in "\n".join(poe_lines(result))


def test_a_budget_that_is_not_stated_or_exceeded_is_said() -> None:
    assert "15.4 W, budget: not stated" in "\n".join(poe_lines(reviewed(SPEC.replace("    budget: 77 W\n", ""))))
    text = "\n".join(poe_lines(reviewed(SPEC.replace("77 W", "10 W"))))
    assert "15.4 W of 10 W (154 %), 5.4 W too much" in text


def test_a_chain_that_is_not_known_is_open() -> None:
    text = "\n".join(poe_lines(reviewed(SPEC.replace("ups: {kind: ups, backup: 3 h}", "ups: {kind: ups}"))))
    assert "without mains: open (backup is not stated)" in text
    assert "D1: open for sw" in text


def test_a_passive_source_has_no_classes() -> None:
    text = SPEC.replace("standard: 802.3at", "standard: passive")
    found = row(reviewed(text), "D1/rc")
    assert found["gets"] == "passive"
    assert found["asks"] == found["available"] == "-"
    assert found["drawn"] == "10.5 W"


EXTENDER = "  ext: {kind: poe_extender, inputs: {poe: {poe_class: 4, power: 2 W}}, outputs: {port: {through: poe}}}\n"
EXTENDED = "ext: {product: ext, fed_from: sw, cable: cat6, length: 80 m}\n      rc: {product: rc, fed_from: ext.port"


def test_a_device_behind_an_extender_says_so() -> None:
    text = SPEC.replace("power:\n", EXTENDER + "power:\n", 1).replace("rc: {product: rc, fed_from: sw", EXTENDED)
    assert row(reviewed(text), "D1/rc behind ext")["set aside"] == "-"
    assert row(reviewed(text), "D1/ext")["set aside"] == "30 W"


def test_without_poe_there_is_no_schedule() -> None:
    assert poe_lines(reviewed("doorlint: 1\nproject: {name: Invented}\n")) == []


def test_the_page_joins_poe_and_supplies_under_the_cautions() -> None:
    page = render(reviewed(SPEC))
    assert page.startswith("Power budget of Invented (door.yaml)\n")
    flat = " ".join(page.split())
    for caution in CAUTIONS:
        assert caution in flat
    assert "POWER OVER ETHERNET" in page
    assert page.index("POWER OVER ETHERNET") < page.index("schedule of ups")


def test_a_spec_without_power_says_so() -> None:
    assert "no power source" in render(reviewed("doorlint: 1\nproject: {name: Invented}\n"))


def test_what_would_steer_a_terminal_is_escaped() -> None:
    page = render(reviewed(SPEC.replace("name: Invented", 'name: "\\e[2J"')))
    assert "\x1b" not in page
    assert "<U+001B>" in page


@pytest.fixture(scope="module")
def example() -> Result:
    return review(EXAMPLE)


def test_every_poe_device_of_the_example_has_its_row(example: Result) -> None:
    context = example.context
    assert context is not None
    assert context.poe.links
    for link in context.poe.links:
        assert row(example, link.identity)["device"] == link.identity


def test_the_schedule_and_the_rules_show_the_same_figures(example: Result) -> None:
    compared = 0
    text = "\n".join(poe_lines(example))
    for outcome in example.outcomes:
        if outcome.rule == "poe/draw-above-available-power" and outcome.measured is not None:
            found = row(example, outcome.subject)
            assert (found["drawn"], found["available"]) == (str(outcome.measured), str(outcome.limit))
            compared += 1
        if outcome.rule == "poe/budget-exceeded" and outcome.measured is not None:
            assert f"set aside by class {outcome.measured} of {outcome.limit}" in text
            compared += 1
    assert compared > 3


def test_no_line_is_a_stray_number(example: Result) -> None:
    page = render(example)
    assert not re.search(r"\b(nan|inf|None|Fraction)\b", page)
    assert budget.COLUMNS[0] in page
