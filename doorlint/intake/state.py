"""What each source said last, kept in a small file beside the spec, and which source a file is an issue of.

A spec may be fed from several sources: the schedules of two wings, a schedule and a model. Each is remembered under a
name of its own, so that none takes back what another one said. A source comes again and again, often under another
file name; whether a new name is a new issue or another source is asked where it cannot be told.
"""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePath
from typing import Any, Final, TypeAlias

from .records import IntakeProblem, Value

STATE: Final = "intake-state.json"
_FORMAT: Final = 2
Said: TypeAlias = Mapping[str, Mapping[str, Value]]
"""Opening -> path -> value."""


@dataclass(frozen=True, slots=True)
class Source:
    """What is remembered of one source. `kind`: schedule or model. `short`: what the names of its files in the folder
    begin with. `files`: the file names that it came under. `taken`: what it said and the spec took over, or the author
    settled. `pending`: what it said otherwise, shown as a conflict and not settled. `left_out`: openings of the source
    that are to stay out of the spec. `gone`: openings taken from it that its last issue does not have."""

    kind: str
    short: str
    files: tuple[str, ...] = ()
    taken: Said = field(default_factory=dict)
    pending: Said = field(default_factory=dict)
    left_out: frozenset[str] = frozenset()
    gone: frozenset[str] = frozenset()

    def says(self, opening: str, path: str) -> Value | None:
        """What the source said last of this field; None where it said nothing."""
        if opening in self.gone:
            return None
        pending = self.pending.get(opening, {})
        return pending[path] if path in pending else self.taken.get(opening, {}).get(path)


def named(sources: Mapping[str, Source], kind: str, file: str, name: str = "") -> tuple[str, Source]:
    """The source that a file is an issue of, by the name that the user gives or by its file name; a new one where no
    source has it. Raises IntakeProblem where the name is that of a source of the other kind."""
    if name and name in sources and sources[name].kind != kind:
        raise IntakeProblem(f"{file}: {name!r} is the name of a {sources[name].kind}; this is a {kind}")
    known = name if name in sources else next((one for one, s in sources.items() if _came(s, kind, file)), "")
    if known and (not name or known == name):
        source = sources[known]
        return known, source if file in source.files else replace(source, files=(*source.files, file))
    made = name or file
    if made in sources:  # a model and a schedule of one name
        made = f"{file} ({kind})"
    return made, Source(kind, _short(made, {one.short.casefold() for one in sources.values()}), (file,))


def _came(source: Source, kind: str, file: str) -> bool:
    return source.kind == kind and file in source.files


def _short(name: str, taken: Collection[str]) -> str:
    """The name of a source as the beginning of file names that no other source uses."""
    plain = "".join(char if char.isalnum() or char in "-_" else "_" for char in PurePath(name).stem)[:60] or "source"
    short, number = plain, 1
    while short.casefold() in taken:
        number += 1
        short = f"{plain}-{number}"
    return short


def check_new(sources: Mapping[str, Source], name: str, source: Source, openings: Collection[str]) -> None:
    """Refuse what may be a new issue of a source or another source: nothing is guessed, as either way of taking the
    one for the other would change the spec behind the author's back. Raises IntakeProblem."""
    file = source.files[-1]
    if name in sources:
        before = {*source.taken, *source.pending, *source.left_out}
        if before and not before & set(openings):
            raise IntakeProblem(
                f"{file}: has none of the {len(before)} openings that it had at the last intake; if it is another "
                f"{source.kind} of the same file name, name it: --source NAME; else: --source {_arg(name)}"
            )
        return
    for other, one in sources.items():
        shared = sum(opening in one.taken or opening in one.left_out for opening in openings)
        if one.kind == source.kind and shared:
            raise IntakeProblem(
                f"{file}: {shared} of its {len(openings)} openings came from {other!r} before; if it is a new issue of "
                f"that: --source {_arg(other)}; if it is a {source.kind} of its own: --source {_arg(name)}"
            )


def _arg(name: str) -> str:
    return json.dumps(name, ensure_ascii=False) if set(name) & set(" '\"()&;|<>$`\\*?#~!") else name


def as_bytes(sources: Mapping[str, Source]) -> bytes:
    """The state as the file holds it; the same for the same sources."""
    held = {
        "about": "what each source said at the last intake; doorlint keeps this file",
        "format": _FORMAT,
        "sources": {
            name: {
                "kind": one.kind,
                "short": one.short,
                "files": list(one.files),
                "left_out": sorted(one.left_out),
                "gone": sorted(one.gone),
                "taken": one.taken,
                "pending": {opening: said for opening, said in one.pending.items() if said},
            }
            for name, one in sources.items()
        },
    }
    return (json.dumps(held, ensure_ascii=False, indent=1, sort_keys=True) + "\n").encode("utf-8")


def read(folder: Path) -> dict[str, Source]:
    """The sources of the spec in a folder, by name; none where nothing was taken in. Raises IntakeProblem."""
    path = folder / STATE
    if not path.exists():
        return {}
    try:
        if not path.is_file():
            raise OSError
        held = json.loads(path.read_text(encoding="utf-8"))
        if held["format"] != _FORMAT:
            raise ValueError
        return {name: _source(one) for name, one in held["sources"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        raise IntakeProblem(
            f"{path}: cannot be read as what the last intake said; restore it, or delete it and every difference "
            "between source and spec is shown as a conflict"
        ) from None


def _source(held: Any) -> Source:
    """Raises ValueError, KeyError, TypeError or AttributeError for what doorlint did not write."""
    short = _word(held["short"])
    if not short or set(short) & set("/\\") or short.startswith("."):
        raise ValueError  # it becomes part of a file name
    return Source(
        _word(held["kind"]),
        short,
        tuple(_word(one) for one in held["files"]),
        _said(held["taken"]),
        _said(held["pending"]),
        frozenset(_word(one) for one in held["left_out"]),
        frozenset(_word(one) for one in held["gone"]),
    )


def _said(held: Any) -> Said:
    said = {opening: dict(values) for opening, values in held.items()}
    if not all(isinstance(value, str | int | bool) for values in said.values() for value in values.values()):
        raise TypeError
    return said


def _word(held: Any) -> str:
    if not isinstance(held, str):
        raise TypeError
    return held
