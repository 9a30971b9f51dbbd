"""From the documents of a spec to the typed model.

Whatever cannot be read becomes UNKNOWN, with a finding of its own, so that what hangs on it turns *open*.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from difflib import get_close_matches
from functools import cache, lru_cache
from typing import Any, TypeVar

from ..format_rules import finding
from ..outcome import Outcome, Place, Related
from ..quantity import QuantityError, parse_band, parse_quantity, parse_wire_size
from .fields import UNKNOWN, Part, Reader, ReadLater, Unknown, read_later
from .files import Files
from .frozen import frozen, nothing
from .model import (
    Cable,
    Coil,
    Exposure,
    HardwareSet,
    Item,
    Opening,
    PowerSource,
    Product,
    Project,
    Spec,
    Suppression,
    Waiver,
)

P = TypeVar("P", bound=Part)
L = TypeVar("L", bound=ReadLater)

_LONGEST_SHOWN = 60
"""Characters of a name that a message repeats."""


@dataclass(frozen=True, slots=True)
class Node:
    """A value of a document with its place."""

    value: Any
    place: Place

    def entries(self) -> Iterator[tuple[str, Node]]:
        """The entries of a mapping; nothing for anything else."""
        if isinstance(self.value, dict):
            for key, value in self.value.items():
                yield key, Node(value, self.place.child(key))

    def get(self, key: str) -> Node | None:
        """One entry of a mapping, None where it is not there."""
        if isinstance(self.value, dict) and key in self.value:
            return Node(self.value[key], self.place.child(key))
        return None


@dataclass(slots=True)
class _Report:
    """Collects the findings of one reading, each place once: a set's fault shows in every opening that uses it.

    fine: the parts, keys and values that were read and gave no finding.
    """

    faulty: frozenset[Place] = frozenset()
    findings: list[Outcome] = field(default_factory=list)
    seen: set[tuple[str, Place]] = field(default_factory=set)
    fine: set[tuple[type[Part], str, object]] = field(default_factory=set)

    def add(self, rule: str, text: str, place: Place, subject: str, related: tuple[Related, ...] = ()) -> None:
        if (rule, place) not in self.seen:
            self.seen.add((rule, place))
            self.findings.append(finding(rule, text, place, subject, related))

    def unknown_id(self, what: str, written: str, choices: Mapping[str, Part], place: Place, subject: str) -> None:
        near = get_close_matches(written, choices, n=1, cutoff=0.6)
        hint = f"; did you mean {near[0]}?" if near else ""
        related = (Related(choices[near[0]].place.key, f"{near[0]} is defined here"),) if near else ()
        shown = written if len(written) <= _LONGEST_SHOWN else f"{written[:_LONGEST_SHOWN]}..."
        self.add("reference/unknown-id", f"{what} {shown!r} is not defined{hint}", place, subject, related)


def _readers(cls: type[Part]) -> tuple[tuple[str, str, Reader], ...]:
    """(YAML key, field, reader) of every field that is read from YAML."""
    hashable: Any = cls
    found: tuple[tuple[str, str, Reader], ...] = _readers_of(hashable)
    return found


@cache
def _readers_of(cls: Any) -> tuple[tuple[str, str, Reader], ...]:
    return tuple((f.name.rstrip("_"), f.name, f.metadata["read"]) for f in fields(cls) if "read" in f.metadata)


def _value(node: Node, reader: Reader, report: _Report, subject: str) -> Any:
    """One field's value; UNKNOWN where it cannot be read."""
    value = node.value
    if reader.of is Exposure and not isinstance(value, dict):
        usable = isinstance(value, str) and value != "unknown" and node.place not in report.faulty
        word = value if usable else UNKNOWN
        return Exposure(place=node.place, shorthand=True, unsecured=word, secured=word)
    if report.faulty and node.place in report.faulty and not isinstance(value, dict):
        return nothing() if reader.what == "parts" else UNKNOWN
    if reader.what == "part":
        return _part(reader.of, node, report, subject) if isinstance(value, dict) else UNKNOWN
    if reader.what == "parts":
        return frozen(
            {
                key: _part(reader.of, child, report, subject)
                for key, child in node.entries()
                if isinstance(child.value, dict)
            }
        )
    if value == "unknown" or value is None:
        return UNKNOWN
    if reader.what in ("quantity", "band", "wire"):
        if not isinstance(value, str):
            if reader.of == "ratio" and isinstance(value, int | float) and not isinstance(value, bool):
                value = str(value)
            else:
                return UNKNOWN  # the schema reports it
        try:
            return _parsed(value, reader.what, reader.of)
        except QuantityError as error:
            text = f"{error.message}; expected {error.expected}, for example {error.example}"
            report.add("format/not-a-quantity", text, node.place, subject)
            return UNKNOWN
    if reader.what == "words":
        listed = [value] if isinstance(value, str) else value
        if not isinstance(listed, list) or not all(isinstance(word, str) for word in listed):
            return UNKNOWN
        if any(report.faulty and node.place.child(index) in report.faulty for index in range(len(listed))):
            return UNKNOWN
        whole = reader.of == "whole" and "unknown" in listed
        return UNKNOWN if whole or listed == ["unknown"] else tuple(listed)
    if reader.what == "flag":
        return value if isinstance(value, bool) else UNKNOWN
    if reader.what == "number":
        return value if isinstance(value, int) and not isinstance(value, bool) else UNKNOWN
    return read_word(value)


