"""The report as SARIF 2.1.0 (OASIS Standard with Errata 01), for viewers and for comparing with a later revision.

One run for each spec. Every outcome is a result: a failure has its level, all others have level "none" and the kind
that they are of. The published grounds are taxonomies with the clauses as taxa. Nothing in the file depends on the
time or the machine, so equal reviews give equal bytes.
"""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import PurePath
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from .. import __version__
from ..fingerprint import Fingerprint, fingerprints, owner
from ..format_rules import FORMAT_RULES
from ..outcome import Cited, Kind, Measure, Outcome, Place, Repair
from ..repair import edit
from ..rulebook import Rule
from .earlier import OUTCOME, REQUIREMENT, Record, Revision, Standing, escaped, readable, standing
from .text import CAUTIONS, figure, where

if TYPE_CHECKING:
    from ..document import Document
    from ..reviewing import Result
    from ..spec.model import Waiver

SCHEMA = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json"
LONGEST_SNIPPET = 200
"""A longer stretch of text is not carried along, in code points."""

_BROKE = (
    "document/over-limit",
    "document/syntax",
    "document/unreadable",
    "rulebook/package-broke",
    "rulebook/rule-broke",
)
"""The findings after which a review is not complete; told as notifications too."""
# a namespace of our own, so that a taxonomy keeps its guid from run to run
_NAMESPACE = uuid.UUID("5f7a3f0c-6d0e-5b57-9a57-7a5d3b0a9c11")


def render(results: Sequence[Result], earlier: Sequence[Revision] | None = None) -> str:
    """The report as text, pure ASCII. With `earlier`, each result says how it stands to that revision."""
    return json.dumps(log(results, earlier), ensure_ascii=True, allow_nan=False, indent=1) + "\n"


def log(results: Sequence[Result], earlier: Sequence[Revision] | None = None) -> dict[str, Any]:
    """The report as plain data (dicts, lists, texts, numbers), in a fixed order."""
    alone = len(results) == 1
    runs = [_run(result, standing(result, earlier, alone=alone)) for result in results]
    return {"$schema": SCHEMA, "version": "2.1.0", "runs": runs}


@dataclass(frozen=True, slots=True)
class _Tables:
    """Where in the run's lists something stands."""

    rules: Mapping[str, int]
    artifacts: Mapping[str, int]
    logical: Mapping[str, int]
    taxonomies: Mapping[tuple[str, str], int]
    taxa: Mapping[tuple[str, str, str], int]
    declared: Mapping[str, Rule]


def _run(result: Result, against: Standing | None) -> dict[str, Any]:
    declared = {rule.id: rule for rule in (*FORMAT_RULES.values(), *result.rulebook.rules)}
    rules = [declared[rule_id] for rule_id in sorted(declared)]
    taxonomies, taxon_index = _taxonomies(rules, result.outcomes)
    logical, logical_index = _logical_locations(result)
    tables = _Tables(
        rules={rule.id: index for index, rule in enumerate(rules)},
        artifacts={name: index for index, name in enumerate(result.documents)},
        logical=logical_index,
        taxonomies={key: index for index, key in enumerate(taxonomies)},
        taxa=taxon_index,
        declared=declared,
    )
    components = list(taxonomies.values())
    driver: dict[str, Any] = {
        "name": "doorlint",
        "version": __version__,
        "semanticVersion": __version__,
        "language": "en",
        "rules": [_rule(rule, tables) for rule in rules],
        "notifications": [_descriptor(FORMAT_RULES[rule_id]) for rule_id in _BROKE],
    }
    if components:
        driver["supportedTaxonomies"] = [_component(index, one) for index, one in enumerate(components)]
    marks = fingerprints(result.outcomes)
    results = []
    for index, (outcome, mark) in enumerate(zip(result.outcomes, marks, strict=True)):
        made = _result(result, outcome, mark, tables)
        if against is not None:
            made["baselineState"] = against.states[index]
        results.append(made)
    if against is not None:
        results.extend(_absent(record, tables) for record in against.absent)
    run: dict[str, Any] = {
        "tool": {"driver": driver},
        "automationDetails": {"id": f"doorlint/{readable(PurePath(result.root).as_posix())}/"},
        "language": "en",
        "columnKind": "unicodeCodePoints",
        "newlineSequences": ["\r\n", "\n", "\r"],
        "defaultSourceLanguage": "yaml",
        "invocations": [_invocation(result, tables)],
        "artifacts": [_artifact(name) for name in result.documents],
    }
    if logical:
        run["logicalLocations"] = logical
    if components:
        run["taxonomies"] = components
    run["results"] = results
    run["properties"] = {
        "spec": readable(result.root),
        "complete": not result.broken,
        "off": sorted(result.settings.off),
        "openings": [readable(name) for name in (result.spec.openings if result.spec is not None else ())],
        "counts": {kind.value: sum(1 for o in result.outcomes if o.kind is kind) for kind in Kind},
        "cautions": list(CAUTIONS),
    }
    return run


