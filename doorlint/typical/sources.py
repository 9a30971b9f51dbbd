"""Power sources that are alike but for their names, judged once by the rules that ask for the source alone.

What a rule asks beyond the source (its loads, what feeds it) is not there, so that such a rule is applied to each.
"""

from __future__ import annotations

import hashlib
import marshal
from collections.abc import Iterator, Mapping
from functools import partial
from typing import Any, Final

from .signs import Drawn, Likeness, Signed, Signs, awkward, file_sign, source_sign

_SIGN: Final = source_sign(0)
_FEEDER: Final = source_sign(1)
_OF_ITS_OWN: Final = ("title", "fed_from")


def likenesses(signs: Signs) -> Iterator[Likeness]:
    """The likeness of every power source that has one, in the order of the spec."""
    keys: dict[bytes, bytes] = {}
    for name, (file, entry) in signs.power.items():
        if not isinstance(entry, dict) or awkward(name) or ("power", name) in signs.faulty:
            continue
        fed_from = entry.get("fed_from")
        if fed_from is not None and not isinstance(fed_from, str):
            continue
        feeder, dot, output = (fed_from or "").partition(".")
        content = {key: value for key, value in entry.items() if key not in _OF_ITS_OWN}
        said = marshal.dumps((content, None if fed_from is None else dot + output), 2)
        key = keys.setdefault(said, hashlib.sha256(b"power source" + said).digest())
        names = {_SIGN: name, file_sign(_SIGN): file, _FEEDER: feeder}
        yield Likeness(name, key, names, entry, frozenset(), partial(_drawn, name, entry))


def _drawn(name: str, entry: Mapping[str, Any]) -> Drawn:
    if "fed_from" in entry:
        _, dot, output = str(entry["fed_from"] or "").partition(".")
        entry = {**entry, "fed_from": f"{_FEEDER}{dot}{output}" if entry["fed_from"] else entry["fed_from"]}
    return Drawn(None, (Signed(_SIGN, name, entry),), frozenset())
