"""Records into a door spec: a new one, or merged into one that somebody has worked on.

A small file beside the spec (`state`) remembers what each source said last. So a value that the author changed can be
told from one that the source changed: the source's change is taken over where the spec still says what the source said
before, the author's stays where the source says what it said before, and where both changed, or two sources differ, it
is a conflict, which is shown and never written.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from ..document import Document
from ..files import write_files
from ..quantity import QuantityError, parse_quantity
from ..spec.files import SpecError, find_roots, read_files
from . import state
from .edit import Edits, edited
from .records import Change, Conflict, IntakeProblem, Record, Value, Written
from .state import STATE, Source
from .yaml_text import Node, entry, scalar

UNKNOWN: Final = "unknown"
ASKED: Final = (
    "set",
    "from",
    "to",
    "unsecured_side",
    "exposure",
    "fire_rating",
    "occupancy.load",
    "egress.side",
    "egress.by",
)
"""What the review needs of every opening: written as `unknown` where the source does not say it, so that it asks."""

_ORDER: Final = ("title", *ASKED, "leaf", "note")
_SET_NOTE: Final = "Named in the source; its items are still to be written."


def write_spec(
    records: Sequence[Record],
    project_name: str,
    into: Path,
    *,
    kind: str = "schedule",
    origin: str = "",
    source: str = "",
    settled: bool = False,
    beside: Mapping[str, str] | None = None,
) -> Written:
    """Write records into the folder `into`, or merge them into the spec that it holds.

    `kind`: of the source (`schedule`, `model`). `origin`: the source's file name. `source`: the name under which it is
    remembered; "" for that of the source that came under this file name before, else the file name. `settled`: the
    conflicts stay as the spec has them, and are not shown again until the source says something new. `beside`: texts
    of files to write with the spec, by name. All files are written, or none. Raises IntakeProblem where the spec
    cannot be read or safely edited, or it cannot be told whether the file is a new issue of a source that the spec
    knows, FileProblem where a file cannot be written.
    """
    root = _root(into)
    sources = state.read(into) if root is not None else {}
    name, known = state.named(sources, kind, origin or kind, source)
    first: dict[str, Record] = {}
    doubled = []
    for record in records:
        if record.opening in first:
            why = f"stands twice in the source (first at {first[record.opening].place}); the first is used"
            doubled.append(Conflict(record.opening, "", None, None, None, record.place, why))
        else:
            first[record.opening] = record
    if not source and root is not None:
        state.check_new(sources, name, known, first)
    if root is None:
        files, changes = _new(first, project_name or "unnamed project", into, origin)
        made = _Made(files, changes, [], replace(known, taken={o: _stated(r) for o, r in first.items()}))
    else:
        others = {other: one for other, one in sources.items() if other != name}
        made = _merged(first, root, known, others, settled)
    files = {one: text.encode("utf-8") for one, text in (beside or {}).items()}
    files = {**made.files, **files, STATE: state.as_bytes({**sources, name: made.source})}
    fresh = {one: data for one, data in files.items() if not _holds(into / one, data)}
    if fresh:
        write_files(into, fresh)
    left_out = sum(opening in made.source.left_out for opening in first)
    return Written(tuple(made.changes), (*made.conflicts, *doubled), tuple(fresh), name, left_out, root is None)


@dataclass(slots=True)
class _Made:
    """What a new spec or a merge comes to: files to write, what changed, and the source as it is to be remembered."""

    files: dict[str, bytes]
    changes: list[Change]
    conflicts: list[Conflict]
    source: Source


def _holds(path: Path, data: bytes) -> bool:
    return path.is_file() and path.read_bytes() == data


def _root(where: Path) -> Path | None:
    if not where.is_dir():
        if where.exists():
            raise IntakeProblem(f"{where}: is a file; name the folder of the spec")
        return None
    try:
        found = find_roots(where)
    except SpecError as error:
        if any(where.glob("*.yaml")):
            raise IntakeProblem(str(error)) from error
        return None
    if len(found) > 1:
        names = ", ".join(path.name for path in found[:4])
        raise IntakeProblem(f"{where}: holds {len(found)} specs ({names}); give each a folder of its own")
    return found[0] if found else None


# ----------------------------------------------------------------------------------------------------
# A new spec


def _new(
    records: Mapping[str, Record], name: str, into: Path, origin: str
) -> tuple[dict[str, bytes], list[Change]]:
    taken = [file for file in ("project.yaml", "openings.yaml", "sets.yaml") if (into / file).exists()]
    if taken:
        raise IntakeProblem(f"{into / taken[0]}: exists and belongs to no spec; name another folder with --into")
    head = f"# Taken in by doorlint{' from ' + _comment(origin) if origin else ''}. "
    head += "What the source does not say is `unknown`.\ndoorlint: 1\n"
    sets = _named_sets(records.values())
    include = ["sets.yaml", "openings.yaml"] if sets else ["openings.yaml"]
    files = {"project.yaml": f"{head}project:\n  name: {scalar(name)}\ninclude: [{', '.join(include)}]\n"}
    if sets:
        files["sets.yaml"] = f"{head}hardware_sets:\n" + "".join(entry(one, _new_set(), "  ") for one in sets)
    bodies = {opening: _new_opening(record) for opening, record in records.items()}
    listed = "".join(entry(opening, body, "  ") for opening, body in bodies.items())
    files["openings.yaml"] = f"{head}openings:{chr(10) + listed if listed else ' {}' + chr(10)}"
    changes = [
        Change(record.opening, path, None, UNKNOWN if cell.value is None else cell.value, cell.place)
        for record in records.values()
        for path, cell in record.fields.items()
    ]
    return {file: text.encode("utf-8") for file, text in files.items()}, changes


def _comment(text: str) -> str:
    return "".join(char if char.isprintable() else " " for char in text)


def _new_set() -> dict[str, Node]:
    return {"note": _SET_NOTE}


def _named_sets(records: Any) -> list[str]:
    named = dict.fromkeys(
        str(cell.value) for record in records if (cell := record.fields.get("set")) is not None and cell.value
    )
    return [name for name in named if name not in (UNKNOWN, "none")]


def _new_opening(record: Record) -> dict[str, Node]:
    stated: dict[str, Value] = {
        path: UNKNOWN if cell.value is None else cell.value for path, cell in record.fields.items()
    }
    for path in ASKED:
        if not any(one == path or one.startswith(f"{path}.") for one in stated):
            stated[path] = UNKNOWN
    body: dict[str, Node] = {}
    for path in sorted(stated, key=_order):
        put(body, path, stated[path])
    return body


@lru_cache(maxsize=256)
def _order(path: str) -> tuple[int, str]:
    """Fields in the order in which people look for them, those of a part together."""
    ranks = [rank for rank, name in enumerate(_ORDER) if path == name or path.startswith(f"{name}.")]
    head = path.partition(".")[0]
    ranks += [rank for rank, name in enumerate(_ORDER) if name.partition(".")[0] == head]
    return (min(ranks, default=len(_ORDER)), "")


def put(body: dict[str, Any], path: str, value: Value) -> None:
    """Set the value at a path such as `leaf.width`; `unknown` on the way gives place to a mapping."""
    *above, last = path.split(".")
    for name in above:
        if not isinstance(body.get(name), dict):
            body[name] = {}
        body = body[name]
    body[last] = value


# ----------------------------------------------------------------------------------------------------
# Merging


@dataclass(slots=True)
class _Merge:
    """The state of one merge (local to `_merged`). `source`: as it was; `taken` and `pending`: as they will be."""

    source: Source
    others: Mapping[str, Source]
    settled: bool
    taken: dict[str, dict[str, Value]] = field(default_factory=dict)
    pending: dict[str, dict[str, Value]] = field(default_factory=dict)
    left_out: set[str] = field(default_factory=set)
    gone: set[str] = field(default_factory=set)
    changes: list[Change] = field(default_factory=list)
    conflicts: list[Conflict] = field(default_factory=list)


def _merged(
    records: Mapping[str, Record], root: Path, source: Source, others: Mapping[str, Source], settled: bool
) -> _Made:
    try:
        files = read_files(root)
    except SpecError as error:
        raise IntakeProblem(str(error)) from error
    if files.unreadable or any(document.problems for document in files.documents.values()):
        raise IntakeProblem(
            f"{root}: the spec could not be read whole; `doorlint review` says why. Nothing was written"
        )
    merge = _Merge(source, others, settled)
    where = {opening: document for document in files.documents.values() for opening in _section(document, "openings")}
    edits = {name: Edits() for name in files.documents}
    added: dict[str, dict[str, Node]] = {}
    for opening, record in records.items():
        if opening in where:
            document = where[opening]
            wanted = _fields(merge, record, _section(document, "openings")[opening])
            if wanted:
                edits[document.name].fields[opening] = wanted
        elif any(opening in one.taken or opening in one.left_out for one in (source, *others.values())):
            _not_in_spec(merge, record)
        else:
            added[opening] = _new_opening(record)
            merge.taken[opening] = _stated(record)
            merge.changes.append(Change(opening, "", None, "opening added", record.place))
    for opening, said in source.taken.items():
        if opening not in records and opening in where and not settled:
            why = "the source no longer has this opening; it stays in the spec until you take it out"
            merge.conflicts.append(Conflict(opening, "", None, None, None, "", why))
            merge.taken[opening] = dict(said)
            merge.gone.add(opening)
    _add_entries(files.documents, edits, added)
    made = {}
    folder = root.parent.resolve()
    for name, wish in edits.items():
        if wish:
            path = files.paths[name]
            if not path.resolve().is_relative_to(folder):
                raise IntakeProblem(f"{name}: lies outside the spec's folder; nothing was written")
            text = edited(files.documents[name], wish)
            made[path.resolve().relative_to(folder).as_posix()] = _encoded(path, text)
    kept = replace(
        source,
        taken=merge.taken,
        pending=merge.pending,
        left_out=frozenset(merge.left_out),
        gone=frozenset(merge.gone),
    )
    return _Made(made, merge.changes, merge.conflicts, kept)


def _not_in_spec(merge: _Merge, record: Record) -> None:
    """The author took the opening out: shown, until it is settled that it stays out."""
    opening = record.opening
    if merge.settled or opening in merge.source.left_out:
        merge.left_out.add(opening)
        return
    if opening in merge.source.taken:
        merge.taken[opening] = dict(merge.source.taken[opening])
    why = "the spec no longer has this opening, the source still does"
    merge.conflicts.append(Conflict(opening, "", None, None, None, record.place, why))


def _add_entries(
    documents: Mapping[str, Document], edits: dict[str, Edits], added: Mapping[str, dict[str, Node]]
) -> None:
    """New openings, and new entries for the hardware sets that are named for the first time."""
    root = next(iter(documents))
    known = {one for document in documents.values() for one in _section(document, "hardware_sets")}
    named = [str(fields["set"]) for edit in edits.values() for fields in edit.fields.values() if "set" in fields]
    named += [str(body["set"]) for body in added.values() if "set" in body]
    for name in dict.fromkeys(named):
        if name not in known and name not in (UNKNOWN, "none"):
            edits[_home(documents, "hardware_sets", root)].entries["hardware_sets"][name] = _new_set()
    if added:
        edits[_home(documents, "openings", root)].entries["openings"].update(added)


def _encoded(path: Path, text: str) -> bytes:
    """The text with the byte order mark and line ends that the file had."""
    before = path.read_bytes()
    mark = b"\xef\xbb\xbf" if before.startswith(b"\xef\xbb\xbf") else b""
    if b"\r\n" in before and "\r\n" not in text:
        text = text.replace("\n", "\r\n")
    return mark + text.removeprefix("\ufeff").encode("utf-8")


def _section(document: Document, key: str) -> dict[str, Any]:
    tree = document.tree
    found = tree.get(key) if isinstance(tree, dict) else None
    return found if isinstance(found, dict) else {}


def _home(documents: Mapping[str, Document], key: str, otherwise: str) -> str:
    """The file that holds most entries of this kind already: new ones go there."""
    counts = {name: len(_section(document, key)) for name, document in documents.items()}
    best = max(counts, key=lambda name: counts[name])
    return best if counts[best] else otherwise


def _fields(merge: _Merge, record: Record, body: Any) -> dict[str, Value]:
    """What to write into an opening that the spec has already; conflicts are noted on the way."""
    opening = record.opening
    last = dict(merge.source.taken.get(opening, {}))
    merge.taken[opening] = last
    if not isinstance(body, dict):
        if body is not None and body != UNKNOWN:
            why = "is no mapping in the spec"
            merge.conflicts.append(Conflict(opening, "", None, None, None, record.place, why))
            return {}
        body = {}
    wanted: dict[str, Value] = {}
    for path, value in _stated(record).items():
        there, has = _look(body, path)
        verdict = _verdict(there, has, value, last.get(path), path in last)
        verdict = _against_others(merge, opening, path, value, verdict)
        if verdict == _WRITE:
            wanted[path] = value
            place = record.fields[path].place
            merge.changes.append(Change(opening, path, there if has else None, value, place))
        if verdict in (_WRITE, _SAME) or (merge.settled and verdict != _AUTHOR):
            last[path] = value
        elif verdict != _AUTHOR:
            _conflict(merge, record, path, flow_of(there) if has else None, value, last.get(path), verdict)
    wanted.update(_no_longer_said(merge, record, body, last))
    return wanted


_WRITE, _SAME, _AUTHOR = "write", "same", "author"


def _conflict(
    merge: _Merge, record: Record, path: str, spec: Value | None, source: Value | None, last: Value | None, why: str
) -> None:
    place = record.fields[path].place if path in record.fields else record.place
    merge.conflicts.append(Conflict(record.opening, path, spec, source, last, place, why))
    if source is not None:
        merge.pending.setdefault(record.opening, {})[path] = source


def _no_longer_said(
    merge: _Merge, record: Record, body: Mapping[str, Any], last: dict[str, Value]
) -> Iterator[tuple[str, Value]]:
    """What the source said and says no more is unknown again, unless the author or another source says it."""
    for path in [path for path in last if record.fields.get(path) is None or record.fields[path].value is None]:
        there, has = _look(body, path)
        before = last[path]
        supported = any(_equal(said, there) for _, said in _said_by(merge.others, record.opening, path))
        if not has or there == UNKNOWN or supported:
            del last[path]
        elif _equal(there, before):
            yield path, UNKNOWN
            place = record.fields[path].place if path in record.fields else record.place
            merge.changes.append(Change(record.opening, path, before, UNKNOWN, place))
            del last[path]
        elif merge.settled:
            del last[path]
        else:
            why = "the source no longer says this, and the spec was changed; the spec stays as it is"
            _conflict(merge, record, path, flow_of(there), None, before, why)


def _said_by(others: Mapping[str, Source], opening: str, path: str) -> Iterator[tuple[str, Value]]:
    for name, other in others.items():
        said = other.says(opening, path)
        if said is not None:
            yield name, said


def _against_others(merge: _Merge, opening: str, path: str, value: Value, verdict: str) -> str:
    """The verdict, unless another source says something else of the field: which of them is right, nobody can tell."""
    if verdict in (_SAME, _AUTHOR):
        return verdict
    rivals = [name for name, said in _said_by(merge.others, opening, path) if not _equal(said, value)]
    return f"the source and {', '.join(map(repr, rivals))} differ" if rivals else verdict


def flow_of(value: Any) -> Value:
    """A value of the spec for a message."""
    return value if isinstance(value, str | int | bool) else json.dumps(value, ensure_ascii=False, default=str)


def _look(body: Mapping[str, Any], path: str) -> tuple[Any, bool]:
    """What stands at a path, and whether anything does. `unknown` for a whole part holds for its fields."""
    here: Any = body
    for name in path.split("."):
        if here == UNKNOWN:
            return UNKNOWN, True
        if not isinstance(here, dict):
            return here, True
        if name not in here:
            return None, False
        here = here[name]
    return here, True


def _verdict(there: Any, has: bool, new: Value, last: Value | None, recorded: bool) -> str:
    """_WRITE, _SAME (nothing to do), _AUTHOR (the author's word stands), or why it is a conflict."""
    if has and _equal(there, new):
        return _SAME
    if recorded and last is not None and _equal(last, new):
        return _AUTHOR  # the source says what it said; a field that the author removed stays removed
    if not recorded:
        if not has or there is None or there == UNKNOWN:
            return _WRITE
        return "the spec says something else than the source"
    if has and _equal(there, last):
        return _WRITE
    return "both the spec and the source were changed since the last intake"


def _equal(one: Any, other: Any) -> bool:
    if type(one) is type(other) and one == other:
        return True
    if isinstance(one, bool) or isinstance(other, bool) or isinstance(one, dict | list):
        return False
    if str(one) == str(other):
        return True
    for dimension in ("length", "time"):
        try:
            if parse_quantity(one, dimension).value == parse_quantity(other, dimension).value:
                return True
        except QuantityError:
            continue
    return False


def _stated(record: Record) -> dict[str, Value]:
    return {path: cell.value for path, cell in record.fields.items() if cell.value is not None}
