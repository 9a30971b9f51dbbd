"""The questions: every open outcome in one, each to one party, with what the answer decides."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from report_samples import PRODUCTS, ROOT, RULES, reviewed, write

from doorlint import cli
from doorlint.outcome import Kind, Level, Outcome, Place
from doorlint.questions import SPECIFIER, UNNAMED, Question, described, questions
from doorlint.report.questions import render, render_csv, render_json
from doorlint.reviewing import Result, review_text
from doorlint.rulebook import Rulebook


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Result:
    return reviewed(write(tmp_path_factory.mktemp("spec")))


def asked(result: Result) -> dict[tuple[str, str], Question]:
    return {(question.about, question.name): question for question in questions(result)}


def test_one_question_for_each_missing_datum(result: Result) -> None:
    found = asked(result)
    assert set(found) == {
        ("product strike, coil", "inductance"),
        ("opening 114A, lock", "length"),
        ("opening 115, lock", "length"),
        ("opening 115, reader", "length"),
    }
    coil = found["product strike, coil", "inductance"]
    assert coil.subjects == ("114A/lock", "115/lock")  # one sheet, asked for once
    assert coil.text == "What is the inductance of product strike, coil?"
    [decides] = coil.decides
    assert (decides.rule, decides.title, decides.level) == (
        "coil/energy-unknown",
        "The coil holds much energy",
        Level.WARNING,
    )
    assert coil.level is Level.WARNING
    assert coil.example == "150 mH"
    assert coil.meaning.startswith("Inductance of the coil")


def test_who_is_asked(result: Result) -> None:
    parties = {key[0]: question.party for key, question in asked(result).items()}
    assert parties == {
        "product strike, coil": "hardware supplier",
        "opening 114A, lock": "hardware supplier",  # the item names nobody, its product does
        "opening 115, lock": "integrator",  # the item's word goes before the product's
        "opening 115, reader": UNNAMED,
    }
    assert [question.party for question in questions(result)] == [
        "hardware supplier",
        "hardware supplier",
        "integrator",
        UNNAMED,
    ]


@pytest.mark.parametrize(
    ("pointer", "part", "missing", "party", "about"),
    [
        ("/power/psu", "key", "budget", "electrician", "power source psu"),
        ("/power/psu/current", "value", "current", "electrician", "power source psu"),
        ("/openings/114A", "key", "occupancy", SPECIFIER, "opening 114A"),
        ("/project", "key", "site", SPECIFIER, "the project"),
        ("/products/reader", "key", "ip", UNNAMED, "product reader"),
        ("", "value", "a sounder at the door", SPECIFIER, "the spec"),
    ],
)
def test_party_by_place(result: Result, pointer: str, part: str, missing: str, party: str, about: str) -> None:
    file = next(name for name in result.documents if ("products" in name) == pointer.startswith("/products"))
    place = Place(file, pointer, part)  # type: ignore[arg-type]
    open_ = Outcome("coil/current-high", Kind.OPEN, Level.ERROR, "x", "open", place, missing=(missing,))
    [question] = questions(replace(result, outcomes=(open_,)))
    assert question.party == party
    assert question.about.startswith(about)
    assert question.name == missing


def test_item_answers_for_a_product_that_names_nobody(tmp_path: Path) -> None:
    root = ROOT.replace("fed_from: psu}}}", "fed_from: psu, furnished_by: door maker}}}")
    found = asked(reviewed(write(tmp_path, root, PRODUCTS.replace("    furnished_by: hardware supplier\n", ""))))
    assert found["product strike, coil", "inductance"].party == "door maker"


def test_unknown_party_is_nobody(tmp_path: Path) -> None:
    root = ROOT.replace("furnished_by: integrator", "furnished_by: unknown")
    products = PRODUCTS.replace("furnished_by: hardware supplier", "furnished_by: ' '")
    found = questions(reviewed(write(tmp_path, root, products)))
    assert {question.party for question in found} == {UNNAMED}


def test_every_open_outcome_is_asked_for(result: Result) -> None:
    waiting = {(o.rule, o.subject) for o in result.outcomes if o.kind is Kind.OPEN}
    decided = [one for question in questions(result) for one in question.decides]
    covered = {(one.rule, subject) for one in decided for subject in one.subjects}
    assert covered == waiting
    mute = Outcome("coil/current-high", Kind.OPEN, Level.ERROR, "114A", "nobody knows", Place(result.root, ""))
    [question] = questions(replace(result, outcomes=(mute,)))
    assert question.name == "nobody knows"
    assert question.text == f"the spec {result.root}: nobody knows?"


def test_gravest_is_asked_first(result: Result) -> None:
    root = Place(result.root, "/openings/114A", "key")
    outcomes = tuple(
        Outcome(rule, Kind.OPEN, level, "114A", "open", root, missing=(name,))
        for rule, level, name in (("a/note", Level.NOTE, "stair"), ("a/error", Level.ERROR, "occupancy"))
    )
    assert [q.name for q in questions(replace(result, outcomes=outcomes))] == ["occupancy", "stair"]
    both = tuple(replace(o, missing=("stair",)) for o in outcomes)
    [question] = questions(replace(result, outcomes=both))
    assert [one.rule for one in question.decides] == ["a/error", "a/note"]
    assert question.level is Level.ERROR


def test_fields_are_described_by_the_schema() -> None:
    assert described("/openings/1/items/lock/length")[::2] == ("length of cable", "62 m")
    assert described("/products/a/coils/12 V/inductance")[0] == "inductance"
    assert described("/products/a/ip")[0].startswith("IP")
    assert described("/products/a/a sounder at the door") == ("", "", "")
    for owner in ("products/a", "power/a", "openings/1/items/b"):
        assert described(f"/{owner}/furnished_by")[0] == "furnished by"


def test_text_is_a_list_to_send(result: Result) -> None:
    text = render(result)
    assert "4 questions; 5 requirements wait for the answers." in text
    assert "To: hardware supplier\n\n1. What is the inductance of product strike, coil?" in text
    assert "Write it as `inductance: 150 mH` at " in text
    line = PRODUCTS.splitlines()[6]
    assert f"parts/products.yaml:7:{line.index('unknown') + 1}." in text
    assert "Decides (warning) [coil/energy-unknown] The coil holds much energy: 114A/lock, 115/lock" in text
    assert "To: (nobody is named; say who furnishes it with `furnished_by`)" in text
    none = replace(result, outcomes=())
    assert "no outcome is open, so there is nothing to ask." in render(none)


def test_json_and_csv_carry_the_same(result: Result) -> None:
    data = json.loads(render_json(result))
    assert data["complete"] is True
    assert [one["number"] for one in data["questions"]] == [1, 2, 3, 4]
    assert data["questions"][0]["place"]["line"] == 7
    assert data["questions"][-1]["party"] is None
    written = render_csv(result)
    assert written.endswith("\r\n")
    rows = list(csv.DictReader(io.StringIO(written, newline="")))
    assert [row["question"] for row in rows] == [one["question"] for one in data["questions"]]
    assert rows[0]["decides"] == "The coil holds much energy [coil/energy-unknown]"
    assert rows[0]["subjects"] == "114A/lock, 115/lock"


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet=st.characters(codec=None), max_size=30) | st.sampled_from(["=1+1", "@x", "-1", "a\r\nb", '"']))
def test_hostile_text_stays_a_cell(text: str) -> None:
    made = review_text("doorlint: 1\nproject: {name: x}\n", rulebook=Rulebook(RULES))
    open_ = Outcome("coil/current-high", Kind.OPEN, Level.NOTE, text, text, Place("spec.yaml", ""), missing=(text,))
    result = replace(made, outcomes=(open_,))
    rows = list(csv.reader(io.StringIO(render_csv(result), newline="")))
    assert len(rows) == 2
    assert len(rows[1]) == len(rows[0])
    assert not [cell for cell in rows[1] if cell[:1] in ("=", "+", "-", "@")]
    render_json(result).encode("ascii")
    assert not [c for c in render(result) if ord(c) < 32 and c != "\n"]


def test_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = str(write(tmp_path))
    assert cli.run(["questions", root, "--format", "json"]) == 0
    out, err = capsys.readouterr()
    assert err == ""
    assert json.loads(out)["questions"]
    target = tmp_path / "list.csv"
    assert cli.run(["questions", root, "--format", "csv", "--output", str(target)]) == 0
    assert target.read_bytes().count(b"\r\n") > 1
    for command, told in (
        (["questions", root, "--output", root], "it is a file of the spec"),
        (["questions", root, "--output", str(tmp_path / "no" / "list")], "its folder does not exist"),
        (["questions", str(tmp_path / "none")], "does not exist"),
    ):
        capsys.readouterr()
        assert cli.run(command) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert told in err
        assert err.count("\n") == 1
