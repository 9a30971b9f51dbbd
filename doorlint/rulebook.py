"""The rulebook: what a rule is, how rules are collected, and how one rule is applied to one subject.

A rule is a module (or any object) with two names: `RULE`, a frozen declaration, and `check`, a pure generator
function `check(subject, context)` that yields verdicts. Packages offer their rules through the one pluggy hook
`doorlint_rules`, found by the entry-point group `doorlint`; the built-in rules come in the same way. The hook only
collects; it never runs per subject.
"""

from __future__ import annotations

import re
import traceback
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from importlib.metadata import EntryPoint, entry_points
from typing import Any, Literal, Protocol, runtime_checkable

import pluggy

from .outcome import Basis, Cited, Kind, Level, Measure, Outcome, Place, Practice, Related, Verdict
from .spec.fields import UNKNOWN, Part, Undecided

hookspec = pluggy.HookspecMarker("doorlint")
hookimpl = pluggy.HookimplMarker("doorlint")

_NAME = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")
_ID = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*/[a-z][a-z0-9]*(-[a-z0-9]+)*")


class RuleError(ValueError):
    """A rule is declared wrongly; the text says what and how to write it."""


@dataclass(frozen=True, slots=True)
class Parameter:
    """A figure of practice in a rule that a house standard may set. What a code fixes is no parameter.

    name: the one under which it is set; rules that share a figure share the Parameter.
    title: what it is, in words that go on from "the".
    dimension: of `doorlint.quantity`; "ingress" for an IP code, whose default is its text.
    default: the figure where nobody sets another, exact, in SI base units.
    stricter: the direction in which the figure asks for more; of IP codes, the one that covers the other.
    basis: where the default comes from. One that is cited, or that bears on life safety, is never loosened.
    """

    name: str
    title: str
    dimension: str
    default: Fraction | str
    stricter: Literal["lower", "higher"]
    basis: Basis

    def __post_init__(self) -> None:
        if not _NAME.fullmatch(self.name):
            raise RuleError(f"parameter {self.name!r}: write small letters and underscores, for example coil_drop")
        if not isinstance(self.basis, Cited | Practice):
            raise RuleError(f"parameter {self.name}: its default needs a basis, Cited(...) or Practice(...)")
        if isinstance(self.default, str) != (self.dimension == "ingress"):
            raise RuleError(f"parameter {self.name}: its default is an exact number, or the text of an IP code")

    def value(self, practice: Mapping[str, Fraction | str]) -> Fraction:
        """The figure that counts, SI. `practice`: what house standards set (`Spec.practice`)."""
        found = practice.get(self.name, self.default)
        if isinstance(found, str):
            raise TypeError(f"parameter {self.name} is an IP code; ask for its code")
        return found

    def code(self, practice: Mapping[str, Fraction | str]) -> str:
        """The IP code that counts."""
        return str(practice.get(self.name, self.default))

    def show(self, value: Fraction | str) -> str:
        """A value of this parameter for people."""
        return value if isinstance(value, str) else str(Measure(value, self.dimension))


@dataclass(frozen=True, slots=True)
class Rule:
    """The declaration of one rule.

    id: `topic/kebab-name`; names what was found, never the remedy.
    title: one plain sentence, at most 72 characters, that reads as the finding.
    level: how serious a failure is.
    over: the type of subject that the rule judges (from `doorlint.spec` or `doorlint.circuit`).
    basis: at least one ground.
    needs: attribute paths from the subject ("output.current") without which nothing can be decided; where
        one is missing the outcome is *open* and names it.
    applies: says whether the rule concerns a subject; `scope` is the same in words.
    evidence: the names of the figures that a finding carries.
    why, cure, limits: for the rule's page: what goes wrong, what helps, where the rule is known to be blind.
    life_safety: its repairs are shown and never applied by a tool; no house standard may soften it.
    parameters: the figures of practice that a house standard may set.
    """

    id: str
    title: str
    level: Level
    over: type[Any] | None
    basis: tuple[Basis, ...]
    needs: tuple[str, ...] = ()
    applies: Callable[[Any], bool] | None = None
    scope: str = ""
    evidence: tuple[str, ...] = ()
    why: str = ""
    cure: str = ""
    limits: str = ""
    life_safety: bool = False
    parameters: tuple[Parameter, ...] = ()
    since: str = "0.1.0"

    def __post_init__(self) -> None:
        if not isinstance(self.id, str) or not _ID.fullmatch(self.id):
            raise RuleError(f"rule id {self.id!r}: write `topic/kebab-name`, for example relay/current-over-rating")
        if not self.basis or not all(isinstance(ground, Cited | Practice) for ground in self.basis):
            raise RuleError(f"rule {self.id}: basis needs at least one Cited(...) or Practice(...)")
        if not isinstance(self.level, Level):
            raise RuleError(f"rule {self.id}: level is {self.level!r}, one of Level.ERROR, WARNING, NOTE is expected")
        if not self.title or len(self.title) > 72:
            raise RuleError(f"rule {self.id}: title needs 1 to 72 characters, has {len(self.title)}")
        if (self.applies is None) != (not self.scope):
            raise RuleError(f"rule {self.id}: `applies` and `scope` go together")
        if not all(isinstance(parameter, Parameter) for parameter in self.parameters):
            raise RuleError(f"rule {self.id}: parameters are Parameter(...)")

    def parameter(self, name: str) -> Parameter:
        """The parameter of this name. RuleError where the rule declares none, so that the rule book is whole."""
        for parameter in self.parameters:
            if parameter.name == name:
                return parameter
        raise RuleError(f"rule {self.id} declares no parameter {name!r}")


