"""Families of like openings: the rules applied once to a stand-in, grouped by what they asked of it."""

from __future__ import annotations

import marshal
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final, TypeAlias

from ..facts import Fact, Facts, MissingFact
from ..judging import Judge, places
from ..outcome import Outcome, Place
from .own import Asked, Fields
from .signs import Drawn, Likeness, Signed
from .stand_in import WIDE, StandIn, Unfit, stand_in
from .telling import Bundle, bundle
from .world import World

_SAID_FREELY: Final = frozenset({("", "title"), ("", "from"), ("", "to"), ("", "note")})
"""Differ from opening to opening, so that what asks for them is as well worked out for each."""

Part = tuple[str, int]
"""A rule and the number of the subject that it is applied to, of those of its type in the opening."""


@dataclass
class Group:
    """Rules and subjects that asked for the same own fields, and their outcomes by the values of these."""

    parts: tuple[Part, ...]
    asked: tuple[Asked, ...]
    found: dict[bytes, Bundle] = field(default_factory=dict)

    def values(self, likeness: Likeness) -> bytes:
        """The values that an opening has in what was asked for."""
        return Fields(self.asked).of(likeness.entry)


@dataclass
class Family:
    """Openings of one likeness. alone: the rules that are applied to each of them by itself. facts: what was so or not
    so of the whole spec when its rules asked for it. of_sources: the fields of its sources that were asked for."""

    groups: list[Group] = field(default_factory=list)
    alone: frozenset[str] = frozenset()
    facts: dict[str, bool] = field(default_factory=dict)
    of_sources: set[str] = field(default_factory=set)

    _all: Fields | None = field(default=None, init=False, repr=False, compare=False)
    _met: dict[bytes, tuple[Bundle, ...]] = field(default_factory=dict, init=False, repr=False, compare=False)

    def served(self, likeness: Likeness) -> tuple[Bundle, ...] | None:
        """What holds for an opening; None where some of it is not known yet."""
        if self._all is None:
            self._all = Fields(tuple(sorted({asked for group in self.groups for asked in group.asked})))
        values = self._all.of(likeness.entry)
        if values not in self._met:
            found = []
            for group in self.groups:
                bundle = group.found.get(group.values(likeness))
                if bundle is None:
                    return None
                found.append(bundle)
            self._met[values] = tuple(found)
        return self._met[values]

    def changed(self) -> None:
        """Its groups are others now, so that openings are served anew."""
        self._all = None
        self._met.clear()

    def agree(self, sources: tuple[Signed, ...], others: tuple[Signed, ...]) -> bool:
        """Whether the sources of two openings say the same in all that was asked of them."""
        asked = sorted(self.of_sources)
        one, other = ([[each.entry.get(key) for key in asked] for each in power] for power in (sources, others))
        return marshal.dumps(one, 2) == marshal.dumps(other, 2)

    def apart(self) -> Family:
        """What is known so far, for openings of another likeness: what is added of the one need not hold for the
        other, as it may ask for more of the sources."""
        groups = [Group(group.parts, group.asked, dict(group.found)) for group in self.groups]
        return Family(groups, self.alone, dict(self.facts), set(self.of_sources))

    def __reduce__(self) -> tuple[object, tuple[object, ...]]:
        return Family, (self.groups, self.alone, self.facts, self.of_sources)


_Near: TypeAlias = tuple[tuple[Signed, ...], Family]
"""The sources of an opening, in signs, and its family."""


@dataclass(frozen=True)
class Look:
    """bundles: what an opening shares. freely: the outcomes of rules that asked for what openings have of their own.
    held: the rules that asked for the spec as a whole, so that nothing new can be told of them."""

    bundles: tuple[Bundle, ...]
    freely: tuple[Outcome, ...]
    held: frozenset[str]


