"""Reviews of the specs that open texts belong to, from the texts as they stand."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from ..document import Document
from ..glance import glance
from ..reviewing import Kept, Progress, Result, review_root
from ..rulebook import Rulebook
from ..spec.files import Overlay, SpecError, find_roots, read_document, read_files
from .buffers import Buffer, broken
from .diagnostics import Finding, findings, of_no_spec
from .schedule import Superseded
from .view import Part

Stamp = tuple[int, int, int]
"""Time of the last change, size and number of a file: while they stay, it is not read again."""


@dataclass(frozen=True, eq=False)
class Reviewed:
    """The last review of one spec. `findings`: by file name. `kept`: what the next review need not compute again."""

    root: Path
    result: Result
    parts: Mapping[str, Part] = field(repr=False)
    findings: Mapping[str, tuple[Finding, ...]] = field(repr=False)
    stamps: Mapping[Path, Stamp] = field(repr=False)
    kept: Kept = field(repr=False)

    @property
    def paths(self) -> frozenset[Path]:
        """The files of the spec."""
        return frozenset(self.result.files.paths.values()) if self.result.files is not None else frozenset()


def review(
    root: Path, buffers: Mapping[Path, Buffer], before: Reviewed | None, book: Rulebook, progress: Progress
) -> Reviewed:
    """Review the spec of a root (a full path), open texts standing in for their files.

    A text that cannot be read leaves the review to the last one of its file that could. Raises SpecError where the root
    cannot be read, and whatever `progress` raises.
    """
    goods = _good_documents(buffers, before)
    stamps = _stamps(before.paths if before is not None else (), buffers)
    kept = before.kept if before is not None else Kept()
    overlay = _overlay(root, buffers, before, goods, stamps)
    result = review_root(root, book, overlay, progress=progress, kept=kept)
    assert result.files is not None
    parts = {
        name: Part(path, name, buffers.get(path), document)
        for name, path in result.files.paths.items()
        if (document := result.documents.get(name)) is not None
    }
    stamps = {**_stamps((path for path in result.files.paths.values() if path not in stamps), buffers), **stamps}
    return Reviewed(root, result, parts, findings(result, parts), stamps, kept)


def at_once(before: Reviewed, buffers: Mapping[Path, Buffer], changed: Collection[Path]) -> tuple[Reviewed, str] | None:
    """What a change of one file makes of the last review, as far as it can be told before the next, and the file's
    name. Findings of other files stay as they were. None where nothing can be told."""
    buffer = buffers.get(next(iter(changed))) if len(changed) == 1 else None
    if buffer is None or buffer.path is None or buffer.broken:
        return None
    name = buffer.name
    result = glance(before.result, buffer.document)
    if result is None:
        return None
    parts = {**before.parts, name: Part(buffer.path, name, buffer, buffer.document)}
    found = {**before.findings, name: findings(result, parts, only=name).get(name, ())}
    return Reviewed(before.root, result, parts, found, before.stamps, before.kept), name


def _good_documents(buffers: Mapping[Path, Buffer], before: Reviewed | None) -> dict[Path, Document]:
    """For each open text the document to review: its own, or while it cannot be read the last one that could."""
    known = before.result.files.paths if before is not None and before.result.files is not None else {}
    last = {path: before.result.documents[name] for name, path in known.items()} if before is not None else {}
    goods = {}
    for path, buffer in buffers.items():
        document = buffer.document
        if broken(document):
            good = last.get(path)
            document = good if good is not None and not broken(good) else _saved(path) or document
        goods[path] = document
    return goods


def _saved(path: Path) -> Document | None:
    """The file as it was saved, where that can be read."""
    try:
        document = read_document(path, path.as_posix(), Overlay())
    except (OSError, ValueError):
        return None
    return None if broken(document) else document


def _overlay(
    root: Path,
    buffers: Mapping[Path, Buffer],
    before: Reviewed | None,
    goods: Mapping[Path, Document],
    stamps: Mapping[Path, Stamp],
) -> Overlay:
    texts: dict[Path, str] = {}
    known: dict[Path, Document] = {}
    if before is not None and before.result.files is not None:
        for name, path in before.result.files.paths.items():
            if path not in buffers and path in stamps and stamps[path] == before.stamps.get(path):
                known[path] = before.result.documents[name]
    for path in buffers:
        # a document stands in for its file only under the name that the review gives the file; a text always does
        if path == root or (before is not None and path.as_posix() in before.parts and path.is_file()):
            known[path] = goods[path]
        if path not in known or not path.is_file():
            texts[path] = goods[path].text
    return Overlay(texts, known)


def _stamps(paths: Iterable[Path], buffers: Mapping[Path, Buffer]) -> dict[Path, Stamp]:
    found = {}
    for path in paths:
        if path not in buffers:
            try:
                status = path.stat()
            except OSError:
                continue
            found[path] = (status.st_mtime_ns, status.st_size, status.st_ino)
    return found


# -- which specs -----------------------------------------------------------------------------------


def roots_of(path: Path, buffers: Mapping[Path, Buffer], known: Mapping[Path, Reviewed]) -> tuple[Path, ...]:
    """The roots (full paths) of the specs that a file belongs to, open texts standing in for files.

    Raises SpecError, whose message says why, where there is none.
    """
    if _is_root(path, buffers, known):
        return (path,)
    for folder in path.parents:
        open_roots = [root for root in sorted(buffers) if root.parent == folder and _is_root(root, buffers, known)]
        found = tuple(root for root in open_roots if _includes(root, path, buffers))
        if found:
            return found
    if not path.is_file():
        raise SpecError("is not saved yet, and no open root file includes it")
    roots = tuple(root.resolve() for root in find_roots(path))
    left = tuple(root for root in roots if root not in buffers or _is_root(root, buffers, known))
    if not left:
        raise SpecError("is part of no spec: what is open as its root file has no `project`")
    return left


def _is_root(path: Path, buffers: Mapping[Path, Buffer], known: Mapping[Path, Reviewed]) -> bool:
    buffer = buffers.get(path)
    if buffer is None:
        return False
    tree = buffer.document.tree
    return (isinstance(tree, dict) and "project" in tree) or (buffer.broken and path in known)


def _includes(root: Path, path: Path, buffers: Mapping[Path, Buffer]) -> bool:
    texts = {root: buffers[root].text, path: buffers[path].text} if path in buffers else {root: buffers[root].text}
    try:
        return path in read_files(root, Overlay(texts)).paths.values()
    except SpecError:
        return False


# -- all of them -----------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class State:
    """What is known of all specs with open texts, as of one run. `homes`: the roots of each open file. `strays`: the
    findings of open texts that belong to no spec."""

    reviewed: Mapping[Path, Reviewed] = field(default_factory=dict)
    homes: Mapping[Path, tuple[Path, ...]] = field(default_factory=dict)
    strays: Mapping[Path, tuple[Finding, ...]] = field(default_factory=dict)


def run(
    state: State,
    buffers: Mapping[Path, Buffer],
    changed: Iterable[Path],
    moved: bool,
    book: Rulebook,
    progress: Progress,
    trouble: Callable[[Path, Exception], None],
    early: Callable[[State, str], None] | None = None,
) -> State:
    """The state after a review of the specs that `changed` files belong to. `moved`: files may have come or gone, so
    which spec a file belongs to is asked again. `trouble` is told what broke; the other specs are reviewed all the
    same. `early` is told what can be said of a file at once, by the file's name, before its spec is reviewed.

    Raises whatever `progress` raises; then the state stays what it was.
    """
    changed = set(changed)
    homes, strays = _homes(state, buffers, changed, moved)
    due = {root for path in changed for root in (*homes.get(path, ()), *state.homes.get(path, ()))}
    due |= {root for root, one in state.reviewed.items() if changed & one.paths}
    wanted = {root for roots in homes.values() for root in roots}
    reviewed = {root: one for root, one in state.reviewed.items() if root in wanted}
    for root in sorted(wanted & (due | (wanted - set(reviewed)))):
        before = reviewed.get(root)
        if before is not None and early is not None:
            soon = at_once(before, buffers, changed & before.paths)
            if soon is not None:
                early(State({**reviewed, root: soon[0]}, homes, strays), soon[1])
        try:
            reviewed[root] = review(root, buffers, before, book, progress)
        except SpecError as error:
            reviewed.pop(root, None)
            for path, roots in homes.items():
                if root in roots and path in buffers:
                    strays[path] = of_no_spec(buffers[path].document, str(error))
        except Superseded:
            raise
        except Exception as error:  # a fault of ours in one spec must not silence the others
            reviewed.pop(root, None)
            trouble(root, error)
    return State(reviewed, homes, strays)


def _homes(
    state: State, buffers: Mapping[Path, Buffer], changed: set[Path], moved: bool
) -> tuple[dict[Path, tuple[Path, ...]], dict[Path, tuple[Finding, ...]]]:
    homes: dict[Path, tuple[Path, ...]] = {}
    strays: dict[Path, tuple[Finding, ...]] = {}
    roots_changed = any(path in state.reviewed or _is_root(path, buffers, state.reviewed) for path in changed)
    for path, buffer in buffers.items():
        if not moved and not roots_changed and path in state.homes:
            homes[path] = state.homes[path]
        else:
            try:
                homes[path] = roots_of(path, buffers, state.reviewed)
            except SpecError as error:
                homes[path] = ()
                strays[path] = of_no_spec(buffer.document, str(error).removeprefix(f"{path}: "))
            except (OSError, ValueError) as error:
                homes[path] = ()
                strays[path] = of_no_spec(buffer.document, f"its spec cannot be found ({error})")
        if not homes[path] and path not in strays:
            strays[path] = of_no_spec(buffer.document, _why(state, path))
    return homes, strays


def _why(state: State, path: Path) -> str:
    """What was said of a stray text before."""
    said = [finding.message for finding in state.strays.get(path, ()) if finding.code == "include/missing"]
    return said[0] if said else "is part of no spec"
