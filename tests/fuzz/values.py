"""Single values that input may hold: ordinary ones, extreme ones, and ones that are none."""

from __future__ import annotations

from typing import Any

from doorlint.quantity import DIMENSIONS

from .sources import Source, chance, pick

NUMBERS = ("12", "24", "0.45", "1", "0", "100", "750", "3", "62", "0.001", "50", "1000")
EXTREME = (
    "0", "0.0", "1e30", "1e-30", "999999999999", "0.000000001", "9" * 60, "1e29", "123456.789e-5", "0e0",
    "1e15", "1e-15", "1e31", "1e400", "9" * 150, "-1", "1.7976931348623157e308",
)  # fmt: skip
ODD_TEXTS = (
    "", "unknown", "none", "true", "null", "~", ".nan", ".inf", "-.inf", "1e400", "0x1F", "0o17", "010",
    "1_000", "2027-02-30", "9" * 5000, "a" * 3000, "../up", "/etc", "~", "*.yaml", "**", "[", "a.b.c", "a..b",
    ".", "..", "/", "~0~1", "\x07", "\x1b[31mred", "\u202eright to left", "\u2028", "\ufeff", "\x85", "\u200d",
    "\ufffe", "\U0010ffff", "\U000e0001", "a\nb", "a\tb", "a\r\nb", "<script>", "]]>", "&amp;", "{{ x }}",
    "{0}", "%s", "|", "`", "=1+1", "@", "\u0660", "\uff11", "\u00b5", "\u2126", "e\u0301", "\U0001f6aa", "24 V",
    "24 V +-10 %", "12..24 V", "18 AWG", "-20..50 degC", "3 ft 6 in", "50 %", "1:2", "- a", "# no", "!!int 3",
    "&x", "*x", "no", "yes", "on", "1.0", "1,5 V", "12 v",
)  # fmt: skip
ODD_VALUES: tuple[Any, ...] = (
    None, True, False, 0, -1, 1, 2**31, 2**63, 2**64, 10**40, 10**99, -(10**40), 0.0, 1.5, -0.5, 1e300, 5e-324,
    [], {}, [[]], [{}], {"": ""}, {"unknown": "unknown"}, ["unknown"], ["unknown", "none"], {"a": None},
    "unknown", "none",
)  # fmt: skip


def quantity(source: Source, dimension: str, form: str, ordinary: list[Any]) -> Any:
    """A value with its unit. `form`: quantity, band or wire. `ordinary`: what the schema gives as examples."""
    if chance(source, 5):
        return "unknown"
    if ordinary and not chance(source, 40):
        return pick(source, ordinary)
    if form == "wire":
        return pick(source, ("18 AWG", "24 AWG", "4/0 AWG", "40 AWG", "1.5 mm2", "1e-9 mm2", "1e9 mm2", "0 AWG"))
    unit = pick(source, list(DIMENSIONS[dimension].units))

    def number() -> str:
        return pick(source, EXTREME if chance(source, 25) else NUMBERS)

    sign = "-" if DIMENSIONS[dimension].negative and chance(source, 30) else ""
    if form == "band":
        if chance(source, 25):
            return f"{sign}{number()} {unit} +-{number()} %"
        if chance(source, 20):
            return f"{number()} {unit} +{number()}/-{number()} {unit}"
        if chance(source, 30):
            return f"{sign}{number()}..{number()} {unit}"
    return f"{sign}{number()} {unit}"


def odd(source: Source) -> Any:
    """A value that hardly belongs anywhere."""
    return pick(source, ODD_TEXTS) if chance(source, 60) else pick(source, ODD_VALUES)
