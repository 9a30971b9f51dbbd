"""Records into a door spec: a new one, or merged into one that somebody has worked on.

A small file beside the spec (`intake-state.json`) remembers what each source said last. So a value that the author
changed can be told from one that the source changed: the source's change is taken over where the spec still says
what the source said before, the author's stays where the source says what it said before, and where both changed
it is a conflict, which is shown and never written.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any, Final

from ..document import Document
from ..files import write_files
from ..quantity import QuantityError, parse_quantity
from ..spec.files import SpecError, find_roots, read_files
from .edit import Edits, edited
from .records import Change, Conflict, IntakeProblem, Record, Value, Written
from .yaml_text import Node, entry, scalar

STATE: Final = "intake-state.json"
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
    existing: Path | None = None,
    source: str = "schedule",
    origin: str = "",
) -> Written:
    """Write records into the folder `into`, or merge them into the spec that it, or `existing`, holds.

    `existing`: the root file or the folder of the spec to merge into; None: the one in `into`, a new one where there
    is none. `source`: the kind of source (`schedule`, `model`), each remembered apart. `origin`: the source's file
    name, for a comment. All files are written, or none. Raises IntakeProblem where the spec cannot be read or safely
    edited, FileProblem where a file cannot be written.
    """
    root = _root(existing if existing is not None else into, must=existing is not None)
    first: dict[str, Record] = {}
    doubled = []
    for record in records:
        if record.opening in first:
            why = f"stands twice in the source (first at {first[record.opening].place}); the first is used"
            doubled.append(Conflict(record.opening, "", None, None, None, record.place, why))
        else:
            first[record.opening] = record
    if root is None:
        made = _new(first, project_name or "unnamed project", into, source, origin)
    else:
        made = _merged(first, root, source)
    return Written(made.changes, (*made.conflicts, *doubled), made.files)


def _root(where: Path, must: bool) -> Path | None:
    if where.is_file():
        return where
    if not where.is_dir():
        if must or where.exists():
            raise IntakeProblem(f"{where}: there is no such spec; give its root file or folder")
        return None
    try:
        found = find_roots(where)
    except SpecError as error:
        if any(where.glob("*.yaml")) or must:
            raise IntakeProblem(str(error)) from error
        return None
    if len(found) > 1:
        names = ", ".join(path.name for path in found[:4])
        raise IntakeProblem(f"{where}: holds {len(found)} specs ({names}); name the root file of one")
    return found[0] if found else None


# ----------------------------------------------------------------------------------------------------
# A new spec


def _new(records: Mapping[str, Record], name: str, into: Path, source: str, origin: str) -> Written:
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
    state = {source: {opening: _stated(record) for opening, record in records.items()}}
    data = {file: text.encode("utf-8") for file, text in files.items()}
    data[STATE] = _state_bytes(state)
    write_files(into, data)
    changes = tuple(
        Change(record.opening, path, None, UNKNOWN if cell.value is None else cell.value, cell.place)
        for record in records.values()
        for path, cell in record.fields.items()
    )
    return Written(changes, (), tuple(data))


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
    """The state of one merge (local to `_merged`)."""

    state: dict[str, dict[str, Value]]
    changes: list[Change] = field(default_factory=list)
    conflicts: list[Conflict] = field(default_factory=list)


def _merged(records: Mapping[str, Record], root: Path, source: str) -> Written:
    try:
        files = read_files(root)
    except SpecError as error:
        raise IntakeProblem(str(error)) from error
    if files.unreadable or any(document.problems for document in files.documents.values()):
        raise IntakeProblem(
            f"{root}: the spec could not be read whole; `doorlint review` says why. Nothing was written"
        )
    folder = root.parent
    state = _read_state(folder / STATE)
    merge = _Merge(dict(state.get(source, {})))
    where = {opening: document for document in files.documents.values() for opening in _section(document, "openings")}
    edits = {name: Edits() for name in files.documents}
    added: dict[str, dict[str, Node]] = {}
    for opening, record in records.items():
        if opening in where:
            document = where[opening]
            wanted = _fields(merge, record, _section(document, "openings")[opening])
            if wanted:
                edits[document.name].fields[opening] = wanted
        elif opening in merge.state:
            why = "the spec no longer has this opening, the source still does"
            merge.conflicts.append(Conflict(opening, "", None, None, None, record.place, why))
        else:
            added[opening] = _new_opening(record)
            merge.state[opening] = _stated(record)
            merge.changes.append(Change(opening, "", None, "opening added", record.place))
    for opening in merge.state:
        if opening not in records and opening in where:
            why = "the source no longer has this opening; it stays in the spec until you take it out"
            merge.conflicts.append(Conflict(opening, "", None, None, None, "", why))
        elif opening not in records:
            continue
    merge.state = {o: said for o, said in merge.state.items() if o in records or o in where}
    root_name = next(iter(files.documents))
    known = {one for document in files.documents.values() for one in _section(document, "hardware_sets")}
    written_sets = [str(f["set"]) for e in edits.values() for f in e.fields.values() if "set" in f]
    written_sets += [str(body["set"]) for body in added.values() if "set" in body]
    for name in dict.fromkeys(written_sets):
        if name not in known and name not in (UNKNOWN, "none"):
            edits[_home(files.documents, "hardware_sets", root_name)].entries["hardware_sets"][name] = _new_set()
    if added:
        edits[_home(files.documents, "openings", root_name)].entries["openings"].update(added)
    data: dict[str, bytes] = {}
    for name, wish in edits.items():
        if wish:
            path = files.paths[name]
            if not path.resolve().is_relative_to(folder.resolve()):
                raise IntakeProblem(f"{name}: lies outside the spec's folder; nothing was written")
            text = edited(files.documents[name], wish)
            data[path.resolve().relative_to(folder.resolve()).as_posix()] = _encoded(path, text)
    new_state = _state_bytes({**state, source: merge.state})
    if not (folder / STATE).exists() or (folder / STATE).read_bytes() != new_state:
        data[STATE] = new_state
    if data:
        write_files(folder, data)
    return Written(tuple(merge.changes), tuple(merge.conflicts), tuple(data))


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
    last = dict(merge.state.get(opening, {}))
    if not isinstance(body, dict):
        if body is None or body == UNKNOWN:
            body = {}
        else:
            why = "is no mapping in the spec"
            merge.conflicts.append(Conflict(opening, "", None, None, None, record.place, why))
            return {}
    wanted: dict[str, Value] = {}
    for path, cell in record.fields.items():
        if cell.value is None:
            continue
        there, has = _look(body, path)
        before = last.get(path)
        verdict = _verdict(there, has, cell.value, before, path in last)
        if verdict == "write":
            wanted[path] = cell.value
            merge.changes.append(Change(opening, path, there if has else None, cell.value, cell.place))
            last[path] = cell.value
        elif verdict == "same":
            last[path] = cell.value
        elif verdict:
            shown = there if has and isinstance(there, str | int | bool) else (flow_of(there) if has else None)
            merge.conflicts.append(Conflict(opening, path, shown, cell.value, before, cell.place, verdict))
    for path in [path for path in last if path not in record.fields]:
        there, has = _look(body, path)
        if has and _equal(there, last[path]):
            wanted[path] = UNKNOWN
            merge.changes.append(Change(opening, path, last[path], UNKNOWN, record.place))
            del last[path]
        elif has and there != UNKNOWN:
            why = "the source no longer says this, and the spec was changed; the spec stays as it is"
            merge.conflicts.append(Conflict(opening, path, flow_of(there), None, last[path], record.place, why))
        else:
            del last[path]
    merge.state[opening] = last
    return wanted


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
    """ "write", "same" (nothing to do), "" (the author's stays, the source did not change), or why it is a conflict."""
    if has and _equal(there, new):
        return "same"
    if recorded and last is not None and _equal(last, new):
        return ""  # the source says what it said: the author's word stands, a removed field stays removed
    if not recorded:
        if not has or there is None or there == UNKNOWN:
            return "write"
        return "the spec says something else than the source"
    if has and _equal(there, last):
        return "write"
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


# ----------------------------------------------------------------------------------------------------
# What the source said last


def _stated(record: Record) -> dict[str, Value]:
    return {path: cell.value for path, cell in record.fields.items() if cell.value is not None}


def _state_bytes(state: Mapping[str, Mapping[str, Mapping[str, Value]]]) -> bytes:
    held = {"about": "what each source said at the last intake; doorlint keeps this file", "sources": state}
    return (json.dumps(held, ensure_ascii=False, indent=1, sort_keys=True) + "\n").encode("utf-8")


def _read_state(path: Path) -> dict[str, dict[str, dict[str, Value]]]:
    if not path.exists():
        return {}
    try:
        held = json.loads(path.read_text(encoding="utf-8"))["sources"]
        if not all(
            isinstance(value, str | int | bool)
            for kind in held.values()
            for one in kind.values()
            for value in one.values()
        ):
            raise TypeError
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        raise IntakeProblem(
            f"{path}: cannot be read as what the last intake said; restore it, or delete it and every difference "
            "between source and spec is shown as a conflict"
        ) from None
    return {kind: dict(openings) for kind, openings in held.items()}
