"""Cases of a rule: small specs that say, on the very line, what the rule finds there.

A file of cases stands beside its rule (`name.cases.yaml` beside `name.py`) and serves three ends: it tests the rule,
it shows on the rule's page how a finding looks, and it is the ground on which its author changes it. Every case is a
whole spec, so that it can be read by itself. In the spec a comment tells what is expected on its line:

    lock: {current: 750 mA}   # expect: output/current-over-rating "750 mA"
    lock: {current: unknown}  # expect open: output/current-over-rating "unknown"

`expect` stands for a failure, `expect open` for missing data, `expect review` for what the authority decides. The
text in quotes is exactly what the outcome covers, from start to end; a quote inside it is written `\\"`, a line break
`\\n`. Several on one line are parted by `; ` or begin a comment of their own. Outcomes that have no place of interest
are counted: `outcomes: {pass: 1, notApplicable: 2}`.

A case is met when each expectation has its outcome, each failure, open or review outcome of the rule has its
expectation, and the counts agree. Nothing else in the spec may be wrong: a finding about its format, its references
or its wiring must be expected like a failure of the rule.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from .document import Document, load
from .format_rules import FORMAT_RULES
from .outcome import Kind, Outcome
from .reviewing import Result, review_text
from .rulebook import Rulebook, collect
from .schema import check

ENDING = ".cases.yaml"
FLAGGED = (Kind.FAIL, Kind.OPEN, Kind.REVIEW)
"""The kinds that are expected on a line; the others are counted."""

_COMMENT = re.compile(r"#\s*expect(?![\w-])")
_KIND = re.compile(r"\s*(?P<kind>[a-z]*)\s*:")
_ONE = re.compile(r"\s*(?P<rule>[a-z0-9/-]+)\s+(?P<text>\"(?:[^\"\\]|\\.)*\")\s*")
_WORDS = {"": Kind.FAIL, "open": Kind.OPEN, "review": Kind.REVIEW}
_NOUNS = {Kind.FAIL: "a failure", Kind.OPEN: "an open outcome", Kind.REVIEW: "a review outcome"}


class CasesError(ValueError):
    """A file of cases that cannot be used. The message is one line: where, what was read, what is expected."""


@dataclass(frozen=True, slots=True)
class Expected:
    """One expectation: on `line` (from 1) of the spec, `rule` gives an outcome of `kind` that covers `text`."""

    kind: Kind
    rule: str
    text: str
    line: int


@dataclass(frozen=True, slots=True)
class Case:
    """One case. `spec` is the text of a whole spec; `outcomes` how many outcomes of a kind the rule gives, where the
    case says so; `show` puts it on the rule's page; `where` is file and line of its name."""

    rule: str
    name: str
    spec: str
    expected: tuple[Expected, ...] = ()
    outcomes: Mapping[Kind, int] = field(default_factory=dict)
    show: bool = False
    where: str = ""

    @property
    def kind(self) -> Kind:
        """What the case shows: the gravest outcome that it expects of its rule."""
        kinds = {one.kind for one in self.expected if one.rule == self.rule}
        kinds |= {kind for kind, count in self.outcomes.items() if count}
        order = (*FLAGGED, Kind.PASS, Kind.NOT_APPLICABLE)
        return next((kind for kind in order if kind in kinds), Kind.NOT_APPLICABLE)


def cases_path(module: object) -> Path | None:
    """Where the cases of a rule module belong; None for a rule that is no module with a file."""
    source = getattr(module, "__file__", None)
    return Path(source).with_suffix(ENDING) if isinstance(source, str) else None


def load_cases(path: str | Path) -> tuple[Case, ...]:
    """Read a file of cases.

    Raises CasesError when the file does not follow the format or an expectation cannot be read, OSError when it
    cannot be opened.
    """
    document = load(Path(path))
    for problem in document.problems:
        raise CasesError(f"{_position(document, problem.region.start)}: {problem.message}")
    for fault in check(document, "cases"):
        region = document.region(fault.pointer, fault.part if fault.pointer else "value")
        raise CasesError(f"{_position(document, region.start)}: {fault.message}")
    tree: Any = document.tree
    rule = str(tree["rule"])
    cases = tuple(_case(document, rule, index, entry) for index, entry in enumerate(tree["cases"]))
    twice = [name for name, count in Counter(case.name for case in cases).items() if count > 1]
    if twice:
        raise CasesError(f"{document.name}: two cases are called {twice[0]!r}; give each a name of its own")
    return cases


