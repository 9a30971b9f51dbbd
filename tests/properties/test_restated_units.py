"""Restating a value of the invented example in another unit changes nothing.

The units and their exact ratios: SI prefixes (SI Brochure, 9th ed.); the foot of exactly 0.3048 m and the pound of
exactly 0.45359237 kg (international yard and pound agreement of 1959); the pound-force by standard gravity of exactly
9.80665 m/s2 (3rd CGPM, 1901); t/degC = T/K - 273.15 and t/degF = 1.8 t/degC + 32. Only restatements that a decimal
fraction can hold are drawn, so that both sides are the same number, not nearly the same.
"""

from __future__ import annotations

import random
import re
from decimal import Decimal
from fractions import Fraction
from functools import cache
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from invented import Path_, alone, leaves, replaced, reviewed, whole

from doorlint.outcome import Outcome
from doorlint.reviewing import Result

POUND_FORCE = Fraction("0.45359237") * Fraction("9.80665")
LIKE: tuple[dict[str, Fraction], ...] = (
    {"V": Fraction(1), "mV": Fraction(1, 1000)},
    {"A": Fraction(1), "mA": Fraction(1, 1000)},
    {"W": Fraction(1), "mW": Fraction(1, 1000)},
    {"ohm": Fraction(1), "kohm": Fraction(1000)},
    {"h": Fraction(3600), "min": Fraction(60), "s": Fraction(1), "ms": Fraction(1, 1000)},
    {"m": Fraction(1), "mm": Fraction(1, 1000), "ft": Fraction("0.3048"), "in": Fraction("0.0254")},
    {"N": Fraction(1), "lbf": POUND_FORCE},
    {"Ah": Fraction(3600), "mAh": Fraction(3600, 1000)},
    {"uF": Fraction(1, 10**6), "mF": Fraction(1, 1000)},
)
SAME = {unit: units for units in LIKE for unit in units}
WRITTEN = re.compile(r"(?P<numbers>-?[0-9.]+(\.\.-?[0-9.]+)?) (?P<unit>[a-zA-Z]+)(?P<rest>( [+-].*%)?)")


def decimal(number: Fraction) -> str | None:
    """A number as a decimal fraction of at most 15 places, None where it is none."""
    scaled = number * 10**15
    if scaled.denominator != 1 or abs(scaled.numerator) >= 10**22:
        return None
    return f"{(Decimal(scaled.numerator) / 10**15).normalize():f}"


def restatements(text: object) -> list[str]:
    """A quantity in every other unit in which it is a decimal fraction."""
    match = WRITTEN.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        return []
    ends = [Fraction(number) for number in re.split(r"(?<=[0-9])\.\.", match["numbers"])]
    if match["unit"] == "degC":
        fahrenheit = [decimal(end * Fraction(9, 5) + 32) for end in ends]
        kelvin = [decimal(end + Fraction("273.15")) for end in ends]
        made = [(fahrenheit, "degF"), (kelvin, "K")]
    else:
        units = SAME.get(match["unit"], {})
        others = {unit: size for unit, size in units.items() if unit != match["unit"]}
        made = [([decimal(end * units[match["unit"]] / size) for end in ends], unit) for unit, size in others.items()]
    return [f"{'..'.join(n for n in ns if n)} {unit}{match['rest']}" for ns, unit in made if None not in ns]


def figures(result: Result) -> list[tuple[Any, ...]]:
    """What a review finds, in figures and not in words: messages quote the text as it was written."""

    def key(o: Outcome) -> tuple[Any, ...]:
        numbers = tuple(None if m is None else (m.value, m.dimension) for m in (o.measured, o.limit, o.margin))
        steps = tuple((s.name, getattr(s.result, "value", "")) for s in o.working)
        grounds = tuple(map(str, o.basis))
        return o.rule, o.kind.value, o.level.value, o.subject, o.place, numbers, o.missing, grounds, steps

    return sorted(map(key, result.outcomes), key=repr)


@cache
def reviewed_alone(name: str) -> tuple[dict[str, Any], list[tuple[Any, ...]], list[tuple[Path_, list[str]]]]:
    tree = alone(whole(clean=False), [name])
    choices = [(path, texts) for path, value in leaves(tree) if (texts := restatements(value))]
    return tree, figures(reviewed(tree)), choices


OPENINGS = tuple(whole(clean=False)["openings"])


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_one_value_in_another_unit(data: st.DataObject) -> None:
    tree, before, choices = reviewed_alone(data.draw(st.sampled_from(OPENINGS)))
    path, texts = data.draw(st.sampled_from(choices))
    text = data.draw(st.sampled_from(texts))
    assert figures(reviewed(replaced(tree, path, text))) == before, f"{path}: {text}"


@pytest.mark.parametrize("lot", range(2))
def test_every_value_of_the_example_in_some_other_unit(lot: int) -> None:
    dice = random.Random(lot)
    tree = again = whole(clean=False)
    changed = 0
    for path, value in leaves(tree):
        if texts := restatements(value):
            again = replaced_in_place(again, path, dice.choice(texts))
            changed += 1
    assert changed > 500
    assert figures(reviewed(again)) == figures(reviewed(whole(clean=False)))


def replaced_in_place(tree: Any, path: Path_, value: Any) -> Any:
    here = tree
    for key in path[:-1]:
        here = here[key]
    here[path[-1]] = value
    return tree




def test_the_restatements_are_what_they_say() -> None:
    assert restatements("12 V") == ["12000 mV"]
    assert restatements("24 V +15/-5 %") == ["24000 mV +15/-5 %"]
    assert restatements("-20..50 degC") == ["-4..122 degF", "253.15..323.15 K"]
    assert sorted(restatements("3.048 m")) == ["10 ft", "120 in", "3048 mm"]
    assert restatements("62 m") == ["62000 mm"]
    assert restatements("1 lbf") == ["4.4482216152605 N"]
    assert restatements("18 AWG") == []
