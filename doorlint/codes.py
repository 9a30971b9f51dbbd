"""What the adopted codes demand, by edition: values from `rules/values/`, never a default.

One file holds one value through all documents and editions that are known: `rules/values/<topic>/<name>.yaml`, and
`<topic>/<name>` is its name here. Each figure carries its own ground. What the files do not know is `Gap`, which
the rulebook turns into an *open* outcome; what two adopted codes tell differently and no one figure settles is a
`Conflict`, which goes to the authority. Local amendments lie over the base edition and never change it.

The figures are paraphrased from published codes and help a check by computation. They do not replace the adopted
text, which is often amended locally, nor the authority having jurisdiction.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction
from functools import cache
from importlib.resources import files
from importlib.resources.abc import Traversable
from types import MappingProxyType
from typing import Any, Final, TypeAlias

from .outcome import Cited, Kind, Measure, Place, Related, Verdict
from .quantity import Band, Quantity, parse_band, parse_quantity, show
from .spec.fields import UNKNOWN, Undecided
from .spec.model import Project

__all__ = [
    "Answer",
    "Conflict",
    "Document",
    "Edition",
    "Gap",
    "Setting",
    "ValuesError",
    "adopted",
    "coverage",
    "documents",
    "governing",
    "judge",
    "lookup",
    "names",
    "published",
    "section",
    "settings",
]

Value: TypeAlias = Quantity | Band | int | str | bool | tuple[str, ...]
"""A value of a code, or what the spec has in its place."""

FAMILIES: Final = (
    "building",
    "life_safety",
    "fire_doors",
    "fire_alarm",
    "electrical",
    "accessibility",
    "access_control",
)
"""The keys of `project.codes`. Documents of the family `product` are not adopted: a product claims them."""


class ValuesError(ValueError):
    """The value files contradict themselves: a mistake of ours, never of the user's spec."""


class Gap(Undecided):
    """The adopted edition is known, and the value files have no figure for it. `reason` says why."""

    def __init__(self, name: str, place: Place, reason: str) -> None:
        super().__init__(name, place, stated=False)
        self.reason = reason


class Answer(StrEnum):
    """Whether a code admits a value."""

    YES = "yes"
    NO = "no"
    APPROVAL = "approval"  # only where the authority approves


# -- documents and editions -------------------------------------------------------------------------


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


@dataclass(frozen=True, slots=True)
class Edition:
    """An edition that the project adopts. `amendments` are the local amendments to it."""

    text: str
    document: Document
    year: int
    place: Place
    amendments: tuple[str, ...] = ()

    def __str__(self) -> str:
        return self.text


_YEAR: Final = re.compile(r"(?:^|[^0-9])((?:19|20)[0-9]{2})$")


@cache
def documents() -> Mapping[str, Document]:
    """The documents that the value files speak of, by id."""
    found = _load(_folder() / "documents.yaml")["documents"]
    return MappingProxyType(
        {
            entry["id"]: Document(entry["id"], entry["title"], entry["family"], tuple(entry["years"]))
            for entry in found
        }
    )


def read_edition(text: str) -> tuple[Document, int] | None:
    """`IBC-2021`, `IBC 2021`, `NFPA 101 (2021)` -> document and year; None for a document that is not known."""
    plain = re.sub(r"[^A-Z0-9.]+", "-", text.upper()).strip("-")
    match = _YEAR.search(plain)
    document = documents().get(plain[: match.start()].strip("-")) if match else None
    return (document, int(match[1])) if match and document else None


