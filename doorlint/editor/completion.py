"""What may be written at the cursor: the keys of the format, its words, and the ids of the spec."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from . import format as spec_format
from .links import OWNERS, Ids, text_of
from .markdown import flow, words, written
from .spot import value_at
from .typing_at import Typing, typing_at
from .view import View

Kind = Literal["key", "word", "id", "rule"]

_FED: Final = frozenset({"fed_from"})
_CONTACTS: Final = frozenset({"switched_by", "released_by"})
_ITEMS: Final = frozenset({"shares_return_with", "shares_cable_with", "actuated_by", "signals", "through_transfer"})


@dataclass(frozen=True, slots=True)
class Offer:
    """One proposal: `text` replaces the text of now from `start` to `end`. `detail`: a few words. `about`: Markdown."""

    label: str
    text: str
    start: int
    end: int
    kind: Kind
    detail: str = ""
    about: str = ""
    rank: int = 0


@dataclass(frozen=True, slots=True)
class _Choice:
    label: str
    detail: str = ""
    about: str = ""
    kind: Kind = "id"
    rank: int = 0


def complete(view: View, offset: int) -> tuple[Offer, ...]:
    """The proposals at an offset, the likeliest first. All replace the same stretch, the whole word at the cursor."""
    found = typing_at(view.buffer.text, offset)
    if found is None:
        return ()
    schema = spec_format.at(found.path)
    if found.what == "key" and schema is not None and not _is_mapping(schema):
        # on a line of its own below its key, or after a dash, stands a value
        key = found.path[-1] if found.path else ""
        found = Typing(found.path, "value", key, found.start, found.end, found.siblings, found.flow)
        return _values(view, found, found.path, schema)
    if found.what == "key":
        return _keys(view, found, schema)
    way = found.path if found.listed else (*found.path, found.key)
    return _values(view, found, way, spec_format.at(way))


def _is_mapping(schema: Mapping[str, Any]) -> bool:
    return spec_format.takes(schema, "object")


# -- keys ------------------------------------------------------------------------------------------


def _keys(view: View, found: Typing, schema: Mapping[str, Any] | None) -> tuple[Offer, ...]:
    if schema is None:
        return ()
    offers = []
    stated: dict[str, Any] = dict(found.siblings)
    for key, value in sorted(spec_format.keys(schema, stated).items()):
        about = words(str(value.get("description", "")))
        if examples := value.get("examples"):
            about += f"\n\nExample: `{flow(examples[0])}`"
        nested = spec_format.takes(value, "object") and not spec_format.takes(value, "string") and not found.flow
        text = key if found.colon else f"{key}:" if nested else f"{key}: "
        required = key in schema.get("required", ())
        rank = 0 if required else 1
        offers.append(Offer(key, text, found.start, found.end, "key", str(value.get("title", "")), about, rank))
    if found.path[:1] in (("openings",), ("hardware_sets",)) and found.path[2:] == ("items",):
        offers += _overrides(view.ids, found)
    return tuple(offers)


def _overrides(ids: Ids, found: Typing) -> Iterator[Offer]:
    """The set's items, which an opening may add to."""
    if found.path[0] != "openings":
        return
    for name, value in ids.items(*found.path[:2]).items():
        if name not in found.siblings:
            text = written(name) if found.colon else f"{written(name)}: "
            detail = text_of(value_at(value, ("product",)))
            yield Offer(name, text, found.start, found.end, "id", detail, "An item of the hardware set.")


# -- values ----------------------------------------------------------------------------------------


def _values(
    view: View, found: Typing, way: tuple[str, ...], schema: Mapping[str, Any] | None
) -> tuple[Offer, ...]:
    if schema is None:
        return ()
    choices = [*_ids(view, found, way)]
    meanings = spec_format.words(schema)
    choices += [
        _Choice(word, "", words(meaning), "word", 9 if word == "unknown" else 1) for word, meaning in meanings.items()
    ]
    if "suppression" in way[-2:] and len(way) == 5:
        choices.append(_Choice("none", "nothing limits the coil's voltage", "", "word", 8))
    if not choices and way[:2] == ("project", "codes"):
        choices = [_Choice(str(one), "an edition with figures", "", "word") for one in schema.get("examples", ())]
    if "unknown" not in meanings and choices and way[0] != "waivers":
        choices.append(_Choice("unknown", "", "The author knows that this is missing.", "word", 9))
    return tuple(_offer(view, found, choice) for choice in choices)


