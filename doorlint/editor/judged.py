"""What was computed for a few openings or sources, worked out when somebody looks: of a large spec this costs far less
than all outcomes."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from functools import lru_cache
from typing import Any

from ..outcome import Kind, Outcome
from ..reviewing import Result
from ..rulebook import apply

_COMPUTED = (Kind.PASS, Kind.FAIL)


@lru_cache(maxsize=2)  # each keeps a whole review
def _subjects(result: _Same) -> Mapping[tuple[type[Any], str], tuple[Any, ...]]:
    """The subjects of each type by the opening or source that they belong to."""
    found: dict[tuple[type[Any], str], list[Any]] = {}
    context = result.result.context
    for kind, listed in (context.subjects if context is not None else {}).items():
        for subject in listed:
            if hasattr(subject, "identity"):  # a waiver belongs to no opening in this sense
                found.setdefault((kind, owner_of(str(subject.identity))), []).append(subject)
    return {key: tuple(listed) for key, listed in found.items()}


class _Same:
    """A result by its identity, so that it can be a key."""

    __slots__ = ("result",)

    def __init__(self, result: Result) -> None:
        self.result = result

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.result is self.result

    def __hash__(self) -> int:
        return id(self.result)


def owner_of(identity: str) -> str:
    """The opening or source that something belongs to: `114A` of `114A/rc.lock`, `psu-1` of `psu-1.3`."""
    opening, slash, _ = identity.partition("/")
    return opening if slash else identity.partition(".")[0]


def computed(result: Result, owners: Collection[str], rules: Collection[str] | None = None) -> Iterator[Outcome]:
    """The outcomes with figures or working about some openings and sources, by some rules or by all. What a rule that
    breaks would have said is left out: the review tells that it broke."""
    context = result.context
    if context is None:
        return
    subjects = _subjects(_Same(result))
    for module in result.rulebook.modules:
        rule = module.RULE
        if rule.over is None or rule.id in result.settings.off or (rules is not None and rule.id not in rules):
            continue
        for owner in owners:
            for subject in subjects.get((rule.over, owner), ()):
                try:
                    found = list(apply(module, subject, context))
                except (Exception, SystemExit):
                    continue
                yield from (o for o in found if o.kind in _COMPUTED and (o.working or o.measured is not None))
