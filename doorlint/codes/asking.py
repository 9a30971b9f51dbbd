"""Asking the adopted codes for a value."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from ..outcome import Cited, Place, Verdict
from ..quantity import parse_band, parse_quantity
from ..spec.fields import UNKNOWN, Undecided
from ..spec.model import Project
from .setting import Answer, Conflict, Setting, Value, strictest
from .values import FAMILIES, Document, ValueFile, amendment_files, documents, read_edition, told_by, value_file


class Gap(Undecided):
    """The value files have no figure for the adopted edition, or the edition is not known. `reason` says why."""

    def __init__(self, name: str, place: Place, reason: str, stated: bool = False) -> None:
        super().__init__(name, place, stated)
        self.reason = reason


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


def lookup(project: Project, family: str, name: str, *, group: str = "") -> Setting:
    """The value `name` in the edition that the project adopts for `family`.

    group: the occupancy group ("A-3"), for values that hang on it. Raises Undecided where the edition is not
    stated, Gap where there is no figure for it, KeyError for an unknown family or name.
    """
    edition = adopted(project, family)
    return setting_of(name, edition, group)


def published(name: str, edition: str, *, group: str = "", place: Place | None = None) -> Setting:
    """The value `name` in `edition` ("EN-1125-2008"), whether or not a project adopts it.

    For standards that a product claims. place: where it claims it. Raises Gap and KeyError as `lookup` does.
    """
    read = read_edition(edition)
    if read is None:
        raise KeyError(edition)
    document, year = read
    return setting_of(name, Edition(f"{document.id}-{year}", document, year, place or Place("", "")), group)


def settings(project: Project, name: str, *, group: str = "") -> tuple[tuple[Setting, ...], tuple[Gap, ...]]:
    """The value `name` in every adopted code that speaks of it, and what keeps others from being known.

    Raises Undecided where the project states none of those codes, or where the value hangs on the group and none
    is given.
    """
    families = value_file(name).families
    if not families:
        raise KeyError(f"{name} stands in no code that is adopted: ask `published`")
    stated = [family for family in families if family in project.codes]
    if not stated:
        adopted(project, families[0])  # raises, naming the code that is not stated
    found: list[Setting] = []
    gaps: list[Gap] = []
    for family in stated:
        try:
            edition = adopted(project, family)
        except Undecided as gap:
            gaps.append(Gap(gap.name, gap.place, "the edition is not known", gap.stated))
            continue
        try:
            found.append(setting_of(name, edition, group))
        except Gap as gap:
            gaps.append(gap)
    return tuple(found), tuple(gaps)


def governing(project: Project, name: str, *, group: str = "") -> Setting | Conflict:
    """The strictest of the adopted codes, or the conflict between them.

    Raises Undecided or Gap where one of them has no figure, since the strictest is then not known.
    """
    found, gaps = settings(project, name, group=group)
    if gaps:
        raise gaps[0]
    return strictest(found) or Conflict(found)


def permission(project: Project, name: str, *, group: str = "") -> Setting:
    """What the adopted codes say together to a permission: the first that forbids, else the strictest.

    Raises Undecided or Gap where none forbids and one of them is not known.
    """
    found, gaps = settings(project, name, group=group)
    forbidding = [setting for setting in found if setting.permits is Answer.NO]
    if forbidding:
        return forbidding[0]
    if gaps:
        raise gaps[0]
    return _strictest_or_first(found)


def triggering(project: Project, name: str, measured: Value, *, group: str = "") -> Setting | None:
    """The adopted code whose trigger `measured` meets ("panic hardware from 50 occupants"), None where there is none.

    Raises Undecided or Gap where none is met and one of them is not known.
    """
    found, gaps = settings(project, name, group=group)
    met = tuple(setting for setting in found if setting.triggers(measured))
    if not met and gaps:
        raise gaps[0]
    return _strictest_or_first(met) if met else None


def judge(
    project: Project, name: str, what: str, measured: Value, at: Place, *, group: str = "", **more: Any
) -> Verdict:
    """`measured` against every adopted code that speaks of `name`: all of them have to be met.

    Fail as soon as one is not met; else review where one needs approval; else pass, shown against the strictest.
    Raises Undecided or Gap where nothing fails and one of them is not known.
    """
    found, gaps = settings(project, name, group=group)
    answers = {setting: setting.admits(measured) for setting in found}
    failing = tuple(setting for setting, answer in answers.items() if answer is Answer.NO)
    if gaps and not failing:
        raise gaps[0]
    waiting = tuple(setting for setting, answer in answers.items() if answer is Answer.APPROVAL)
    decisive = failing or waiting or found
    shown = _strictest_or_first(decisive)
    grounds = tuple(dict.fromkeys(setting.basis for setting in decisive))
    return replace(shown.verdict(what, measured, at, **more), basis=grounds)


def _strictest_or_first(found: tuple[Setting, ...]) -> Setting:
    """The strictest, or the first in the order of `FAMILIES` where two cannot be ranked."""
    return strictest(found) or found[0]


def section(project: Project, family: str, key: str) -> Cited:
    """Where the adopted edition speaks of `key` ("delayed_egress"), for the basis of a finding.

    Raises as `lookup` does.
    """
    return lookup(project, family, f"sections/{key}").basis


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
        data = amendment_files().get(text.upper().replace(" ", "-"))
        if data is None:
            place = project.at("amendments").child(index) if len(named) > 1 else project.at("amendments")
            raise Undecided(f"what the amendment {text!r} changes", place, stated=False)
        if data["base"].rpartition("-")[0] != edition.rpartition("-")[0]:
            continue  # it amends another document
        if data["base"] != edition:
            raise Undecided(
                f"the edition that amendment {text} amends ({data['base']}, where the project adopts {edition})",
                project.at("amendments"),
                stated=False,
            )
        chosen.append(data["id"])
    return tuple(chosen)


def setting_of(name: str, edition: Edition, group: str) -> Setting:
    """The value `name` in `edition`, an amendment laid over it. Raises Gap, Undecided and KeyError as `lookup`."""
    file = value_file(name)
    layer, entry = edition.text, file.series.get(edition.text)
    overlays = [
        (amendment, change)
        for amendment in edition.amendments
        for change in amendment_files()[amendment]["changes"]
        if change["name"] == name
    ]
    if overlays:
        layer, entry = overlays[0]
        for other, change in overlays[1:]:
            if told_by(change) != told_by(entry):
                raise Undecided(
                    f"which of amendments/{layer} and amendments/{other}, which differ, governs {name}",
                    edition.place,
                    stated=False,
                )
    if entry is None:
        raise Gap(_missing(file, edition), edition.place, file.gaps.get(edition.text, ""))
    return _made(file, edition, layer, entry, group)


def _missing(file: ValueFile, edition: Edition) -> str:
    return f"a value for {file.title[:1].lower()}{file.title[1:]} ({file.name}) in {edition.text}"


def _made(file: ValueFile, edition: Edition, layer: str, entry: Mapping[str, Any], group: str) -> Setting:
    told = {**entry, **_of_group(file, edition, entry, group)} if "groups" in entry else entry
    source = documents()[edition.document.id]
    basis = Cited(
        told.get("document", source.title),
        "" if "document" in told else str(edition.year),
        told.get("clause") or told["section"],
        told["section"] if told.get("clause") else "",
        from_memory=told.get("from_memory") is True,
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
        file.order,
    )


def _of_group(file: ValueFile, edition: Edition, entry: Mapping[str, Any], group: str) -> Mapping[str, Any]:
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


def _value(file: ValueFile, value: Any) -> Value | None:
    if value == "none":
        return None
    if file.kind == "quantity":
        return parse_quantity(value, file.dimension)
    if file.kind == "range":
        return parse_band(value, file.dimension)
    if file.kind == "list":
        return tuple(value)
    return value  # type: ignore[no-any-return]
