"""What one cell of a schedule says, in the words of the spec. What cannot be told for certain is refused."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping
from fractions import Fraction
from functools import lru_cache
from typing import Final, TypeAlias

from ..quantity import QuantityError, parse_quantity
from .ratings import FRACTIONS, read_rating
from .records import Value

Raw: TypeAlias = str | int | float | bool | datetime.date | datetime.time | datetime.timedelta | None
"""A cell as the file's reader gives it."""
Said: TypeAlias = Mapping[str, Value | None]
"""Path -> value, None for what the schedule itself leaves open; empty where the cell says nothing."""


class Unread(Exception):  # noqa: N818 - the message says what was expected
    """A cell that was not understood."""


_ERRORS: Final = re.compile(r"#(?:N/A|REF!|VALUE!|NAME\?|DIV/0!|NULL!|NUM!|SPILL!|CALC!)")
_OPEN: Final = frozenset(
    ["tbd", "tbc", "?", "??", "???", "unknown", "to be confirmed", "to be determined", "t.b.d.", "t.b.c."]
)
_DASH: Final = frozenset(["-", "--", "---", "–", "—", "n/a", "na", "n.a."])
_YES: Final = frozenset(["y", "yes", "true", "t", "1", "x", "✓", "✔", "●", "•", "☒", "☑", "req", "req'd", "required"])
_NO: Final = frozenset(["n", "no", "false", "f", "0", "none", "☐", "○", "not required", "not req'd"])
UNITS: Final = {
    "in": ("in", "inch", "inches", '"', "''", "″", "”"),
    "ft": ("ft", "feet", "foot", "'", "′", "’"),
    "ft-in": ("ft-in", "feet-inches"),  # of sizes run together: 3070 is 3'-0" x 7'-0"
    "mm": ("mm", "millimetres", "millimeters"),
    "cm": ("cm",),
    "m": ("m", "metres", "meters"),
    "min": ("min", "mins", "minutes", "minute"),
    "h": ("h", "hr", "hrs", "hour", "hours"),
}
"""The units that a header or a mapping may give to bare numbers, with their spellings."""

_NUMBER: Final = r"\d+(?:\.\d+)?"
_INCHES: Final = rf"(?:\d+\s+\d+/\d+|\d+-\d+/\d+|\d+/\d+|{_NUMBER})"
_FEET_INCHES: Final = re.compile(
    rf"""({_NUMBER})\s*(?:'|ft\.?|feet)\s*-?\s*(?:({_INCHES})\s*(?:"|in\.?|inch(?:es)?)?)?"""
)
_INCHES_ONLY: Final = re.compile(rf"""({_INCHES})\s*(?:"|in\.?|inch(?:es)?)""")
_METRIC: Final = re.compile(rf"({_NUMBER})\s*(mm|cm|m)")
_BARE: Final = re.compile(_INCHES)
_QUOTES: Final = str.maketrans(
    {"′": "'", "’": "'", "‘": "'", "´": "'", "″": '"', "”": '"', "“": '"', "×": "x", "\N{NO-BREAK SPACE}": " ",
     **FRACTIONS}
)  # fmt: skip
_PLAUSIBLE: Final = {
    "leaf.width": ("300 mm", "8 m"),
    "leaf.height": ("1 m", "10 m"),
    "leaf.thickness": ("8 mm", "300 mm"),
    "leaf.clear_width": ("300 mm", "8 m"),
    "frame_depth": ("30 mm", "1 m"),
}


def text_of(raw: Raw) -> str:
    """The cell as a text for people, blanks of any kind drawn together."""
    if raw is None:
        return ""
    if isinstance(raw, bool):
        return "TRUE" if raw else "FALSE"
    if isinstance(raw, float) and raw.is_integer() and abs(raw) < 1e15:
        raw = int(raw)
    return " ".join(str(raw).split())


