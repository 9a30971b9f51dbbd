"""An earlier revision of a review: read back from the SARIF that doorlint wrote, or taken from a review just made;
and how its outcomes stand to those of a later one."""

from __future__ import annotations

import json
import stat
from collections import defaultdict, deque
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from ..fingerprint import Fingerprint, fingerprints, owner
from ..outcome import Kind, Level, Outcome
from .text import where

if TYPE_CHECKING:
    from ..reviewing import Result

REQUIREMENT = "doorlintRequirement/v1"
"""The partial fingerprint that outcomes of one requirement share."""
OUTCOME = "doorlintOutcome/v1"
"""The partial fingerprint of one outcome alone."""
LARGEST = 256 * 1024 * 1024
"""How large a SARIF file may be, in bytes."""

State = Literal["new", "unchanged", "updated"]


class NotOurs(Exception):  # noqa: N818 - told to the user as it stands
    """A file is no SARIF that doorlint wrote. The message is one line."""


@dataclass(frozen=True, slots=True)
class Record:
    """One outcome as far as revisions are compared by it.

    opening: the opening that it belongs to, "" for what is no opening's. file, line and column: where it stood
    (line and column from 1; 0 where the place had none).
    """

    rule: str
    subject: str
    opening: str
    kind: Kind
    level: Level
    message: str
    waived: bool
    requirement: str
    fingerprint: str
    file: str = ""
    line: int = 0
    column: int = 0

    @property
    def standing(self) -> tuple[Kind, Level, str, bool]:
        """What must be equal for an outcome to be called unchanged."""
        return self.kind, self.level, self.message, self.waived


@dataclass(frozen=True, slots=True)
class Revision:
    """The outcomes of one spec at one time. complete: everything could be read and no rule broke. off: the rules that
    house standards switched off, which judged nothing."""

    spec: str
    records: tuple[Record, ...]
    openings: tuple[str, ...]
    complete: bool = True
    off: tuple[str, ...] = ()


def readable(text: str) -> str:
    """`text` as a SARIF message can carry it: without surrogates, and with nothing that a viewer takes for a link
    (SARIF 2.1.0, 3.11.6: `[text](target)`)."""
    return text.encode("utf-8", "replace").decode("utf-8").replace("](", "] (")


def escaped(text: str) -> str:
    """A message's text with literal braces doubled, as SARIF 2.1.0, 3.11.5 asks."""
    return readable(text).replace("{", "{{").replace("}", "}}")


def _unescaped(text: str) -> str:
    return text.replace("{{", "{").replace("}}", "}")


def revision(result: Result) -> Revision:
    """The revision that a review just made is."""
    openings = tuple(result.spec.openings) if result.spec is not None else ()
    known = frozenset(openings)
    records = []
    for outcome, mark in zip(result.outcomes, fingerprints(result.outcomes), strict=True):
        found = where(result, outcome.place)
        line, column = (found.line, found.column) if found else (0, 0)
        records.append(_record(outcome, mark, owner(outcome.subject, known), line, column))
    off = tuple(sorted(result.settings.off))
    return Revision(
        readable(result.root), tuple(records), tuple(map(readable, openings)), not result.broken, off
    )


def _record(outcome: Outcome, mark: Fingerprint, opening: str, line: int, column: int) -> Record:
    return Record(
        rule=outcome.rule,
        subject=readable(outcome.subject),
        opening=readable(opening),
        kind=outcome.kind,
        level=outcome.level,
        message=readable(outcome.message),
        waived=bool(outcome.waived),
        requirement=mark.requirement,
        fingerprint=mark.outcome,
        file=readable(outcome.place.file),
        line=line,
        column=column,
    )


# --- how outcomes stand to earlier ones ---


@dataclass(frozen=True, slots=True)
class Standing:
    """How a later revision stands to an earlier one: for each later record its state and the earlier record that it
    continues (None for a new one), and the earlier records that are gone."""

    states: tuple[State, ...]
    before: tuple[Record | None, ...]
    absent: tuple[Record, ...]


