"""House standards: what an office or a project asks beyond the rules.

A file by `schemas/house.schema.json`, named under `project: house:`, tightens figures of practice, raises or lowers
the level of rules, and switches rules off with a reason. What it may not do is told as a finding, and the stricter
setting then stands: what touches life safety or is cited from a code is only ever tightened (a single finding can be
waived, with its reason, at its opening), and of two files the stricter statement counts. Figures that a code fixes
are no parameters; they come from the editions that the project adopts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from .circuit.ingress import IngressError, covers, parse_ip
from .format_rules import FORMAT_RULES, finding
from .model_rules import MODEL_RULES
from .outcome import Cited, Level, Outcome, Place, Related
from .quantity import QuantityError, parse_quantity
from .rulebook import Parameter, Rule, Rulebook
from .spec.files import Files
from .spelling import nearest

OFF = -1
"""The rank of a rule that is off, below that of a note."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A parameter as a house standard sets it: the value (SI, or an IP code), where, and the reason if given."""

    parameter: Parameter
    value: Fraction | str
    place: Place
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Stand:
    """How a house standard has a rule: its level, or off; where that is said, and the reason if given."""

    rule: str
    level: Level
    off: bool
    place: Place
    reason: str = ""

    @property
    def rank(self) -> int:
        """How much is asked: OFF, then the ranks of the levels."""
        return OFF if self.off else self.level.rank


@dataclass(frozen=True, slots=True)
class Settings:
    """What the house standards of a spec change: parameters by name, rules by id. Empty where there are none.
    `models`: rules of the comparison with a building model, which no review applies."""

    figures: Mapping[str, Figure] = field(default_factory=dict)
    rules: Mapping[str, Stand] = field(default_factory=dict)
    models: Mapping[str, Stand] = field(default_factory=dict)

    @property
    def practice(self) -> Mapping[str, Fraction | str]:
        """The figures alone, for `Spec.practice`."""
        return {name: figure.value for name, figure in self.figures.items()}

    @property
    def off(self) -> Mapping[str, Stand]:
        """The rules that are switched off."""
        return {rule: stand for rule, stand in self.rules.items() if stand.off}

    @property
    def models_off(self) -> Mapping[str, Stand]:
        """The rules of the comparison with a model that are switched off."""
        return {rule: stand for rule, stand in self.models.items() if stand.off}

    def level(self, rule: Rule) -> Level:
        """The level that failures of a rule have."""
        stand = self.rules.get(rule.id) or self.models.get(rule.id)
        return stand.level if stand is not None else rule.level

    def notes(self, rule: Rule) -> tuple[Related, ...]:
        """The places where figures of a rule are set, for its failures."""
        return tuple(
            Related(figure.place, f"house standard: {figure.parameter.show(figure.value)} for {parameter.name}")
            for parameter in rule.parameters
            if (figure := self.figures.get(parameter.name)) is not None
        )


NONE = Settings()


def settings(files: Files, rulebook: Rulebook) -> tuple[Settings, tuple[Outcome, ...]]:
    """The settings of a spec's house standards, and the findings about them. Never raises for any document."""
    reading = _Reading(rulebook)
    for name in files.house:
        tree: Any = files.documents[name].tree
        for key, value, place in _entries(tree, name, "parameters"):
            reading.figure(key, value, place)
        for key, value, place in _entries(tree, name, "rules"):
            reading.stand(key, value, place)
    return Settings(reading.figures, reading.rules, reading.models), tuple(reading.findings)


def _entries(tree: Any, name: str, section: str) -> Iterator[tuple[str, Any, Place]]:
    listed = tree.get(section) if isinstance(tree, dict) else None
    here = Place(name, "").child(section)
    for key, value in listed.items() if isinstance(listed, dict) else ():
        yield key, value, here.child(key)