def read(path: str, raw: Raw, unit: str = "") -> Said:
    """What a cell says about a field (or `size`, `handing`); `unit`: that of bare numbers, "" for none.

    Raises Unread with what was expected.
    """
    text = text_of(raw)
    if not text:
        return {}
    if isinstance(raw, datetime.date | datetime.time | datetime.timedelta):
        raise Unread("the spreadsheet holds a date or time here; format the cell as text and write it anew")
    if _ERRORS.fullmatch(text):
        raise Unread("the spreadsheet's formula gives an error here")
    if text.lower() in _OPEN:
        return dict.fromkeys(_PATHS.get(path, (path,)), None) if path not in ("opening", "note") else {}
    if text.lower() in _DASH and path != "fire_rating":
        return {}
    made = _understood(path, text, unit)
    if isinstance(made, Unread):
        raise made
    return made


@lru_cache(maxsize=16_384)
def _understood(path: str, text: str, unit: str) -> Said | Unread:
    """What a text says. Schedules say the same few things over and over, so that looking each up once pays."""
    try:
        return _KINDS.get(path, _text)(path, text, unit)
    except Unread as error:
        return error.with_traceback(None)


def _text(path: str, text: str, unit: str) -> Said:
    if len(text) > 2000:
        raise Unread("the text is longer than 2000 characters")
    return {path: text}


def _flag(path: str, text: str, unit: str) -> Said:
    word = text.lower().rstrip(".")
    if word in _YES:
        return {path: True}
    if word in _NO:
        return {path: False}
    raise Unread("expected yes or no")


def _count(path: str, text: str, unit: str) -> Said:
    if re.fullmatch(r"\d{1,6}", text):
        return {path: int(text)}
    raise Unread("expected a whole number")


def _leaves(path: str, text: str, unit: str) -> Said:
    word = text.lower().rstrip(".")
    if word in ("single", "sgl", "1", "single leaf"):
        return {path: 1}
    if word in ("pair", "pr", "double", "dbl", "2", "double leaf", "pair of doors"):
        return {path: 2}
    raise Unread("expected single, pair or the number of leaves")


def _length(path: str, text: str, unit: str) -> Said:
    return {path: length(path, text, unit)}


def length(path: str, text: str, unit: str) -> str:
    """One length as it is written in the spec. Raises Unread."""
    plain = " ".join(text.translate(_QUOTES).replace("''", '"').lower().split())
    if match := _FEET_INCHES.fullmatch(plain):
        feet, inches = match[1], _inches(match[2] or "0")
        made = f"{feet} ft" if inches == "0" else f"{feet} ft {inches} in"
    elif match := _INCHES_ONLY.fullmatch(plain):
        made = f"{_inches(match[1])} in"
    elif match := _METRIC.fullmatch(plain):
        made = f"{match[1]} {match[2]}"
    elif _BARE.fullmatch(plain):
        if unit not in ("in", "ft", "mm", "cm", "m"):
            raise Unread("a number without unit; say the column's unit in the mapping, such as `unit: in`")
        made = f"{_inches(plain)} {unit}"
    else:
        raise Unread("expected a length, such as 3'-0\", 36 in or 915 mm")
    try:
        value = parse_quantity(made, "length").value
    except QuantityError as error:
        raise Unread(error.message) from error
    if path in _PLAUSIBLE:
        low, high = (parse_quantity(end, "length").value for end in _PLAUSIBLE[path])
        if not low <= value <= high:
            raise Unread(f"{made} would be no door; {_PLAUSIBLE[path][0]} to {_PLAUSIBLE[path][1]} was expected")
    return made


def _inches(text: str) -> str:
    text = " ".join(text.replace("-", " ").split())
    return "0" if "/" not in text and Fraction(text) == 0 else text


