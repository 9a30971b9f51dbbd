"""The rule book holds to itself: a ground for every rule, a case for every outcome and for every side of every limit,
an example on its page, figures for every edition or a stated gap, and one bibliography."""

from __future__ import annotations

import re
from functools import cache
from typing import Any, cast
from unittest.mock import patch

import pytest
from kinds import derived
from limits import Seen, settings_noted, watched

from doorlint import codes
from doorlint.cases import Case, cases_path, load_cases
from doorlint.codes import asking
from doorlint.codes.setting import Setting
from doorlint.codes.values import FAMILIES, amendment_files, document_of, value_file
from doorlint.format_rules import FORMAT_RULES
from doorlint.outcome import Cited, Kind, Outcome
from doorlint.report.rulebook_page import asked_values, render
from doorlint.reviewing import review_text
from doorlint.rulebook import Rulebook, RuleModule, collect
from doorlint.spec.fields import Undecided

COLLECTED = collect()
BOOK = Rulebook(tuple(m for m in COLLECTED.modules if COLLECTED.origins[m.RULE.id] == "built-in"))
BUILT_IN: tuple[Any, ...] = BOOK.modules
PAGE = render(BOOK)
SECTIONS = {part.partition("\n")[0]: part for part in re.split(r"^### ", PAGE, flags=re.MULTILINE)[1:]}
each_rule = pytest.mark.parametrize("module", BUILT_IN, ids=lambda module: str(module.RULE.id))


@cache
def cases_of(module: Any) -> tuple[Case, ...]:
    path = cases_path(module)
    assert path is not None
    return load_cases(path)


@cache
def judged(module: Any) -> tuple[Seen, tuple[Outcome, ...]]:
    """What the cases of a rule bring: the sides of its limits that they met, and its outcomes."""
    seen = Seen()
    book = Rulebook((cast(RuleModule, watched(module, seen)),))
    with settings_noted(seen):
        results = [review_text(case.spec, "case.yaml", rulebook=book) for case in cases_of(module)]
    return seen, tuple(o for result in results for o in result.outcomes if o.rule == module.RULE.id)


# -- ground, cases, example ------------------------------------------------------------------------


@each_rule
def test_a_rule_has_a_ground(module: Any) -> None:
    assert module.RULE.basis
    assert "**Basis.**" in SECTIONS[module.RULE.id]


NEVER = {
    ("egress/escape-lock-release-incomplete", Kind.REVIEW): "the lists it shares with other rules go to the authority "
    "where two codes differ; this one asks a single code",
}
"""Kinds that the text of a rule seems to give, and why it cannot."""


@each_rule
def test_every_kind_of_outcome_that_a_rule_can_give_has_a_case(module: Any) -> None:
    given = {outcome.kind for outcome in judged(module)[1]}
    lacking = derived(module) - given
    assert lacking == {kind for rule, kind in NEVER if rule == module.RULE.id}
    assert Kind.PASS in given
    assert Kind.FAIL in given