def against(earlier: Sequence[Record], later: Sequence[Record]) -> Standing:
    """Match two revisions' records by requirement.

    Where one requirement has several outcomes, equal ones are matched first and the rest in their order, so that one
    more or one less does not make all the others look changed.
    """
    waiting: defaultdict[str, deque[Record]] = defaultdict(deque)
    for record in earlier:
        waiting[record.requirement].append(record)
    before: list[Record | None] = [None] * len(later)
    equal: defaultdict[tuple[str, tuple[Kind, Level, str, bool]], deque[Record]] = defaultdict(deque)
    for records in waiting.values():
        for record in records:
            equal[record.requirement, record.standing].append(record)
    taken: set[int] = set()
    for index, record in enumerate(later):
        same = equal.get((record.requirement, record.standing))
        if same:
            before[index] = same.popleft()
            taken.add(id(before[index]))
    for index, record in enumerate(later):
        rest = waiting.get(record.requirement)
        while before[index] is None and rest:
            candidate = rest.popleft()
            if id(candidate) not in taken:
                before[index] = candidate
                taken.add(id(candidate))
    states: list[State] = []
    for record, old in zip(later, before, strict=True):
        states.append("new" if old is None else "unchanged" if old.standing == record.standing else "updated")
    return Standing(tuple(states), tuple(before), tuple(record for record in earlier if id(record) not in taken))


def counterpart(earlier: Sequence[Revision], spec: str, *, alone: bool) -> Revision | None:
    """The earlier revision of a spec: that of the same name; or, where each side has one spec, the one there is."""
    for one in earlier:
        if one.spec == readable(spec):
            return one
    return earlier[0] if alone and len(earlier) == 1 else None


def standing(result: Result, earlier: Sequence[Revision] | None, *, alone: bool) -> Standing | None:
    """How a review stands to its earlier revision; all is new where that has no such spec. None without `earlier`.

    alone: it is the only review of this run, so that a spec may have been renamed.
    """
    if earlier is None:
        return None
    before = counterpart(earlier, result.root, alone=alone)
    return against(before.records if before else (), revision(result).records)


# --- reading SARIF back ---


def is_sarif(path: Path) -> bool:
    """Whether a path is meant as a SARIF file: by its ending, `.sarif` or `.json`."""
    return path.suffix.lower() in (".sarif", ".json")


def read(path: Path) -> tuple[Revision, ...]:
    """The revisions in a SARIF file that doorlint wrote, one for each run.

    Raises NotOurs when the file cannot be read, is no SARIF 2.1.0, or was not written by doorlint.
    """
    try:
        tree = json.loads(_bytes(path).decode("utf-8-sig"), parse_constant=_no_number)
    except UnicodeDecodeError as error:
        raise NotOurs(f"{path}: is no SARIF: byte {error.start + 1} is no UTF-8") from error
    except json.JSONDecodeError as error:
        raise NotOurs(f"{path}:{error.lineno}:{error.colno}: is no SARIF: it is broken JSON ({error.msg})") from error
    except (ValueError, RecursionError) as error:
        raise NotOurs(f"{path}: is no SARIF: it is JSON that cannot be read ({_one_line(error)})") from error
    try:
        return _log(tree)
    except _Broken as error:
        raise NotOurs(f"{path}: {error}") from error


def _bytes(path: Path) -> bytes:
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            raise NotOurs(f"{path}: is no file; a SARIF file that doorlint wrote is expected")
        if status.st_size > LARGEST:
            raise NotOurs(f"{path}: is larger than {LARGEST // 1024 // 1024} MiB")
        return path.read_bytes()
    except (OSError, ValueError) as error:
        from ..spec.files import why

        raise NotOurs(f"{path}: {why(error)}") from error


def _no_number(constant: str) -> None:
    raise ValueError(f"{constant} is no JSON number")


def _one_line(error: BaseException) -> str:
    return " ".join(str(error).split())[:120]


class _Broken(Exception):  # noqa: N818 - told on as NotOurs
    """What is wrong with a SARIF tree."""


