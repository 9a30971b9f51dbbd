"""What a review hands to rules cannot be changed: every mapping is frozen, all else a frozen class or a tuple."""

from __future__ import annotations

import copy
import pickle
from collections.abc import Iterator
from dataclasses import FrozenInstanceError, fields, is_dataclass, replace
from enum import Enum
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from doorlint.reviewing import Result, review_root
from doorlint.rulebook import Rulebook
from doorlint.spec.frozen import FrozenDict, SetOnce, frozen, nothing

ROOT = Path(__file__).parents[2]
PLAIN = (str, int, float, bool, Fraction, type(None), Enum)


@pytest.fixture(scope="module")
def result() -> Result:
    return review_root(ROOT / "examples" / "gull_point_ferry_terminal" / "project.yaml", Rulebook())


def reached(value: Any, path: str = "", seen: set[int] | None = None) -> Iterator[tuple[str, Any]]:
    """Everything that can be reached through public fields, mappings and tuples."""
    seen = set() if seen is None else seen
    if isinstance(value, PLAIN) or id(value) in seen:
        return
    seen.add(id(value))
    yield path, value
    inner: Iterator[tuple[str, Any]] = iter(())
    if isinstance(value, dict):
        inner = iter((f"{path}[{key!r}]", each) for key, each in value.items())
    elif isinstance(value, tuple | list | set | frozenset):
        inner = iter((f"{path}[{number}]", each) for number, each in enumerate(value))
    elif is_dataclass(value):
        inner = iter((f"{path}.{f.name}", getattr(value, f.name)) for f in fields(value) if f.name[0] != "_")
    for where, each in inner:
        yield from reached(each, where, seen)


def test_all_that_a_rule_reaches_is_frozen(result: Result) -> None:
    assert result.context is not None
    found = list(reached(result.context, "context"))
    assert len(found) > 2000
    kinds = {type(value) for _, value in found}
    assert {FrozenDict, tuple} < kinds
    for path, value in found:
        if isinstance(value, dict):
            assert isinstance(value, FrozenDict), path
        elif is_dataclass(value):
            name = fields(value)[0].name
            with pytest.raises(FrozenInstanceError):
                setattr(value, name, None)
        else:
            assert isinstance(value, tuple | frozenset | type), f"{path} is a {type(value).__name__}"


def test_a_spec_is_sent_copied_and_compared_like_any_data(result: Result) -> None:
    spec = result.spec
    assert spec is not None
    for other in (pickle.loads(pickle.dumps(spec)), copy.deepcopy(spec), replace(spec)):
        assert other == spec
        assert type(other.openings) is FrozenDict
        first = next(iter(other.openings.values()))
        with pytest.raises(TypeError, match="cannot be changed"):
            first.items["new"] = None


def test_a_spec_made_by_hand_is_frozen_too(result: Result) -> None:
    assert result.spec is not None
    assert isinstance(replace(result.spec, openings={}, practice={"coil_drop": Fraction(1, 10)}).practice, FrozenDict)


CHANGES = {
    "set": lambda d: d.__setitem__("b", 2),
    "delete": lambda d: d.__delitem__("a"),
    "ior": lambda d: d.__ior__({"b": 2}),
    "clear": lambda d: d.clear(),
    "pop": lambda d: d.pop("a"),
    "popitem": lambda d: d.popitem(),
    "setdefault": lambda d: d.setdefault("b", 2),
    "update": lambda d: d.update(b=2),
}


@pytest.mark.parametrize("change", CHANGES)
def test_a_frozen_dict_refuses(change: str) -> None:
    made = frozen({"a": 1})
    with pytest.raises(TypeError, match="a rule only reads it"):
        CHANGES[change](made)
    assert made == {"a": 1}


def test_no_way_of_a_dict_to_change_was_forgotten() -> None:
    """Python's own list of what a dict has more than what every mapping and a mapping proxy have."""
    from collections.abc import MutableMapping

    changing = {name for name in MutableMapping.__dict__ if callable(getattr(dict, name, None))} - {"__class_getitem__"}
    changing = {name for name in changing | {"__ior__"} if not hasattr(object, name)}
    assert changing == {"__setitem__", "__delitem__", "pop", "popitem", "clear", "update", "setdefault", "__ior__"}
    for name in changing:
        assert getattr(FrozenDict, name) is not getattr(dict, name)


def test_a_frozen_dict_reads_like_a_dict() -> None:
    made = frozen({"a": 1, "b": 2})
    assert frozen(made) is made
    assert list(made) == ["a", "b"]
    assert made | {"c": 3} == {"a": 1, "b": 2, "c": 3}
    assert copy.copy(made) == made
    assert nothing() is nothing()
    assert pickle.loads(pickle.dumps(made)) == made
    given = {"a": 1}
    made = frozen(given)
    given["a"] = 2
    assert made["a"] == 1


def test_an_object_with_caches_keeps_what_it_was_given() -> None:
    class Kept(SetOnce):
        def __init__(self) -> None:
            self.spec = 1
            self._cache = 0

    made = Kept()
    made._cache = 5
    with pytest.raises(FrozenInstanceError):
        made.spec = 2
    assert (made.spec, made._cache) == (1, 5)
