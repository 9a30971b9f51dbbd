"""When two openings are alike: the same sets, items and kinds of sources, whatever their names.

An opening is reduced to a `Likeness`: its entry in which every name of its own (its id, the power sources and outputs
that feed it, the files that these stand in) is replaced by a sign, a single character that no spec holds. Openings
with equal `key` differ in their `own` fields and in their names only.
"""

from __future__ import annotations

import hashlib
import marshal
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from typing import Any, Final

from ..outcome import Place
from ..spec.files import Files
from ..spec.model import Spec
from .own import OWN_FIELDS, SHARED_FIELDS

OPENING: Final = "\U000f0000"
OPENING_FILE: Final = "\U000f0001"
OPENING_PLACE: Final = Place(OPENING_FILE, f"/openings/{OPENING}")
_SOURCES: Final = 0xF1000
_SOURCE_FILES: Final = 0xF2000
_OUTPUTS: Final = 0xF3000
FIRST, LAST = OPENING, "\U000f3fff"
"""The signs come from a plane for private use. Openings of a spec that uses this plane itself are not shared."""

_MOST: Final = 256
"""Sources, and outputs, that an opening may draw on and be told by signs."""

_NO_NAMES: Final = frozenset[str]()

_Uses = dict[str, dict[str, None]]
"""For each power source the outputs that are used of it, in the order met; "" for the source itself."""


@dataclass(frozen=True, slots=True)
class Signed:
    """A power source with its sign; its entry holds the outputs that are used alone, and signs in place of names."""

    sign: str
    id: str
    entry: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Drawn:
    """An opening with signs in place of names. entry: as it stands in its file; None for a power source by itself.
    power: the sources that feed it. kept: the sources that its set names, which keep their names."""

    entry: Mapping[str, Any] | None
    power: tuple[Signed, ...]
    kept: frozenset[str]

    def content(self) -> bytes:
        """Equal for openings that differ in their own fields, in names, and in what fields of their sources say."""
        entry = self.entry or {}
        items = {item: _blank(part) for item, part in entry.get("items", {}).items()}
        more = sorted((key, entry[key]) for key in entry if key not in OWN_FIELDS and key != "items")
        power = [(each.sign, sorted(each.entry), *map(each.entry.get, ("fed_from", "outputs"))) for each in self.power]
        return marshal.dumps((self.entry is None, items, more, power), 2)


@dataclass(frozen=True, slots=True)
class Likeness:
    """What an opening comes down to.

    key: equal for openings that are alike. names: the opening's own name for each sign. entry: the opening as it
    stands in its file. whole: the outputs, as "source.output" in signs, that feed this opening alone, so that their
    loads are all here. draw: the opening in signs, or what gives it; only few of those that are alike are ever drawn.
    """

    id: str
    key: bytes
    names: Mapping[str, str]
    entry: Mapping[str, Any]
    whole: frozenset[str]
    draw: Drawn | Callable[[], Drawn]

    @property
    def drawn(self) -> Drawn:
        """The opening in signs."""
        return self.draw if isinstance(self.draw, Drawn) else self.draw()

    def own_name(self, output: str) -> str:
        """An output of `whole` as the opening has it."""
        return ".".join(self.names[sign] for sign in output.split(".", 1))

    def __reduce__(self) -> tuple[object, tuple[object, ...]]:
        return Likeness, (self.id, self.key, self.names, self.entry, self.whole, self.drawn)


