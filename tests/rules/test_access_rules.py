"""Laws that the rules on forces and door operators keep, whatever the numbers are."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint.mechanics.forces import CLOSER_SIZES
from doorlint.outcome import Kind
from doorlint.reviewing import review_text
from doorlint.rulebook import Rulebook, collect

BOOK = {module.RULE.id: Rulebook((module,)) for module in collect().modules}
few = settings(max_examples=40, deadline=None)
ORDER = [Kind.PASS, Kind.FAIL]


def kinds(rule: str, text: str) -> list[Kind]:
    """What a rule says of a spec, requirement by requirement, without what does not apply."""
    result = review_text(text, "case.yaml", rulebook=BOOK[rule])
    assert not result.broken
    found = [o for o in result.outcomes if o.rule == rule and o.kind is not Kind.NOT_APPLICABLE]
    return [o.kind for o in sorted(found, key=lambda o: "fully" in o.message)]


def leaf(closer: str, width_mm: int, exposure: str = "interior", pressure_pa: int = 0) -> str:
    return f"""\
doorlint: 1
project: {{name: Case, codes: {{building: IBC-2021}}}}
products: {{closer: {{kind: closer, {closer}}}}}
openings:
  D1:
    fire_rating: none
    exposure: {exposure}
    pressure_difference: {pressure_pa} Pa
    leaf: {{width: {width_mm} mm, height: 2100 mm}}
    items: {{closer: {{product: closer}}}}
"""


FORCE = "access/opening-force-high"
sizes, widths = st.sampled_from(sorted(CLOSER_SIZES)), st.integers(600, 1600)
sides = st.sampled_from(["interior", "exposed"])


@few
@given(size=sizes, width=widths, exposure=sides, share=st.integers(0, 10))
def test_a_size_never_contradicts_a_moment_within_its_range(size: int, width: int, exposure: str, share: int) -> None:
    """What is decided by the size alone holds for every moment that a closer of the size can have."""
    row = CLOSER_SIZES[size]
    moment = row.closing_nm[0] + (row.opening_nm - row.closing_nm[0]) * share / 10
    by_size = kinds(FORCE, leaf(f"closer_size: {size}", width, exposure))
    by_moment = kinds(FORCE, leaf(f"opening_moment: {moment} N m", width, exposure))
    assert len(by_size) == len(by_moment)
    for one, other in zip(by_size, by_moment, strict=True):
        assert one in (other, Kind.OPEN)


@few
@given(moment=st.integers(0, 200), more=st.integers(0, 100), pressure=st.integers(0, 100), width=widths, exposure=sides)
def test_more_moment_or_pressure_never_cures(moment: int, more: int, pressure: int, width: int, exposure: str) -> None:
    light = kinds(FORCE, leaf(f"opening_moment: {moment} N m", width, exposure))
    heavy = kinds(FORCE, leaf(f"opening_moment: {moment + more} N m", width, exposure, pressure))
    for one, other in zip(light, heavy, strict=True):
        assert ORDER.index(one) <= ORDER.index(other)


OPERATED = """\
doorlint: 1
project: {{name: Case}}
products:
  strike: {{kind: electric_strike, response_time: {response} ms}}
  operator: {{kind: swing_operator}}
openings:
  D1:
    items:
      lock: {{product: strike}}
      operator: {{product: operator, start_delay: {delay} ms}}
"""


@few
@given(response=st.integers(0, 2000), delay=st.integers(0, 2500))
def test_an_operator_waits_for_the_lock_and_its_repair_cures(response: int, delay: int) -> None:
    rule = "access/operator-before-lock"
    text = OPERATED.format(response=response, delay=delay)
    result: Any = review_text(text, "case.yaml", rulebook=BOOK[rule])
    (found,) = [o for o in result.outcomes if o.subject == "D1/operator" and o.rule == rule]
    assert found.kind is (Kind.PASS if delay >= response + 200 else Kind.FAIL)
    for repair in found.repairs:
        (change,) = repair.changes
        cured = text.replace(f"start_delay: {delay} ms", f"start_delay: {change.text}")
        assert kinds(rule, cured) == [Kind.PASS]
    assert bool(found.repairs) is (found.kind is Kind.FAIL)


@pytest.mark.parametrize("function", ["classroom", "entrance", "passage", "privacy"])
def test_another_function_of_the_spec_is_offered_behind_a_strike(function: str) -> None:
    text = f"""\
doorlint: 1
project: {{name: Case}}
products:
  strike: {{kind: electric_strike}}
  lock: {{kind: mechanical_lock, function: {function}}}
  storeroom: {{kind: mechanical_lock, function: storeroom}}
openings:
  D1: {{items: {{lock: {{product: strike}}, latch: {{product: lock}}}}}}
"""
    rule = "fit/lock-function-past-release"
    result = review_text(text, "case.yaml", rulebook=BOOK[rule])
    (found,) = [o for o in result.outcomes if o.kind is Kind.FAIL and o.rule == rule]
    assert [change.text for repair in found.repairs for change in repair.changes] == ["storeroom"]
    assert kinds(rule, text.replace("product: lock}", "product: storeroom}")) == [Kind.PASS]
