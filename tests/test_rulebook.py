"""Collecting rules and applying one: declarations, packages that are broken, and rules that break."""

from __future__ import annotations

import types
from collections.abc import Iterator
from dataclasses import replace
from importlib.metadata import EntryPoint
from typing import Any

import pytest

from doorlint import rulebook
from doorlint.outcome import (
    Change,
    Kind,
    Level,
    Outcome,
    Place,
    Practice,
    Related,
    Repair,
    Step,
    Term,
    Verdict,
    failed,
    not_applicable,
    ok,
)
from doorlint.reviewing import Result, review_text
from doorlint.rulebook import Rule, Rulebook, RuleError, collect, hookimpl, missing
from doorlint.spec import Item, Opening

SPEC = """\
doorlint: 1
project: {name: Case}
products:
  strike: {kind: electric_strike, fail: unknown, coil: {voltage: 12 V}}
power:
  psu: {kind: power_supply, voltage: 12 V}
openings:
  D1: {items: {lock: {product: strike, fed_from: psu}}}
  D2: {items: {lock: {product: strike, fed_from: psu}}}
"""
GROUND = (Practice("a rule for a test rests on nothing but the test"),)


def declared(rule_id: str = "test/found-something", **more: Any) -> Rule:
    values: dict[str, Any] = {"title": "Something was found", "level": Level.ERROR, "over": Item, "basis": GROUND}
    return Rule(rule_id, **{**values, **more})


def module(check: Any, name: str = "rules_of_a_test", **more: Any) -> Any:
    made = types.ModuleType(name)
    made.RULE = declared(**more)  # type: ignore[attr-defined]
    made.check = check  # type: ignore[attr-defined]
    return made


def package(*modules: Any, name: str = "package") -> Any:
    made = types.ModuleType(name)

    @hookimpl
    def doorlint_rules() -> list[Any]:
        return list(modules)

    made.doorlint_rules = doorlint_rules  # type: ignore[attr-defined]
    return made


def review(*modules: Any) -> Result:
    return review_text(SPEC, "case.yaml", rulebook=Rulebook(modules))


def of(result: Result, rule: str) -> list[Outcome]:
    return [outcome for outcome in result.outcomes if outcome.rule == rule]


def passes(subject: Item, context: object) -> Iterator[Verdict]:
    yield ok("in order", subject.place)


# -- declarations ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"rule_id": "no-topic"}, "topic/kebab-name"),
        ({"rule_id": "Topic/name"}, "topic/kebab-name"),
        ({"rule_id": "topic/with_underscore"}, "topic/kebab-name"),
        ({"rule_id": "topic/"}, "topic/kebab-name"),
        ({"basis": ()}, "at least one Cited"),
        ({"basis": ("because",)}, "at least one Cited"),
        ({"level": "error"}, "Level.ERROR"),
        ({"title": ""}, "1 to 72"),
        ({"title": "x" * 73}, "1 to 72"),
        ({"applies": bool}, "go together"),
        ({"scope": "doors"}, "go together"),
    ],
)
def test_a_wrong_declaration_says_how_to_write_it(wrong: dict[str, Any], told: str) -> None:
    with pytest.raises(RuleError, match=told):
        declared(**wrong)


def test_a_declaration_is_frozen() -> None:
    with pytest.raises(AttributeError):
        declared().title = "another"  # type: ignore[misc]


# -- collecting ------------------------------------------------------------------------------------


def test_the_built_in_rules_come_in_by_their_entry_point_in_order_of_id() -> None:
    book = collect()
    ids = [rule.id for rule in book.rules]
    assert "supply/voltage-mismatch" in ids
    assert ids == sorted(ids)
    assert set(book.origins) == set(ids)
    assert book.rule("supply/voltage-mismatch").id == "supply/voltage-mismatch"
    with pytest.raises(KeyError):
        book.rule("no/such-rule")


def test_a_plugin_object_adds_its_rules() -> None:
    book = collect([package(module(passes))])
    assert book.rule("test/found-something").title == "Something was found"
    assert book.origins["test/found-something"] == "package"
    assert not book.troubles


def test_two_rules_with_one_id_are_told_with_both_origins_and_the_first_counts() -> None:
    one, two = module(passes), module(passes)
    book = collect([package(one, name="first"), package(two, name="second")], group="no-such-group")
    assert book.modules == (one,)
    (trouble,) = book.troubles
    assert "test/found-something" in trouble.message
    assert "first" in trouble.message
    assert "second" in trouble.message


@pytest.mark.parametrize(
    "broken",
    [
        types.SimpleNamespace(RULE=declared()),
        types.SimpleNamespace(check=passes),
        types.SimpleNamespace(RULE="a rule", check=passes),
        types.SimpleNamespace(RULE=declared(), check="no function"),
        None,
        17,
    ],
)
def test_what_is_no_rule_is_told_and_the_others_are_kept(broken: object) -> None:
    book = collect([package(broken, module(passes))], group="no-such-group")
    assert len(book.modules) == 1
    (trouble,) = book.troubles
    assert "is no rule" in trouble.message


