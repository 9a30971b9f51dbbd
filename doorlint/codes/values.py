"""The value files of `rules/values/`: documents and their editions, one file for each value, and local amendments.

Files are read when they are first asked for, and once.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from types import MappingProxyType
from typing import Any, Final

FAMILIES: Final = (
    "building",
    "life_safety",
    "fire_doors",
    "fire_alarm",
    "electrical",
    "accessibility",
    "access_control",
)
"""The keys of `project.codes`. A document of family `product` is claimed by a product, of `law` holds by itself."""


class ValuesError(ValueError):
    """The value files contradict themselves: a mistake of ours, never of the user's spec."""


@dataclass(frozen=True, slots=True)
class Document:
    """A published code or standard: `id` as in IBC-2021 without the year, the family that adopts it, its years."""

    id: str
    title: str
    family: str
    years: tuple[int, ...]

    @property
    def editions(self) -> tuple[str, ...]:
        """The editions that the value files speak of: IBC-2015, IBC-2018, ..."""
        return tuple(f"{self.id}-{year}" for year in self.years)


_YEAR: Final = re.compile(r"(?:^|[^0-9])((?:19|20)[0-9]{2})$")


@cache
def documents() -> Mapping[str, Document]:
    """The documents that the value files speak of, by id."""
    found = load(folder() / "documents.yaml")["documents"]
    return MappingProxyType(
        {entry["id"]: Document(entry["id"], entry["title"], entry["family"], tuple(entry["years"])) for entry in found}
    )


def read_edition(text: str) -> tuple[Document, int] | None:
    """`IBC-2021`, `IBC 2021`, `NFPA 101 (2021)` -> document and year; None for a document that is not known."""
    plain = re.sub(r"[^A-Z0-9.]+", "-", text.upper()).strip("-")
    match = _YEAR.search(plain)
    document = documents().get(plain[: match.start()].strip("-")) if match else None
    return (document, int(match[1])) if match and document else None


@dataclass(frozen=True, slots=True)
class ValueFile:
    """One value file, as read."""

    name: str
    title: str
    kind: str
    dimension: str
    strictness: str
    use: str
    order: tuple[str, ...]
    series: Mapping[str, Mapping[str, Any]]
    gaps: Mapping[str, str]
    families: tuple[str, ...]


@cache
def names() -> tuple[str, ...]:
    """The names of all values: `delayed_egress/delay`, ..."""
    return tuple(
        sorted(
            f"{topic.name}/{file.name.removesuffix('.yaml')}"
            for topic in folder().iterdir()
            if topic.is_dir() and topic.name != "amendments"
            for file in topic.iterdir()
            if file.name.endswith(".yaml")
        )
    )


@cache
def value_file(name: str) -> ValueFile:
    """The file of the value `name`. Raises KeyError for a name that is not there, ValuesError for a faulty file."""
    topic, _, stem = name.partition("/")
    path = folder() / topic / f"{stem}.yaml"
    if topic == "amendments" or not path.is_file():
        raise KeyError(name)
    data = load(path)
    series: dict[str, Mapping[str, Any]] = {}
    for entry in data["series"]:
        if entry["edition"] in series:
            raise ValuesError(f"{name}: {entry['edition']} stands twice in the series")
        series[entry["edition"]] = entry
    gaps = {entry["edition"]: entry["reason"] for entry in data.get("gaps", ())}
    both = series.keys() & gaps.keys()
    if both:
        raise ValuesError(f"{name}: {sorted(both)[0]} stands in the series and among the gaps")
    order = tuple(str(word) for word in data.get("order", ()))
    if data["kind"] == "permission":
        order = ("permitted", "conditional", "not_permitted")
    spoken = {document_of(edition, name).family for edition in (*series, *gaps)}
    return ValueFile(
        name,
        data["title"],
        data["kind"],
        data.get("dimension", ""),
        data.get("strictness", "exactly"),
        data.get("use", "limit"),
        order,
        MappingProxyType(series),
        MappingProxyType(gaps),
        tuple(family for family in FAMILIES if family in spoken),
    )


def document_of(edition: str, name: str) -> Document:
    """The document of an edition that the file `name` speaks of. Raises ValuesError for an unknown one."""
    read = read_edition(edition)
    if read is None:
        raise ValuesError(f"{name}: {edition} is of no document in documents.yaml")
    return read[0]


@cache
def amendment_files() -> Mapping[str, Mapping[str, Any]]:
    """The amendments by their id (CALIFORNIA-2022)."""
    amendments = folder() / "amendments"
    found: dict[str, Mapping[str, Any]] = {}
    for path in sorted(amendments.iterdir(), key=lambda p: p.name):
        if path.name.endswith(".yaml"):
            data = {**load(path), "id": path.name.removesuffix(".yaml").upper()}
            found[data["id"]] = data
    return MappingProxyType(found)


def told_by(entry: Mapping[str, Any]) -> dict[str, Any]:
    """What an entry says, without where it says it: two entries that agree are equal in this."""
    return {key: entry.get(key) for key in ("value", "groups", "with_approval", "beyond", "strictness", "condition")}


def coverage() -> Iterator[tuple[str, str, str, str]]:
    """(value, edition, figure or "", reason of the gap) for each value and each edition of its documents.

    A pair that the files neither answer nor list as a gap has both empty.
    """
    for name in names():
        file = value_file(name)
        spoken = dict.fromkeys(document_of(edition, name).id for edition in (*file.series, *file.gaps))
        for document in spoken:
            known = documents()[document].editions
            beyond = [e for e in (*file.series, *file.gaps) if e not in known and document_of(e, name).id == document]
            for edition in (*known, *beyond):
                entry = file.series.get(edition)
                figure = "" if entry is None else _shown(entry)
                yield name, edition, figure, file.gaps.get(edition, "")


def _shown(entry: Mapping[str, Any]) -> str:
    if "groups" in entry:
        return "; ".join(
            f"{group}: {told['value'] if isinstance(told, Mapping) else told}"
            for group, told in entry["groups"].items()
        )
    value = entry.get("value", entry.get("clause", entry["section"]))
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ", ".join(value) if isinstance(value, list) else str(value)


def check_amendments() -> None:
    """Raise ValuesError where two amendments of one jurisdiction lie over one edition and disagree on a value."""
    seen: dict[tuple[str, str, str], tuple[str, Mapping[str, Any]]] = {}
    for amendment, data in amendment_files().items():
        for change in data["changes"]:
            key = (data["jurisdiction"], data["base"], change["name"])
            value_file(change["name"])
            if key in seen and told_by(seen[key][1]) != told_by(change):
                raise ValuesError(f"amendments/{seen[key][0]} and amendments/{amendment} disagree on {change['name']}")
            seen[key] = (amendment, change)


def folder() -> Traversable:
    """The folder of the value files."""
    return files("doorlint.rules") / "values"


def load(path: Traversable) -> dict[str, Any]:
    """The mapping in one file. Raises ValuesError for a file that is none."""
    import yaml

    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    data = yaml.load(path.read_text(encoding="utf-8"), Loader=loader)
    if not isinstance(data, dict):
        raise ValuesError(f"{path.name}: a mapping is expected")
    return data
