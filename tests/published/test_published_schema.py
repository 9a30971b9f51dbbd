"""Codes that the format accepts, against the published standards that define them. All from memory."""

from __future__ import annotations

import json

import pytest

from doorlint.document import parse
from doorlint.schema import check, schema_text

DEFS = json.loads(schema_text("spec"))["$defs"]


def _rules(key: str, value: str) -> list[str]:
    text = f"doorlint: 1\nproducts: {{p: {{kind: reader, {key}: {value}}}}}\n"
    return [found.rule for found in check(parse(text))]


# IEC 60529:1989 with amendments 1 (1999) and 2 (2013), clause 4: designations made of digits 0 to 6 and 0 to 9, X for
# a digit not given, additional letters A to D, supplementary letters H M S W; two codes joined for double marking.
# The K after 69 is of ISO 20653.
@pytest.mark.parametrize(
    "code",
    ["IP44", "IPX5", "IP2X", "IP20C", "IPXXC", "IPX1C", "IP3XD", "IP23S", "IP21CM", "IPX5/IPX7", "IP69", "IP69K"],
)
def test_ip_codes_of_iec_60529(code: str) -> None:
    assert _rules("ip", code) == []


@pytest.mark.parametrize("code", ["IP74", "IP6", "65", "IP65E", "ip65", "IP 65", "IP65/", "IPA4", "IP655"])
def test_what_iec_60529_does_not_know_is_a_finding(code: str) -> None:
    assert len(_rules("ip", code)) == 1


# IEC 62262:2002 with amendment 1 (2021): IK00 to IK10, and IK11 by the amendment.
@pytest.mark.parametrize("code", [f"IK{number:02}" for number in range(12)])
def test_ik_codes_of_iec_62262(code: str) -> None:
    assert _rules("ik", code) == []


@pytest.mark.parametrize("code", ["IK12", "IK8", "IK", "08"])
def test_what_iec_62262_does_not_know_is_a_finding(code: str) -> None:
    assert len(_rules("ik", code)) == 1


# NEMA 250: enclosure types, those for hazardous locations (7 to 10) included.
@pytest.mark.parametrize(
    "code",
    ["1", "2", "3", "3R", "3S", "3X", "3RX", "3SX", "4", "4X", "5", "6", "6P",
     "7", "8", "9", "10", "12", "12K", "13", "'4'", "'12'"],
)  # fmt: skip
def test_enclosure_types_of_nema_250(code: str) -> None:
    assert _rules("nema", code) == []


@pytest.mark.parametrize("code", ["0", "14", "4R", "IP65", "NEMA 4X"])
def test_what_nema_250_does_not_know_is_a_finding(code: str) -> None:
    assert len(_rules("nema", code)) == 1


# IEEE 802.3-2022: clause 33 has classes 0 to 4, clause 145 classes 1 to 8.
@pytest.mark.parametrize(("number", "faults"), [("0", 0), ("4", 0), ("8", 0), ("9", 1), ("-1", 1)])
def test_poe_classes_of_ieee_802_3(number: str, faults: int) -> None:
    assert len(_rules("inputs", f"{{poe: {{poe_class: {number}}}}}")) == faults


def test_utilisation_categories_are_those_of_iec_60947_5_1() -> None:
    """IEC 60947-5-1, table 1, has these and AC-13 (solid-state loads behind a transformer), not met at a door."""
    listed = set(DEFS["contact"]["properties"]["category"]["enum"]) - {"unknown"}
    assert listed == {"AC-12", "AC-14", "AC-15", "DC-12", "DC-13", "DC-14"}
