"""An opening without a sequence of operation, where others have one."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import HardwareSet, Opening, Spec

from ..failure.doors import locks_of
from .texts import set_of

RULE = Rule(
    "consistency/sequence-not-stated",
    title="The opening has no sequence of operation",
    level=Level.WARNING,
    over=Opening,
    applies=lambda opening: bool(locks_of(opening)),
    scope="openings with an electric lock",
    basis=(Practice("each electrified opening has a sequence of operation"),),
    why="What nobody wrote down, everybody remembers differently at acceptance.",
    cure="Write the sequence, in the opening or its set; the sequence that the wiring gives can be "
    "printed and compared.",
    limits="Whether the sequence is right is not judged here; a project that states none has it elsewhere.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    if not context.fact("sequences stated", _any_stated):
        yield not_applicable("the project states no sequences")
        return
    found = set_of(opening, context)
    stating: Opening | HardwareSet = opening if opening.sequence is not None or found is None else found
    if stating.sequence is None:
        yield failed(f"{opening.id} has no sequence of operation; others have", opening.place.key)
    else:
        known(stating, "sequence", str)
        yield ok("its sequence is stated", stating.at("sequence"))


def _any_stated(spec: Spec) -> bool:
    """Whether the project states sequences at all."""
    openings = any(opening.sequence is not None for opening in spec.openings.values())
    return openings or any(each.sequence is not None for each in spec.sets.values())
