"""Two revisions compared: which openings changed verdict, and why."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from report_samples import PRODUCTS, ROOT, reviewed, write

from doorlint import cli
from doorlint.outcome import Kind, Level
from doorlint.report import sarif
from doorlint.report.comparison import Comparison, Unit, compare, render, render_json
from doorlint.report.earlier import Record, Revision, against, read, revision
from doorlint.reviewing import Result

# both locks comply; the twin with the substituted product does not
GOOD = PRODUCTS.replace("900 mA", "700 mA").replace(
    "  reader:",
    "  bolt: {kind: electric_strike, fail: secure, coil: {supply: dc, voltage: 12 V, current: 900 mA}}\n  reader:",
)
PLAIN = ROOT.partition("waivers:")[0].replace("Grüße 👋", "safe")


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> Result:
    return reviewed(write(tmp_path_factory.mktemp("good"), PLAIN, GOOD))


@pytest.fixture(scope="module")
def swapped(tmp_path_factory: pytest.TempPathFactory) -> Result:
    root = PLAIN.replace("115\": {items: {lock: {product: strike", "115\": {items: {lock: {product: bolt")
    assert root != PLAIN
    return reviewed(write(tmp_path_factory.mktemp("swapped"), root, GOOD))


def compared(before: Result, after: Result) -> Comparison:
    return compare(revision(before), revision(after), before=before.spec, after=after.spec)


def unit(comparison: Comparison, opening: str) -> Unit:
    [found] = [one for one in comparison.units if one.opening == opening]
    return found


def test_substituted_product_names_the_door_that_now_fails(good: Result, swapped: Result) -> None:
    found = compared(good, swapped)
    assert found.failing(now=True) == ("115",)
    assert found.failing(now=False) == ()
    assert [one.opening for one in found.units] == ["115"]
    assert found.same == 1
    changed = unit(found, "115")
    assert (changed.before, changed.after) == ("open", "fail")
    assert changed.spec == ("lock: product strike -> bolt",)
    [worse] = [moved for moved in changed.moved if moved.shown.rule == "coil/current-high"]
    assert worse.how == "changed"
    assert worse.before is not None
    assert (worse.before.kind, worse.shown.kind) == (Kind.PASS, Kind.FAIL)
    assert found.worse()
    assert not compared(swapped, good).worse()
    assert compared(swapped, good).failing(now=False) == ("115",)


def test_text_tells_verdict_reason_and_summary(good: Result, swapped: Result) -> None:
    text = render(compared(good, swapped))
    assert "opening 115: open -> fail\n    in the spec: lock: product strike -> bolt\n" in text
    assert "changed: pass -> fail (error): 115/lock: coil current 900 mA is above the limit 750 mA by 150 mA" in text
    assert "Now fail: 1 (115)\nNo longer fail: 0\n1 opening keeps what was found.\n" in text
    assert "opening 114A" not in text
    assert "design check" in text
    back = render(compared(swapped, good))
    assert "changed: fail (error) -> pass" in back
    assert "before: coil current 900 mA" in back


def test_json_carries_the_same(good: Result, swapped: Result) -> None:
    written = render_json(compared(good, swapped))
    assert written.isascii()
    data = json.loads(written)
    assert data["now_fail"] == ["115"]
    assert data["unchanged_openings"] == 1
    [change] = data["changes"]
    assert (change["opening"], change["before"], change["after"]) == ("115", "open", "fail")
    assert change["spec"] == ["lock: product strike -> bolt"]
    [worse] = [one for one in change["outcomes"] if one["rule"] == "coil/current-high"]
    assert worse["before"]["kind"] == "pass"
    assert (worse["after"]["kind"], worse["after"]["line"]) == ("fail", 8)


def test_equal_revisions_differ_in_nothing(good: Result, tmp_path: Path) -> None:
    # other lines and another folder are no difference
    again = reviewed(write(tmp_path, "# a line\n" + PLAIN, "# another\n" + GOOD))
    found = compared(good, again)
    assert found.units == ()
    assert found.same == 2
    assert "2 openings keep what was found." in render(found)


def test_openings_that_come_and_go(good: Result, tmp_path: Path) -> None:
    other = reviewed(write(tmp_path, PLAIN.replace('"114A"', '"114B"'), GOOD.replace("700 mA", "900 mA")))
    found = compared(good, other)
    assert (unit(found, "114A").after, unit(found, "114B").before) == ("not there", "not there")
    assert unit(found, "114B").after == "fail"
    assert {moved.how for moved in unit(found, "114A").moved} == {"gone"}
    assert {moved.how for moved in unit(found, "114B").moved} == {"new"}
    assert "lock: data of product strike" in unit(found, "115").spec
    assert set(found.failing(now=True)) == {"114B", "115"}


def test_changes_of_the_spec_in_words(good: Result, tmp_path: Path) -> None:
    root = (
        PLAIN.replace("current: 4 A", "current: 5 A")
        .replace("strike, fed_from: psu}", "strike, fed_from: psu, length: 9 m}, x: {product: reader}")
        .replace(", reader: {product: reader}", "")
        .replace("title: safe, ", "title: safe, stair: true, ")
    )
    found = compared(good, reviewed(write(tmp_path, root, GOOD)))
    assert unit(found, "").spec == ("power source psu: current",)
    assert unit(found, "114A").spec == ("opening: stair", "lock: length (not stated) -> 9 m", "x: added (reader)")
    assert unit(found, "115").spec == ("reader: removed (reader)",)


def test_waived_failure_is_a_verdict_of_its_own(tmp_path: Path) -> None:
    waiver = 'waivers:\n  - {rule: coil/current-high, opening: "115", reason: accepted, approved_by: P. Invented}\n'
    before = reviewed(write(tmp_path / "a", PLAIN))
    after = reviewed(write(tmp_path / "b", PLAIN + waiver))
    found = compared(before, after)
    assert (unit(found, "115").before, unit(found, "115").after) == ("fail", "open")  # the inductance is still open
    [moved] = unit(found, "115").moved
    assert moved.before is not None
    assert (moved.before.waived, moved.shown.waived) == (False, True)
    assert "changed: fail (error) -> waived: 115/lock" in render(found)
    assert not found.worse()
    assert compared(after, before).worse()


def test_level_decides_what_is_worse(good: Result, swapped: Result) -> None:
    found = compared(good, swapped)
    [one] = found.units
    notes = tuple(replace(m, after=replace(m.after, level=Level.NOTE)) for m in one.moved if m.after is not None)
    noted = replace(found, units=(replace(one, moved=notes),))
    assert not noted.worse()
    assert noted.worse(Level.NOTE)


def test_sarif_and_spec_give_the_same_comparison(good: Result, swapped: Result, tmp_path: Path) -> None:
    written = tmp_path / "good.sarif"
    written.write_text(sarif.render([good]), encoding="utf-8")
    [before] = read(written)
    from_file = compare(before, revision(swapped))
    direct = compare(revision(good), revision(swapped))
    assert from_file == direct
    assert from_file.failing(now=True) == ("115",)


# --- matching ---

_KINDS = st.sampled_from([Kind.PASS, Kind.FAIL, Kind.OPEN])
_RECORDS = st.lists(
    st.builds(
        lambda kind, requirement, message: Record(
            "r/r", "s", "s", kind, Level.ERROR, message, False, requirement, f"{requirement}{message}"
        ),
        _KINDS,
        st.sampled_from("ab"),
        st.sampled_from("xyz"),
    ),
    max_size=6,
)


@settings(max_examples=150, deadline=None)
@given(_RECORDS, _RECORDS)
def test_every_record_is_matched_once(earlier: list[Record], later: list[Record]) -> None:
    found = against(earlier, later)
    matched = [record for record in found.before if record is not None]
    assert len({id(record) for record in matched}) == len(matched)
    assert len(matched) + len(found.absent) == len(earlier)
    for record, old, state in zip(later, found.before, found.states, strict=True):
        assert (state == "new") == (old is None)
        if old is not None:
            assert old.requirement == record.requirement
            assert (state == "unchanged") == (old.standing == record.standing)
    # nobody is left over on both sides of one requirement
    new = {record.requirement for record, state in zip(later, found.states, strict=True) if state == "new"}
    assert not new & {record.requirement for record in found.absent}


@settings(max_examples=60, deadline=None)
@given(_RECORDS, st.randoms(use_true_random=False))
def test_order_does_not_matter_to_what_is_unchanged(records: list[Record], random: Any) -> None:
    shuffled = list(records)
    random.shuffle(shuffled)
    assert set(against(records, shuffled).states) <= {"unchanged"}


# --- the command ---


def specs(tmp_path: Path) -> tuple[str, str]:
    """Two specs between which the built-in rules see a lock that no longer suits its supply."""
    good = PLAIN.replace("current: 4 A", "current: 4 A, outputs: {a: {voltage: 12 V, current: 4 A}}")
    good = good.replace("fed_from: psu", "fed_from: psu.a")
    bad = good.replace("voltage: 12 V, current: 4 A", "voltage: 48 V, current: 4 A")
    assert bad != good
    return str(write(tmp_path / "a", good, GOOD)), str(write(tmp_path / "b", bad, GOOD))


def test_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    good, bad = specs(tmp_path)
    assert cli.run(["compare", good, bad]) == 1
    out, err = capsys.readouterr()
    assert err == ""
    assert "[supply/voltage-mismatch]" in out
    assert cli.run(["compare", bad, good]) == 0
    assert cli.run(["compare", good, good]) == 0
    capsys.readouterr()
    written = tmp_path / "a.sarif"
    cli.run(["review", good, "--format", "sarif", "--output", str(written)])
    assert cli.run(["compare", str(written), bad, "--format", "json"]) == 1
    data = json.loads(capsys.readouterr().out)
    changed = [one for change in data["changes"] for one in change["outcomes"]]
    worse = [one for one in changed if one["rule"] == "supply/voltage-mismatch"]
    assert {one["after"]["kind"] for one in worse if one["after"]} == {"fail"}
    assert {one["subject"] for one in worse if one["after"]} == {"114A/lock", "115/lock"}


def test_command_refuses_in_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    good, bad = specs(tmp_path)
    both = tmp_path / "both.sarif"
    cli.run(["review", good, bad, "--format", "sarif", "--output", str(both)])
    capsys.readouterr()
    broken = tmp_path / "c" / "project.yaml"
    broken.parent.mkdir()
    broken.write_text("doorlint: 1\nproject: {name: x\n", encoding="utf-8")
    part = tmp_path / "a" / "parts" / "products.yaml"
    for command, told in (
        (["compare", str(both), bad], "holds 2 reviews"),
        (["compare", good, str(tmp_path / "none")], "does not exist"),
        (["compare", good, bad, "--output", good], "it is a file of the spec"),
        (["compare", good, bad, "--output", str(part)], "it is a file of the spec"),
        (["compare", str(both), bad, "--output", str(both)], "it is a file of the spec"),
        (["compare", good, bad, "--output", str(tmp_path)], "it is a folder"),
        (["compare", good, str(broken)], "one of the reviews is incomplete"),
    ):
        assert cli.run(command) == 2, command
        err = capsys.readouterr().err
        assert told in err
        assert err.count("\n") == 1
    assert json.loads(both.read_text(encoding="utf-8"))["version"] == "2.1.0"


def test_incomplete_revision_is_said() -> None:
    earlier, later = Revision("a", (), ("1",), complete=False), Revision("b", (), ("1",))
    text = render(compare(earlier, later))
    assert "The review of a is incomplete" in text


def test_failure_with_other_figures_is_not_worse(swapped: Result, tmp_path: Path) -> None:
    root = PLAIN.replace('115": {items: {lock: {product: strike', '115": {items: {lock: {product: bolt')
    found = compared(swapped, reviewed(write(tmp_path, root, GOOD.replace("900 mA", "800 mA"))))
    text = render(found)
    assert "opening 115: still fail\n    in the spec: lock: data of product bolt\n" in text
    assert "    changed: fail (error): 115/lock" in text
    assert "        before: coil current 900 mA" in text
    assert not found.worse(Level.NOTE)
    assert found.failing(now=True) == found.failing(now=False) == ()
