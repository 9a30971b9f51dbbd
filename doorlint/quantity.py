"""Magnitudes as they are written in a door specification -> exact numbers in SI units.

The grammar is our own, with a closed list of units for each kind of magnitude. Every value is a `Fraction`, so that
36 in and 914.4 mm are equal, not nearly equal. A number without a unit is an error that says how to write it, never a
guess.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from types import MappingProxyType
from typing import Final

__all__ = [
    "DIMENSIONS",
    "Band",
    "Dimension",
    "Quantity",
    "QuantityError",
    "WireSize",
    "parse_band",
    "parse_quantity",
    "parse_wire_size",
    "show",
]


class QuantityError(ValueError):
    """A magnitude that cannot be read: what was read and what is wrong, what is expected, how to write it."""

    def __init__(self, message: str, expected: str, example: str) -> None:
        super().__init__(f"{message}; expected {expected}, for example {example}")
        self.message = message
        self.expected = expected
        self.example = example


@dataclass(frozen=True, slots=True)
class Dimension:
    """A kind of magnitude: `si` is the unit of every value, `units` maps each spelling to the unit's name."""

    name: str
    title: str
    si: str
    units: Mapping[str, str]
    shown: tuple[str, ...]
    """Units for `show`, from large to small; the first in which the number is large enough is taken."""
    example: str
    negative: bool = False
    bare: bool = False
    """Whether a number without unit is meant (ratios only)."""

    @property
    def expected(self) -> str:
        """What may be written, for a message."""
        names = list(dict.fromkeys(self.units.values()))
        first = [next(spelling for spelling, unit in self.units.items() if unit == name) for name in names]
        listed = first[0] if len(first) == 1 else f"{', '.join(first[:-1])} or {first[-1]}"
        return f"{self.title} in {listed}" + (" or as a plain number" if self.bare else "")


@dataclass(frozen=True, slots=True)
class Quantity:
    """One magnitude: `value` in the SI unit of its dimension, `text` as it was written."""

    value: Fraction
    dimension: str
    text: str = field(compare=False)


@dataclass(frozen=True, slots=True)
class Band:
    """A magnitude with its tolerance, or a range; a range has no value of its own: `nominal` is None."""

    low: Fraction
    high: Fraction
    nominal: Fraction | None
    dimension: str
    text: str = field(compare=False)

    @property
    def stated_band(self) -> bool:
        """Whether the text states a tolerance or a range."""
        return self.low != self.high


@dataclass(frozen=True, slots=True)
class WireSize:
    """The size of a conductor: gauge number (1/0 is 0, 4/0 is -3) or cross-section in mm2, the other None."""

    awg: int | None
    area_mm2: Fraction | None
    text: str = field(compare=False)


# -- dimensions and units --------------------------------------------------------------------------

# Both characters of "micro" and of "ohm": Unicode has the letter and the sign.
_MICRO: Final = ("u", "\N{MICRO SIGN}", "\N{GREEK SMALL LETTER MU}")
_OHM: Final = ("ohm", "\N{GREEK CAPITAL LETTER OMEGA}", "\N{OHM SIGN}")


def _micro(symbol: str, unit: str) -> dict[str, str]:
    return {letter + symbol: unit for letter in _MICRO}


def _ohms(prefix: str, unit: str, suffix: str = "") -> dict[str, str]:
    return {prefix + sign + suffix: unit for sign in _OHM}


_FEET: Final = ("ft", "'", "\N{PRIME}", "\N{RIGHT SINGLE QUOTATION MARK}")
_INCHES: Final = ("in", '"', "\N{DOUBLE PRIME}", "\N{RIGHT DOUBLE QUOTATION MARK}")
_SQUARE: Final = ("2", "\N{SUPERSCRIPT TWO}")

