"""Conversions against published values.

Sources (the values are from memory of these documents, not copied from them):

- "yard and pound": the international yard and pound agreement of 1959 (1 yd = 0.9144 m, 1 lb = 0.45359237 kg).
- "SP 811": NIST Special Publication 811 (2008), appendix B, factors printed there as exact.
- "SI": The International System of Units, BIPM, 9th edition (2019), prefixes (table 7) and accepted units (table 8).
- "CGPM 1901": 3rd General Conference on Weights and Measures, standard gravity 9.80665 m/s2.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from doorlint.quantity import parse_quantity

EXACT = [
    ("1 in", "length", "0.0254", "yard and pound: a 36th of a yard"),
    ("1 ft", "length", "0.3048", "yard and pound: a third of a yard"),
    ("3 ft", "length", "0.9144", "yard and pound: one yard"),
    ("1 lb", "mass", "0.45359237", "yard and pound"),
    ("1 lbf", "force", "4.4482216152605", "yard and pound, with CGPM 1901; rounded to 4.448222 in SP 811, B.8"),
    ("1 in lbf", "torque", "0.1129848290276167", "SP 811, B.8 prints 0.1129848; digits: product of the above"),
    ("1 ft lbf", "torque", "1.3558179483314004", "SP 811, B.8 prints 1.355818; digits: product of the above"),
    ("1 min", "time", "60", "SI, table 8"),
    ("1 h", "time", "3600", "SI, table 8"),
    ("1 d", "time", "86400", "SI, table 8"),
    ("1 Ah", "charge", "3600", "SP 811, B.8: ampere hour, exact"),
    ("1 Wh", "energy", "3600", "SP 811, B.8: watt hour, exact"),
    ("0 degC", "temperature", "273.15", "SI, 2.3.1: Celsius temperature, exact"),
    ("32 degF", "temperature", "273.15", "SP 811, B.8: K = (F + 459.67) / 1.8, exact"),
    ("212 degF", "temperature", "373.15", "SP 811, B.8: K = (F + 459.67) / 1.8, exact"),
    ("-40 degF", "temperature", "233.15", "SP 811, B.8: where both scales meet"),
    ("1 uA", "current", "0.000001", "SI, table 7"),
    ("1 mH", "inductance", "0.001", "SI, table 7"),
    ("1 Mohm", "resistance", "1000000", "SI, table 7"),
    ("1 mm2", "area", "0.000001", "SI, table 7: a prefix is raised with its unit"),
]


@pytest.mark.parametrize(("text", "dimension", "value", "source"), EXACT, ids=[row[0] for row in EXACT])
def test_exact_conversion(text: str, dimension: str, value: str, source: str) -> None:
    assert parse_quantity(text, dimension).value == Fraction(value), source


def test_ohm_per_kilofoot() -> None:
    """1000 ft = 304.8 m (yard and pound), so 1 ohm/kft is 1/304.8 ohm/m; common practice in conductor tables."""
    assert parse_quantity("1 ohm/kft", "resistance_per_length").value == Fraction(10, 3048)


def test_pound_force_from_its_definition() -> None:
    """The pound times standard gravity: yard and pound 1959, CGPM 1901."""
    assert parse_quantity("1 lbf", "force").value == Fraction("0.45359237") * Fraction("9.80665")
