"""The fuzzing that every run of the tests makes: the same inputs each time, and all that ever brought a fault.

`python -m tests.fuzz` makes any number more.
"""

from __future__ import annotations

import gc
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from doorlint.document import parse

from . import corpus, through, working
from .inputs import KINDS, Input
from .sources import Fed, Seeded
from .trees import is_valid, tree
from .working import Work, drawn

FOUND = sorted((Path(__file__).parent / "found").glob("*.yaml"))
ENOUGH = settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))


@pytest.fixture(autouse=True)
def nothing_of_other_tests_is_looked_through() -> Iterator[None]:
    """What earlier tests have left in the process would be searched for garbage while an input is timed."""
    gc.collect()
    gc.freeze()
    yield
    gc.unfreeze()


@pytest.mark.parametrize("path", FOUND, ids=lambda path: path.stem)
def test_what_once_brought_a_fault_brings_none(path: Path) -> None:
    passed, result = through.put(path.read_bytes(), 0, whole=True)
    assert passed.reports > 20
    assert {outcome.rule.partition("/")[0] for outcome in result.outcomes}.isdisjoint({"rulebook"})


@pytest.mark.parametrize(("kind", "count"), [("text", 600), ("schema", 25), ("real", 50)])
def test_seeded_inputs_bring_no_fault(kind: str, count: int) -> None:
    work = Work(None)
    tally = work.seeded(kind, 0, count)
    assert not tally.faults
    assert tally.inputs == count
    assert tally.reviewed > tally.put / 2 > 0, "most of what is put through has to reach the rules"


@given(drawn("text"))
@ENOUGH
def test_drawn_texts_bring_no_fault(given: Input) -> None:
    through.put(given, 1)


@given(drawn("schema"))
@ENOUGH
def test_drawn_specs_bring_no_fault(given: Input) -> None:
    through.put(given, 2)


@given(drawn("real"))
@ENOUGH
def test_spoilt_specs_bring_no_fault(given: Input) -> None:
    through.put(given, 3)


# -- that the fuzzing itself sees and reaches what it should ------------------------------------------


def test_specs_from_the_schema_are_valid_and_full() -> None:
    trees = [tree(Seeded(number)) for number in range(60)]
    assert sum(map(is_valid, trees)) >= 55
    sections = {section for one in trees for section in one}
    assert sections >= {"project", "products", "power", "cables", "hardware_sets", "openings", "waivers"}


def test_the_corpus_holds_the_cases_of_the_rules_and_the_examples() -> None:
    assert len(corpus.texts()) > 1000
    assert all(isinstance(one, dict) for one in corpus.trees())
    assert "D1" in str(corpus.trees()[0])


def test_inputs_follow_from_their_source() -> None:
    for make in KINDS.values():
        assert make(Seeded(5)) == make(Seeded(5))
        assert make(Fed(b"\x07" * 40)) == make(Fed(b"\x07" * 40))
        assert make(Fed(b"")) == make(Fed(b""))


@pytest.mark.parametrize(
    ("name", "report"),
    [
        ("text", "load nan V"), ("text", "margin -inf"), ("budget", "Infinity A"), ("text", "a\x1b[31m"),
        ("text", "a\u202eb"),
        ("json", '{"value": NaN}'), ("sarif", '{"value": -Infinity}'), ("json", "{"), ("junit", "<a>\x00</a>"),
        ("text", "\ud800"),
    ],
)  # fmt: skip
def test_a_report_that_must_not_be_is_seen(name: str, report: str) -> None:
    with pytest.raises((through.Wrong, ValueError, SyntaxError)):
        through.check_report(name, report, "doorlint: 1")


def test_what_the_author_wrote_is_no_fault_of_the_report() -> None:
    through.check_report("text", "banana, information, 1.5e3, Nancy", "doorlint: 1")
    through.check_report("text", 'title "nan"', "title: nan")


def test_a_fault_is_counted_and_its_input_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(through, "_review", lambda *_: 1 / 0)
    work = Work(tmp_path)
    work.one("doorlint: 1\n", 0, "first")
    work.one("doorlint: 1\n", 1, "second")
    assert work.tally.faults.total() == 2
    assert len(work.tally.faults) == 1
    assert (tmp_path / "first.yaml").read_text() == "doorlint: 1\n"
    assert "ZeroDivisionError" in (tmp_path / "first.txt").read_text()
    assert not (tmp_path / "second.yaml").exists()


def test_what_hangs_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(working, "HANGS_S", 0.05)
    with pytest.raises(working.Hang), working.limited():
        while True:
            pass


def test_places_are_checked() -> None:
    document = parse("a: {b: [1, 2]}")
    through.check_places(document)
    document._nodes.end[0] = 99
    with pytest.raises(through.Wrong):
        through.check_places(document)


def test_the_command_prints_its_figures(tmp_path: Path) -> None:
    root = Path(__file__).parent.parent.parent
    counts = ["--text", "20", "--schema", "3", "--real", "3", "--drawn", "2", "--workers", "1"]
    ended = subprocess.run(
        [sys.executable, "-m", "tests.fuzz", *counts, "--into", str(tmp_path)],
        cwd=root, capture_output=True, text=True, timeout=100, check=False,
    )  # fmt: skip
    assert ended.returncode == 0, ended.stdout + ended.stderr
    rows = {line.split("  ")[0]: line.split() for line in ended.stdout.splitlines()[1:]}
    assert rows["all"][1] == str(20 + 3 + 3 + 3 * 2)
