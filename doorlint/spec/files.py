"""From a root file to the documents of a spec: includes, their limits, and which spec a file belongs to."""

from __future__ import annotations

import contextlib
import os
import re
import stat
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from ..document import Document, Problem, parse, read_text
from ..format_rules import finding
from ..outcome import Outcome, Place, Related
from ..patterns import ENDINGS, matching

_PROBLEM_RULES = {
    "syntax": "document/syntax",
    "duplicate-key": "document/duplicate-key",
    "limit": "document/over-limit",
    "alias": "document/over-limit",
    "encoding": "document/unreadable",
    "tag": "document/unusual-yaml",
    "key": "document/unusual-yaml",
    "documents": "document/unusual-yaml",
}
LARGEST_FILE = 256 * 1024 * 1024


class SpecError(Exception):
    """Nothing could be reviewed. The message is one line for the user."""


@dataclass(frozen=True, slots=True)
class Overlay:
    """Texts that stand in for files on disk: an editor's unsaved text, or the copy that a repair is tried on.
    Keys are resolved paths. `known` holds documents of other files that were read before and have not changed;
    `library` remembers documents from one reading to the next."""

    texts: Mapping[Path, str] = field(default_factory=dict)
    known: Mapping[Path, Document] = field(default_factory=dict)
    library: Library | None = None


_Stamp = tuple[int, int, int]


@dataclass
class Library:
    """Documents by path, each taken again as long as its file, or the text that stands in for it, is the same."""

    _files: dict[Path, tuple[_Stamp, Document]] = field(default_factory=dict)
    _texts: dict[Path, Document] = field(default_factory=dict)

    def of_text(self, path: Path, name: str, text: str) -> Document:
        """The document of a text that stands in for a file."""
        held = self._texts.get(path)
        if held is None or held.name != name or held.text != text:
            held = self._texts[path] = parse(text, name)
        return held

    def of_file(self, path: Path, name: str, stamp: os.stat_result, read: Callable[[], Document]) -> Document:
        """The document of a file whose stamp was taken before it is read, so that a change in between is met later."""
        now = (stamp.st_mtime_ns, stamp.st_size, stamp.st_ino)
        held = self._files.get(path)
        if held is None or held[0] != now or held[1].name != name:
            held = self._files[path] = (now, read())
        return held[1]


@dataclass(frozen=True)
class Files:
    """The documents of one spec by display name, the root's first, and the findings made while reading. `house`: the
    names of those among them that hold house standards, in the order given."""

    root: str
    documents: Mapping[str, Document]
    paths: Mapping[str, Path]
    findings: tuple[Outcome, ...]
    unreadable: bool
    house: tuple[str, ...] = ()

    @property
    def parts(self) -> Mapping[str, Document]:
        """The documents that hold the spec itself, without the house standards."""
        return {name: document for name, document in self.documents.items() if name not in self.house}

    @property
    def patterns(self) -> Iterator[tuple[Path, str]]:
        """Every pattern that was looked up, with the folder that it starts from."""
        root = self.paths[self.root]
        for _, pattern in _named(self.documents[self.root], "project", "house"):
            yield root.parent, pattern
        for name, document in self.parts.items():
            for _, pattern in _named(document, "include"):
                yield self.paths[name].parent, pattern


def read_document(path: Path, name: str, overlay: Overlay) -> Document:
    """Read one file. Raises OSError, with FIFOs and devices refused like folders."""
    real = path.resolve()
    text = overlay.texts.get(real)
    if text is not None:
        return parse(text, name) if overlay.library is None else overlay.library.of_text(real, name, text)
    known = overlay.known.get(real)
    if known is not None and known.name == name:
        return known
    stamp = path.stat()
    if not stat.S_ISREG(stamp.st_mode):
        raise OSError("is a folder" if stat.S_ISDIR(stamp.st_mode) else "is no regular file")
    if stamp.st_size > LARGEST_FILE:
        raise OSError(f"is larger than {LARGEST_FILE // 1024 // 1024} MiB")
    if overlay.library is None:
        return read_text(path.read_bytes(), name)
    return overlay.library.of_file(real, name, stamp, lambda: read_text(path.read_bytes(), name))


def why(error: OSError | ValueError) -> str:
    """An operating-system error in plain words."""
    if isinstance(error, FileNotFoundError):
        return "does not exist"
    if isinstance(error, PermissionError):
        return "may not be read (permission)"
    if isinstance(error, OSError) and error.strerror:
        return f"cannot be read ({error.strerror.lower()})"
    return str(error)


