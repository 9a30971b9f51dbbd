"""The JSON report: valid by its schema, whole, in a fixed order, with finite numbers only."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from importlib import resources
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, ValidationError

import doorlint
from doorlint.document import parse
from doorlint.outcome import (
    Basis,
    Change,
    Cited,
    Kind,
    Level,
    Measure,
    Outcome,
    Place,
    Practice,
    Related,
    Repair,
    Step,
    Term,
)
from doorlint.report import json_report
from doorlint.report.text import CAUTIONS
from doorlint.reviewing import Result
from doorlint.rulebook import Rule, Rulebook

SPEC = "project: {name: Invented}\nproducts: {strike: {coil: {current: 900 mA}}}\n"
CURRENT = Place("door.yaml", "/products/strike/coil/current")
BASIS: tuple[Basis, ...] = (
    Cited("IEC 60529", "2013", "clause 5", "Degrees of protection", from_memory=True),
    Practice("a contact carries what it is rated for", physics="contact heating"),
)


class Module:
    """A rule that is only counted."""

    RULE = Rule(
        "relay/current-over-rating", title="Lock draws too much", level=Level.ERROR, over=None, basis=BASIS
    )

    @staticmethod
    def check(_subject: object, _given: object) -> object:
        raise AssertionError("the report runs no rule")


FULL = Outcome(
    rule="relay/current-over-rating",
    kind=Kind.FAIL,
    level=Level.ERROR,
    subject="114A/lock",
    message="load current 900 mA is above the limit 750 mA by 150 mA",
    place=CURRENT,
    related=(Related(CURRENT.key, "the key"),),
    what="load current",
    measured=Measure(Fraction(9, 10), "current"),
    limit=Measure(Fraction(3, 4), "current"),
    relation="at most",
    margin=Measure(Fraction(-3, 20), "current"),
    working=(
        Step("load current", "I", Measure(0.9, "current"), (Term("I", "900 mA", CURRENT), Term("k", "1")), "sheet"),
        Step("kind of load", "by its kind", "inductive"),
    ),
    basis=BASIS,
    repairs=(
        Repair("smaller coil", (Change(CURRENT, "700 mA"), Change(CURRENT, "1", "n")), verified=True),
        Repair("fail secure", (), life_safety=True),
    ),
)


@pytest.fixture(scope="module")
def schema() -> Any:
    return json.loads(resources.files("doorlint.schemas").joinpath("findings.schema.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def validator(schema: Any) -> Draft202012Validator:
    Draft202012Validator.check_schema(schema)
    return Draft202012Validator(schema)


def review(*outcomes: Outcome, broken: bool = False) -> Result:
    document = parse(SPEC, "door.yaml")
    return Result("door.yaml", outcomes, {"door.yaml": document}, Rulebook((Module(),)), broken=broken)  # type: ignore[arg-type]


def read(*results: Result) -> Any:
    def refuse(constant: str) -> None:
        raise AssertionError(f"{constant} is no JSON")

    return json.loads(json_report.render(results), parse_constant=refuse)


def test_full_outcome(validator: Draft202012Validator) -> None:
    data = read(review(FULL))
    validator.validate(data)
    assert data["tool"] == {"name": "doorlint", "version": doorlint.__version__}
    assert tuple(data["cautions"]) == CAUTIONS
    [outcome] = data["reviews"][0]["outcomes"]
    start = SPEC.index("900 mA")
    assert outcome["place"] == {
        "file": "door.yaml",
        "pointer": "/products/strike/coil/current",
        "part": "value",
        "start": {"line": 2, "column": 37, "offset": start},
        "end": {"line": 2, "column": 43, "offset": start + 6},
        "text": "900 mA",
    }
    assert outcome["related"][0]["place"]["text"] == "current"
    assert outcome["measured"] == {"value": 0.9, "unit": "A", "dimension": "current", "text": "900 mA"}
    assert outcome["margin"]["value"] == -0.15
    assert outcome["relation"] == "at most"
    assert [step["result"]["text"] for step in outcome["working"]] == ["900 mA", "inductive"]
    assert outcome["working"][0]["terms"][0]["place"]["start"]["column"] == 37
    assert "place" not in outcome["working"][0]["terms"][1]
    assert [basis["kind"] for basis in outcome["basis"]] == ["cited", "practice"]
    assert outcome["basis"][0]["from_memory"] is True
    assert [(r["verified"], r["life_safety"]) for r in outcome["repairs"]] == [(True, False), (False, True)]
    assert "key" not in outcome["repairs"][0]["changes"][0]
    assert outcome["repairs"][0]["changes"][1]["key"] == "n"


def test_every_kind_is_carried_and_counted(validator: Draft202012Validator) -> None:
    outcomes = [replace(FULL, kind=kind) for kind in Kind]
    outcomes += [replace(FULL, waived="accepted"), replace(FULL, level=Level.NOTE)]
    outcomes += [replace(FULL, rule="document/syntax", kind=Kind.OPEN, missing=("current",))]
    data = read(review(*outcomes))
    validator.validate(data)
    [part] = data["reviews"]
    assert [o["kind"] for o in part["outcomes"]] == [o.kind.value for o in outcomes]
    assert part["summary"] == {
        "counts": {"pass": 1, "fail": 3, "open": 2, "review": 1, "notApplicable": 1},
        "failures": {"error": 1, "warning": 0, "note": 1},
        "waived": 1,
        "off": 0,
    }
    assert [rule["rule"] for rule in part["rules"]] == ["document/syntax", "relay/current-over-rating"]
    assert part["rules"][1]["counts"] == {"pass": 1, "fail": 3, "open": 1, "review": 1, "notApplicable": 1}
    assert part["outcomes"][-1]["missing"] == ["current"]
    assert part["outcomes"][5]["waived"] == "accepted"


def test_rule_that_judged_nothing_is_listed_with_zeros(validator: Draft202012Validator) -> None:
    data = read(review())
    validator.validate(data)
    assert data["reviews"][0]["rules"][0]["counts"] == dict.fromkeys(Kind, 0)


def test_incomplete_review_is_said() -> None:
    assert read(review(broken=True), review())["reviews"][0]["complete"] is False
    assert read(review(broken=True), review())["reviews"][1]["complete"] is True


@pytest.mark.parametrize("value", [float("nan"), float("inf"), Fraction(10) ** 400])
def test_number_without_json_form_is_null(validator: Draft202012Validator, value: Fraction | float) -> None:
    data = read(review(replace(FULL, measured=Measure(value, "current"))))
    validator.validate(data)
    assert data["reviews"][0]["outcomes"][0]["measured"]["value"] is None


def test_place_that_cannot_be_found_has_no_position(validator: Draft202012Validator) -> None:
    gone = replace(FULL, place=Place("gone.yaml", ""), related=(Related(Place("door.yaml", "/no"), "x"),))
    data = read(review(gone))
    validator.validate(data)
    assert data["reviews"][0]["outcomes"][0]["place"] == {"file": "gone.yaml", "pointer": "", "part": "value"}
    assert "start" not in data["reviews"][0]["outcomes"][0]["related"][0]["place"]


def test_text_of_a_large_place_is_cut() -> None:
    source = "a: " + "x" * 5000 + "\n"
    large = Result("d.yaml", (replace(FULL, place=Place("d.yaml", "/a")),), {"d.yaml": parse(source, "d.yaml")})
    place = read(large)["reviews"][0]["outcomes"][0]["place"]
    assert place["text"] == "x" * json_report.LONGEST_TEXT
    assert place["end"]["offset"] == 5003


def test_same_review_gives_the_same_bytes() -> None:
    assert json_report.render([review(FULL)]) == json_report.render([review(FULL)])


@settings(max_examples=60, deadline=None)
@given(st.text(), st.text(), st.floats(), st.fractions())
def test_any_text_and_number_is_valid_ascii_json(
    validator: Draft202012Validator, message: str, subject: str, number: float, exact: Fraction
) -> None:
    found = replace(
        FULL,
        message=message,
        subject=subject,
        measured=Measure(number, "current"),
        limit=Measure(exact, "voltage"),
        margin=Measure(exact, "no such dimension"),
    )
    written = json_report.render([review(found)])
    assert written.isascii()
    data = json.loads(written)
    validator.validate(data)
    assert data["reviews"][0]["outcomes"][0]["message"] == message


def _parts(node: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    if isinstance(node, dict):
        for name, part in node.get("properties", {}).items():
            yield f"{path}/{name}", part
        for key, value in node.items():
            yield from _parts(value, f"{path}/{key}")
    elif isinstance(node, list):
        for index, value in enumerate(node):
            yield from _parts(value, f"{path}/{index}")


def test_every_property_is_titled_and_described(schema: Any) -> None:
    # A `properties` below `if` only asks, it declares nothing; the declaring ones stand beside or below `then`.
    declared = [(p, s) for p, s in _parts(schema) if "/if/" not in p and "/allOf/" not in p]
    assert len(declared) > 60
    assert [path for path, part in declared if not (part.get("title") and part.get("description"))] == []


@pytest.mark.parametrize(
    "spoil",
    [
        lambda o: o.update(kind="failed"),
        lambda o: o.update(level="fatal"),
        lambda o: o.update(extra=1),
        lambda o: o.pop("place"),
        lambda o: o["place"].pop("end"),
        lambda o: o["place"]["start"].update(column=0),
        lambda o: o["measured"].update(value="0.9"),
        lambda o: o["measured"].pop("unit"),
        lambda o: o.pop("limit"),
        lambda o: o["basis"][0].update(kind="practice"),
        lambda o: o["basis"][1].update(kind="hearsay"),
        lambda o: o["working"][1]["result"].update(value=1),
        lambda o: o.update(kind="pass", waived="accepted"),
        lambda o: o.update(rule="R001"),
    ],
)
def test_schema_refuses_what_the_report_never_writes(validator: Draft202012Validator, spoil: Any) -> None:
    data = read(review(FULL))
    spoil(data["reviews"][0]["outcomes"][0])
    with pytest.raises(ValidationError):
        validator.validate(data)