def fails_to_give() -> Any:
    made = types.ModuleType("falls_over")

    @hookimpl
    def doorlint_rules() -> list[Any]:
        raise RuntimeError("the rules are elsewhere")

    made.doorlint_rules = doorlint_rules  # type: ignore[attr-defined]
    return made


def gives_no_list() -> Any:
    made = types.ModuleType("gives_a_number")

    @hookimpl
    def doorlint_rules() -> Any:
        return 7

    made.doorlint_rules = doorlint_rules  # type: ignore[attr-defined]
    return made


def forgets_the_mark() -> Any:
    made = types.ModuleType("unmarked")
    made.doorlint_rules = lambda: [module(passes)]  # type: ignore[attr-defined]
    return made


def misspells_the_hook() -> Any:
    made = types.ModuleType("misspelt")

    @hookimpl
    def doorlint_rule() -> list[Any]:
        return []

    made.doorlint_rule = doorlint_rule  # type: ignore[attr-defined]
    return made


@pytest.mark.parametrize("make", [fails_to_give, gives_no_list, forgets_the_mark, misspells_the_hook])
def test_a_package_that_gives_no_rules_is_told_and_the_review_is_not_complete(make: Any) -> None:
    plugin = make()
    book = collect([plugin, package(module(passes))], group="no-such-group")
    assert [rule.id for rule in book.rules] == ["test/found-something"]
    (trouble,) = book.troubles
    assert plugin.__name__ in trouble.message
    result = review_text(SPEC, "case.yaml", rulebook=book)
    assert result.status() == 2
    (told,) = of(result, "rulebook/package-broke")
    assert told.kind is Kind.FAIL
    assert told.level is Level.ERROR
    assert told.message == trouble.message
    assert len(of(result, "test/found-something")) == 2, "the rules of other packages were applied"


def test_an_entry_point_that_does_not_load_is_told_and_the_others_go_on(monkeypatch: pytest.MonkeyPatch) -> None:
    entries = [
        EntryPoint("a-missing", "no_such_module_anywhere", "doorlint"),
        EntryPoint("b-no-attribute", "json:no_such_thing", "doorlint"),
        EntryPoint("c-nothing", "doorlint.rulebook:__debug_nothing__", "doorlint"),
        EntryPoint("d-built-in", "doorlint.rules", "doorlint"),
    ]
    monkeypatch.setattr(rulebook, "entry_points", lambda **_: entries)
    book = collect()
    assert book.rule("supply/voltage-mismatch")
    assert [trouble.source for trouble in book.troubles] == ["a-missing", "b-no-attribute", "c-nothing"]
    assert "no_such_module_anywhere" in book.troubles[0].message
    assert "Traceback" in book.troubles[0].detail
    assert all("\n" not in trouble.message for trouble in book.troubles)
    assert review_text(SPEC, "case.yaml", rulebook=book).status() == 2


# -- rules that break ------------------------------------------------------------------------------


def crashes(subject: Item, context: object) -> Iterator[Verdict]:
    if subject.opening == "D1":
        raise ZeroDivisionError("no ampere left")
    yield ok("in order")


def crashes_late(subject: Item, context: object) -> Iterator[Verdict]:
    yield ok("in order")
    raise KeyError("what came after")


def yields_text(subject: Item, context: object) -> Iterator[Any]:
    yield "a failure, I think"


def yields_nothing(subject: Item, context: object) -> Iterator[Verdict]:
    yield from ()


def returns_none(subject: Item, context: object) -> None:
    return None


def takes_one(subject: Item) -> Iterator[Verdict]:
    yield ok("in order")


def recurses(subject: Item, context: object) -> Iterator[Verdict]:
    yield from recurses(subject, context)


def points_nowhere(subject: Item, context: object) -> Iterator[Verdict]:
    yield failed("found", subject.place.child("no_such_field"))


def points_into_no_file(subject: Item, context: object) -> Iterator[Verdict]:
    yield failed("found", Place("other.yaml", "/openings"))


def relates_to_nowhere(subject: Item, context: object) -> Iterator[Verdict]:
    yield ok("in order", subject.place, related=(Related(subject.place.child("gone"), "beside"),))


def reckons_from_nowhere(subject: Item, context: object) -> Iterator[Verdict]:
    term = Term("current", "1 A", subject.place.child("gone"))
    yield ok("in order", subject.place, working=(Step("sum", "a", "1 A", (term,)),))


BROKEN = [
    crashes,
    crashes_late,
    yields_text,
    yields_nothing,
    returns_none,
    takes_one,
    recurses,
    points_nowhere,
    points_into_no_file,
    relates_to_nowhere,
    reckons_from_nowhere,
]


