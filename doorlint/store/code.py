"""What a review rests on besides the spec: doorlint itself, its rules, values and schemas, other packages of rules,
and the libraries under them. A change of any of them changes the stamp, so that nothing kept before is taken."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from .. import __version__

Stamp = list[Any]
"""Plain data that is equal for equal code."""

_STARTED: Final = time.time_ns() - 200_000_000
"""Code that was changed after this moment may not be the code that runs; the margin covers coarse file times and what
was imported before this module."""

_INSTALLED: Final = (".dist-info", ".egg-info", ".egg-link", ".pth")
_MOST: Final = 20_000
"""Files of code beyond this number are not looked at one by one, and nothing is kept."""


@dataclass(frozen=True, slots=True)
class Code:
    """folders: those of doorlint and of packages of rules, with all that is in them. files: the modules elsewhere."""

    folders: tuple[str, ...]
    files: tuple[str, ...]


def loaded(group: str = "doorlint") -> Code:
    """The code that is loaded now, and the whole folders of packages of rules, loaded or not."""
    from importlib.metadata import entry_points

    names = {entry.module.partition(".")[0] for entry in entry_points(group=group)}
    paths = {str(path) for name in (*names, "doorlint", "doorlint.rules", "doorlint.schemas") for path in _paths(name)}
    folders = tuple(sorted(path for path in paths if not any(_within(path, other) for other in paths - {path})))
    library = str(Path(os.__file__).parent)
    files = set()
    for module in list(sys.modules.values()):
        file = getattr(module, "__dict__", {}).get("__file__")
        if isinstance(file, str) and not _standard(file, library) and not any(_within(file, one) for one in folders):
            files.add(file)
    return Code(folders, tuple(sorted(files)))


def stamp(code: Code) -> Stamp | None:
    """The stamp of this code as it is on disk; None where it is too much to look at."""
    walked = []
    for folder in code.folders:
        for each in _walked(folder):
            walked.append(each)
            if len(walked) > _MOST:
                return None
    files = [[file, *_about(Path(file))] for file in code.files]
    return [__version__, sys.version, sys.flags.optimize, sys.path, _installed(sys.path), walked, files]


def settled(found: Stamp) -> bool:
    """Whether all the code of a stamp was on disk as it is before the run began, so that it is what the run has
    loaded."""
    return all(
        moment is None or moment < _STARTED for each in (*found[-2], *found[-1]) for moment in (each[1], each[3])
    )


def _about(file: Path | os.DirEntry[str]) -> list[int | None]:
    """When a file was changed, its size, and when anything about it was changed, which no copying can restore."""
    try:
        found = file.stat()
    except (OSError, ValueError):
        return [None, None, None]
    return [found.st_mtime_ns, found.st_size, found.st_ctime_ns]


def _walked(folder: str) -> Iterator[list[Any]]:
    try:
        with os.scandir(folder) as listed:
            entries = sorted(listed, key=lambda entry: entry.name)
    except OSError:
        yield [folder, None, None, None]
        return
    for entry in entries:
        if entry.name == "__pycache__" or entry.name.endswith(".pyc"):
            continue  # made anew from the source by itself
        if entry.is_dir(follow_symlinks=False):
            yield from _walked(entry.path)
        else:
            yield [entry.path, *_about(entry)]


def _installed(path: Iterable[str]) -> Stamp:
    """What is installed, by the folders in which modules are looked up: a package of rules that is added changes it."""
    found: Stamp = []
    for folder in path:
        try:
            with os.scandir(folder or ".") as listed:
                names = sorted(each.name for each in listed if each.name.endswith(_INSTALLED))
        except OSError:
            names = []
        found.append([[name, *_about(Path(folder, name, "entry_points.txt"))] for name in names])
    return found


def _paths(name: str) -> list[str]:
    """The folders of a package; none where it is a module of one file, which is among the files."""
    module = sys.modules.get(name)
    if module is None:
        from importlib.util import find_spec

        try:
            found = find_spec(name)
        except (ImportError, ValueError):
            return []
        return list(found.submodule_search_locations or ()) if found is not None else []
    return list(getattr(module, "__path__", ()))


def _within(path: str, folder: str) -> bool:
    return path.startswith(folder + os.sep)


def _standard(file: str, library: str) -> bool:
    """Whether a file belongs to Python itself, whose version is in the stamp."""
    inner = file[len(library) :] if _within(file, library) else ""
    return bool(inner) and "site-packages" not in inner and "dist-packages" not in inner
