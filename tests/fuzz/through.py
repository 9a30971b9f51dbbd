"""One input through reading, review, cures and every report, and what must hold of each.

What must hold: nothing is raised, no rule breaks, every place lies in its text, no figure is NaN or infinite, JSON and
XML can be read back, nothing that steers a terminal is printed, the same input gives the same bytes, and no step takes
more than a second of processor time on a small file.
"""

from __future__ import annotations

import io
import json
import re
import sys
import time
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache, partial
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

from doorlint.document import Document, parse, read_text
from doorlint.documents import DOCUMENTS, build, files
from doorlint.outcome import Kind
from doorlint.repair import with_cures
from doorlint.report import (
    budget,
    comparison,
    house,
    html,
    json_report,
    junit,
    questions,
    sarif,
    sequence,
    terminal,
    text,
    working,
)
from doorlint.report.earlier import revision
from doorlint.reviewing import Overlay, Result, review_root
from doorlint.rulebook import Rulebook, collect
from doorlint.schema import check
from doorlint.today import today

from .inputs import Input

NAME = "fuzz-input-not-on-disk.yaml"
LONGEST_S = 1.0
SMALL = 20_000
"""Characters up to which a file is small."""
_NOT_FINITE = re.compile(r"(?<![\w.])[-+]?(?:nan|inf|infinity)(?![\w.])", re.IGNORECASE)
_PLACES = 400
_HARMLESS = "\n\t\r\u200c\u200d"


class Wrong(AssertionError):  # noqa: N818 - it says what it is in the report
    """Something that must hold does not."""


@dataclass(slots=True)
class Passed:
    """How an input went: seconds for each step, and how far it came."""

    seconds: dict[str, float] = field(default_factory=dict)
    reviewed: bool = False
    outcomes: int = 0
    cures: int = 0
    reports: int = 0


@cache
def book() -> Rulebook:
    """All rules."""
    return collect()


@cache
def few(number: int) -> Rulebook:
    """Every 87th rule, from one on: a cheap rule book; over 87 inputs all rules have their turn."""
    return Rulebook(book().modules[number % 87 :: 87])


def put(given: Input, number: int, *, whole: bool = False, before: Result | None = None) -> tuple[Passed, Result]:
    """Put an input through. `whole`: with all rules, all documents and a second run; else a share of them by `number`.

    Raises whatever doorlint raises, and Wrong.
    """
    passed = Passed()

    def timed(step: str, do: Callable[[], Any]) -> Any:
        began = time.process_time()
        found = do()
        passed.seconds[step] = time.process_time() - began
        return found

    rulebook, day = book() if whole else few(number), today()
    document = timed("read", lambda: _read(given))
    check_places(document)
    result = timed("review", lambda: _review(document, rulebook))
    _check_review(document, result)
    cured = timed("cures", lambda: with_cures(result, 12 if whole else 3))
    passed.reviewed = result.context is not None
    passed.outcomes = len(result.outcomes)
    passed.cures = sum(len(o.repairs) for o in cured.outcomes)
    made = {name: timed(name, make) for name, make in _reports(cured, number, whole, before)}
    passed.reports = len(made)
    for name, report in made.items():
        check_report(name, report, document.text)
    if whole or number % 50 == 0:
        again = with_cures(_review(_read(given), rulebook), 12 if whole else 3)
        for name, make in _reports(again, number, whole, before):
            if make() != made[name] and today() == day:  # reports bear the date
                raise Wrong(f"{name} differs between two runs on the same input")
    if len(document.text) <= SMALL:
        for step, seconds in passed.seconds.items():
            if seconds > LONGEST_S:
                raise Wrong(f"{step} took more than {LONGEST_S} s of processor time")
    return passed, result


def read(given: Input) -> Passed:
    """Put an input through reading and the check against the schema alone. Raises as `put` does."""
    began = time.process_time()
    document = _read(given)
    check(document)
    seconds = time.process_time() - began
    check_places(document)
    if len(document.text) <= SMALL and seconds > LONGEST_S:
        raise Wrong(f"reading took more than {LONGEST_S} s of processor time")
    return Passed({"read": seconds})


def _read(given: Input) -> Document:
    return read_text(given, NAME) if isinstance(given, bytes) else parse(given, NAME)


def _review(document: Document, rulebook: Rulebook) -> Result:
    return review_root(Path(NAME), rulebook, Overlay({}, {Path(NAME).resolve(): document}))