DIMENSIONS: Final[Mapping[str, Dimension]] = MappingProxyType(
    {
        d.name: d
        for d in (
            Dimension(
                "voltage",
                "a voltage",
                "V",
                {"V": "volt", "mV": "millivolt", "kV": "kilovolt"},
                ("kV", "V", "mV"),
                "12 V",
            ),
            Dimension(
                "current",
                "a current",
                "A",
                {"A": "ampere", "mA": "milliampere", **_micro("A", "microampere")},
                ("A", "mA", "uA"),
                "450 mA",
            ),
            Dimension(
                "power", "a power", "W", {"W": "watt", "mW": "milliwatt", "kW": "kilowatt"}, ("kW", "W", "mW"), "25.5 W"
            ),
            Dimension(
                "apparent_power",
                "an apparent power",
                "VA",
                {"VA": "volt*ampere", "kVA": "kilovolt*ampere"},
                ("kVA", "VA"),
                "40 VA",
            ),
            Dimension(
                "resistance",
                "a resistance",
                "ohm",
                {**_ohms("", "ohm"), **_ohms("m", "milliohm"), **_ohms("k", "kiloohm"), **_ohms("M", "megaohm")},
                ("Mohm", "kohm", "ohm", "mohm"),
                "26.7 ohm",
            ),
            Dimension(
                "inductance",
                "an inductance",
                "H",
                {"H": "henry", "mH": "millihenry", **_micro("H", "microhenry")},
                ("H", "mH", "uH"),
                "180 mH",
            ),
            Dimension(
                "capacitance",
                "a capacitance",
                "F",
                {"F": "farad", "mF": "millifarad", **_micro("F", "microfarad")},
                ("F", "mF", "uF"),
                "470 uF",
            ),
            Dimension(
                "energy",
                "an energy",
                "J",
                {"J": "joule", "mJ": "millijoule", "kJ": "kilojoule", "Wh": "watt*hour"},
                ("kJ", "J", "mJ"),
                "15 mJ",
            ),
            Dimension(
                "charge", "a charge", "C", {"Ah": "ampere*hour", "mAh": "milliampere*hour"}, ("Ah", "mAh"), "7 Ah"
            ),
            Dimension(
                "length",
                "a length",
                "m",
                {
                    "m": "meter",
                    "cm": "centimeter",
                    "mm": "millimeter",
                    "km": "kilometer",
                    **dict.fromkeys(_INCHES, "inch"),
                    **dict.fromkeys(_FEET, "foot"),
                },
                ("m", "mm"),
                "62 m",
            ),
            Dimension(
                "time",
                "a time",
                "s",
                {"s": "second", "ms": "millisecond", "min": "minute", "h": "hour", "d": "day"},
                ("d", "h", "min", "s", "ms"),
                "4 h",
            ),
            Dimension(
                "temperature",
                "a temperature",
                "K",
                {
                    "degC": "degree_celsius",
                    "\N{DEGREE SIGN}C": "degree_celsius",
                    "degF": "degree_fahrenheit",
                    "\N{DEGREE SIGN}F": "degree_fahrenheit",
                    "K": "kelvin",
                },
                ("degC",),
                "-20 degC",
                negative=True,
            ),
            Dimension("temperature_difference", "a temperature difference", "K", {"K": "kelvin"}, ("K",), "15 K"),
            Dimension(
                "force",
                "a force",
                "N",
                {"N": "newton", "kN": "kilonewton", "lbf": "pound_force"},
                ("kN", "N"),
                "5300 N",
            ),
            Dimension(
                "torque",
                "a torque",
                "N m",
                {
                    **dict.fromkeys(("N m", "Nm", "N\N{MIDDLE DOT}m", "N\N{DOT OPERATOR}m"), "newton*meter"),
                    **dict.fromkeys(("in lbf", "in-lbf", "in\N{MIDDLE DOT}lbf"), "inch*pound_force"),
                    **dict.fromkeys(("ft lbf", "ft-lbf", "ft\N{MIDDLE DOT}lbf"), "foot*pound_force"),
                },
                ("N m",),
                "12 N m",
            ),
            Dimension("pressure", "a pressure", "Pa", {"Pa": "pascal", "kPa": "kilopascal"}, ("kPa", "Pa"), "25 Pa"),
            Dimension("mass", "a mass", "kg", {"kg": "kilogram", "lb": "pound"}, ("kg",), "95 kg"),
            Dimension("ratio", "a ratio", "", {"%": "percent"}, ("%",), "85 %", bare=True),
            Dimension("speed", "a speed", "m/s", {"m/s": "meter/second"}, ("m/s",), "0.3 m/s"),
            Dimension("angle", "an angle", "deg", {"deg": "degree", "\N{DEGREE SIGN}": "degree"}, ("deg",), "90 deg"),
            Dimension(
                "frequency",
                "a frequency",
                "Hz",
                {"Hz": "hertz", "kHz": "kilohertz", "MHz": "megahertz"},
                ("MHz", "kHz", "Hz"),
                "60 Hz",
            ),
            Dimension(
                "area",
                "an area",
                "m2",
                {
                    **{"mm" + square: "millimeter**2" for square in _SQUARE},
                    **{"m" + square: "meter**2" for square in _SQUARE},
                },
                ("m2", "mm2"),
                "1.5 mm2",
            ),
            Dimension(
                "resistance_per_length",
                "a resistance per length",
                "ohm/m",
                {
                    **_ohms("", "ohm/kilometer", "/km"),
                    **_ohms("", "ohm/meter", "/m"),
                    **_ohms("", "ohm/kilofoot", "/kft"),
                },
                ("ohm/km",),
                "21 ohm/km",
            ),
        )
    }
)

