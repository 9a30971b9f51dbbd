"""A stricter edition never turns a failure into a pass.

Stricter is said of each value file for itself. Of two editions of one value the stricter is

- of a limit, the one that leaves less room: the lower `at_most` or `less_than`, the higher `at_least` or `more_than`,
  the band inside the other, the longer list where all of it is asked for, the later word of the file's `order`;
- of a trigger, the one that is met sooner;
- of a flag, the one that demands (`demanded`), or the one that does not allow (`allowed`);
- of a permission, permitted before conditional before not permitted;
- any figure before none.

Where two editions cannot be ranked so, nothing is claimed of them. The editions of different documents that give one
value are ranked alike.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from functools import cache
from itertools import pairwise, permutations
from typing import Any

import pytest

from doorlint.cases import Case, cases_path, load_cases
from doorlint.codes import Answer, Gap, Setting, documents, names, published
from doorlint.codes.setting import strictest
from doorlint.codes.values import read_edition, value_file
from doorlint.document import parse
from doorlint.outcome import Kind
from doorlint.quantity import Band, Quantity
from doorlint.report.rulebook_page import asked_values
from doorlint.reviewing import review_text
from doorlint.rulebook import Rulebook, collect
from doorlint.spec.fields import Undecided

RANK = {Answer.YES: 0, Answer.APPROVAL: 1, Answer.NO: 2}
PERMISSIONS = ("permitted", "conditional", "not_permitted")


def groups_of(name: str) -> tuple[str, ...]:
    """The occupancy groups that a value file tells apart, and one that it does not name."""
    listed = {group for entry in value_file(name).series.values() for group in entry.get("groups", {})}
    return (*sorted(listed - {"otherwise"}), "none that is named") if listed else ("",)


@cache
def settings_of(name: str, group: str) -> dict[str, Setting]:
    """What each edition says of a value for a group; editions that are gaps left out."""
    found = {}
    for edition in value_file(name).series:
        try:
            found[edition] = published(name, edition, group=group)
        except (Gap, Undecided):
            continue
    return found


def ends(value: Any) -> tuple[Fraction, Fraction] | None:
    if isinstance(value, Band):
        return value.low, value.high
    if isinstance(value, Quantity):
        return value.value, value.value
    return (Fraction(value), Fraction(value)) if isinstance(value, int) and not isinstance(value, bool) else None


def as_strict(one: Setting, other: Setting) -> bool:
    """Whether `one` asks for at least as much as `other`, by the list at the head of this file."""
    if one.value == other.value and (one.strictness, one.with_approval) == (other.strictness, other.with_approval):
        return one.beyond == other.beyond
    if one.kind == "permission":
        return PERMISSIONS.index(str(one.value)) >= PERMISSIONS.index(str(other.value))
    if other.value is None or one.value is None:
        return other.value is None
    if (one.with_approval, one.beyond) != (other.with_approval, other.beyond):
        return False
    a, b = ends(one.value), ends(other.value)
    for plain, sharp, sign in (("at_most", "less_than", -1), ("at_least", "more_than", 1)):
        if a and b and {one.strictness, other.strictness} <= {plain, sharp}:
            # of one figure, the sharp relation leaves less room
            mine, others = (a[0] * sign, one.strictness == sharp), (b[0] * sign, other.strictness == sharp)
            return mine >= others if one.use == "limit" else mine <= others
    if one.strictness != other.strictness:
        return False
    if one.strictness == "within" and a and b:
        return b[0] <= a[0] and a[1] <= b[1]
    if one.strictness in ("demanded", "allowed"):
        return one.value is (one.strictness == "demanded")
    if one.strictness == "all_of":
        return set(one.value) >= set(other.value)  # type: ignore[arg-type]
    words = [setting.text for setting in (one, other)]
    return all(word in one.order for word in words) and one.order.index(words[0]) >= one.order.index(words[1])


def around(*settings: Setting) -> Iterator[Any]:
    """Values below, at, between and above the figures of some settings; for words and flags, all that they name."""
    numbers = sorted({end for setting in settings for end in ends(setting.value) or ()})
    first = next(setting for setting in settings if setting.value is not None)
    if numbers:
        between = [(a + b) / 2 for a, b in pairwise(numbers)]
        steps = [numbers[0] - 1, *numbers, *between, numbers[-1] + 1]
        for step in steps:
            if isinstance(first.value, int):
                yield int(step)
            else:
                yield Quantity(step, first.value.dimension, "")  # type: ignore[union-attr]
    elif isinstance(first.value, bool):
        yield from (True, False)
    elif first.kind == "list":
        words = sorted({word for setting in settings for word in setting.value or ()})  # type: ignore[union-attr]
        yield from (tuple(words[:count]) for count in range(len(words) + 1))
    else:
        yield from first.order or sorted({str(setting.value) for setting in settings})


RANKED = [
    (name, group, strict, lenient)
    for name in names()
    if not name.startswith("sections/")
    for group in groups_of(name)
    for strict, lenient in permutations(settings_of(name, group), 2)
    if as_strict(settings_of(name, group)[strict], settings_of(name, group)[lenient])
]


def test_many_pairs_of_editions_are_ranked() -> None:
    assert len({name for name, *_ in RANKED}) > 60
    differing = {n for n, g, a, b in RANKED if settings_of(n, g)[a].value != settings_of(n, g)[b].value}
    assert len(differing) > 10, "where all editions say the same, the property says nothing"


@pytest.mark.parametrize("name", sorted({name for name, *_ in RANKED}))
def test_a_stricter_edition_admits_no_more(name: str) -> None:
    for _, group, one, other in (ranked for ranked in RANKED if ranked[0] == name):
        strict, lenient = settings_of(name, group)[one], settings_of(name, group)[other]
        if strict.kind == "permission":
            assert RANK[strict.permits] >= RANK[lenient.permits]
            continue
        if strict.value is None and lenient.value is None:
            continue
        if "exactly" in (strict.strictness, lenient.strictness) and strict.value != lenient.value:
            continue  # two words that ask for different things: neither admits what the other does
        for measured in around(strict, lenient):
            told = f"{measured!r}: {one} {strict.text}, {other} {lenient.text}"
            if strict.use == "trigger":
                assert strict.triggers(measured) >= lenient.triggers(measured), told
            else:
                assert RANK[strict.admits(measured)] >= RANK[lenient.admits(measured)], told


def test_the_strictest_of_two_is_as_strict_as_both() -> None:
    """The order that the review itself goes by, where several codes are adopted, against the one of this file."""
    ranked = 0
    for name in names():
        if name.startswith("sections/"):
            continue
        for group in groups_of(name):
            for one, other in permutations(settings_of(name, group).values(), 2):
                chosen = strictest((one, other))
                if chosen is not None and (one.with_approval, one.beyond) == (other.with_approval, other.beyond):
                    ranked += 1
                    assert as_strict(chosen, one), (name, one.edition, other.edition)
                    assert as_strict(chosen, other), (name, one.edition, other.edition)
    assert ranked > 500


# -- through the rules -----------------------------------------------------------------------------

BOOK = collect()
ASKING: tuple[Any, ...] = tuple(m for m in BOOK.modules if BOOK.origins[m.RULE.id] == "built-in" and asked_values(m))


def adoptions(case: Case) -> Iterator[tuple[str, str, str, str]]:
    """For each code that a case adopts: the family, the text, the edition, and every other edition of the document."""
    codes = parse(case.spec).tree.get("project", {}).get("codes", {})
    for family, text in codes.items():
        read = read_edition(str(text))
        if read is None:
            continue
        document, year = read
        for other in documents()[document.id].editions:
            if other != f"{document.id}-{year}":
                yield family, str(text), f"{document.id}-{year}", other


@cache
def stricter_in_all(asked: tuple[str, ...], strict: str, lenient: str) -> bool:
    """Whether an edition asks for at least as much as another in everything that a rule asks of the codes."""
    for name in asked:
        file = value_file(name)
        if strict not in file.series and lenient not in file.series and not {strict, lenient} & file.gaps.keys():
            continue
        if strict not in file.series or lenient not in file.series:
            return False
        if name.startswith("sections/"):
            continue
        for group in groups_of(name):
            found = settings_of(name, group)
            if strict not in found or lenient not in found or not as_strict(found[strict], found[lenient]):
                return False
    return True


def stricter_adoptions(module: Any, case: Case) -> tuple[tuple[str, str, str, str], ...]:
    """The adoptions of a case that an edition may replace which is as strict in all that the rule asks."""
    asked = asked_by(module)
    return tuple(one for one in adoptions(case) if stricter_in_all(asked, strict=one[3], lenient=one[2]))


asked_by = cache(asked_values)


@cache
def failing_cases(module: Any) -> tuple[Case, ...]:
    path = cases_path(module)
    assert path is not None
    return tuple(case for case in load_cases(path) if case.kind is Kind.FAIL)


@pytest.mark.parametrize("module", ASKING, ids=lambda module: str(module.RULE.id))
def test_a_rule_that_fails_fails_by_a_stricter_edition_too(module: Any) -> None:
    book = Rulebook((module,))
    for case in failing_cases(module):
        changed = stricter_adoptions(module, case)
        if not changed:
            continue
        outcomes = review_text(case.spec, "spec.yaml", rulebook=book).outcomes
        failing = {outcome.subject for outcome in outcomes if outcome.kind is Kind.FAIL}
        for _, text, edition, other in changed:
            again = review_text(case.spec.replace(text, other), "spec.yaml", rulebook=book)
            kinds: dict[str, set[Kind]] = {}
            for outcome in again.outcomes:
                kinds.setdefault(outcome.subject, set()).add(outcome.kind)
            for subject in failing:
                told = f"{case.name}: {subject} fails by {edition}, and by {other}: {sorted(kinds.get(subject, set()))}"
                assert kinds.get(subject, set()) & {Kind.FAIL, Kind.REVIEW, Kind.OPEN}, told


def test_many_failing_cases_are_tried_by_other_editions() -> None:
    tried = [one for module in ASKING for case in failing_cases(module) for one in stricter_adoptions(module, case)]
    assert len(tried) > 100
