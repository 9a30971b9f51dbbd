"""Times, strikes, sides and hands."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint.mechanics.sequence import OPERATOR_MARGIN_S, earliest_start_s, unlock_time_needed_s
from doorlint.mechanics.sides import hand_code, leaf_of, swings_into, unsecured_space
from doorlint.mechanics.strikes import LOCK_TYPES, takes_latch
from doorlint.outcome import Place
from doorlint.spec import Egress, Leaf, Opening, Undecided

HERE = Place("case.yaml", "/openings/D1")


def opening(**fields: object) -> Opening:
    return Opening(id="D1", place=HERE, **fields)  # type: ignore[arg-type]


def door(swing: str, egress: str | None = "from", unsecured: str | None = None) -> Opening:
    return opening(
        leaf=Leaf(place=HERE, swing=swing),
        egress=Egress(place=HERE, side=egress),
        unsecured_side=unsecured,
    )


@settings(max_examples=50, deadline=None)
@given(st.fractions(min_value=0, max_value=10, max_denominator=1000))
def test_start_and_unlock_time_grow_with_what_they_wait_for(value: Fraction) -> None:
    assert earliest_start_s(value) - value == OPERATOR_MARGIN_S
    assert earliest_start_s(float(value)) == pytest.approx(float(value) + 0.2)
    assert unlock_time_needed_s(value) == 2 * value + 2


def test_a_strike_takes_what_its_sheet_names() -> None:
    for one in LOCK_TYPES:
        assert takes_latch((one,), one) is True
        others = tuple(other for other in LOCK_TYPES if other != one)
        assert takes_latch(others, one) is False
    assert takes_latch(("mortise", "deadbolt"), "mortise") is True
    assert takes_latch(("mortise",), "bored") is None
    assert takes_latch(("bored",), "mortise") is None


# Hand by trade practice, judged from the outside: the four words by hinges and swing. Common practice, no source.
@pytest.mark.parametrize(
    ("hinges", "towards", "hand"),
    [("left", False, "lh"), ("right", False, "rh"), ("left", True, "lhr"), ("right", True, "rhr")],
)
def test_hands(hinges: str, towards: bool, hand: str) -> None:
    assert hand_code(hinges, towards) == hand


def test_a_hinge_is_left_or_right() -> None:
    with pytest.raises(ValueError, match="left or right"):
        hand_code("top", True)


def test_the_unsecured_space_is_stated_or_where_people_leave_into() -> None:
    assert unsecured_space(door("out")) == "to"
    assert unsecured_space(door("out", egress="to")) == "from"
    assert unsecured_space(door("out", unsecured="from")) == "from"
    for unclear in (door("out", egress="both"), door("out", unsecured="both"), opening()):
        with pytest.raises(Undecided, match="unsecured_side"):
            unsecured_space(unclear)


def test_a_leaf_swings_into_exactly_one_side_unless_both_ways() -> None:
    for swing in ("in", "out"):
        for egress in ("from", "to"):
            one = door(swing, egress)
            assert swings_into(one, "secured") is not swings_into(one, "unsecured")
    assert swings_into(door("out"), "unsecured")
    assert swings_into(door("in"), "secured")
    assert swings_into(door("both"), "secured")
    assert swings_into(door("both"), "unsecured")


def test_a_leaf_that_is_not_there_is_undecided() -> None:
    with pytest.raises(Undecided, match="leaf"):
        leaf_of(opening())