IMPOSSIBLE = "only with data that the format refuses, or never"
CHOICE = "chooses in which words, or against which of several limits, it is told"
ON_ONE_SIDE = "made on one side of a limit that is compared before, and there with all sides"
KNOWN = {
    ("access/opening-force-high", "opening_force/fire_door"): "nought is allowed, and all else needs approval",
    ("battery/autonomy-chain-broken", "s.required_backup.value >= required"): CHOICE,
    ("egress/device-for-trained-people-only", "delayed_egress/delay"): "no delay is allowed plainly: never below, and "
    "a delay of nought is none",
    ("egress/device-for-trained-people-only", "delayed_egress/central_delay"): "the same",
    ("egress/several-releasing-motions", "unlatching/operations"): "a door opens with one motion at least",
    ("failure/controller-failure-traps", "row.egress.rank > normal.egress.rank"): "no failure eases leaving",
    ("failure/lockdown-stops-egress", "locked_down.egress.rank > normal.egress.rank"): "lockdown frees nothing",
    ("fire/no-self-closing", "leaves > 1"): "a door has one leaf at least",
    ("fit/leaf-thickness-outside", "at_least in check"): ON_ONE_SIDE,
    ("output/peak-over-rating", "own_peak(feed) > own_current(feed)"): "a peak is never below the steady current",
    ("output/shared-limit-exceeded", "value > best[0]"): CHOICE,
    ("poe/draw-above-available-power", "rank(grant.granted.number) >= rank(grant.asked)"): "a port never grants more "
    "than is asked",
    ("poe/peak-above-port-limit", "at_least in check"): ON_ONE_SIDE,
    ("poe/peak-above-port-limit", "lasting <= steady"): CHOICE,
    ("poe/peak-above-port-limit", "peak.top_w <= short"): CHOICE,
    ("release/leaves-peak-together", "own_peak(feed) > own_current(feed)"): "a peak is never below the steady current",
    ("release/leaves-peak-together", "delays[0] <= delays[1]"): "the delays are sorted",
    ("supply/voltage-mismatch", "below >= above"): CHOICE,
    ("supply/voltage-mismatch", "at_least in check"): ON_ONE_SIDE,
}
"""Comparisons that no case can meet from every side, and why."""


@each_rule
def test_every_limit_has_cases_below_at_and_above(module: Any) -> None:
    lacking = judged(module)[0].lacking()
    known = {where for rule, where in KNOWN if rule == module.RULE.id}
    assert {where: sides for where, sides in lacking.items() if where not in known} == {}
    assert known <= lacking.keys(), "a comparison that is met from every side by now: take it off the list"


def test_limits_are_found_at_all() -> None:
    """The watching of comparisons itself: a rule whose limit is known to be compared, and many rules in all."""
    by_rule = {module.RULE.id: judged(module)[0].sides for module in BUILT_IN}
    assert set().union(*by_rule["output/current-over-rating"].values()) == {-1, 0, 1}
    assert by_rule["delayed/requirements-not-met"]["delayed_egress/delay"] == {-1, 0, 1}
    assert sum(bool(sides) for sides in by_rule.values()) > 90


@each_rule
def test_the_page_of_a_rule_shows_an_example(module: Any) -> None:
    assert re.search(r"^```yaml\ndoorlint: 1\n", SECTIONS[module.RULE.id], re.MULTILINE)


# -- figures by edition ----------------------------------------------------------------------------

GROUPS = ("A", "A-3", "B", "E", "F", "H", "I-1", "I-2", "I-3", "I-4", "M", "R", "R-1", "R-2", "R-3", "R-4", "S", "U")
"""Occupancy groups of the International Building Code, chapter 3, and a few of their divisions."""


@pytest.mark.parametrize("name", codes.names())
def test_a_value_resolves_for_each_edition_or_is_a_listed_gap(name: str) -> None:
    file = value_file(name)
    listed = [(edition, figure, gap) for value, edition, figure, gap in codes.coverage() if value == name]
    assert listed
    for edition, _, gap in listed:
        try:
            asked = [codes.published(name, edition, group=group) for group in GROUPS]
        except codes.Gap as missing:
            told = gap or "groups" in file.series.get(edition, {})
            assert told, f"{edition} is neither in the series nor among the gaps: {missing}"
            continue
        assert not gap
        assert all(isinstance(one, Setting) and one.basis.document and one.basis.clause for one in asked)


@pytest.mark.parametrize("name", codes.names())
def test_a_project_that_adopts_an_edition_gets_the_same_figure(name: str) -> None:
    """Through `project.codes`, as a rule asks it, against the edition asked by name."""
    for edition in value_file(name).series:
        family = document_of(edition, name).family
        if family not in FAMILIES:
            continue
        text = f"doorlint: 1\nproject: {{name: Case, codes: {{{family}: {edition}}}}}\n"
        spec = review_text(text, "case.yaml", rulebook=Rulebook()).spec
        assert spec is not None
        try:
            adopted = codes.lookup(spec.project, family, name, group="B")
        except Undecided:
            with pytest.raises(Undecided):
                codes.published(name, edition, group="B")
            continue
        assert (adopted.value, adopted.strictness) == (
            (other := codes.published(name, edition, group="B")).value,
            other.strictness,
        )