# Exact by definition: 1 in = 25.4 mm and 1 lb = 0.45359237 kg (international agreement of 1959), standard gravity
# 9.80665 m/s2 (CGPM 1901), 0 degC = 273.15 K. Angles stay in degrees: pi has no exact value.
_FOOT: Final = Fraction(3048, 10_000)
_POUND: Final = Fraction(45_359_237, 100_000_000)
_POUND_FORCE: Final = _POUND * Fraction(980_665, 100_000)

# SI of the dimension for one of the unit. A table, since a converter of units takes longer to import than most reviews
# to run; the tests hold it against one.
_WORTH: Final[Mapping[str, Fraction]] = MappingProxyType(
    {
        **dict.fromkeys(("volt", "ampere", "watt", "volt*ampere", "ohm", "henry", "farad", "joule"), Fraction(1)),
        **dict.fromkeys(("meter", "meter**2", "meter/second", "second", "hertz", "kelvin", "degree"), Fraction(1)),
        **dict.fromkeys(("kilogram", "newton", "newton*meter", "pascal", "ohm/meter"), Fraction(1)),
        "degree_celsius": Fraction(1),
        **dict.fromkeys(("microampere", "microhenry", "microfarad", "millimeter**2"), Fraction(1, 1_000_000)),
        **dict.fromkeys(("millivolt", "milliampere", "milliwatt", "milliohm", "millihenry"), Fraction(1, 1000)),
        **dict.fromkeys(("millifarad", "millijoule", "millimeter", "millisecond"), Fraction(1, 1000)),
        **dict.fromkeys(("centimeter", "percent"), Fraction(1, 100)),
        **dict.fromkeys(("kilovolt", "kilowatt", "kilovolt*ampere", "kiloohm", "kilojoule"), Fraction(1000)),
        **dict.fromkeys(("kilometer", "kilonewton", "kilopascal", "kilohertz"), Fraction(1000)),
        **dict.fromkeys(("megaohm", "megahertz"), Fraction(1_000_000)),
        "minute": Fraction(60),
        "hour": Fraction(3600),
        "day": Fraction(86_400),
        "watt*hour": Fraction(3600),
        "ampere*hour": Fraction(3600),
        "milliampere*hour": Fraction(36, 10),
        "inch": _FOOT / 12,
        "foot": _FOOT,
        "pound": _POUND,
        "pound_force": _POUND_FORCE,
        "inch*pound_force": _FOOT / 12 * _POUND_FORCE,
        "foot*pound_force": _FOOT * _POUND_FORCE,
        "degree_fahrenheit": Fraction(5, 9),
        "ohm/kilometer": Fraction(1, 1000),
        "ohm/kilofoot": 1 / (1000 * _FOOT),
    }
)

