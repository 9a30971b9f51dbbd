"""The review as a whole: waivers, counts, exit status, order, several specs."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

import doorlint
from doorlint.outcome import Kind, Level, Outcome, Place, Practice, Verdict, failed, ok
from doorlint.reviewing import Result, SpecError, review, review_all, review_text
from doorlint.rulebook import Rule, Rulebook
from doorlint.spec import Item

SPEC = """\
doorlint: 1
project: {name: Case}
products:
  strike: {kind: electric_strike}
openings:
  D1: {items: {lock: {product: strike}, bolt: {product: strike}}}
  D2: {items: {lock: {product: strike}}}
  D3: {items: {in.order: {product: strike}}}
"""
NONE = Rulebook()


def book(level: Level = Level.ERROR, verdict: Any = failed) -> Rulebook:
    made = ModuleType("a_rule")
    made.RULE = Rule(  # type: ignore[attr-defined]
        "test/found-something",
        title="Something was found",
        level=level,
        over=Item,
        basis=(Practice("a rule for a test rests on nothing but the test"),),
    )

    def check(item: Item, context: object) -> Iterator[Verdict]:
        yield verdict("found", item.at("product"))

    made.check = check  # type: ignore[attr-defined]
    return Rulebook((made,))  # type: ignore[arg-type]


def found(result: Result, rule: str = "test/found-something") -> list[Outcome]:
    return [outcome for outcome in result.outcomes if outcome.rule == rule]


def waived(*waivers: str, rulebook: Rulebook | None = None) -> Result:
    text = SPEC.replace("in.order", "bolt") + "waivers:\n" + "".join(f"  - {{{one}}}\n" for one in waivers)
    return review_text(text, "case.yaml", rulebook=rulebook or book())


# -- waivers ---------------------------------------------------------------------------------------


def test_a_waiver_covers_the_findings_of_its_rule_at_its_item() -> None:
    result = waived("rule: test/found-something, opening: D1, item: lock, reason: agreed on site, until: 2999-01-01")
    covered = {o.subject: o.waived for o in found(result)}
    assert covered == {"D1/lock": "agreed on site", "D1/bolt": "", "D2/lock": "", "D3/bolt": ""}
    assert {o.subject for o in result.findings()} == {"D1/bolt", "D2/lock", "D3/bolt"}
    assert not found(result, "waiver/not-usable")


def test_a_waiver_without_item_covers_the_whole_opening_and_no_other() -> None:
    result = waived("rule: test/found-something, opening: D1, reason: agreed")
    assert {o.subject for o in found(result) if o.waived} == {"D1/lock", "D1/bolt"}


def test_a_waived_finding_is_kept_with_its_reason_and_does_not_fail_the_review() -> None:
    waivers = [f"rule: test/found-something, opening: D{n}, reason: agreed" for n in (1, 2, 3)]
    result = waived(*waivers)
    assert result.findings() == ()
    assert result.status(Level.NOTE) == 0
    assert len(found(result)) == 4
    assert result.counts()["test/found-something"][Kind.FAIL] == 4


@pytest.mark.parametrize(
    ("waiver", "told"),
    [
        ("rule: test/found-something, opening: D1, reason: agreed, until: 2001-01-01", "expired on 2001-01-01"),
        ("rule: test/found-something, opening: D1, reason: agreed, until: 2999-02-30", "there is no such day"),
        ("rule: test/found-something, opening: D1, reason: agreed, until: unknown", "no date that can be read"),
        ("rule: test/found-something, opening: D1, reason: '  '", "gives no reason"),
        ("rule: test/found-something, opening: D1, reason: unknown", "gives no reason"),
        ("rule: test/found-something, opening: D9, reason: agreed", "covers no finding"),
        ("rule: test/found-something, opening: D1, item: gone, reason: agreed", "covers no finding"),
        ("rule: test/another, opening: D1, reason: agreed", "covers no finding"),
        ("rule: test/found-something, opening: D, reason: agreed", "covers no finding"),
    ],
)
def test_a_waiver_that_is_of_no_use_is_itself_a_finding_and_covers_nothing(waiver: str, told: str) -> None:
    result = waived(waiver)
    (useless,) = found(result, "waiver/not-usable")
    assert told in useless.message
    assert useless.level is Level.WARNING
    assert useless.place.pointer == "/waivers/0"
    assert not any(o.waived for o in result.outcomes)
    assert len(result.findings()) == 5


def test_an_expired_waiver_names_the_finding_that_it_was_meant_for() -> None:
    (useless,) = found(
        waived("rule: test/found-something, opening: D2, reason: agreed, until: 2001-01-01"), "waiver/not-usable"
    )
    assert [related.place.pointer for related in useless.related] == ["/openings/D2/items/lock/product"]


def test_a_waiver_covers_no_outcome_but_a_failure() -> None:
    result = waived("rule: test/found-something, opening: D1, reason: agreed", rulebook=book(verdict=ok))
    assert not any(o.waived for o in result.outcomes)
    assert "covers no finding" in found(result, "waiver/not-usable")[0].message


def test_what_the_review_itself_finds_cannot_be_waived() -> None:
    text = SPEC.replace("lock: {product: strike}}", "lock: {product: gone}}") + (
        "waivers: [{rule: reference/unknown-id, opening: D2, item: lock, reason: agreed}]\n"
    )
    result = review_text(text, "case.yaml", rulebook=NONE)
    assert not any(o.waived for o in result.outcomes)
    assert found(result, "reference/unknown-id")
    assert found(result, "waiver/not-usable")


# -- status and counts -----------------------------------------------------------------------------


CLEAN = SPEC.replace("in.order", "bolt")


@pytest.mark.parametrize("level", list(Level))
@pytest.mark.parametrize("failing", list(Level))
def test_the_status_follows_the_failing_level(level: Level, failing: Level) -> None:
    result = review_text(CLEAN, "case.yaml", rulebook=book(level))
    assert result.status(failing) == (1 if level.rank >= failing.rank else 0)
    assert len(result.findings(failing)) == (4 if level.rank >= failing.rank else 0)


def test_only_failures_fail_a_review() -> None:
    for kind in (Kind.OPEN, Kind.REVIEW, Kind.NOT_APPLICABLE, Kind.PASS):
        result = review_text(CLEAN, "case.yaml", rulebook=book(verdict=lambda text, at, k=kind: Verdict(k, text, at)))
        assert result.status(Level.NOTE) == 0
        assert result.counts()["test/found-something"][kind] == 4


def test_every_rule_is_counted_even_where_it_judged_nothing() -> None:
    result = review_text("doorlint: 1\nproject: {name: Case}\n", "case.yaml", rulebook=book())
    assert result.counts() == {"test/found-something": dict.fromkeys(Kind, 0)}
    assert result.status() == 0


def test_a_broken_text_is_never_clean() -> None:
    result = review_text("doorlint: 1\nproject: {name: Case}\nopenings: {D1: [\n", "case.yaml", rulebook=NONE)
    assert result.broken
    assert result.status(Level.ERROR) == 2


@pytest.mark.parametrize(
    "text", ["", "[]", "17", "# nothing\n", "\x00", "doorlint: 2\n", "project: []\n", "- a\n- b\n"]
)
def test_a_text_that_is_no_spec_is_told_and_never_raises(text: str) -> None:
    result = review_text(text, "case.yaml", rulebook=book())
    assert result.status() in (1, 2)
    for outcome in result.outcomes:
        result.region(outcome.place)


# -- order, places, several specs ------------------------------------------------------------------


def test_outcomes_stand_in_the_order_of_the_text() -> None:
    result = review_text(CLEAN, "case.yaml", rulebook=book())
    starts = [result.region(o.place).start for o in result.outcomes]
    assert starts == sorted(starts)


def test_two_reviews_of_one_text_are_equal() -> None:
    text = CLEAN.replace("strike}}", "gone}}")
    assert review_text(text, "a.yaml").outcomes == review_text(text, "a.yaml").outcomes


def test_a_region_by_span_is_taken_as_it_is() -> None:
    result = review_text(CLEAN, "case.yaml", rulebook=NONE)
    assert result.region(Place("case.yaml", "", span=(3, 5))).end == 5
    with pytest.raises(KeyError):
        result.region(Place("case.yaml", "/no/such"))


def test_a_name_with_a_dot_is_refused_by_the_format_as_feeds_part_names_by_dots() -> None:
    result = review_text(SPEC, "case.yaml", rulebook=NONE)
    assert [result.documents["case.yaml"].source(result.region(o.place)) for o in result.outcomes] == ["in.order"]


def test_each_spec_is_reviewed_once(tmp_path: Path) -> None:
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
        (tmp_path / name / "spec.yaml").write_text(CLEAN + "include: part.yaml\n", encoding="utf-8")
        (tmp_path / name / "part.yaml").write_text("doorlint: 1\n", encoding="utf-8")
    paths = [tmp_path / "one/part.yaml", tmp_path / "two", tmp_path / "one/spec.yaml", tmp_path / "one"]
    results = review_all(paths, rulebook=book())
    assert [Path(result.root).parent.name for result in results] == ["one", "two"]
    assert all(len(found(result)) == 4 for result in results)


def test_a_path_of_several_specs_asks_for_one(tmp_path: Path) -> None:
    for name in ("a.yaml", "b.yaml"):
        (tmp_path / name).write_text(CLEAN, encoding="utf-8")
    with pytest.raises(SpecError, match="several specs"):
        review(tmp_path, rulebook=NONE)
    assert len(review_all([tmp_path], rulebook=NONE)) == 2


def test_the_library_gives_what_its_front_page_promises(tmp_path: Path) -> None:
    (tmp_path / "spec.yaml").write_text(CLEAN, encoding="utf-8")
    result = doorlint.review(tmp_path)
    assert isinstance(result, doorlint.Result)
    assert result.spec is not None
    assert list(result.spec.openings) == ["D1", "D2", "D3"]
    for name in doorlint.__all__:
        assert getattr(doorlint, name) is not None
    with pytest.raises(AttributeError):
        getattr(doorlint, "no_such_name")  # noqa: B009
