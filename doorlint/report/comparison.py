"""Two revisions side by side: which openings changed verdict, by which outcomes, and what of the spec changed."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any, Literal

from ..outcome import Kind, Level
from .earlier import Record, Revision, against
from .text import CAUTIONS, plain

if TYPE_CHECKING:
    from ..spec.model import Item, Opening, Spec

FORMAT = 1
NONE = "not there"
WAIVED = "waived"
_ORDER = (Kind.NOT_APPLICABLE.value, Kind.PASS.value, WAIVED, Kind.REVIEW.value, Kind.OPEN.value, Kind.FAIL.value)
_QUIET = frozenset({Kind.PASS.value, Kind.NOT_APPLICABLE.value})

How = Literal["new", "gone", "changed"]


@dataclass(frozen=True, slots=True)
class Moved:
    """One requirement that stands otherwise than before. `before` is None for a new one, `after` for one gone."""

    before: Record | None
    after: Record | None

    @property
    def how(self) -> How:
        """new, gone or changed."""
        return "new" if self.before is None else "gone" if self.after is None else "changed"

    @property
    def shown(self) -> Record:
        """The later record, or the earlier of one that is gone."""
        record = self.after or self.before
        assert record is not None
        return record


@dataclass(frozen=True, slots=True)
class Unit:
    """One opening (or, with an empty `opening`, what belongs to no opening) before and after.

    before and after: the gravest of its outcomes (a kind of outcome, `waived`, or `not there`). moved: the
    requirements that stand otherwise. spec: what of the spec changed, in words.
    """

    opening: str
    before: str
    after: str
    moved: tuple[Moved, ...]
    spec: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two revisions compared. units: what changed, in the order of the later spec. same: how many did not."""

    earlier: Revision
    later: Revision
    units: tuple[Unit, ...]
    same: int

    def failing(self, *, now: bool) -> tuple[str, ...]:
        """The openings that fail only now, or (`now` false) that failed only before."""
        fail = Kind.FAIL.value
        sides = ((unit.opening, unit.before, unit.after) for unit in self.units if unit.opening)
        return tuple(name for name, was, is_ in sides if (was == fail) != (is_ == fail) and (is_ == fail) == now)

    def worse(self, failing: Level = Level.WARNING) -> bool:
        """Whether a failure at or above a level is there that was none before."""
        return any(
            _fails(moved.after, failing) and not _fails(moved.before, failing)
            for unit in self.units
            for moved in unit.moved
        )


def _fails(record: Record | None, failing: Level) -> bool:
    return record is not None and _word(record) == Kind.FAIL.value and record.level.rank >= failing.rank


def _word(record: Record) -> str:
    return WAIVED if record.kind is Kind.FAIL and record.waived else record.kind.value


def compare(
    earlier: Revision, later: Revision, *, before: Spec | None = None, after: Spec | None = None
) -> Comparison:
    """Compare two revisions; with both specs at hand, name what changed in them too."""
    standing = against(earlier.records, later.records)
    moved: dict[str, list[Moved]] = {}
    for record, old, state in zip(later.records, standing.before, standing.states, strict=True):
        if state != "unchanged":
            moved.setdefault(record.opening, []).append(Moved(old, record))
    for record in standing.absent:
        moved.setdefault(record.opening, []).append(Moved(record, None))
    was, now = _verdicts(earlier), _verdicts(later)
    names = list(dict.fromkeys((*later.openings, *earlier.openings, "", *moved)))
    units = []
    for name in names:
        unit = Unit(
            name,
            was.get(name, NONE),
            now.get(name, NONE),
            tuple(moved.get(name, ())),
            tuple(_changes(before, after, name)) if before is not None and after is not None else (),
        )
        if unit.moved or unit.spec or unit.before != unit.after:
            units.append(unit)
    same = sum(1 for name in names if name) - sum(1 for unit in units if unit.opening)
    return Comparison(earlier, later, tuple(units), same)


def _verdicts(revision: Revision) -> dict[str, str]:
    """The gravest word of each opening's outcomes; "" is what belongs to no opening."""
    words = dict.fromkeys((*revision.openings, ""), Kind.NOT_APPLICABLE.value)
    for record in revision.records:
        words[record.opening] = max(words.get(record.opening, _ORDER[0]), _word(record), key=_ORDER.index)
    return words


# --- what changed in the spec ---


def _changes(before: Spec, after: Spec, name: str) -> Iterator[str]:
    if not name:
        yield from _entries("power source", before.power, after.power)
        yield from _entries("cable", before.cables, after.cables)
        if before.project != after.project:
            yield f"project: {', '.join(_differing(before.project, after.project))}"
        return
    old, new = before.openings.get(name), after.openings.get(name)
    if old is None or new is None:
        return
    yield from _opening(old, new)


def _opening(old: Opening, new: Opening) -> Iterator[str]:
    names = [field for field in _differing(old, new) if field != "items"]
    if names:
        yield f"opening: {', '.join(names)}"
    for name in dict.fromkeys((*old.items, *new.items)):
        was, now = old.items.get(name), new.items.get(name)
        if was is None:
            yield f"{name}: added ({new.items[name].product})"
        elif now is None:
            yield f"{name}: removed ({was.product})"
        elif was != now:
            yield from _item(name, was, now)


def _item(name: str, was: Item, now: Item) -> Iterator[str]:
    if was.product != now.product:
        yield f"{name}: product {was.product} -> {now.product}"
    elif was.sheet != now.sheet:
        yield f"{name}: data of product {now.product}"
    if was.cable == now.cable and was.cable_sheet != now.cable_sheet:
        yield f"{name}: data of cable {now.cable}"
    rest = [field for field in _differing(was, now) if field not in ("product", "sheet", "cable_sheet", "places")]
    for field in rest:
        yield f"{name}: {field} {_told(getattr(was, field))} -> {_told(getattr(now, field))}"


