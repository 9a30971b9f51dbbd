"""The rule book as Markdown: one section for each rule, made from its declaration, its cases and the value files.

It is written to `rules/README.md` by `doorlint rulebook --output rules/README.md`. The same rules give the same
text, byte for byte: a test makes it again and compares.
"""

from __future__ import annotations

import ast
import inspect
import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from difflib import unified_diff
from types import FunctionType, ModuleType
from typing import Any

from ..codes.values import Document, ValueFile, amendment_files, document_of, documents, names, told_by, value_file
from ..format_rules import FORMAT_RULES
from ..model_rules import MODEL_RULES
from ..outcome import Basis, Cited, Kind
from ..rulebook import Parameter, Rule, Rulebook, RuleModule
from .pages import cases_of, judged, spec_lines
from .text import CAUTIONS

TITLE = "Rule book"
_ASKS = ("judged", "clauses", "section")
"""Functions whose text argument names a section of the codes."""


def render(book: Rulebook) -> str:
    """The rule book of these rules and of the findings made while reading."""
    ordered = replace(book, modules=tuple(sorted(book.modules, key=lambda module: module.RULE.id)))
    return "\n".join(_squeezed(_lines(ordered))) + "\n"


def _squeezed(lines: Iterator[str]) -> Iterator[str]:
    """No two empty lines in a row outside of examples, and none at the end of a line."""
    before, fenced = "", False
    for line in lines:
        fenced ^= line.startswith("```")
        if line or before or fenced:
            yield line
        before = line


def _lines(book: Rulebook) -> Iterator[str]:
    topics = _topics(book.modules)
    yield f"# {TITLE}"
    yield ""
    yield "This file is generated from the rules beside it: `doorlint rulebook --output rules/README.md`."
    yield ""
    for caution in CAUTIONS:
        yield f"> {caution}"
    yield ""
    yield (
        f"{len(book.rules)} rules in {len(topics)} topics, {len(FORMAT_RULES)} findings made while reading, and "
        f"{len(MODEL_RULES)} of the comparison with a building model. Texts of codes and standards are paraphrased; "
        "the adopted text decides. What is marked *from memory* has not been checked against the published text. Rules "
        "that touch life safety say so; no house standard softens them."
    )
    yield ""
    yield from _index(topics)
    for topic, modules in topics.items():
        yield f"## {_words(topic)}"
        yield ""
        for module in modules:
            yield from _rule(module)
    yield from _reading()
    yield from _models()
    yield from _parameters(book)
    yield from _unasked(book)
    yield from _bibliography(book)
    yield from _memory(book)


def _topics(modules: Sequence[RuleModule]) -> Mapping[str, list[RuleModule]]:
    """The rule modules by the first part of their ids."""
    found: dict[str, list[RuleModule]] = {}
    for module in modules:
        found.setdefault(module.RULE.id.partition("/")[0], []).append(module)
    return found


def _words(topic: str) -> str:
    special = {"poe": "Power over Ethernet (PoE)"}
    return special.get(topic, topic.replace("-", " ").capitalize())


def slug(heading: str) -> str:
    """The anchor that a heading of Markdown gets: small letters, hyphens, nothing else."""
    return re.sub(r"[^a-z0-9 -]", "", heading.lower()).replace(" ", "-")


def _link(heading: str, text: str = "") -> str:
    return f"[{text or heading}](#{slug(heading)})"


# --- index ---


def _index(topics: Mapping[str, list[RuleModule]]) -> Iterator[str]:
    yield "## Index"
    yield ""
    for topic, modules in topics.items():
        yield f"### {_words(topic)}: {len(modules)} {'rule' if len(modules) == 1 else 'rules'}"
        yield ""
        yield "| rule | level | what is found |"
        yield "| --- | --- | --- |"
        for module in modules:
            rule = module.RULE
            care = ", life safety" if rule.life_safety else ""
            yield f"| {_link(rule.id)} | {rule.level.value}{care} | {_cell(rule.title)} |"
        yield ""
    yield (
        f"Then: {_link('Findings made while reading')}, {_link('Parameters')}, "
        f"{_link('Figures that no rule asks for')}, {_link('Bibliography')}, "
        f"{_link('From memory')}."
    )
    yield ""