def _size(path: str, text: str, unit: str) -> Said:
    """Width x height, perhaps x thickness, perhaps `PR` for a pair, whose width is then that of one leaf."""
    plain = " ".join(text.translate(_QUOTES).split())
    said: dict[str, Value | None] = {}
    if match := re.match(r"(?i)(?:pr\.?|pair(?: of)?|\(2\)|dbl\.?)[\s:]+|\(2\)", plain):
        said["leaf.count"] = 2
        plain = plain[match.end() :].strip()
    parts = [part.strip() for part in re.split(r"(?i)\s*x\s*|\s+by\s+", plain)]
    if re.fullmatch(r"\d{4}", parts[0]) and len(parts) < 3 and (len(parts) == 1 or unit == "ft-in"):
        parts = [*_run_together(parts[0], unit), *parts[1:]]
    if len(parts) not in (2, 3):
        raise Unread("expected width x height, such as 3'-0\" x 7'-0\" or 915 x 2135 mm")
    # 915 x 2135 mm: the unit at the end holds for all, where all are numbers
    if (match := re.fullmatch(rf"{_NUMBER}\s*(mm|cm|m|in)", parts[-1].lower())) and all(
        re.fullmatch(_NUMBER, part) for part in parts[:-1]
    ):
        parts = [f"{part} {match[1]}" for part in parts[:-1]] + [parts[-1]]
    for name, part in zip(("leaf.width", "leaf.height", "leaf.thickness"), parts, strict=False):
        said[name] = length(name, part, unit)
    return said


def _run_together(code: str, unit: str) -> tuple[str, str]:
    """Width and height of a size such as 3070, 3'-0" x 7'-0" (common practice, no source). Raises Unread where the
    user has not said that sizes are written so."""
    width, height = f"{code[0]}'-{code[1]}\"", f"{code[2]}'-{code[3]}\""
    if unit == "ft-in":
        return width, height
    raise Unread(f"perhaps {width} x {height} run together; if so, say `unit: ft-in` for the column in the mapping")


def _rating(path: str, text: str, unit: str) -> Said:
    """A fire rating. A dash in this column stands for none, by the custom of door schedules (common practice, no
    source). A bare number is taken for minutes only where hours would be absurd."""
    plain = re.sub(r"(?i)[\s-]+(?:label|rated|rating)$", "", text)
    if text in _DASH:
        return {path: "none"}
    if match := re.fullmatch(r"(?i)fd ?(\d{2,3})(s?)", plain):  # words of British schedules, from memory
        said: dict[str, Value | None] = {path: f"{match[1]} min"}
        return {**said, "smoke_control": True} if match[2] else said
    if unit in ("min", "h") and re.fullmatch(_INCHES, plain) and plain != "0":
        plain = f"{plain} {unit}"
    rating = read_rating(plain)
    if rating.written is None or rating.minutes is None:
        if re.fullmatch(_INCHES, plain):
            raise Unread("a number without unit; say the column's unit in the mapping: `unit: min` or `unit: h`")
        raise Unread("expected a fire rating, such as 20, 45 min, 3/4 HR or - for none")
    if rating.more and not re.match(r"(?i)r?e[iw]?[\s-]*\d", rating.written):
        raise Unread("expected a fire rating in minutes or hours, or a class such as EI 30")
    if rating.minutes > 480:
        raise Unread("expected a fire rating of at most 8 hours")
    return {path: rating.written}


_MATERIALS: Final = {
    "hollow_metal": ("hm", "h m", "hollow metal", "steel", "stl", "hollow metal steel", "insulated hm"),
    "wood": ("wd", "wood", "timber", "scw", "solid core wood", "solid core", "wood solid core", "oak"),
    "aluminium_glass": (
        "alum glass", "al gl", "aluminum glass", "aluminium glass", "alum gl", "aluminum and glass",
        "aluminium and glass",
        "glazed aluminium", "glazed aluminum", "al glass",
    ),
    "glass": ("glass", "gl", "all glass", "frameless glass"),
    "steel_gate": ("steel gate", "gate steel", "mesh gate"),
    "other": ("other",),
}  # fmt: skip


def _material(path: str, text: str, unit: str) -> Said:
    plain = " ".join(re.sub(r"[^a-z]+", " ", text.lower().replace("&", " and ")).split())
    for word, spellings in _MATERIALS.items():
        if plain in spellings or plain == word.replace("_", " "):
            return {path: word}
    raise Unread("expected hollow metal (HM), wood (WD), aluminium and glass, glass or steel gate")