def adopted(project: Project, family: str) -> Edition:
    """The edition that the project adopts for `family`, one of `FAMILIES`.

    Raises Undecided naming `codes.<family>` where the project does not state it, or states what is not known.
    """
    if family not in FAMILIES:
        raise KeyError(family)
    text = project.codes.get(family)
    codes_at = project.place.child("codes")
    if text is None:
        raise Undecided(f"codes.{family}", codes_at.key if project.codes else project.place.key, stated=False)
    place = codes_at.child(family)
    if text == "unknown":
        raise Undecided(f"codes.{family}", place, stated=True)
    read = read_edition(text)
    if read is None or read[0].family != family:
        raise Undecided(f"codes.{family} as one of {_listed(family)} (not {text!r})", place, stated=False)
    document, year = read
    return Edition(f"{document.id}-{year}", document, year, place, _amendments(project, f"{document.id}-{year}"))


def _listed(family: str) -> str:
    known = [edition for document in documents().values() if document.family == family for edition in document.editions]
    return ", ".join(known)


def _amendments(project: Project, edition: str) -> tuple[str, ...]:
    """The amendments named by the project that lie over `edition`.

    Raises Undecided for one that is not known: it may have changed any figure.
    """
    named = project.amendments
    if named is None:
        return ()
    if named is UNKNOWN:
        raise Undecided("amendments", project.at("amendments"), stated=True)
    chosen = []
    for index, text in enumerate(named):
        if text == "none":
            continue
        data = _amendment_files().get(text.upper().replace(" ", "-"))
        if data is None:
            place = project.at("amendments").child(index) if len(named) > 1 else project.at("amendments")
            raise Undecided(f"what the amendment {text!r} changes", place, stated=False)
        if data["base"].rpartition("-")[0] != edition.rpartition("-")[0]:
            continue  # it amends another document
        if data["base"] != edition:
            raise Undecided(
                f"which edition holds: the amendment {text} is to {data['base']}, the project adopts {edition}, and it",
                project.at("amendments"),
                stated=False,
            )
        chosen.append(data["id"])
    return tuple(chosen)


# -- settings ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Setting:
    """One value of one edition.

    name, title: of the value file. kind: quantity, range, count, word, flag, list or permission.
    value: in SI units and exact where it is a quantity; None where the edition sets no limit.
    strictness: at_least, more_than, at_most, less_than, within, exactly, all_of, any_of.
    use: `limit` (what the door must meet) or `trigger` (from when on something is demanded).
    with_approval: the value that holds where the authority approves, None where there is none.
    beyond: `approval` where the authority may approve any other value as well.
    condition: what a `conditional` permission depends on, in words.
    edition: IBC-2021. layer: the edition, or the amendment that supplied the value.
    basis: document, edition, clause. place: where the project adopts the edition.
    """

    name: str
    title: str
    kind: str
    value: Value | None
    strictness: str
    use: str
    edition: str
    layer: str
    basis: Cited
    place: Place
    with_approval: Value | None = None
    condition: str = ""
    note: str = ""
    beyond: str = ""

    @property
    def relation(self) -> str:
        """The strictness in words: "at most"."""
        return self.strictness.replace("_", " ")

    @property
    def text(self) -> str:
        """The value in words, with its unit: "15 s"."""
        return _text(self.value)

    @property
    def related(self) -> Related:
        """The place where the edition is adopted, for a finding."""
        return Related(self.place, f"{self.edition} is adopted here")

    def admits(self, measured: Value) -> Answer:
        """Whether the code admits `measured`. A band has to lie within the limit as a whole."""
        if self.kind == "permission":
            raise TypeError(f"{self.name} is a permission: ask `permits`")
        if self.value is None or _meets(measured, self.value, self.strictness):
            return Answer.YES
        if self.beyond == "approval":
            return Answer.APPROVAL
        if self.with_approval is not None and _meets(measured, self.with_approval, self.strictness):
            return Answer.APPROVAL
        return Answer.NO

    def triggers(self, measured: Value) -> bool:
        """Whether `measured` brings on what this value is the trigger of. No trigger: never."""
        if self.use != "trigger":
            raise TypeError(f"{self.name} is a {self.use}, no trigger")
        return self.value is not None and _meets(measured, self.value, self.strictness)

    @property
    def permits(self) -> Answer:
        """Whether a permission allows: yes, no, or approval (conditional: see `condition`)."""
        if self.kind != "permission":
            raise TypeError(f"{self.name} is a {self.kind}, no permission")
        return {"permitted": Answer.YES, "conditional": Answer.APPROVAL, "not_permitted": Answer.NO}[str(self.value)]

    def verdict(self, what: str, measured: Value, at: Place, **more: Any) -> Verdict:
        """Pass, fail or review of `measured` against this limit, with message, figures and basis.

        what: what was measured, as the start of a sentence ("delay"). more: further fields of Verdict.
        """
        answer = self.admits(measured)
        kind = {Answer.YES: Kind.PASS, Answer.NO: Kind.FAIL, Answer.APPROVAL: Kind.REVIEW}[answer]
        limit = "no limit is set" if self.value is None else f"{_phrase(self.strictness, self.value)} is required"
        if answer is Answer.APPROVAL:
            further = f", {_phrase(self.strictness, self.with_approval)}" if self.with_approval is not None else ""
            limit += f"; other values{further} only where the authority approves"
        message = f"{what} {_text(measured)}: {limit} ({self.layer})"
        figures: dict[str, Any] = {}
        if isinstance(measured, Quantity) and isinstance(self.value, Quantity):
            figures = {
                "measured": Measure(measured.value, measured.dimension),
                "limit": Measure(self.value.value, self.value.dimension),
                "relation": self.relation,
                "what": what,
            }
        related = (self.related, *more.pop("related", ()))
        return Verdict(kind, message, at, related=related, **{"basis": (self.basis,), **figures, **more})