def _cell(text: str) -> str:
    return text.replace("|", "\\|").replace("\n", " ")


# --- one rule ---


def _rule(module: RuleModule) -> Iterator[str]:
    rule = module.RULE
    yield f"### {rule.id}"
    yield ""
    yield f"**{rule.title}.**"
    yield ""
    care = "; touches life safety" if rule.life_safety else ""
    yield f"- Level: {rule.level.value}{care}; since {rule.since}"
    yield f"- Judges: each {judged(rule)}" + (f", only {rule.scope}" if rule.scope else "")
    if rule.needs:
        yield f"- Needs: {', '.join(f'`{path}`' for path in rule.needs)}; where one is missing, the outcome is open"
    if rule.evidence:
        yield f"- A finding states: {', '.join(rule.evidence)}"
    yield ""
    if rule.why:
        yield f"**Why.** {rule.why}"
        yield ""
    yield "**Basis.**"
    yield ""
    yield from (f"- {basis}" for basis in rule.basis)
    yield ""
    yield from _by_edition(module)
    yield from _examples(module)
    if rule.cure:
        yield f"**How to cure it.** {rule.cure}"
        yield ""
    if rule.limits:
        yield f"**Known limits.** {rule.limits}"
        yield ""
    if rule.parameters:
        yield "**Parameters.** A house standard may set:"
        yield ""
        yield from (_parameter(parameter) for parameter in rule.parameters)
        yield ""


def _parameter(parameter: Parameter) -> str:
    usual = parameter.show(parameter.default)
    return f"- `{parameter.name}`: the {parameter.title}. Default {usual}; {_stricter(parameter)}."


def _stricter(parameter: Parameter) -> str:
    word = "a code that covers more" if parameter.dimension == "ingress" else parameter.stricter
    return f"{word} is stricter"


def _examples(module: RuleModule) -> Iterator[str]:
    """The shortest case that fails, whole, and the passing one nearest to it, as what differs where that is less."""
    rule_id = module.RULE.id
    cases = cases_of(module, rule_id)
    wrong: list[str] = []
    failing = [case for case in cases if case.kind is Kind.FAIL]
    found = min(failing, key=lambda case: len(case.text), default=None)
    if found is not None:
        wrong = list(spec_lines(found, rule_id))
        yield from _example("A case that is found", found.name, "yaml", wrong)
    good = [(case.name, *_shown(wrong, list(spec_lines(case, rule_id)))) for case in cases if case.kind is Kind.PASS]
    if good:
        name, language, lines = min(good, key=lambda one: sum(map(len, one[2])))
        heading = "In order, where it differs" if language == "diff" else "A case that is in order"
        yield from _example(heading, name, language, lines)


def _shown(wrong: list[str], right: list[str]) -> tuple[str, list[str]]:
    """The language and the lines in which a passing case is shown."""
    changed = ["..." if line.startswith("@@") else line for line in unified_diff(wrong, right, n=0, lineterm="")][3:]
    shorter = bool(wrong) and sum(map(len, changed)) < sum(map(len, right))
    return ("diff", changed) if shorter else ("yaml", right)


def _example(heading: str, name: str, language: str, lines: Sequence[str]) -> Iterator[str]:
    yield f"**{heading}:** {name}."
    yield ""
    yield f"```{language}"
    yield from lines
    yield "```"
    yield ""


# --- what the codes ask ---


def _by_edition(module: RuleModule) -> Iterator[str]:
    asked = asked_values(module)
    if not asked:
        return
    yield "**By edition**, what it asks the adopted codes for:"
    yield ""
    for name in asked:
        file = value_file(name)
        yield f"- {file.title} (`{name}`)"
        yield from (f"  - {line}" for line in _series(file))
    yield ""