# SI where the number is zero, of units that do not start at zero.
_START: Final[Mapping[str, Fraction]] = MappingProxyType(
    {"degree_celsius": Fraction(27_315, 100), "degree_fahrenheit": Fraction(45_967, 180)}
)
_NOTHING: Final = Fraction(0)


def _unit_worth(dimension: Dimension, spelling: str) -> tuple[Fraction, Fraction]:
    """Factor and offset of a unit: value in SI = factor * number + offset."""
    unit = dimension.units[spelling]
    return _WORTH[unit], _START.get(unit, _NOTHING)


# -- the grammar -----------------------------------------------------------------------------------

_LONGEST: Final = 200
_LARGEST_EXPONENT: Final = 30
# No door has so much or so little of anything, and a few such numbers multiplied would leave the range of floats.
_LARGEST: Final = 10**15

_NUMBER: Final = r"(?:[0-9]+(?:\.[0-9]+)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_MAGNITUDE: Final = re.compile(rf"(?P<sign>[+-]?)(?P<number>{_NUMBER})\s*(?P<unit>\S.*)?")
# 3/4, 1 1/2, 1-1/2: in feet and inches only
_MIXED: Final = r"(?:(?P<whole>[0-9]+)(?:\s+|-))?(?P<over>[0-9]+)\s*/\s*(?P<under>[0-9]+)"
_FRACTION: Final = re.compile(rf"{_MIXED}\s*(?P<unit>[^\s0-9].*)?")
_FEET_INCHES: Final = re.compile(
    rf"(?P<feet>[0-9]+)\s*(?:{'|'.join(_FEET)})\s*-?\s*"
    rf"(?P<inches>(?:[0-9]+(?:\s+|-))?[0-9]+\s*/\s*[0-9]+|[0-9]+(?:\.[0-9]+)?)\s*(?:{'|'.join(_INCHES)})"
)
_RANGE: Final = re.compile(r"(?P<low>[^.].*?|\.[0-9].*?)\s*(?<!\.)\.\.(?!\.)\s*(?P<high>\S.*)")
_TOLERANCE: Final = re.compile(
    r"(?P<nominal>[^+±]*?\S)\s*"
    rf"(?:(?:±|\+/?-)\s*(?P<both>{_NUMBER})|\+\s*(?P<above>{_NUMBER})\s*/\s*-\s*(?P<below>{_NUMBER}))"
    r"\s*(?P<unit>\S.*)?"
)
_FEET_AND_INCHES: Final = "ft in"
_SPACES: Final = str.maketrans(dict.fromkeys("\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}", " "))


def parse_quantity(text: object, dimension: str) -> Quantity:
    """Read `12 V`, `3 ft 6 in`, `1 1/2 in`, `-20 degC`.

    Raises QuantityError for a text that is no such magnitude, KeyError for an unknown dimension.
    """
    kind = DIMENSIONS[dimension]
    written = _written(text, kind)
    return Quantity(_read(written, kind)[0], dimension, written)