@dataclass(frozen=True, slots=True)
class _Naming:
    """The signs of one opening. sources: of each power source. outputs: of each source, of the outputs that are used;
    outputs of one name have signs of their own at each source. fed: what its own items draw on, as written. kept: the
    sources that keep their names."""

    sources: Mapping[str, str]
    outputs: Mapping[str, Mapping[str, str]]
    fed: tuple[str, ...]
    kept: frozenset[str]

    def signed(self, written: str) -> str:
        """A source or an output in signs; anything else as it is."""
        head, dot, output = written.partition(".")
        sign = self.sources.get(head)
        return written if sign is None else f"{sign}{dot}{self.outputs[head].get(output, output)}"

    def item(self, part: Any) -> Any:
        """An item of the opening, what feeds it in signs."""
        if not isinstance(part, dict) or "fed_from" not in part:
            return part
        fed = part["fed_from"]
        if isinstance(fed, list):
            return {**part, "fed_from": [self.signed(each) if isinstance(each, str) else each for each in fed]}
        return {**part, "fed_from": self.signed(fed)} if isinstance(fed, str) else part


@dataclass
class Signs:
    """Finds the likeness of the openings that were read of one spec; what sources and sets come to is worked out once.

    faulty: (section, id) of the openings and power sources in which the format has faults. power: of every power source
    the file that it stands in, and its entry.
    """

    files: Files
    spec: Spec
    faulty: frozenset[tuple[str, str]] = frozenset()
    power: Mapping[str, tuple[str, Any]] = field(default_factory=dict, init=False)
    _sets: Mapping[str, Any] = field(default_factory=dict)
    _contents: dict[tuple[str, str], bytes] = field(default_factory=dict)
    _users: Counter[str] = field(default_factory=Counter)
    _in_sets: dict[str, tuple[frozenset[str], frozenset[str]]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.power = {name: found for name, found in _entries(self.files, "power") if name in self.spec.power}
        self._sets = {name: entry for name, (_, entry) in _entries(self.files, "hardware_sets")}

        for name, (_, entry) in _entries(self.files, "openings"):
            if name in self.spec.openings:
                self._users.update(_fed(entry))
        for entry in self._sets.values():
            items = entry.get("items") if isinstance(entry, dict) else None
            for item in items.values() if isinstance(items, dict) else ():
                self._users.update(dict.fromkeys(_feeds(item), 2) if isinstance(item, dict) else {})
        for _, entry in self.power.values():
            self._users.update(dict.fromkeys(_feeds(entry), 2) if isinstance(entry, dict) else {})

    def likenesses(self) -> Iterator[Likeness]:
        """The likeness of every opening that has one, in the order of the spec."""
        for name, (file, entry) in _entries(self.files, "openings"):
            if name not in self.spec.openings or ("openings", name) in self.faulty:
                continue
            found = self.likeness(name, file, entry)
            if found is not None:
                yield found

    def changed(self, name: str, file: str, old: Any, new: Any) -> Likeness | None:
        """The likeness of an opening whose entry has become another, without faults against the format."""
        before, after = _fed(old), _fed(new)
        self._users.subtract(before)
        self._users.update(after)
        try:
            return self.likeness(name, file, new)
        finally:
            self._users.subtract(after)
            self._users.update(before)

    def likeness(self, name: str, file: str, entry: Any) -> Likeness | None:
        """The likeness of an opening; None for one that leans on other openings or is not plain enough to tell."""
        found = self._naming(name, entry)
        if found is None:
            return None
        names = {OPENING: name, OPENING_FILE: file}
        described = []
        for source, sign in found.sources.items():
            names[sign], names[file_sign(sign)] = source, self.power[source][0]
            marks = found.outputs[source]
            names.update((mark, output) for output, mark in marks.items())
            contents = [(mark, self._content(source, output)) for output, mark in marks.items()]
            described.append((sign, self._content(source, ""), self._upstream_signed(source, found), contents))
        whole = sorted({found.signed(text) for text in found.fed if self._users[text] == 1})
        like = {item: _blank(found.item(part)) for item, part in entry.get("items", {}).items()}
        more = sorted(key for key in entry if key not in OWN_FIELDS and key not in SHARED_FIELDS)
        content = marshal.dumps((entry.get("set"), like, described, whole, [(each, entry[each]) for each in more]), 2)
        key = hashlib.sha256(content).digest()
        return Likeness(name, key, names, entry, frozenset(whole), partial(self._drawn, name, entry))

    def _drawn(self, name: str, entry: Mapping[str, Any]) -> Drawn:
        found = self._naming(name, entry)
        assert found is not None
        power = tuple(Signed(sign, source, self._signed_entry(source, found)) for source, sign in found.sources.items())
        items = {"items": {item: found.item(part) for item, part in entry["items"].items()}} if "items" in entry else {}
        return Drawn({**entry, **items}, power, found.kept)

    def _naming(self, name: str, entry: Any) -> _Naming | None:
        if not isinstance(entry, dict) or "interlocked_with" in entry or awkward(name):
            return None
        items = entry.get("items", {})
        if not isinstance(items, dict):
            return None
        set_id = entry.get("set")
        shared, of_set = _NO_NAMES, _NO_NAMES
        if set_id is not None and set_id not in ("none", "unknown"):
            if not isinstance(set_id, str) or set_id not in self._sets:
                return None
            shared, of_set = self._of_set(set_id)
        uses: _Uses = {}
        fed: list[str] = []
        for item in items.values():
            if isinstance(item, dict):
                if not self._note_feeds(item, items, shared, uses, fed):
                    return None
            elif item is not None:
                return None
        if not self._follow(uses, of_set) or any(source in items or source in shared for source in uses):
            return None
        if len(uses) > _MOST or sum(map(len, uses.values())) > _MOST:
            return None
        sources, outputs, count = {}, {}, 0
        for number, source in enumerate(sorted(uses)):
            sources[source] = source_sign(number)
            used = [output for output in uses[source] if output]
            outputs[source] = {output: chr(_OUTPUTS + count + place) for place, output in enumerate(used)}
            count += len(used)
        return _Naming(sources, outputs, tuple(fed), of_set)

    def _upstream_signed(self, source: str, found: _Naming) -> str | None:
        written = self.upstream(source)
        return None if written is None else found.signed(written)

    def upstream(self, source: str) -> str | None:
        """What a source is fed from, as written."""
        written = self.power[source][1].get("fed_from")
        return written if isinstance(written, str) else None

    def _note_feeds(
        self, item: Mapping[str, Any], items: Mapping[str, Any], shared: frozenset[str], uses: _Uses, fed: list[str]
    ) -> bool:
        """Note the sources that an item is fed from. False where the item speaks of a source in another way."""
        for field_name in ("switched_by", "released_by", "signals", "shares_return_with"):
            for written in _texts(item.get(field_name)):
                head = written.partition(".")[0]
                if head in self.power and head not in items and head not in shared:
                    return False
        for written in _texts(item.get("fed_from")):
            head, _, output = written.partition(".")
            if head in items or head in shared or head not in self.power:
                continue
            uses.setdefault(head, {})[output] = None
            fed.append(written)
        return True

    def _follow(self, uses: _Uses, kept: frozenset[str]) -> bool:
        """Add what feeds the sources, up to the mains. False where that is not plain, or where it ends in a source
        that sets name: such sources keep their names."""
        waiting = list(uses)
        while waiting:
            source = waiting.pop()
            entry = self.power[source][1]
            if not isinstance(entry, dict) or awkward(source) or "." in source or source in kept:
                return False
            if ("power", source) in self.faulty:
                return False
            listed = entry.get("outputs")
            if listed is not None and not isinstance(listed, dict):
                return False
            if any(output and output not in (listed or ()) for output in uses[source]):
                return False
            if any(_switched(entry, output) for output in uses[source]):
                return False
            written = entry.get("fed_from")
            if written is None:
                continue
            if not isinstance(written, str):
                return False
            head, _, output = written.partition(".")
            if head not in self.power:
                return False
            if head not in uses:
                waiting.append(head)
            uses.setdefault(head, {})[output] = None
        return True

    def _of_set(self, set_id: str) -> tuple[frozenset[str], frozenset[str]]:
        """The items of a set, and the power sources that it names, with all that feed these."""
        if set_id not in self._in_sets:
            entry = self._sets[set_id]
            items = entry.get("items") if isinstance(entry, dict) else None
            named: set[str] = set()
            for item in items.values() if isinstance(items, dict) else ():
                if isinstance(item, dict):
                    for field_name in ("fed_from", "switched_by", "released_by", "signals"):
                        named.update(text.partition(".")[0] for text in _texts(item.get(field_name)))
            waiting = [each for each in named if each in self.power]
            found: set[str] = set()
            while waiting:
                source = waiting.pop()
                if source not in found:
                    found.add(source)
                    upstream = self.upstream(source) if isinstance(self.power[source][1], dict) else None
                    head = upstream.partition(".")[0] if upstream else ""
                    waiting += [head] if head in self.power else []
            self._in_sets[set_id] = frozenset(items if isinstance(items, dict) else ()), frozenset(found)
        return self._in_sets[set_id]

    def _signed_entry(self, source: str, found: _Naming) -> Mapping[str, Any]:
        entry = dict(self.power[source][1])
        if entry.get("outputs"):
            entry["outputs"] = {sign: entry["outputs"][output] for output, sign in found.outputs[source].items()}
        fed_from = self._upstream_signed(source, found)
        if fed_from is not None:
            entry["fed_from"] = fed_from
        return entry

    def named_by_sets(self) -> frozenset[str]:
        """The power sources that sets name, with all that feed these."""
        return frozenset(name for set_id in self._sets for name in self._of_set(set_id)[1])

    def _content(self, source: str, output: str) -> bytes:
        key = (source, output)
        if key not in self._contents:
            entry = self.power[source][1]
            if output:
                content = entry["outputs"][output]
            else:
                content = {name: value for name, value in entry.items() if name not in ("fed_from", "outputs")}
                content["outputs"] = bool(entry.get("outputs"))
            self._contents[key] = hashlib.sha256(marshal.dumps(content, 2)).digest()
        return self._contents[key]


def source_sign(number: int) -> str:
    """The sign of a power source, by its number among those of the opening."""
    return chr(_SOURCES + number)


def file_sign(source_sign: str) -> str:
    """The sign of the file that a source stands in."""
    return chr(ord(source_sign) - _SOURCES + _SOURCE_FILES)


def _entries(files: Files, section: str) -> Iterator[tuple[str, tuple[str, Any]]]:
    """(id, (file, entry)) of a section over all files, the first of two with one id alone."""
    seen: set[str] = set()
    for file, document in files.parts.items():
        tree = document.tree
        listed = tree.get(section) if isinstance(tree, dict) else None
        for name, entry in listed.items() if isinstance(listed, dict) else ():
            if name not in seen:
                seen.add(name)
                yield name, (file, entry)


def awkward(name: str) -> bool:
    """Whether a name would be written otherwise in a pointer, or holds a sign."""
    if not name or "/" in name or "~" in name:
        return True
    return not name.isascii() and any(FIRST <= char <= LAST for char in name)


def _switched(entry: Mapping[str, Any], output: str) -> bool:
    """Whether an output of a source switches what it feeds, so that all its loads count as one."""
    listed = entry.get("outputs")
    part = listed[output] if output and isinstance(listed, dict) else entry
    return not isinstance(part, dict) or part.get("switch") not in (None, "none")


def _fed(entry: Any) -> set[str]:
    """All that the items of an opening's own entry are fed from."""
    items = entry.get("items") if isinstance(entry, dict) else None
    listed = items.values() if isinstance(items, dict) else ()
    return {text for item in listed if isinstance(item, dict) for text in _feeds(item)}


def _feeds(part: Mapping[str, Any]) -> tuple[str, ...]:
    return _texts(part.get("fed_from"))


def _texts(value: object) -> tuple[str, ...]:
    if isinstance(value, str):
        return (value,)
    return tuple(each for each in value if isinstance(each, str)) if isinstance(value, list) else ()


def _blank(item: Any) -> Any:
    return {**item, "length": True} if isinstance(item, dict) and "length" in item else item
