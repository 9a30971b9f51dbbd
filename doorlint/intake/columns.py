"""What the columns of a schedule mean: the header found among title rows, each column's meaning with a confidence."""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from .cells import UNITS, text_of
from .tables import Sheet

SKIP: Final = "skip"
LEAST: Final = 0.75
"""A column whose meaning is less certain than this is not used unless the user's mapping says so."""
_SEARCHED: Final = 60
"""How many rows at the top of a sheet are searched for the header."""

_TITLES: Final[Mapping[str, Mapping[float, tuple[str, ...]]]] = {
    "opening": {
        1.0: ("door no", "door number", "opening no", "opening number", "door mark", "door id", "door tag", "door ref"),
        0.9: ("mark", "opening", "opening id", "tag"),
        0.8: ("door", "no", "number", "id", "ref"),
    },
    "title": {0.9: ("door name", "opening name", "title"), 0.8: ("description",), 0.5: ("location", "name")},
    "from": {1.0: ("from", "from room", "room from", "from space"), 0.5: ("room", "room name", "room no")},
    "to": {1.0: ("to", "to room", "room to", "to space")},
    "set": {
        1.0: ("hardware set", "hw set", "hdw set", "hdwr set", "set no", "hardware set no", "hw set no", "hdw set no",
              "hardware set number", "ironmongery set"),
        0.9: ("set", "hardware group", "hdw group", "hw", "hdw", "hdwr", "set number"),
        0.6: ("hardware", "ironmongery", "group"),
    },
    "size": {1.0: ("size", "door size", "nominal size", "size w x h", "w x h", "leaf size", "opening size")},
    "leaf.width": {1.0: ("width", "leaf width", "nominal width"), 0.85: ("w", "wd")},
    "leaf.height": {1.0: ("height", "leaf height", "nominal height"), 0.85: ("h", "ht", "hgt")},
    "leaf.thickness": {1.0: ("thickness", "thk", "thick"), 0.5: ("t",)},
    "leaf.clear_width": {1.0: ("clear width", "clear opening", "clear opening width")},
    "leaf.count": {1.0: ("leaves", "no of leaves", "number of leaves", "leaf count"),
                   0.8: ("single pair", "single double")},
    "leaf.material": {1.0: ("material", "leaf material", "matl", "mat l", "mat")},
    "handing": {1.0: ("hand", "handing", "door hand")},
    "leaf.swing": {0.6: ("swing", "swing direction", "door swing")},
    "fire_rating": {
        1.0: ("fire rating", "fire label", "rating", "fire rating min", "label", "fire resistance", "frr", "fire"),
        0.6: ("rated", "fire rated", "class"),
    },
    "smoke_control": {1.0: ("smoke control", "smoke"), 0.6: ("smoke seal", "smoke seals")},
    "stair": {1.0: ("stair", "stair door")},
    "accessible_route": {1.0: ("accessible route", "accessible"), 0.7: ("ada", "accessibility")},
    "main_entrance": {1.0: ("main entrance",)},
    "elevator_lobby": {1.0: ("elevator lobby",)},
    "security": {1.0: ("security level", "security")},
    "exposure": {1.0: ("exposure",), 0.5: ("exterior", "external", "int ext", "environment")},
    "unsecured_side": {1.0: ("unsecured side",), 0.5: ("secure side", "secured side", "key side")},
    "egress.side": {1.0: ("egress side",), 0.5: ("egress", "exit")},
    "egress.by": {1.0: ("egress by", "egress hardware")},
    "occupancy.load": {1.0: ("occupant load", "occ load", "occupancy load"), 0.8: ("occupants",),
                       0.5: ("load", "people")},
    "occupancy.group": {1.0: ("occupancy group", "occupancy", "occ group")},
    "frame_depth": {1.0: ("frame depth", "throat")},
    "note": {1.0: ("remarks", "remark", "comments", "comment", "notes", "note")},
}  # fmt: skip
_FILLERS: Final = frozenset(["door", "leaf", "opening", "nominal", "doors"])
"""Words that add nothing to a title: `door width` is `width`."""
_FOREIGN: Final = frozenset(
    ["frame", "glass", "glazing", "head", "jamb", "sill", "threshold", "panel", "sidelight", "elevation"]
)
"""A title with one of these speaks of another part than the leaf: `frame material` is no `material`."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column with a title. `means`: a path of the spec, `size`, `handing`, `opening`, or `skip`. `proposed`: the
    best guess, which `means` follows only where the confidence suffices. `unit`: that of bare numbers."""

    index: int
    title: str
    means: str
    confidence: float
    proposed: str = ""
    unit: str = ""


@dataclass(frozen=True, slots=True)
class Header:
    """The header of a sheet: `first` and `last` row, from 0, and the columns that have a title."""

    first: int
    last: int
    columns: tuple[Column, ...]