@dataclass(frozen=True, slots=True)
class Conflict:
    """Adopted codes that say different things, neither of which is the stricter. The authority decides."""

    settings: tuple[Setting, ...]

    @property
    def message(self) -> str:
        """What each of them says."""
        each = "; ".join(f"{s.layer}: {s.text}" for s in self.settings)
        return f"{self.settings[0].title}: the adopted codes differ ({each}); the authority decides which governs"

    def verdict(self, at: Place) -> Verdict:
        """The review outcome."""
        related = tuple(s.related for s in self.settings)
        return Verdict(Kind.REVIEW, self.message, at, related=related, basis=tuple(s.basis for s in self.settings))


# -- asking -----------------------------------------------------------------------------------------


def lookup(project: Project, family: str, name: str, *, group: str = "") -> Setting:
    """The value `name` in the edition that the project adopts for `family`.

    group: the occupancy group ("A-3"), for values that hang on it. Raises Undecided where the edition is not
    stated, Gap where there is no figure for it, KeyError for an unknown family or name.
    """
    edition = adopted(project, family)
    return _setting(name, edition, group)


def published(name: str, edition: str, *, group: str = "", place: Place | None = None) -> Setting:
    """The value `name` in `edition` ("EN-1125-2008"), whether or not a project adopts it.

    For standards that a product claims. place: where it claims it. Raises Gap and KeyError as `lookup` does.
    """
    read = read_edition(edition)
    if read is None:
        raise KeyError(edition)
    document, year = read
    return _setting(name, Edition(f"{document.id}-{year}", document, year, place or Place("", "")), group)


def settings(project: Project, name: str, *, group: str = "") -> tuple[tuple[Setting, ...], tuple[Gap, ...]]:
    """The value `name` in every adopted code that speaks of it, and the gaps among them.

    Raises Undecided where the project states none of those codes, or says `unknown` for one.
    """
    families = _value_file(name).families
    if not families:
        raise KeyError(f"{name} stands in no code that is adopted: ask `published`")
    stated = [family for family in families if family in project.codes]
    if not stated:
        adopted(project, families[0])  # raises, naming the code that is not stated
    found: list[Setting] = []
    gaps: list[Gap] = []
    for family in stated:
        try:
            found.append(lookup(project, family, name, group=group))
        except Gap as gap:
            gaps.append(gap)
    return tuple(found), tuple(gaps)


