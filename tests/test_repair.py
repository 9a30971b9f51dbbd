"""Repairs: offered only when the review of the changed copy says that they cure, and nothing on disk is touched."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import doorlint
from doorlint.outcome import Kind, Level, Outcome
from doorlint.repair import apply, cures, with_cures
from doorlint.reviewing import Overlay, Result, review_root

BOOK = doorlint.collect()


# One lock on one run of cable; the fields that a test changes are in braces.
SPEC = """\
doorlint: 1
project: {{name: Invented}}
products:
  strike:
    kind: electric_strike
    fail: secure
    coil: {{supply: dc, voltage: 12 V +-10 %, current: {current} mA, peak: {current} mA, built_in_suppression: none}}
  part: {{kind: suppressor, suppressor: {{type: tvs_bidirectional, stand_off: {stand_off} V}}}}
  part-18: {{kind: suppressor, suppressor: {{type: tvs_bidirectional, stand_off: 18 V}}}}
power:
  psu: {{kind: power_supply, supply: dc, voltage: 12 V, current: 4 A}}
cables:
  thin: {{kind: multiconductor, conductor: {gauge} AWG}}
  thick: {{kind: multiconductor, conductor: 12 AWG}}
openings:
  "1":
    items:
      lock: {{product: strike, fed_from: psu, cable: thin, length: {length} m, suppression: part}}
"""


def _review(**values: object) -> Result:
    filled = {"current": 450, "stand_off": 18, "gauge": 18, "length": 20, **values}
    return doorlint.review_text(SPEC.format(**filled), rulebook=BOOK)


def _failure(result: Result, rule: str) -> Outcome:
    return next(o for o in result.outcomes if o.rule == rule and o.kind is Kind.FAIL)


def _errors(result: Result) -> set[tuple[str, str]]:
    return {(o.rule, o.subject) for o in result.outcomes if o.kind is Kind.FAIL and o.level is Level.ERROR}


def test_too_long_a_run_is_cured_by_a_thicker_cable_or_a_shorter_run() -> None:
    result = _review(length=80)
    offered = cures(result, _failure(result, "supply/voltage-below-minimum"))
    assert offered and all(repair.verified for repair in offered)
    changed = {repair.changes[0].place.pointer.rpartition("/")[2] for repair in offered}
    assert changed >= {"cable", "length"}


def test_the_longest_run_is_the_longest() -> None:
    """Half a metre more than the run that is offered fails again."""
    result = _review(length=80)
    offered = cures(result, _failure(result, "supply/voltage-below-minimum"))
    (run,) = [r.changes[0].text for r in offered if r.changes[0].place.pointer.endswith("/length")]
    metres = float(run.removesuffix(" m"))
    longer = _review(length=metres + 0.5)
    assert _failure(longer, "supply/voltage-below-minimum").margin is not None
    assert not [
        o for o in _review(length=metres).outcomes if o.rule == "supply/voltage-below-minimum" and o.kind is Kind.FAIL
    ]


def test_what_does_not_cure_is_not_offered() -> None:
    """At 1,000 m not even the thickest cable of the spec helps, so it is not offered."""
    result = _review(length=1000)
    offered = cures(result, _failure(result, "supply/voltage-below-minimum"))
    assert not [r for r in offered if r.changes[0].place.pointer.endswith("/cable")]


def test_nothing_is_offered_that_adds_an_error(tmp_path: Path) -> None:
    """A suppressor that cures the low stand-off but is itself wrong for AC would be another error."""
    text = SPEC.format(current=450, stand_off=10, gauge=18, length=20)
    text = text.replace("part-18: {kind: suppressor, suppressor: {type: tvs_bidirectional, stand_off: 18 V}}",
                        "part-18: {kind: suppressor, suppressor: {type: diode, stand_off: 400 V}}")  # fmt: skip
    text = text.replace("supply: dc", "supply: ac")
    result = doorlint.review_text(text, rulebook=BOOK)
    offered = cures(result, _failure(result, "suppression/stand-off-below-supply"))
    assert not [r for r in offered if r.changes[0].text == "part-18"]


def test_files_on_disk_are_not_touched(tmp_path: Path) -> None:
    path = tmp_path / "spec.yaml"
    text = SPEC.format(current=450, stand_off=10, gauge=24, length=80)
    path.write_text(text)
    result = with_cures(doorlint.review(path, rulebook=BOOK))
    assert any(outcome.repairs for outcome in result.outcomes)
    assert path.read_text() == text
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize("style", ["block", "flow"])
def test_a_key_is_put_in(style: str) -> None:
    """A coil without any suppressor gets one, whether its item is written as a block or in braces."""
    text = SPEC.format(current=450, stand_off=18, gauge=18, length=20).replace(", suppression: part", "")
    if style == "block":
        text = text.replace(
            "      lock: {product: strike, fed_from: psu, cable: thin, length: 20 m}",
            "      lock:\n        product: strike\n        fed_from: psu\n        cable: thin\n        length: 20 m",
        )
    result = doorlint.review_text(text, rulebook=BOOK)
    offered = cures(result, _failure(result, "suppression/missing"))
    assert offered
    (changed,) = apply(result, offered[0]).values()
    assert "suppression: part" in changed
    after = _errors(doorlint.review_text(changed, rulebook=BOOK))
    assert after < _errors(result)
    assert ("suppression/missing", "1/lock") not in after


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    length=st.integers(5, 200),
    gauge=st.sampled_from([24, 22, 20, 18, 16]),
    current=st.sampled_from([150, 300, 450, 900]),
    stand_off=st.sampled_from([10, 12, 13, 15, 18]),
)
def test_a_repair_cures_and_adds_no_error(length: int, gauge: int, current: int, stand_off: int) -> None:
    result = _review(length=length, gauge=gauge, current=current, stand_off=stand_off)
    for outcome in with_cures(result).findings(Level.ERROR):
        for repair in outcome.repairs:
            assert result.files is not None
            after = review_root(Path(result.root), BOOK, Overlay(apply(result, repair)))
            assert (outcome.rule, outcome.subject) not in _errors(after)
            assert _errors(after) < _errors(result)


OF_ONE_SET = """\
doorlint: 1
project: {name: Invented}
products:
  strike: {kind: electric_strike, fail: secure, coil: {supply: dc, voltage: 12 V +-10 %, current: 450 mA, peak: 450 mA}}
power:
  psu: {kind: power_supply, supply: dc, voltage: 12 V, current: 4 A}
cables:
  thin: {kind: multiconductor, conductor: 18 AWG, jacket: [CL3P, wet location]}
  thick: {kind: multiconductor, conductor: 12 AWG, jacket: [CL3P]}
hardware_sets:
  office: {items: {lock: {product: strike, cable: thin}}}
openings:
  "1": {set: office, items: {lock: {fed_from: psu, length: 80 m}}}
  "2": {set: office, items: {lock: {fed_from: psu, length: 5 m, runs_through: SPACE}}}
"""


@pytest.mark.parametrize(("space", "is_offered"), [("plenum", True), ("wet", False)])
def test_a_change_of_a_set_that_harms_another_opening_is_not_offered(space: str, is_offered: bool) -> None:
    """The thicker cable cures the drop of the one opening, and in the wet run of the other it is unfit."""
    result = doorlint.review_text(OF_ONE_SET.replace("SPACE", space), rulebook=BOOK)
    offered = cures(result, _failure(result, "supply/voltage-below-minimum"))
    changed = {repair.changes[0].place.pointer for repair in offered}
    assert ("/hardware_sets/office/items/lock/cable" in changed) is is_offered
    assert "/openings/1/items/lock/length" in changed  # it touches the one alone
