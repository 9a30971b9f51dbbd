"""Cases of codes and standards by edition. Each block of `code_cases.yaml` names document, edition and clause."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import yaml

from doorlint import codes
from doorlint.codes.values import value_file
from doorlint.outcome import Cited, Kind, Place
from doorlint.quantity import parse_quantity
from doorlint.spec.fields import Undecided
from doorlint.spec.model import Project

BLOCKS: list[dict[str, Any]] = yaml.safe_load((Path(__file__).parent / "code_cases.yaml").read_text(encoding="utf-8"))
ROWS = [(block, case) for block in BLOCKS for case in block["cases"]]
AT = Place("door.yaml", "/openings/1/egress")
PROJECT = Place("door.yaml", "/project")


def _name(row: Mapping[str, Any] | str) -> str | None:
    if isinstance(row, dict) and "value" in row:
        return " ".join(str(row[key]) for key in ("value", "group", "measured", "expect") if key in row)
    return f"{row['document'].split()[0]}-{row['edition']}" if isinstance(row, dict) else None


def _project(adopts: Mapping[str, str], amendments: list[str] | None = None) -> Project:
    return Project(place=PROJECT, codes=dict(adopts), amendments=tuple(amendments) if amendments else None)


def _measured(name: str, written: Any) -> codes.Value:
    file = value_file(name)
    if file.kind in ("quantity", "range"):
        return parse_quantity(written, file.dimension)
    return tuple(written) if isinstance(written, list) else written


@dataclass(frozen=True)
class _Said:
    word: str
    basis: tuple[Any, ...]


def _ask(block: Mapping[str, Any], case: Mapping[str, Any]) -> _Said:
    """What the code says to the case, asked as a rule asks it."""
    name, group = case["value"], case.get("group", "")
    if "claims" in block:
        setting = codes.published(name, block["claims"], group=group)
        verdict = setting.verdict("value", _measured(name, case["measured"]), AT)
        return _Said(verdict.kind.value, verdict.basis)
    project = _project(block["adopts"], block.get("amendments"))
    if case["expect"] in ("demanded", "not_demanded"):
        met = codes.triggering(project, name, _measured(name, case["measured"]), group=group)
        (family,) = block["adopts"]
        basis = codes.lookup(project, family, name, group=group).basis
        return _Said("demanded" if met is not None else "not_demanded", (basis,))
    if "measured" not in case:
        setting = codes.permission(project, name, group=group)
        return _Said(str(setting.value), (setting.basis,))
    try:
        verdict = codes.judge(project, name, "value", _measured(name, case["measured"]), AT, group=group)
    except Undecided as gap:
        assert gap.name
        return _Said("open", ())
    return _Said(verdict.kind.value, verdict.basis)


def test_there_are_enough_cases() -> None:
    assert len(ROWS) >= 120
    assert {block["document"] for block in BLOCKS} >= {"International Building Code", "NFPA 101 Life Safety Code"}


@pytest.mark.parametrize(("block", "case"), ROWS, ids=_name)
def test_the_published_case(block: dict[str, Any], case: dict[str, Any]) -> None:
    said = _ask(block, case)
    assert said.word == case["expect"]
    if said.word == "open":
        return
    expected = Cited(
        block["document"], block["edition"], block["clause"], block.get("section", ""), block["from_memory"]
    )
    assert said.basis == (expected,)


IBC_NFPA = {"building": "IBC-2021", "life_safety": "NFPA-101-2021"}


@pytest.mark.parametrize(
    ("source", "adopts", "name", "group", "measured", "expected"),
    [
        # panic hardware: IBC from 50, NFPA 101 from 100 occupants; the lower figure governs where both are adopted
        ("IBC 2021 1010.2.9; NFPA 101 (2021) 7.2.1.7 from memory", IBC_NFPA, "panic_hardware/load", "A-3", 49, "none"),
        (
            "IBC 2021 1010.2.9; NFPA 101 (2021) 7.2.1.7 from memory",
            IBC_NFPA,
            "panic_hardware/load",
            "A-3",
            50,
            "IBC-2021",
        ),
        ("NFPA 101 (2021) 7.2.1.7 from memory", IBC_NFPA, "panic_hardware/load", "I-4", 100, "NFPA-101-2021"),
        # stairs of up to four stories: mechanical locks by NFPA 101, not by the IBC
        ("IBC 2021 1010.2.7; NFPA 101 (2021) 7.2.1.5.7", IBC_NFPA, "stair_reentry/stories", "", 3, "IBC-2021"),
        # electrical rooms: NEC 800 A from 2014, IBC 1200 A until 2021 (from memory)
        (
            "NEC 2017 110.26(C)(3); IBC 2018 1010.1.10 from memory",
            {"building": "IBC-2018", "electrical": "NFPA-70-2017"},
            "electrical_room/current",
            "",
            "1000 A",
            "NFPA-70-2017",
        ),
    ],
)
def test_the_code_that_asks_first_governs(
    source: str, adopts: dict[str, str], name: str, group: str, measured: Any, expected: str
) -> None:
    met = codes.triggering(_project(adopts), name, _measured(name, measured), group=group)
    assert (met.edition if met else "none") == expected, source


@pytest.mark.parametrize(
    ("source", "name", "measured", "expected", "cites"),
    [
        # the force of delayed egress: 15 lbf in NFPA 101, no number in the IBC
        ("NFPA 101 (2021) 7.2.1.6.1", "delayed_egress/force", "16 lbf", Kind.FAIL, {"NFPA 101 Life Safety Code"}),
        ("NFPA 101 (2021) 7.2.1.6.1", "delayed_egress/smoke_detectors", 3, Kind.FAIL, {"NFPA 101 Life Safety Code"}),
        # stairs: the IBC asks for the command point, NFPA 101 for the fire alarm; both have to be met
        ("IBC 2021 1010.2.7", "stair_reentry/release", ["fire_alarm"], Kind.FAIL, {"International Building Code"}),
        (
            "NFPA 101 (2021) 7.2.1.5.7",
            "stair_reentry/release",
            ["command_point"],
            Kind.FAIL,
            {"NFPA 101 Life Safety Code"},
        ),
        (
            "IBC 2021 1010.2.7; NFPA 101 (2021) 7.2.1.5.7",
            "stair_reentry/release",
            ["command_point", "fire_alarm"],
            Kind.PASS,
            {"International Building Code", "NFPA 101 Life Safety Code"},
        ),
        (
            "IBC 2021 1010.2.13; NFPA 101 (2021) 7.2.1.6.1",
            "delayed_egress/delay",
            "30 s",
            Kind.REVIEW,
            {"International Building Code", "NFPA 101 Life Safety Code"},
        ),
    ],
)
def test_where_two_codes_are_adopted_both_are_met(
    source: str, name: str, measured: Any, expected: Kind, cites: set[str]
) -> None:
    verdict = codes.judge(_project(IBC_NFPA), name, "value", _measured(name, measured), AT)
    assert verdict.kind is expected, source
    assert {ground.document for ground in verdict.basis if isinstance(ground, Cited)} == cites


def test_assembly_with_delayed_egress_fails_by_the_building_code_alone() -> None:
    """IBC 2015 1010.1.9.7 bars Group A; NFPA 101 (2015), by its assembly chapter, does not (from memory)."""
    both = _project({"building": "IBC-2015", "life_safety": "NFPA-101-2015"})
    assert codes.permission(both, "delayed_egress/permission", group="A-3").edition == "IBC-2015"
    assert codes.permission(both, "delayed_egress/permission", group="A-3").permits is codes.Answer.NO
    alone = _project({"life_safety": "NFPA-101-2015"})
    assert codes.permission(alone, "delayed_egress/permission", group="A-3").permits is codes.Answer.APPROVAL


def test_what_releases_the_stair_is_a_conflict_for_the_authority() -> None:
    """IBC 2021 1010.2.7 and NFPA 101 (2021) 7.2.1.5.7 name different signals."""
    conflict = codes.governing(_project(IBC_NFPA), "stair_reentry/release")
    assert isinstance(conflict, codes.Conflict)
    verdict = conflict.verdict(AT)
    assert verdict.kind is Kind.REVIEW
    assert "IBC-2021" in verdict.message
    assert "NFPA-101-2021" in verdict.message


@pytest.mark.parametrize(
    ("edition", "key", "clause"),
    [
        # one number, two meanings: IBC 1010.1.9.8 and .9 in 2015 and 2018; NFPA 101 7.2.1.6.3 in 2018 and 2021
        ("IBC-2015", "sensor_release", "1010.1.9.8"),
        ("IBC-2018", "delayed_egress", "1010.1.9.8"),
        ("IBC-2015", "hardware_release", "1010.1.9.9"),
        ("IBC-2018", "sensor_release", "1010.1.9.9"),
        ("IBC-2015", "delayed_egress", "1010.1.9.7"),
        ("IBC-2018", "controlled_egress", "1010.1.9.7"),
        ("IBC-2018", "hardware_release", "1010.1.9.10"),
        ("IBC-2021", "delayed_egress", "1010.2.13"),
        ("IBC-2021", "sensor_release", "1010.2.12"),
        ("IBC-2021", "hardware_release", "1010.2.11"),
        ("IBC-2024", "delayed_egress", "Delayed egress"),  # number not confirmed
        ("NFPA-101-2018", "elevator_lobby", "7.2.1.6.3"),
        ("NFPA-101-2021", "hardware_release", "7.2.1.6.3"),
    ],
)
def test_the_clause_of_the_edition(edition: str, key: str, clause: str) -> None:
    family = "building" if edition.startswith("IBC") else "life_safety"
    assert codes.section(_project({family: edition}), family, key).clause == clause
