"""Logic with three values, against the strong tables of Kleene (1952, Introduction to Metamathematics, par. 64;
from memory): no < not known < yes, `and` the least, `or` the greatest of its terms, `not` the mirror image."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doorlint.events.circuit import _open_between
from doorlint.events.states import NO, YES, Truth, all_of, any_of, either, negate, unknown
from doorlint.outcome import Place
from doorlint.spec import Undecided

RANK = {False: 0, None: 1, True: 2}
GAP = Undecided("side", Place("spec.yaml", "/openings/d"), stated=False)
OTHER = Undecided("fail", Place("spec.yaml", "/products/x"), stated=True)
TRUTHS = st.sampled_from((YES.said("a"), NO.said("b"), unknown(GAP), unknown(OTHER), YES, NO))


@given(st.lists(TRUTHS, max_size=5))
def test_and_is_the_least_and_or_the_greatest(values: list[Truth]) -> None:
    ranks = [RANK[value.value] for value in values]
    assert RANK[all_of(values).value] == min(ranks, default=2)
    assert RANK[any_of(values).value] == max(ranks, default=0)
    for found in (all_of(values), any_of(values)):
        assert bool(found.gaps) == (found.value is None)


@given(st.lists(TRUTHS, max_size=5))
def test_not_turns_one_into_the_other(values: list[Truth]) -> None:
    assert negate(all_of(values)).value == any_of(negate(value) for value in values).value
    assert all(negate(negate(value)) == value for value in values)


def test_what_two_guesses_agree_on_is_known() -> None:
    assert either(YES, YES, GAP).value is True
    assert either(YES, NO, GAP).gaps == (GAP,)
    assert set(either(unknown(OTHER), NO, GAP).gaps) == {GAP, OTHER}


def test_a_contact_of_a_device_of_unknown_power_waits_for_its_power_as_well() -> None:
    """With power or without, all that is not known is named, not what one of the two waits for alone."""
    live = Undecided("fed_from", Place("spec.yaml", "/openings/d/items/i"), stated=True)
    assert _open_between(unknown(live), YES, YES).value is True
    assert _open_between(unknown(live), YES, NO).gaps == (live,)
    assert _open_between(unknown(live), unknown(GAP), unknown(OTHER)).gaps == (live, GAP, OTHER)


def test_a_truth_is_never_taken_for_a_bool() -> None:
    with pytest.raises(TypeError, match="three values"):
        bool(unknown(GAP))


def test_reasons_follow_the_value_that_decides() -> None:
    assert all_of([YES.said("fed"), NO.said("cut")]).why == ("cut",)
    assert all_of([YES.said("fed"), YES.said("closed")]).why == ("fed", "closed")
