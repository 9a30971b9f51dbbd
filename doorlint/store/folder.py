"""The folder in the user's cache: data by name, whole or not at all, and never more than it may hold.

Nothing here raises on what the disk holds or refuses: without a folder that is the user's own there is no store, and
a review takes as long as it takes.
"""

from __future__ import annotations

import hashlib
import os
import stat
import time
import zlib
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final

VARIABLE: Final = "DOORLINT_CACHE"
"""The environment variable that names another folder, by its whole path. Set to nothing, nothing is kept."""

MOST_FILES: Final = 60
MOST_BYTES: Final = 500 * 1024 * 1024
LARGEST: Final = 200 * 1024 * 1024
"""Of one entry, before it is packed."""

_MAGIC: Final = b"doorlint store 1\n"
_HEAD: Final = len(_MAGIC) + hashlib.sha256().digest_size
_LEFT_BEHIND_S: Final = 3600
"""A file that is still being written after this time belongs to a run that was killed."""

_SAFELY: Final = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


@dataclass(frozen=True, slots=True)
class Store:
    """Data by name in one folder, which is made when something is first put there. fresh: nothing is given out.

    An entry that was cut off, altered or renamed is not given out. Several processes may put and get at once.
    """

    folder: Path
    fresh: bool = False

    def has(self, name: str) -> bool:
        """Whether there may be an entry; it costs nothing to ask."""
        return not self.fresh and os.path.lexists(self.folder / name)

    def get(self, name: str) -> bytes | None:
        """The entry of this name, exactly as it was put there; None where there is none."""
        try:
            if self.fresh or not _own_folder(self.folder):
                return None
            handle = os.open(self.folder / name, os.O_RDONLY | _SAFELY)
            with os.fdopen(handle, "rb") as file:
                found = os.fstat(handle)
                if not stat.S_ISREG(found.st_mode) or not _own(found) or found.st_size > MOST_BYTES:
                    return None
                data = file.read()
            unpacked = _unpacked(name, data)
        except (OSError, ValueError, zlib.error, MemoryError):
            return None
        with suppress(OSError):
            os.utime(self.folder / name)  # so that what is used stays
        return unpacked

    def put(self, name: str, data: bytes) -> None:
        """Keep an entry. Where that cannot be done, nothing is kept and nothing said."""
        if len(data) > LARGEST:
            return
        packed = zlib.compress(data, 1)
        beside = self.folder / f"{os.urandom(8).hex()}.part"
        try:
            if not _made(self.folder):
                return
            handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _SAFELY, 0o600)
            with os.fdopen(handle, "wb") as file:
                file.write(_MAGIC + _digest(name, packed) + packed)
            beside.replace(self.folder / name)
        except BaseException as error:
            with suppress(OSError):
                beside.unlink()
            if not isinstance(error, OSError | ValueError):
                raise
        else:
            self._prune()

    def _prune(self) -> None:
        """Leave the newest entries, as many as the folder may hold, and nothing that killed runs left behind."""
        found: list[tuple[int, int, str]] = []
        with suppress(OSError), os.scandir(self.folder) as listed:
            for entry in listed:
                with suppress(OSError):
                    about = entry.stat(follow_symlinks=False)
                    if entry.name.endswith(".part"):
                        if time.time() - about.st_mtime > _LEFT_BEHIND_S:
                            Path(entry.path).unlink()
                    elif stat.S_ISREG(about.st_mode):
                        found.append((about.st_mtime_ns, about.st_size, entry.path))
        total = 0
        for number, (_, size, path) in enumerate(sorted(found, reverse=True)):
            total += size
            if number >= MOST_FILES or (number and total > MOST_BYTES):
                with suppress(OSError):
                    Path(path).unlink()


def at_user(fresh: bool = False) -> Store | None:
    """The store in the user's cache folder, or in the one that DOORLINT_CACHE names; None where there can be none."""
    try:
        given = os.environ.get(VARIABLE)
        base = Path(given) if given is not None else _cache_folder()
        # a home that is not there is not made
        if given == "" or not base.is_absolute() or not base.parent.parent.is_dir():
            return None
    except (OSError, RuntimeError, ValueError):
        return None
    return Store(base / "reviews", fresh)


def _cache_folder() -> Path:
    from platformdirs import user_cache_path

    return user_cache_path("doorlint", appauthor=False)


def _digest(name: str, packed: bytes) -> bytes:
    """Binds an entry to its name, so that one renamed by mistake is none."""
    return hashlib.sha256(name.encode() + b"\0" + packed).digest()


def _unpacked(name: str, data: bytes) -> bytes | None:
    packed = data[_HEAD:]
    if data[:_HEAD] != _MAGIC + _digest(name, packed):
        return None
    reader = zlib.decompressobj()
    unpacked = reader.decompress(packed, LARGEST)
    return unpacked if reader.eof and not reader.unused_data else None


def _made(folder: Path) -> bool:
    """Whether the folder is there and the user's own, made where it was not there."""
    if not folder.is_dir():
        folder.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        with suppress(FileExistsError):
            folder.mkdir(mode=0o700)
    return _own_folder(folder)


def _own_folder(folder: Path) -> bool:
    """Whether the folder itself, no link to one, belongs to the user and is closed to everybody else."""
    found = folder.lstat()
    return stat.S_ISDIR(found.st_mode) and _own(found) and (os.name != "posix" or not found.st_mode & 0o077)


def _own(found: os.stat_result) -> bool:
    user = getattr(os, "geteuid", None)
    return user is None or found.st_uid == user()
