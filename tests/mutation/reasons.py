"""The survivors that were looked at and left, each with its reason (`survivors.yaml`)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import yaml

from .mutants import Mutant

PATH = Path(__file__).with_name("survivors.yaml")
_Name = tuple[str, str, str]


def reasons(path: Path = PATH) -> Mapping[_Name, str]:
    """The reason of each mutant by its name. ValueError where an entry says nothing or a mutant stands twice."""
    found: dict[_Name, str] = {}
    entries: Any = yaml.safe_load(path.read_text(encoding="utf-8"))["survivors"] or []
    for entry in entries:
        reason = str(entry["reason"]).strip()
        if len(reason) < 20:
            raise ValueError(f"{path.name}: {entry['in']}, {entry['at']}: the reason says too little: {reason!r}")
        for change in entry["mutants"]:
            name = (entry["in"], entry["at"], change)
            if name in found:
                raise ValueError(f"{path.name}: {' '.join(name)} stands twice")
            found[name] = reason
    return found


def stale(known: Iterable[_Name], population: Mapping[str, Iterable[Mutant]]) -> tuple[_Name, ...]:
    """The names in the list that no mutant of today has, of the files in the population."""
    today = {mutant.name for mutants in population.values() for mutant in mutants}
    return tuple(name for name in known if name[0] in population and name not in today)
