"""An unrelated opening changes nothing for the others.

Unrelated: it shares no product, source, cable or set with them. What is said of the project as a whole, such as how
many licences its doors need, is a sum over all of them and may change; every other outcome stays, word for word.
"""

from __future__ import annotations

import re
from functools import cache
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from invented import alone, reviewed, told, whole

OPENINGS = tuple(whole(clean=False)["openings"])
GROUPS = ("products", "power", "cables", "hardware_sets", "openings")


def renamed(tree: dict[str, Any], mark: str) -> dict[str, Any]:
    """The spec with a mark before the name of every product, source, cable, set and opening."""
    names = {name for group in GROUPS for name in tree[group]}

    def name(text: str) -> str:
        first, dot, rest = text.partition(".")
        return f"{mark}{first}{dot}{rest}" if first in names else text

    def made(part: Any, key: str = "") -> Any:
        if isinstance(part, dict):
            return {one: made(value, one) for one, value in part.items()}
        if isinstance(part, list):
            return [made(one, key) for one in part]
        if key in UNIQUE:
            return f"{mark}{part}"
        return name(part) if isinstance(part, str) and key not in WORDS else part

    return {
        group: {f"{mark}{one}": made(value) for one, value in tree[group].items()} for group in GROUPS
    } | {key: tree[key] for key in tree if key not in GROUPS}


WORDS = frozenset({"kind", "category", "from", "to", "note"})
"""Fields whose text is no name of another entry, even where it is spelt like one."""


UNIQUE = frozenset({"title", "network_address", "bus"})
"""Names and addresses that no two openings may have in common."""


@cache
def spec_of(opening: str, clean: bool) -> dict[str, Any]:
    return alone(whole(clean), [opening])


def of_others(tree: dict[str, Any], mark: str) -> list[tuple[Any, ...]]:
    """What is told of everything but the marked entries and the project."""
    return [line for line in told(reviewed(tree)) if not str(line[3]).startswith(mark) and line[3] != "project"]


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(OPENINGS), st.sampled_from(OPENINGS), st.booleans(), st.booleans())
def test_an_unrelated_opening_changes_no_other(one: str, other: str, clean: bool, first: bool) -> None:
    here, beside = spec_of(one, clean), renamed(spec_of(other, clean=False), "zz-")
    both = {**here}
    for group in GROUPS:
        both[group] = {**beside[group], **here[group]} if first else {**here[group], **beside[group]}
    assert of_others(both, "zz-") == of_others(here, "zz-")


def test_the_renamed_opening_is_the_same_opening() -> None:
    tree = spec_of(OPENINGS[0], clean=False)
    again = renamed(tree, "zz-")
    plain = [re.sub("zz-", "", str(line)) for line in told(reviewed(again))]
    assert sorted(plain) == sorted(str(line) for line in told(reviewed(tree)))
    assert f"zz-{OPENINGS[0]}" in again["openings"]