def read_word(value: object) -> str | Unknown:
    """The text of a field that holds one; numbers are texts too."""
    told = isinstance(value, str | int | float) and not isinstance(value, bool) and value != "unknown"
    return str(value) if told else UNKNOWN


@lru_cache(maxsize=100_000)
def _parsed(text: str, what: str, dimension: str) -> Any:
    """A quantity, band or wire size. A spec writes the same few hundred texts over and over."""
    if what == "wire":
        return parse_wire_size(text)
    return parse_quantity(text, dimension) if what == "quantity" else parse_band(text, dimension)


def _part(cls: type[P], node: Node, report: _Report, subject: str, **more: Any) -> P:
    """Build one part. Keys that the model does not know are the schema's to report."""
    if issubclass(cls, ReadLater):
        return _part_later(cls, node, report, subject, **more)
    values: dict[str, Any] = {}
    written = node.value if isinstance(node.value, dict) else {}
    for key, name, reader in _readers(cls):
        if key in written and name not in more:
            values[name] = _value(Node(written[key], node.place.child(key)), reader, report, subject)
    return cls(place=node.place, **values, **more)


def _part_later(cls: type[L], node: Node, report: _Report, subject: str, **more: Any) -> L:
    """Build a part of which only what may give a finding is read now."""
    made = read_later(cls, node.place, _Fields(cls, node, report, subject), **more)
    written = node.value if isinstance(node.value, dict) else {}
    of: Any = cls
    for key, name in _telling(of):
        if key in written:
            _look(made, key, name, written[key], report)
    return made


@cache
def _telling(cls: Any) -> tuple[tuple[str, str], ...]:
    """(YAML key, field) of the fields whose reading may give a finding."""
    return tuple((key, name) for key, name, reader in _readers_of(cls) if reader.what not in _READ_IN_SILENCE)


_READ_IN_SILENCE = ("word", "words", "flag", "number")
"""What is read without a finding, whatever it says."""


def _look(part: ReadLater, key: str, name: str, value: Any, report: _Report) -> None:
    """Read a field now, for the findings that it may give, unless the same was read before and gave none."""
    mark = (type(part), key, value if isinstance(value, str) else id(value))  # the documents keep their values
    if mark not in report.fine:
        before = len(report.findings)
        getattr(part, name)
        if len(report.findings) == before and not report.faulty:
            report.fine.add(mark)


@dataclass(frozen=True, slots=True)
class _Fields:
    """Reads the fields of a part."""

    cls: type[ReadLater]
    node: Node
    report: _Report
    subject: str

    def __call__(self, name: str) -> Mapping[str, Any]:
        """One field."""
        cls: Any = self.cls
        found = _by_field(cls).get(name)
        child = self.node.get(found[0]) if found is not None else None
        if found is None or child is None:
            return {}
        return {name: _value(child, found[1], self.report, self.subject)}


@cache
def _by_field(cls: Any) -> Mapping[str, tuple[str, Reader]]:
    """(YAML key, reader) by field."""
    return {name: (key, reader) for key, name, reader in _readers_of(cls)}


