"""The findings of a review as an editor shows them: each with the text that it is about as that text stands now."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Literal

from ..document import Document
from ..format_rules import FORMAT_RULES
from ..outcome import Kind, Outcome, Place
from ..report.text import plain
from ..reviewing import Result
from ..schema import check
from .carry import carry
from .view import Part

Severity = Literal["error", "warning", "information", "hint"]

_MOST_NAMED: Final = 12
_UNREADABLE: Final = {
    "syntax": "document/syntax",
    "encoding": "document/unreadable",
    "limit": "document/over-limit",
}
_LEVELS: Final[Mapping[str, Severity]] = {"error": "error", "warning": "warning", "note": "information"}
_LAST_READ = "the other findings are those of the text before it"


@dataclass(frozen=True, slots=True)
class Beside:
    """A second place that a finding stands on."""

    file: str
    start: int
    end: int
    caption: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding at a region of a text. `code`: the rule's id."""

    start: int
    end: int
    severity: Severity
    code: str
    message: str
    beside: tuple[Beside, ...] = ()


def shown(result: Result) -> Iterable[Outcome]:
    """The outcomes that an editor shows: failures, and what is open or for the authority."""
    return result.of_kinds(Kind.FAIL, Kind.OPEN, Kind.REVIEW)


def findings(result: Result, parts: Mapping[str, Part], only: str = "") -> dict[str, tuple[Finding, ...]]:
    """The findings of each file of a spec that has any, by the file's name; with `only` those of this file."""
    found: dict[str, list[Finding]] = {}
    groups: dict[tuple[object, ...], list[Outcome]] = {}
    for outcome in shown(result):
        if only and outcome.place.file != only:
            continue
        key = (outcome.place, outcome.rule, outcome.kind, outcome.level, outcome.message, outcome.waived)
        groups.setdefault(key, []).append(outcome)
    for group in groups.values():
        one = _finding(result, parts, group)
        if one is not None:
            found.setdefault(group[0].place.file, []).append(one)
    for name, part in parts.items():
        if only and name != only:
            continue
        if part.buffer is not None and part.document.text != part.buffer.text:
            found.setdefault(name, []).extend(unreadable(part.buffer.document, _LAST_READ))
    return {name: tuple(sorted(listed, key=lambda one: (one.start, one.code))) for name, listed in found.items()}


def unreadable(document: Document, remark: str = "") -> list[Finding]:
    """What could not be read of a text."""
    found = []
    for problem in document.problems:
        if problem.code in _UNREADABLE:
            start, end = _visible(document.text, problem.region.start, problem.region.end)
            beside = tuple(Beside(document.name, r.start, r.end, caption) for caption, r in problem.related)
            message = f"{problem.message}; {remark}" if remark else problem.message
            found.append(Finding(start, end, "error", _UNREADABLE[problem.code], message, beside))
    return found


def of_no_spec(document: Document, why: str) -> tuple[Finding, ...]:
    """The findings of a text that says it is part of a spec and that no root includes: that, and its own faults; of one
    that cannot be read only why."""
    found = unreadable(document)
    if not found and isinstance(document.tree, dict) and "doorlint" in document.tree:
        for fault in check(document):
            region = document.region(fault.pointer, fault.part if fault.pointer else "value")
            start, end = _visible(document.text, region.start, region.end)
            level = _LEVELS[FORMAT_RULES[fault.rule].level.value]
            found.append(Finding(start, end, level, fault.rule, fault.message))
        key = document.region("/doorlint", "key")
        found.append(Finding(key.start, key.end, "information", "include/missing", why))
    return tuple(sorted(found, key=lambda one: (one.start, one.code)))


def _finding(result: Result, parts: Mapping[str, Part], group: list[Outcome]) -> Finding | None:
    first = group[0]
    region = region_now(result, parts, first.place)
    if region is None:
        return None
    severity, message = _told(group)
    beside = []
    for related in first.related:
        if all(related in outcome.related for outcome in group):
            there = region_now(result, parts, related.place)
            if there is not None:
                beside.append(Beside(related.place.file, *there, plain(related.caption)))
    return Finding(*region, severity, first.rule, message, tuple(beside))


def _told(group: list[Outcome]) -> tuple[Severity, str]:
    """How serious the outcomes are, which say the same, and what to write there."""
    first = group[0]
    subject = "" if first.subject in ("", first.place.file) else f"{first.subject}: "
    message = plain(f"{subject}{first.message}")
    others = list(dict.fromkeys(outcome.subject for outcome in group))[1:]
    if others:
        rest = f" and {len(others) - _MOST_NAMED} others" if len(others) > _MOST_NAMED else ""
        message += plain(f" (also {', '.join(others[:_MOST_NAMED])}{rest})")
    if first.kind is Kind.OPEN:
        return "information", f"open: {message}"
    if first.kind is Kind.REVIEW:
        return "information", f"for the authority to decide: {message}"
    if first.waived:
        return "hint", plain(f"waived: {message} (reason: {first.waived})")
    return _LEVELS[first.level.value], message


def region_now(result: Result, parts: Mapping[str, Part], place: Place) -> tuple[int, int] | None:
    """The text that a place of a review covers, as it stands now and not beyond its first line."""
    part = parts.get(place.file)
    if part is None or place.file not in result.documents:
        return None
    document = result.documents[place.file]
    try:
        region = result.region(place)
    except KeyError:
        return None
    now = carry(document.text, part.text).region(region.start, region.end)
    return _visible(part.text, *now) if now is not None else None


def _visible(text: str, start: int, end: int) -> tuple[int, int]:
    """A region cut at the end of its first line; one of no length takes a character, so that it can be seen."""
    ends = [at for at in (text.find("\n", start, end), text.find("\r", start, end)) if at > start]
    end = min([end, *ends])
    if start == end:
        if end < len(text) and text[end] not in "\r\n":
            return start, end + 1
        if start > 0 and text[start - 1] not in "\r\n":
            return start - 1, end
    return start, end
