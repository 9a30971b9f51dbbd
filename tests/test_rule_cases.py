"""Every built-in rule against its cases, and what every declaration and every file of cases must hold to."""

from __future__ import annotations

import inspect
import random
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import fields
from decimal import Decimal
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint.cases import (
    ENDING,
    Case,
    CasesError,
    Expected,
    cases_path,
    expectations,
    load_cases,
    review_case,
    run_case,
)
from doorlint.document import parse
from doorlint.outcome import Cited, Kind, Level, Outcome, Practice
from doorlint.reviewing import review_text
from doorlint.rulebook import Rulebook, collect
from doorlint.spec import model
from doorlint.spec.fields import Part

RULES = Path(__file__).parent.parent / "rules"
BOOK = collect()
BUILT_IN: tuple[Any, ...] = tuple(m for m in BOOK.modules if BOOK.origins[m.RULE.id] == "built-in")
ALONE = {module.RULE.id: Rulebook((module,)) for module in BUILT_IN}


@cache
def cases_of(module: Any) -> tuple[Case, ...]:
    path = cases_path(module)
    return load_cases(path) if path is not None and path.is_file() else ()


CASES = tuple(case for module in BUILT_IN for case in cases_of(module))


def rule_id(module: Any) -> str:
    return str(module.RULE.id)


def case_id(case: Case) -> str:
    return f"{case.rule}: {case.name}"


each_rule = pytest.mark.parametrize("module", BUILT_IN, ids=rule_id)


@cache
def outcomes_of(module: Any) -> tuple[Outcome, ...]:
    """What a rule gives over all its cases."""
    results = [review_case(case, ALONE[case.rule]) for case in cases_of(module)]
    return tuple(o for result in results if result for o in result.outcomes if o.rule == module.RULE.id)


# -- the cases -------------------------------------------------------------------------------------


@pytest.mark.parametrize("case", CASES, ids=case_id)
def test_the_rule_finds_what_the_case_expects_and_nothing_else(case: Case) -> None:
    assert run_case(case, BOOK) == ()


@pytest.mark.parametrize("case", CASES, ids=case_id)
def test_no_rule_breaks_on_a_case(case: Case) -> None:
    result = review_text(case.spec, "case.yaml", rulebook=BOOK)
    assert not result.broken, [o.message for o in result.outcomes if o.rule == "rulebook/rule-broke"]
    assert not result.rulebook.troubles


# -- the declarations ------------------------------------------------------------------------------


def test_the_built_in_rules_are_collected_without_trouble() -> None:
    assert BUILT_IN
    assert BOOK.troubles == ()


def test_every_module_with_a_rule_is_collected_and_has_a_file_of_cases_beside_it() -> None:
    modules = {path for path in RULES.rglob("*.py") if re.search(r"^RULE\b", path.read_text("utf-8"), re.MULTILINE)}
    collected = {Path(module.__file__).resolve() for module in BUILT_IN}
    assert {path.resolve() for path in modules} == collected
    beside = {path.with_name(path.name.removesuffix(ENDING) + ".py") for path in RULES.rglob(f"*{ENDING}")}
    assert beside == modules


@each_rule
def test_the_file_of_cases_names_its_rule(module: Any) -> None:
    assert {case.rule for case in cases_of(module)} == {module.RULE.id}


@each_rule
def test_id_and_title_name_what_was_found(module: Any) -> None:
    topic, _, name = module.RULE.id.partition("/")
    assert re.fullmatch(r"[a-z]+", topic)
    # a remedy, or an order to the reader, is no name of a finding; a number says nothing
    assert not re.match(r"(use|avoid|prefer|must)-", name)
    assert not re.search(r"[0-9]{2,}", name)
    title = module.RULE.title
    assert title[0].isupper()
    assert not title.endswith(".")
    assert len(title) <= 72
    for text in (module.RULE.why, module.RULE.cure):
        assert text.endswith("."), "a rule's page says why, and what helps, in whole sentences"