@dataclass
class Families:
    """The families of one world, added to as openings are met. A likeness that cannot be stood in for has None.

    unproved: those that another run has left, of which nobody has looked yet whether the facts that they owe
    themselves to are so in the spec at hand. What finds a fact out is not left with them: the rules tell it when they
    first ask. refuted: how many of them turned out to hold no longer.
    """

    found: dict[bytes, Family | None] = field(default_factory=dict)
    facts: dict[str, Fact] = field(default_factory=dict)
    unproved: set[bytes] = field(default_factory=set)
    refuted: int = 0
    _near: dict[tuple[bytes, frozenset[str]], list[_Near]] = field(default_factory=dict, init=False, repr=False)

    def __reduce__(self) -> tuple[object, tuple[object, ...]]:
        return Families, (self.found, self.facts, self.unproved, self.refuted)

    def _family(self, work: _Work) -> Family:
        """The family of an opening: what is known of one whose sources differ in nothing that its rules asked for."""
        power = work.drawn.power
        near = self._near.setdefault((work.drawn.content(), work.likeness.whole), [])
        for sources, family in near:
            if family.agree(sources, power):
                return family.apart()
        family = work.family()
        near.append((power, family))
        return family

    def bundles(self, likeness: Likeness, judges: Mapping[str, Judge], world: World) -> tuple[Bundle, ...] | None:
        """What holds for an opening, worked out where it is not known yet; None where it shares nothing.

        Raises MissingFact where a rule asks for a fact about the whole spec that the world does not have.
        """
        work = _Work(judges, world, likeness)
        self._prove(likeness.key, world)
        try:
            if likeness.key not in self.found:
                self.found[likeness.key] = self._family(work)
            family = self.found[likeness.key]
            if family is None:
                return None
            found = family.served(likeness)
            while found is None:
                # where a rule is taken out of the groups, those before it are served again
                found = family.served(likeness) if all(work.serve(family, group) for group in family.groups) else None
        except Unfit:
            self.found.setdefault(likeness.key, None)
            return None
        self.facts.update(work.facts)
        return found

    def look(self, likeness: Likeness, judges: Mapping[str, Judge], world: World) -> Look | None:
        """What holds for an opening by itself; None where that cannot be told from its stand-in."""
        bundles = self.bundles(likeness, judges, world)
        family = self.found.get(likeness.key)
        if bundles is None or family is None:
            return None
        work = _Work(judges, world, likeness)
        freely: list[Outcome] = []
        held = set()
        for rule in family.alone:
            found = work.alone(rule)
            if found is None:
                held.add(rule)
            else:
                freely += found
        return Look(bundles, tuple(freely), frozenset(held))

    def _prove(self, key: bytes, world: World) -> None:
        """Forget a family that another run has left if a fact is otherwise now, or if nobody knows how to tell."""
        if key in self.unproved:
            self.unproved.remove(key)
            family = self.found[key]
            for what, was in family.facts.items() if family is not None else ():
                now = world.facts.fact(what, self.facts[what]) if what in self.facts else None
                if now is not was:
                    del self.found[key]
                    self.refuted += now is not None
                    break

    def known(self, likeness: Likeness, world: World) -> bool:
        """Whether all that holds for an opening has been worked out."""
        self._prove(likeness.key, world)
        if likeness.key not in self.found:
            return False
        family = self.found[likeness.key]
        return family is None or family.served(likeness) is not None

    def outdated(self, facts: Facts) -> None:
        """Forget the families for which something has become otherwise in the spec as a whole."""
        now = {what: facts.fact(what, compute) for what, compute in self.facts.items()}
        for key, family in list(self.found.items()):
            if key in self.unproved or family is None:
                continue
            if any(now.get(what) != was for what, was in family.facts.items()):
                del self.found[key]
                self._near.clear()

    def take(self, other: Families) -> None:
        """Add what was found elsewhere for the same world. Of one likeness, the family met first counts."""
        for key, family in other.found.items():
            self.found.setdefault(key, family)
        self.facts.update(other.facts)


