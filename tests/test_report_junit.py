"""The JUnit XML report: well-formed whatever the spec holds, and counted alike by readers that are not ours.

Readers: Python's xml.etree and the package junitparser. Allowed characters: XML 1.0 (fifth edition), production 2.
"""

from __future__ import annotations

import io
from collections import Counter
from dataclasses import replace
from importlib import import_module
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from report_samples import RULES, reviewed, write

from doorlint import cli
from doorlint.outcome import Kind, Level, Outcome, Place
from doorlint.report import junit
from doorlint.reviewing import Result, review_text
from doorlint.rulebook import Rulebook


@pytest.fixture(scope="module")
def result(tmp_path_factory: pytest.TempPathFactory) -> Result:
    return reviewed(write(tmp_path_factory.mktemp("spec")))


def parsed(text: str) -> ET.Element:
    return ET.fromstring(text.encode("utf-8"))


def case(root: ET.Element, name: str) -> ET.Element:
    [found] = [one for one in root.iter("testcase") if one.get("name") == name]
    return found


def test_one_suite_for_each_opening(result: Result) -> None:
    root = parsed(junit.render([result]))
    assert [suite.get("name") for suite in root][:2] == ["opening 114A", "opening 115"]
    assert case(root, "opening/unsafe 114A").get("classname") == "opening 114A"


def test_counts_agree_with_the_review_and_with_another_reader(result: Result) -> None:
    text = junit.render([result])
    read: Any = import_module("junitparser").JUnitXml.fromstring(text.encode("utf-8"))
    standing = [o for o in result.outcomes if o.kind is Kind.FAIL and not o.waived]
    waived = sum(1 for o in result.outcomes if o.waived)
    kinds = Counter(o.kind for o in result.outcomes)
    assert standing
    assert waived == 1
    said = (read.tests, read.failures, read.errors, read.skipped)
    expected = (
        len(result.outcomes) - kinds[Kind.NOT_APPLICABLE],
        len(standing),
        0,
        kinds[Kind.OPEN] + kinds[Kind.REVIEW] + waived,
    )
    assert said == expected
    read.update_statistics()  # counted by the reader itself from the cases
    assert (read.tests, read.failures, read.errors, read.skipped) == expected
    messages = {one.message for suite in read for found in suite for one in found.result}
    assert {o.message for o in standing} <= messages


def test_each_kind_has_its_form(result: Result) -> None:
    root = parsed(junit.render([result]))
    failure = case(root, "coil/current-high 114A/lock coil current at most").find("failure")
    assert failure is not None
    assert failure.get("type") == "error"
    assert failure.text is not None
    for part in ("parts/products.yaml:7:48: error: coil current 900 mA", "allowed at most 750 mA", "ground: IEC 60947",
                 "cure: a coil of 700 mA"):  # fmt: skip
        assert part in failure.text
    unsafe = case(root, "opening/unsafe 114A 2").find("failure")  # the second requirement of the rule
    assert unsafe is not None
    assert unsafe.text is not None
    assert "cure: say safe (touches life safety: decide with the authority)" in unsafe.text
    skipped = {
        "coil/current-high 115/lock coil current at most": "waived: measured at the [bench](1) {x}; coil current",
        "coil/energy-unknown 114A/lock": "open: cannot be decided: inductance is given as unknown",
        "opening/unsafe 114A": "review: the authority decides",
    }
    for name, text in skipped.items():
        found = case(root, name).find("skipped")
        assert found is not None, name
        assert str(found.get("message")).startswith(text)
    judged = [one for one in root.iter("testcase") if str(one.get("name")).startswith("opening/unsafe 115")]
    passed = [one for one in judged if not len(one)]
    assert [one.get("line") for one in passed] == ["9"]
    names = [one.get("name") for one in root.iter("testcase")]
    assert not [name for name in names if "coil/current-high 115/reader" in str(name)]


def test_what_does_not_apply_is_counted(result: Result) -> None:
    root = parsed(junit.render([result]))
    [count] = root.findall("testsuite[@name='opening 115']/properties/property[@name='outcomes notApplicable']")
    assert count.get("value") == str(
        sum(1 for o in result.outcomes if o.kind is Kind.NOT_APPLICABLE and o.subject.startswith("115"))
    )
    assert count.get("value") != "0"
    assert len(root.findall("testsuite/properties/property[@name='cautions']")) == len(root)


def test_failure_below_the_failing_level_does_not_fail_the_build(result: Result) -> None:
    strict, lax = (parsed(junit.render([result], level)) for level in (Level.WARNING, Level.ERROR))
    assert case(strict, "opening/unsafe 114A 2").find("failure") is not None
    skipped = case(lax, "opening/unsafe 114A 2").find("skipped")
    assert skipped is not None
    assert str(skipped.get("message")).startswith("warning, below the failing level: ")
    assert int(strict.get("failures", "")) == int(lax.get("failures", "")) + 1


def test_broken_review_is_an_error() -> None:
    root = parsed(junit.render([review_text("project: [", rulebook=Rulebook())]))
    assert root.get("errors") == "1"
    assert root.find("testsuite/testcase/error[@type='document/syntax']") is not None
    silent = parsed(junit.render([Result("x.yaml", (), {}, broken=True)]))
    assert (silent.get("tests"), silent.get("errors")) == ("1", "1")


def test_several_specs_are_told_apart(result: Result) -> None:
    root = parsed(junit.render([result, replace(result, root="other.yaml")]))
    names = [suite.get("name") for suite in root]
    assert len(set(names)) == len(names)
    assert "other.yaml: opening 114A" in names


@settings(max_examples=60, deadline=None)
@given(
    st.text(alphabet=st.characters(codec=None), max_size=40)
    | st.sampled_from(["\0", "\ud800", "\ufffe]]>", "\x1b[2J", '<&">'])
)
def test_hostile_text_is_well_formed(text: str) -> None:
    made = review_text("doorlint: 1\nproject: {name: x}\n", rulebook=Rulebook(RULES))
    place = Place("spec.yaml", "")
    outcomes = (
        Outcome("coil/current-high", Kind.FAIL, Level.ERROR, text, text, place, what=text),
        Outcome("coil/current-high", Kind.FAIL, Level.ERROR, text, text, place, waived=text or "-"),
        Outcome("coil/current-high", Kind.OPEN, Level.ERROR, text, text, place),
    )
    written = junit.render([replace(made, outcomes=outcomes)])
    root = parsed(written)
    assert (root.get("tests"), root.get("failures")) == ("3", "1")
    [failure] = root.iter("failure")
    assert failure.get("message") == junit.xml_safe(text)
    assert not {c for c in written if ord(c) < 32} - {"\n"}
    import_module("junitparser").JUnitXml.fromroot(ET.parse(io.BytesIO(written.encode())).getroot())


def test_command_writes_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = write(tmp_path)
    assert cli.run(["review", str(root), "--format", "junit"]) in (0, 1)
    out, err = capsys.readouterr()
    assert err == ""
    assert parsed(out).tag == "testsuites"
    assert out == junit.render([reviewed_builtin(root)])


def reviewed_builtin(path: Path) -> Result:
    from doorlint.repair import with_cures
    from doorlint.reviewing import review

    return with_cures(review(path))
