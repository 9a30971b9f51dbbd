"""Enclosure codes: ingress (IEC 60529), the NEMA 250 types as far as they imply it, and impact (IEC 62262).

An answer is three-valued: True and False where the code decides, None where it does not say. An X in a code
means not stated, never zero. Meanings are paraphrased; the codes' tests are in the standards.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

FIRST_DIGIT: Final[Mapping[int, str]] = MappingProxyType(
    {
        0: "no protection against solids or access",
        1: "objects of 50 mm and more; the back of a hand",
        2: "objects of 12.5 mm and more; a finger",
        3: "objects of 2.5 mm and more; a tool",
        4: "objects of 1 mm and more; a wire",
        5: "dust may enter but does no harm; a wire",
        6: "no dust enters; a wire",
    }
)
"""What each first digit keeps out (IEC 60529), frozen. Each includes all lower ones."""

SECOND_DIGIT: Final[Mapping[int, str]] = MappingProxyType(
    {
        0: "no protection against water",
        1: "water dripping straight down",
        2: "dripping while tilted up to 15 degrees",
        3: "spray up to 60 degrees from the vertical",
        4: "splashes from all sides",
        5: "water jets",
        6: "strong water jets",
        7: "short immersion",
        8: "lasting immersion under conditions agreed with the maker",
        9: "hot high-pressure jets",
    }
)
"""What each second digit withstands (IEC 60529), frozen. Only 1 to 6 include the lower ones."""

IK_ENERGY_J: Final[Mapping[int, float | None]] = MappingProxyType(
    {0: None, 1: 0.14, 2: 0.2, 3: 0.35, 4: 0.5, 5: 0.7, 6: 1.0, 7: 2.0, 8: 5.0, 9: 10.0, 10: 20.0, 11: 50.0}
)
"""Impact energy of each IK code in joules (IEC 62262 with amendment 1 of 2021), frozen. IK00 states no
protection.
"""

_EXAMPLE: Final = "IP65, IPX5, IP5X, IP66/IP67, IP23CS or IP69K"
_MARK = re.compile(r"(?:IP)?([0-9X])(K?)([0-9X])(K?)([A-D]?)([HMSW]*)")


class IngressError(ValueError):
    """A code that cannot be read: what is wrong (`message`), what was `expected`, an `example`."""

    def __init__(self, message: str, expected: str, example: str) -> None:
        super().__init__(f"{message}; expected {expected}, for example {example}")
        self.message = message
        self.expected = expected
        self.example = example


@dataclass(frozen=True, slots=True)
class IngressCode:
    """An IP code.

    first: 0..6, None when not stated (X). second: every water digit it is marked with, empty when not stated.
    additional: A..D, access to hazardous parts better than the first digit tells. supplementary: letters H,
    M, S, W. road_vehicle: written with K, the mark of ISO 20653.
    """

    first: int | None
    second: frozenset[int]
    additional: str | None = None
    supplementary: str = ""
    road_vehicle: bool = False

    def __post_init__(self) -> None:
        if self.first is not None and self.first not in FIRST_DIGIT:
            raise IngressError(f"the first digit is {self.first}", "0 to 6", "IP65")
        for digit in self.second:
            if digit not in SECOND_DIGIT:
                raise IngressError(f"the second digit is {digit}", "0 to 9", "IP65")

    def __str__(self) -> str:
        first = "X" if self.first is None else str(self.first)
        if self.road_vehicle and self.first in (5, 6):
            first += "K"
        waters = [
            f"{digit}K" if self.road_vehicle and digit in (4, 6, 9) else str(digit) for digit in sorted(self.second)
        ]
        letters = (self.additional or "") + self.supplementary
        return "/".join(f"IP{first}{water}{letters}" for water in waters or ["X"])


def parse_ip(text: str) -> IngressCode:
    """Reads an IP code such as "IP65", "IPX5", "IP5X", "IP66/IP67" or "IP66/69". IngressError when it is
    none.

    Small letters and blanks are read too. "IP69K", the road-vehicle mark, is read as second digit 9.
    """
    written = re.sub(r"\s+", "", text).upper()
    if not written.startswith("IP"):
        raise IngressError(f"{text!r} does not begin with IP", "an IP code of IEC 60529", _EXAMPLE)
    firsts: set[int] = set()
    second: set[int] = set()
    letters: set[tuple[str, str]] = set()
    vehicle = False
    for mark in written.split("/"):
        match = _MARK.fullmatch(mark)
        if match is None:
            raise IngressError(
                f"{text!r} is no IP code",
                "IP, 0 to 6 or X for solids, 0 to 9 or X for water, a second mark after a slash",
                _EXAMPLE,
            )
        first, dust_k, water, water_k, additional, supplementary = match.groups()
        if first in "789":
            raise IngressError(f"{text!r} has the first digit {first}", "0 to 6 or X", "IP65")
        if (dust_k and first not in "56") or (water_k and water not in "469"):
            raise IngressError(
                f"{text!r} has a K where ISO 20653 has none",
                "K after 5 or 6 (dust), 4, 6 or 9 (water)",
                "IP6K9K",
            )
        if "".join(sorted(set(supplementary))) != supplementary:
            raise IngressError(
                f"{text!r} has its letters out of order",
                "each of H, M, S, W at most once, in order",
                "IP23CS",
            )
        if first != "X":
            firsts.add(int(first))
        if water != "X":
            second.add(int(water))
        letters.add((additional, supplementary))
        vehicle = vehicle or bool(dust_k or water_k)
    if len(firsts) > 1 or len(letters) > 1:
        raise IngressError(
            f"the marks in {text!r} contradict each other",
            "marks that differ only in the water digit",
            "IP66/IP67",
        )
    additional, supplementary = letters.pop()
    return IngressCode(next(iter(firsts), None), frozenset(second), additional or None, supplementary, vehicle)


def _all(answers: Iterable[bool | None]) -> bool | None:
    """False before None before True."""
    seen = set(answers)
    return False if False in seen else None if None in seen else True


def _water(marked: int, required: int) -> bool | None:
    """What one water digit says about another.

    Up to 6 each digit includes the lower ones. 8 is by definition harder than 7. Beyond that 7, 8 and 9 stand
    alone: marked so only, an enclosure is taken as unfit for jets (5, 6), and drips and splashes (1 to 4) are
    not stated.
    """
    if required == 0 or marked == required:
        return True
    if marked <= 6:
        return marked > required
    if required == 7:
        return marked == 8
    return None if required <= 4 else False


def satisfies(code: IngressCode, required_first: int | None, required_second: int | None) -> bool | None:
    """Whether `code` proves at least the required digits (None: no requirement on that digit).

    None when the code does not say: an X, or splash asked of a code marked for immersion only.
    """
    wanted = IngressCode(required_first, frozenset() if required_second is None else frozenset({required_second}))
    return covers(code, wanted)


def covers(code: IngressCode, required: IngressCode) -> bool | None:
    """Whether `code` proves every digit that `required` states. A dual mark must be proven in both."""
    solids: bool | None = True
    if required.first:
        solids = None if code.first is None else code.first >= required.first
    water: list[bool | None] = []
    for digit in required.second:
        answers = {_water(marked, digit) for marked in code.second}
        if digit == 0 or True in answers:
            water.append(True)
        else:
            # An immersion mark that is silent on splash leaves it open, whatever the other mark denies.
            water.append(None if None in answers or not answers else False)
    return _all((solids, *water))


# NEMA 250-2014/2018, informative comparison, from memory; older printings give less for several types. Types
# 6 and 6P are hosed down as well as immersed (their definition in NEMA 250), so they carry both water digits
# here.
NEMA_MINIMUM_IP: Final[Mapping[str, IngressCode]] = MappingProxyType(
    {
        name: parse_ip(mark)
        for name, mark in {
            "1": "IP20",
            "2": "IP22",
            "3": "IP55",
            "3X": "IP55",
            "3R": "IP24",
            "3RX": "IP24",
            "3S": "IP55",
            "3SX": "IP55",
            "4": "IP66",
            "4X": "IP66",
            "5": "IP53",
            "6": "IP66/IP67",
            "6P": "IP66/IP68",
            "12": "IP54",
            "12K": "IP54",
            "13": "IP54",
        }.items()
    }
)
"""IP code that each NEMA type at least reaches. One way only: an IP code says nothing of corrosion, ice, oil
or ageing.
"""

_HAZARDOUS_NEMA: Final = frozenset({"7", "8", "9", "10"})


def nema_type(text: str) -> str:
    """The bare type of "NEMA 4X", "Type 3R" or "4x". IngressError when there is no such type."""
    bare = re.sub(r"\s+", "", text).upper().removeprefix("NEMA").removeprefix("TYPE")
    if bare not in NEMA_MINIMUM_IP and bare not in _HAZARDOUS_NEMA:
        raise IngressError(f"{text!r} is no enclosure type", f"one of {', '.join(NEMA_MINIMUM_IP)}", "NEMA 4X")
    return bare


def nema_minimum_ip(text: str) -> IngressCode | None:
    """IP code that an enclosure of this NEMA type at least reaches; None for hazardous-location types (7 to
    10).

    There is no way back from an IP code to a NEMA type.
    """
    return NEMA_MINIMUM_IP.get(nema_type(text))


def parse_ik(text: str) -> int:
    """Reads an IK code "IK00" to "IK11" as its number. IngressError when it is none."""
    match = re.fullmatch(r"IK(0[0-9]|1[01])", re.sub(r"\s+", "", text).upper())
    if match is None:
        raise IngressError(f"{text!r} is no IK code", "IK and two digits from 00 to 11", "IK08")
    return int(match[1])


def ik_energy_j(number: int) -> float | None:
    """Impact energy of IK code `number`, None for IK00, which states no protection. IngressError outside
    0..11.
    """
    if number not in IK_ENERGY_J:
        raise IngressError(f"there is no IK{number:02d}", "0 to 11", "IK08")
    return IK_ENERGY_J[number]


def ik_satisfies(number: int, required: int) -> bool:
    """Whether IK code `number` is at least `required`. The codes rise with the energy."""
    ik_energy_j(number)
    ik_energy_j(required)
    return number >= required
