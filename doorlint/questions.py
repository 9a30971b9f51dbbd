"""What is open, as questions: one for each missing datum, to the one party that furnishes what it belongs to."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from .format_rules import FORMAT_RULES
from .outcome import Kind, Level, Outcome, Place
from .reviewing import Result
from .schema import schema_text
from .spec.model import Item, Spec

SPECIFIER = "specifier"
"""Who answers for the project and the openings themselves: the author of the spec."""
UNNAMED = ""
"""The party where the spec names nobody with `furnished_by`."""


@dataclass(frozen=True, slots=True)
class Decides:
    """A rule that waits for the answer, and the subjects that it waits for."""

    rule: str
    title: str
    level: Level
    subjects: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    party: who is asked ("" where nobody is named). name: the field as the format calls it, or what is missing in
    words. about: what it belongs to, in words. place: where the answer is to be written, or what it belongs to.
    title, meaning and example: the field's, from the schema ("" where the schema has none). subjects: what waits for
    it. decides: the rules that it would decide, the gravest first.
    """

    party: str
    name: str
    about: str
    place: Place
    title: str
    meaning: str
    example: str
    subjects: tuple[str, ...]
    decides: tuple[Decides, ...]

    @property
    def level(self) -> Level:
        """The gravest level among what it decides."""
        return max((one.level for one in self.decides), key=lambda level: level.rank)

    @property
    def text(self) -> str:
        """The question in one sentence."""
        return f"What is the {self.title} of {self.about}?" if self.title else f"{self.about}: {self.name}?"


def questions(result: Result) -> tuple[Question, ...]:
    """The questions of a review: by party (unnamed last), the gravest first, then in the order of the spec.

    Every open outcome is in at least one: an outcome that names no field is asked for with its message.
    """
    groups: dict[tuple[str, str, str], list[Outcome]] = {}
    places: dict[tuple[str, str, str], Place] = {}
    for outcome in result.outcomes:
        if outcome.kind is not Kind.OPEN:
            continue
        for name in outcome.missing or (outcome.message,):
            owner = _owner_pointer(outcome.place, name)
            key = (outcome.place.file, owner, name)
            groups.setdefault(key, []).append(outcome)
            places.setdefault(key, outcome.place)
    made = [_question(result, key[2], key[1], places[key], waiting) for key, waiting in groups.items()]
    # sorted keeps the order of the spec among equals
    return tuple(sorted(made, key=lambda question: (question.party == UNNAMED, question.party, -question.level.rank)))


def _question(result: Result, name: str, owner: str, place: Place, waiting: list[Outcome]) -> Question:
    titles = {rule.id: rule.title for rule in (*FORMAT_RULES.values(), *result.rulebook.rules)}
    by_rule: dict[str, list[Outcome]] = {}
    for outcome in waiting:
        by_rule.setdefault(outcome.rule, []).append(outcome)
    decides = tuple(
        Decides(rule, titles.get(rule, rule), outcomes[0].level, tuple(dict.fromkeys(o.subject for o in outcomes)))
        for rule, outcomes in by_rule.items()
    )
    title, meaning, example = described(f"{owner}/{name}")
    return Question(
        party=_party(result.spec, owner, waiting[0].subject),
        name=name,
        about=_about(owner, result.root),
        place=place,
        title=title,
        meaning=meaning,
        example=example,
        subjects=tuple(dict.fromkeys(outcome.subject for outcome in waiting)),
        decides=tuple(sorted(decides, key=lambda one: (-one.level.rank, one.rule))),
    )


def _owner_pointer(place: Place, name: str) -> str:
    """The pointer of the mapping that the field belongs to: the place is either the field (`unknown` stands there) or,
    where the field is not written, the key of its owner."""
    head, _, last = place.pointer.rpartition("/")
    return head if place.part == "value" and _plain(last) == name.rstrip("_") else place.pointer


def _plain(token: str) -> str:
    return token.replace("~1", "/").replace("~0", "~")


def _tokens(pointer: str) -> list[str]:
    return [_plain(token) for token in pointer.split("/")[1:]]


