"""What the physics answers to numbers that are too far apart to compute with: an error in words, never inf or NaN."""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable
from types import ModuleType
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint.circuit import battery, coils, conductors, contacts, poe
from doorlint.circuit.numbers import computed

MODULES = (battery, coils, conductors, contacts, poe)
FAR = st.sampled_from(
    [5e-324, 1e-308, 1e-200, 1e-15, 0.0, 0.5, 1.0, 1.5, 2.0, 12.0, 24.0, 1e15, 1e200, 1e308, math.inf, math.nan]
)


def functions(module: ModuleType) -> list[Callable[..., Any]]:
    """The public functions of numbers alone."""
    found = []
    for name, function in inspect.getmembers(module, inspect.isfunction):
        given = list(inspect.signature(function).parameters.values())
        plain = all(one.annotation in ("float", "int") for one in given if one.default is one.empty)
        if given and plain and name[0] != "_" and given[0].kind is given[0].POSITIONAL_OR_KEYWORD:
            found.append(function)
    return [function for function in found if function.__module__ == module.__name__]


ALL = [function for module in MODULES for function in functions(module)]


@pytest.mark.parametrize("function", ALL, ids=lambda function: function.__name__)
@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_the_physics_gives_a_finite_number_or_an_error_in_words(function: Callable[..., Any], data: Any) -> None:
    needed = [p for p in inspect.signature(function).parameters.values() if p.default is p.empty]
    numbers = {p.name: data.draw(FAR if p.annotation == "float" else st.integers(0, 10**18)) for p in needed}
    try:
        found = function(**numbers)
    except ValueError as error:
        assert str(error)
        return
    for value in found if isinstance(found, tuple) else (found,):
        assert not isinstance(value, float) or math.isfinite(value)


def test_the_functions_are_there() -> None:
    assert len(ALL) > 40
    assert {"peukert_time_s", "pair_loop_ohm", "pse_power_w", "stored_energy_j", "resistor_power_w"} <= {
        function.__name__ for function in ALL
    }


@pytest.mark.parametrize("numbers", [(1e308, 72000.0, 1e-300), (12.0, 5e-324, 1e-300), (1e-300, 1e300, 1e300)])
def test_peukert_far_out(numbers: tuple[float, float, float]) -> None:
    try:
        assert math.isfinite(battery.peukert_time_s(*numbers))
    except ValueError as error:
        assert "too far apart" in str(error) or "above 0" in str(error)


def test_what_is_computed_keeps_its_name_and_its_errors() -> None:
    @computed
    def share(a: float, b: float) -> float:
        """Doc."""
        return a / b

    assert (share.__name__, share.__doc__, share(1, 2)) == ("share", "Doc.", 0.5)
    with pytest.raises(ValueError, match="share: the numbers are too far apart"):
        share(1, 0)
    with pytest.raises(ValueError, match="too far apart"):
        share(1e308, 1e-308)
    with pytest.raises(TypeError):
        share("a", 1)  # type: ignore[arg-type]