def _offer(view: View, found: Typing, choice: _Choice) -> Offer:
    begun = view.buffer.text[found.start : found.start + 1]
    text = choice.label if choice.kind == "word" else written(choice.label, number=True)
    if begun in ("'", '"') and text[:1] != begun:
        # the word was begun with a quote, and an editor compares what it replaces with what it is offered
        text = f"{begun}{choice.label}{begun}"
    text = f" {text}" if found.spaced else text
    return Offer(choice.label, text, found.start, found.end, choice.kind, choice.detail, choice.about, choice.rank)


def _ids(view: View, found: Typing, way: tuple[str, ...]) -> Iterator[_Choice]:
    """The ids that a value may name."""
    ids = view.ids
    field = way[-2] if way[-1].isdecimal() else way[-1]
    if way[0] == "waivers" and len(way) == 3:
        yield from _in_waiver(view, found, field)
    elif way[0] == "power" and len(way) > 2 and field in ("fed_from", "bonded_with"):
        yield from _section(ids, "power", leave_out=way[1])
    elif way[0] == "openings" and len(way) in (3, 4) and field == "set":
        yield from _section(ids, "hardware_sets")
        yield _Choice("none", "the items stand here alone", "", "word", 8)
    elif way[0] == "openings" and len(way) in (3, 4) and field == "interlocked_with":
        yield from _section(ids, "openings", leave_out=way[1])
    elif way[0] in OWNERS and len(way) > 4 and way[2] == "items":
        yield from _in_item(ids, found, way, field)


def _section(ids: Ids, section: str, leave_out: str = "") -> Iterator[_Choice]:
    for key, entry in ids.sections[section].items():
        if key != leave_out:
            kind, title = (text_of(value_at(entry.value, (name,))) for name in ("kind", "title"))
            yield _Choice(key, kind or title, words(title))


def _in_waiver(view: View, found: Typing, field: str) -> Iterator[_Choice]:
    if field == "opening":
        yield from _section(view.ids, "openings")
    elif field == "item":
        for name, value in view.ids.items("openings", found.siblings.get("opening", "")).items():
            yield _Choice(name, text_of(value_at(value, ("product",))))
    elif field == "rule" and view.result is not None:
        for rule in view.result.rulebook.rules:
            yield _Choice(rule.id, rule.title, words(rule.why), "rule")


def _in_item(ids: Ids, found: Typing, way: tuple[str, ...], field: str) -> Iterator[_Choice]:
    section, owner, item = way[0], way[1], way[3]
    if way[4] == "suppression" and (len(way) == 5 or field == "product"):
        for choice in _section(ids, "products"):
            if choice.detail == "suppressor":
                yield choice
    elif field == "product" and len(way) == 5:
        yield from _section(ids, "products")
    elif field == "cable" and len(way) == 5:
        yield from _section(ids, "cables")
    elif field in _FED:
        yield from _terminals(ids, section, owner, item, "outputs")
    elif field in _CONTACTS:
        yield from _terminals(ids, section, owner, item, "contacts")
    elif field == "coil_setting":
        product = found.siblings.get("product") or ids.product_of(section, owner, item)
        coils = value_at(ids.entry("products", product), ("coils",))
        yield from (_Choice(name, flow(value)) for name, value in _dict(coils).items())
    elif field in _ITEMS:
        for name, value in ids.items(section, owner).items():
            product = text_of(value_at(value, ("product",)))
            kind = text_of(value_at(ids.entry("products", product), ("kind",)))
            if name != item and (field != "through_transfer" or kind == "power_transfer"):
                yield _Choice(name, product, words(kind))


def _terminals(ids: Ids, section: str, owner: str, item: str, part: str) -> Iterator[_Choice]:
    """`rc.lock` and `psu-1.3`, or `rc.relay.no`: the outputs or contacts of the devices here and of the sources."""
    for name, value in ids.items(section, owner).items():
        if name != item:
            sheet = ids.entry("products", text_of(value_at(value, ("product",))))
            for output, data in _dict(value_at(sheet, (part,))).items():
                yield from _terminal(f"{name}.{output}", data, part, 0)
    for key, source in ids.sections["power"].items():
        outputs = _dict(value_at(source.value, (part,)))
        for output, data in outputs.items():
            yield from _terminal(f"{key}.{output}", data, part, 2)
        if not outputs and part == "outputs":
            yield _Choice(key, text_of(value_at(source.value, ("kind",))), rank=2)


def _terminal(label: str, data: Any, part: str, rank: int) -> Iterator[_Choice]:
    detail = flow(data, 80)
    if part == "outputs":
        yield _Choice(label, detail, rank=rank)
        return
    form = text_of(value_at(data, ("form",)))
    for terminal in {"no": ("no",), "nc": ("nc",)}.get(form, ("no", "nc")):
        yield _Choice(f"{label}.{terminal}", detail, rank=rank)


def _dict(value: Any) -> Mapping[str, Any]:
    return value if isinstance(value, dict) else {}
