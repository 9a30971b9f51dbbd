"""The rules applied to like openings once, and the outcomes handed to each of them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from ..circuit.feeds import Feed, LoadedContact, LoadedOutput
from ..circuit.poe_links import PoeLink
from ..circuit.releases import SwitchedCoil
from ..context import Context
from ..judging import Judge, check_places
from ..outcome import Outcome
from ..rulebook import Rule
from ..spec.model import Item, Opening, PowerSource, Spec
from ..spec.read import OpeningReader
from .signs import Likeness, Signs
from .stand_in import WIDE, Asked, StandIn, Unfit, stand_in
from .telling import Bundle, bundle, table, told

OPENING_SUBJECTS: Final = frozenset({Opening, Item, Feed, LoadedOutput, LoadedContact, SwitchedCoil, PoeLink})
"""Subjects of which every one, or all but those of power sources, belongs to one opening. An output of a power source
belongs to the opening that it feeds, if it feeds no other."""

_SAID_FREELY: Final = frozenset({("", "title"), ("", "from"), ("", "to"), ("", "note")})
"""Differ from opening to opening, so that what asks for them is as well worked out for each."""


Task = tuple[str, int]
"""A rule and the number of the subject that it is applied to, of those of its type in the opening."""


@dataclass
class Group:
    """Rules and subjects that asked for the same own fields, and their outcomes by the values of these."""

    tasks: tuple[Task, ...]
    asked: tuple[Asked, ...]
    found: dict[tuple[object, ...], Bundle] = field(default_factory=dict)


@dataclass
class Family:
    """Openings of one likeness. alone: the rules that are applied to each of them by itself."""

    groups: list[Group] = field(default_factory=list)
    alone: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Shared:
    """openings: each with the bundles that hold for it. alone: for each rule, the openings that it is still to be
    applied to; openings that share nothing are in none of them but in `apart`. whole: the outputs of sources that were
    judged with the one opening that they feed."""

    openings: tuple[tuple[Mapping[int, str], tuple[Bundle, ...]], ...] = ()
    alone: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    apart: tuple[str, ...] = ()
    whole: frozenset[str] = frozenset()


@dataclass
class Typical:
    """The families of one spec's world: its project, products, cables and sets, its rules and house standards."""

    families: dict[bytes, Family | None] = field(default_factory=dict)
    facts: dict[str, tuple[Callable[[Spec], bool], bool]] = field(default_factory=dict)

    def share(
        self, likenesses: Sequence[Likeness], judges: Sequence[Judge], signs: Signs, reader: OpeningReader,
        context: Context, least: int = 2,
    ) -> Shared:  # fmt: skip
        """Share what openings have in common, where at least `least` of them are alike (or were met before)."""
        local = {each.module.RULE.id: each for each in judges if each.module.RULE.over in OPENING_SUBJECTS}
        if any(context.fact(what, compute) != was for what, (compute, was) in self.facts.items()):
            self.families.clear()
        work = _Work(local, signs, reader, context)
        sizes = Counter(each.key for each in likenesses)
        openings = []
        alone: dict[str, list[str]] = {}
        taken: set[str] = set()
        whole: set[str] = set()
        for likeness in likenesses:
            if sizes[likeness.key] < least and likeness.key not in self.families:
                continue
            bundles = self._bundles(likeness, work)
            family = self.families[likeness.key]
            if bundles is None or family is None:
                continue
            taken.add(likeness.id)
            names = table(likeness.names)
            openings.append((names, bundles))
            whole.update(output.translate(names) for output in likeness.whole)
            for rule in family.alone:
                alone.setdefault(rule, []).append(likeness.id)
        apart = tuple(name for name in context.spec.openings if name not in taken)
        return Shared(tuple(openings), {rule: tuple(names) for rule, names in alone.items()}, apart, frozenset(whole))

    def _bundles(self, likeness: Likeness, work: _Work) -> tuple[Bundle, ...] | None:
        made: StandIn | None = None
        found: list[Bundle] = []
        if likeness.key not in self.families:
            try:
                made = work.stand_in(likeness)
                self.families[likeness.key] = work.family(likeness, made)
            except Unfit:
                self.families[likeness.key] = None
        family = self.families[likeness.key]
        if family is None:
            return None
        for group in family.groups:
            key = _values(likeness, group.asked)
            if key not in group.found:
                try:
                    made = made if made is not None else work.stand_in(likeness)
                except Unfit:
                    return None
                if not work.add(family, group, likeness, made):
                    return self._bundles(likeness, work)
                key = _values(likeness, group.asked)
            found.append(group.found[key])
        if made is not None:
            for what, compute in made.facts.items():
                self.facts[what] = (compute, work.context.fact(what, compute))
        return tuple(found)