def _told(value: object) -> str:
    if value is None or value == ():
        return "(not stated)"
    if isinstance(value, tuple) and all(isinstance(one, str) for one in value):
        return ", ".join(value)
    if isinstance(value, str | int):
        return str(value)
    text = getattr(value, "text", None)
    return text if isinstance(text, str) else "(otherwise)"


def _entries(kind: str, old: Any, new: Any) -> Iterator[str]:
    for name in dict.fromkeys((*old, *new)):
        if name not in old or name not in new:
            yield f"{kind} {name}: {'added' if name not in old else 'removed'}"
        elif old[name] != new[name]:
            yield f"{kind} {name}: {', '.join(_differing(old[name], new[name]))}"


def _differing(old: Any, new: Any) -> list[str]:
    return [
        field.name.rstrip("_")
        for field in fields(old)
        if field.compare and getattr(old, field.name) != getattr(new, field.name)
    ]


# --- as text ---


def render(comparison: Comparison) -> str:
    """The comparison as text: each opening that changed verdict, then those that changed within their verdict."""
    return "".join(f"{plain(line)}".rstrip() + "\n" for line in _lines(comparison))


def _lines(comparison: Comparison) -> Iterator[str]:
    yield f"{comparison.later.spec} against the earlier {comparison.earlier.spec}"
    for revision in (comparison.earlier, comparison.later):
        if not revision.complete:
            yield f"The review of {revision.spec} is incomplete: what is missing in it may look new or gone."
    off = [rule for rule in comparison.later.off if rule not in comparison.earlier.off]
    if off:
        yield f"Switched off by house standards since, so that what they found is gone unjudged: {', '.join(off)}."
    quiet = 0
    for unit in sorted(comparison.units, key=lambda u: u.before == u.after):
        lines = list(_unit(unit))
        if len(lines) > 1 or unit.before != unit.after:
            yield ""
            yield from lines
        else:
            quiet += 1
    yield ""
    yield _names("Now fail", comparison.failing(now=True))
    yield _names("No longer fail", comparison.failing(now=False))
    openings = comparison.same + quiet
    if openings:
        yield f"{openings} {'opening keeps' if openings == 1 else 'openings keep'} what was found."
    yield from CAUTIONS


def _names(caption: str, names: Sequence[str]) -> str:
    return f"{caption}: {len(names)}" + (f" ({', '.join(names)})" if names else "")


def _unit(unit: Unit) -> Iterator[str]:
    name = f"opening {unit.opening}" if unit.opening else "beside the openings"
    change = f"{unit.before} -> {unit.after}" if unit.before != unit.after else f"still {unit.after}"
    yield f"{name}: {change}"
    for text in unit.spec:
        yield f"    in the spec: {text}"
    for moved in unit.moved:
        if _worth_telling(moved):
            yield from _moved(moved)


def _worth_telling(moved: Moved) -> bool:
    """Passes that come and go or whose figures moved are no news."""
    return not {_word(one) for one in (moved.before, moved.after) if one is not None} <= _QUIET


def _moved(moved: Moved) -> Iterator[str]:
    record = moved.shown
    subject = f"{record.subject}: " if record.subject else ""
    words = _full(record)
    if moved.before is not None and moved.after is not None:
        old = _full(moved.before)
        words = words if old == words else f"{old} -> {words}"
    yield f"    {moved.how}: {words}: {subject}{record.message} [{record.rule}]"
    if moved.before is not None and moved.after is not None and _word(moved.before) not in _QUIET:
        yield f"        before: {moved.before.message}"


def _full(record: Record) -> str:
    word = _word(record)
    return f"{word} ({record.level.value})" if word == Kind.FAIL.value else word


# --- as JSON ---


def render_json(comparison: Comparison) -> str:
    """The comparison as JSON, pure ASCII, with every requirement that stands otherwise."""
    data = {
        "format": FORMAT,
        "earlier": _revision(comparison.earlier),
        "later": _revision(comparison.later),
        "cautions": list(CAUTIONS),
        "now_fail": list(comparison.failing(now=True)),
        "no_longer_fail": list(comparison.failing(now=False)),
        "unchanged_openings": comparison.same,
        "changes": [
            {
                "opening": unit.opening or None,
                "before": unit.before,
                "after": unit.after,
                "spec": list(unit.spec),
                "outcomes": [_moved_data(moved) for moved in unit.moved],
            }
            for unit in comparison.units
        ],
    }
    return json.dumps(data, ensure_ascii=True, allow_nan=False, indent=1) + "\n"


def _revision(revision: Revision) -> dict[str, Any]:
    return {"spec": revision.spec, "complete": revision.complete, "openings": len(revision.openings),
            "off": list(revision.off)}  # fmt: skip


def _moved_data(moved: Moved) -> dict[str, Any]:
    return {
        "how": moved.how,
        "rule": moved.shown.rule,
        "subject": moved.shown.subject,
        "before": _record(moved.before),
        "after": _record(moved.after),
    }


def _record(record: Record | None) -> dict[str, Any] | None:
    if record is None:
        return None
    data: dict[str, Any] = {
        "kind": record.kind.value,
        "level": record.level.value,
        "waived": record.waived,
        "message": record.message,
        "file": record.file,
    }
    if record.line:
        data |= {"line": record.line, "column": record.column}
    return data
