"""From the documents of a spec to the typed model.

Whatever cannot be read becomes UNKNOWN, with a finding of its own, so that what hangs on it turns *open*.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field, fields, replace
from difflib import get_close_matches
from functools import cache, lru_cache
from typing import Any, Final, TypeAlias, TypeVar

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

    fine: what was read and gave no finding, by how it was read and the text, or the id of another value. The documents
    keep their values.
    """

    faulty: frozenset[Place] = frozenset()
    findings: list[Outcome] = field(default_factory=list)
    seen: set[tuple[str, Place]] = field(default_factory=set)
    fine: set[tuple[type[Part] | int, str | int]] = field(default_factory=set)

    def without_finding(self, mark: tuple[type[Part] | int, str | int], before: int) -> None:
        """Something was read for which no finding has come to the `before` that were there."""
        if len(self.findings) == before and not self.faulty:
            self.fine.add(mark)

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


def _value(written: Mapping[str, Any], key: str, at: Place, reader: Reader, report: _Report, subject: str) -> Any:
    """One field's value, of a mapping that stands at `at`; UNKNOWN where it cannot be read."""
    value, what = written[key], reader.what
    if report.faulty and not isinstance(value, dict) and at.child(key) in report.faulty:
        if reader.of is Exposure:
            return Exposure(place=at.child(key), shorthand=True, unsecured=UNKNOWN, secured=UNKNOWN)
        return nothing() if what == "parts" else UNKNOWN
    if what == "word":
        return read_word(value)
    if what in ("quantity", "band", "wire"):
        return _quantity(value, reader, at, key, report, subject)
    if what == "words":
        return _words(value, reader, at, key, report)
    if what == "flag":
        return value if isinstance(value, bool) else UNKNOWN
    if what == "number":
        return value if isinstance(value, int) and not isinstance(value, bool) else UNKNOWN
    if what == "part":
        if isinstance(value, dict):
            return _part(reader.of, Node(value, at.child(key)), report, subject)
        if reader.of is Exposure:
            word = read_word(value) if isinstance(value, str) else UNKNOWN
            return Exposure(place=at.child(key), shorthand=True, unsecured=word, secured=word)
        return UNKNOWN
    if what == "parts":
        entries = Node(value, at.child(key)).entries()
        return frozen({k: _part(reader.of, n, report, subject) for k, n in entries if isinstance(n.value, dict)})
    return read_word(value)


def _quantity(value: Any, reader: Reader, at: Place, key: str, report: _Report, subject: str) -> Any:
    if not isinstance(value, str):
        if reader.of != "ratio" or not isinstance(value, int | float) or isinstance(value, bool):
            return UNKNOWN  # the schema reports it
        value = str(value)
    if value == "unknown":
        return UNKNOWN
    try:
        return _parsed(value, reader.what, reader.of)
    except QuantityError as error:
        text = f"{error.message}; expected {error.expected}, for example {error.example}"
        report.add("format/not-a-quantity", text, at.child(key), subject)
        return UNKNOWN


def _words(value: Any, reader: Reader, at: Place, key: str, report: _Report) -> tuple[str, ...] | Unknown:
    if isinstance(value, str):
        return UNKNOWN if value == "unknown" else (value,)
    if not isinstance(value, list) or not all(isinstance(word, str) for word in value):
        return UNKNOWN
    if report.faulty and any(at.child(key).child(index) in report.faulty for index in range(len(value))):
        return UNKNOWN
    whole = reader.of == "whole" and "unknown" in value
    return UNKNOWN if whole or value == ["unknown"] else tuple(value)


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
    before = len(report.findings)
    for key, name, reader in _readers(cls):
        if key in written and name not in more:
            values[name] = _value(written, key, node.place, reader, report, subject)
    report.without_finding((cls, id(node.value)), before)
    return cls(place=node.place, **values, **more)


def _part_later(cls: type[L], node: Node, report: _Report, subject: str, **more: Any) -> L:
    """Build a part of which only what may give a finding is read now, unless the same was read before and gave none."""
    made = read_later(cls, node.place, _Fields(cls, node, report, subject), **more)
    mark = (cls, id(node.value))
    if isinstance(node.value, dict) and mark not in report.fine:
        before = len(report.findings)
        of: Any = cls
        for key, name, reader in _telling(of):
            if key in node.value and name not in more:
                _look(made, name, reader, node.value[key], report)
        report.without_finding(mark, before)
    return made


