"""A glance at a changed opening tells of it what the whole review then tells."""

from __future__ import annotations

from pathlib import Path

import pytest
from bench.portfolio import write

from doorlint.document import parse
from doorlint.glance import SHOWN, glance
from doorlint.outcome import Outcome
from doorlint.reviewing import Kept, Overlay, Result, review_root
from doorlint.rulebook import collect

BOOK = collect()
AREA = "openings/area-001.yaml"


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp("portfolio"), openings=24, sets=4, files=2, seed=3)


@pytest.fixture(scope="module")
def before(root: Path) -> Result:
    return review_root(root, BOOK, kept=Kept())


def after(root: Path, text: str) -> Result:
    return review_root(root, BOOK, Overlay({(root.parent / AREA).resolve(): text}))


def of(result: Result, opening: str) -> list[Outcome]:
    """What is shown of an opening."""
    shown = result.of_kinds(*SHOWN)
    return [o for o in shown if o.subject == opening or o.subject.startswith(f"{opening}/")]


def looked(before: Result, text: str) -> Result | None:
    name = next(name for name in before.documents if name.endswith(AREA))
    return glance(before, parse(text, name))


def first_opening(text: str) -> str:
    return text[text.index("  D00001:") : text.index("  D00002:")]


CHANGES = [
    ("stair: false", "stair: true"),
    ("fire_rating: none", "fire_rating: 90 min"),
    ("security: ", "security: high #"),
    ("title: ", "title: Fire exit, 24 V, "),
    ("length: ", "length: 4"),
    ("exposure: ", "exposure: wash_down #"),
    ("egress: {", "egress: {delay: 15 s, "),
    ("fire_rating: none", "fire_rating: unknown"),
]


@pytest.mark.parametrize(("old", "new"), CHANGES, ids=[new for _, new in CHANGES])
def test_tells_what_the_review_tells(root: Path, before: Result, old: str, new: str) -> None:
    text = (root.parent / AREA).read_text("utf-8")
    entry = first_opening(text)
    if old not in entry:
        old, new = "stair: ", "stair: true #"
    changed = text.replace(entry, entry.replace(old, new, 1))
    found = looked(before, changed)
    assert found is not None
    whole = after(root, changed)
    assert of(found, "D00001") == of(whole, "D00001")
    assert of(found, "D00002") == of(before, "D00002") == of(whole, "D00002")
    name = next(name for name in found.documents if name.endswith(AREA))
    assert found.documents[name].text == changed


def test_the_changes_above_change_something(root: Path, before: Result) -> None:
    text = (root.parent / AREA).read_text("utf-8")
    entry = first_opening(text)
    told = [of(before, "D00001")]
    for old, new in CHANGES:
        found = looked(before, text.replace(entry, entry.replace(old, new, 1)))
        assert found is not None
        told.append(of(found, "D00001"))
    assert sum(each != told[0] for each in told) >= 3


def test_a_fault_of_the_format_is_told_and_the_rest_is_held(root: Path, before: Result) -> None:
    text = (root.parent / AREA).read_text("utf-8")
    entry = first_opening(text)
    found = looked(before, text.replace(entry, entry.replace("stair: ", "stair: sometimes #", 1)))
    assert found is not None
    rules = {outcome.rule for outcome in of(found, "D00001")}
    assert any(rule.startswith("format/") for rule in rules)
    assert {o.rule for o in of(before, "D00001")} <= rules


def test_a_value_that_cannot_be_read_is_told(root: Path, before: Result) -> None:
    text = (root.parent / AREA).read_text("utf-8")
    entry = first_opening(text)
    found = looked(before, text.replace(entry, entry.replace("ambient: ", "ambient: warm #", 1)))
    assert found is not None
    assert any(outcome.rule.startswith("format/") for outcome in of(found, "D00001"))


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.replace("  D00001:", "  D99999:", 1),
        lambda text: text.replace("voltage: 24 V", "voltage: 12 V", 1),
        lambda text: text.replace("stair: false", "stair: true"),
        lambda text: text + "\n  - broken",
        lambda _text: "",
    ],
    ids=["an id", "a source", "many openings", "not readable", "empty"],
)
def test_other_changes_wait_for_the_review(root: Path, before: Result, change: object) -> None:
    text = (root.parent / AREA).read_text("utf-8")
    assert callable(change)
    changed = change(text)
    assert changed != text
    assert looked(before, changed) is None


def test_a_second_glance_goes_on_from_the_first(root: Path, before: Result) -> None:
    text = (root.parent / AREA).read_text("utf-8")
    entry = first_opening(text)
    once = text.replace(entry, entry.replace("stair: ", "stair: true #", 1))
    twice = once.replace("egress: {", "egress: {delay: 15 s, ", 1)
    first = looked(before, once)
    assert first is not None
    second = looked(first, twice)
    assert second is not None
    assert of(second, "D00001") == of(after(root, twice), "D00001")