@each_rule
def test_a_rule_on_practice_alone_is_an_error_only_where_physics_makes_it_one(module: Any) -> None:
    rule = module.RULE
    cited = any(isinstance(ground, Cited) for ground in rule.basis)
    physics = any(isinstance(ground, Practice) and ground.physics for ground in rule.basis)
    assert cited or physics or rule.level is not Level.ERROR


@each_rule
def test_every_ground_says_something(module: Any) -> None:
    for ground in module.RULE.basis:
        if isinstance(ground, Cited):
            assert ground.document
            assert ground.clause
        else:
            assert len(ground.reason) > 20


def can_give(module: Any) -> set[Kind]:
    """The kinds that a rule can give, read off its declaration and its code."""
    source = inspect.getsource(module)
    kinds = {Kind.PASS, Kind.FAIL}
    if module.RULE.applies is not None or "not_applicable(" in source:
        kinds.add(Kind.NOT_APPLICABLE)
    if module.RULE.needs or re.search(r"\b(known|Undecided|undecided)\(|\b(steady|source_voltage)\(", source):
        kinds.add(Kind.OPEN)
    if "to_authority(" in source:
        kinds.add(Kind.REVIEW)
    return kinds


@each_rule
def test_every_kind_of_outcome_that_a_rule_can_give_has_a_case(module: Any) -> None:
    assert can_give(module) <= {outcome.kind for outcome in outcomes_of(module)}


@each_rule
def test_a_rule_with_numbers_has_cases_below_at_and_above_its_limit(module: Any) -> None:
    numeric = [outcome for outcome in outcomes_of(module) if outcome.measured is not None]
    if not numeric:
        return
    margins = [o.margin.value for o in numeric if o.margin is not None]
    assert any(margin < 0 for margin in margins)
    assert any(margin > 0 for margin in margins)
    if all(isinstance(margin, Fraction) for margin in margins):  # a solved circuit never lies exactly at its limit
        assert any(margin == 0 for margin in margins)
    assert module.RULE.evidence, "a rule with numbers says which figures a finding carries"
    for outcome in numeric:
        assert outcome.margin is not None
        if outcome.kind in (Kind.PASS, Kind.FAIL):
            assert (outcome.kind is Kind.FAIL) == (outcome.margin.value < 0)
        assert outcome.working, "a number comes with its working"


@each_rule
def test_one_failing_and_one_passing_case_are_shown(module: Any) -> None:
    shown = Counter(case.kind for case in cases_of(module) if case.show)
    assert shown == {Kind.FAIL: 1, Kind.PASS: 1}


@pytest.mark.parametrize("case", CASES, ids=case_id)
def test_a_case_stays_short(case: Case) -> None:
    assert len(case.spec.splitlines()) <= 30


# -- what a finding must name ----------------------------------------------------------------------

HELD = """\
doorlint: 1
project: {name: Case}
products:
  maglock: {kind: electromagnetic_lock, fail: safe, coil: {voltage: 12 V}}
  extender: {kind: poe_extender, inputs: {poe: {poe_class: 4}}, outputs: {out: {through: poe}}}
  splitter: {kind: poe_splitter, inputs: {poe: {poe_class: 3}}, outputs: {out: {supply: dc, voltage: 12 V}}}
cables: {pair: {kind: multiconductor}}
power:
  sw: {kind: poe_switch}
  psu: {kind: power_supply, voltage: 12 V, backup: 4 h}
  bare: {kind: power_supply, voltage: 12 V}
openings:
  D1:
    items:
      ext: {product: extender, fed_from: sw}
      split: {product: splitter, fed_from: ext}
      lock: {product: maglock, fed_from: split, cable: pair}
"""