@cache
def _telling(cls: Any) -> tuple[tuple[str, str, Reader], ...]:
    """(YAML key, field, reader) of the fields whose reading may give a finding."""
    return tuple(each for each in _readers_of(cls) if each[2].what not in _READ_IN_SILENCE)


_READ_IN_SILENCE = ("word", "words", "flag", "number")
"""What is read without a finding, whatever it says."""


def _look(part: ReadLater, name: str, reader: Reader, value: Any, report: _Report) -> None:
    """Read a field now, for the findings that it may give, unless the same was read before and gave none."""
    if reader.what == "parts":
        listed = value.values() if isinstance(value, dict) else ()
        if all((reader.of, id(one)) in report.fine for one in listed if isinstance(one, dict)):
            return
    elif reader.what == "part":
        if not isinstance(value, dict) or (reader.of, id(value)) in report.fine:
            return
    elif (mark := (id(reader), value if isinstance(value, str) else id(value))) in report.fine:
        return
    before = len(report.findings)
    getattr(part, name)
    if reader.what not in ("part", "parts"):
        report.without_finding(mark, before)


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
        written = self.node.value
        if found is None or not isinstance(written, dict) or found[0] not in written:
            return _NOT_STATED
        return {name: _value(written, found[0], self.node.place, found[1], self.report, self.subject)}


_NOT_STATED: Final[Mapping[str, Any]] = nothing()


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


@dataclass(slots=True)
class _SetItem:
    """An item of a set with its entries. values: what was read of them so far, by key, for all openings. places: where
    each field stands. unread: the keys that no opening has needed yet. at_once: once all keys have been read, the
    fields that tracing asks of every item."""

    place: Place
    entries: Mapping[str, Any]
    places: Mapping[str, Place]
    unread: dict[str, None]
    values: dict[str, Mapping[str, Any]] = field(default_factory=dict)
    at_once: Mapping[str, Any] = field(default_factory=nothing)

    def __call__(self, name: str) -> Mapping[str, Any]:
        """The fields that are read with one, for an item that is all of the set; all its keys have been read."""
        if name == "places":
            return {name: self.places}
        return self.values.get(_KEYS_OF_ITEMS.get(name, ""), _NOT_STATED)


def _set_item(node: Node) -> _SetItem:
    places = frozen({key: node.place.child(key) for key in node.value})
    return _SetItem(node.place, node.value, places, dict.fromkeys(node.value))


_ITEM_READERS: Final[Mapping[str, tuple[str, Reader]]] = {key: (name, reader) for key, name, reader in _readers(Item)}
_KEYS_OF_ITEMS: Final[Mapping[str, str]] = {
    **{name: key for key, (name, _) in _ITEM_READERS.items()},
    "sheet": "product",
    "cable_sheet": "cable",
    "no_suppression": "suppression",
    "suppression_unknown": "suppression",
}
"""For each field of an item the key that it is read from."""
_TELLING_OF_ITEM: Final[Mapping[str, tuple[str, Reader]]] = {
    key: (name, reader)
    for key, (name, reader) in _ITEM_READERS.items()
    if key in ("product", "cable") or reader.what not in _READ_IN_SILENCE
}
"""The entries of an item whose reading may give a finding: product and cable lead to a sheet that may not be there."""
_ASKED_OF_ALL: Final = ("sheet", "fed_from", "switched_by", "released_by")
"""Fields of an item that tracing asks for."""


@dataclass(slots=True)
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
            return self.reader.fields_of(key, self.entries, self.place, self.subject)
        return self.of_set.values.get(key, _NOT_STATED) if self.of_set is not None else _NOT_STATED


_SetItems: TypeAlias = dict[str, dict[str, _SetItem | None]]
"""The items of the sets that were read so far, by set and name; None for one that is no mapping."""