# --- the rules ---


def _descriptor(rule: Rule) -> dict[str, Any]:
    return {
        "id": rule.id,
        "shortDescription": {"text": escaped(rule.title)},
        "fullDescription": {"text": escaped(_sentence(rule.why or rule.title))},
        "defaultConfiguration": {"level": rule.level.value},
        "help": _help(rule),
    }


def _rule(rule: Rule, tables: _Tables) -> dict[str, Any]:
    data = _descriptor(rule)
    cited = [ground for ground in rule.basis if isinstance(ground, Cited)]
    if cited:
        data["relationships"] = [
            {"target": _taxon_reference(ground, tables), "kinds": ["relevant"], **_confirmed(ground)}
            for ground in _distinct(cited)
        ]
    data["properties"] = {
        "tags": ["life safety"] if rule.life_safety else [],
        "topic": rule.id.partition("/")[0],
        "scope": rule.scope,
        "needs": list(rule.needs),
        "evidence": list(rule.evidence),
        "basis": [str(ground) for ground in rule.basis],
        "lifeSafety": rule.life_safety,
        "since": rule.since,
    }
    return data


def _help(rule: Rule) -> dict[str, Any]:
    """Why, on what ground, what helps, and where the rule is blind; as text and as Markdown."""
    parts = (
        ("Why", [rule.why]),
        ("Ground", [str(ground) for ground in rule.basis]),
        ("Cure", [rule.cure]),
        ("Known limits", [rule.limits]),
    )
    told = [(heading, [line for line in lines if line]) for heading, lines in parts]
    text = [f"{heading}: {'; '.join(lines)}" for heading, lines in told if lines]
    marked = [f"**{heading}**\n\n" + "\n".join(f"- {_md(line)}" for line in lines) for heading, lines in told if lines]
    return {
        "text": escaped("\n".join((rule.title, *text))),
        "markdown": escaped("\n\n".join((_md(rule.title), *marked))),
    }


def _md(text: str) -> str:
    """Text as Markdown that shows it unchanged."""
    return re.sub(r"([\\`*_\[\]<>#|~])", r"\\\1", text)


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _confirmed(ground: Cited) -> dict[str, Any]:
    return {"properties": {"fromMemory": True}} if ground.from_memory else {}


# --- the published grounds ---


def _document(ground: Cited) -> tuple[str, str]:
    return ground.document, ground.edition


def _clause(ground: Cited) -> str:
    return readable(ground.clause or ground.title or ground.document)


def _distinct(grounds: Iterable[Cited]) -> Iterator[Cited]:
    seen = set()
    for ground in grounds:
        key = (*_document(ground), _clause(ground))
        if key not in seen:
            seen.add(key)
            yield ground


def _taxonomies(
    rules: Sequence[Rule], outcomes: Sequence[Outcome]
) -> tuple[dict[tuple[str, str], dict[str, Any]], dict[tuple[str, str, str], int]]:
    """Each document in its edition as a taxonomy with its clauses as taxa, by name; and where each clause stands."""
    clauses: dict[tuple[str, str], dict[str, str]] = {}
    for basis in (*(rule.basis for rule in rules), *(outcome.basis for outcome in outcomes)):
        for ground in basis:
            if isinstance(ground, Cited):
                titles = clauses.setdefault(_document(ground), {})
                titles[_clause(ground)] = titles.get(_clause(ground)) or ground.title
    made = {}
    index = {}
    for key in sorted(clauses):
        document, edition = key
        taxa = []
        for position, clause in enumerate(sorted(clauses[key])):
            title = clauses[key][clause]
            index[(*key, clause)] = position
            taxa.append({"id": clause, "shortDescription": {"text": escaped(title or clause)}})
        made[key] = {
            "name": readable(f"{document} {edition}".strip()),
            "guid": str(uuid.uuid5(_NAMESPACE, f"{readable(document)}\n{readable(edition)}")),
            "shortDescription": {"text": escaped(f"{document} ({edition})" if edition else document)},
            **({"version": readable(edition)} if edition else {}),
            "language": "en",
            "contents": ["localizedData", "nonLocalizedData"],
            "isComprehensive": False,
            "taxa": taxa,
        }
    return made, index