def parse_band(text: object, dimension: str) -> Band:
    """Read `24 V`, a tolerance (`24 V +-10 %`, `24 V +10/-15 %`, `24 V +-2 V`) or a range (`12..24 V`).

    A plain `24 V` is a band of no width. A tolerance in % is a share of the nominal value; on a ratio it
    counts percentage points. Raises QuantityError, and KeyError for an unknown dimension.
    """
    kind = DIMENSIONS[dimension]
    written = _written(text, kind)
    if match := _RANGE.fullmatch(written):
        low, high = _ends(match["low"], match["high"], written, kind)
        return Band(low, high, None, dimension, written)
    if match := _TOLERANCE.fullmatch(written):
        nominal, below, above = _tolerance(match, written, kind)
        low, high = nominal - below, nominal + above
        if low < 0:
            message = f"{_quote(written)}: the tolerance reaches below zero"
            raise QuantityError(message, kind.expected, f"{kind.example} +-10 %")
        return Band(low, high, nominal, dimension, written)
    value, _ = _read(written, kind)
    return Band(value, value, value, dimension, written)


def within(value: Quantity | Band, band: str) -> bool:
    """Whether all of a figure lies within a band of its dimension. Raises QuantityError for what is no such band."""
    allowed = _band(band, value.dimension)
    low, high = (value.low, value.high) if isinstance(value, Band) else (value.value, value.value)
    return allowed.low <= low and high <= allowed.high


@lru_cache(maxsize=256)
def _band(text: str, dimension: str) -> Band:
    return parse_band(text, dimension)


_AWG: Final = re.compile(r"(?P<number>[0-9]{1,2})(?P<aught>/0)?\s*AWG")
_WIRE_EXPECTED: Final = "a conductor size in AWG or mm2"


def parse_wire_size(text: object) -> WireSize:
    """Read `18 AWG`, `4/0 AWG` or `1.5 mm2`. Raises QuantityError."""
    if not isinstance(text, str):
        raise QuantityError(f"{_read_as(text)} is no conductor size", _WIRE_EXPECTED, "18 AWG")
    written = _clean(text)
    if len(written) > _LONGEST:
        raise QuantityError("the text is too long for a conductor size", _WIRE_EXPECTED, "18 AWG")
    if match := _AWG.fullmatch(written):
        number = int(match["number"])
        if match["aught"]:
            if not 1 <= number <= 4:
                message = f"{_quote(written)}: the sizes above 1 AWG are 1/0 to 4/0"
                raise QuantityError(message, _WIRE_EXPECTED, "2/0 AWG")
            return WireSize(1 - number, None, written)
        # ASTM B258 goes on past 40, but no conductor of a door does.
        if number > 40:
            message = f"{_quote(written)}: no gauge above 40 is read"
            raise QuantityError(message, _WIRE_EXPECTED, "18 AWG")
        return WireSize(number, None, written)
    try:
        value, unit = _read(written, DIMENSIONS["area"])
    except QuantityError:
        value, unit = Fraction(0), ""
    if not unit.startswith("mm"):
        message = f"{_quote(written)} is no conductor size"
        raise QuantityError(message, _WIRE_EXPECTED, "18 AWG or 1.5 mm2")
    if value == 0:
        message = f"{_quote(written)}: a conductor has some cross-section"
        raise QuantityError(message, _WIRE_EXPECTED, "1.5 mm2")
    return WireSize(None, value * 1_000_000, written)


def _written(text: object, kind: Dimension) -> str:
    if isinstance(text, int | float) and not isinstance(text, bool):
        digits = _number_text(text)
        if not kind.bare:
            raise _no_unit(digits, kind)
        text = digits
    if not isinstance(text, str):
        raise QuantityError(f"{_read_as(text)} is not {kind.title}", kind.expected, kind.example)
    written = _clean(text)
    if not written:
        raise QuantityError("the text is empty", kind.expected, kind.example)
    if len(written) > _LONGEST:
        raise QuantityError(f"the text is too long for {kind.title}", kind.expected, kind.example)
    return written


def _number_text(number: float) -> str:
    try:
        return str(number)
    except ValueError:  # Python writes no integer of more than 4300 digits
        return "a huge number"


