"""A figure of a power source that is off by a factor of a thousand."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Verdict
from doorlint.rulebook import Rule
from doorlint.spec.fields import Part
from doorlint.spec.model import Battery, PowerSource

from .plausible import judge

RULE = Rule(
    "consistency/source-value-implausible",
    title="A figure of the source is far outside what such sources have",
    level=Level.WARNING,
    over=PowerSource,
    basis=(Practice("figures of door hardware lie within a few powers of ten; common practice, no source"),),
    why="A supply of 10 mA, or a battery of 7000 Ah: every budget after it is wrong.",
    cure="Look at the unit.",
    limits="The ranges are wide: a value wrong by less than a factor of ten or so passes. The ranges "
    "stand in a file beside the rule.",
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    yield from judge("source", source.id, source.place.key, _parts(source), context)


def _parts(source: PowerSource) -> Iterator[tuple[str, Part]]:
    yield "", source
    if isinstance(source.battery, Battery):
        yield "battery", source.battery