@pytest.mark.parametrize("check", BROKEN, ids=lambda check: check.__name__)
def test_a_rule_that_breaks_is_one_finding_and_the_other_rules_go_on(check: Any) -> None:
    result = review(module(check, rule_id="a/broken"), module(passes, rule_id="b/sound"))
    (told,) = of(result, "rulebook/rule-broke")
    assert told.kind is Kind.FAIL
    assert told.level is Level.ERROR
    assert "a/broken" in told.message
    assert "D1/lock" in told.message
    assert "\n" not in told.message
    assert result.broken
    assert result.status(Level.ERROR) == 2
    assert [outcome.kind for outcome in of(result, "b/sound")] == [Kind.PASS, Kind.PASS]


def test_a_crash_says_what_broke_where_in_the_rule() -> None:
    (told,) = of(review(module(crashes)), "rulebook/rule-broke")
    assert "ZeroDivisionError: no ampere left" in told.message
    assert "test_rulebook.py" in told.message


def test_a_rule_over_what_is_no_subject_is_told() -> None:
    for over in (int, None):
        result = review(module(passes, over=over))
        (told,) = of(result, "rulebook/rule-broke")
        assert "no subject" in told.message
        assert result.status() == 2


def test_scope_that_breaks_is_told_like_a_check_that_breaks() -> None:
    def applies(subject: Item) -> bool:
        raise AttributeError("no such attribute")

    result = review(module(passes, applies=applies, scope="doors that break"))
    assert len(of(result, "rulebook/rule-broke")) == 1


def test_a_need_that_the_subject_does_not_have_is_told() -> None:
    result = review(module(passes, needs=("no_such_attribute",)))
    assert "no_such_attribute" in of(result, "rulebook/rule-broke")[0].message


# -- applying --------------------------------------------------------------------------------------


def test_each_subject_has_its_outcome_and_each_rule_its_counts() -> None:
    def mixed(subject: Item, context: object) -> Iterator[Verdict]:
        if subject.opening == "D1":
            yield failed("found", subject.at("product"))
        else:
            yield not_applicable("another opening")

    result = review(module(mixed))
    counts = result.counts()["test/found-something"]
    assert counts == {Kind.PASS: 0, Kind.FAIL: 1, Kind.OPEN: 0, Kind.REVIEW: 0, Kind.NOT_APPLICABLE: 1}
    assert [o.subject for o in of(result, "test/found-something")] == ["D1/lock", "D2/lock"]
    assert result.status() == 1


def test_out_of_scope_is_not_applicable_in_the_words_of_the_scope() -> None:
    result = review(module(passes, applies=lambda item: item.opening == "D1", scope="the first door"))
    kinds = {o.subject: o for o in of(result, "test/found-something")}
    assert kinds["D1/lock"].kind is Kind.PASS
    assert kinds["D2/lock"].kind is Kind.NOT_APPLICABLE
    assert kinds["D2/lock"].message == "concerns only the first door"


def test_a_missing_need_is_open_and_names_the_field_where_it_belongs() -> None:
    result = review(module(passes, needs=("sheet.fail", "length", "sheet.coil.current")))
    first = of(result, "test/found-something")[0]
    assert first.kind is Kind.OPEN
    assert first.missing == ("fail", "length", "current")
    assert result.documents["case.yaml"].source(result.region(first.place)) == "unknown"
    stated = of(review(module(passes, needs=("sheet.fail",))), "test/found-something")[0]
    assert stated.message == "cannot be decided: fail is given as unknown"
    silent = of(review(module(passes, needs=("length",))), "test/found-something")[0]
    assert silent.message == "cannot be decided: length is not stated"


def test_missing_names_nothing_where_the_path_is_known() -> None:
    spec = review(module(passes)).spec
    assert spec is not None
    item = spec.openings["D1"].items["lock"]
    assert missing(item, "sheet.coil.voltage") is None
    gap = missing(item, "sheet.coil.current")
    assert gap is not None
    assert gap.name == "current"
    assert gap.place.pointer == "/products/strike/coil"


def test_an_outcome_takes_rule_level_subject_and_basis_from_its_rule() -> None:
    (first, _) = of(review(module(passes, level=Level.NOTE)), "test/found-something")
    assert (first.level, first.subject, first.basis) == (Level.NOTE, "D1/lock", GROUND)


def test_a_verdict_without_place_stands_at_its_subject() -> None:
    def check(opening: Opening, context: object) -> Iterator[Verdict]:
        yield Verdict(Kind.REVIEW, "the authority decides")

    (first, _) = of(review(module(check, over=Opening)), "test/found-something")
    assert first.kind is Kind.REVIEW
    assert first.place.pointer == "/openings/D1"


def test_repairs_take_no_part_in_the_equality_of_outcomes() -> None:
    (first, _) = of(review(module(passes)), "test/found-something")
    assert replace(first, repairs=(Repair("another", (Change(first.place, "x"),)),)) == first
