"""What is so or not so of a spec as a whole, such as whether it says of any item who installs it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from .spec.model import Spec

Fact: TypeAlias = Callable[[Spec], bool]
"""Finds a fact out."""


class MissingFact(Exception):  # noqa: N818 - it says what to ask for, where the whole spec is at hand
    """Something that is so or not so of the whole spec, which is not at hand here."""


@dataclass(frozen=True)
class Facts:
    """The facts of one spec by name, each found out once. spec: None where it is not at hand, only what was `told`."""

    spec: Spec | None
    _known: dict[str, bool] = field(default_factory=dict)

    def fact(self, what: str, compute: Fact) -> bool:
        """Whether something is so. Raises MissingFact where that is not known, nor to be found out here."""
        if what not in self._known:
            if self.spec is None:
                raise MissingFact(what)
            self._known[what] = bool(compute(self.spec))
        return self._known[what]

    def told(self, asked: Mapping[str, Fact]) -> Facts:
        """These facts alone, without the spec."""
        return Facts(None, {what: self.fact(what, compute) for what, compute in asked.items()})