class _Reading:
    """The state of one reading (local to `settings`)."""

    def __init__(self, rulebook: Rulebook) -> None:
        self.known = {rule.id: rule for rule in rulebook.rules}
        self.parameters = rulebook.parameters
        self.firm = {p.name for rule in rulebook.rules if rule.life_safety for p in rule.parameters}
        self.figures: dict[str, Figure] = {}
        self.rules: dict[str, Stand] = {}
        self.models: dict[str, Stand] = {}
        self.findings: list[Outcome] = []

    def _add(self, rule: str, text: str, place: Place, subject: str, *related: Related) -> None:
        self.findings.append(finding(rule, text, place, subject, related))

    def figure(self, name: str, value: Any, place: Place) -> None:
        parameter = self.parameters.get(name)
        if parameter is None:
            text = f"there is no parameter {name!r}{_meant(nearest(name, self.parameters))}"
            self._add("house/unknown-parameter", text, place.key, name)
            return
        whole = value if isinstance(value, dict) else {"value": value}
        written, reason = whole.get("value"), _reason(whole)
        if isinstance(value, dict):
            place = place.child("value")
        if isinstance(written, bool) or not isinstance(written, str | int | float):
            return  # the schema tells
        try:
            read = _read(str(written), parameter)
        except (QuantityError, IngressError) as error:
            text = f"{error.message}; expected {error.expected}, for example {parameter.show(parameter.default)}"
            self._add("format/not-a-quantity", text, place, name)
            return
        new = Figure(parameter, read, place, reason)
        if self._may_stand(new):
            self.figures[name] = new

    def _may_stand(self, new: Figure) -> bool:
        parameter = new.parameter
        shown, usual = parameter.show(new.value), parameter.show(parameter.default)
        earlier = self.figures.get(parameter.name)
        if earlier is not None and _looser(new.value, earlier.value, parameter):
            text = f"{shown} is looser than the {parameter.show(earlier.value)} of the file before; the stricter counts"
            self._add("house/loosened", text, new.place, parameter.name, Related(earlier.place, "the stricter figure"))
            return False
        if not _looser(new.value, parameter.default, parameter):
            return True
        if parameter.name in self.firm or isinstance(parameter.basis, Cited):
            why = "bears on life safety" if parameter.name in self.firm else f"rests on {parameter.basis}"
            text = f"{shown} loosens {parameter.name}, which {why}; {usual} stands, and only a stricter figure is taken"
            self._add("house/loosened", text, new.place, parameter.name)
            return False
        if not new.reason:
            text = f"{shown} loosens {parameter.name} from {usual} without a reason; {usual} stands"
            self._add("house/no-reason", text, new.place, parameter.name)
            return False
        return True

    def stand(self, rule_id: str, value: Any, place: Place) -> None:
        rule = self.known.get(rule_id) or MODEL_RULES.get(rule_id)
        if rule is None:
            if rule_id in FORMAT_RULES:
                text = f"{rule_id} tells what could not be read or does not resolve; it cannot be set"
                self._add("house/not-settable", text, place.key, rule_id)
            else:
                text = f"there is no rule {rule_id!r}{_meant(nearest(rule_id, [*self.known, *MODEL_RULES]))}"
                self._add("house/unknown-rule", text, place.key, rule_id)
            return
        if not isinstance(value, dict):
            return  # the schema tells
        written = value.get("level")
        level = Level(written) if written in list(Level) else rule.level
        off = value.get("off") is True
        at = place.child("off") if off else place.child("level") if "level" in value else place
        new = Stand(rule_id, level, off, at, _reason(value))
        stands = self.models if rule_id in MODEL_RULES else self.rules
        if self._may_be_so(new, rule, stands.get(rule_id)):
            stands[rule_id] = new

    def _may_be_so(self, new: Stand, rule: Rule, earlier: Stand | None) -> bool:
        does = "switches it off" if new.off else f"lowers it to {new.level.value}"
        if earlier is not None and new.rank < earlier.rank:
            text = f"{rule.id}: this {does}, and the file before asks for {earlier.level.value}; the stricter counts"
            self._add("house/loosened", text, new.place, rule.id, Related(earlier.place, "the stricter statement"))
            return False
        if new.rank >= rule.level.rank:
            return True
        if rule.life_safety:
            text = (
                f"{rule.id} bears on life safety: no house standard {does}; "
                "waive a finding at its opening, with the reason, where the authority has agreed"
            )
            self._add("house/loosened", text, new.place, rule.id)
            return False
        if not new.reason:
            text = f"{rule.id}: this {does} without a reason; the rule stays as it is"
            self._add("house/no-reason", text, new.place, rule.id)
            return False
        return True


def _reason(entry: Mapping[str, Any]) -> str:
    reason = entry.get("reason")
    return reason.strip() if isinstance(reason, str) else ""


def _meant(near: str) -> str:
    return f"; did you mean {near}?" if near else "; `doorlint house` lists what can be set"


def _read(text: str, parameter: Parameter) -> Fraction | str:
    """Raises QuantityError or IngressError."""
    if parameter.dimension == "ingress":
        return str(parse_ip(text))
    return parse_quantity(text, parameter.dimension).value


def _looser(new: Fraction | str, old: Fraction | str, parameter: Parameter) -> bool:
    """Whether `new` asks for less than `old`. Of IP codes: whether it does not cover the other in every digit."""
    if isinstance(new, str) or isinstance(old, str):
        return covers(parse_ip(str(new)), parse_ip(str(old))) is not True
    return new > old if parameter.stricter == "lower" else new < old
