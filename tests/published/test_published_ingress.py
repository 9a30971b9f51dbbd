"""Enclosure codes against IEC 60529, NEMA 250 and IEC 62262. Each row names its source."""

from __future__ import annotations

import pytest

from doorlint.circuit import ingress
from doorlint.circuit.ingress import IK_ENERGY_J, parse_ip, satisfies

FIRST = "IEC 60529 Tables 1 and 2, each first digit includes the lower ones"
SECOND = "IEC 60529 Table 3, digits 1 to 6 include the lower ones"
ALONE = "IEC 60529 clause 6: 7, 8 and 9 do not include jets; dual marking does (from memory)"
UNKNOWN = "IEC 60529: X is not stated, and is not zero"
NEMA = "NEMA 250-2014/2018, informative comparison table (from memory)"
NEMA_OLD = "older NEMA 250 printing (1997/2003)"
IK = "IEC 62262:2002 with amendment 1:2021, table of IK codes"


@pytest.mark.parametrize(
    ("source", "code", "first", "second", "answer"),
    [
        (FIRST, "IP65", 6, None, True),
        (FIRST, "IP65", 5, None, True),
        (FIRST, "IP54", 5, None, True),
        (FIRST, "IP54", 6, None, False),
        (FIRST, "IP20", 3, None, False),
        (FIRST, "IP44", 4, None, True),
        (SECOND, "IP65", None, 5, True),
        (SECOND, "IP65", None, 4, True),
        (SECOND, "IP65", None, 1, True),
        (SECOND, "IP65", None, 6, False),
        (SECOND, "IP66", None, 5, True),
        (SECOND, "IP66", None, 7, False),
        (SECOND, "IP66", None, 9, False),
        (SECOND, "IP54", None, 5, False),
        (SECOND, "IP54", 5, 4, True),
        (ALONE, "IP67", 6, 5, False),
        (ALONE, "IP67", 6, 6, False),
        (ALONE, "IP67", 6, 7, True),
        (ALONE, "IP68", 6, 5, False),
        (ALONE, "IP68", 6, 7, True),
        (ALONE, "IP67", 6, 8, False),
        (ALONE, "IP69", 6, 6, False),
        (ALONE, "IP69", 6, 7, False),
        (ALONE, "IP69", 6, 9, True),
        (ALONE, "IP67", 6, 4, None),
        (ALONE, "IP69", 6, 3, None),
        (ALONE, "IP65/IP67", 6, 5, True),
        (ALONE, "IP65/IP67", 6, 7, True),
        (ALONE, "IP65/IP67", 6, 6, False),
        (ALONE, "IP66/IP69", 6, 6, True),
        (ALONE, "IP66/IP67", 6, 4, True),
        (UNKNOWN, "IPX5", 5, 5, None),
        (UNKNOWN, "IPX5", None, 5, True),
        (UNKNOWN, "IPX5", None, 6, False),
        (UNKNOWN, "IP5X", 5, 4, None),
        (UNKNOWN, "IP5X", 5, None, True),
        (UNKNOWN, "IP5X", 6, 4, False),
        (UNKNOWN, "IPXX", 2, None, None),
    ],
)
def test_ip_codes(source: str, code: str, first: int | None, second: int | None, answer: bool | None) -> None:
    assert satisfies(parse_ip(code), first, second) is answer, source


@pytest.mark.parametrize(
    ("source", "digit", "word"),
    [
        (FIRST, 1, "50 mm"),
        (FIRST, 2, "12.5 mm"),
        (FIRST, 3, "2.5 mm"),
        (FIRST, 4, "1 mm"),
        (FIRST, 5, "no harm"),
        (FIRST, 6, "no dust"),
    ],
)
def test_first_digit_sizes(source: str, digit: int, word: str) -> None:
    assert word in ingress.FIRST_DIGIT[digit], source


@pytest.mark.parametrize(
    ("source", "digit", "word"),
    [(SECOND, 2, "15 degrees"), (SECOND, 3, "60 degrees"), (SECOND, 5, "jets"), (SECOND, 7, "immersion")],
)
def test_second_digit_words(source: str, digit: int, word: str) -> None:
    assert word in ingress.SECOND_DIGIT[digit], source


@pytest.mark.parametrize(
    ("source", "nema", "code"),
    [
        (NEMA, "1", "IP20"),
        (NEMA, "2", "IP22"),
        (NEMA, "3", "IP55"),
        (NEMA, "3R", "IP24"),
        (NEMA, "3S", "IP55"),
        (NEMA, "4", "IP66"),
        (NEMA, "4X", "IP66"),
        (NEMA, "5", "IP53"),
        (NEMA, "6", "IP67"),
        (NEMA, "6P", "IP68"),
        (NEMA, "12", "IP54"),
        (NEMA, "12K", "IP54"),
        (NEMA, "13", "IP54"),
    ],
)
def test_nema_types(source: str, nema: str, code: str) -> None:
    minimum = ingress.nema_minimum_ip(nema)
    assert minimum is not None
    assert ingress.covers(minimum, parse_ip(code)) is True, source
    # No more than the table gives: one step further in either digit is not proven.
    printed = parse_ip(code)
    assert printed.first == minimum.first, source
    assert max(minimum.second) == max(printed.second), source


@pytest.mark.parametrize(
    ("source", "nema", "older"),
    [
        (NEMA_OLD, "1", "IP10"),
        (NEMA_OLD, "2", "IP11"),
        (NEMA_OLD, "3", "IP54"),
        (NEMA_OLD, "3R", "IP14"),
        (NEMA_OLD, "4", "IP56"),
        (NEMA_OLD, "5", "IP52"),
        (NEMA_OLD, "6", "IP67"),
        (NEMA_OLD, "12", "IP52"),
        (NEMA_OLD, "13", "IP54"),
    ],
)
def test_newer_nema_table_gives_at_least_the_older(source: str, nema: str, older: str) -> None:
    minimum = ingress.nema_minimum_ip(nema)
    assert minimum is not None
    assert ingress.covers(minimum, parse_ip(older)) is True, source


@pytest.mark.parametrize("nema", ["6", "6P"])
def test_submersible_nema_types_are_hosed_down_too(nema: str) -> None:
    # NEMA 250, definitions of types 6 and 6P: hose-directed water and submersion (from memory).
    minimum = ingress.nema_minimum_ip(nema)
    assert minimum is not None
    assert satisfies(minimum, 6, 5) is True


@pytest.mark.parametrize(
    ("source", "text", "energy_j"),
    [
        (IK, "IK00", None),
        (IK, "IK01", 0.14),
        (IK, "IK02", 0.2),
        (IK, "IK03", 0.35),
        (IK, "IK04", 0.5),
        (IK, "IK05", 0.7),
        (IK, "IK06", 1.0),
        (IK, "IK07", 2.0),
        (IK, "IK08", 5.0),
        (IK, "IK09", 10.0),
        (IK, "IK10", 20.0),
        (IK, "IK11", 50.0),
    ],
)
def test_ik_energies(source: str, text: str, energy_j: float | None) -> None:
    assert ingress.ik_energy_j(ingress.parse_ik(text)) == energy_j, source


def test_ik_table_is_complete() -> None:
    assert sorted(IK_ENERGY_J) == list(range(12)), IK