def asked_values(module: object) -> tuple[str, ...]:
    """The values of `rules/values/` that a rule's module names, in the order of their names.

    Read from its source and from that of the functions it takes from other modules of its package: a text that is the
    name of a value, a name put together as f"topic/{...}" from a text of the module, and the section that a list of
    requirements rests on.
    """
    if not isinstance(module, ModuleType):
        return ()
    known = set(names())
    found = set()
    for tree in _sources(module):
        constants = (node.value for node in ast.walk(tree) if isinstance(node, ast.Constant))
        texts = {value for value in constants if isinstance(value, str)}
        found |= texts & known
        for node in ast.walk(tree):
            if isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant):
                prefix = str(node.values[0].value)
                found |= {prefix + text for text in texts} & known
            if isinstance(node, ast.Call) and _called(node) in _ASKS:
                told = [one.value for one in node.args if isinstance(one, ast.Constant) and isinstance(one.value, str)]
                found |= {f"sections/{text}" for text in told} & known
    return tuple(sorted(found))


def _sources(module: ModuleType) -> Iterator[ast.AST]:
    """The syntax tree of a rule's module, and of each function of its package that it leads to."""
    tree = ast.parse(inspect.getsource(module))
    yield tree
    package = module.__name__.rpartition(".")[0].rpartition(".")[0]
    waiting = [(tree, vars(module))]
    seen: set[FunctionType] = set()
    while waiting:
        here, known = waiting.pop()
        for node in ast.walk(here):
            used = known.get(node.id) if isinstance(node, ast.Name) else None
            if not isinstance(used, FunctionType) or used in seen or used.__module__ == module.__name__:
                continue
            if package and used.__module__.startswith(f"{package}."):
                seen.add(used)
                tree = ast.parse(textwrap.dedent(inspect.getsource(used)))
                yield tree
                waiting.append((tree, used.__globals__))


def _called(node: ast.Call) -> str:
    """The last name of the function called, empty for what is no name."""
    function = node.func
    if isinstance(function, ast.Attribute):
        return function.attr
    return function.id if isinstance(function, ast.Name) else ""


def _series(file: ValueFile) -> Iterator[str]:
    """One line for the editions of one document that ask the same, each with its clause; then the editions of which
    the figure is not known; then local amendments."""
    groups: dict[tuple[str, str], dict[str, list[str]]] = {}
    for edition, entry in file.series.items():
        clauses = groups.setdefault((_short(document_of(edition, file.name)), _told(file, entry)), {})
        clauses.setdefault(_clause(entry), []).append(_year(edition))
    for (document, told), clauses in groups.items():
        listed = ", ".join(", ".join(years) + clause for clause, years in clauses.items())
        yield f"{document} {listed}: {told}"
    gaps: dict[tuple[str, str], list[str]] = {}
    for edition, reason in file.gaps.items():
        gaps.setdefault((_short(document_of(edition, file.name)), reason), []).append(_year(edition))
    for (document, reason), years in gaps.items():
        yield f"{document} {', '.join(sorted(years))}: not known ({reason.rstrip('.')})"
    for amendment in amendment_files().values():
        for change in amendment["changes"]:
            if change["name"] == file.name:
                yield f"{amendment['title']}, over {amendment['base']}{_clause(change)}: {_told(file, change)}"


def _short(document: Document) -> str:
    """The short title of a document: "NFPA 101", "EN 1154"."""
    return document.id.replace("-", " ") if document.id.startswith("NFPA") else document.id.replace("-", " ", 1)


def _year(edition: str) -> str:
    return edition.rpartition("-")[2]


def _clause(entry: Mapping[str, Any]) -> str:
    """The clause, where one is numbered, and whether it is from memory."""
    told = [str(entry["clause"])] if entry.get("clause") else []
    told += ["from memory"] if entry.get("from_memory") else []
    return f" ({', '.join(told)})" if told else ""


