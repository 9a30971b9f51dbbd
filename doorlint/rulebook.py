"""The rulebook: what a rule is, how rules are collected, and how one rule is applied to one subject.

A rule is a module (or any object) with two names: `RULE`, a frozen declaration, and `check`, a pure generator
function `check(subject, context)` that yields verdicts. Packages offer their rules through the one pluggy hook
`doorlint_rules`, found by the entry-point group `doorlint`; the built-in rules come in the same way. The hook only
collects; it never runs per subject.
"""

from __future__ import annotations

import re
import sys
import traceback
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from importlib.metadata import EntryPoint, distributions, entry_points
from typing import Any, Final, Literal, Protocol, TypeVar, runtime_checkable

import pluggy

from .foreign import Box, one_line, told
from .outcome import Basis, Cited, Kind, Level, Measure, Outcome, Place, Practice, Related, Verdict
from .quantity import DIMENSIONS
from .spec.fields import UNKNOWN, Part, Undecided

T = TypeVar("T")

hookspec = pluggy.HookspecMarker("doorlint")
hookimpl = pluggy.HookimplMarker("doorlint")

_NAME = re.compile(r"[a-z][a-z0-9]*(_[a-z0-9]+)*")
OURS: Final = "doorlint.rules"
"""The package of the built-in rules. What comes from another is foreign: watched, and told of with its name."""
PATIENCE_S: Final = 10.0
"""How long a foreign rule may take for one subject."""
LOADING_S: Final = 60.0
"""How long a foreign package may take to load, and to offer its rules."""

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
        if self.dimension != "ingress" and self.dimension not in DIMENSIONS:
            raise RuleError(f"parameter {self.name}: {self.dimension!r} is no dimension; one is, for example, voltage")
        if not isinstance(self.default, Fraction | str) or self.stricter not in ("lower", "higher"):
            raise RuleError(f"parameter {self.name}: default is a Fraction, or a text; stricter is lower or higher")
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
    incomplete: gives what keeps the things that the check counts or looks for from being all there (see
        `doorlint.uncounted`): where it gives anything, a pass becomes *open* and names it.
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
    incomplete: Callable[[Any, Any], Sequence[Undecided]] | None = None
    since: str = "0.1.0"

    def __post_init__(self) -> None:
        if not isinstance(self.id, str) or not _ID.fullmatch(self.id):
            raise RuleError(f"rule id {self.id!r}: write `topic/kebab-name`, for example relay/current-over-rating")
        if not self.basis or not all(isinstance(ground, Cited | Practice) for ground in self.basis):
            raise RuleError(f"rule {self.id}: basis needs at least one Cited(...) or Practice(...)")
        if not isinstance(self.level, Level):
            raise RuleError(f"rule {self.id}: level is {self.level!r}, one of Level.ERROR, WARNING, NOTE is expected")
        self._check_types()
        if not self.title or len(self.title) > 72:
            raise RuleError(f"rule {self.id}: title needs 1 to 72 characters, has {len(self.title)}")
        if (self.applies is None) != (not self.scope):
            raise RuleError(f"rule {self.id}: `applies` and `scope` go together")
        if not all(isinstance(parameter, Parameter) for parameter in self.parameters):
            raise RuleError(f"rule {self.id}: parameters are Parameter(...)")

    def _check_types(self) -> None:
        """What is declared is shown in many places, long after; a wrong type is told where it can be mended."""
        for name in ("title", "scope", "why", "cure", "limits", "since"):
            value = getattr(self, name)
            if not isinstance(value, str) or value != value.encode("utf-8", "replace").decode():
                raise RuleError(f"rule {self.id}: {name} is {value!r}, a text is expected")
        if not self.title.isprintable():
            raise RuleError(f"rule {self.id}: title is one line")
        for name in ("basis", "needs", "evidence", "parameters"):
            if not isinstance(getattr(self, name), tuple):
                raise RuleError(f"rule {self.id}: {name} is a tuple; one of a single entry is written (entry,)")
        if not all(isinstance(text, str) for text in (*self.needs, *self.evidence)):
            raise RuleError(f"rule {self.id}: needs and evidence are tuples of texts")
        if not isinstance(self.over, type | None):
            raise RuleError(f"rule {self.id}: over is {self.over!r}, a type of subject is expected, for example Item")
        for name in ("applies", "incomplete"):
            if getattr(self, name) is not None and not callable(getattr(self, name)):
                raise RuleError(f"rule {self.id}: {name} is a function")
        if not isinstance(self.life_safety, bool):
            raise RuleError(f"rule {self.id}: life_safety is True or False")

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
    """The rules of a review, ordered by id, and what went wrong when they were collected.

    origins: the package that each rule comes from, by the rule's id. patience: seconds that a rule which is not built
    in may take for one subject (see `doorlint.judging`); one that takes longer is stopped and told of.
    """

    modules: tuple[RuleModule, ...] = ()
    troubles: tuple[Trouble, ...] = ()
    origins: Mapping[str, str] = field(default_factory=dict)
    patience: float = PATIENCE_S

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