def _case(document: Document, rule: str, index: int, entry: Mapping[str, Any]) -> Case:
    where = _position(document, document.region(f"/cases/{index}/name").start)
    expected = tuple(expectations(entry["spec"], where))
    for one in expected:
        if one.rule != rule and one.rule not in FORMAT_RULES:
            raise CasesError(f"{where}: line {one.line} expects {one.rule}, and these are the cases of {rule}")
    outcomes = {Kind(kind): count for kind, count in entry.get("outcomes", {}).items()}
    if not expected and not outcomes:
        how = "write `outcomes: {pass: 1}` or a comment `# expect: ...`"
        raise CasesError(f"{where}: the case expects nothing; {how}")
    return Case(rule, entry["name"], entry["spec"], expected, outcomes, entry.get("show", False), where)


def expectations(spec: str, where: str = "spec") -> Iterator[Expected]:
    """The expectations in the comments of a spec. Raises CasesError for a comment that begins like one and is none."""
    for number, line in enumerate(spec.splitlines(), 1):
        here = _COMMENT.search(line)
        while here is not None:
            kind_match = _KIND.match(line, here.end())
            kind = _WORDS.get(kind_match["kind"]) if kind_match else None
            if kind_match is None or kind is None:
                raise _unreadable(where, number, line[here.start() :])
            end = kind_match.end()
            while True:
                one = _ONE.match(line, end)
                if one is None:
                    raise _unreadable(where, number, line[here.start() :])
                try:
                    text = json.loads(one["text"])
                except ValueError as error:
                    raise _unreadable(where, number, line[here.start() :]) from error
                yield Expected(kind, one["rule"], text, number)
                end = one.end()
                if not line.startswith(";", end):
                    break
                end += 1
            here = _COMMENT.match(line, end)
            if here is None and end < len(line):
                raise _unreadable(where, number, line[end:])


def _unreadable(where: str, number: int, read: str) -> CasesError:
    form = '`# expect: topic/rule-name "covered text"`, `# expect open: ...` or `# expect review: ...`'
    return CasesError(f"{where}: line {number} of the spec: cannot read {read!r}; write {form}")


def run_case(case: Case, rulebook: Rulebook | None = None) -> tuple[str, ...]:
    """What differs between what a case expects and what its rule finds, in plain words; empty when the case is met.

    Only the rule of the case is applied. `rulebook` is where it is looked up (default: all rules installed).
    """
    result = review_case(case, rulebook)
    if result is None:
        return (f"there is no rule {case.rule}",)
    return tuple(_mismatches(case, result))


def review_case(case: Case, rulebook: Rulebook | None = None) -> Result | None:
    """The review of a case by its rule alone; None when the rulebook has no such rule."""
    book = rulebook or collect()
    modules = tuple(module for module in book.modules if module.RULE.id == case.rule)
    return review_text(case.spec, "case.yaml", rulebook=Rulebook(modules)) if modules else None


def _mismatches(case: Case, result: Result) -> Iterator[str]:
    own = [outcome for outcome in result.outcomes if outcome.rule == case.rule]
    flagged = [outcome for outcome in own if outcome.kind in FLAGGED]
    flagged += [outcome for outcome in result.outcomes if outcome.rule in FORMAT_RULES]
    unmet = Counter(case.expected)
    for outcome in flagged:
        found = _found(outcome, result)
        if unmet[found] > 0:
            unmet[found] -= 1
        else:
            yield (
                f"line {found.line}: {found.rule} gives {_NOUNS[found.kind]} that covers {json.dumps(found.text)}, "
                f"which the case does not expect ({outcome.message})"
            )
    for expected in unmet.elements():
        yield (
            f"line {expected.line}: {_NOUNS[expected.kind]} of {expected.rule} that covers {json.dumps(expected.text)} "
            "is expected, and there is none"
        )
    counted = Counter(outcome.kind for outcome in own)
    for kind, count in case.outcomes.items():
        if counted[kind] != count:
            yield f"{count} outcomes of kind {kind.value} are expected, and there are {counted[kind]}"


def _found(outcome: Outcome, result: Result) -> Expected:
    document = result.documents[outcome.place.file]
    region = result.region(outcome.place)
    line, _ = document.position(region.start)
    return Expected(outcome.kind, outcome.rule, document.source(region), line)


def _position(document: Document, offset: int) -> str:
    line, column = document.position(offset)
    return f"{document.name}:{line}:{column}"