def _reports(
    result: Result, number: int, whole: bool, before: Result | None
) -> Iterator[tuple[str, Callable[[], Any]]]:
    yield "text", lambda: text.render([result], shown=frozenset(kind.value for kind in Kind) | {"waived"})
    yield "json", lambda: json_report.render([result])
    yield "junit", lambda: junit.render([result])
    if whole or number % 10 == 0:  # these cost more than all else together
        yield "terminal", lambda: terminal.coloured(text.render([result]).splitlines(), io.StringIO())
        yield "sarif", lambda: sarif.render([result])
        yield "html", lambda: html.render([result])
    if whole or number % 10 == 5:
        yield "house", lambda: house.render(result)
        yield "house json", lambda: house.render_json(result)
    yield "questions", lambda: questions.render(result)
    yield "questions json", lambda: questions.render_json(result)
    yield "questions csv", lambda: questions.render_csv(result)
    if before is not None and (whole or number % 5 == 0):
        old, new = revision(before), revision(result)
        yield "compare", lambda: comparison.render(comparison.compare(old, new, before=before.spec, after=result.spec))
        yield "compare json", lambda: comparison.render_json(comparison.compare(new, old, before=None, after=None))
    if before is not None and (whole or number % 40 == 0):
        old = revision(before)
        yield "sarif after an earlier one", lambda: sarif.render([result], (old,))
        yield "json after an earlier one", lambda: json_report.render([result], (old,))
    if result.spec is None:
        return
    yield "budget", lambda: budget.render(result)
    for opening in list(result.spec.openings)[:3]:
        yield f"working {opening}", partial(working.render, result, opening)
        yield f"sequence {opening}", partial(sequence.render, result, opening)
    names = list(DOCUMENTS)
    if not whole:
        names = [names[number % len(names)]]
    for form in ("markdown", "csv"):
        for name in names:
            yield f"document {name} {form}", partial(_document, name, form, result)
    if whole:
        # a spreadsheet holds the time of its making, so that it is made and not compared
        yield "document xlsx", lambda: len(files([build(name, result) for name in names], "xlsx"))


def _document(name: str, form: str, result: Result) -> dict[str, bytes]:
    return files([build(name, result)], form)


def check_places(document: Document) -> None:
    """Every value and key that the tree shows lies in the text."""
    length = len(document.text)
    left = [("", document.tree)]
    seen = 0
    while left and seen < _PLACES:
        pointer, value = left.pop()
        seen += 1
        region = document.region(pointer)
        if not 0 <= region.start <= region.end <= length:
            raise Wrong(f"a value lies outside its text: {region}")
        if isinstance(value, dict):
            for key, child in value.items():
                below = f"{pointer}/{key.replace('~', '~0').replace('/', '~1')}"
                document.region(below, "key")
                left.append((below, child))
        elif isinstance(value, list):
            left.extend((f"{pointer}/{index}", child) for index, child in enumerate(value))
    for problem in document.problems:
        if not 0 <= problem.region.start <= problem.region.end <= length:
            raise Wrong(f"a problem lies outside its text: {problem}")
        document.position(problem.region.start)


def _check_review(document: Document, result: Result) -> None:
    for outcome in result.outcomes:
        if outcome.rule in ("rulebook/rule-broke", "rulebook/package-broke"):
            raise Wrong(f"{outcome.rule}: {outcome.message}")
        result.region(outcome.place)
        for related in outcome.related:
            result.region(related.place)
    if result.spec is None and result.status() == 0:
        raise Wrong("nothing was read, and the status says that all is in order")
    unread = any(problem.code in ("syntax", "encoding", "limit", "alias") for problem in document.problems)
    if unread and result.status() != 2:
        raise Wrong("the text could not be read whole, and the status does not say so")


def check_report(name: str, report: Any, given: str) -> None:
    """Raise Wrong or ValueError where a report on the text `given` holds what none may hold."""
    if isinstance(report, Mapping):
        for one, data in report.items():
            check_report(f"{name} {one}", data.decode("utf-8"), given)
        return
    if not isinstance(report, str):
        return
    report.encode("utf-8")
    if "json" in name or "sarif" in name:
        json.loads(report, parse_constant=_no_constant)
        return
    if name == "junit":
        ET.fromstring(report)
    elif name != "terminal":
        check_printable(name, report)
    lowered = given.lower()
    found = None if "nan" in lowered or "inf" in lowered else _NOT_FINITE.search(report)
    if found is not None and name != "html":  # a page holds a script of its own
        start = max(found.start() - 60, 0)
        raise Wrong(f"{name} holds {found[0]!r}: {report[start : found.end() + 20]!r}")


def _no_constant(word: str) -> None:
    raise Wrong(f"JSON holds {word}")


@cache
def _steering() -> re.Pattern[str]:
    """Characters that steer a terminal or reverse what is read; line ends, tabs and the joiners of scripts are none."""
    found = (chr(code) for code in range(sys.maxunicode + 1)
             if unicodedata.category(chr(code)) in ("Cc", "Cf", "Cs", "Zl", "Zp"))  # fmt: skip
    return re.compile(f"[{re.escape(''.join(char for char in found if char not in _HARMLESS))}]")


def check_printable(name: str, report: str) -> None:
    """Raise Wrong where a report of text holds what steers a terminal."""
    # a CSV file begins with a byte order mark, by which spreadsheets know UTF-8
    odd = _steering().search(report.removeprefix("\ufeff") if "csv" in name else report)
    if odd is not None:
        raise Wrong(f"{name} holds the character U+{ord(odd[0]):04X}")
