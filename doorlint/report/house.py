"""The settings in effect: every parameter with its value and where that comes from, every rule with its level."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from ..model_rules import MODEL_RULES
from ..outcome import Kind, Place
from .text import plain, where

if TYPE_CHECKING:
    from ..reviewing import Result
    from ..rulebook import Parameter, Rule

DEFAULT = "default"


def render(result: Result) -> str:
    """The settings as text. `default` stands where no house standard says otherwise."""
    return "".join(f"{plain(line).rstrip()}\n" for line in _lines(result))


def render_json(result: Result) -> str:
    """The settings as JSON: an object with spec, house (files), parameters and rules, in the order of their names.

    A parameter has name, title, value, default, stricter (lower, higher), rules, and where it is set: place and
    reason. A rule has id, level, off, default_level, and where it is set: place and reason.
    """
    book, settings = result.rulebook, result.settings
    data = {
        "spec": result.root,
        "house": list(result.files.house) if result.files is not None else [],
        "parameters": [_parameter(result, parameter) for parameter in book.parameters.values()],
        "rules": [
            {
                "id": rule.id,
                "level": settings.level(rule).value,
                "off": rule.id in settings.off or rule.id in settings.models_off,
                "default_level": rule.level.value,
                **_set(result, settings.rules.get(rule.id) or settings.models.get(rule.id)),
            }
            for rule in [*book.rules, *MODEL_RULES.values()]
        ],
    }
    return json.dumps(data, ensure_ascii=True, indent=1) + "\n"


def _parameter(result: Result, parameter: Parameter) -> dict[str, Any]:
    figure = result.settings.figures.get(parameter.name)
    return {
        "name": parameter.name,
        "title": parameter.title,
        "value": parameter.show(figure.value if figure is not None else parameter.default),
        "default": parameter.show(parameter.default),
        "stricter": parameter.stricter,
        "rules": _users(result, parameter),
        **_set(result, figure),
    }


def _set(result: Result, one: Any) -> dict[str, Any]:
    return {} if one is None else {"place": _position(result, one.place), "reason": one.reason}


def _users(result: Result, parameter: Parameter) -> list[str]:
    return [rule.id for rule in result.rulebook.rules if parameter in rule.parameters]


def _position(result: Result, place: Place) -> str:
    found = where(result, place)
    return f"{place.file}:{found.line}:{found.column}" if found is not None else place.file


def _lines(result: Result) -> Iterator[str]:
    settings, house = result.settings, result.files.house if result.files is not None else ()
    yield f"Settings of {result.root}"
    yield f"House standards: {', '.join(house)}" if house else "House standards: none (project: house: names them)"
    yield ""
    parameters = list(result.rulebook.parameters.values())
    name_size = max((len(parameter.name) for parameter in parameters), default=0)
    yield f"{'parameter':<{name_size}}  {'value':>9}  {'default':>9}  stricter  from"
    for parameter in parameters:
        figure = settings.figures.get(parameter.name)
        usual = parameter.show(parameter.default)
        value = parameter.show(figure.value) if figure is not None else usual
        origin = _origin(result, figure.place, figure.reason) if figure is not None else DEFAULT
        yield f"{parameter.name:<{name_size}}  {value:>9}  {usual:>9}  {parameter.stricter:<8}  {origin}"
    yield ""
    rules = [*result.rulebook.rules, *MODEL_RULES.values()]
    id_size = max((len(rule.id) for rule in rules), default=0)
    yield f"{'rule':<{id_size}}  {'level':<7}  from"
    for rule in rules:
        yield f"{rule.id:<{id_size}}  {_level(result, rule)}"
    yield ""
    off = len(settings.off) + len(settings.models_off)
    changed = len(settings.rules) + len(settings.models) - off
    figures = len(settings.figures)
    yield (f"{len(parameters)} parameters, {figures} set; {len(rules)} rules, {changed} with a level set, {off} off.")
    refused = [o for o in result.outcomes if o.kind is Kind.FAIL and o.rule.startswith("house/")]
    if refused:
        yield f"{len(refused)} entries of the house standards are not taken; `doorlint review` says why."


def _level(result: Result, rule: Rule) -> str:
    stand = result.settings.rules.get(rule.id) or result.settings.models.get(rule.id)
    if stand is None:
        return f"{rule.level.value:<7}  {DEFAULT}"
    word = "off" if stand.off else stand.level.value
    return f"{word:<7}  {_origin(result, stand.place, stand.reason)} (default {rule.level.value})"


def _origin(result: Result, place: Place, reason: str) -> str:
    return f"{_position(result, place)}" + (f": {reason}" if reason else "")
