"""The check of a document against the format, in words for the author of the spec.

The schemas in `schemas/` are the contract. They use a small part of JSON Schema (draft 2020-12), which is walked
here directly: a general validator costs more time than the rest of the review of a large spec, and tells faults
in the words of JSON Schema. The tests hold this walk to a general validator's verdict, on valid and on broken
trees. It is stricter in two points, both because YAML text loses its form: a number with a decimal point is no whole
number (`2.0`), and a whole number whose text differs from it is no text (room `010`).

Keywords of our own, which other programs ignore: `x-words` (the meaning of each word of a closed list), `x-synonyms`
(what people also call them), `x-dimension`, `x-form` and `x-unit` (a quantity; its grammar is the spec reader's),
`x-name` (what a mapping is called in a message), `x-belongs-to` and `x-because` (why a key may not stand here).
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any, Final, Literal, TypeAlias

from .document import Document
from .spelling import nearest, plain

_TYPES: Final[dict[str, tuple[type, ...]]] = {
    "string": (str,),
    "integer": (int,),
    "number": (int, float),
    "boolean": (bool,),
    "object": (dict,),
    "array": (list,),
}
_ANNOTATIONS: Final = frozenset({"$schema", "$id", "$defs", "title", "description", "examples"})
_ONLY_UNKNOWN: Final = "^unknown$"
_MOST_LISTED: Final = 12
_FLAGS: Final = {"yes": "true", "on": "true", "y": "true", "no": "false", "off": "false", "n": "false"}

Path_: TypeAlias = "tuple[Path_, str | int] | None"
"""Where a value stands: (place of what holds it, key or index); None for the whole document."""


@dataclass(frozen=True, slots=True)
class SchemaFinding:
    """One fault against the format. `suggestion` is the text to write instead, where it is certain enough."""

    rule: str
    message: str
    pointer: str
    part: Literal["key", "value"]
    suggestion: str = ""


# -- the schema, made ready ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Shape:
    """One schema with its references resolved. `raw` holds its keywords for the messages. `free`: the types of values
    that it asks nothing further of."""

    raw: dict[str, Any]
    types: frozenset[type] | None = None
    enum: frozenset[tuple[type, Any]] | None = None
    pattern: re.Pattern[str] | None = None
    minimum: int | None = None
    maximum: int | None = None
    min_length: int = 0
    min_items: int = 0
    required: tuple[str, ...] = ()
    properties: dict[str, _Shape | None] = field(default_factory=dict)
    names: _Shape | None = None
    others: _Shape | Literal[False] | None = None
    items: _Shape | None = None
    negated: _Shape | None = None
    also: tuple[_Shape, ...] = ()
    when: _Shape | None = None
    then: _Shape | None = None
    free: frozenset[type] = frozenset()


def schema_text(name: str) -> str:
    """The text of `schemas/<name>.schema.json`, as installed or, without installation, from the source tree.

    Raises FileNotFoundError for a name that is no schema of doorlint.
    """
    file = f"{name}.schema.json"
    try:
        from importlib.resources import files

        return files("doorlint.schemas").joinpath(file).read_text(encoding="utf-8")
    except ModuleNotFoundError:
        return (Path(__file__).parent.parent / "schemas" / file).read_text(encoding="utf-8")


@cache
def _shape_of(name: str) -> _Shape:
    whole = json.loads(schema_text(name))
    return _Maker(whole["$defs"]).shape(whole)


class _Maker:
    """Makes shapes of schemas. Raises ValueError for a keyword that the walk does not know, so that a schema
    cannot demand what is not checked."""

    def __init__(self, defs: dict[str, Any]) -> None:
        self.defs = defs
        self.made: dict[str, _Shape] = {}

    def ref(self, ref: str) -> _Shape:
        name = ref.removeprefix("#/$defs/")
        if name not in self.made:
            self.made[name] = self.shape(self.defs[name])
        return self.made[name]

    def maybe(self, schema: Any) -> _Shape | None:
        return None if schema is None or schema is True else self.shape(schema)

    def shape(self, schema: dict[str, Any]) -> _Shape:
        demands = {key: value for key, value in schema.items() if key not in _ANNOTATIONS and key[:2] != "x-"}
        ref = demands.pop("$ref", None)
        if ref is not None and not demands:
            target = self.ref(ref)
            return replace(target, raw={**target.raw, **schema})
        types = demands.pop("type", None)
        listed = [types] if isinstance(types, str) else types
        enum = demands.pop("enum", None)
        pattern = demands.pop("pattern", None)
        others = demands.pop("additionalProperties", None)
        also = [self.shape(one) for one in demands.pop("allOf", ())]
        raw = schema
        if ref is not None:
            target = self.ref(ref)
            also.insert(0, target)
            raw = {**target.raw, **schema}
        made = _Shape(
            raw=raw,
            types=None if listed is None else frozenset(t for name in listed for t in _TYPES[name]),
            enum=None if enum is None else frozenset((type(value), value) for value in enum),
            pattern=None if pattern is None else re.compile(pattern),
            minimum=demands.pop("minimum", None),
            maximum=demands.pop("maximum", None),
            min_length=demands.pop("minLength", 0),
            min_items=demands.pop("minItems", 0),
            required=tuple(demands.pop("required", ())),
            properties={
                key: None if value is False else self.shape(value)
                for key, value in demands.pop("properties", {}).items()
            },
            names=self.maybe(demands.pop("propertyNames", None)),
            others=False if others is False else self.maybe(others),
            items=self.maybe(demands.pop("items", None)),
            negated=self.maybe(demands.pop("not", None)),
            also=tuple(also),
            when=self.maybe(demands.pop("if", None)),
            then=self.maybe(demands.pop("then", None)),
        )
        if demands:
            raise ValueError(f"the schema uses keywords that are not checked: {', '.join(sorted(demands))}")
        return replace(made, free=_free(made))


def _free(shape: _Shape) -> frozenset[type]:
    """The types of values of which a shape asks nothing but their type."""
    simple = shape.enum is None and shape.negated is None and shape.then is None and not shape.also
    if shape.types is None or not simple:
        return frozenset()
    asked: set[type] = {dict, list}
    if shape.pattern is not None or shape.min_length:
        asked.add(str)
    if shape.minimum is not None or shape.maximum is not None:
        asked |= {int, float}
    elif str in shape.types:
        asked.add(int)  # whose text may differ from it
    return shape.types - asked


# -- the walk --------------------------------------------------------------------------------------

_Said: TypeAlias = tuple[str, str, str]
"""(rule, message, suggestion)."""
_Fault: TypeAlias = tuple[str, _Shape, Any, Path_, str]
"""(what, the shape that is violated, the value, its path, the key concerned or "")."""


class _Faults(list[_Fault]):
    """The faults met on one walk. fine: by its id, a shape, with a text or the id of another value, that held: lines
    that say the same are one value in the tree, which outlives the walk, and are looked at once."""

    def __init__(self, fine: set[tuple[int, str | int]]) -> None:
        self.fine = fine


def _walk(shape: _Shape, value: Any, path: Path_, faults: _Faults) -> None:
    kind = type(value)
    if shape.types is not None and kind not in shape.types:
        faults.append(("type", shape, value, path, ""))
        return
    if shape.enum is not None and (kind is dict or kind is list or (kind, value) not in shape.enum):
        faults.append(("enum", shape, value, path, ""))
        return
    if kind is str:
        if shape.pattern is not None and shape.pattern.search(value) is None:
            faults.append(("pattern", shape, value, path, ""))
        elif len(value) < shape.min_length:
            faults.append(("short", shape, value, path, ""))
    elif kind is dict:
        _walk_mapping(shape, value, path, faults)
    elif kind is list:
        if len(value) < shape.min_items:
            faults.append(("short", shape, value, path, ""))
        if shape.items is not None:
            for index, one in enumerate(value):
                _walk(shape.items, one, (path, index), faults)
    elif kind is int or kind is float:
        low, high = shape.minimum, shape.maximum
        if (low is not None and value < low) or (high is not None and value > high):
            faults.append(("range", shape, value, path, ""))
        elif kind is int and shape.types is not None and str in shape.types and not shape.pattern:
            faults.append(("form", shape, value, path, ""))
    for one in shape.also:
        _walk(one, value, path, faults)
    if shape.negated is not None and _holds(shape.negated, value, faults.fine):
        faults.append(("not", shape, value, path, ""))
    if shape.when is not None and shape.then is not None and _holds(shape.when, value, faults.fine):
        _walk(shape.then, value, path, faults)


def _walk_mapping(shape: _Shape, value: dict[str, Any], path: Path_, faults: _Faults) -> None:
    for key in shape.required:
        if key not in value:
            faults.append(("missing", shape, value, path, key))
    properties, others, names, fine = shape.properties, shape.others, shape.names, faults.fine
    if not properties and others is None and names is None:
        return
    for key, child in value.items():
        if key in properties:
            known = properties[key]
            if known is None:
                faults.append(("belongs", shape, value, path, key))
                continue
        else:
            if others is False:
                faults.append(("unknown", shape, value, path, key))
                continue
            if names is not None and (id(names), key) not in fine:
                if _holds(names, key, fine):
                    fine.add((id(names), key))
                else:
                    faults.append(("name", names, value, path, key))
            if others is None:
                continue
            known = others
        kind = type(child)
        if kind in known.free or (mark := (id(known), child if kind is str else id(child))) in fine:
            continue
        before = len(faults)
        _walk(known, child, (path, key), faults)
        if len(faults) == before:
            fine.add(mark)


def _holds(shape: _Shape, value: Any, fine: set[tuple[int, str | int]]) -> bool:
    faults = _Faults(fine)
    _walk(shape, value, None, faults)
    # a form needs the text; it decides no condition
    return not faults or all(fault[0] == "form" for fault in faults)


# -- the words -------------------------------------------------------------------------------------


def check(document: Document, schema_name: str = "spec") -> tuple[SchemaFinding, ...]:
    """Every fault of the document against a schema, in the order of the walk, one finding for each.

    Never raises for any tree. An empty document is one that lacks the keys required.
    """
    faults = _Faults(set())
    tree = {} if document.tree is None else document.tree
    _walk(_shape_of(schema_name), tree, None, faults)
    if not faults:
        return ()
    voice = _Voice(document)
    found = [finding for fault in faults if (finding := voice.finding(fault)) is not None]
    return tuple(_without_echoes(found))


def _without_echoes(found: list[SchemaFinding]) -> Iterator[SchemaFinding]:
    """One finding for each fault: a misspelt key is not missing as well, and what stands under a key that does
    not belong is not judged."""
    misspelt = {
        f"{finding.pointer.rpartition('/')[0]}/{_escaped(finding.suggestion)}"
        for finding in found
        if finding.rule == "format/unknown-key" and finding.suggestion
    }
    out = [finding.pointer for finding in found if finding.rule == "format/does-not-belong"]
    seen: set[tuple[str, str]] = set()
    for finding in found:
        rule, pointer = finding.rule, finding.pointer
        if rule == "format/missing-key":
            if f"{pointer}/{_escaped(finding.suggestion.partition(':')[0])}" in misspelt:
                continue
            yield finding
            continue
        if rule != "format/does-not-belong" and any(pointer == o or pointer.startswith(o + "/") for o in out):
            continue
        if (pointer, finding.part) in seen:
            continue
        seen.add((pointer, finding.part))
        yield finding


def _escaped(key: str | int) -> str:
    return str(key).replace("~", "~0").replace("/", "~1")


def _pointer(path: Path_) -> str:
    tokens: list[str] = []
    while path is not None:
        path, key = path
        tokens.append(_escaped(key))
    return "".join(f"/{token}" for token in reversed(tokens))


class _Voice:
    """Says faults in words."""

    def __init__(self, document: Document) -> None:
        self.document = document

    def finding(self, fault: _Fault) -> SchemaFinding | None:
        """The fault in words; None where the text shows that there is none."""
        what, shape, value, path, key = fault
        if what in ("unknown", "belongs", "name"):
            rule, text, better = {"unknown": _unknown_key, "belongs": _not_here, "name": _no_name}[what](
                shape, value, key
            )
            return SchemaFinding(rule, text, _pointer((path, key)), "key", better)
        if what == "missing":
            text, better = _missing(shape, key)
            part: Literal["key", "value"] = "key" if path is not None and isinstance(path[1], str) else "value"
            return SchemaFinding("format/missing-key", text, _pointer(path), part, better)
        if what == "form":
            return self._form(value, path)
        rule, text, better = self._value(what, shape, value, path)
        return SchemaFinding(rule, text, _pointer(path), "value", better)

    def _form(self, value: int, path: Path_) -> SchemaFinding | None:
        read = self._read(value, path)
        if read == str(value):
            return None
        text = f'`{read}` is read as the number {value}; write it in quotes: `"{read}"`'
        return SchemaFinding("format/wrong-type", text, _pointer(path), "value", f'"{read}"')

    def _value(self, what: str, shape: _Shape, value: Any, path: Path_) -> _Said:
        raw = shape.raw
        key = path[1] if path is not None and isinstance(path[1], str) else ""
        read = self._read(value, path)
        example = _flow(raw["examples"][0]) if raw.get("examples") else ""
        how = f"write for example `{example}`" if example else f"expected {_types(shape)}"
        if value is None:
            return (
                "format/wrong-type",
                f"{f'`{key}`' if key else 'the entry'} has no value; {how}{_or_unknown(shape)}",
                "",
            )
        if words := raw.get("x-words"):
            if isinstance(value, dict | list):
                return "format/wrong-type", f"{read} stands where one word is due; {how}", ""
            if not key and path is not None and path[0] is not None:
                key = str(path[0][1])  # a word in a list: the list's key
            return _no_word(shape, words, read, key)
        if what == "enum" and bool in (shape.types or ()):
            return _no_flag(read)
        if "x-form" in raw:
            return _no_quantity(raw, value, read, how)
        scalar = not isinstance(value, dict | list)
        shown = f"`{read}`" if scalar else read
        if what == "type" and shape.types is not None:
            if bool in shape.types and scalar:
                return _no_flag(read)
            if str in shape.types and scalar and raw.get("pattern") != _ONLY_UNKNOWN:
                text = f'{shown} is read as {_called(value)}; write it in quotes: `"{read}"`'
                return "format/wrong-type", text, f'"{read}"'
        if what == "range":
            return "format/wrong-value", f"{shown} is not {_range(raw)}; {how}{_or_unknown(shape)}", ""
        if what == "enum":
            return "format/wrong-value", f"{shown} is not what `{key}` may be; {how}", ""
        if what == "pattern" and raw["pattern"] != _ONLY_UNKNOWN:
            better = next((s for s in _tidied(str(value)) if shape.pattern and shape.pattern.search(s)), "")
            hint = f"did you mean `{better}`?" if better else f"{how}{_or_unknown(shape)}"
            label = raw.get("title", key)
            return "format/wrong-value", f"{shown} cannot be read as {label}; {hint}", better
        if what == "short":
            return "format/wrong-value", f"{f'`{key}`' if key else 'the entry'} is empty; {how}", ""
        due = raw.get("x-name") or _types(shape)
        return "format/wrong-type", f"{shown} stands where {due} is due; {how}{_or_unknown(shape)}", ""

    def _read(self, value: Any, path: Path_) -> str:
        """The value as the author wrote it, cut to one short line."""
        if isinstance(value, dict):
            return "a mapping"
        if isinstance(value, list):
            return "a list"
        if isinstance(value, str):
            return _cut(value)
        try:
            return _cut(self.document.source(self.document.region(_pointer(path), "value")))
        except KeyError:
            return _cut(json.dumps(value))


def _unknown_key(shape: _Shape, value: dict[str, Any], key: str) -> _Said:
    allowed = [name for name, known in shape.properties.items() if known is not None]
    near = nearest(key, [name for name in allowed if name not in value])
    under = [] if near and plain(near) == plain(key) else list(dict.fromkeys(_under(shape, key)))
    text = f"`{_cut(key)}` is no key of {shape.raw.get('x-name', 'this mapping')}"
    if under:
        return "format/unknown-key", f"{text}; it stands under {_or(under[:3])}", ""
    if near:
        return "format/unknown-key", f"{text}; did you mean `{near}`?", near
    if again := nearest(key, allowed):
        return "format/unknown-key", f"{text}; `{again}` stands here already", ""
    return "format/unknown-key", f"{text}; its keys are {', '.join(allowed)}", ""


def _not_here(shape: _Shape, value: dict[str, Any], key: str) -> _Said:
    owner = shape.raw.get("x-owner", f"kind {value.get('kind')}")
    text = f"`{key}` does not belong to {owner}"
    if belongs := shape.raw.get("x-belongs-to"):
        return "format/does-not-belong", f"{text}; it belongs to {_or(belongs, '')}", ""
    return "format/does-not-belong", f"{text}: {shape.raw['x-because']}", ""


def _no_name(names: _Shape, _: dict[str, Any], key: str) -> _Said:
    description = str(names.raw["description"])
    expected = f"{description[0].lower()}{description[1:].rstrip('.')}"
    return "format/wrong-value", f"`{_cut(key)}` cannot stand here: expected {expected}", ""


def _missing(shape: _Shape, key: str) -> tuple[str, str]:
    owners = (shape, *shape.also)
    known = next((one.properties[key] for one in owners if one.properties.get(key) is not None), None)
    example = known.raw["examples"][0] if known is not None else shape.raw["examples"][0][key]
    because = shape.raw.get("x-because")
    entry = f"{key}: {_flow(example)}"
    text = f"{shape.raw['x-name']} needs `{key}`{f': {because}' if because else ''}; write for example `{entry}`"
    return text, entry


def _no_word(shape: _Shape, words: dict[str, str], read: str, key: str) -> _Said:
    near = nearest(read, words, shape.raw.get("x-synonyms"))
    text = f"`{read}` is none of the words for `{key}`"
    if near:
        text += f"; did you mean `{near}`?"
    if not near or len(words) <= _MOST_LISTED:
        text += f"{'' if near else ';'} {'The' if near else 'the'} words are {', '.join(words)}"
    return "format/word-not-allowed", text, near


def _no_flag(read: str) -> _Said:
    near = _FLAGS.get(read.casefold()) or nearest(read, ("true", "false", "unknown"))
    hint = f"did you mean `{near}`?" if near else "write `true`, `false` or `unknown`"
    return "format/wrong-type", f"`{read}` is neither true nor false; {hint}", near


def _no_quantity(raw: dict[str, Any], value: Any, read: str, how: str) -> _Said:
    if isinstance(value, int | float) and not isinstance(value, bool):
        # No suggestion: which unit was meant is for the author to say.
        if unit := raw.get("x-unit"):
            how = f"write for example `{read} {unit}`"
        return "format/wrong-type", f"`{read}` has no unit; {how}", ""
    due = {"band": "a value or range", "wire": "a wire size"}.get(raw["x-form"], "one value")
    shown = f"`{read}`" if isinstance(value, bool) else read
    return "format/wrong-type", f"{shown} stands where {due} with its unit is due; {how}, or `unknown`", ""


def _under(shape: _Shape, key: str, depth: int = 2) -> Iterator[str]:
    """Where below a mapping `key` may stand, as `coil.voltage`."""
    for name, child in shape.properties.items():
        if child is None:
            continue
        inner = child
        shown = name
        if isinstance(child.others, _Shape):
            inner, shown = child.others, f"{name}.<name>"
        for part in (inner, *inner.also):
            if part.properties.get(key) is not None:
                yield shown
        if depth > 1:
            for deeper in _under(inner, key, depth - 1):
                yield f"{shown}.{deeper}"


def _or(names: list[str], quote: str = "`") -> str:
    quoted = [f"{quote}{name}{quote}" for name in names]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"


def _or_unknown(shape: _Shape) -> str:
    """The hint that `unknown` may be written, where it may."""
    may = shape.types and str in shape.types and _holds(replace(shape, also=()), "unknown", set())
    return ", or `unknown`" if may else ""


def _types(shape: _Shape) -> str:
    names = {str: "a text", int: "a whole number", float: "a number", bool: "true or false"}
    names |= {dict: "a mapping", list: "a list"}
    if shape.raw.get("pattern") == _ONLY_UNKNOWN:
        names.pop(str)
    types = shape.types or frozenset()
    return " or ".join(text for kind, text in names.items() if kind in types) or "another value"


def _called(value: Any) -> str:
    return "true or false" if isinstance(value, bool) else "a number"


def _range(raw: dict[str, Any]) -> str:
    low, high = raw.get("minimum"), raw.get("maximum")
    return f"from {low} to {high}" if high is not None else f"{low} or more"


def _tidied(text: str) -> Iterator[str]:
    """A text without the differences in form that people make with codes: `ip 65`, `Type 4X`."""
    packed = re.sub(r"[\s_-]", "", text)
    yield packed.upper()
    yield re.sub(r"^(NEMA|TYPE)+", "", packed.upper())
    yield f"IP{packed.upper()}"
    yield packed.lower()


def _cut(text: str) -> str:
    line = " ".join(text.split())
    shown = line if len(line) <= 48 else f"{line[:45]}..."
    return "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in shown)


_PLAIN = re.compile(r"[A-Za-z0-9*<-](?:[^:#,\[\]{}\n\"]|:(?! ))*")
_NOT_TEXT = re.compile(r"[0-9]+(\.[0-9]*)?(e[-+]?[0-9]+)?|0[xo][0-9a-f]+|true|false|null", re.IGNORECASE)


def _flow(value: Any) -> str:
    """An example as YAML on one line."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_flow(str(key))}: {_flow(child)}" for key, child in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(_flow(child) for child in value) + "]"
    if isinstance(value, str) and _PLAIN.fullmatch(value) and not _NOT_TEXT.fullmatch(value) and value[0] not in "*":
        return value
    return json.dumps(value, ensure_ascii=False)
