"""Whether there is anything to gain from what earlier runs have left; costs next to nothing to find out."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from ..patterns import ENDINGS

LEAST_BYTES: Final = 4096
"""A spec of fewer bytes is reviewed sooner than its report is found."""


def is_worth(paths: Sequence[str]) -> bool:
    """Whether the specs at these paths may be large: a file of some size, or one that includes others."""
    try:
        return any(_may_be_large(path) for given in paths for path in _files(Path(given)))
    except (OSError, ValueError):
        return False  # the review tells what is wrong with the path


def _files(path: Path) -> list[Path]:
    if not path.is_dir():
        return [path]
    return [each for each in path.iterdir() if each.suffix in ENDINGS and each.is_file()]


def _may_be_large(path: Path) -> bool:
    if path.stat().st_size >= LEAST_BYTES:
        return True
    return path.is_file() and b"include" in path.read_bytes()