def test_what_opens_a_lock_that_poe_alone_holds_is_named_from_the_lock_outwards() -> None:
    result = review_text(HELD, "case.yaml", rulebook=ALONE["release/fail-safe-held-by-poe-alone"])
    (found,) = result.findings()
    losses = [
        "its own cable from split.out",
        "split (poe-splitter)",
        "the cable between split and ext",
        "ext (poe-extender)",
        "the cable between ext and sw",
        "the switch sw",
    ]
    at = [found.message.index(loss) for loss in losses]
    assert at == sorted(at)


def test_only_a_supply_with_standby_cures_a_lock_that_poe_alone_holds() -> None:
    result = review_text(HELD, "case.yaml", rulebook=ALONE["release/fail-safe-held-by-poe-alone"])
    (found,) = result.findings()
    assert [change.text for repair in found.repairs for change in repair.changes] == ["psu"]
    assert all(repair.life_safety for repair in found.repairs)
    cured = HELD.replace("fed_from: split, cable", "fed_from: psu, cable")
    assert review_text(cured, "case.yaml", rulebook=ALONE["release/fail-safe-held-by-poe-alone"]).findings() == ()


# -- what never changes an outcome -----------------------------------------------------------------


def judged(text: str, rule: str) -> list[tuple[Any, ...]]:
    """What a rule makes of a spec, apart from places, order and wording."""
    result = review_text(text, "case.yaml", rulebook=ALONE[rule])
    assert not result.broken
    return sorted(
        (o.rule, o.kind.value, o.subject, str(o.measured), str(o.limit), str(o.margin), o.missing)
        for o in result.outcomes
    )


def shuffled(tree: Any, dice: random.Random) -> Any:
    """The same tree with the keys of every mapping in another order; lists keep theirs."""
    if isinstance(tree, dict):
        keys = list(tree)
        dice.shuffle(keys)
        return {key: shuffled(tree[key], dice) for key in keys}
    return [shuffled(one, dice) for one in tree] if isinstance(tree, list) else tree


def commented(text: str, dice: random.Random) -> str:
    """The same block-style text with comments and empty lines between its lines."""
    lines = []
    for line in text.splitlines():
        if dice.random() < 0.4:
            lines.append(dice.choice(["", "# a note: {not: [part of it]}", "    # 12 V"]))
        lines.append(line)
    return "\n".join(lines) + "\n"


def written(tree: Any, *, flow: bool) -> str:
    return yaml.safe_dump(tree, default_flow_style=flow, sort_keys=False, width=100_000, allow_unicode=True)


@settings(max_examples=80, deadline=None)
@given(case=st.sampled_from(CASES), dice=st.randoms(use_true_random=False), flow=st.booleans())
def test_order_of_keys_comments_and_style_never_change_an_outcome(case: Case, dice: random.Random, flow: bool) -> None:
    text = written(shuffled(parse(case.spec).tree, dice), flow=flow)
    if not flow:
        text = commented(text, dice)
    assert judged(text, case.rule) == judged(case.spec, case.rule)


QUANTITIES = {
    f.name
    for part in vars(model).values()
    if isinstance(part, type) and issubclass(part, Part)
    for f in fields(part)
    if "read" in f.metadata and f.metadata["read"].what in ("quantity", "band")
}
_THOUSAND = {"V": "mV", "A": "mA", "W": "mW", "s": "ms", "m": "mm"}
_SCALE = {unit: (small, Decimal(1000)) for unit, small in _THOUSAND.items()}
_SCALE |= {small: (unit, Decimal("0.001")) for unit, small in _THOUSAND.items()}
_WRITTEN = re.compile(r"(?P<numbers>[0-9.]+?(\.\.[0-9.]+?)?) (?P<unit>[a-zA-Z]+)(?P<rest>( [+-].*%)?)")


def plainly(number: Decimal) -> str:
    return f"{number.normalize():f}"


def thousandfold(text: str) -> str:
    """`12 V` as `12000 mV`, `450 mA` as `0.45 A`, `22..27.6 V` as `22000..27600 mV`; all of it exact."""
    match = _WRITTEN.fullmatch(text)
    if match is None or match["unit"] not in _SCALE:
        return text
    unit, factor = _SCALE[match["unit"]]
    numbers = "..".join(plainly(Decimal(number) * factor) for number in match["numbers"].split(".."))
    return f"{numbers} {unit}{match['rest']}"


