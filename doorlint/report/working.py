"""The calculation of one opening, as a consultant would hand it in: every quantity with formula, figures, the line
of the spec that each figure was read from, and the ground."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from textwrap import wrap

from ..outcome import Kind, Outcome, Step
from ..reviewing import Result
from .text import CAUTIONS, figure, plain, where

_WIDTH = 100
_VERDICTS = {
    Kind.PASS: "in order",
    Kind.FAIL: "NOT IN ORDER",
    Kind.OPEN: "OPEN: cannot be decided",
    Kind.REVIEW: "for the authority to decide",
}


def render(result: Result, opening: str) -> str:
    """The working of one opening of the spec. KeyError when there is no such opening."""
    return "\n".join(plain(line) for line in _lines(result, opening)) + "\n"


def outcomes_of(result: Result, opening: str) -> tuple[Outcome, ...]:
    """The outcomes about an opening and its items that carry a calculation, or would if data were not missing."""
    return tuple(
        outcome
        for outcome in result.outcomes
        if outcome.subject.split("/")[0] == opening
        and (outcome.working or outcome.measured is not None or outcome.kind is Kind.OPEN)
        and outcome.kind in _VERDICTS
    )


def _lines(result: Result, opening: str) -> Iterator[str]:
    if result.spec is None:
        raise KeyError(opening)
    found = result.spec.openings[opening]
    rooms = " to ".join(str(room) for room in (found.from_, found.to) if isinstance(room, str))
    title = found.title if isinstance(found.title, str) else rooms
    yield f"Calculation for opening {opening}" + (f": {title}" if title else "")
    project = result.spec.project
    if isinstance(project.name, str):
        yield f"Project: {project.name}"
    yield ""
    yield from wrap(CAUTIONS[0], _WIDTH)
    listed = outcomes_of(result, opening)
    if not listed:
        yield ""
        yield "No rule computed anything for this opening: it has no electrical item with data."
        return
    titles = {rule.id: rule.title for rule in result.rulebook.rules}
    for number, (subject, group) in enumerate(_by_subject(listed), 1):
        yield ""
        yield f"{number}  {subject}"
        for index, outcome in enumerate(group, 1):
            yield ""
            yield f"{number}.{index}  Looked for: {titles.get(outcome.rule, outcome.rule)}  [{outcome.rule}]"
            yield from _calculation(result, outcome)
    yield ""
    yield from wrap(CAUTIONS[1], _WIDTH)


def _by_subject(outcomes: Iterable[Outcome]) -> list[tuple[str, list[Outcome]]]:
    groups: dict[str, list[Outcome]] = {}
    for outcome in outcomes:
        groups.setdefault(outcome.subject, []).append(outcome)
    return sorted((subject, sorted(group, key=lambda o: o.rule)) for subject, group in groups.items())


def _calculation(result: Result, outcome: Outcome) -> Iterator[str]:
    for step in outcome.working:
        yield from _step(result, step)
    if outcome.measured is not None and outcome.limit is not None:
        margin = figure(outcome.margin) if outcome.margin is not None else ""
        yield (
            f"     {outcome.what.rstrip(',')}: {figure(outcome.measured)}, "
            f"{outcome.relation} {figure(outcome.limit)}, margin {margin}"
        )
    verdict = _VERDICTS[outcome.kind] + (f" (waived: {outcome.waived})" if outcome.waived else "")
    if outcome.kind is Kind.OPEN or outcome.measured is None:
        verdict += f": {outcome.message}"
    yield from _wrapped(f"=> {verdict}", 5)
    for ground in outcome.basis:
        yield from _wrapped(f"ground: {ground}", 5)


def _step(result: Result, step: Step) -> Iterator[str]:
    value = step.result if isinstance(step.result, str) else figure(step.result)
    yield from _wrapped(f"{step.name} = {step.formula} = {value}", 5)
    for term in step.terms:
        read = where(result, term.place) if term.place is not None else None
        source = f"  ({term.place.file}:{read.line})" if read is not None and term.place is not None else ""
        yield from _wrapped(f"{term.name}: {term.text}{source}", 9)
    if step.ground:
        yield from _wrapped(f"by: {step.ground}", 9)


def _wrapped(text: str, indent: int) -> list[str]:
    pad = " " * indent
    return wrap(text, _WIDTH, initial_indent=pad, subsequent_indent=pad + "  ", break_long_words=False)