_HANDS: Final = re.compile(r"(L|R)H(R|RB)?A?")
_DIN: Final = re.compile(r"DIN(L|R|LEFT|RIGHT|LINKS|RECHTS)")
SWING_TOWARDS: Final = "swing towards"
HINGES_PULLED: Final = "hinges seen from where the leaf opens to"
"""What a hand tells besides the fields of the spec: it becomes one with the help of other columns."""


def _handing(path: str, text: str, unit: str) -> Said:
    """LH, RH, LHR, RHR (also with RB, reverse bevel) and for pairs LHA, RHA, LHRA, RHRA: seen from the unsecured (key)
    side, R for a leaf that opens towards the viewer (common practice, no source). DIN L and DIN R: seen from the side
    to which the leaf opens (DIN 107, from memory). Bare left and right may mean either, so they are refused."""
    plain = re.sub(r"[\s.,\-/()]", "", text.upper())
    plain = plain.replace("LEFTHAND", "LH").replace("RIGHTHAND", "RH").replace("REVERSE", "R").replace("BEVEL", "B")
    plain = plain.replace("ACTIVE", "A")
    if match := _HANDS.fullmatch(plain):
        hand = "left" if match[1] == "L" else "right"
        return {"leaf.hand": hand, SWING_TOWARDS: "unsecured" if match[2] else "secured"}
    if match := _DIN.fullmatch(plain):
        return {HINGES_PULLED: "left" if match[1][0] == "L" else "right"}
    if plain in ("L", "R", "LEFT", "RIGHT"):
        raise Unread(
            "left and right alone do not tell from which side; if the column gives the hinges seen from the unsecured "
            "side, say `means: leaf.hand` in the mapping"
        )
    raise Unread("expected LH, RH, LHR or RHR (seen from the unsecured side), LHA, RHA, LHRA or RHRA for a pair, DIN L")


def _choice(*allowed: str, **also: str) -> Callable[[str, str, str], Said]:
    def chosen(path: str, text: str, unit: str) -> Said:
        plain = "_".join(re.sub(r"[^a-z]+", " ", text.lower()).split())
        word = also.get(plain, plain)
        if word in allowed:
            return {path: word}
        raise Unread(f"expected {', '.join(allowed[:-1])} or {allowed[-1]}")

    return chosen


def _opening(path: str, text: str, unit: str) -> Said:
    if text.lower() in ("none", "unknown") or len(text) > 60:
        raise Unread("expected a door number")
    return {path: text}


_FLAGS: Final = (
    "smoke_control",
    "stair",
    "stair_discharge",
    "elevator_lobby",
    "accessible_route",
    "main_entrance",
    "critical",
)
_PATHS: Final = {"size": ("leaf.width", "leaf.height"), "handing": ("leaf.hand",)}
_KINDS: Final[Mapping[str, Callable[[str, str, str], Said]]] = {
    "opening": _opening,
    "size": _size,
    "handing": _handing,
    "fire_rating": _rating,
    "leaf.count": _leaves,
    "leaf.material": _material,
    "leaf.swing": _choice("in", "out", "both"),
    "leaf.hand": _choice(
        "left", "right", l="left", lh="left", left_hand="left", r="right", rh="right", right_hand="right"
    ),
    "occupancy.load": _count,
    "security": _choice("none", "low", "medium", "high", med="medium"),
    "exposure": _choice("interior", "sheltered", "exposed", "wash_down", int="interior"),
    "unsecured_side": _choice("from", "to", "both"),
    "egress.side": _choice("from", "to", "both"),
    "egress.by": _choice("lever", "bar", "button", "sensor", "credential", "free", panic_bar="bar", push_bar="bar"),
    **dict.fromkeys(_FLAGS, _flag),
    **dict.fromkeys(_PLAUSIBLE, _length),
}
TEXTS: Final = ("title", "set", "from", "to", "occupancy.group", "note")
MEANINGS: Final = frozenset([*_KINDS, *TEXTS])
"""All that a column may mean."""
