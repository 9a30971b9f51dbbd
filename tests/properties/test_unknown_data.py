"""Data made unknown never turn a failure into a pass, nor a pass into a failure: of every rule, and of every field of
the invented example.

Stated exactly: a rule that fails for a subject may, once one value of the spec says `unknown`, fail still, be open or
be for review; never are there passes alone, and where it does not apply any more, some rule is open and names the
value. A rule that passes for a subject does not fail for it more often than before. What judges the stated figure
itself (`OF_WHAT_IS_STATED`) has nothing left to judge. `kind` has no `unknown`: it is a failure of the format, so
nobody takes the review for a pass either.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import cache
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from invented import BOOK, Path_, alone, judged, leaves, replaced, reviewed, whole, written

from doorlint.cases import Case, cases_path, load_cases
from doorlint.format_rules import FORMAT_RULES
from doorlint.outcome import Kind
from doorlint.reviewing import Result, review_text
from doorlint.rulebook import Rulebook

OF_WHAT_IS_STATED = {
    "consistency/data-sheet-value-implausible": "judges whether a stated figure can be meant",
    "consistency/dimension-implausible": "judges whether a stated figure can be meant",
    "consistency/source-value-implausible": "judges whether a stated figure can be meant",
    "supply/zero-figure": "judges whether a stated figure can be meant",
}
BUILT_IN: tuple[Any, ...] = tuple(m for m in BOOK.modules if BOOK.origins[m.RULE.id] == "built-in")
ALONE = {module.RULE.id: Rulebook((module,)) for module in BUILT_IN}


OF_SEVERAL = {
    "consistency/title-used-twice": "the opening whose title is unknown is open; the others are not asked once more",
}
"""Of these a subject may pass while another is open for the datum, and names it."""
OF_PLAIN_WORDS = {
    "consistency/fail-mode-against-text": "a title that nobody has written contradicts no data",
    "consistency/lock-against-text": "a title that nobody has written contradicts no data",
}
"""What holds free text against data is not concerned where there is no text; nobody has to write any."""


@cache
def deciding_cases() -> tuple[Case, ...]:
    """The cases in which a rule passes or fails, and no finding of the format beside it."""
    paths = [cases_path(module) for module in BUILT_IN if module.RULE.id not in OF_WHAT_IS_STATED]
    cases = [case for path in paths if path is not None for case in load_cases(path)]
    sound = [case for case in cases if not {expected.rule for expected in case.expected} & FORMAT_RULES.keys()]
    return tuple(case for case in sound if case.kind in (Kind.FAIL, Kind.PASS))


def tree_of(case: Case) -> dict[str, Any]:
    from doorlint.document import parse

    return dict(parse(case.spec).tree)


def named(result: Result, path: Path_) -> bool:
    """Whether an open outcome points at what stands at a path."""
    pointer = "".join("/" + str(key).replace("~", "~0").replace("/", "~1") for key in path)
    opened = [outcome for outcome in result.outcomes if outcome.kind is Kind.OPEN]
    return any(place.pointer == pointer for o in opened for place in (o.place, *(other.place for other in o.related)))


def failed_by(before: Result, after: Result) -> Iterator[tuple[str, str]]:
    """The rules and subjects that passed before and fail now, for want of the datum."""
    if any(outcome.rule in FORMAT_RULES and outcome.kind is Kind.FAIL for outcome in after.outcomes):
        return
    now = judged(after)
    for key, kinds in judged(before).items():
        if kinds[Kind.PASS] and now.get(key, Counter())[Kind.FAIL] > kinds[Kind.FAIL]:
            yield key


def vanished_by(before: Result, after: Result) -> Iterator[tuple[str, str]]:
    """The rules and subjects that failed before and of which nothing is left but that they do not apply."""
    if any(outcome.rule in FORMAT_RULES and outcome.kind is Kind.FAIL for outcome in after.outcomes):
        return
    now = judged(after)
    for key, kinds in judged(before).items():
        if kinds[Kind.FAIL] and not set(now.get(key, Counter())) - {Kind.NOT_APPLICABLE}:
            yield key


def passed_by(before: Result, after: Result) -> Iterator[tuple[str, str]]:
    """The rules and subjects that failed before and only pass now, where nothing else tells of the missing datum."""
    if any(outcome.rule in FORMAT_RULES and outcome.kind is Kind.FAIL for outcome in after.outcomes):
        return
    now = judged(after)
    for key, kinds in judged(before).items():
        left = now.get(key, Counter())
        if kinds[Kind.FAIL] and left[Kind.PASS] and not (left[Kind.FAIL] or left[Kind.OPEN] or left[Kind.REVIEW]):
            yield key


def check(case: Case, paths: list[Path_]) -> None:
    tree = tree_of(case)
    before = review_text(case.spec, "spec.yaml", rulebook=ALONE[case.rule])
    for path in paths:
        text = written(replaced(tree, path, "unknown"))
        after = review_text(text, "spec.yaml", rulebook=ALONE[case.rule])
        what = f"{case.rule}: {case.name}: {path} unknown"
        assert not after.broken, path
        assert not list(passed_by(before, after)) or (case.rule in OF_SEVERAL and named(after, path)), what
        assert not list(failed_by(before, after)), what
        if case.rule not in OF_PLAIN_WORDS and list(vanished_by(before, after)):
            assert named(reviewed(replaced(tree, path, "unknown")), path), what


SHOWN = [case for case in deciding_cases() if case.show]


@pytest.mark.parametrize("case", SHOWN, ids=lambda case: f"{case.rule}: {case.kind.value}")
def test_every_value_of_the_cases_that_are_shown(case: Case) -> None:
    check(case, [path for path, _ in leaves(tree_of(case))])


def test_every_rule_but_those_on_stated_figures_is_tried() -> None:
    for kind in (Kind.FAIL, Kind.PASS):
        tried = {case.rule for case in SHOWN if case.kind is kind}
        assert tried | OF_WHAT_IS_STATED.keys() == {module.RULE.id for module in BUILT_IN}


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_any_value_of_any_case(data: st.DataObject) -> None:
    case = data.draw(st.sampled_from(deciding_cases()))
    check(case, [data.draw(st.sampled_from([path for path, _ in leaves(tree_of(case))]))])


# -- the invented example --------------------------------------------------------------------------

OPENINGS = tuple(whole(clean=False)["openings"])


@cache
def opening_alone(name: str) -> tuple[dict[str, Any], Result]:
    tree = alone(whole(clean=False), [name])
    return tree, reviewed(tree)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_any_value_of_the_example(data: st.DataObject) -> None:
    tree, before = opening_alone(data.draw(st.sampled_from(OPENINGS)))
    path = data.draw(st.sampled_from([path for path, value in leaves(tree) if value != "unknown"]))
    after = reviewed(replaced(tree, path, "unknown"))
    passed = [key for key in passed_by(before, after) if key[0] not in OF_WHAT_IS_STATED | OF_SEVERAL]
    assert not passed, f"{path} unknown"
    assert not list(failed_by(before, after)), f"{path} unknown"


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.data())
def test_what_is_open_is_never_passed_by_another_unknown(data: st.DataObject) -> None:
    """Two values unknown: the second leaves open what the first left open, or gives it to another kind than pass."""
    tree, _ = opening_alone(data.draw(st.sampled_from(OPENINGS)))
    paths = [path for path, value in leaves(tree) if value != "unknown"]
    once = replaced(tree, data.draw(st.sampled_from(paths)), "unknown")
    before = judged(reviewed(once))
    second = data.draw(st.sampled_from([path for path, value in leaves(once) if value != "unknown"]))
    after = reviewed(replaced(once, second, "unknown"))
    if any(outcome.rule in FORMAT_RULES and outcome.kind is Kind.FAIL for outcome in after.outcomes):
        return
    now = judged(after)
    for key, kinds in before.items():
        left = now.get(key, Counter())
        if kinds[Kind.OPEN] and key[0] not in OF_WHAT_IS_STATED:
            assert not left[Kind.PASS] or left[Kind.OPEN] or left[Kind.FAIL] or left[Kind.REVIEW], (key, second)
