"""What is shown about the key or value under the cursor."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from ..circuit.conductors import awg_area_mm2
from ..format_rules import FORMAT_RULES
from ..outcome import Kind, Outcome, Place, Practice, Step
from ..quantity import DIMENSIONS, Band, QuantityError, parse_band, parse_quantity, parse_wire_size, show
from ..report.text import figure
from ..rulebook import Rule
from ..spec.model import Opening
from . import format as spec_format
from .diagnostics import shown
from .judged import computed, owner_of
from .links import OWNERS, SECTIONS, Use, text_of
from .markdown import code, flow, words
from .spot import Spot, pointer, value_at
from .view import View

_FINDINGS: Final = 4
_WORKINGS: Final = 2
_OPENINGS: Final = 3
"""Openings of a set, or users of a product, whose working is looked through: it is the same in the others."""
_SHORT: Final = {Kind.OPEN: "open", Kind.REVIEW: "for the authority to decide"}


@dataclass(frozen=True, slots=True)
class Hover:
    """Markdown about a region of the text of now."""

    markdown: str
    start: int
    end: int


def hover(view: View, offset: int) -> Hover | None:
    """What there is to say about an offset; None where nothing is."""
    spot = view.spot(offset)
    if spot is None:
        return None
    inside = offset - spot.start
    blocks = [
        *_findings(view, offset),
        *_quantity(spot),
        *_referenced(view, spot, inside),
        *_format(spot),
        *_workings(view, spot),
    ]
    return Hover("\n\n".join(blocks), spot.start, spot.end) if blocks else None


# -- findings and their ground ---------------------------------------------------------------------


def _findings(view: View, offset: int) -> Iterator[str]:
    if view.result is None:
        return
    told: set[tuple[str, str]] = set()
    for outcome in shown(view.result):
        if outcome.place.file != view.name or len(told) >= _FINDINGS or (outcome.rule, outcome.message) in told:
            continue
        region = view.region(outcome.place)
        if region is None or not region[0] <= offset <= region[1] or "\n" in view.buffer.text[region[0] : offset]:
            continue
        told.add((outcome.rule, outcome.message))
        yield _finding(view, outcome)


def _finding(view: View, outcome: Outcome) -> str:
    level = _SHORT.get(outcome.kind, outcome.level.value)
    rule = rule_of(view, outcome.rule)
    lines = [f"**{words(rule.title if rule else outcome.rule)}** ({level}, {code(outcome.rule)})"]
    lines.append(words(f"{outcome.subject}: {outcome.message}"))
    if outcome.waived:
        lines.append(f"Waived: {words(outcome.waived)}")
    lines += [f"- ground: {words(str(ground))}" for ground in outcome.basis]
    steps = [line for step in outcome.working for line in _step(view, step)]
    if rule is not None and rule.life_safety:
        lines.append("- touches life safety: decide with the authority having jurisdiction")
    return "\n".join([*_paragraphs(lines), *steps])


def _paragraphs(lines: list[str]) -> Iterator[str]:
    """Lines of text apart, lines of a list together."""
    for index, line in enumerate(lines):
        if index and not (line.startswith("- ") and lines[index - 1].startswith("- ")):
            yield ""
        yield line


def rule_of(view: View, rule_id: str) -> Rule | None:
    """The declaration of a rule, or of a finding made while reading."""
    if view.result is not None:
        for rule in view.result.rulebook.rules:
            if rule.id == rule_id:
                return rule
    return FORMAT_RULES.get(rule_id)


# -- quantities ------------------------------------------------------------------------------------


def _quantity(spot: Spot) -> Iterator[str]:
    if spot.part != "value":
        return
    schema = spec_format.at(spot.tokens)
    found = spec_format.dimension(schema) if schema is not None else None
    if found is None or not isinstance(spot.value, str | int | float) or isinstance(spot.value, bool):
        return
    try:
        shown_as = list(_other_units(spot.value, *found))
    except QuantityError as error:
        yield words(f"{error.message}; expected {error.expected}, for example {error.example}")
        return
    if shown_as:
        yield f"{code(str(spot.value))} = " + " = ".join(words(text) for text in shown_as)


def _other_units(value: str | float, dimension: str, form: str) -> Iterator[str]:
    if form == "wire":
        size = parse_wire_size(str(value))
        if size.awg is not None:
            # ASTM B258: 36 AWG is 5 mil, 0000 AWG 460 mil, equal ratios between
            yield f"{awg_area_mm2(size.awg):.3g} mm2"
        return
    if form == "quantity":
        read = parse_quantity(value, dimension)
        yield from _units(dimension, read.text, (read.value,))
        return
    band = parse_band(value, dimension)
    if band.stated_band and band.nominal is not None:
        unit = _unit_of(band, dimension)
        yield f"{show(band.low, dimension, unit)} to {show(band.high, dimension, unit)}"
    yield from _units(dimension, band.text, (band.low, band.high) if band.stated_band else (band.low,))


def _unit_of(band: Band, dimension: str) -> str | None:
    return next((unit for unit in DIMENSIONS[dimension].units if f" {unit}" in f" {band.text}"), None)


def _units(dimension: str, written: str, values: tuple[Fraction, ...]) -> Iterator[str]:
    """The values in the other units of their dimension in which they read well."""
    kind = DIMENSIONS[dimension]
    names = dict.fromkeys(kind.units.values())
    for name in names:
        spellings = [spelling for spelling, unit in kind.units.items() if unit == name]
        if any(written.rstrip().endswith(spelling) and _is_unit(written, spelling) for spelling in spellings):
            continue
        texts = [show(value, dimension, spellings[0]) for value in values]
        numbers = [abs(float(text.removesuffix(spellings[0]))) for text in texts]
        if all(number == 0 or 0.01 <= number < 100_000 for number in numbers) and any(numbers):
            yield " to ".join(texts)


def _is_unit(written: str, spelling: str) -> bool:
    before = written.rstrip().removesuffix(spelling)[-1:]
    return not before.isalpha()


# -- references ------------------------------------------------------------------------------------


def _referenced(view: View, spot: Spot, inside: int) -> Iterator[str]:
    uses = view.ids.uses(view.part.document, spot.tokens, spot.part, spot.value)
    at = inside - (1 if view.buffer.text[spot.start : spot.start + 1] in ("'", '"') else 0)
    here = [use for use in uses if use.start <= at <= use.end] or list(uses)[:1]
    for use in here[-1:]:
        yield from _described(view, use, spot)


def _described(view: View, use: Use, spot: Spot) -> Iterator[str]:
    entity = use.entity
    if entity[0] == "rules":
        rule = rule_of(view, entity[1])
        if rule is not None:
            lines = [f"**{words(rule.title)}** ({rule.level.value})", words(rule.why)]
            lines += [f"- ground: {words(str(ground))}" for ground in rule.basis]
            yield "\n".join(_paragraphs([line for line in lines if line]))
        return
    found = view.ids.definitions(entity)
    if not found:
        return
    if entity[0] == "items":
        section, owner = (spot.tokens[0], spot.tokens[1]) if spot.tokens[0] in OWNERS else (entity[1], entity[2])
        value = view.ids.items(section, owner).get(entity[3], found[0].value)
        yield _data(f"{entity[3]}", value)
        product = text_of(value_at(value, ("product",)))
        sheet = view.ids.entry("products", product)
        if sheet is not None:
            yield _data(product, sheet)
    elif entity[0] == "openings":
        short = {key: value for key, value in _dict(found[0].value).items() if key != "items"}
        yield _data(entity[1], short)
    elif not (use.defines and entity[0] in ("products", "power", "cables")):
        yield _data(entity[-1], found[0].value)


def _dict(value: object) -> dict[str, object]:
    return value if isinstance(value, dict) else {}


def _data(name: str, value: object) -> str:
    """An entry of the spec as a list of what it states."""
    if not isinstance(value, dict):
        return f"**{words(name)}** {code(flow(value))}"
    title = value.get("title")
    head = f"**{words(name)}**" + (f" {words(str(title))}" if title is not None else "")
    lines = [f"- {words(key)}: {code(flow(child))}" for key, child in value.items() if key != "title"]
    return "\n".join([head, "", *lines]) if lines else head


# -- the format ------------------------------------------------------------------------------------


def _format(spot: Spot) -> Iterator[str]:
    schema = spec_format.at(spot.tokens)
    if schema is None:
        return
    if spot.part == "value":
        meaning = spec_format.words(schema).get(str(spot.value))
        if meaning:
            yield f"{code(str(spot.value))}: {words(meaning)}"
        return
    named = spot.tokens[-2] if len(spot.tokens) > 1 else ""
    if named in (*SECTIONS, "items", "outputs", "contacts", "coils", "formats"):
        return  # a name of the author's own; what it means is what it states
    example = next(iter(schema.get("examples", ())), None)
    text = f"**{words(str(schema.get('title', spot.tokens[-1])))}** {words(str(schema.get('description', '')))}"
    yield text + (f" Example: {code(flow(example))}" if example is not None else "")


# -- working ---------------------------------------------------------------------------------------


def _workings(view: View, spot: Spot) -> Iterator[str]:
    """The calculations that the value under the cursor enters."""
    if view.result is None or spot.part != "value":
        return
    place = Place(view.name, pointer(spot.tokens))
    told: set[tuple[str, str]] = set()
    entering = [o for o in computed(view.result, _owners(view, spot)) if _enters(o, place)]
    for outcome in sorted(entering, key=lambda o: o.kind is not Kind.FAIL):
        if len(told) >= _WORKINGS:
            yield words(f"It enters {len(entering) - _WORKINGS} more calculations: see `doorlint working`.")
            return
        if (outcome.rule, outcome.what) not in told:
            told.add((outcome.rule, outcome.what))
            yield _working(view, outcome)


def _enters(outcome: Outcome, place: Place) -> bool:
    return any(term.place is not None and term.place == place for step in outcome.working for term in step.terms)


def _owners(view: View, spot: Spot) -> list[str]:
    """The openings and sources whose calculations a value can enter; of many that are alike the first few."""
    section, key = spot.tokens[0], spot.tokens[1] if len(spot.tokens) > 1 else ""
    spec = view.result.spec if view.result is not None else None
    if spec is None:
        return []
    if section == "openings":
        items = spec.openings[key].items.values() if key in spec.openings else ()
        fed = {owner_of(name) for item in items for name in _names(item.fed_from)}
        return [key, *sorted(name for name in fed if name in spec.power)]
    found = [name for name, opening in spec.openings.items() if _concerned(section, key, opening)][:_OPENINGS]
    return [key, *found] if section == "power" else found


def _concerned(section: str, key: str, opening: Opening) -> bool:
    """Whether an entry of a section has a part in an opening."""
    items = opening.items.values()
    if section == "hardware_sets":
        return opening.set == key
    if section == "products":
        return any(item.product == key for item in items)
    if section == "cables":
        return any(item.cable == key for item in items)
    return section == "power" and any(owner_of(name) == key for item in items for name in _names(item.fed_from))


def _names(value: object) -> tuple[str, ...]:
    return value if isinstance(value, tuple) else ()


def _working(view: View, outcome: Outcome) -> str:
    rule = rule_of(view, outcome.rule)
    head = f"**{words(outcome.subject)}**: {words(outcome.message)} ({code(outcome.rule)})"
    lines = [head, ""]
    for step in outcome.working:
        lines += _step(view, step)
    if rule is not None:
        lines += [f"- ground: {words(str(ground))}" for ground in outcome.basis if not isinstance(ground, Practice)]
    return "\n".join(lines)


def _step(view: View, step: Step) -> Iterator[str]:
    value = step.result if isinstance(step.result, str) else figure(step.result)
    yield f"- {words(step.name)} = {words(step.formula)} = {words(value)}"
    for term in step.terms:
        yield f"  - {words(term.name)}: {words(term.text)}{_source(view, term.place)}"


def _source(view: View, place: Place | None) -> str:
    if place is None:
        return ""
    region = view.region(place)
    part = view.parts.get(place.file)
    if region is None or part is None:
        return ""
    line = len(part.text[: region[0]].replace("\r\n", "\n").replace("\r", "\n").split("\n"))
    name = part.path.name if part.path is not None else place.file
    return f" ({words(name)}:{line})"