def normal(title: str) -> str:
    """A title without case, signs, units in brackets and blanks."""
    plain = re.sub(r"\([^)]*\)|\[[^\]]*\]", " ", title.lower())
    plain = re.sub(r"\bno\.|#|№", " no ", plain)
    return " ".join(re.sub(r"[^a-z0-9]+", " ", plain).split())


def unit_of(title: str) -> str:
    """The unit that a title states: `Width (in)`, `W [mm]`, `Height, mm`, `Rating min`; "" for none."""
    found = re.findall(r"[(\[]([^)\]]*)[)\]]", title) + re.findall(r"[,/\s]\s*([^\s,/()\[\]]+)\s*$", title.strip())
    for text in found:
        plain = text.strip().lower().rstrip(".")
        for unit, spellings in UNITS.items():
            if plain in spellings:
                return unit
    return ""


@lru_cache(maxsize=4096)
def meaning(title: str) -> tuple[str, float]:
    """What a title most likely means, and how certain that is from 0 to 1."""
    plain = normal(title)
    if not plain or len(title) > 80:
        return "", 0.0
    words = plain.split()
    unit = unit_of(title)
    shorter = [word for word in words if word not in _FILLERS and not (unit and word in UNITS[unit])]
    forms = [(plain, 1.0), (" ".join(shorter), 0.95)]
    best, certainty = "", 0.0
    for path, ranks in _TITLES.items():
        for rank, titles in ranks.items():
            for form, share in forms:
                if form in titles and rank * share > certainty:
                    best, certainty = path, rank * share
    if best or _FOREIGN & set(words):
        return best, certainty
    return _perhaps(plain)


def _perhaps(plain: str) -> tuple[str, float]:
    """A meaning for a title that says more than what is known, or is misspelt: proposed, never used unasked."""
    best, certainty = "", 0.0
    for path, ranks in _TITLES.items():
        for rank, titles in ranks.items():
            for one in titles:
                inside = len(one) > 3 and f" {one} " in f" {plain} "
                sure = round(rank * (0.65 if inside else 0.6 if _alike(one, plain) else 0.0), 2)
                if sure > certainty:
                    best, certainty = path, sure
    return best, certainty


def _alike(one: str, other: str) -> bool:
    if abs(len(one) - len(other)) > 3:
        return False
    matcher = difflib.SequenceMatcher(None, one, other)
    return matcher.quick_ratio() >= 0.85 and matcher.ratio() >= 0.85


def find_header(sheet: Sheet) -> Header | None:
    """The row, or two rows, that title most columns; None where no row titles the door number and something else."""
    best: tuple[float, int, Header] | None = None
    for last in range(min(len(sheet.rows), _SEARCHED)):
        if not any(text_of(cell) for cell in sheet.rows[last]):
            continue
        for first in (last, last - 1):
            if first < 0:
                continue
            header = _header(sheet, first, last)
            used = [column for column in header.columns if column.means != SKIP]
            if len(used) < 2 or not any(column.means == "opening" for column in used):
                continue
            # one row is preferred to two that say the same
            worth = sum(column.confidence for column in used) - (0.01 if first < last else 0)
            if best is None or worth > best[0]:
                best = (worth, -last, header)
    return best[2] if best else None


def header_at(sheet: Sheet, first: int, last: int) -> Header:
    """The header in the rows that a mapping names."""
    return _header(sheet, first, last)


def _header(sheet: Sheet, first: int, last: int) -> Header:
    width = max((len(sheet.rows[row]) for row in range(first, last + 1) if row < len(sheet.rows)), default=0)
    columns: list[Column] = []
    above = ""
    for index in range(width):
        low = text_of(sheet.at(last, index))
        if first < last:
            above = text_of(sheet.at(first, index))
            if not low and above and sheet.merged.get((last, index), (last, index))[0] == last:
                low, above = above, ""
        title = low if not above or above == low else f"{above} {low}"
        if not low:
            continue
        path, certainty = meaning(title)
        # a group such as DOOR above WIDTH may be no part of the meaning; one such as FRAME is
        if certainty < LEAST and above and not _FOREIGN & set(normal(above).split()):
            path, certainty = max((meaning(low), (path, certainty)), key=lambda found: found[1])
        means = path if certainty >= LEAST else SKIP
        columns.append(Column(index, title, means, round(certainty, 2), path, unit_of(title) or unit_of(above)))
    return Header(first, last, tuple(_once(columns)))


def _once(columns: list[Column]) -> list[Column]:
    """Where two columns would mean the same, the more certain one does, the earlier of equals; the other is skipped."""
    taken: dict[str, Column] = {}
    for column in columns:
        rival = taken.get(column.means)
        if column.means != SKIP and (rival is None or column.confidence > rival.confidence):
            taken[column.means] = column
    return [
        column
        if column.means == SKIP or taken[column.means] is column
        else Column(column.index, column.title, SKIP, column.confidence, column.proposed, column.unit)
        for column in columns
    ]
