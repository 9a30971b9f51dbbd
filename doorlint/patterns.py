"""File patterns, as includes give them."""

from __future__ import annotations

from pathlib import Path
from typing import Final

ENDINGS: Final = (".yaml", ".yml")
"""Of files in which a spec's root may stand."""


def matching(folder: Path, pattern: str) -> list[Path]:
    """The files below a folder that a pattern matches, in order. ValueError, NotImplementedError, OSError or
    RecursionError for what is no pattern or cannot be looked up."""
    try:
        return sorted(path for path in folder.glob(pattern) if path.is_file())
    except IndexError as error:  # so pathlib says before Python 3.13 that "." is no pattern
        raise ValueError(f"Unacceptable pattern: {pattern!r}") from error
