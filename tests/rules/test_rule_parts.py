"""Parts that several rules use, and what the cases beside a rule do not show: nothing stated, or two that differ."""

from __future__ import annotations

import sys
from fractions import Fraction
from importlib import import_module
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from doorlint import codes
from doorlint.codes.setting import Setting
from doorlint.outcome import Cited, Kind, Outcome, Place
from doorlint.quantity import Quantity
from doorlint.reviewing import Result, review_text
from doorlint.rulebook import NotLoaded, Rulebook, collect
from doorlint.spec.fields import Part

built_in = import_module("doorlint.rules")
operators = import_module("doorlint.rules.access.operators")
lists = import_module("doorlint.rules.egress.lists")

SPECS = Path(__file__).parents[1] / "events" / "specs"
MODULES = {module.RULE.id: module for module in collect().modules}


def review(text: str, *rules: str) -> Result:
    return review_text(text, rulebook=Rulebook(tuple(MODULES[rule] for rule in rules)))


def outcome(result: Result, rule: str) -> Outcome:
    (found,) = [each for each in result.outcomes if each.rule == rule and each.kind is not Kind.NOT_APPLICABLE]
    return found


def worked(name: str, *changes: tuple[str, str]) -> str:
    text = (SPECS / f"{name}.yaml").read_text(encoding="utf-8")
    for before, after in changes:
        assert before in text
        text = text.replace(before, after)
    return text