def read_files(root: Path, overlay: Overlay | None = None, shown: str | None = None) -> Files:
    """Read the root file and all that it includes, each file once.

    `shown` is how the root is called in messages (default: the path as given). Raises SpecError when the root
    itself cannot be read.
    """
    overlay = overlay or Overlay()
    shown = shown or str(root)
    try:
        document = read_document(root, shown, overlay)
    except (OSError, ValueError) as error:
        raise SpecError(f"{shown}: {why(error)}") from error
    reading = _Reading(root.resolve().parent, Path(shown).parent, overlay)
    reading.add(root.resolve(), document, ())
    found = tuple(reading.findings)
    return Files(shown, reading.documents, reading.paths, found, reading.unreadable, tuple(reading.house))


class _Reading:
    """The state of one reading (local to `read_files`)."""

    def __init__(self, folder: Path, shown_folder: Path, overlay: Overlay) -> None:
        self.folder = folder
        self.shown_folder = shown_folder
        self.overlay = overlay
        self.documents: dict[str, Document] = {}
        self.paths: dict[str, Path] = {}
        self.findings: list[Outcome] = []
        self.unreadable = False
        self.names: dict[Path, str] = {}
        self.house: list[str] = []

    def add(self, path: Path, document: Document, above: tuple[Path, ...]) -> None:
        self._keep(path, document)
        if not above:
            self._read_house(path, document)
        for place, pattern in _named(document, "include"):
            for found in self._matches(path, place, pattern):
                self._include(found, place, (*above, path))

    def _keep(self, path: Path, document: Document) -> None:
        name = document.name
        self.documents[name] = document
        self.paths[name] = path
        self.names[path] = name
        for problem in document.problems:
            self._problem(name, problem)

    def _read_house(self, root: Path, document: Document) -> None:
        """Read the house standards that the root names, before any include, so that `*.yaml` leaves them out."""
        for place, pattern in _named(document, "project", "house"):
            for found in self._matches(root, place, pattern, "house standard"):
                name, real = self._shown(found), found.resolve()
                if not real.is_relative_to(self.folder):
                    text = f"{name} is a link that leads out of the spec's folder"
                    self.findings.append(finding("include/outside", text, place, place.file))
                elif real == root:
                    text = f"{name} is the spec itself; house standards stand in a file of their own"
                    self.findings.append(finding("include/cycle", text, place, place.file))
                elif real not in self.names:
                    try:
                        self._keep(real, read_document(real, name, self.overlay))
                    except (OSError, ValueError) as error:
                        self.unreadable = True
                        text = f"house standard {name} {why(error)}"
                        self.findings.append(finding("document/unreadable", text, place, place.file))
                    else:
                        self.house.append(name)

    def _problem(self, name: str, problem: Problem) -> None:
        rule = _PROBLEM_RULES[problem.code]
        if rule in ("document/syntax", "document/unreadable", "document/over-limit"):
            self.unreadable = True
        place = Place(name, "", span=(problem.region.start, problem.region.end))
        related = tuple(
            Related(Place(name, "", span=(region.start, region.end)), caption) for caption, region in problem.related
        )
        self.findings.append(finding(rule, problem.message, place, name, related))

    def _matches(self, path: Path, place: Place, pattern: str, what: str = "include") -> list[Path]:
        subject = place.file
        if Path(pattern).is_absolute() or ".." in Path(pattern).parts:
            text = f"{what} {pattern!r} leads out of the spec's folder; write a path below this file's folder"
            self.findings.append(finding("include/outside", text, place, subject))
            return []
        try:
            found = matching(path.parent, pattern)
        except PermissionError as error:  # nobody can tell what stands there
            self.unreadable = True
            text = f"{what} {pattern!r}: a folder {why(error)}"
            self.findings.append(finding("document/unreadable", text, place, subject))
            return []
        except (ValueError, NotImplementedError, OSError, RecursionError) as error:
            text = f"{what} {pattern!r} is no file pattern: {error}"
            self.findings.append(finding("include/missing", text, place, subject))
            return []
        overlaid = [
            p
            for p in sorted(self.overlay.texts)
            if p.parent.is_relative_to(path.parent)
            and p.relative_to(path.parent).match(pattern)
            and len(p.relative_to(path.parent).parts) == len(Path(pattern).parts)
        ]
        found = list(dict.fromkeys([*found, *overlaid]))
        if not found:
            text = f"{what} {pattern!r} matches no file below {self._shown(path.parent)}"
            self.findings.append(finding("include/missing", text, place, subject))
        return found

    def _shown(self, path: Path) -> str:
        try:
            return (self.shown_folder / path.relative_to(self.folder)).as_posix()
        except ValueError:
            return path.name

    def _include(self, found: Path, place: Place, above: tuple[Path, ...]) -> None:
        name = self._shown(found)
        real = found.resolve()
        if not real.is_relative_to(self.folder):
            text = f"{name} is a link that leads out of the spec's folder"
            self.findings.append(finding("include/outside", text, place, place.file))
            return
        if real in above:
            if real == above[-1] and "*" in self._pattern(place):
                return  # a pattern such as *.yaml that also matches the file it stands in means the others
            text = f"{name} includes this file, directly or through others"
            related = (Related(Place(self.names[real], "/include", "key"), "the include that closes the circle"),)
            self.findings.append(finding("include/cycle", text, place, place.file, related))
            return
        if real in self.names:
            return
        try:
            document = read_document(real, name, self.overlay)
        except (OSError, ValueError) as error:
            self.unreadable = True
            text = f"included file {name} {why(error)}"
            self.findings.append(finding("document/unreadable", text, place, place.file))
            return
        self.add(real, document, above)

    def _pattern(self, place: Place) -> str:
        document = self.documents[place.file]
        return document.source(document.region(place.pointer))


