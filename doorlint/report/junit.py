"""The report as JUnit XML, as the viewers of build servers read it: one suite for each opening, so that a viewer's list
says at once which doors do not pass; one case for each requirement judged.

The format has no published standard; this is the common core that its readers share (common practice, no source):
`failure` for a finding, `skipped` for what is open, for review, waived or below the failing level, `error` where the
review itself broke. What does not apply is no case; the suite's properties count it.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

from ..fingerprint import Fingerprint, fingerprints, owner
from ..outcome import Kind, Level, Outcome
from .text import CAUTIONS, figure, plain, where

if TYPE_CHECKING:
    from ..reviewing import Result

_ERRORS = ("document/", "rulebook/")
# what plain() leaves alone and XML 1.0 does not allow (production 2, Char)
_NO_XML = re.compile("[\ufffe\uffff]")


def render(results: Sequence[Result], failing: Level = Level.WARNING) -> str:
    """The report as XML text. A failure below the level `failing` is a skipped case: it does not fail the build."""
    root = ET.Element("testsuites", name="doorlint")
    for result in results:
        _suites(root, result, failing, f"{result.root}: " if len(results) > 1 else "")
    total: Counter[str] = Counter()
    for suite in root:
        total.update({name: int(suite.get(name, "0")) for name in ("tests", "failures", "errors", "skipped")})
    for name in ("tests", "failures", "errors", "skipped"):
        root.set(name, str(total[name]))
    ET.indent(root, " ")
    body = ET.tostring(root, encoding="unicode", xml_declaration=False)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'


def _suites(root: ET.Element, result: Result, failing: Level, prefix: str) -> None:
    openings = result.spec.openings if result.spec is not None else {}
    careful = frozenset(rule.id for rule in result.rulebook.rules if rule.life_safety)
    by_unit: dict[str, list[tuple[Outcome, Fingerprint]]] = {f"opening {name}": [] for name in openings}
    for outcome, mark in zip(result.outcomes, fingerprints(result.outcomes), strict=True):
        opening = owner(outcome.subject, openings)
        by_unit.setdefault(f"opening {opening}" if opening else "spec", []).append((outcome, mark))
    if result.broken and not any(_broke(outcome) for outcome in result.outcomes):
        by_unit.setdefault("spec", [])
    for unit, judged in by_unit.items():
        suite = ET.SubElement(root, "testsuite", name=xml_safe(f"{prefix}{unit}"))
        _properties(suite, [outcome for outcome, _ in judged], sorted(result.settings.off))
        for outcome, mark in judged:
            if outcome.kind is not Kind.NOT_APPLICABLE:
                _case(suite, result, outcome, mark, failing, unit, outcome.rule in careful)
        if unit == "spec" and result.broken and not any(_broke(outcome) for outcome in result.outcomes):
            case = ET.SubElement(suite, "testcase", name="review complete", classname="spec")
            text = "The review is incomplete: input could not be read or a rule broke."
            ET.SubElement(case, "error", message=text, type="incomplete")
        for tag, name in (("failure", "failures"), ("error", "errors"), ("skipped", "skipped")):
            suite.set(name, str(len(suite.findall(f"testcase/{tag}"))))
        suite.set("tests", str(len(suite.findall("testcase"))))


def _properties(suite: ET.Element, outcomes: Sequence[Outcome], off: Sequence[str]) -> None:
    counts = Counter(outcome.kind for outcome in outcomes)
    listed = ET.SubElement(suite, "properties")
    for kind in Kind:
        ET.SubElement(listed, "property", name=f"outcomes {kind.value}", value=str(counts[kind]))
    if off:
        ET.SubElement(listed, "property", name="rules off by house standards", value=" ".join(off))
    ET.SubElement(listed, "property", name="cautions", value=" ".join(CAUTIONS))


def _broke(outcome: Outcome) -> bool:
    return outcome.kind is Kind.FAIL and outcome.level is Level.ERROR and outcome.rule.startswith(_ERRORS)


def _case(
    suite: ET.Element,
    result: Result,
    outcome: Outcome,
    mark: Fingerprint,
    failing: Level,
    unit: str,
    careful: bool,
) -> None:
    # A viewer follows a case from run to run by its name, so the name holds what does not move.
    name = " ".join(part for part in (outcome.rule, outcome.subject, outcome.what, outcome.relation) if part)
    name += f" {mark.ordinal}" if mark.ordinal > 1 else ""
    found = where(result, outcome.place)
    case = ET.SubElement(suite, "testcase", name=xml_safe(name), classname=xml_safe(unit))
    case.set("file", xml_safe(outcome.place.file))
    if found is not None:
        case.set("line", str(found.line))
    message = xml_safe(outcome.message)
    if outcome.kind is Kind.PASS:
        return
    if outcome.kind is not Kind.FAIL:
        ET.SubElement(case, "skipped", message=f"{outcome.kind.value}: {message}")
    elif outcome.waived:
        ET.SubElement(case, "skipped", message=f"waived: {xml_safe(outcome.waived)}; {message}")
    elif _broke(outcome):
        ET.SubElement(case, "error", message=message, type=outcome.rule).text = _details(result, outcome, careful)
    elif outcome.level.rank < failing.rank:
        ET.SubElement(case, "skipped", message=f"{outcome.level.value}, below the failing level: {message}")
    else:
        ET.SubElement(case, "failure", message=message, type=outcome.level.value).text = _details(
            result, outcome, careful
        )


def _details(result: Result, outcome: Outcome, careful: bool) -> str:
    """The finding as lines: where, what, the figures, related places, the ground and the cures.

    careful: its rule touches life safety, so every cure does.
    """
    found = where(result, outcome.place)
    position = f"{found.line}:{found.column}" if found else "1:1"
    lines = [f"{outcome.place.file}:{position}: {outcome.level.value}: {outcome.message} [{outcome.rule}]"]
    if outcome.measured is not None and outcome.limit is not None:
        allowed = f"allowed {outcome.relation} {figure(outcome.limit)}"
        lines.append(f"{outcome.what or 'measured'} {figure(outcome.measured)}; {allowed}")
    for related in outcome.related:
        beside = where(result, related.place)
        lines.append(f"{related.place.file}:{f'{beside.line}:{beside.column}' if beside else '1:1'}: {related.caption}")
    lines.extend(f"ground: {ground}" for ground in outcome.basis)
    for repair in outcome.repairs:
        if repair.verified:
            care = " (touches life safety: decide with the authority)" if careful or repair.life_safety else ""
            lines.append(f"cure: {repair.title}{care}")
    return "\n" + "\n".join(xml_safe(line) for line in lines) + "\n"


def xml_safe(text: str) -> str:
    """`text` with what XML 1.0 does not allow, or what would steer a terminal, written as its code point."""
    return _NO_XML.sub(lambda match: f"<U+{ord(match[0]):04X}>", plain(text))