@runtime_checkable
class RuleModule(Protocol):
    """A rule module: its declaration and its check."""

    RULE: Rule

    @staticmethod
    def check(subject: Any, context: Any, /) -> Iterator[Verdict]:
        """Yield one verdict for each requirement judged."""
        ...


class Subject(Protocol):
    """What a rule judges: it has a stable identity and a place."""

    @property
    def identity(self) -> str:
        """Stable under re-ordering and re-formatting of the spec."""
        ...

    @property
    def place(self) -> Place:
        """Where it stands."""
        ...


class Hooks:
    """The hooks of doorlint."""

    @hookspec
    def doorlint_rules(self) -> Iterable[RuleModule]:  # type: ignore[empty-body]
        """Return the rule modules that this package offers (objects with `RULE` and `check`)."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something that broke in the rulebook itself: a package of rules, or one rule. Never silent."""

    source: str
    message: str
    detail: str = ""


@dataclass(frozen=True, slots=True)
class NotLoaded:
    """What a package may return in place of a rule module that does not load, so that its other rules still count."""

    name: str
    reason: str


@dataclass(frozen=True, slots=True)
class Rulebook:
    """The rules of a review, ordered by id, and what went wrong when they were collected."""

    modules: tuple[RuleModule, ...] = ()
    troubles: tuple[Trouble, ...] = ()
    origins: Mapping[str, str] = field(default_factory=dict)

    @property
    def rules(self) -> tuple[Rule, ...]:
        """The declarations alone."""
        return tuple(module.RULE for module in self.modules)

    def rule(self, rule_id: str) -> Rule:
        """The declaration with this id; KeyError if there is none."""
        for rule in self.rules:
            if rule.id == rule_id:
                return rule
        raise KeyError(rule_id)

    @property
    def parameters(self) -> Mapping[str, Parameter]:
        """The parameters of all rules, by name."""
        found = {parameter.name: parameter for rule in self.rules for parameter in rule.parameters}
        return dict(sorted(found.items()))


def collect(extra: Iterable[object] = (), *, group: str = "doorlint") -> Rulebook:
    """Collect the rules of every installed package, and of the plugin objects in `extra`.

    Each entry point is loaded on its own: one that fails becomes a Trouble and the others go on.
    """
    troubles: list[Trouble] = []
    plugins: list[tuple[str, object]] = []
    for entry in sorted(entry_points(group=group), key=lambda e: (e.name != "built-in", e.name)):
        plugin = _load(entry, troubles)
        if plugin is not None:
            plugins.append((entry.name, plugin))
    for plugin in extra:
        plugins.append((getattr(plugin, "__name__", type(plugin).__name__), plugin))
    found: dict[str, RuleModule] = {}
    origins: dict[str, str] = {}
    for name, plugin in plugins:
        for module in _rules_of(name, plugin, troubles):
            if isinstance(module, NotLoaded):
                troubles.append(Trouble(name, f"rule module {module.name} does not load: {module.reason}"))
                continue
            rule = getattr(module, "RULE", None)
            if not isinstance(rule, Rule) or not callable(getattr(module, "check", None)):
                label = getattr(module, "__name__", repr(module))
                troubles.append(Trouble(name, f"{label} is no rule: it needs `RULE = Rule(...)` and `check`"))
            elif rule.id in found:
                both = f"{origins[rule.id]} and by {name}"
                troubles.append(Trouble(name, f"rule {rule.id} is offered twice, by {both}; the first counts"))
            elif other := _contradicted(rule, found):
                troubles.append(Trouble(name, f"rule {rule.id} and rule {other} declare one parameter differently"))
            else:
                found[rule.id] = module
                origins[rule.id] = name
    modules = tuple(found[rule_id] for rule_id in sorted(found))
    return Rulebook(modules, tuple(troubles), origins)