def in_inches(text: str) -> str:
    """`62 m` as `2440 120/127 in`, by the inch of exactly 25.4 mm (international yard and pound agreement, 1959)."""
    match = re.fullmatch(r"([0-9.]+) m", text)
    if match is None:
        return text
    whole, rest = divmod(Fraction(match[1]) / Fraction("0.0254"), 1)
    return f"{whole} {rest.numerator}/{rest.denominator} in" if rest else f"{whole} in"


def restated(tree: Any, restate: Callable[[str], str], key: str = "") -> Any:
    if isinstance(tree, dict):
        return {name: restated(value, restate, name) for name, value in tree.items()}
    if isinstance(tree, list):
        return [restated(one, restate, key) for one in tree]
    return restate(tree) if isinstance(tree, str) and key in QUANTITIES else tree


@pytest.mark.parametrize("restate", [thousandfold, in_inches])
def test_restating_every_quantity_in_another_unit_never_changes_an_outcome(restate: Callable[[str], str]) -> None:
    changed = 0
    for case in CASES:
        tree = parse(case.spec).tree
        again = restated(tree, restate)
        if again != tree:
            changed += 1
            assert judged(written(again, flow=False), case.rule) == judged(case.spec, case.rule), case.name
    if restate is thousandfold:
        assert changed > len(CASES) // 4


def test_the_restatement_is_what_it_says() -> None:
    assert thousandfold("12 V") == "12000 mV"
    assert thousandfold("24 V +15/-5 %") == "24000 mV +15/-5 %"
    assert thousandfold("22..27.6 V") == "22000..27600 mV"
    assert thousandfold("450 mA") == "0.45 A"
    assert in_inches("3.048 m") == "120 in"
    assert in_inches("62 m") == "2440 120/127 in"


# -- the reader of cases ---------------------------------------------------------------------------

STRIKE = """\
doorlint: 1
project: {name: Case}
products:
  strike: {kind: electric_strike, coil: {voltage: 24 V}}
power:
  psu: {kind: power_supply, voltage: 12 V}
openings:
  D1:
    items:
      lock:
        product: strike
        fed_from: psu
"""
RULE = "supply/voltage-mismatch"
FOUND = Expected(Kind.FAIL, RULE, "psu", 12)


def case(*expected: Expected, spec: str = STRIKE, outcomes: dict[Kind, int] | None = None) -> Case:
    return Case(RULE, "a case", spec, expected, outcomes or {})


def test_a_case_that_is_met() -> None:
    assert run_case(case(FOUND), BOOK) == ()
    assert run_case(case(FOUND, outcomes={Kind.FAIL: 1, Kind.PASS: 0}), BOOK) == ()


def test_a_case_finds_its_rule_in_the_installed_rules() -> None:
    assert run_case(case(FOUND)) == ()


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        (Expected(Kind.FAIL, RULE, "ps", 12), 'covers "ps" is expected'),
        (Expected(Kind.FAIL, RULE, "psu ", 12), 'covers "psu " is expected'),
        (Expected(Kind.FAIL, RULE, "psu", 11), "line 11"),
        (Expected(Kind.OPEN, RULE, "psu", 12), "an open outcome"),
        (Expected(Kind.FAIL, "format/unknown-key", "psu", 12), "format/unknown-key"),
    ],
)
def test_an_expectation_must_agree_in_kind_rule_line_and_exact_text(wrong: Expected, told: str) -> None:
    unexpected, unmet = run_case(case(wrong), BOOK)
    assert "which the case does not expect" in unexpected
    assert 'line 12: supply/voltage-mismatch gives a failure that covers "psu"' in unexpected
    assert told in unmet
    assert "there is none" in unmet