def test_a_module_that_breaks_is_told_and_the_next_one_still_loads(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "parts_of_a_test"
    folder.mkdir()
    (folder / "__init__.py").write_text("", encoding="utf-8")
    (folder / "breaks.py").write_text("raise RuntimeError('on purpose')\n", encoding="utf-8")
    (folder / "loads.py").write_text("RULE = 'a rule'\n", encoding="utf-8")
    (folder / "none.py").write_text("", encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    import parts_of_a_test  # type: ignore[import-not-found]

    broken, loaded = built_in.modules(parts_of_a_test)
    assert isinstance(broken, NotLoaded) and "on purpose" in str(broken)
    assert loaded.RULE == "a rule"
    for name in [each for each in sys.modules if each.startswith("parts_of_a_test")]:
        del sys.modules[name]


@pytest.mark.parametrize(("leaf", "driven"), [("leaf: active, ", ["active"]), ("", ["active", "inactive"])])
def test_an_operator_drives_its_own_leaf_or_all_where_it_names_none(leaf: str, driven: list[str]) -> None:
    text = worked(
        "storefront_pair", ("side: secured, leaf: active, fed_from: mains", f"side: secured, {leaf}fed_from: mains")
    )
    result = review(text)
    assert result.spec is not None and result.context is not None
    item = result.spec.openings["pair"].items["operator"]
    assert [each.name for each in operators.leaves_of(item, result.context)] == driven


def _told(monkeypatch: pytest.MonkeyPatch, *limits: codes.Value, kind: str) -> Any:
    """A case under codes that set these limits, each with a ground of its own, and a part that states `figure`."""
    place = Place("door.yaml", "/project")
    found = tuple(
        Setting(
            "case/case", "Case", kind, limit, "at_most", "limit", f"X-{n}", f"X-{n}", Cited(f"X{n}", "1", "1"), place
        )
        for n, limit in enumerate(limits)
    )
    monkeypatch.setattr(codes, "settings", lambda *_, **__: (found, ()))
    opening = SimpleNamespace(occupancy=None, authority_approval=None)
    return SimpleNamespace(project=None, opening=opening)


def _seconds(value: int) -> Quantity:
    return Quantity(Fraction(value), "time", f"{value} s")


@pytest.mark.parametrize(
    ("stated", "kind", "grounds"),
    [(20, Kind.FAIL, ["X0"]), (10, Kind.PASS, ["X0", "X1"]), (40, Kind.FAIL, ["X0", "X1"])],
)
def test_a_figure_is_judged_by_the_codes_that_decide(
    monkeypatch: pytest.MonkeyPatch, stated: int, kind: Kind, grounds: list[str]
) -> None:
    case = _told(monkeypatch, _seconds(15), _seconds(30), kind="quantity")
    part: Part = SimpleNamespace(delay=_seconds(stated), at=lambda name: Place("door.yaml", f"/{name}"))  # type: ignore[assignment]
    verdict = lists.figure(case, "case/case", "delay", part, "delay")
    assert verdict.kind is kind
    assert [ground.document for ground in verdict.basis if isinstance(ground, Cited)] == grounds


def test_a_count_fails_where_one_of_two_codes_is_not_met(monkeypatch: pytest.MonkeyPatch) -> None:
    case = _told(monkeypatch, 5, 2, kind="count")
    monkeypatch.setattr(lists, "group_of", lambda _: "B")
    part: Part = SimpleNamespace(locks=3, at=lambda name: Place("door.yaml", f"/{name}"))  # type: ignore[assignment]
    verdict = lists.count(case, "case/case", "locks", part, "locks")
    assert verdict.kind is Kind.FAIL
    assert verdict.message == "locks 3: at most 2 is required (X-1)"


def test_a_device_without_one_contact_cannot_be_taken_into_a_feed() -> None:
    result = review(worked("storefront_magnet"))
    assert result.spec is not None
    items = result.spec.openings["front"].items
    assert lists.add_contact(items["lock"], items["closer"]) == ()
    (repair,) = lists.add_contact(items["lock"], items["button"])
    assert repair.title == "take button.press into the feed of lock"


def test_an_opening_that_says_nothing_of_how_people_leave_is_judged_by_its_wiring() -> None:
    rule = "failure/credential-to-leave"
    text = worked("storefront_magnet", ("    egress: {side: from, by: sensor}\n", ""))
    assert outcome(review(text, rule), rule).kind is Kind.PASS


def test_a_source_within_reach_is_no_device_that_opens_the_lock() -> None:
    rule = "failure/outside-device-opens"
    outside = [
        ("fed_from: splitter.out, released_by: fire.relay.no, switched_by: module.relay.no", "fed_from: rc.lock"),
        ("port_class: 4, location: secured", "port_class: 4, location: unsecured"),
        ("lock: {product: strike,", "lock: {product: safe_strike,"),  # it opens when its source is switched off
    ]
    found = outcome(review(worked("server_room", *outside), rule), rule)
    assert found.kind is Kind.FAIL
    assert found.related
    assert not [each for each in found.related if "power source" in each.caption]


def test_a_change_of_what_holds_a_lock_is_always_one_of_life_safety() -> None:
    rule = "release/fail-safe-held-by-poe-alone"
    text = """
doorlint: 1
project: {name: Invented}
products:
  splitter: {kind: poe_splitter, inputs: {poe: {poe_class: 4}}, outputs: {out: {supply: dc, voltage: 12 V}}}
  lock: {kind: electric_strike, fail: selectable, coil: {voltage: 12 V, current: 300 mA}}
power:
  sw: {kind: poe_switch, standard: 802.3at}
  psu: {kind: power_supply, supply: dc, voltage: 12 V, backup: 4 h}
openings:
  D1:
    security: high
    unsecured_side: to
    items:
      splitter: {product: splitter, side: secured, fed_from: sw}
      lock: {product: lock, side: boundary, fail: safe, fed_from: splitter.out}
"""
    found = outcome(review(text, rule), rule)
    assert found.kind is Kind.FAIL
    titles = [each.title.partition(",")[0] for each in found.repairs]
    assert titles == ["feed lock from psu", "set lock to fail-secure"]
    assert all(each.life_safety for each in found.repairs)


def test_the_lowest_of_two_clamps_is_what_the_switch_sees() -> None:
    rule = "suppression/clamp-over-switch"
    text = """
doorlint: 1
project: {name: Invented}
products:
  lock: {kind: electromagnetic_lock, fail: safe, coil: {voltage: 12 V, current: 300 mA}}
  rc: {kind: door_controller, contacts: {out: {form: no, switch: solid_state, highest_voltage: 60 V}}}
  high: {kind: suppressor, suppressor: {type: tvs_bidirectional, stand_off: 40 V}}
  low: {kind: suppressor, suppressor: {type: tvs_bidirectional, stand_off: 15 V}}
power: {psu: {kind: power_supply, supply: dc, voltage: 12 V}}
openings:
  D1: {items: {rc: {product: rc}, lock: {product: lock, fed_from: psu, switched_by: rc.out, suppression: PARTS}}}
"""
    parts = "[{product: high, location: at_lock}, {product: low, location: at_lock}]"
    found = outcome(review(text.replace("PARTS", parts), rule), rule)
    assert found.measured is not None
    assert float(found.measured.value) == pytest.approx(12 + 1.65 * 15)  # as clamps go, common practice, no source


def test_of_a_source_whose_peak_is_not_known_the_peak_is_asked_for() -> None:
    """The leaves hang on two outputs, so what the source as a whole gives decides: its peak, where it has one."""
    rule = "release/leaves-peak-together"
    text = """
doorlint: 1
project: {name: Invented}
products:
  bar: {kind: latch_retraction_exit_device, coil: {voltage: 24 V, current: 400 mA, peak: 14 A, peak_duration: 300 ms}}
power: {psu: {kind: power_supply, voltage: 24 V, current: 2 A, peak: unknown, outputs: {"1": {}, "2": {}}}}
openings:
  D1:
    items:
      one: {product: bar, leaf: active, fed_from: psu.1}
      two: {product: bar, leaf: inactive, fed_from: psu.2}
"""
    found = outcome(review(text, rule), rule)
    assert found.kind is Kind.OPEN
    assert found.missing == ("peak",)