def _contradicted(rule: Rule, found: Mapping[str, RuleModule]) -> str:
    """The rule whose parameter has the name of one of this rule and is another; empty where there is none."""
    own = {parameter.name: parameter for parameter in rule.parameters}
    for other in found.values():
        if any(own.get(parameter.name, parameter) != parameter for parameter in other.RULE.parameters):
            return other.RULE.id
    return ""


def _load(entry: EntryPoint, troubles: list[Trouble]) -> object | None:
    try:
        return entry.load()  # type: ignore[no-any-return]
    except (Exception, SystemExit) as error:  # a broken package must not stop the review
        message = f"package of rules {entry.name!r} ({entry.value}) does not load: {type(error).__name__}: {error}"
        troubles.append(Trouble(entry.name, message, traceback.format_exc()))
        return None


def _rules_of(name: str, plugin: object, troubles: list[Trouble]) -> list[RuleModule]:
    manager = pluggy.PluginManager("doorlint")
    manager.add_hookspecs(Hooks)
    try:
        manager.register(plugin, name)
        manager.check_pending()
        if not manager.get_hookcallers(plugin):
            raise RuleError("it has no function `doorlint_rules` marked with `doorlint.hookimpl`")
        offered = manager.hook.doorlint_rules()
        return [module for modules in offered for module in modules]
    except (Exception, SystemExit) as error:  # same: a broken package is a finding
        message = f"package of rules {name!r} gives no rules: {type(error).__name__}: {error}"
        troubles.append(Trouble(name, message, traceback.format_exc()))
        return []


def missing(subject: object, path: str) -> Undecided | None:
    """What keeps `path` (attributes from the subject, joined by dots) from being known, or None if it is known."""
    here: Any = subject
    owner: Part | None = None
    for name in path.split("."):
        if isinstance(here, Part):
            owner = here
        value = getattr(here, name)
        if value is None or value is UNKNOWN:
            place = owner.at(name) if owner is not None and hasattr(owner, name) else here.place
            return Undecided(name, place, stated=value is not None)
        here = value
    return None


def apply(module: RuleModule, subject: Subject, context: object) -> Iterator[Outcome]:
    """Apply one rule to one subject: at least one outcome. Errors of the rule itself are not caught here."""
    rule = module.RULE
    try:
        if rule.applies is not None and not rule.applies(subject):
            yield _outcome(rule, subject, Verdict(Kind.NOT_APPLICABLE, f"concerns only {rule.scope}"))
            return
        lacking = [gap for path in rule.needs if (gap := missing(subject, path)) is not None]
        if lacking:
            yield _open(rule, subject, lacking)
            return
        silent = True
        for verdict in module.check(subject, context):
            if not isinstance(verdict, Verdict):
                raise TypeError(f"check yielded a {type(verdict).__name__}, a Verdict is expected")
            silent = False
            yield _outcome(rule, subject, verdict)
        if silent:
            raise RuleError("check yielded nothing; say not_applicable(...) where there is nothing to judge")
    except Undecided as gap:
        yield _open(rule, subject, [gap])


def _open(rule: Rule, subject: Subject, gaps: list[Undecided]) -> Outcome:
    names = tuple(dict.fromkeys(gap.name for gap in gaps))
    stated = all(gap.stated for gap in gaps)
    how = "is given as unknown" if stated else "is not stated"
    text = f"cannot be decided: {', '.join(names)} {how if len(names) == 1 else how.replace('is', 'are', 1)}"
    others = {gap.place: gap.name for gap in gaps if gap.place != gaps[0].place}
    related = tuple(Related(place, f"{name} belongs here") for place, name in others.items())
    return _outcome(rule, subject, Verdict(Kind.OPEN, text, gaps[0].place, related=related, missing=names))


def _outcome(rule: Rule, subject: Subject, verdict: Verdict) -> Outcome:
    return Outcome(
        rule=rule.id,
        kind=verdict.kind,
        level=rule.level,
        subject=subject.identity,
        message=verdict.message,
        place=verdict.place or subject.place,
        related=verdict.related,
        what=verdict.what,
        measured=verdict.measured,
        limit=verdict.limit,
        relation=verdict.relation,
        margin=verdict.margin,
        working=verdict.working,
        missing=verdict.missing,
        basis=verdict.basis or rule.basis,
        repairs=verdict.repairs,
    )