@dataclass
class _Work:
    """The judging of one opening's stand-in, which is made when it is first needed."""

    judges: Mapping[str, Judge]
    world: World
    likeness: Likeness
    _made: StandIn | None = None
    _held: dict[object, bool] = field(default_factory=dict)

    @cached_property
    def drawn(self) -> Drawn:
        """The opening in signs."""
        return self.likeness.drawn

    @property
    def made(self) -> StandIn:
        if self._made is None:
            self._made = stand_in(self.drawn, self.likeness.whole, self.world)
        return self._made

    @property
    def facts(self) -> Mapping[str, Fact]:
        """The facts that were asked for, with what finds them out."""
        return self._made.asked_facts if self._made is not None else {}

    def family(self) -> Family:
        """All rules applied to the stand-in, by what they ask."""
        alone = set()
        grouped: dict[tuple[Asked, ...], list[tuple[Part, list[Outcome]]]] = {}
        for rule, each in self.judges.items():
            if each.foreign:  # it may decide by names, which a stand-in does not have
                alone.add(rule)
                continue
            found = []
            for number in range(len(self._subjects(each))):
                outcomes, asked = self._judged(each, number)
                if outcomes is None:
                    alone.add(rule)
                    break
                found.append((tuple(sorted(asked)), (rule, number), outcomes))
            else:
                for fields, part, outcomes in found:
                    grouped.setdefault(fields, []).append((part, outcomes))
        family = Family(alone=frozenset(alone))
        for fields, parts in grouped.items():
            group = Group(tuple(part for part, _ in parts), fields)
            group.found[group.values(self.likeness)] = bundle(o for _, outcomes in parts for o in outcomes)
            family.groups.append(group)
        self._note_facts(family)
        return family

    def serve(self, family: Family, group: Group) -> bool:
        """Judge the parts of a group for the values that the opening has, unless that is known. False where a rule
        turned out to be one that is applied to each opening by itself, so that the groups have changed."""
        if group.values(self.likeness) in group.found:
            return True
        kept: list[Outcome] = []
        wanted = set(group.asked)
        for rule, number in group.parts:
            outcomes, asked = self._judged(self.judges[rule], number)
            if outcomes is None:
                _leave_alone(family, rule)
                return False
            kept += outcomes
            wanted |= asked
        if wanted != set(group.asked):
            group.asked = tuple(sorted(wanted))
            group.found.clear()
            family.changed()
        group.found[group.values(self.likeness)] = bundle(kept)
        self._note_facts(family)
        return True

    def alone(self, rule: str) -> list[Outcome] | None:
        """The outcomes of a rule for this opening; None where it asks for the spec as a whole."""
        judge = self.judges[rule]
        if judge.foreign:
            return None
        outcomes: list[Outcome] = []
        for number in range(len(self._subjects(judge))):
            found, asked = self._tried(judge, number)
            if found is None or WIDE in asked:
                return None
            outcomes += found
        return outcomes

    def _note_facts(self, family: Family) -> None:
        family.facts.update((what, self.world.facts.fact(what, compute)) for what, compute in self.facts.items())
        family.of_sources |= self.made.asking.of_sources

    def _subjects(self, judge: Judge) -> Sequence[Any]:
        over: Any = judge.module.RULE.over
        return self.made.subjects_here[over]

    def _judged(self, judge: Judge, number: int) -> tuple[list[Outcome] | None, set[Asked]]:
        """The outcomes for a subject and what was asked for; None where other openings may not share them."""
        outcomes, asked = self._tried(judge, number)
        return (None if WIDE in asked or asked & _SAID_FREELY else outcomes), asked

    def _tried(self, judge: Judge, number: int) -> tuple[list[Outcome] | None, set[Asked]]:
        subject = self._subjects(judge)[number]
        outcomes: list[Outcome] | None
        asking = self.made.asking
        asking.begin()
        try:
            outcomes = list(judge.outcomes(subject, self.made))
            if not all(self._holds(place) for each in outcomes for place in places(each)):
                outcomes = None
        except MissingFact:
            raise
        except (Exception, SystemExit):  # the rule breaks, or the stand-in lacks something: each by itself
            outcomes = None
        finally:
            asked = asking.end()
        return outcomes, asked

    def _holds(self, place: Place) -> bool:
        """Whether a place is in the spec. Most outcomes of an opening are about a few places."""
        key = (place.file, place.pointer, place.part, place.span)
        if key not in self._held:
            self._held[key] = self.world.holds(place, self.drawn)
        return self._held[key]


def _leave_alone(family: Family, rule: str) -> None:
    """Take a rule out of the groups. Openings that were served already keep what they have: it holds for them."""
    family.alone |= {rule}
    family.changed()
    for group in family.groups:
        if any(part[0] == rule for part in group.parts):
            group.parts = tuple(part for part in group.parts if part[0] != rule)
            group.found.clear()