def test_one_outcome_meets_one_expectation() -> None:
    (told,) = run_case(case(FOUND, FOUND), BOOK)
    assert "there is none" in told


def test_counts_are_exact() -> None:
    (told,) = run_case(case(FOUND, outcomes={Kind.PASS: 1}), BOOK)
    assert told == "1 outcomes of kind pass are expected, and there are 0"


def test_a_case_must_be_an_honest_spec() -> None:
    told = run_case(case(FOUND, spec=STRIKE + "        colour: red\n"), BOOK)
    assert len(told) == 1
    assert "format/unknown-key" in told[0]
    also = Expected(Kind.FAIL, "format/unknown-key", "colour", 13)
    assert run_case(case(FOUND, also, spec=STRIKE + "        colour: red\n"), BOOK) == ()


def test_a_case_of_no_rule_is_not_met() -> None:
    assert run_case(Case("no/such-rule", "a case", STRIKE), BOOK) == ("there is no rule no/such-rule",)


def test_expectations_on_one_line() -> None:
    text = 'a: 1  # expect: a/b "x"; c/d "\\"18/2\\""  # expect open: a/b "y" # expect review: e/f "z\\nz"\n'
    assert list(expectations(text)) == [
        Expected(Kind.FAIL, "a/b", "x", 1),
        Expected(Kind.FAIL, "c/d", '"18/2"', 1),
        Expected(Kind.OPEN, "a/b", "y", 1),
        Expected(Kind.REVIEW, "e/f", "z\nz", 1),
    ]


def test_other_comments_are_left_alone() -> None:
    assert list(expectations("a: 1  # as expected: nothing\nb: 2  # expected-by: x\n# plain\n")) == []


@pytest.mark.parametrize(
    "comment",
    [
        "# expect",
        "# expect a/b",
        "# expect: a/b",
        "# expect: a/b x",
        '# expect pass: a/b "x"',
        '# expect: a/b "x" and more',
        '# expect: a/b "x";',
        '# expect: a/b "x", c/d "y"',
        '# expect: a/b "\\q"',
    ],
)
def test_a_comment_that_begins_like_an_expectation_and_is_none_is_refused(comment: str) -> None:
    with pytest.raises(CasesError, match="line 2 of the spec: cannot read") as caught:
        list(expectations(f"a: 1\nb: 2  {comment}\n"))
    assert "write `# expect: topic/rule-name" in str(caught.value)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("rule: a/b\ncases: [\n", "x.cases.yaml:"),
        ("rule: a/b\ncase: []\n", "case"),
        ("rule: a/b\ncases:\n  - {name: one, spec: 'doorlint: 1'}\n", "expects nothing"),
        ("rule: a/b\ncases:\n  - {name: one, spec: 'x: 1 # expect: c/d \"1\"'}\n", "these are the cases of a/b"),
        ("rule: a/b\ncases:\n  - {name: one, spec: s, outcomes: {good: 1}}\n", "good"),
        (
            "rule: a/b\ncases:\n" + 2 * "  - {name: one, spec: s, outcomes: {pass: 1}}\n",
            "two cases are called 'one'",
        ),
        ("", "rule"),
    ],
)
def test_a_file_of_cases_that_cannot_be_used_is_told_in_one_line(tmp_path: Path, text: str, told: str) -> None:
    path = tmp_path / "x.cases.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CasesError) as caught:
        load_cases(path)
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)


def test_the_kind_of_a_case_is_the_gravest_that_it_expects() -> None:
    assert case(FOUND, outcomes={Kind.PASS: 1}).kind is Kind.FAIL
    assert case(outcomes={Kind.PASS: 1, Kind.NOT_APPLICABLE: 2}).kind is Kind.PASS
    assert case(outcomes={Kind.PASS: 0, Kind.NOT_APPLICABLE: 2}).kind is Kind.NOT_APPLICABLE
    assert case(Expected(Kind.FAIL, "format/unknown-key", "x", 1), outcomes={Kind.PASS: 1}).kind is Kind.PASS