def _component(index: int, component: Mapping[str, Any]) -> dict[str, Any]:
    return {"name": component["name"], "index": index, "guid": component["guid"]}


def _taxon_reference(ground: Cited, tables: _Tables) -> dict[str, Any]:
    key = _document(ground)
    clause = _clause(ground)
    document, edition = key
    return {
        "id": clause,
        "index": tables.taxa[(*key, clause)],
        "toolComponent": {
            "name": readable(f"{document} {edition}".strip()),
            "index": tables.taxonomies[key],
            "guid": str(uuid.uuid5(_NAMESPACE, f"{readable(document)}\n{readable(edition)}")),
        },
    }


# --- one outcome ---


def _result(result: Result, outcome: Outcome, mark: Fingerprint, tables: _Tables) -> dict[str, Any]:
    failed = outcome.kind is Kind.FAIL
    data: dict[str, Any] = {
        "ruleId": outcome.rule,
        **_index("ruleIndex", tables.rules.get(outcome.rule)),
        "kind": outcome.kind.value,
        "level": outcome.level.value if failed else "none",
        "message": {"text": escaped(outcome.message)},
        "locations": [_location(result, outcome.place, tables, outcome.subject)],
    }
    if outcome.related:
        data["relatedLocations"] = [
            {"id": number, **_location(result, one.place, tables), "message": {"text": escaped(one.caption)}}
            for number, one in enumerate(outcome.related, 1)
        ]
    data["partialFingerprints"] = {REQUIREMENT: mark.requirement, OUTCOME: mark.outcome}
    # one result with the list makes it expected of every other: an empty list says "not suppressed"
    data["suppressions"] = [_suppression(result, outcome, tables)] if outcome.waived else []
    cited = list(_distinct(ground for ground in outcome.basis if isinstance(ground, Cited)))
    if cited and not _ground_of_rule(outcome, tables):
        data["taxa"] = [_taxon_reference(ground, tables) for ground in cited]
    careful = _touches_life_safety(outcome, tables)
    fixes = [_fix(result, repair, tables) for repair in _applicable(outcome, careful)]
    if fixes:
        data["fixes"] = fixes
    data["properties"] = _properties(result, outcome, careful)
    if outcome.basis and not _ground_of_rule(outcome, tables):
        data["properties"]["basis"] = [readable(str(ground)) for ground in outcome.basis]
    return data


def _ground_of_rule(outcome: Outcome, tables: _Tables) -> bool:
    """Whether the outcome stands on its rule's own grounds, which need not be said again with each result."""
    rule = tables.declared.get(outcome.rule)
    return rule is not None and rule.basis == outcome.basis


def _index(name: str, index: int | None) -> dict[str, int]:
    return {} if index is None else {name: index}


def _properties(result: Result, outcome: Outcome, careful: bool) -> dict[str, Any]:
    opening = owner(outcome.subject, result.spec.openings if result.spec is not None else ())
    data: dict[str, Any] = {
        "subject": readable(outcome.subject),
        "opening": readable(opening),
        "failureLevel": outcome.level.value,
        "file": readable(outcome.place.file),
        "pointer": readable(outcome.place.pointer),
    }
    for name, text in (("what", outcome.what), ("relation", outcome.relation)):
        if text:
            data[name] = readable(text)
    measures = {"measured": outcome.measured, "limit": outcome.limit, "margin": outcome.margin}
    for name, measure in measures.items():
        if isinstance(measure, Measure):
            data[name] = readable(figure(measure))
    if outcome.missing:
        data["missing"] = [readable(name) for name in outcome.missing]
    shown = [repair for repair in outcome.repairs if repair.verified and (careful or repair.life_safety)]
    if shown:
        data["lifeSafetyCures"] = [_shown(repair) for repair in shown]
    return data


def _touches_life_safety(outcome: Outcome, tables: _Tables) -> bool:
    rule = tables.declared.get(outcome.rule)
    return rule is not None and rule.life_safety