def built_in(module: object) -> bool:
    """Whether a rule module is one of doorlint's own."""
    name = getattr(module, "__name__", "")
    return isinstance(name, str) and name.startswith(f"{OURS}.") and sys.modules.get(name) is module


def collect(extra: Iterable[object] = (), *, group: str = "doorlint", patience: float = PATIENCE_S) -> Rulebook:
    """Collect the rules of every installed package, and of the plugin objects in `extra`.

    The built-in rules come first, then the others by name; the first to offer an id keeps it. Each entry point is
    loaded on its own: one that fails becomes a Trouble and the others go on. patience: see `Rulebook`.
    """
    troubles: list[Trouble] = []
    plugins = list(_installed(group, troubles))
    for plugin in extra:
        plugins.append((_name_of(plugin) or type(plugin).__name__, plugin))
    found: dict[str, RuleModule] = {}
    origins: dict[str, str] = {}
    parameters: dict[str, tuple[Parameter, str]] = {}
    for name, plugin in plugins:
        for module in _rules_of(name, plugin, troubles):
            wrong = _offered(name, module, found, origins, parameters)
            if wrong:
                troubles.append(Trouble(name, f"package of rules {name!r}: {wrong}"))
    modules = tuple(found[rule_id] for rule_id in sorted(found))
    return Rulebook(modules, tuple(troubles), origins, patience)


def _offered(
    name: str,
    module: Any,
    found: dict[str, RuleModule],
    origins: dict[str, str],
    parameters: dict[str, tuple[Parameter, str]],
) -> str:
    """Take a rule that a package offers, or say why it is not taken."""
    if isinstance(module, NotLoaded):
        return f"rule module {one_line(str(module.name))} does not load: {one_line(str(module.reason))}"
    try:
        rule = getattr(module, "RULE", None)
        sound = isinstance(rule, Rule) and callable(getattr(module, "check", None))
    except Exception as error:  # an object that breaks when it is looked at
        return f"{_label(module)} is no rule: {told(error)}"
    if not sound or not isinstance(rule, Rule):
        return f"{_label(module)} is no rule: it needs `RULE = Rule(...)` and `check`"
    if rule.id in found:
        return f"rule {rule.id} is offered twice, by {origins[rule.id]} and by {name}; the first counts"
    if other := _contradicted(rule, parameters):
        return f"rule {rule.id} and rule {other} declare one parameter differently"
    found[rule.id] = module
    origins[rule.id] = name
    for parameter in rule.parameters:
        parameters.setdefault(parameter.name, (parameter, rule.id))
    return ""


def _name_of(thing: object) -> str:
    try:
        name = getattr(thing, "__name__", "")
    except Exception:  # an object that breaks when it is looked at
        return ""
    return name if isinstance(name, str) else ""


def _label(thing: object) -> str:
    if name := _name_of(thing):
        return one_line(name)
    plain = thing is None or isinstance(thing, str | int | float)
    return one_line(repr(thing)) if plain else f"an object of type {type(thing).__name__}"


