"""Forces and moments at the leaf: laws that hold for every leaf, and the published tables in test_published_forces."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint.mechanics.forces import (
    CLOSER_SIZES,
    HANDLE_INSET_M,
    closer_size_for,
    edge_force_n,
    force_at_hand_n,
    pressure_moment_nm,
)

few = settings(max_examples=60, deadline=None)
widths = st.fractions(min_value=Fraction(3, 10), max_value=2, max_denominator=1000)
heights = st.fractions(min_value=1, max_value=4, max_denominator=1000)
pressures = st.fractions(min_value=0, max_value=200, max_denominator=100)


@few
@given(pressure=pressures, width=widths, height=heights)
def test_the_edge_carries_half_of_the_whole_force(pressure: Fraction, width: Fraction, height: Fraction) -> None:
    """Statics: a uniform load on a panel that is held at both edges stands half at each."""
    assert pressure_moment_nm(pressure, width, height) / width == pressure * width * height / 2


@few
@given(pressure=pressures, width=widths, height=heights)
def test_the_moment_is_the_integral_of_the_pressure(pressure: Fraction, width: Fraction, height: Fraction) -> None:
    """numpy's trapezium rule over the leaf, strip by strip from the hinges, which is exact for a linear integrand."""
    arms = np.linspace(0.0, float(width), 50)
    total = np.trapezoid(float(pressure) * float(height) * arms, arms)
    assert float(pressure_moment_nm(pressure, width, height)) == pytest.approx(total, rel=1e-9, abs=1e-12)


@few
@given(moment=pressures, width=widths)
def test_force_times_arm_is_the_moment(moment: Fraction, width: Fraction) -> None:
    assert force_at_hand_n(moment, width) * (width - HANDLE_INSET_M) == moment


def test_a_hand_beside_the_leaf_is_refused() -> None:
    with pytest.raises(ValueError, match="the hand is not on the leaf"):
        force_at_hand_n(Fraction(10), HANDLE_INSET_M)


@few
@given(force=pressures, width=widths, share=st.fractions(min_value=0, max_value=1, max_denominator=100))
def test_a_lever_is_in_proportion(force: Fraction, width: Fraction, share: Fraction) -> None:
    assert edge_force_n(force, width * share, width) == force * share


@few
@given(width=widths, mass=st.fractions(min_value=1, max_value=160, max_denominator=10))
def test_the_size_found_is_the_smallest_that_covers_both(width: Fraction, mass: Fraction) -> None:
    size = closer_size_for(width, mass)
    covers = [s for s, row in CLOSER_SIZES.items() if width <= row.width_m and mass <= row.mass_kg]
    assert size == (min(covers) if covers else None)