def _applicable(outcome: Outcome, careful: bool) -> list[Repair]:
    """The repairs that a tool may apply: verified, and nothing to do with life safety."""
    if careful or outcome.waived:
        return []
    return [repair for repair in outcome.repairs if repair.verified and not repair.life_safety]


def _shown(repair: Repair) -> str:
    changes = "; ".join(
        f"{change.place}: {change.key}: {change.text}" if change.key else f"{change.place}: {change.text}"
        for change in repair.changes
    )
    return readable(f"{repair.title} (touches life safety: decide with the authority). {changes}".strip())


def _fix(result: Result, repair: Repair, tables: _Tables) -> dict[str, Any]:
    by_file: dict[str, list[tuple[int, int, str]]] = {}
    for change in repair.changes:
        by_file.setdefault(change.place.file, []).append(edit(result, change))
    return {
        "description": {"text": escaped(repair.title)},
        "artifactChanges": [
            {
                "artifactLocation": _artifact_location(name, tables),
                "replacements": [
                    {
                        "deletedRegion": _region(result.documents[name], start, end, snippet=False),
                        "insertedContent": {"text": _whole(text)},
                    }
                    for start, end, text in sorted(edits)
                ],
            }
            for name, edits in by_file.items()
        ],
    }


def _whole(text: str) -> str:
    """Text of a file, where only what is no Unicode may be changed."""
    return text.encode("utf-8", "replace").decode("utf-8")


def _suppression(result: Result, outcome: Outcome, tables: _Tables) -> dict[str, Any]:
    data: dict[str, Any] = {"kind": "external", "status": "accepted", "justification": readable(outcome.waived)}
    for waiver in result.spec.waivers if result.spec is not None else ():
        if str(waiver.reason) == outcome.waived and _aimed_at(waiver, outcome):
            data["location"] = _location(result, waiver.place, tables)
            given = {"approvedBy": waiver.approved_by, "until": waiver.until}
            known = {name: readable(text) for name, text in given.items() if isinstance(text, str)}
            if known:
                data["properties"] = known
            break
    return data


def _aimed_at(waiver: Waiver, outcome: Outcome) -> bool:
    if waiver.rule != outcome.rule or not isinstance(waiver.opening, str):
        return False
    subject = f"{waiver.opening}/{waiver.item}" if isinstance(waiver.item, str) else waiver.opening
    return outcome.subject == subject or outcome.subject.startswith((f"{subject}/", f"{subject}."))


def _absent(record: Record, tables: _Tables) -> dict[str, Any]:
    """An earlier result that is gone: in SARIF 2.1.0, 3.27.24, it is kept with the state `absent`."""
    failed = record.kind is Kind.FAIL
    data: dict[str, Any] = {
        "ruleId": record.rule,
        **_index("ruleIndex", tables.rules.get(record.rule)),
        "kind": record.kind.value,
        "level": record.level.value if failed else "none",
        "message": {"text": escaped(record.message)},
        "partialFingerprints": {REQUIREMENT: record.requirement, OUTCOME: record.fingerprint},
        "suppressions": [],
        "baselineState": "absent",
        "properties": {
            "subject": readable(record.subject),
            "opening": readable(record.opening),
            "failureLevel": record.level.value,
            "file": readable(record.file),
        },
    }
    if record.file:
        physical: dict[str, Any] = {"artifactLocation": {"uri": _uri(record.file)}}
        if record.line and record.column:
            physical["region"] = {"startLine": record.line, "startColumn": record.column}
        data["locations"] = [{"physicalLocation": physical}]
    return data


# --- places ---


def _uri(name: str) -> str:
    """A file's name as a URI reference: relative as given, so that no report tells of a machine's folders."""
    path = PurePath(name).as_posix()
    scheme = "file://" if path.startswith("/") else ""
    return scheme + quote(path.encode("utf-8", "replace"), safe="/")


def _artifact(name: str) -> dict[str, Any]:
    return {"location": {"uri": _uri(name)}, "roles": ["analysisTarget"], "encoding": "utf-8", "sourceLanguage": "yaml"}


def _artifact_location(name: str, tables: _Tables) -> dict[str, Any]:
    return {"uri": _uri(name), **_index("index", tables.artifacts.get(name))}


def _location(result: Result, place: Place, tables: _Tables, subject: str = "") -> dict[str, Any]:
    physical: dict[str, Any] = {"artifactLocation": _artifact_location(place.file, tables)}
    found = where(result, place)
    if found is not None:
        physical["region"] = _region(found.document, found.start, found.end, snippet=True)
    location: dict[str, Any] = {"physicalLocation": physical}
    if subject in tables.logical:
        location["logicalLocations"] = [{"fullyQualifiedName": readable(subject), "index": tables.logical[subject]}]
    return location