def _installed(group: str, troubles: list[Trouble]) -> Iterator[tuple[str, object]]:
    """The plugins of the installed packages by name, ours first. A name that two packages use is told with theirs."""
    entries = sorted(_entries(group, troubles), key=lambda e: (e.value != OURS, e.name, _distribution(e), e.value))
    names = [entry.name for entry in entries]
    for entry in entries:
        shared = names.count(entry.name) > 1 or entry.name == "built-in"
        name = f"{entry.name} ({_distribution(entry)})" if shared and entry.value != OURS else entry.name
        plugin = _load(name, entry, troubles)
        if plugin is not None:
            yield name, plugin


def _entries(group: str, troubles: list[Trouble]) -> list[EntryPoint]:
    try:
        return list(entry_points(group=group))
    except Exception:  # the metadata of some package cannot be read: every package by itself, as Python finds them
        found: dict[str, list[EntryPoint]] = {}
        for number, each in enumerate(distributions()):
            name = f"number {number}"
            try:
                name = str(each.name)
                found.setdefault(re.sub(r"[-_.]+", "-", name).lower(), list(each.entry_points.select(group=group)))
            except Exception as error:
                text = f"package {name}: what it offers cannot be read: {told(error)}"
                troubles.append(Trouble(name, text, traceback.format_exc()))
        return [entry for listed in found.values() for entry in listed]


def _distribution(entry: EntryPoint) -> str:
    return str(entry.dist.name) if entry.dist is not None else entry.value


def _contradicted(rule: Rule, parameters: Mapping[str, tuple[Parameter, str]]) -> str:
    """The rule whose parameter has the name of one of this rule and is another; empty where there is none.
    `parameters`: those declared so far, each with the first rule that declares it."""
    for parameter in rule.parameters:
        known, other = parameters.get(parameter.name, (parameter, ""))
        if known != parameter:
            return other
    return ""


def _load(name: str, entry: EntryPoint, troubles: list[Trouble]) -> object | None:
    try:
        plugin: object = _within_limits(entry.value == OURS, entry.load)
        return plugin
    except Exception as error:  # a broken package must not stop the review
        message = f"package of rules {name!r} ({one_line(entry.value)}) does not load: {told(error)}"
        troubles.append(Trouble(name, message, traceback.format_exc()))
        return None


def _rules_of(name: str, plugin: object, troubles: list[Trouble]) -> list[object]:
    def offered() -> list[object]:
        manager = pluggy.PluginManager("doorlint")
        manager.add_hookspecs(Hooks)
        manager.register(plugin, name)
        manager.check_pending()
        if not manager.get_hookcallers(plugin):
            raise RuleError("it has no function `doorlint_rules` marked with `doorlint.hookimpl`")
        return [module for modules in manager.hook.doorlint_rules() for module in modules]

    try:
        return _within_limits(getattr(plugin, "__name__", "") == OURS, offered)
    except Exception as error:  # same: a broken package is a finding
        message = f"package of rules {name!r} gives no rules: {told(error)}"
        troubles.append(Trouble(name, message, traceback.format_exc()))
        return []


def _within_limits(ours: bool, work: Callable[[], T]) -> T:
    return work() if ours else Box(LOADING_S).run(work)


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


def apply(
    module: RuleModule, subject: Subject, context: object, sound: Callable[[Verdict], None] | None = None
) -> Iterator[Outcome]:
    """Apply one rule to one subject: at least one outcome. `sound` may raise for a verdict that cannot be shown.

    Errors of the rule itself are not caught here.
    """
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
            if sound is not None:
                sound(verdict)
            silent = False
            gaps = rule.incomplete(subject, context) if verdict.kind is Kind.PASS and rule.incomplete else ()
            yield _open(rule, subject, list(gaps)) if gaps else _outcome(rule, subject, verdict)
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
    # by position, in the order of the fields: names cost half as much again
    return Outcome(
        rule.id,
        verdict.kind,
        rule.level,
        subject.identity,
        verdict.message,
        verdict.place or subject.place,
        verdict.related,
        verdict.what,
        verdict.measured,
        verdict.limit,
        verdict.relation,
        verdict.margin,
        verdict.working,
        verdict.missing,
        verdict.basis or rule.basis,
        verdict.repairs,
    )
