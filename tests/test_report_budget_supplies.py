"""The power and battery schedules of supplies."""

from __future__ import annotations

import doorlint
from doorlint.report.budget_supplies import supply_lines
from doorlint.rulebook import Rulebook

NO_RULES = Rulebook()

SPEC = """\
doorlint: 1
project: {name: Case}
products:
  magnet: {kind: electromagnetic_lock, fail: safe, coil: {voltage: 12 V, current: 500 mA}}
  strike: {kind: electric_strike, fail: secure, coil: {voltage: 12 V, current: 400 mA, peak: 1.2 A, peak_duration: 1 s}}
  board:
    kind: door_controller
    inputs: {dc: {voltage: 12 V, current: 200 mA, peak: 300 mA, peak_duration: 1 ms, idle_power: 1.2 W}}
    outputs: {lock: {through: dc, current: 2 A}}
power:
  ups: {kind: ups, supply: ac, voltage: 120 V, current: 5 A, backup: 2 h, required_backup: 1 h}
  psu:
    kind: power_supply
    title: Supply in closet 1
    fed_from: ups
    input_power: 60 W
    supply: dc
    voltage: 12 V
    current: 4 A
    load_share: 75 %
    required_backup: 20 h
    battery:
      chemistry: lead_acid
      voltage: 12 V
      capacity: 18 Ah
      charge_current: 750 mA
      temperature: 20..25 degC
    outputs: {ch1: {current: 2 A}}
  idle: {kind: power_supply, voltage: 12 V}
openings:
  D1: {items: {lock: {product: magnet, fed_from: psu.ch1}}}
  D2:
    items:
      board: {product: board, fed_from: psu}
      lock: {product: strike, fed_from: board.lock}
"""


def lines_of(text: str) -> list[str]:
    return supply_lines(doorlint.review_text(text, "case.yaml", rulebook=NO_RULES))


def row(lines: list[str], start: str) -> list[str]:
    """The cells of the line that starts so."""
    (found,) = [line for line in lines if line.strip().startswith(start)]
    return [cell for cell in found.strip().split("  ") if cell]


def line_number(text: str) -> int:
    return SPEC.splitlines().index(next(line for line in SPEC.splitlines() if text in line)) + 1


def test_each_load_with_steady_peak_and_rest_and_where_it_stands() -> None:
    lines = lines_of(SPEC)
    assert "Power schedule of psu: Supply in closet 1" in lines
    cells = [cell.strip() for cell in row(lines, "D1/lock")]
    assert cells[:5] == ["D1/lock", "ch1", "500 mA", "500 mA", "500 mA"]
    assert cells[5] == "fail-safe, energised" and cells[6].endswith(f":{line_number('magnet:')}")
    # The board carries the strike: 200 + 400 mA steady; its own peak on top of that; at rest 1.2 W / 12 V.
    board = [cell.strip() for cell in row(lines, "D2/board with lock")]
    assert board[1:5] == ["600 mA", "700 mA", "100 mA", "idle power"]


def test_totals_share_and_worst_group() -> None:
    lines = lines_of(SPEC)
    total = [cell.strip() for line in lines if "all together" in line for cell in line.strip().split("  ") if cell]
    assert total[total.index("1.1 A") - 1 :][:4] == ["all together", "1.1 A", "1.2 A", "600 mA"]
    text = "\n".join(lines)
    assert "rated 4 A" in text and "27.5 % used, 75 % meant for use" in text  # 1.1 A of 4 A
    assert f":{line_number('load_share')})" in text
    assert "highest peak of locks that act at once: 1.9 A (opening D2: D2/lock)" in text


def test_battery_schedule_shows_the_calculation() -> None:
    lines = lines_of(SPEC)
    assert "Battery and standby of psu" in lines
    assert [cell.strip() for cell in row(lines, "charge given")][1] == "12 Ah"  # 0.6 A for 20 h
    assert [cell.strip() for cell in row(lines, "with ageing")][1] == "15 Ah"
    text = "\n".join(lines)
    assert f"capacity 18 Ah (case.yaml:{line_number('capacity: 18 Ah')}), needed 15 Ah: enough" in text
    assert "lasts 24 h at the end of the battery's life" in text  # 18 Ah x 0.8 / 0.6 A
    assert "recharge to 80 %: 23.04 h at 750 mA" in text  # 1.2 x 0.8 x 18 Ah / 0.75 A
    assert "demanded: 20 h" in text


def test_a_ups_shows_what_it_states_and_what_hangs_on_it() -> None:
    lines = lines_of(SPEC)
    assert [cell.strip() for cell in row(lines, "psu ")][:3] == ["psu", "500 mA", "500 mA"]  # 60 W at 120 V
    assert any("goes on without mains for 2 h: ups states 2 h" in line for line in lines)
    assert lines[lines.index("Power schedule of idle") + 1] == "  nothing is fed from it"


def test_what_is_missing_is_open_and_named() -> None:
    text = SPEC.replace("current: 500 mA", "current: unknown").replace("capacity: 18 Ah", "capacity: unknown")
    lines = lines_of(text)
    assert [cell.strip() for cell in row(lines, "D1/lock")][2:5] == ["open: current"] * 3
    joined = "\n".join(lines)
    assert "share of the rating: open, current is missing at case.yaml" in joined
    assert "recharge: open, capacity is missing at case.yaml" in joined
    peak = "\n".join(lines_of(SPEC.replace("peak: 1.2 A, ", "")))
    assert "highest peak of locks that act at once: open, peak is missing at case.yaml" in peak
    small = lines_of(SPEC.replace("capacity: 18 Ah", "capacity: 7 Ah"))
    assert any("needed 15 Ah: too small" in line for line in small)
    other = lines_of(SPEC.replace("chemistry: lead_acid", "chemistry: nimh"))
    assert any("open: how much of its capacity a nimh gives" in line for line in other)


def test_no_supplies_no_lines() -> None:
    assert lines_of("doorlint: 1\nproject: {name: Case}\npower: {sw: {kind: poe_switch}}\n") == []
    assert lines_of("doorlint: 1\nproject: {name: Case}\n") == []