def _region(document: Document, start: int, end: int, *, snippet: bool) -> dict[str, Any]:
    line, column = document.position(start)
    end_line, end_column = document.position(end)
    data: dict[str, Any] = {
        "startLine": line,
        "startColumn": column,
        "endLine": end_line,
        "endColumn": end_column,
        "charOffset": start,
        "charLength": end - start,
    }
    if snippet and 0 < end - start <= LONGEST_SNIPPET:
        data["snippet"] = {"text": _whole(document.text[start:end])}
    return data


def _logical_locations(result: Result) -> tuple[list[dict[str, Any]], dict[str, int]]:
    """The openings and items (and whatever else is judged) as a tree: an item's parent is its opening."""
    openings: Mapping[str, Any] = result.spec.openings if result.spec is not None else {}
    power = result.spec.power if result.spec is not None else {}
    listed: list[dict[str, Any]] = []
    index: dict[str, int] = {}

    def add(name: str, shown: str, kind: str, parent: int | None) -> int:
        if name not in index:
            index[name] = len(listed)
            above = {} if parent is None else {"parentIndex": parent}
            listed.append(
                {"name": readable(shown), "fullyQualifiedName": readable(name), "kind": kind, **above}
            )
        return index[name]

    for subject in sorted({outcome.subject for outcome in result.outcomes if outcome.subject}):
        opening = owner(subject, openings)
        if not opening:
            kind = "document" if subject in result.documents else "power source" if subject in power else "subject"
            add(subject, subject, kind, None)
            continue
        parent = add(opening, opening, "opening", None)
        rest = subject[len(opening) + 1 :]
        if rest:
            items = openings[opening].items
            item = next((name for name in sorted(items, key=len, reverse=True) if _begins(rest, name)), "")
            if item:
                parent = add(f"{opening}/{item}", item, "item", parent)
            add(subject, rest, "item" if rest == item else "terminal", parent)
    return listed, index


def _begins(rest: str, item: str) -> bool:
    return rest == item or rest.startswith((f"{item}.", f"{item}:", f"{item}/"))


# --- how the review itself went ---


def _invocation(result: Result, tables: _Tables) -> dict[str, Any]:
    told: list[dict[str, Any]] = []
    configuration: list[dict[str, Any]] = []
    for outcome in result.outcomes:
        if outcome.rule in _BROKE:
            into = configuration if outcome.rule == "rulebook/package-broke" else told
            into.append(_notification(result, outcome, tables))
    if result.broken and not told and not configuration:
        text = "The review is incomplete: input could not be read or a rule broke."
        told.append({"level": "error", "message": {"text": text}})
    data: dict[str, Any] = {"executionSuccessful": not result.broken}
    overrides = _overrides(result, tables)
    if overrides:
        data["ruleConfigurationOverrides"] = overrides
    if told:
        data["toolExecutionNotifications"] = told
    if configuration:
        data["toolConfigurationNotifications"] = configuration
    return data


def _overrides(result: Result, tables: _Tables) -> list[dict[str, Any]]:
    """What house standards change of the rules: their level, or that they are off, with the reason given."""
    made = []
    for rule_id, stand in sorted(result.settings.rules.items()):
        if rule_id in tables.rules:
            configuration: dict[str, Any] = {"level": stand.level.value}
            if stand.off:
                configuration = {"enabled": False, "properties": {"reason": readable(stand.reason)}}
            descriptor = {"id": rule_id, "index": tables.rules[rule_id]}
            made.append({"descriptor": descriptor, "configuration": configuration})
    return made


def _notification(result: Result, outcome: Outcome, tables: _Tables) -> dict[str, Any]:
    data: dict[str, Any] = {
        "descriptor": {"id": outcome.rule, "index": _BROKE.index(outcome.rule)},
        "level": "error",
        "message": {"text": escaped(outcome.message)},
        "locations": [_location(result, outcome.place, tables)],
    }
    # the finding that a rule broke has that rule as its subject
    if outcome.rule == "rulebook/rule-broke" and outcome.subject in tables.rules:
        data["associatedRule"] = {"id": outcome.subject, "index": tables.rules[outcome.subject]}
    return data
