"""The value files, and the questions that rules ask them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from importlib.resources import files
from types import SimpleNamespace
from typing import Any

import jsonschema
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint import codes
from doorlint.codes import asking, values
from doorlint.codes.setting import Setting, strictest
from doorlint.codes.values import value_file
from doorlint.outcome import Cited, Kind, Level, Place, Practice, Verdict
from doorlint.quantity import DIMENSIONS, Band, Quantity, parse_band, parse_quantity
from doorlint.rulebook import Rule, apply
from doorlint.spec.fields import UNKNOWN, Undecided
from doorlint.spec.model import Project

AT = Place("door.yaml", "/openings/1/egress")
PROJECT = Place("door.yaml", "/project")


def _project(amendments: Any = None, **adopts: str) -> Project:
    return Project(place=PROJECT, codes=adopts, amendments=amendments)


# -- the data ---------------------------------------------------------------------------------------


def _schema(part: str = "") -> dict[str, Any]:
    schema: dict[str, Any] = json.loads((files("doorlint.schemas") / "values.schema.json").read_text(encoding="utf-8"))
    return {"$schema": schema["$schema"], "$defs": schema["$defs"], "$ref": f"#/$defs/{part}"} if part else schema


def _paths() -> Iterator[tuple[str, Any]]:
    for path in sorted(values.folder().iterdir(), key=lambda p: p.name):
        if path.is_dir():
            yield from ((f"{path.name}/{file.name}", file) for file in path.iterdir() if file.name.endswith(".yaml"))
        elif path.name.endswith(".yaml"):
            yield path.name, path


def test_every_file_fits_the_schema() -> None:
    checks = {part: jsonschema.Draft202012Validator(_schema(part)) for part in ("", "documents", "amendment")}
    for part in checks:
        jsonschema.Draft202012Validator.check_schema(_schema(part))
    seen = 0
    for name, path in _paths():
        part = "documents" if name == "documents.yaml" else "amendment" if name.startswith("amendments/") else ""
        faults = [
            f"{name}: {'/'.join(map(str, e.absolute_path))}: {e.message}"
            for e in checks[part].iter_errors(yaml.safe_load(path.read_text(encoding="utf-8")))
        ]
        assert not faults
        seen += 1
    assert seen == len(codes.names()) + 1 + len(values.amendment_files())


@pytest.mark.parametrize(
    ("change", "at"),
    [
        ({"clause": None}, "from_memory"),  # a figure without a clause number says that it is from memory
        ({"evidence": "memory"}, "from_memory"),
        ({"evidence": "heard"}, "evidence"),
        ({"value": 15}, "value"),  # a number without unit
        ({"edition": "IBC 2021"}, "edition"),
        ({"groups": {"A": "15 s"}}, ""),
        ({"section": None}, ""),
    ],
)
def test_the_schema_refuses(change: dict[str, Any], at: str) -> None:
    good = _schema()["examples"][0]
    check = jsonschema.Draft202012Validator(_schema())
    assert not list(check.iter_errors(good))
    entry = {key: value for key, value in {**good["series"][0], **change}.items() if value is not None}
    (fault,) = check.iter_errors({**good, "series": [entry]})
    assert at in "/".join(map(str, fault.absolute_path))


def test_every_value_answers_each_edition_of_its_documents_or_lists_the_gap() -> None:
    rows = list(codes.coverage())
    silent = [(name, edition) for name, edition, figure, reason in rows if not figure and not reason]
    assert not silent
    assert {name for name, *_ in rows} == set(codes.names())


def test_every_entry_can_be_asked_for() -> None:
    """Each figure parses in its dimension, each ground is built, and a gap says what is missing."""
    for name in codes.names():
        file = value_file(name)
        assert not file.dimension or file.dimension in DIMENSIONS
        for edition, entry in file.series.items():
            for group in entry.get("groups", {"": None}):
                setting = codes.published(name, edition, group=group, place=AT)
                assert setting.basis.clause
                assert setting.basis.document
                assert setting.place == AT
                assert (setting.kind == "permission") == (
                    setting.value in ("permitted", "conditional", "not_permitted")
                )
        for edition, reason in file.gaps.items():
            with pytest.raises(codes.Gap) as gap:
                codes.published(name, edition, group="A")
            assert edition in gap.value.name
            assert gap.value.reason == reason


def test_conditional_permissions_say_the_condition() -> None:
    for name in codes.names():
        for edition, entry in value_file(name).series.items():
            for group in entry.get("groups", {"": None}):
                setting = codes.published(name, edition, group=group)
                assert bool(setting.condition) == (setting.value == "conditional"), (name, edition, group)


def _numeric() -> Iterator[tuple[str, str, str, Setting]]:
    for name in codes.names():
        for edition, entry in value_file(name).series.items():
            for group in entry.get("groups", {"": None}):
                setting = codes.published(name, edition, group=group)
                if isinstance(setting.value, Quantity) or (setting.kind == "count" and setting.value is not None):
                    yield name, edition, group, setting


def _moved(value: Any, by: int) -> Any:
    if isinstance(value, Quantity):
        return Quantity(value.value + by * Fraction(1, 1_000_000), value.dimension, "")
    return value + by


def test_every_limit_below_at_and_above() -> None:
    """Generated from the value files: the strictness of each decides at the limit, with no hidden tolerance."""
    expected = {
        "at_least": (False, True, True),
        "more_than": (False, False, True),
        "at_most": (True, True, False),
        "less_than": (True, False, False),
    }
    seen = 0
    for name, edition, group, setting in _numeric():
        for step, meets in zip((-1, 0, 1), expected[setting.strictness], strict=True):
            measured = _moved(setting.value, step)
            if setting.use == "trigger":
                assert setting.triggers(measured) is meets, (name, edition, group, step)
            else:
                assert (setting.admits(measured) is codes.Answer.YES) is meets, (name, edition, group, step)
        seen += 1
    assert seen > 300


# -- adoption ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["IBC-2021", "ibc-2021", "IBC 2021", "IBC (2021)", " IBC, 2021 "])
def test_ways_to_write_an_edition(text: str) -> None:
    edition = codes.adopted(_project(building=text), "building")
    assert str(edition) == "IBC-2021"
    assert edition.place == Place("door.yaml", "/project/codes/building")


def test_numbers_in_the_name_of_a_document_are_no_year() -> None:
    assert str(codes.adopted(_project(life_safety="NFPA 101-2021"), "life_safety")) == "NFPA-101-2021"
    assert str(codes.adopted(_project(access_control="IEC 60839-11-1:2013"), "access_control")).endswith("-2013")
    assert codes.read_edition("NFPA 101") is None


@pytest.mark.parametrize(
    ("adopts", "name", "pointer", "part", "stated"),
    [
        ({}, "codes.building", "/project", "key", False),
        ({"electrical": "NFPA-70-2023"}, "codes.building", "/project/codes", "key", False),
        ({"building": "unknown"}, "codes.building", "/project/codes/building", "value", True),
        ({"building": "NFPA-101-2021"}, "NFPA-101-2021", "/project/codes/building", "value", False),
        ({"building": "Moon Code 2031"}, "Moon Code 2031", "/project/codes/building", "value", False),
        ({"building": "IBC"}, "IBC-2021", "/project/codes/building", "value", False),
    ],
)
def test_an_edition_that_is_not_known_is_open(
    adopts: dict[str, str], name: str, pointer: str, part: str, stated: bool
) -> None:
    with pytest.raises(Undecided) as gap:
        codes.lookup(_project(**adopts), "building", "delayed_egress/delay")
    assert name in gap.value.name
    assert (gap.value.place.pointer, gap.value.place.part) == (pointer, part)
    assert gap.value.stated is stated


def test_an_edition_without_figures_is_a_gap_and_never_a_default() -> None:
    for edition in ("IBC-2012", "IBC-2027"):
        with pytest.raises(codes.Gap, match=edition):
            codes.lookup(_project(building=edition), "building", "delayed_egress/delay")


def test_unknown_names_are_mistakes_of_the_rule() -> None:
    project = _project(building="IBC-2021")
    for name in ("delayed_egress/nothing", "delayed_egress", "amendments/california-2022", "../schemas/x"):
        with pytest.raises(KeyError):
            codes.lookup(project, "building", name)
    with pytest.raises(KeyError):
        codes.adopted(project, "product")
    with pytest.raises(KeyError):
        codes.settings(project, "exit_device/lever_force")


def test_the_rulebook_turns_a_gap_into_open() -> None:
    rule = Rule(
        id="case/needs-code", title="A case", level=Level.ERROR, over=Project, basis=(Practice("a case of the test"),)
    )

    def check(subject: Project, context: object) -> Iterator[Verdict]:
        delay = parse_quantity("15 s", "time")
        yield codes.judge(subject, "delayed_egress/delay", "delay", delay, AT)

    module: Any = SimpleNamespace(RULE=rule, check=check)

    def kinds(project: Project) -> tuple[Kind, tuple[str, ...]]:
        (outcome,) = apply(module, SimpleNamespace(place=PROJECT, identity="case", **_fields(project)), None)
        return outcome.kind, outcome.missing

    assert kinds(_project(building="IBC-2021")) == (Kind.PASS, ())
    assert kinds(_project()) == (Kind.OPEN, ("codes.building",))
    kind, missing = kinds(_project(building="IBC-2012"))
    assert kind is Kind.OPEN
    assert "IBC-2012" in missing[0]


def _fields(project: Project) -> dict[str, Any]:
    return {"codes": project.codes, "amendments": project.amendments, "at": project.at}


# -- groups -----------------------------------------------------------------------------------------


def test_the_group_is_looked_for_from_the_narrow_to_the_wide() -> None:
    project = _project(building="IBC-2015")
    allowed = {group: codes.permission(project, "sensor_release/permission", group=group).value for group in GROUPS}
    assert allowed == {
        "I-2": "permitted",
        "I-3": "not_permitted",
        "A-5": "permitted",
        "a-3": "permitted",
        "S": "not_permitted",
    }


GROUPS = ("I-2", "I-3", "A-5", "a-3", "S")


def test_a_value_that_hangs_on_the_group_asks_for_it() -> None:
    for ask in (codes.settings, codes.governing, codes.permission):
        with pytest.raises(Undecided) as gap:
            ask(_project(building="IBC-2021"), "delayed_egress/permission")
        assert gap.value.name == "group"


# -- several codes ----------------------------------------------------------------------------------


def test_a_failure_by_one_code_stands_although_another_is_unknown() -> None:
    project = _project(building="IBC-2021", life_safety="unknown")
    over, within = parse_quantity("40 s", "time"), parse_quantity("10 s", "time")
    assert codes.judge(project, "delayed_egress/delay", "delay", over, AT).kind is Kind.FAIL
    with pytest.raises(codes.Gap) as gap:
        codes.judge(project, "delayed_egress/delay", "delay", within, AT)
    assert gap.value.name == "codes.life_safety"
    assert gap.value.stated


def test_a_met_trigger_stands_although_another_code_is_unknown() -> None:
    project = _project(building="IBC-2021", life_safety="NFPA-101-1999")
    met = codes.triggering(project, "panic_hardware/load", 50, group="E")
    assert met is not None
    with pytest.raises(codes.Gap):
        codes.triggering(project, "panic_hardware/load", 49, group="E")


def test_the_governing_value_is_the_stricter_one() -> None:
    both = _project(building="IBC-2021", life_safety="NFPA-101-2021")
    for name, group, edition in (
        ("delayed_egress/force", "", "NFPA-101-2021"),  # a limit against none
        ("panic_hardware/load", "A", "IBC-2021"),  # a trigger: the lower figure
        ("stair_reentry/stories", "", "IBC-2021"),
    ):
        governing = codes.governing(both, name, group=group)
        assert isinstance(governing, Setting)
        assert governing.edition == edition


def _setting(value: codes.Value | None, strictness: str, use: str = "limit") -> Setting:
    basis = Cited("A document", "2000", "1")
    return Setting("case/case", "Case", "count", value, strictness, use, "X-2000", "X-2000", basis, PROJECT)


NUMERIC = st.sampled_from(["at_least", "more_than", "at_most", "less_than"])


@given(NUMERIC, st.integers(0, 5), st.integers(0, 5), st.booleans(), st.integers(-1, 7))
@settings(max_examples=200, deadline=None)
def test_the_stricter_limit_admits_no_more(relation: str, a: int, b: int, sharp: bool, measured: int) -> None:
    other = {"at_least": "more_than", "at_most": "less_than"}.get(relation, relation) if sharp else relation
    one, two = _setting(a, relation), _setting(b, other)
    best = strictest((one, two))
    assert best is not None
    if best.admits(measured) is codes.Answer.YES:
        assert one.admits(measured) is two.admits(measured) is codes.Answer.YES


@given(NUMERIC, st.integers(0, 5), st.integers(0, 5), st.booleans(), st.integers(-1, 7))
@settings(max_examples=200, deadline=None)
def test_the_stricter_trigger_is_met_no_less(relation: str, a: int, b: int, sharp: bool, measured: int) -> None:
    other = {"at_least": "more_than", "at_most": "less_than"}.get(relation, relation) if sharp else relation
    one, two = _setting(a, relation, "trigger"), _setting(b, other, "trigger")
    best = strictest((one, two))
    assert best is not None
    assert best.triggers(measured) == (one.triggers(measured) or two.triggers(measured))


def test_what_cannot_be_ranked_is_a_conflict() -> None:
    assert strictest((_setting(1, "at_least"), _setting(5, "at_most"))) is None
    assert strictest((_setting("manual", "exactly"), _setting("automatic", "exactly"))) is None
    assert strictest((_setting(("a",), "all_of"), _setting(("b",), "all_of"))) is None
    low, high = parse_band("30..44 in", "length"), parse_band("34..48 in", "length")
    assert strictest((_setting(low, "within"), _setting(high, "within"))) is None
    inner = _setting(parse_band("36..40 in", "length"), "within")
    assert strictest((_setting(low, "within"), inner)) is inner
    assert strictest((_setting(None, "within"), inner)) is inner


# -- comparing --------------------------------------------------------------------------------------


def test_a_band_has_to_lie_within_the_limit_as_a_whole() -> None:
    height = codes.published("hardware/height", "ADA-2010")
    assert isinstance(height.value, Band)
    assert height.admits(parse_band("34..48 in", "length")) is codes.Answer.YES
    assert height.admits(parse_band("40 in +-10 in", "length")) is codes.Answer.NO
    delay = codes.published("delayed_egress/delay", "IBC-2021")
    assert delay.admits(parse_band("14..15 s", "time")) is codes.Answer.YES
    assert delay.admits(parse_band("14..16 s", "time")) is codes.Answer.APPROVAL


def test_a_flag_demands_or_allows_and_is_no_equality() -> None:
    ask = codes.published
    needed, unneeded = ask("sensor_release/button", "IBC-2018"), ask("hardware_release/button", "IBC-2018")
    assert (needed.admits(True), needed.admits(False)) == (codes.Answer.YES, codes.Answer.NO)
    assert (unneeded.admits(True), unneeded.admits(False)) == (codes.Answer.YES, codes.Answer.YES)
    barred = ask("fire_door/mechanical_dogging", "NFPA-80-2022")
    assert (barred.admits(True), barred.admits(False)) == (codes.Answer.NO, codes.Answer.YES)


def test_things_of_another_kind_are_not_compared() -> None:
    delay = codes.published("delayed_egress/delay", "IBC-2021")
    rearm = codes.published("delayed_egress/rearm", "IBC-2021")
    permission = codes.published("delayed_egress/permission", "IBC-2021", group="B")
    for ask in (
        lambda: delay.admits(parse_quantity("15 lbf", "force")),
        lambda: delay.admits(15),
        lambda: rearm.admits(True),
        lambda: permission.admits("permitted"),
        lambda: delay.permits,
        lambda: delay.triggers(parse_quantity("15 s", "time")),
    ):
        with pytest.raises(TypeError):
            ask()


def test_the_verdict_carries_figures_ground_and_place_of_adoption() -> None:
    project = _project(building="IBC-2021")
    verdict = codes.judge(project, "delayed_egress/delay", "delay", parse_quantity("40 s", "time"), AT)
    assert verdict.message == "delay 40 s: at most 15 s is required (IBC-2021)"
    assert verdict.margin is not None
    assert verdict.margin.value == -25
    assert verdict.relation == "at most"
    assert str(verdict.basis[0]) == "International Building Code (2021), 1010.2.13, Delayed egress"
    assert verdict.related[0].place == Place("door.yaml", "/project/codes/building")
    review = codes.judge(project, "delayed_egress/delay", "delay", parse_quantity("30 s", "time"), AT)
    assert "at most 30 s only where the authority approves" in review.message


# -- amendments -------------------------------------------------------------------------------------


def test_an_amendment_lies_over_its_edition_only() -> None:
    plain, amended = _project(building="IBC-2021"), _project(("CALIFORNIA-2022",), building="IBC-2021")
    name = "delayed_egress/sign_letters"
    assert codes.lookup(plain, "building", name).value is None
    over = codes.lookup(amended, "building", name)
    assert (over.text, over.layer, over.edition) == ("1 in", "CALIFORNIA-2022", "IBC-2021")
    assert over.basis.document == "California Building Code 2022"
    untouched = codes.lookup(amended, "building", "delayed_egress/initiation")
    assert untouched == codes.lookup(plain, "building", "delayed_egress/initiation")
    assert codes.lookup(replace(plain, amendments=("none",)), "building", name).value is None


@pytest.mark.parametrize(
    ("amendments", "edition", "told"),
    [
        (("ATLANTIS-2020",), "IBC-2021", "ATLANTIS-2020"),
        (("CALIFORNIA-2022",), "IBC-2018", "IBC-2021"),
        (UNKNOWN, "IBC-2021", "amendments"),
    ],
)
def test_an_amendment_that_is_not_known_leaves_its_values_open(amendments: Any, edition: str, told: str) -> None:
    with pytest.raises(Undecided, match=told) as gap:
        codes.lookup(_project(amendments, building=edition), "building", "delayed_egress/delay")
    assert gap.value.place.pointer.startswith("/project/amendments")


def test_an_amendment_of_another_document_changes_nothing() -> None:
    project = _project(("CALIFORNIA-2022",), building="IBC-2021", life_safety="NFPA-101-2021")
    assert codes.lookup(project, "life_safety", "delayed_egress/force").layer == "NFPA-101-2021"


def _amendment(jurisdiction: str, value: str) -> dict[str, Any]:
    change = {
        "name": "delayed_egress/force",
        "value": value,
        "section": "Case",
        "evidence": "memory",
        "document": "Case",
    }
    return {"title": "Case", "jurisdiction": jurisdiction, "base": "IBC-2021", "changes": [change], "id": ""}


def test_two_amendments_that_disagree_never_have_a_last_word(monkeypatch: pytest.MonkeyPatch) -> None:
    given = {"ONE-2022": _amendment("Here", "15 lbf"), "TWO-2022": _amendment("Here", "20 lbf")}
    for id_, data in given.items():
        data["id"] = id_
    monkeypatch.setattr(values, "amendment_files", lambda: given)
    monkeypatch.setattr(asking, "amendment_files", lambda: given)
    with pytest.raises(codes.ValuesError, match="ONE-2022 and amendments/TWO-2022"):
        codes.check_amendments()
    with pytest.raises(Undecided, match="ONE-2022 and amendments/TWO-2022"):
        codes.lookup(_project(("ONE-2022", "TWO-2022"), building="IBC-2021"), "building", "delayed_egress/force")
    given["TWO-2022"] = {**_amendment("Here", "15 lbf"), "id": "TWO-2022"}
    codes.check_amendments()
    agreed = codes.lookup(_project(("ONE-2022", "TWO-2022"), building="IBC-2021"), "building", "delayed_egress/force")
    assert agreed.text == "15 lbf"


def test_the_amendments_that_come_along_agree_and_change_what_there_is() -> None:
    codes.check_amendments()
    for id_, data in values.amendment_files().items():
        assert codes.read_edition(data["base"]) is not None
        for change in data["changes"]:
            setting = codes.lookup(_project((id_,), building=data["base"]), "building", change["name"])
            assert setting.layer == id_