@dataclass(slots=True)
class OpeningReader:
    """Builds openings: hardware set, what the opening overrides, and the sheets that the items refer to.

    Fields are read when they are first asked for; what may give a finding is read at once, if it was not met before.
    """

    products: Mapping[str, Product]
    cables: Mapping[str, Cable]
    sets: Mapping[str, Node]
    report: _Report = field(default_factory=_Report)
    _in_sets: _SetItems = field(default_factory=dict)
    _fine: dict[frozenset[Place], _SetItems] = field(default_factory=dict)

    def read(
        self, key: str, value: Any, place: Place, faulty: frozenset[Place]
    ) -> tuple[Opening, tuple[Outcome, ...]]:
        """An opening by itself and the findings made on the way, those about its set among them: what was read of the
        sets is kept for the next opening only as long as nothing gave a finding."""
        in_sets = self._fine.setdefault(faulty, {})
        apart = OpeningReader(self.products, self.cables, self.sets, _Report(faulty), in_sets)
        opening = apart.opening(key, Node(value, place))
        if apart.report.findings:
            del self._fine[faulty]
        return opening, tuple(apart.report.findings)

    def opening(self, key: str, node: Node) -> Opening:
        """An opening with its items, in the set's order and then the opening's."""
        entries = node.get("items")
        own = entries.value if entries is not None and isinstance(entries.value, dict) else {}
        shared = self._set_items(key, node.get("set"))
        items: dict[str, Item] = {}
        for name in shared if own.keys() <= shared.keys() else dict.fromkeys([*shared, *own]):
            override, of_set = own.get(name), shared.get(name)
            if isinstance(override, dict):
                if override.get("omit") is not True:
                    assert entries is not None
                    items[name] = self._own_item(key, name, override, entries.place.child(name), of_set)
            elif of_set is not None:
                items[name] = self._set_item(key, name, of_set)
        return _part_later(Opening, node, self.report, key, id=key, items=frozen(items))

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
                item: _set_item(child) if isinstance(child.value, dict) else None
                for item, child in (listed.entries() if listed is not None else ())
            }
        return self._in_sets[name]

    def _set_item(self, opening: str, name: str, of_set: _SetItem) -> Item:
        """An item of which the opening says nothing."""
        if of_set.unread:
            self._read_set_item(opening, name, of_set, ())
        return read_later(Item, of_set.place, of_set, name=name, opening=opening, **of_set.at_once)

    def _own_item(
        self, opening: str, name: str, entries: Mapping[str, Any], place: Place, of_set: _SetItem | None
    ) -> Item:
        """An item of which the opening says something; its set says the rest."""
        if of_set is not None and of_set.unread:
            self._read_set_item(opening, name, of_set, entries)
        subject = f"{opening}/{name}"
        unread = _OwnItem(self, subject, entries, place, of_set)
        at_once = dict(of_set.at_once) if of_set is not None else {}
        for key in entries:
            if key in at_once:
                at_once[key] = _value(entries, key, place, _ITEM_READERS[key][1], self.report, subject)
            elif key == "product":
                at_once.pop("sheet", None)
        made = read_later(Item, place, unread, name=name, opening=opening, **at_once)
        for key, value in entries.items():
            if key in _TELLING_OF_ITEM:
                _look(made, *_TELLING_OF_ITEM[key], value, self.report)
        return made

    def _read_set_item(self, opening: str, name: str, of_set: _SetItem, but: Collection[str]) -> None:
        """What was not read of an item of a set yet, but for what an opening says itself."""
        for key in [key for key in of_set.unread if key not in but]:
            of_set.values[key] = self.fields_of(key, of_set.entries, of_set.place, f"{opening}/{name}")
            del of_set.unread[key]
        if not of_set.unread:
            of_set.at_once = {each: of_set(each).get(each) for each in _ASKED_OF_ALL}

    def fields_of(self, key: str, entries: Mapping[str, Any], at: Place, subject: str) -> Mapping[str, Any]:
        """The fields of an item that come of one of its entries."""
        if key == "suppression":
            return self._suppression(Node(entries[key], at.child(key)), subject)
        if key not in _ITEM_READERS:
            return _NOT_STATED
        field_name, reader = _ITEM_READERS[key]
        values = {field_name: _value(entries, key, at, reader, self.report, subject)}
        if key == "product":
            values["sheet"] = self._sheet(key, self.products, Node(entries[key], at.child(key)), subject)
        elif key == "cable":
            values["cable_sheet"] = self._sheet(key, self.cables, Node(entries[key], at.child(key)), subject)
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
