"""Resistances that a supervised input sees."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint.circuit.inputs import Span, cable_loop_ohm, line_ohm, states
from doorlint.reviewing import review_text
from doorlint.rulebook import Rulebook
from doorlint.spec import Undecided

OHM = st.floats(0, 1e6)
SPEC = """\
doorlint: 1
project: {name: Case}
products: {c: {kind: door_position_switch}}
cables: {pair: {kind: multiconductor, conductor: 24 AWG, conductors: 2, strand: solid}}
openings: {D1: {items: {contact: {product: c, cable: pair, length: 200 m}, bare: {product: c}, near: {length: 0 m}}}}
"""


def span_of(name: str) -> Span:
    spec = review_text(SPEC, "case.yaml", rulebook=Rulebook()).spec
    assert spec is not None
    opening = spec.openings["D1"]
    return cable_loop_ohm(opening.items[name], opening, spec)


def test_two_hundred_metres_of_24_awg_by_hand() -> None:
    """ASTM B258: 24 AWG is 0.0201 in (0.5106 mm) thick; at the IACS resistivity of 17.241 nohm m (IEC 60028) that is
    84.2 ohm per km, so 400 m of it, out and back, are 33.7 ohm: 3.4 % of a resistor of 1 kohm."""
    area_m2 = 3.14159265 / 4 * 0.5106e-3**2
    by_hand = 400 * 17.241e-9 / area_m2
    assert by_hand == pytest.approx(33.7, abs=0.05)
    assert span_of("contact").low == pytest.approx(by_hand, rel=2e-3)


def test_warm_cable_by_the_iec_coefficient() -> None:
    """IEC 60028: copper rises by 0.393 % per kelvin from 20 degC; 40 degC is the least that is taken."""
    span = span_of("contact")
    assert span.high / span.low == pytest.approx(1 + 0.00393 * 20, rel=1e-6)


def test_length_zero_needs_no_cable_and_an_unknown_length_is_undecided() -> None:
    assert span_of("near") == Span(0.0, 0.0)
    with pytest.raises(Undecided, match="length"):
        span_of("bare")


def test_one_and_two_kilohms_by_hand() -> None:
    """Ohm's law: 1 kohm in series and 1 kohm across the contact, 1 % parts, 30 to 40 ohm of line."""
    found = states(1000, 1000, 0.01, Span(30, 40))
    assert found.closed == Span(1020, 1050)
    assert found.open == Span(2010, 2060)
    assert found.shorted == Span(0, 40)


@pytest.mark.parametrize("bad", [(-1, 1, 0.0), (1, -1, 0.0), (1, 1, 1.0), (1, 1, -0.1)])
def test_values_without_meaning_are_refused(bad: tuple[float, float, float]) -> None:
    with pytest.raises(ValueError, match=r"resistance|tolerance"):
        states(*bad, Span(0, 0))


def test_a_line_that_ends_before_it_begins_is_refused() -> None:
    with pytest.raises(ValueError, match="resistance"):
        states(1, 1, 0.0, Span(2, 1))


@settings(max_examples=60)
@given(series=OHM, parallel=OHM, tolerance=st.floats(0, 0.2), low=st.floats(0, 1e3), more=st.floats(0, 1e3))
def test_open_is_never_below_closed_and_the_nominal_lies_within(
    series: float, parallel: float, tolerance: float, low: float, more: float
) -> None:
    line = Span(low, low + more)
    found = states(series, parallel, tolerance, line)
    assert found.open.low >= found.closed.low
    assert found.open.high >= found.closed.high
    exact = states(series, parallel, 0.0, Span(low, low))
    assert exact.closed.within(Span(found.closed.low - 1e-6, found.closed.high + 1e-6))
    assert found.shorted.low == 0


@settings(max_examples=60)
@given(low=OHM, high=OHM, other_low=OHM, other_high=OHM)
def test_spans_meet_both_ways_and_one_within_another_meets_it(
    low: float, high: float, other_low: float, other_high: float
) -> None:
    one, other = Span(min(low, high), max(low, high)), Span(min(other_low, other_high), max(other_low, other_high))
    assert one.meets(other) == other.meets(one)
    if one.within(other):
        assert one.meets(other)


def test_an_aged_contact_adds_to_the_warm_cable_only() -> None:
    line = line_ohm(Span(10, 12))
    assert line.low - 10 < line.high - 12


def test_spans_that_end_at_the_same_resistance() -> None:
    span = Span(10.0, 20.0)
    assert span.within(Span(10.0, 20.0)) and not span.within(Span(10.1, 20.0)) and not span.within(Span(10.0, 19.9))
    assert span.meets(Span(20.0, 30.0)) and Span(20.0, 30.0).meets(span)
    assert not span.meets(Span(20.1, 30.0)) and not Span(20.1, 30.0).meets(span)
