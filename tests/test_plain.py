"""Plain data behaves as the frozen dataclass that it stands in for."""

from __future__ import annotations

import copy
import inspect
import pickle
from dataclasses import FrozenInstanceError, asdict, dataclass, field, fields, replace
from typing import Any

import pytest

from doorlint.outcome import Kind, Level, Outcome, Place, Verdict
from doorlint.plain import plain


@plain
class Fast:
    """Made quickly."""

    name: str
    size: int = 3
    seen: tuple[str, ...] = field(default=(), compare=False, repr=False)


@dataclass(frozen=True, slots=True)
class Slow:
    """The same, as dataclasses make it."""

    name: str
    size: int = 3
    seen: tuple[str, ...] = field(default=(), compare=False, repr=False)


@pytest.mark.parametrize("given", [("a",), ("a", 4), ("a", 4, ("b",))])
def test_it_is_shown_compared_and_hashed_as_a_dataclass(given: tuple[Any, ...]) -> None:
    fast, slow = Fast(*given), Slow(*given)
    assert type(fast) is Fast
    assert repr(fast) == repr(slow).replace("Slow", "Fast")
    assert asdict(fast) == asdict(slow)
    assert hash(fast) == hash(slow)
    assert fast == Fast(*given) and fast != Fast("other")
    assert replace(fast, size=9) == Fast("a", 9)
    assert pickle.loads(pickle.dumps(fast)) == copy.deepcopy(fast) == fast


def test_its_signature_is_that_of_a_dataclass() -> None:
    assert inspect.signature(Fast) == inspect.signature(Slow)
    assert Fast.__match_args__ == Slow.__match_args__
    assert [each.name for each in fields(Fast)] == [each.name for each in fields(Slow)]
    with pytest.raises(TypeError, match=r"Fast\.__init__"):
        Fast()  # type: ignore[call-arg]


@pytest.mark.parametrize("made", [Fast("a"), Place("a", ""), Verdict(Kind.PASS, "a")])
def test_nobody_changes_it(made: Any) -> None:
    for each in fields(made):
        with pytest.raises(FrozenInstanceError):
            setattr(made, each.name, None)
        with pytest.raises(FrozenInstanceError):
            delattr(made, each.name)
    with pytest.raises((AttributeError, TypeError)):
        made.other = None


def test_a_subclass_stays_one() -> None:
    class Kin(Fast):
        __slots__ = ()

    assert type(Kin("a")) is Kin
    assert Kin("a").size == 3


def test_every_field_of_an_outcome_is_the_one_that_was_given() -> None:
    given: dict[str, Any] = {each.name: object() for each in fields(Outcome)}
    made = Outcome(**given)
    assert all(getattr(made, name) is value for name, value in given.items())
    least = Outcome("a/b", Kind.PASS, Level.NOTE, "it", "said", Place("f", ""))
    assert (least.related, least.measured, least.waived) == ((), None, "")


def test_what_it_cannot_make_is_refused() -> None:
    with pytest.raises(TypeError, match="Listed"):

        @plain
        class Listed:
            names: list[str] = field(default_factory=list)

    with pytest.raises(TypeError, match="Checked"):

        @plain
        class Checked:
            name: str

            def __post_init__(self) -> None:
                raise AssertionError
