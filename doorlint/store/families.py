"""Families of like openings, kept for later reviews of any spec with the same products, cables, sets and rules."""

from __future__ import annotations

import hashlib
import io
import json
import pickle
import zlib
from collections.abc import Mapping, Sequence
from typing import Final

from ..judging import Judge
from ..typical.families import Families, Family, Group
from ..typical.packing import Reader, Refused
from ..typical.telling import Bundle
from ..typical.world import World
from . import code
from .folder import Store

LEAST_OPENINGS: Final = 100
"""In a smaller spec there is less to find again than it costs to look for it."""


MOST_BYTES: Final = 64 * 1024 * 1024
"""Of families before they are packed. One by one they are packed and unpacked, so that memory holds them once."""


class _Reader(Reader):
    """Reads back families, and nothing else."""

    allowed: Mapping[tuple[str, str], object] = {
        **Reader.allowed,
        **{(each.__module__, each.__qualname__): each for each in (Bundle, Family, Group)},
    }


def address(around: World, judges: Sequence[Judge]) -> str | None:
    """The name under which the families of a world are kept; None where they are not to be."""
    if around.facts.spec is None or len(around.facts.spec.openings) < LEAST_OPENINGS:
        return None
    loaded = code.loaded()
    stamp = code.stamp(loaded)
    if stamp is None or not code.settled(stamp):
        return None
    rules = []
    for each in judges:
        name = getattr(each.module, "__name__", None)
        if name is None:
            return None  # a rule of no module has no code on disk that tells when it is another
        rules.append([name, each.module.RULE.id, each.level.value, repr(each.notes)])
    world = hashlib.sha256(around.mark()).hexdigest()
    practice = sorted((name, repr(value)) for name, value in around.spec.practice.items())
    faulty = sorted(repr(place) for place in around.faulty)
    said = json.dumps([stamp, rules, world, practice, faulty])
    return f"{hashlib.sha256(said.encode('ascii')).hexdigest()}.families"


def read(store: Store, name: str) -> Families:
    """The families kept under a name; none where nothing is, or nothing that can be used.

    What they owe to facts about the whole spec is looked at when each of them is first used.
    """
    data = store.get(name)
    if data is None:
        return Families()
    found: dict[bytes, Family | None] = {}
    try:
        stream = io.BytesIO(data)
        while size := stream.read(_LENGTH):
            packed = stream.read(int.from_bytes(size))
            key, family = _Reader(io.BytesIO(zlib.decompress(packed))).load()
            if not _is_sound(key, family):
                return Families()
            found[key] = family
    except (Refused, pickle.PickleError, zlib.error, EOFError, MemoryError, RecursionError, *_ODD):
        return Families()
    return Families(found, unproved=set(found))


def write(store: Store, name: str, families: Families) -> None:
    """Keep families under a name, as many as MOST_BYTES hold. What cannot be packed is not kept."""
    parts: list[bytes] = []
    total = 0
    for entry in families.found.items():
        try:
            data = pickle.dumps(entry, protocol=5)
        except (pickle.PickleError, MemoryError, RecursionError, *_ODD):
            continue
        total += len(data)
        if total > MOST_BYTES:
            break
        packed = zlib.compress(data, 1)
        parts += [len(packed).to_bytes(_LENGTH), packed]
    store.put(name, b"".join(parts))


_LENGTH: Final = 4
_ODD: Final = (TypeError, ValueError, LookupError, AttributeError, ImportError)


def size(families: Families) -> int:
    """How much is known: grows with every family and with every opening that was judged in one."""
    groups = (group for family in families.found.values() if family is not None for group in family.groups)
    return len(families.found) + sum(len(group.found) for group in groups)


def _is_sound(key: object, family: object) -> bool:
    """Whether an entry has the types that a family has."""
    if not isinstance(key, bytes):
        return False
    if family is None:
        return True
    return (
        isinstance(family, Family)
        and isinstance(family.alone, frozenset)
        and isinstance(family.facts, dict)
        and isinstance(family.of_sources, set)
        and all(isinstance(group, Group) for group in family.groups)
        and all(isinstance(each, Bundle) for group in family.groups for each in group.found.values())
    )