# --- who is asked ---


def _party(spec: Spec | None, pointer: str, subject: str) -> str:
    """Who furnishes what the pointer leads into; for an item without a word of its own, who furnishes its product."""
    tokens = _tokens(pointer)
    section, name = (tokens[0] if tokens else ""), (tokens[1] if len(tokens) > 1 else "")
    if spec is None or section in ("", "project", "doorlint"):
        return SPECIFIER
    item = _item(spec, subject)
    named: list[object] = []
    if section == "products":
        product = spec.products.get(name)
        named = [product.furnished_by if product else None]
        # the same product may be furnished by the one who furnishes the item
        if item is not None and item.product == name:
            named.append(item.furnished_by)
    elif section == "power":
        source = spec.power.get(name)
        named = [source.furnished_by if source else None]
    elif section == "cables":
        named = [item.furnished_by if item else None]  # the cable that feeds the item comes with it
    elif len(tokens) > 3 and tokens[2] == "items":
        if section == "openings" and name in spec.openings:
            item = spec.openings[name].items.get(tokens[3], item)
        named = [item.furnished_by, item.sheet.furnished_by if item.sheet else None] if item is not None else []
    elif section in ("openings", "hardware_sets"):
        return SPECIFIER
    return next((party.strip() for party in named if isinstance(party, str) and party.strip()), UNNAMED)


def _item(spec: Spec, subject: str) -> Item | None:
    for opening in spec.openings.values():
        if subject.startswith(f"{opening.id}/"):
            rest = subject[len(opening.id) + 1 :]
            for name in sorted(opening.items, key=len, reverse=True):
                if rest == name or rest.startswith((f"{name}.", f"{name}:", f"{name}/")):
                    return opening.items[name]
    return None


# --- in words ---

_SECTIONS = {
    "products": "product",
    "power": "power source",
    "cables": "cable",
    "hardware_sets": "hardware set",
    "openings": "opening",
}


def _about(pointer: str, root: str) -> str:
    """"/openings/114A/items/lock" reads "opening 114A, lock"."""
    tokens = _tokens(pointer)
    if not tokens:
        return f"the spec {root}"
    if tokens[0] not in _SECTIONS:
        return "the " + ", ".join(token.replace("_", " ") for token in tokens)
    if len(tokens) == 1:
        return tokens[0].replace("_", " ")
    rest = [token for token in tokens[2:] if token not in ("items", "coils", "outputs", "contacts", "inputs")]
    return ", ".join((f"{_SECTIONS[tokens[0]]} {tokens[1]}", *(token.replace("_", " ") for token in rest)))


def described(pointer: str) -> tuple[str, str, str]:
    """Title (with a small first letter where it is no abbreviation), description and an example of the field that a
    pointer leads to, from the schema; three empty texts where the schema has no such field."""
    root = _schema()
    here: Any = root
    for token in _tokens(pointer):
        here = _below(_resolved(here, root), token)
        if here is None:
            return "", "", ""
    if not here.get("title"):
        here = _resolved(here, root)
    title = str(here.get("title", ""))
    if title[1:2].islower():
        title = title[0].lower() + title[1:]
    examples = here.get("examples") or [""]
    example = examples[0] if isinstance(examples[0], str | int) else ""
    return title, str(here.get("description", "")), str(example)


@cache
def _schema() -> Mapping[str, Any]:
    import json

    tree: Mapping[str, Any] = json.loads(schema_text("spec"))
    return tree


def _resolved(shape: Mapping[str, Any], root: Mapping[str, Any]) -> Mapping[str, Any]:
    reference = shape.get("$ref")
    if isinstance(reference, str) and reference.startswith("#/$defs/"):
        found: Mapping[str, Any] = root["$defs"][reference.rpartition("/")[2]]
        return found
    return shape


def _below(shape: Mapping[str, Any], token: str) -> Mapping[str, Any] | None:
    found = shape.get("properties", {}).get(token)
    if found is None:
        found = shape.get("additionalProperties")
    if found is None and token.isdecimal():
        found = shape.get("items")
    return found if isinstance(found, dict) else None