def _entry(cls: type[P], node: Node, report: _Report, subject: str) -> P:
    """Build one entry of a list. It has no key to stand for a field that is not stated: the whole entry does."""
    built = _part(cls, node, report, subject)
    lacking = {name: node.place for _, name, _ in _readers(cls) if getattr(built, name) is None}
    return replace(built, elsewhere=frozen(lacking))


def _gathered(files: Files, section: str, report: _Report) -> dict[str, Node]:
    """The entries of one top-level section over all files; the first of two with one id counts."""
    found: dict[str, Node] = {}
    for name, document in files.parts.items():
        node = Node(document.tree, Place(name, "")).get(section)
        for key, child in node.entries() if node else ():
            if key in found:
                related = (Related(found[key].place.key, "defined first here"),)
                text = f"{section.replace('_', ' ')}: {key} is defined twice; the first counts"
                report.add("reference/defined-twice", text, child.place.key, key, related)
            else:
                found[key] = child
    return found


@dataclass(frozen=True, slots=True)
class Scope:
    """A part of a spec: some of its openings, with the power sources that they and the hardware sets speak of."""

    openings: frozenset[str]
    power: frozenset[str]


def read_spec(
    files: Files, faulty: frozenset[Place] = frozenset(), only: Scope | None = None
) -> tuple[Spec | None, tuple[Outcome, ...]]:
    """The model of the spec and the findings made on the way. The spec is None when the root has no content.

    `faulty`: values that the schema has refused already, a word outside its list for instance. They read as UNKNOWN
    too, so that no rule meets a word that it does not know. `only`: the part of the spec to read; all
    of it without.
    """
    report = _Report(faulty)
    root = files.documents[files.root]
    if not isinstance(root.tree, dict):
        return None, ()
    project_node = Node(root.tree, Place(files.root, "")).get("project")
    project = _project(project_node or Node({}, Place(files.root, "")), report)
    products = {k: _part(Product, n, report, k, id=k) for k, n in _gathered(files, "products", report).items()}
    cables = {k: _part(Cable, n, report, k, id=k) for k, n in _gathered(files, "cables", report).items()}
    sources = _gathered(files, "power", report)
    power = {
        k: _part(PowerSource, n, report, k, id=k) for k, n in sources.items() if only is None or k in only.power
    }
    sets = _gathered(files, "hardware_sets", report)
    reader = OpeningReader(products, cables, sets, report)
    written = _gathered(files, "openings", report)
    openings = {k: reader.opening(k, n) for k, n in written.items() if only is None or k in only.openings}
    spec = Spec(
        root=files.root,
        project=project,
        products=products,
        power=power,
        cables=cables,
        sets={k: _part(HardwareSet, n, report, k, id=k) for k, n in sets.items()},
        openings=openings,
        waivers=tuple(_waivers(files, report)),
    )
    return spec, tuple(report.findings)


def _project(node: Node, report: _Report) -> Project:
    codes = node.get("codes")
    entries = codes.entries() if codes else ()
    adopted = {key: str(child.value) for key, child in entries if isinstance(child.value, str | int)}
    return _part(Project, node, report, "project", codes=frozen(adopted))


def _waivers(files: Files, report: _Report) -> Iterator[Waiver]:
    for name, document in files.parts.items():
        node = Node(document.tree, Place(name, "")).get("waivers")
        if node is not None and isinstance(node.value, list):
            for index, value in enumerate(node.value):
                if isinstance(value, dict):
                    yield _entry(Waiver, Node(value, node.place.child(index)), report, "waivers")


def set_nodes(files: Files) -> Mapping[str, Node]:
    """The hardware sets of a spec as they stand."""
    return _gathered(files, "hardware_sets", _Report())


def read_source(key: str, value: Mapping[str, Any], place: Place) -> tuple[PowerSource, tuple[Outcome, ...]]:
    """A power source and the findings made on the way."""
    report = _Report()
    return _part(PowerSource, Node(value, place), report, key, id=key), tuple(report.findings)


