"""The grammar of magnitudes: what is read, what is refused and how, and how values are shown."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pint
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from doorlint.quantity import (
    DIMENSIONS,
    Band,
    QuantityError,
    WireSize,
    parse_band,
    parse_quantity,
    parse_wire_size,
    show,
)

F = Fraction
REGISTRY: Any = pint.UnitRegistry(non_int_type=Fraction)


@pytest.mark.parametrize(
    ("text", "dimension", "value"),
    [
        ("12 V", "voltage", F(12)),
        ("12V", "voltage", F(12)),
        ("  12\u00a0V ", "voltage", F(12)),
        ("+.5 kV", "voltage", F(500)),
        ("450 mA", "current", F(9, 20)),
        ("25 uA", "current", F(1, 40000)),
        ("25 \u00b5A", "current", F(1, 40000)),
        ("25 \u03bcA", "current", F(1, 40000)),
        ("25.5 W", "power", F(51, 2)),
        ("40 VA", "apparent_power", F(40)),
        ("4.7 kohm", "resistance", F(4700)),
        ("4.7 k\u03a9", "resistance", F(4700)),
        ("4.7 k\u2126", "resistance", F(4700)),
        ("1.5e2 mH", "inductance", F(3, 20)),
        ("470 uF", "capacitance", F(47, 100000)),
        ("7 Ah", "charge", F(25200)),
        ("4 h", "time", F(14400)),
        ("-25 degC", "temperature", F(24815, 100)),
        ("-25 \u00b0C", "temperature", F(24815, 100)),
        ("\u221225 degC", "temperature", F(24815, 100)),
        ("85 %", "ratio", F(17, 20)),
        ("0.85", "ratio", F(17, 20)),
        (0.85, "ratio", F(17, 20)),
        (1, "ratio", F(1)),
        ("1.5 mm\u00b2", "area", F(3, 2_000_000)),
        ("21 ohm/km", "resistance_per_length", F(21, 1000)),
        ("12 N m", "torque", F(12)),
        ("90 deg", "angle", F(90)),
        ("0 V", "voltage", F(0)),
    ],
)
def test_reads(text: object, dimension: str, value: Fraction) -> None:
    read = parse_quantity(text, dimension)
    assert read.value == value
    assert type(read.value) is Fraction
    assert read.dimension == dimension


@pytest.mark.parametrize(
    ("text", "inches"),
    [
        ("36 in", F(36)),
        ("914.4 mm", F(36)),
        ("3 ft", F(36)),
        ("3'", F(36)),
        ("3'-6\"", F(42)),
        ("3' 6\"", F(42)),
        ("3'6\"", F(42)),
        ("3\u2032-6\u2033", F(42)),
        ("3 ft 6 in", F(42)),
        ("3 ft 6 1/2 in", F(85, 2)),
        ("3'-6 1/2\"", F(85, 2)),
        ("3'-0 3/4\"", F(147, 4)),
        ("3 ft 3/4 in", F(147, 4)),
        ("1 1/2 in", F(3, 2)),
        ("1-1/2 in", F(3, 2)),
        ("3/4 in", F(3, 4)),
        ('3/4"', F(3, 4)),
        ("1/2 ft", F(6)),
    ],
)
def test_lengths_are_exact(text: str, inches: Fraction) -> None:
    assert parse_quantity(text, "length").value == inches * F(254, 10000)


def test_equal_quantities_are_equal_however_written() -> None:
    assert parse_quantity("36 in", "length") == parse_quantity("914.4 mm", "length")
    assert parse_quantity("36 in", "length").text == "36 in"


@pytest.mark.parametrize(
    ("text", "dimension", "low", "nominal", "high"),
    [
        ("24 V", "voltage", F(24), F(24), F(24)),
        ("24 V +-10 %", "voltage", F(216, 10), F(24), F(264, 10)),
        ("24 V +/-10 %", "voltage", F(216, 10), F(24), F(264, 10)),
        ("24 V \u00b110%", "voltage", F(216, 10), F(24), F(264, 10)),
        ("24V\u00b110%", "voltage", F(216, 10), F(24), F(264, 10)),
        ("24 V +10/-15 %", "voltage", F(204, 10), F(24), F(264, 10)),
        ("24 V +-2 V", "voltage", F(22), F(24), F(26)),
        ("24 V +-500 mV", "voltage", F(235, 10), F(24), F(245, 10)),
        ("12..24 V", "voltage", F(12), None, F(24)),
        ("12 .. 24 V", "voltage", F(12), None, F(24)),
        ("500 mV..2 V", "voltage", F(1, 2), None, F(2)),
        ("12..12 V", "voltage", F(12), None, F(12)),
        ("-20..50 degC", "temperature", F(25315, 100), None, F(32315, 100)),
        ("-20 degC..50 degC", "temperature", F(25315, 100), None, F(32315, 100)),
        ("-40..-20 degC", "temperature", F(23315, 100), None, F(25315, 100)),
        ("20 degC +-5 degC", "temperature", F(28815, 100), F(29315, 100), F(29815, 100)),
        ("68 degF +-9 degF", "temperature", F(28815, 100), F(29315, 100), F(29815, 100)),
        ("80..90 %", "ratio", F(8, 10), None, F(9, 10)),
        ("0.8..0.9", "ratio", F(8, 10), None, F(9, 10)),
        ("85 % +-5 %", "ratio", F(8, 10), F(85, 100), F(9, 10)),
        ("1/4..1/2 in", "length", F(127, 20000), None, F(127, 10000)),
        ("3 ft..3 ft 6 in", "length", F(9144, 10000), None, F(10668, 10000)),
    ],
)
def test_bands(text: str, dimension: str, low: Fraction, nominal: Fraction | None, high: Fraction) -> None:
    band = parse_band(text, dimension)
    assert band == Band(low, high, nominal, dimension, "")
    assert band.stated_band == (low != high)
    assert band.text == text


REFUSED: list[tuple[object, str, str]] = [
    (12, "voltage", "has no unit"),
    (12.5, "voltage", "has no unit"),
    ("12", "voltage", "has no unit"),
    ("12..24", "voltage", "has no unit"),
    (10**5000, "voltage", "has no unit"),
    (True, "voltage", "true is not"),
    (True, "ratio", "true is not"),
    (None, "voltage", "an empty value"),
    ([12], "voltage", "a list"),
    ({"V": 12}, "voltage", "a mapping"),
    ("", "voltage", "empty"),
    ("   ", "voltage", "empty"),
    ("unknown", "voltage", "is not a voltage"),
    ("12 A", "voltage", "no unit of a voltage"),
    ("12 VA", "voltage", "no unit of a voltage"),
    ("12 v", "voltage", "written V"),
    ("450 ma", "current", "written mA"),
    ("12 VDC", "voltage", "DC is no part of the unit"),
    ("24 V AC", "voltage", "AC is no part of the unit"),
    ("1,5 V", "voltage", "comma"),
    ("1,000 V", "voltage", "comma"),
    ("1 000 V", "voltage", "more than one number"),
    ("1_000 V", "voltage", "more than one number"),
    ("12-24 V", "voltage", "more than one number"),
    ("12/24 V", "voltage", "more than one number"),
    ("12 to 24 V", "voltage", "more than one number"),
    ("12V4", "voltage", "no unit of a voltage"),
    ("1e400 V", "voltage", "exponent"),
    ("1e-31 V", "voltage", "exponent"),
    ("1e" + "9" * 100 + " V", "voltage", "exponent"),
    ("1e16 V", "voltage", "between 1e-15 and 1e15"),
    ("9" * 150 + " V", "voltage", "between 1e-15 and 1e15"),
    ("0." + "0" * 15 + "1 V", "voltage", "between 1e-15 and 1e15"),
    ("9" * 30 + " ft 6 in", "length", "between 1e-15 and 1e15"),
    ("9" * 30 + " 1/2 in", "length", "between 1e-15 and 1e15"),
    ("1/" + "9" * 30 + " in", "length", "between 1e-15 and 1e15"),
    ("24 V +-1e20 %", "voltage", "between 1e-15 and 1e15"),
    ("2**10 V", "voltage", "no unit of a voltage"),
    ("nan V", "voltage", "is not a voltage"),
    ("inf V", "voltage", "is not a voltage"),
    (math.nan, "ratio", "is not a ratio"),
    (math.inf, "ratio", "is not a ratio"),
    (-0.1, "ratio", "negative"),
    ("\u0967\u0968 V", "voltage", "digits other than"),
    ("1\u0968 V", "voltage", "digits other than"),
    ("-5 V", "voltage", "negative"),
    ("-5 mm", "length", "negative"),
    ("-300 degC", "temperature", "absolute zero"),
    ("-1 K", "temperature", "absolute zero"),
    ("24..12 V", "voltage", "starts above its end"),
    ("12...24 V", "voltage", "no unit"),
    ("12..18..24 V", "voltage", "more than two ends"),
    ("24 V +-10", "voltage", "tolerance has no unit"),
    ("24 V +-150 %", "voltage", "below zero"),
    ("24 V +-2 A", "voltage", "no unit of a voltage"),
    ("20 degC +-10 %", "temperature", "no meaning"),
    ("1 1/2 mm", "length", "inches and feet only"),
    ("1/0 in", "length", "divides by zero"),
    ("3 ft 12 in", "length", "less than 12"),
    ("3..3 ft 6 in", "length", "has no unit"),
    ("1/2 V", "voltage", "more than one number"),
    ("1" * 201, "voltage", "too long"),
    ("12 V\x00", "voltage", "no unit of a voltage"),
    ("12 __import__('os')", "voltage", "no unit of a voltage"),
]


@pytest.mark.parametrize(
    ("text", "dimension", "words"),
    REFUSED,
    ids=lambda v: v[:20] if isinstance(v, str) else type(v).__name__,
)
def test_refused_with_a_way_out(text: object, dimension: str, words: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_band(text, dimension)
    error = caught.value
    assert words in error.message
    assert error.expected
    # What the message proposes can be read; one that names two ways is for people.
    proposed = error.example.split(" or ")[0]
    parse_band(proposed, dimension)
    assert str(error) == f"{error.message}; expected {error.expected}, for example {error.example}"


def test_a_bare_number_is_told_how_to_write_it() -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(12, "voltage")
    assert caught.value.example == "12 V"
    with pytest.raises(QuantityError) as caught:
        parse_band("24..12 V", "voltage")
    assert caught.value.example == "12..24 V"


def test_a_single_quantity_is_no_band() -> None:
    for text in ("12..24 V", "24 V +-10 %"):
        with pytest.raises(QuantityError):
            parse_quantity(text, "voltage")


@pytest.mark.parametrize(
    ("text", "awg", "area"),
    [
        ("18 AWG", 18, None),
        ("18AWG", 18, None),
        ("0 AWG", 0, None),
        ("1/0 AWG", 0, None),
        ("2/0 AWG", -1, None),
        ("4/0 AWG", -3, None),
        ("40 AWG", 40, None),
        ("1.5 mm2", None, F(3, 2)),
        ("0.75 mm\u00b2", None, F(3, 4)),
    ],
)
def test_wire_sizes(text: str, awg: int | None, area: Fraction | None) -> None:
    assert parse_wire_size(text) == WireSize(awg, area, "")


@pytest.mark.parametrize(
    "text",
    [
        18,
        None,
        "",
        "18",
        "18 ga",
        "#18",
        "5/0 AWG",
        "0/0 AWG",
        "41 AWG",
        "-1 AWG",
        "1.5",
        "0 mm2",
        "2 m2",
        "18.5 AWG",
        "x" * 300,
    ],
)
def test_wire_sizes_refused(text: object) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_wire_size(text)
    parse_wire_size(caught.value.example.split(" or ")[0])


# -- showing -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "dimension", "shown"),
    [
        (0.75, "current", "750 mA"),
        (F(45, 100), "current", "450 mA"),
        (F(12), "voltage", "12 V"),
        (9.834, "voltage", "9.83 V"),
        (F(0), "current", "0 A"),
        (-0.0, "voltage", "0 V"),
        (-1e-15, "voltage", "0 mV"),
        (0.99999, "voltage", "1 V"),
        (F(-3, 2), "voltage", "-1.5 V"),
        (F(14400), "time", "4 h"),
        (F(90), "time", "90 s"),
        (F(5063, 20), "temperature", "-20 degC"),
        (F(27315, 100), "temperature", "0 degC"),
        (F(9144, 10000), "length", "914.4 mm"),
        (F(62), "length", "62 m"),
        (F(25200), "charge", "7 Ah"),
        (F(3, 2_000_000), "area", "1.5 mm2"),
        (F(17, 20), "ratio", "85 %"),
        (F(1, 3), "ratio", "33.33 %"),
        (F(2095, 100000), "resistance_per_length", "20.95 ohm/km"),
        (F(12345), "force", "12.35 kN"),
    ],
)
def test_show(value: Fraction | float, dimension: str, shown: str) -> None:
    assert show(value, dimension) == shown


def test_show_in_a_given_unit() -> None:
    assert show(F(9144, 10000), "length", "in") == "36 in"
    assert show(F(9144, 10000), "length", "ft") == "3 ft"
    assert show(F(5063, 20), "temperature", "degF") == "-4 degF"
    with pytest.raises(KeyError):
        show(F(1), "length", "V")


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_show_refuses_what_is_no_number(value: float) -> None:
    with pytest.raises(ValueError, match="can be shown"):
        show(value, "voltage")


# -- properties ----------------------------------------------------------------------------------------------

# fmt: off
PIECES = [
    "1", "2", ".", "..", "e", "e9", "+", "-", "+-", "\u00b1", "/", "%", " V", "V", " in", "'", '"', "ft", "degC", " ",
    ",", "AWG", "mm2", "\u0967",
]
# fmt: on
SPELLINGS = [(name, unit) for name, kind in DIMENSIONS.items() for unit in kind.units]


@pytest.mark.parametrize("name", list(DIMENSIONS))
def test_examples_and_shown_units_of_every_dimension_can_be_read(name: str) -> None:
    kind = DIMENSIONS[name]
    assert parse_quantity(kind.example, name).value != 0
    assert set(kind.shown) <= set(kind.units)
    assert kind.expected.startswith(kind.title)


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(SPELLINGS), st.integers(0, 10**9), st.integers(0, 6), st.data())
def test_restating_in_another_unit_changes_nothing(
    spelling: tuple[str, str], digits: int, places: int, data: st.DataObject
) -> None:
    name, unit = spelling
    number = F(digits, 10**places)
    whole, part = divmod(digits, 10**places)
    read = parse_quantity(f"{whole}.{part:0{places}d} {unit}" if places else f"{whole} {unit}", name)
    other = data.draw(st.sampled_from(list(DIMENSIONS[name].units)))
    # The worth of the other unit from its own reading, at 1 and 2: linear, with an offset for temperatures.
    one, two = (parse_quantity(f"{n} {other}", name).value for n in (1, 2))
    restated = (read.value - (2 * one - two)) / (two - one)
    if restated.denominator == 1 and 0 <= restated <= 10**15:  # no larger number is read
        assert parse_quantity(f"{restated.numerator} {other}", name) == read
    back = restated * (two - one) + (2 * one - two)
    assert back == read.value
    unit_one, unit_two = (parse_quantity(f"{n} {unit}", name).value for n in (1, 2))
    assert read.value == number * (unit_two - unit_one) + (2 * unit_one - unit_two)


@given(st.integers(1, 4000))
def test_inches_and_millimetres_compare_exactly(sixteenths: int) -> None:
    whole, part = divmod(sixteenths, 16)
    feet, inches = divmod(whole, 12)
    millimetres = F(sixteenths, 16) * F(254, 10)
    decimal = f"{millimetres.numerator * 10**5 // millimetres.denominator / 10**5:.5f}"
    assert F(decimal) == millimetres  # a sixteenth of an inch ends after four decimals
    expected = parse_quantity(f"{decimal} mm", "length")
    assert parse_quantity(f"{sixteenths}/16 in", "length") == expected
    assert parse_quantity(f"{whole} {part}/16 in", "length") == expected
    assert parse_quantity(f"{feet}'-{inches} {part}/16\"", "length") == expected


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(list(DIMENSIONS)), st.fractions(0, 10**6, max_denominator=10**6))
def test_what_is_shown_reads_back_within_its_digits(name: str, value: Fraction) -> None:
    if name == "temperature":
        value += 1
    shown = show(value, name)
    read = parse_quantity(shown, name).value
    number, _, unit = shown.partition(" ")
    one, two = (parse_quantity(f"{n} {unit}", name).value for n in (1, 2))
    decimals = len(number.partition(".")[2])
    scale = two - one
    # Up to two decimals, fewer only when the rest is zero or four digits are reached.
    size = abs(value - (2 * one - two)) / scale
    step = F(1, 10 ** max(0, 4 - len(str(int(size))))) if size >= 100 else F(1, 100)
    if decimals == 0 and size >= 1000:
        step = F(1)
    assert abs(read - value) <= max(step, F(1, 10**6)) * scale / 2
    assert not number.startswith("-0 ")
    assert number != "-0"


@settings(max_examples=300, deadline=None)
@given(
    st.one_of(
        st.text(max_size=30),
        st.lists(st.sampled_from(PIECES), max_size=10).map("".join),
        st.none() | st.booleans() | st.integers() | st.floats(),
    ),
    st.sampled_from(list(DIMENSIONS)),
)
@example("1 " * 99 + "1/1", "length")
@example("+" * 200, "voltage")
@example("." * 200, "voltage")
def test_anything_is_read_or_refused(text: Any, name: str) -> None:
    for read in (lambda: parse_quantity(text, name), lambda: parse_band(text, name), lambda: parse_wire_size(text)):
        try:
            result = read()
        except QuantityError as error:
            assert error.message
            assert error.example
        else:
            if isinstance(result, Band):
                assert result.low <= result.high
                assert result.low >= 0


@pytest.mark.parametrize("name", list(DIMENSIONS))
def test_units_are_worth_what_pint_says(name: str) -> None:
    """Every spelling of every unit, by the definitions that pint brings along, in exact numbers."""
    named = {"degree_celsius": "degree_Celsius", "degree_fahrenheit": "degree_Fahrenheit"}
    kind = DIMENSIONS[name]
    si = {"": "dimensionless", "N m": "N*m", "m2": "m**2"}.get(kind.si, kind.si)
    for spelling, unit in kind.units.items():
        for number in ("0", "1", "12.5"):
            by_pint = REGISTRY.Quantity(F(number), named.get(unit, unit)).to(si).magnitude
            assert parse_quantity(f"{number} {spelling}", name).value == by_pint, (number, spelling)