def _told(file: ValueFile, entry: Mapping[str, Any]) -> str:
    """What an entry demands, in words."""
    told = told_by(entry)
    if told["groups"]:
        groups = ", ".join(f"{group} {_figure(file, one)}" for group, one in told["groups"].items())
        return f"by occupancy group: {groups}"
    if told["value"] is None:
        return "the clause"
    text = _figure(file, told)
    if told["with_approval"] not in (None, "none"):
        text += f", with approval {_text(told['with_approval'])}"
    if told["beyond"] == "approval":
        text += ", beyond that as the authority approves"
    return text


def _figure(file: ValueFile, told: Any) -> str:
    data = told if isinstance(told, Mapping) else {"value": told}
    strictness = str(data.get("strictness") or file.strictness)
    value = _text(data.get("value"))
    numeric = file.kind in ("quantity", "range", "number", "count") and value != "none"
    words = f"{strictness.replace('_', ' ')} {value}" if numeric and strictness != "exactly" else value
    condition = data.get("condition")
    return words + (f" ({condition})" if condition else "")


def _text(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return ", ".join(str(one) for one in value)
    return str(value).replace("_", " ")


# --- after the rules ---


def _reading() -> Iterator[str]:
    yield "## Findings made while reading"
    yield ""
    yield "They come before any rule, and no house standard changes them."
    yield ""
    yield "| finding | level | what is found | why | cure |"
    yield "| --- | --- | --- | --- | --- |"
    for rule in sorted(FORMAT_RULES.values(), key=lambda rule: rule.id):
        yield f"| {rule.id} | {rule.level.value} | {_cell(rule.title)} | {_cell(rule.why)} | {_cell(rule.cure)} |"
    yield ""


def _models() -> Iterator[str]:
    yield "## Findings of the comparison with a building model"
    yield ""
    yield (
        "`doorlint model SPEC MODEL` makes them. A house standard sets their levels as it does those of the rules, and "
        "switches one off with a reason, but for those that bear on life safety. They are settled in the spec or in "
        "the model, and not waived."
    )
    yield ""
    yield "| finding | level | what is found | ground | why | cure |"
    yield "| --- | --- | --- | --- | --- | --- |"
    for rule in sorted(MODEL_RULES.values(), key=lambda rule: rule.id):
        level = f"{rule.level.value}{', life safety' if rule.life_safety else ''}"
        grounds = "; ".join(map(str, rule.basis))
        told = (rule.title, grounds, rule.why, rule.cure)
        yield f"| {rule.id} | {level} | {' | '.join(map(_cell, told))} |"
    yield ""


def _parameters(book: Rulebook) -> Iterator[str]:
    yield "## Parameters"
    yield ""
    yield (
        "Figures of practice that an office or a project may tighten in a house standard (`project: {house: "
        "office.yaml}`, by `schemas/house.schema.json`); `doorlint house PATH` shows those in effect. To loosen one "
        "takes a reason, and one that bears on life safety or is cited from a standard is never loosened. Figures "
        "that the adopted codes fix are no parameters."
    )
    yield ""
    yield "| parameter | default | stricter | what it is | ground | rules |"
    yield "| --- | --- | --- | --- | --- | --- |"
    for parameter in book.parameters.values():
        users = ", ".join(_link(rule.id) for rule in book.rules if parameter in rule.parameters)
        stricter = "covers more" if parameter.dimension == "ingress" else parameter.stricter
        yield (
            f"| `{parameter.name}` | {parameter.show(parameter.default)} | {stricter} | {_cell(parameter.title)} | "
            f"{_cell(str(parameter.basis))} | {users} |"
        )
    yield ""


def _unasked(book: Rulebook) -> Iterator[str]:
    """The values that no rule asks for, so that nobody takes their presence for a check."""
    asked = {name for module in book.modules for name in asked_values(module)}
    yield "## Figures that no rule asks for"
    yield ""
    yield "They are held by edition and wait for a field of the format or for a rule. Nothing is checked by them."
    yield ""
    topics: dict[str, list[str]] = {}
    for name in names():
        if name not in asked:
            topic, _, rest = name.partition("/")
            topics.setdefault(topic, []).append(rest.replace("_", " "))
    yield from (f"- {topic.replace('_', ' ')}: {', '.join(rest)}" for topic, rest in topics.items())
    yield ""


def _bibliography(book: Rulebook) -> Iterator[str]:
    """Every source that a rule, a parameter or a value cites, once, with the editions and who cites it."""
    yield "## Bibliography"
    yield ""
    yield "Each source with the editions cited, and the rules that rest on it."
    yield ""
    sources: dict[str, tuple[set[str], dict[str, None]]] = {}
    titles = {document.id.replace("-", " "): document.title for document in documents().values()}
    for rule in [*book.rules, *FORMAT_RULES.values(), *MODEL_RULES.values()]:
        for basis in _grounds(rule):
            if isinstance(basis, Cited):
                editions, users = sources.setdefault(_source(basis.document, titles), (set(), {}))
                editions |= {basis.edition} if basis.edition else set()
                users[rule.id] = None
    for module in book.modules:
        for name in asked_values(module):
            file = value_file(name)
            for edition in file.series:
                document = document_of(edition, name)
                editions, users = sources.setdefault(document.title, (set(), {}))
                editions.add(_year(edition))
                users[module.RULE.id] = None
            for amendment in amendment_files().values():
                if any(change["name"] == name for change in amendment["changes"]):
                    editions, users = sources.setdefault(amendment["title"], (set(), {}))
                    editions.add(f"over {amendment['base']}")
                    users[module.RULE.id] = None
    linked = {rule.id for rule in book.rules}
    for title, (editions, users) in sorted(sources.items(), key=lambda entry: entry[0].lower()):
        listed = f" ({'; '.join(_editions(editions))})" if editions else " (edition not stated)"
        cited = ", ".join(_link(rule_id) if rule_id in linked else rule_id for rule_id in sorted(users))
        yield f"- **{title}**{listed}: {cited}"
    yield ""


def _editions(cited: set[str]) -> list[str]:
    """The editions in order; a span of years is left out where the years of it are cited by themselves."""
    years = any(re.fullmatch(r"[0-9]{4}", edition) for edition in cited)
    return sorted(one for one in cited if not (years and re.fullmatch(r"[0-9]{4}( to |, | and )[0-9]{4}", one)))


def _source(document: str, titles: Mapping[str, str]) -> str:
    """The full title of a document that the value files know by a short one ("NFPA 101")."""
    same = (title for title in titles.values() if title.removeprefix("2010 ") == document)
    return titles.get(document.replace("-", " ")) or next(same, document)


def _grounds(rule: Rule) -> Iterator[Basis]:
    yield from rule.basis
    yield from (parameter.basis for parameter in rule.parameters)


def _memory(book: Rulebook) -> Iterator[str]:
    """What is from memory, so that a reader knows what to check first."""
    of_rules = sorted({(rule.id, str(basis)) for rule in book.rules for basis in _grounds(rule) if basis.from_memory})
    of_values = [
        (name, edition)
        for name in names()
        for edition, entry in value_file(name).series.items()
        if entry.get("from_memory")
    ]
    amended = [
        (change["name"], amendment["id"])
        for amendment in amendment_files().values()
        for change in amendment["changes"]
        if change.get("from_memory")
    ]
    yield "## From memory"
    yield ""
    yield (
        f"{len(of_rules)} grounds of rules, {len(of_values)} figures by edition and {len(amended)} figures of local "
        "amendments are from memory. Check them against the published text before relying on them."
    )
    yield ""
    yield from (f"- {_link(rule_id)}: {_cell(basis.replace(' [from memory]', ''))}" for rule_id, basis in of_rules)
    yield ""
    values: dict[str, list[str]] = {}
    for name, edition in of_values:
        document, year = _short(document_of(edition, name)), _year(edition)
        listed = values.setdefault(name, [])
        if listed and listed[-1].startswith(f"{document} "):
            listed[-1] += f", {year}"
        else:
            listed.append(f"{document} {year}")
    for name, amendment in amended:
        values.setdefault(name, []).append(amendment)
    yield from (f"- `{name}`: {'; '.join(editions)}" for name, editions in sorted(values.items()))
    yield ""