@dataclass(frozen=True, slots=True)
class _SetItem:
    """An item of a set with its entries. values: what was read of them so far, by key, for all openings. places: where
    each field stands. unread: the keys that no opening has needed yet."""

    place: Place
    entries: Mapping[str, Node]
    values: dict[str, Mapping[str, Any]] = field(default_factory=dict)
    places: Mapping[str, Place] = field(default_factory=nothing)
    unread: dict[str, None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        object.__setattr__(self, "places", frozen({key: child.place for key, child in self.entries.items()}))
        self.unread.update(dict.fromkeys(self.entries))

    def __call__(self, name: str) -> Mapping[str, Any]:
        """The fields that are read with one, for an item that is all of the set; all its keys have been read."""
        if name == "places":
            return {name: self.places}
        return self.values.get(_KEYS_OF_ITEMS.get(name, ""), {})


_ITEM_READERS: Mapping[str, tuple[str, Reader]] = {key: (name, reader) for key, name, reader in _readers(Item)}
_KEYS_OF_ITEMS: Mapping[str, str] = {
    **{name: key for key, (name, _) in _ITEM_READERS.items()},
    "sheet": "product",
    "cable_sheet": "cable",
    "no_suppression": "suppression",
    "suppression_unknown": "suppression",
}
"""For each field of an item the key that it is read from."""
_SHEETS = ("product", "cable")
"""Words of an item that lead to a sheet, which may not be there."""


@dataclass(frozen=True, slots=True)
class _OwnItem:
    """Reads the fields of an item of which an opening states some, or all."""

    reader: OpeningReader
    subject: str
    entries: Mapping[str, Any]
    place: Place
    of_set: _SetItem | None

    def __call__(self, name: str) -> Mapping[str, Any]:
        """The fields that are read with one."""
        if name == "places":
            own = {key: self.place.child(key) for key in self.entries}
            return {name: frozen({**self.of_set.places, **own} if self.of_set is not None else own)}
        key = _KEYS_OF_ITEMS.get(name, "")
        if key in self.entries:
            return self.reader.fields_of(key, Node(self.entries[key], self.place.child(key)), self.subject)
        return self.of_set.values.get(key, {}) if self.of_set is not None else {}


@dataclass(slots=True)
class OpeningReader:
    """Builds openings: hardware set, what the opening overrides, and the sheets that the items refer to.

    Fields are read when they are first asked for; what may give a finding is read at once, if it was not met before.
    """

    products: Mapping[str, Product]
    cables: Mapping[str, Cable]
    sets: Mapping[str, Node]
    report: _Report = field(default_factory=_Report)
    _in_sets: dict[str, dict[str, _SetItem | None]] = field(default_factory=dict)

    def read(
        self, key: str, value: Any, place: Place, faulty: frozenset[Place]
    ) -> tuple[Opening, tuple[Outcome, ...]]:
        """An opening by itself and the findings made on the way."""
        apart = replace(self, report=_Report(faulty), _in_sets={})
        return apart.opening(key, Node(value, place)), tuple(apart.report.findings)

    def opening(self, key: str, node: Node) -> Opening:
        """An opening with its items."""
        items = {name: self._item(key, name, own, shared) for name, own, shared in self._items(key, node)}
        return _part_later(Opening, node, self.report, key, id=key, items=frozen(items))

    def _items(self, key: str, node: Node) -> Iterator[tuple[str, Node | None, _SetItem | None]]:
        """(item, its node in the opening, the set's item), in the set's order and then the opening's."""
        own = dict(entries.entries()) if (entries := node.get("items")) else {}
        shared = self._set_items(key, node.get("set"))
        for name in dict.fromkeys([*shared, *own]) if own else shared:
            override = own.get(name)
            if override is not None and isinstance(override.value, dict) and override.value.get("omit") is True:
                continue
            if override is not None and not isinstance(override.value, dict):
                override = None
            of_set = shared.get(name)
            if override is not None or of_set is not None:
                yield name, override, of_set

    def _set_items(self, key: str, written: Node | None) -> Mapping[str, _SetItem | None]:
        """The items of the set that an opening names; None for one that is no mapping."""
        if written is None or not isinstance(written.value, str | int) or written.value in ("unknown", "none"):
            return {}
        name = str(written.value)
        if name not in self.sets:
            parts = {k: Part(place=n.place) for k, n in self.sets.items()}
            self.report.unknown_id("hardware set", name, parts, written.place, key)
            return {}
        if name not in self._in_sets:
            listed = self.sets[name].get("items")
            self._in_sets[name] = {
                item: _SetItem(child.place, dict(child.entries())) if isinstance(child.value, dict) else None
                for item, child in (listed.entries() if listed is not None else ())
            }
        return self._in_sets[name]

    def _item(self, opening: str, name: str, own: Node | None, of_set: _SetItem | None) -> Item:
        """One item: what the opening says of it, else what its set does."""
        entries: Mapping[str, Any] = own.value if own is not None else {}
        if of_set is not None and of_set.unread:
            for key in [key for key in of_set.unread if key not in entries]:
                of_set.values[key] = self.fields_of(key, of_set.entries[key], f"{opening}/{name}")
                del of_set.unread[key]
        if own is None:
            assert of_set is not None
            return read_later(Item, of_set.place, of_set, name=name, opening=opening)
        unread = _OwnItem(self, f"{opening}/{name}", entries, own.place, of_set)
        made = read_later(Item, own.place, unread, name=name, opening=opening)
        for key, value in entries.items():
            if key in _ITEM_READERS and (key in _SHEETS or _ITEM_READERS[key][1].what not in _READ_IN_SILENCE):
                _look(made, key, _ITEM_READERS[key][0], value, self.report)
        return made

    def fields_of(self, key: str, node: Node, subject: str) -> Mapping[str, Any]:
        """The fields of an item that come of one entry."""
        if key == "suppression":
            return self._suppression(node, subject)
        if key not in _ITEM_READERS:
            return {}
        field_name, reader = _ITEM_READERS[key]
        values = {field_name: _value(node, reader, self.report, subject)}
        if key == "product":
            values["sheet"] = self._sheet(key, self.products, node, subject)
        elif key == "cable":
            values["cable_sheet"] = self._sheet(key, self.cables, node, subject)
        return values

    def _sheet(self, what: str, choices: Mapping[str, P], node: Node, subject: str) -> P | None:
        if not isinstance(node.value, str | int) or node.value == "unknown":
            return None
        found = choices.get(str(node.value))
        if found is None:
            self.report.unknown_id(what, str(node.value), choices, node.place, subject)
        return found

    def _suppression(self, node: Node, subject: str) -> dict[str, Any]:
        if node.value == "none":
            return {"no_suppression": True}
        if node.value == "unknown" or not isinstance(node.value, str | list):
            return {"suppression_unknown": True}
        if isinstance(node.value, str):
            fitted = self._fitted(node.value, node.place, subject)
            plain = Suppression(place=node.place, shorthand=True, product=node.value, location="at_lock", fitted=fitted)
            return {"suppression": (plain,), "suppression_unknown": fitted is None}
        listed = []
        for index, value in enumerate(node.value):
            child = Node(value, node.place.child(index))
            one = _entry(Suppression, child, self.report, subject)
            written = child.get("product")
            if written is not None and isinstance(written.value, str) and written.value != "unknown":
                one = replace(one, fitted=self._fitted(written.value, written.place, subject))
            listed.append(one)
        return {"suppression": tuple(listed), "suppression_unknown": any(one.fitted is None for one in listed)}

    def _fitted(self, product: str, place: Place, subject: str) -> Product | None:
        found = self.products.get(product)
        if found is None:
            self.report.unknown_id("product", product, self.products, place, subject)
        return found


def chosen_coil(item: Item) -> Coil | None:
    """The coil of an item at its setting.

    Where the setting of a selectable coil is not stated, a coil that holds only what all settings share: what
    differs is then not stated, at the item's own place.
    """
    sheet = item.sheet
    if sheet is None:
        return None
    if isinstance(sheet.coil, Coil):
        return sheet.coil
    if not sheet.coils:
        return None
    if isinstance(item.coil_setting, str) and item.coil_setting in sheet.coils:
        return sheet.coils[item.coil_setting]
    coils = list(sheet.coils.values())
    shared = {
        name: value
        for _, name, _ in _readers(Coil)
        if (value := getattr(coils[0], name)) is not None and all(getattr(coil, name) == value for coil in coils)
    }
    return Coil(place=item.place, elsewhere=frozen({name: coils[0].at(name) for name in shared}), **shared)