def governing(project: Project, name: str, *, group: str = "") -> Setting | Conflict:
    """The strictest of the adopted codes, or the conflict between them.

    Raises Gap where one of them has no figure, since the strictest is then not known.
    """
    found, gaps = settings(project, name, group=group)
    if gaps:
        raise gaps[0]
    best = found[0]
    for other in found[1:]:
        stricter = _stricter(best, other, _value_file(name))
        if stricter is None:
            return Conflict(found)
        best = stricter
    return best


def judge(
    project: Project, name: str, what: str, measured: Value, at: Place, *, group: str = "", **more: Any
) -> Verdict:
    """`measured` against every adopted code that speaks of `name`: all of them have to be met.

    Fail as soon as one is not met; else review where one needs approval; else pass, shown against the strictest.
    Raises Undecided or Gap where nothing fails and one of them is not known.
    """
    found, gaps = settings(project, name, group=group)
    verdicts = [setting.verdict(what, measured, at, **more) for setting in found]
    failing = [v for v in verdicts if v.kind is Kind.FAIL]
    if gaps and not failing:
        raise gaps[0]
    if not failing and (reviews := [v for v in verdicts if v.kind is Kind.REVIEW]):
        return reviews[0]
    chosen = failing or verdicts
    strictest = min(chosen, key=lambda v: v.margin.value if v.margin is not None else Fraction(0))
    return replace(strictest, basis=tuple(dict.fromkeys(ground for v in chosen for ground in v.basis)))


def section(project: Project, family: str, key: str) -> Cited:
    """Where the adopted edition speaks of `key` ("delayed_egress"), for the basis of a finding.

    Raises as `lookup` does.
    """
    return lookup(project, family, f"sections/{key}").basis


# -- comparing --------------------------------------------------------------------------------------

_NUMERIC: Final = ("at_least", "more_than", "at_most", "less_than")


def _ends(value: Value) -> tuple[Fraction, Fraction]:
    if isinstance(value, Band):
        return value.low, value.high
    if isinstance(value, Quantity):
        return value.value, value.value
    if isinstance(value, int) and not isinstance(value, bool):
        return Fraction(value), Fraction(value)
    raise TypeError(f"{value!r} is no number")


def _meets(measured: Value, limit: Value, strictness: str) -> bool:
    one, other = getattr(measured, "dimension", None), getattr(limit, "dimension", None)
    if one != other:
        raise TypeError(f"a {one} cannot be compared with a {other}")
    if strictness in _NUMERIC:
        low, high = _ends(measured)
        bound = _ends(limit)[0]
        return {
            "at_least": low >= bound,
            "more_than": low > bound,
            "at_most": high <= bound,
            "less_than": high < bound,
        }[strictness]
    if strictness == "within":
        (low, high), (least, most) = _ends(measured), _ends(limit)
        return least <= low and high <= most
    if strictness in ("all_of", "any_of"):
        has = {measured} if isinstance(measured, str) else set(_words(measured))
        wants = set(_words(limit))
        return wants <= has if strictness == "all_of" else bool(wants & has)
    if type(measured) is not type(limit):
        raise TypeError(f"{measured!r} cannot be compared with {limit!r}")
    return measured == limit


def _words(value: Value) -> Collection[str]:
    if isinstance(value, tuple):
        return value
    raise TypeError(f"{value!r} is no list of words")