def _clean(text: str) -> str:
    return text.translate(_SPACES).replace("\N{MINUS SIGN}", "-").strip()


def _read(written: str, kind: Dimension) -> tuple[Fraction, str]:
    """Value in SI, and the unit as written; for feet and inches together that is no single one."""
    if kind.name == "length" and (match := _FEET_INCHES.fullmatch(written)):
        inches = _mixed_number(match["inches"], written, kind)
        if inches >= 12:
            message = f"{_quote(written)}: the inches after feet have to be less than 12"
            raise QuantityError(message, kind.expected, "3 ft 6 in")
        feet = _number(match["feet"], written, kind)
        return (feet * 12 + inches) * _unit_worth(kind, "in")[0], _FEET_AND_INCHES
    if kind.name == "length" and (match := _FRACTION.fullmatch(written)):
        unit = _unit(match["unit"], written, kind)
        if unit not in _FEET and unit not in _INCHES:
            message = f"{_quote(written)}: a fraction is read with inches and feet only"
            raise QuantityError(message, kind.expected, "1 1/2 in or 38.1 mm")
        number = _mixed_number(written[: match.start("unit")].strip(), written, kind)
        return number * _unit_worth(kind, unit)[0], unit
    match = _MAGNITUDE.fullmatch(written)
    if match is None:
        raise _unreadable(written, kind)
    number = _number(match["number"], written, kind)
    if match["sign"] == "-":
        number = -number
    if match["unit"] is None and kind.bare:
        _check_sign(number, written, kind)
        return number, ""
    unit = _unit(match["unit"], written, kind)
    factor, offset = _unit_worth(kind, unit)
    value = number * factor + offset
    _check_sign(value, written, kind)
    return value, unit


def _number(text: str, written: str, kind: Dimension) -> Fraction:
    exponent = re.split("[eE]", text)[1:]
    if exponent and (len(exponent[0]) > 4 or abs(int(exponent[0])) > _LARGEST_EXPONENT):
        message = f"{_quote(written)}: the exponent is beyond {_LARGEST_EXPONENT}"
        raise QuantityError(message, kind.expected, kind.example)
    return _in_range(Fraction(text), written, kind)


def _in_range(number: Fraction, written: str, kind: Dimension) -> Fraction:
    if number and not Fraction(1, _LARGEST) <= number <= _LARGEST:
        message = f"{_quote(written)}: the number is not between 1e-15 and 1e15"
        raise QuantityError(message, kind.expected, kind.example)
    return number


def _mixed_number(text: str, written: str, kind: Dimension) -> Fraction:
    match = re.fullmatch(_MIXED, text)
    if match is None:
        return _number(text, written, kind)
    under = int(match["under"])
    if under == 0:
        raise QuantityError(f"{_quote(written)} divides by zero", kind.expected, "1 1/2 in")
    return _in_range(int(match["whole"] or 0) + Fraction(int(match["over"]), under), written, kind)


def _unit(unit: str | None, written: str, kind: Dimension) -> str:
    if unit is None:
        raise _no_unit(written, kind)
    spelling = " ".join(unit.split())
    if spelling in kind.units:
        return spelling
    raise _unknown_unit(spelling, written, kind)


def _check_sign(value: Fraction, written: str, kind: Dimension) -> None:
    if value >= 0:
        return
    if kind.negative:
        raise QuantityError(f"{_quote(written)} lies below absolute zero", kind.expected, kind.example)
    message = f"{_quote(written)}: {kind.title} cannot be negative here"
    raise QuantityError(message, kind.expected, kind.example)