def _log(tree: Any) -> tuple[Revision, ...]:
    if not isinstance(tree, dict) or "runs" not in tree:
        raise _Broken("is no SARIF: an object with `runs` is expected")
    version = tree.get("version")
    if version != "2.1.0":
        raise _Broken(f"is SARIF of version {str(version)[:20]!r}; version 2.1.0 is expected")
    runs = _get(tree, "runs", list, "")
    for index, run in enumerate(runs):
        at = f"runs[{index}]"
        driver = _get(_get(_as(run, dict, at), "tool", dict, at), "driver", dict, f"{at}.tool")
        name = _get(driver, "name", str, f"{at}.tool.driver")
        if name != "doorlint":
            raise _Broken(f"was written by {name[:40]!r}, not by doorlint")
    if not runs:
        raise _Broken("holds no run, so there is nothing to compare with")
    return tuple(_run(run, f"runs[{index}]") for index, run in enumerate(runs))


def _run(run: Mapping[str, Any], at: str) -> Revision:
    about = _get(run, "properties", dict, at)
    records = []
    for index, result in enumerate(_get(run, "results", list, at)):
        here = f"{at}.results[{index}]"
        if _as(result, dict, here).get("baselineState") != "absent":
            records.append(_read_record(result, here))
    openings = tuple(
        _as(name, str, f"{at}.properties.openings")
        for name in _get(about, "openings", list, f"{at}.properties")
    )
    spec = _get(about, "spec", str, f"{at}.properties")
    complete = _get(about, "complete", bool, f"{at}.properties")
    off = [_as(name, str, f"{at}.properties.off") for name in _get(about, "off", list, f"{at}.properties")]
    return Revision(spec, tuple(records), openings, complete, tuple(off))


def _read_record(result: Mapping[str, Any], at: str) -> Record:
    about = _get(result, "properties", dict, at)
    marks = _get(result, "partialFingerprints", dict, at)
    file, line, column = _read_place(result, at)
    return Record(
        rule=_get(result, "ruleId", str, at),
        subject=_get(about, "subject", str, f"{at}.properties"),
        opening=_as(about.get("opening", ""), str, f"{at}.properties.opening"),
        kind=_word(Kind, result, "kind", at),
        level=_word(Level, about, "failureLevel", f"{at}.properties"),
        message=_unescaped(_get(_get(result, "message", dict, at), "text", str, f"{at}.message")),
        waived=bool(_as(result.get("suppressions", []), list, f"{at}.suppressions")),
        requirement=_get(marks, REQUIREMENT, str, f"{at}.partialFingerprints"),
        fingerprint=_get(marks, OUTCOME, str, f"{at}.partialFingerprints"),
        file=file,
        line=line,
        column=column,
    )


def _read_place(result: Mapping[str, Any], at: str) -> tuple[str, int, int]:
    about = _get(result, "properties", dict, at)
    file = _as(about.get("file", ""), str, f"{at}.properties.file")
    locations = _as(result.get("locations", []), list, f"{at}.locations")
    if not locations:
        return file, 0, 0
    here = f"{at}.locations[0]"
    physical = _as(_as(locations[0], dict, here).get("physicalLocation", {}), dict, f"{here}.physicalLocation")
    region = _as(physical.get("region", {}), dict, f"{here}.physicalLocation.region")
    line, column = region.get("startLine", 0), region.get("startColumn", 0)
    for number in (line, column):
        if isinstance(number, bool) or not isinstance(number, int) or not 0 <= number < 2**31:
            raise _Broken(f"is broken SARIF: {here} has no usable line and column")
    return file, line, column


def _get(tree: Mapping[str, Any], key: str, kind: type[Any], at: str) -> Any:
    path = f"{at}.{key}" if at else key
    if key not in tree:
        raise _Broken(f"is broken SARIF, or not written by this doorlint: {path} is missing")
    return _as(tree[key], kind, path)


_KINDS = {dict: "an object", list: "a list", str: "a text", bool: "true or false"}


def _as(value: Any, kind: type[Any], at: str) -> Any:
    if not isinstance(value, kind):
        raise _Broken(f"is broken SARIF: {at}: {_KINDS[kind]} is expected")
    return value


def _word(words: type[Any], tree: Mapping[str, Any], key: str, at: str) -> Any:
    text = _get(tree, key, str, at)
    try:
        return words(text)
    except ValueError as error:
        raise _Broken(f"is broken SARIF: {at}.{key} is {text[:30]!r}, no word of SARIF or doorlint") from error