@dataclass(frozen=True)
class _Work:
    """What is needed to judge a stand-in."""

    judges: Mapping[str, Judge]
    signs: Signs
    reader: OpeningReader
    context: Context

    def stand_in(self, likeness: Likeness) -> StandIn:
        return stand_in(likeness, self.signs, self.reader, self.context)

    def family(self, likeness: Likeness, made: StandIn) -> Family:
        """All rules applied to a stand-in, by what they ask."""
        alone = set()
        grouped: dict[tuple[Asked, ...], list[tuple[Task, list[Outcome]]]] = {}
        for each in self.judges.values():
            found = []
            for number in range(len(made.subjects_here[_over(each)])):
                outcomes, asked = self._judged(each, number, likeness, made)
                if outcomes is None:
                    alone.add(each.module.RULE.id)
                    break
                found.append((tuple(sorted(asked)), (each.module.RULE.id, number), outcomes))
            else:
                for fields, task, outcomes in found:
                    grouped.setdefault(fields, []).append((task, outcomes))
        family = Family(alone=frozenset(alone))
        for fields, tasks in grouped.items():
            group = Group(tuple(task for task, _ in tasks), fields)
            group.found[_values(likeness, fields)] = bundle(o for _, outcomes in tasks for o in outcomes)
            family.groups.append(group)
        return family

    def add(self, family: Family, group: Group, likeness: Likeness, made: StandIn) -> bool:
        """Judge the tasks of a group for other values of its fields. False where a rule turned out to be one that is
        applied to each opening by itself, so that the groups have changed."""
        kept: list[Outcome] = []
        wanted = set(group.asked)
        for rule, number in group.tasks:
            outcomes, asked = self._judged(self.judges[rule], number, likeness, made)
            if outcomes is None:
                self._leave_alone(family, rule)
                return False
            kept += outcomes
            wanted |= asked
        if wanted != set(group.asked):
            group.asked = tuple(sorted(wanted))
            group.found.clear()
        group.found[_values(likeness, group.asked)] = bundle(kept)
        return True

    def _leave_alone(self, family: Family, rule: str) -> None:
        """Take a rule out of the groups. Openings that were served already keep what they have: it holds for them."""
        family.alone |= {rule}
        for group in family.groups:
            if any(task[0] == rule for task in group.tasks):
                group.tasks = tuple(task for task in group.tasks if task[0] != rule)
                group.found.clear()

    def _judged(
        self, each: Judge, number: int, likeness: Likeness, made: StandIn
    ) -> tuple[list[Outcome] | None, set[Asked]]:
        subject = made.subjects_here[_over(each)][number]
        outcomes: list[Outcome] | None
        with made.asking.noted() as asked:
            try:
                outcomes = list(each.outcomes(subject, made))
                names = table(likeness.names)
                for outcome in outcomes:
                    check_places(told(outcome, names), each.files)
            except (Exception, SystemExit):  # the rule breaks, or the stand-in lacks something: each by itself
                outcomes = None
        return (None if WIDE in asked or asked & _SAID_FREELY else outcomes), asked


def _over(judge: Judge) -> type[Any]:
    over = judge.module.RULE.over
    assert over is not None
    return over


def _values(likeness: Likeness, fields: tuple[Asked, ...]) -> tuple[object, ...]:
    return _frozen(tuple(likeness.own(asked) for asked in fields))


def opening_of(subject: Any, whole: frozenset[str]) -> str | None:
    """The opening that a subject belongs to; None for those of the spec as a whole and of power sources, apart from
    the outputs in `whole`."""
    if isinstance(subject, Opening):
        return subject.id
    if isinstance(subject, Item):
        return subject.opening
    if isinstance(subject, Feed | SwitchedCoil | PoeLink):
        return subject.item.opening
    owner = None
    if isinstance(subject, LoadedOutput):
        owner = subject.terminal.owner
        if isinstance(owner, PowerSource):
            return subject.feeds[0].item.opening if subject.identity in whole else None
    elif isinstance(subject, LoadedContact):
        owner = subject.use.owner
    return None if owner is None or isinstance(owner, PowerSource) else owner.opening


@dataclass
class Subjects:
    """The subjects of a spec by the opening that they belong to."""

    context: Context
    _by: dict[type[Any], dict[str | None, list[Any]]] = field(default_factory=dict)

    def left(self, rule: Rule, shared: Shared) -> Iterator[Any]:
        """The subjects that a rule is still to be applied to. KeyError for a rule over what is no subject."""
        over: Any = rule.over
        listed = self.context.subjects[over]
        if over not in OPENING_SUBJECTS or not shared.openings:
            yield from listed
            return
        if over not in self._by:
            self._by[over] = {}
            for subject in listed:
                self._by[over].setdefault(opening_of(subject, shared.whole), []).append(subject)
        by = self._by[over]
        for name in (None, *shared.apart, *shared.alone.get(rule.id, ())):
            yield from by.get(name, ())


def _frozen(values: tuple[object, ...]) -> tuple[object, ...]:
    return tuple(repr(value) if isinstance(value, dict | list) else (type(value), value) for value in values)