def _ends(low: str, high: str, written: str, kind: Dimension) -> tuple[Fraction, Fraction]:
    if ".." in high:
        raise QuantityError(f"{_quote(written)} holds more than two ends", kind.expected, kind.example)
    upper, unit = _read(high, kind)
    try:
        lower, _ = _read(low, kind)
    except QuantityError:
        if not re.fullmatch(rf"[+-]?{_NUMBER}|{_MIXED}", low):
            raise
        if unit == _FEET_AND_INCHES:  # 3..3 ft 6 in: feet or inches?
            raise _no_unit(low, kind) from None
        lower, _ = _read(f"{low} {unit}", kind)
    else:
        # Only a ratio is complete without unit: 80..90 % means 80 % to 90 %.
        if kind.bare and unit and re.fullmatch(rf"[+-]?{_NUMBER}", low):
            lower, _ = _read(f"{low} {unit}", kind)
    if lower > upper:
        message = f"{_quote(written)}: the range starts above its end"
        bare = re.fullmatch(rf"[+-]?{_NUMBER}", low)
        first = high.removesuffix(unit).rstrip() if bare else high
        example = f"{first}..{low} {unit}" if bare else f"{first}..{low}"
        raise QuantityError(message, "the smaller value first", example.strip())
    return lower, upper


def _tolerance(match: re.Match[str], written: str, kind: Dimension) -> tuple[Fraction, Fraction, Fraction]:
    """Nominal value, and how far below and above it the band reaches."""
    nominal, _ = _read(match["nominal"], kind)
    above = _number(match["both"] or match["above"], written, kind)
    below = _number(match["both"] or match["below"], written, kind)
    if match["unit"] is None:
        message = f"{_quote(written)}: the tolerance has no unit"
        raise QuantityError(message, "a tolerance in % or in the unit of the value", f"{kind.example} +-10 %")
    unit = " ".join(match["unit"].split())
    if unit == "%" and kind.name != "ratio":
        if kind.name == "temperature":
            message = f"{_quote(written)}: a percentage of a temperature has no meaning"
            raise QuantityError(message, "a tolerance in degrees", "20 degC +-5 degC")
        return nominal, nominal * below / 100, nominal * above / 100
    # The factor alone: a tolerance of 5 degC is five kelvins.
    factor, _ = _unit_worth(kind, _unit(unit, written, kind))
    return nominal, below * factor, above * factor


# -- messages --------------------------------------------------------------------------------------


def _quote(text: str) -> str:
    shown = text if len(text) <= 60 else text[:57] + "..."
    return '"' + "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in shown) + '"'


def _read_as(value: object) -> str:
    """How a value from YAML is called in a message."""
    if value is None:
        return "an empty value"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"the number {_quote(_number_text(value))[1:-1]}"
    if isinstance(value, list | tuple):
        return "a list"
    return "a mapping" if isinstance(value, dict) else "this value"


def _no_unit(written: str, kind: Dimension) -> QuantityError:
    example = f"{written} {next(iter(kind.units))}"
    if not re.fullmatch(_NUMBER, written) or len(written) > 12:
        example = kind.example
    return QuantityError(f"{_quote(written)} has no unit", kind.expected, example)


def _unreadable(written: str, kind: Dimension) -> QuantityError:
    if re.search(r"[0-9],[0-9]", written):
        message = f"{_quote(written)} holds a comma; decimals take a point, thousands take nothing"
    elif any(c.isdecimal() and not c.isascii() for c in written):
        message = f"{_quote(written)} holds digits other than 0 to 9"
    else:
        message = f"{_quote(written)} is not {kind.title}"
    return QuantityError(message, kind.expected, kind.example)


