"""Writing files so that a reader meets the old text or the new one, never half of one."""

from __future__ import annotations

import os
import secrets
import stat
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path


class FileProblem(Exception):  # noqa: N818 - it is told to the user as it stands, in one line
    """A file could not be written. The message is one line for the user; the target is as it was before."""


def write_text(path: str | Path, text: str) -> None:
    """Write `text` as UTF-8 with the line ends it has, at once: the file holds all of it, or what it held.

    The text goes into a new file beside the target, which then takes the target's place. An existing file
    keeps its permissions; a link is followed and stays a link. Raises FileProblem when the text cannot be
    written or encoded, or the target is a folder or a device; nothing is left behind then.
    """
    try:
        _replace(Path(os.path.realpath(path)), text.encode("utf-8"))
    except UnicodeEncodeError as error:
        raise FileProblem(f"{path}: not written: its character {error.start + 1} is no Unicode") from error
    except ValueError as error:  # a NUL in the name
        raise FileProblem(f"{os.fspath(path)!r}: not written: this is no file name ({error})") from error
    except OSError as error:
        raise FileProblem(f"{path}: not written: {_why(error)}") from error


def write_files(folder: str | Path, files: Mapping[str, bytes]) -> None:
    """Write several files (name to content) into a folder, which is made where it does not exist.

    Every file is written beside its target first, and only when all are on disk do they take their places: a disk
    that fills up leaves everything as it was. Raises FileProblem, naming the file; what was made is taken back then.
    """
    base = Path(folder)
    staged: list[tuple[Path, Path]] = []
    made: list[Path] = []
    shown: object = folder
    try:
        made = _make_folder(base)
        for name, data in files.items():
            shown = base / name
            target = Path(os.path.realpath(base / name))
            staged.append((_stage(target, data), target))
        while staged:
            beside, target = staged[0]
            shown = target
            beside.replace(target)
            del staged[0]
    except BaseException as error:
        for beside, _ in staged:
            with suppress(OSError):
                beside.unlink()
        for one in reversed(made):
            with suppress(OSError):
                one.rmdir()
        if isinstance(error, OSError):
            raise FileProblem(f"{shown}: not written: {_why(error)}") from error
        if isinstance(error, ValueError):  # a NUL in the name
            raise FileProblem(f"{os.fspath(folder)!r}: not written: this is no file name ({error})") from error
        raise
    _sync_folder(base)


def _make_folder(folder: Path) -> list[Path]:
    """Make a folder and what is missing above it; the folders made, outermost first."""
    missing = [one for one in (folder, *folder.parents) if not one.exists()]
    made: list[Path] = []
    try:
        for one in reversed(missing):
            one.mkdir()
            made.append(one)
    except OSError:
        for one in reversed(made):
            with suppress(OSError):
                one.rmdir()
        raise
    if not folder.is_dir():
        raise NotADirectoryError
    return made


def _replace(target: Path, data: bytes) -> None:
    beside = _stage(target, data)
    try:
        beside.replace(target)
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise
    _sync_folder(target.parent)


def _stage(target: Path, data: bytes) -> Path:
    """Write data, whole and durable, into a new file beside the target; nothing is left behind where that fails."""
    mode = _mode(target)
    beside = target.with_name(f".{target.name[:64]}.{secrets.token_hex(8)}.part")
    # os.open rather than tempfile: a new file then gets the permissions that the user's umask grants
    handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    try:
        with os.fdopen(handle, "wb") as file:
            if mode is not None:
                beside.chmod(mode)
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise
    return beside


def _mode(target: Path) -> int | None:
    """The permissions of an existing regular file, None where there is no file yet."""
    try:
        mode = target.stat().st_mode
    except FileNotFoundError:
        return None
    if stat.S_ISDIR(mode):
        raise IsADirectoryError
    if not stat.S_ISREG(mode):
        # replacing a device or a pipe by a file would destroy it
        raise OSError("it is no regular file; leave the option out and redirect the output instead")
    return stat.S_IMODE(mode)


def _sync_folder(folder: Path) -> None:
    # The new name is durable only once the folder is; not every system lets a folder be opened, and the file
    # itself is whole either way.
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _why(error: OSError) -> str:
    if isinstance(error, IsADirectoryError):
        return "it is a folder; a file name is expected"
    if isinstance(error, FileNotFoundError):
        return "its folder does not exist"
    if isinstance(error, NotADirectoryError):
        return "a part of its path is no folder"
    if isinstance(error, PermissionError):
        return "no permission to write there"
    return error.strerror.lower() if error.strerror else str(error)