def _named(document: Document, *keys: str) -> Iterator[tuple[Place, str]]:
    """The file names or patterns under a key, one text or a list of them, each with its place."""
    listed: Any = document.tree
    here = Place(document.name, "")
    for key in keys:
        listed = listed.get(key) if isinstance(listed, dict) else None
        here = here.child(key)
    if isinstance(listed, str):
        yield here, listed
    elif isinstance(listed, list):
        for index, pattern in enumerate(listed):
            if isinstance(pattern, str):
                yield here.child(index), pattern


def is_root(path: Path) -> bool:
    """Whether the file is the root of a spec: it holds a `project` at its top level."""
    try:
        return _has_key(path, "project")
    except OSError:
        return False


def is_spec_file(path: Path) -> bool:
    """Whether the file says that it is written in the format of door specs. A folder, and what cannot be read, may
    always be one: to pass over it would read like a clean spec."""
    try:
        return not path.is_file() or _has_key(path, "doorlint")
    except OSError:
        return True


def _has_key(path: Path, key: str) -> bool:
    """Whether the top level of a YAML file has `key`, which only what looks undecided is parsed for: most files are
    told by a line that begins with it. Raises OSError."""
    if not path.is_file():
        return False
    with path.open("rb") as file:
        data = file.read(LARGEST_FILE)
    wide = data.startswith((b"\xff\xfe", b"\xfe\xff", b"\0\0\xfe\xff"))
    if re.search(rb"^(\xef\xbb\xbf)?%b[ \t]*:" % key.encode(), data, re.MULTILINE):
        return True
    if not wide and not re.search(rb"%b[\"']?\s*:" % key.encode(), data):
        return False
    document = read_text(data)  # quoted, indented, within braces, in UTF-16, or the key of something else
    if wide and document.tree is None and document.problems:
        return True  # nobody can tell: to pass over it would read like a clean spec
    return isinstance(document.tree, dict) and key in document.tree


def find_roots(path: Path) -> tuple[Path, ...]:
    """The root files of the specs that `path` belongs to.

    A folder stands for the root files in it; a root file for itself; a part for every root, in its own folder or
    one above, that includes it. Raises SpecError when there is none.
    """
    try:
        return _roots(path)
    except (OSError, ValueError) as error:
        raise SpecError(f"{path}: {why(error)}") from error


def _roots(path: Path) -> tuple[Path, ...]:
    if path.is_dir():
        roots = tuple(p for p in sorted(path.iterdir()) if p.suffix in ENDINGS and is_root(p))
        if not roots:
            raise SpecError(f"{path}: no spec in this folder: no .yaml file with a `project` at its top level")
        return roots
    if not path.exists():
        raise SpecError(f"{path}: does not exist")
    if not path.is_file():
        raise SpecError(f"{path}: is no regular file")
    if _has_key(path, "project"):
        return (path,)
    found = []
    real = path.resolve()
    for folder in real.parents:
        try:
            candidates = sorted(p for p in folder.iterdir() if p.suffix in ENDINGS and is_root(p))
        except OSError:
            candidates = []
        for candidate in candidates:
            if _includes(candidate, real):
                found.append(_as_given(candidate, path))
        if found or (folder / ".git").exists():
            break
    if not found:
        raise SpecError(
            f"{path}: is part of no spec: no file in its folder or above has a `project` and includes it "
            "(a root file holds `project: {name: ...}`)"
        )
    return tuple(found)


def _as_given(root: Path, part: Path) -> Path:
    """The root's path in the manner in which the part's was given (relative stays relative)."""
    return root if part.is_absolute() else Path(os.path.relpath(root))


def _includes(root: Path, part: Path) -> bool:
    """Whether the root includes the part (a resolved path). Mostly it names it itself: then the root file alone is
    read, as a hook asks this for each of many changed files."""
    try:
        document = read_document(root, str(root), Overlay())
    except OSError:
        return False  # it was there a moment ago
    for keys in (("include",), ("project", "house")):
        for _, pattern in _named(document, *keys):
            with contextlib.suppress(ValueError, NotImplementedError, OSError, RecursionError):
                below = part.is_relative_to(root.resolve().parent) and ".." not in Path(pattern).parts
                if below and any(found.resolve() == part for found in root.parent.glob(pattern)):
                    return True
    try:
        return part in read_files(root).paths.values()
    except SpecError:
        return False
