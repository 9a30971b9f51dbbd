"""What the HTML report shows, as plain frozen data; the templates only lay it out.

Everything here is text as the spec or a rule gives it; the templates escape it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from .diagram import Diagram

KINDS = ("fail", "waived", "open", "review", "pass", "notApplicable")
"""The kinds of outcome in the order of the report; a waived failure stands beside the five of SARIF 2.1.0."""
KIND_WORDS = {
    "fail": "fail",
    "waived": "waived",
    "open": "open",
    "review": "review",
    "pass": "pass",
    "notApplicable": "not applicable",
}
KIND_MEANS = {
    "fail": "the requirement is not met",
    "waived": "the requirement is not met, and somebody accepts it by a waiver with a reason",
    "open": "data are missing, so nothing is decided; never to be read as a pass",
    "review": "the authority having jurisdiction decides",
    "pass": "the requirement is met with the data given",
    "notApplicable": "the requirement does not concern the subject",
}
TOLD = ("fail", "waived", "open", "review")
"""The kinds that are told one by one: all that is no pass."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a report holds at most, so that it can still be opened: openings with a sheet of their own, findings in
    the register, rows of margins, names in one row. Each cut is told in the report."""

    sheets: int = 100
    findings: int = 3000
    margins: int = 1500
    names: int = 60


@dataclass(frozen=True, slots=True)
class Excerpt:
    """A source line around a place: where it stands, and the line as before, marked and after. `goes_on` tells of
    further lines that the place covers."""

    at: str
    line: int
    before: str
    marked: str
    after: str
    goes_on: str


@dataclass(frozen=True, slots=True)
class Finding:
    """An outcome that is no pass, in full."""

    number: int
    token: str
    word: str
    level: str
    subject: str
    message: str
    rule: str
    title: str
    excerpt: Excerpt | None
    related: tuple[tuple[str, Excerpt | None], ...]
    figures: str
    missing: tuple[str, ...]
    cures: tuple[tuple[str, bool], ...]
    basis: tuple[str, ...]
    waived: str


@dataclass(frozen=True, slots=True)
class Entry:
    """A row of the register: outcomes that say the same at the same place. `tokens` are for the filter."""

    number: int
    tokens: str
    word: str
    level: str
    subjects: tuple[str, ...]
    others: int
    message: str
    rule: str
    at: str
    anchor: str
    rank: int


@dataclass(frozen=True, slots=True)
class Line:
    """One step of a calculation. `terms`: (name, text, where it was read). `seen`: the number of the calculation of
    the same sheet that holds the same step."""

    name: str
    formula: str
    terms: tuple[tuple[str, str, str], ...]
    ground: str
    result: str
    seen: str


@dataclass(frozen=True, slots=True)
class Calculation:
    """One requirement with its steps. `basis_in`: the number of the first calculation of the sheet that rests on the
    same ground; only that one states it."""

    number: str
    subject: str
    title: str
    rule: str
    lines: tuple[Line, ...]
    figures: str
    word: str
    message: str
    basis: tuple[str, ...]
    basis_in: str


@dataclass(frozen=True, slots=True)
class EventRow:
    """A row of the event matrix; an empty cell is open and `waits` names the fields that it waits for."""

    title: str
    cells: tuple[str, ...]
    alarms: tuple[str, ...]
    relock: str
    because: tuple[str, ...]
    waits: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """All about one opening (or, with an empty name, about what belongs to no opening)."""

    anchor: str
    name: str
    heading: str
    facts: tuple[tuple[str, str], ...]
    counts: Mapping[str, int]
    diagram: Diagram | None
    events: tuple[EventRow, ...]
    findings: tuple[Finding, ...]
    calculations: tuple[Calculation, ...]
    met: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Scheduled:
    """A row of the schedule of openings. `anchor` is empty where the opening has no sheet."""

    mark: str
    anchor: str
    title: str
    hardware_set: str
    fire_rating: str
    counts: Mapping[str, int]
    worst: str
    rank: int
    tokens: str
    thinnest: str
    thinnest_value: float | None


@dataclass(frozen=True, slots=True)
class Margin:
    """A numeric outcome. `share` is the margin relative to the limit, None where that has no meaning."""

    subject: str
    what: str
    measured: str
    limit: str
    margin: str
    share: float | None
    share_text: str
    word: str
    rule: str
    tokens: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A question: to whom, in words, what it would decide, what waits for it and where the answer is to stand."""

    party: str
    text: str
    meaning: str
    example: str
    decides: tuple[str, ...]
    subjects: tuple[str, ...]
    others: int
    at: str


@dataclass(frozen=True, slots=True)
class Counted:
    """A rule with its five counts and what it rests on."""

    rule: str
    title: str
    level: str
    counts: Mapping[str, int]
    basis: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Waived:
    """A waiver as the spec states it."""

    rule: str
    subject: str
    reason: str
    approved_by: str
    until: str


@dataclass(frozen=True, slots=True)
class SpecView:
    """The report on one spec. `told_openings` are those with a sheet, of `all_openings`."""

    prefix: str
    name: str
    facts: tuple[tuple[str, str], ...]
    complete: bool
    counts: Mapping[str, int]
    levels: Mapping[str, int]
    schedule: tuple[Scheduled, ...]
    sheets: tuple[Sheet, ...]
    beyond: Sheet | None
    entries: tuple[Entry, ...]
    entries_left: int
    margins: tuple[Margin, ...]
    margins_left: int
    questions: tuple[Asked, ...]
    rules: tuple[Counted, ...]
    waivers: tuple[Waived, ...]
    only_findings: bool
    sheets_left: int
