"""The report of a whole run, kept for the next run over the same bytes.

Two entries belong to a run. The trail, addressed by the paths given, says which files and patterns the run looked at.
The report is addressed by what these hold now: the digest of every file, what every pattern matches, the stamp of the
code, the options and the day. A trail is thus never believed; one that is wrong leads to no report.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from ..patterns import ENDINGS, matching
from ..today import today
from . import code
from .folder import Store

if TYPE_CHECKING:
    from ..reviewing import Result

LEAST_OPENINGS: Final = 20
"""The report of a smaller spec is made anew as quickly as it is found."""


@dataclass(frozen=True, slots=True)
class Run:
    """What was asked for: the paths as given, and every option that bears on the report or the exit status."""

    paths: tuple[str, ...]
    options: Mapping[str, Any]

    @property
    def trail(self) -> str:
        """The name of the run's trail."""
        return f"{_hash([[str(Path(path).absolute()), path] for path in self.paths])}.trail"


@dataclass(frozen=True, slots=True)
class Report:
    """The report of a run as text, its exit status, and the names of the spec's files as shown."""

    text: str
    status: int
    names: tuple[str, ...]


class _Gone(Exception):  # noqa: N818 - it says what became of a file
    """Something of the trail is not as it was, so that there is nothing to look for."""


_FAULTS: Final = (
    _Gone, OSError, ValueError, TypeError, LookupError, AttributeError, StopIteration, RecursionError, MemoryError,
)  # fmt: skip
"""What reading a trail may raise that somebody has damaged, or that leads to what has gone since."""


def find(store: Store, run: Run) -> Report | None:
    """The report of a run, if one over the very same input is kept."""
    if not store.has(run.trail):
        return None
    try:
        written = store.get(run.trail)
        return None if written is None else _found(store, _key(run, json.loads(written)))
    except _FAULTS:
        return None


def keep(store: Store, run: Run, results: Sequence[Result], report: Report) -> None:
    """Keep the report of a run, unless it is of small specs, incomplete, or the files or the code may have changed
    meanwhile."""
    if sum(len(result.spec.openings) for result in results if result.spec is not None) < LEAST_OPENINGS:
        return
    try:
        specs = [_spec(result) for result in results]
        loaded = code.loaded()
        trail = {"folders": loaded.folders, "files": loaded.files, "specs": specs}
        head = json.dumps({"status": report.status, "names": report.names})
        data = f"{head}\n".encode() + report.text.encode()
        key = _key(run, trail, results)
        # looked at after the key was made: what changed before shows here, what changes later is not in the key
        stamp = code.stamp(loaded)
        if stamp is None or not code.settled(stamp) or not _leads_to(run, results):
            return
    except _FAULTS:
        return
    store.put(f"{key}.report", data)
    store.put(run.trail, json.dumps(trail).encode())


def _found(store: Store, key: str) -> Report | None:
    data = store.get(f"{key}.report")
    if data is None:
        return None
    head, _, text = data.partition(b"\n")
    about = json.loads(head)
    return Report(text.decode(), int(about["status"]), tuple(str(name) for name in about["names"]))


def _spec(result: Result) -> dict[str, Any]:
    """The trail of one spec. Raises _Gone where its report is not to be kept."""
    files = result.files
    # what is found of folders, links and permissions is not told by the bytes of files
    if files is None or result.broken or any(each.rule.startswith("include/") for each in files.findings):
        raise _Gone
    return {
        "root": result.root,
        "documents": [[name, str(path)] for name, path in files.paths.items()],
        "patterns": [[str(folder), pattern] for folder, pattern in files.patterns],
    }


def _leads_to(run: Run, results: Sequence[Result]) -> bool:
    """Whether the paths given lead to these specs by what the paths themselves hold: root files and their folders."""
    from ..spec.files import is_root

    roots = {os.path.realpath(result.root) for result in results}
    met = set()
    for path in run.paths:
        inside = _listed(path)
        if inside is None:
            inside = [path]
            if os.path.realpath(path) not in roots:
                return False
        for each in inside:
            met.add(os.path.realpath(each))
            if is_root(Path(each)) != (os.path.realpath(each) in roots):
                return False
    return roots <= met


def _listed(path: str) -> list[str] | None:
    """The files of a folder that may be root files; None for what is no folder."""
    if not Path(path).is_dir():
        return None
    return sorted(str(each) for each in Path(path).iterdir() if each.suffix in ENDINGS)


def _key(run: Run, trail: Mapping[str, Any], read: Sequence[Result] = ()) -> str:
    """The digest of all that the report of a run rests on, as it is now. Raises _Gone, or what a trail that is none
    may raise. read: the results of this very run; _Gone where a file no longer holds what they were read from."""
    loaded = code.Code(tuple(map(str, trail["folders"])), tuple(map(str, trail["files"])))
    stamp = code.stamp(loaded)
    if stamp is None:
        raise _Gone
    given = []
    for path in run.paths:
        inside = _listed(path)
        given.append([path, None if inside is None else [[each, _digest(each)] for each in inside]])
    specs = []
    for number, spec in enumerate(trail["specs"]):
        texts = {name: document.text for name, document in read[number].documents.items()} if read else None
        specs.append(_content(spec, texts))
    return _hash([stamp, today().isoformat(), dict(run.options), given, specs])


def _content(spec: Mapping[str, Any], texts: Mapping[str, str] | None) -> list[Any]:
    """What the files of a spec hold now, and what its patterns match."""
    documents = {str(real): str(name) for name, real in spec["documents"]}
    if os.path.realpath(spec["root"]) != next(iter(documents)):
        raise _Gone
    held = [[name, _digest(real, None if texts is None else texts[name])] for real, name in documents.items()]
    matched = []
    for folder, pattern in spec["patterns"]:
        found = [os.path.realpath(each) for each in matching(Path(folder), pattern)]
        matched.append([pattern, [documents[each] for each in found]])  # KeyError: a file that was not there
    return [spec["root"], held, matched]


def _digest(path: str, text: str | None = None) -> str:
    """The digest of a file's bytes. Raises _Gone where they are not those of `text`."""
    file = Path(path)
    if not file.is_file():  # a FIFO would not end
        raise _Gone
    data = file.read_bytes()
    if text is not None:
        from ..document import decoded

        if decoded(data) != text:
            raise _Gone
    return hashlib.sha256(data).hexdigest()


def _hash(data: object) -> str:
    return hashlib.sha256(json.dumps(data, sort_keys=True).encode("ascii")).hexdigest()