def _unknown_unit(unit: str, written: str, kind: Dimension) -> QuantityError:
    if re.match(r",[0-9]", unit) or any(c.isdecimal() and not c.isascii() for c in unit):
        return _unreadable(written, kind)
    if re.match(r"[0-9_' ]*[0-9]", unit):
        message = f"{_quote(written)} holds more than one number"
        return QuantityError(message, kind.expected + ", a number without gaps", kind.example)
    if re.match(r"(-|to\b|/)\s*[0-9]", unit):
        message = f"{_quote(written)} holds more than one number"
        base = next(iter(kind.units))
        return QuantityError(message, f"{kind.title}, a range written with two points", f"12..24 {base}")
    for current in ("DC", "AC"):
        if kind.name == "voltage" and unit.replace(" ", "").upper() in (f"V{current}", f"{current}V"):
            message = f"{_quote(written)}: {current} is no part of the unit and has a field of its own"
            return QuantityError(message, kind.expected, kind.example)
    near = [known for known in kind.units if known.lower() == unit.lower()]
    if near:
        message = f"{_quote(written)}: the unit is written {' or '.join(near)}, not {_quote(unit)}"
        return QuantityError(message, kind.expected, kind.example)
    message = f"{_quote(written)}: {_quote(unit)} is no unit of {kind.title}"
    return QuantityError(message, kind.expected, kind.example)


# -- showing ---------------------------------------------------------------------------------------


def show(value: Fraction | float, dimension: str, unit: str | None = None, digits: int = 4) -> str:
    """A value in SI for people: `750 mA`, `12 V`, `9.83 V`.

    Without `unit` the one is taken in which the number reads best. Rounded (half up) to `digits`
    significant digits and, from 1 upwards, to two decimals at most; whole numbers are not rounded.
    Raises ValueError for a value that is not finite, KeyError for an unknown dimension or unit.
    """
    try:
        over, under = value.as_integer_ratio()
    except (OverflowError, ValueError) as error:
        raise ValueError(f"{value} is not {DIMENSIONS[dimension].title} that can be shown") from error
    return _shown(over, under, dimension, unit, digits)


@lru_cache(maxsize=50_000)
def _shown(over: int, under: int, dimension: str, unit: str | None, digits: int) -> str:
    """`show` of a ratio: two whole numbers are found again several times faster than a Fraction."""
    kind, exact = DIMENSIONS[dimension], Fraction(over, under)
    if unit is None:
        unit = _best_unit(exact, kind, digits)
    factor, offset = _unit_worth(kind, unit)
    number = _decimal((exact - offset) / factor, digits)
    return f"{number}{unit}" if unit in ("'", '"', "\N{DEGREE SIGN}") else f"{number} {unit}"


def _best_unit(value: Fraction, kind: Dimension, digits: int) -> str:
    if value == 0:
        return kind.si if kind.si in kind.shown else kind.shown[0]
    # What rounds up to the larger unit is shown in it: 0.99999 V is 1 V, not 1000 mV.
    nearly_one = 1 - Fraction(1, 2 * 10**digits)
    for unit in kind.shown:
        factor, offset = _unit_worth(kind, unit)
        if abs(value - offset) >= factor * _READABLE_FROM.get(unit, 1) * nearly_one:
            return unit
    return kind.shown[-1]


# Hours up to two days, minutes up to two hours, seconds up to two minutes; square millimetres for conductors.
_READABLE_FROM: Final[Mapping[str, Fraction]] = {
    "d": Fraction(2),
    "h": Fraction(2),
    "min": Fraction(2),
    "m2": Fraction(1, 100),
}


def _decimal(number: Fraction, digits: int) -> str:
    """Decimal text without trailing zeros and without a minus in front of zero."""
    size = abs(number)
    if size >= 1:
        places = max(0, min(2, digits - len(str(int(size)))))
    elif size > 0:
        # 1/size >= 1: as many zeros after the point as its integer part has digits, less one.
        places = digits - 1 + len(str(int(1 / size))) - 1
        places = min(places, 6)  # far below the smallest unit it is rounding noise
    else:
        places = 0
    scaled = int(size * 10**places + Fraction(1, 2))
    whole, part = divmod(scaled, 10**places)
    text = str(whole)
    if places and part:
        text += "." + f"{part:0{places}d}".rstrip("0")
    return f"-{text}" if number < 0 and scaled else text