def _stricter(one: Setting, other: Setting, file: _File) -> Setting | None:
    """The stricter of two settings of one value; None where neither is."""
    if one.value == other.value and one.strictness == other.strictness:
        return one
    if one.value is None or other.value is None:
        return other if one.value is None else one
    if one.strictness in _NUMERIC:
        up = one.strictness in ("at_least", "more_than")
        if up != (other.strictness in ("at_least", "more_than")):
            return None
        a, b = _ends(one.value)[0], _ends(other.value)[0]
        if a == b:  # the sharp relation leaves less room
            sharp = one if one.strictness in ("more_than", "less_than") else other
            return sharp if one.use == "limit" else (other if sharp is one else one)
        higher = one if a > b else other
        wants_higher = up == (one.use == "limit")
        return higher if wants_higher else (other if higher is one else one)
    if one.strictness != other.strictness:
        return None
    if one.strictness == "within":
        inside = _meets(one.value, other.value, "within")
        return one if inside else other if _meets(other.value, one.value, "within") else None
    if one.strictness == "all_of":
        more = set(_words(one.value)) >= set(_words(other.value))
        return one if more else other if set(_words(other.value)) >= set(_words(one.value)) else None
    ranks = [_text(s.value) for s in (one, other)]
    if all(rank in file.order for rank in ranks):
        return one if file.order.index(ranks[0]) >= file.order.index(ranks[1]) else other
    return None


def _text(value: Value | None) -> str:
    if value is None:
        return "no limit"
    if isinstance(value, Quantity | Band):
        return value.text or show(_ends(value)[0], value.dimension)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(value)
    return str(value)


def _phrase(strictness: str, value: Value) -> str:
    if strictness == "exactly":
        return _text(value)
    return f"{strictness.replace('_', ' ')} {_text(value)}"


# -- value files ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _File:
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


def _folder() -> Traversable:
    return files("doorlint.rules") / "values"


def _load(path: Traversable) -> dict[str, Any]:
    import yaml

    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    data = yaml.load(path.read_text(encoding="utf-8"), Loader=loader)  # noqa: S506 - a safe loader, of our own files
    if not isinstance(data, dict):
        raise ValuesError(f"{path.name}: a mapping is expected")
    return data


@cache
def names() -> tuple[str, ...]:
    """The names of all values: `delayed_egress/delay`, ..."""
    return tuple(
        sorted(
            f"{topic.name}/{file.name.removesuffix('.yaml')}"
            for topic in _folder().iterdir()
            if topic.is_dir() and topic.name != "amendments"
            for file in topic.iterdir()
            if file.name.endswith(".yaml")
        )
    )