@each_rule
def test_the_page_tells_every_figure_that_the_cases_of_a_rule_ask_for(module: Any) -> None:
    asked: set[str] = set()
    before = asking.setting_of

    def noting(name: str, edition: codes.Edition, group: str) -> Setting:
        asked.add(name)
        return before(name, edition, group)

    with patch.object(asking, "setting_of", noting):
        for case in cases_of(module):
            review_text(case.spec, "case.yaml", rulebook=Rulebook((module,)))
    assert asked <= set(asked_values(module))


def test_a_figure_that_no_rule_asks_for_is_told_as_such() -> None:
    asked = {name for module in BUILT_IN for name in asked_values(module)}
    part = PAGE[PAGE.index("\n## Figures that no rule asks for") : PAGE.index("\n## Bibliography")]
    told = {
        f"{topic.replace(' ', '_')}/{name.replace(' ', '_')}"
        for topic, names in re.findall(r"^- (.+?): (.+)$", part, flags=re.MULTILINE)
        for name in names.split(", ")
    }
    assert told == set(codes.names()) - asked


def test_every_amendment_changes_a_value_that_there_is() -> None:
    for amendment in amendment_files().values():
        assert amendment["base"] in value_file(amendment["changes"][0]["name"]).series or amendment["changes"]
        for change in amendment["changes"]:
            assert change["name"] in codes.names()


# -- bibliography ----------------------------------------------------------------------------------


def bibliography() -> dict[str, str]:
    part = PAGE[PAGE.index("\n## Bibliography") : PAGE.index("\n## From memory")]
    return dict(re.findall(r"^- \*\*(.+?)\*\*(.*)$", part, flags=re.MULTILINE))


def cited() -> list[tuple[str, Cited]]:
    rules = [*BOOK.rules, *FORMAT_RULES.values()]
    grounds = [(r.id, b) for r in rules for b in (*r.basis, *(p.basis for p in r.parameters))]
    made = [(outcome.rule, ground) for module in BUILT_IN for outcome in judged(module)[1] for ground in outcome.basis]
    return [(rule, ground) for rule, ground in (*grounds, *made) if isinstance(ground, Cited)]


def test_every_source_that_an_outcome_cites_stands_in_the_bibliography_with_its_edition() -> None:
    """Not only what rules declare: what their outcomes over all cases cite, figures by edition and amendments too."""
    titles = bibliography()
    full = {document.id.replace("-", " "): document.title for document in codes.documents().values()}
    lacking = set()
    for rule, ground in cited():
        title = full.get(ground.document.replace("-", " "), ground.document)
        told = next((rest for name, rest in titles.items() if name == title or name.endswith(title)), None)
        span = re.search(r"\d{4}\D+\d{4}", ground.edition)  # told by its years, one by one
        if told is None or (ground.edition and ground.edition not in told and not span):
            lacking.add((rule, ground.document, ground.edition))
    assert not lacking


def test_a_source_without_edition_is_the_exception() -> None:
    without = [title for title, rest in bibliography().items() if "edition not stated" in rest]
    assert len(without) <= len(bibliography()) // 4, without


def test_what_is_from_memory_is_listed_once_for_each_rule_and_figure() -> None:
    part = PAGE[PAGE.index("\n## From memory") :]
    for rule, ground in cited():
        if ground.from_memory and any(ground in r.basis for r in BOOK.rules if r.id == rule):
            assert f"- [{rule}](" in part
    for name in codes.names():
        remembered = any(entry["from_memory"] for entry in value_file(name).series.values())
        changes = [change for amendment in amendment_files().values() for change in amendment["changes"]]
        amended = any(change["name"] == name and change["from_memory"] for change in changes)
        assert (f"- `{name}`:" in part) == bool(remembered or amended)