@cache
def _value_file(name: str) -> _File:
    topic, _, stem = name.partition("/")
    path = _folder() / topic / f"{stem}.yaml"
    if not stem or topic == "amendments" or not path.is_file():
        raise KeyError(name)
    data = _load(path)
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
    spoken = {_document_of(edition, name).family for edition in (*series, *gaps)}
    return _File(
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


def _document_of(edition: str, name: str) -> Document:
    read = read_edition(edition)
    if read is None:
        raise ValuesError(f"{name}: {edition} is of no document in documents.yaml")
    return read[0]


def _setting(name: str, edition: Edition, group: str) -> Setting:
    file = _value_file(name)
    layer, entry = edition.text, file.series.get(edition.text)
    overlays = [
        (amendment, change)
        for amendment in edition.amendments
        for change in _amendment_files()[amendment]["changes"]
        if change["name"] == name
    ]
    if overlays:
        layer, entry = overlays[0]
        for other, change in overlays[1:]:
            if _told(change) != _told(entry):
                raise Undecided(
                    f"which amendment governs {name}: amendments/{layer} and amendments/{other} differ, and it",
                    edition.place,
                    stated=False,
                )
    if entry is None:
        raise Gap(_missing(file, edition), edition.place, file.gaps.get(edition.text, ""))
    return _made(file, edition, layer, entry, group)


def _missing(file: _File, edition: Edition) -> str:
    return f"a value for {file.title[:1].lower()}{file.title[1:]} ({file.name}) in {edition.text}"


def _told(entry: Mapping[str, Any]) -> dict[str, Any]:
    return {key: entry.get(key) for key in ("value", "groups", "with_approval", "beyond", "strictness", "condition")}


def _made(file: _File, edition: Edition, layer: str, entry: Mapping[str, Any], group: str) -> Setting:
    told = {**entry, **_of_group(file, edition, entry, group)} if "groups" in entry else entry
    source = documents()[edition.document.id]
    basis = Cited(
        told.get("document", source.title),
        "" if "document" in told else str(edition.year),
        told.get("clause") or told["section"],
        told["section"] if told.get("clause") else "",
        from_memory=bool(told.get("from_memory", False)),
    )
    return Setting(
        file.name,
        file.title,
        file.kind,
        _value(file, told.get("value", told["section"])),
        told.get("strictness", file.strictness),
        file.use,
        edition.text,
        layer,
        basis,
        edition.place,
        _value(file, told.get("with_approval", "none")),
        told.get("condition", ""),
        told.get("note", ""),
        told.get("beyond", ""),
    )


def _of_group(file: _File, edition: Edition, entry: Mapping[str, Any], group: str) -> Mapping[str, Any]:
    """What the entry says for the group: `A-3` is looked for first, then `A`, then `otherwise`."""
    if not group:
        raise Undecided("group", edition.place, stated=False)
    groups = entry["groups"]
    letter = group.strip().upper()
    for key in (letter, letter.partition("-")[0], "otherwise"):
        if key in groups:
            told = groups[key]
            return told if isinstance(told, Mapping) else {"value": told}
    raise Gap(f"{_missing(file, edition)} for group {group}", edition.place, "")


def _value(file: _File, value: Any) -> Value | None:
    if value == "none":
        return None
    if file.kind == "quantity":
        return parse_quantity(value, file.dimension)
    if file.kind == "range":
        return parse_band(value, file.dimension)
    if file.kind == "list":
        return tuple(value)
    return value  # type: ignore[no-any-return]


@cache
def _amendment_files() -> Mapping[str, Mapping[str, Any]]:
    """The amendments by their id (CALIFORNIA-2022)."""
    folder = _folder() / "amendments"
    found: dict[str, Mapping[str, Any]] = {}
    for path in sorted(folder.iterdir(), key=lambda p: p.name) if folder.is_dir() else ():
        if path.name.endswith(".yaml"):
            data = {**_load(path), "id": path.name.removesuffix(".yaml").upper()}
            found[data["id"]] = data
    return MappingProxyType(found)


# -- checking the data ------------------------------------------------------------------------------


def coverage() -> Iterator[tuple[str, str, str, str]]:
    """(value, edition, figure or "", reason of the gap) for each value and each edition of its documents.

    A pair that the files neither answer nor list as a gap has both empty.
    """
    for name in names():
        file = _value_file(name)
        spoken = dict.fromkeys(_document_of(edition, name).id for edition in (*file.series, *file.gaps))
        for document in spoken:
            known = documents()[document].editions
            beyond = [e for e in (*file.series, *file.gaps) if e not in known and _document_of(e, name).id == document]
            for edition in (*known, *beyond):
                entry = file.series.get(edition)
                figure = "" if entry is None else _shown(entry)
                yield name, edition, figure, file.gaps.get(edition, "")


def _shown(entry: Mapping[str, Any]) -> str:
    if "groups" in entry:
        return "; ".join(
            f"{group}: {told['value'] if isinstance(told, Mapping) else told}" for group, told in entry["groups"].items()
        )
    value = entry.get("value", entry.get("clause", entry["section"]))
    return ", ".join(value) if isinstance(value, list) else _text(value)


def check_amendments() -> None:
    """Raise ValuesError where two amendments of one jurisdiction lie over one edition and disagree on a value."""
    seen: dict[tuple[str, str, str], tuple[str, Mapping[str, Any]]] = {}
    for amendment, data in _amendment_files().items():
        for change in data["changes"]:
            key = (data["jurisdiction"], data["base"], change["name"])
            _value_file(change["name"])
            if key in seen and _told(seen[key][1]) != _told(change):
                raise ValuesError(f"amendments/{seen[key][0]} and amendments/{amendment} disagree on {change['name']}")
            seen[key] = (amendment, change)
