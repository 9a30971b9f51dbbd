"""The outcomes that like openings share, handed to each of them, and what is left to be judged one by one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from ..circuit.feeds import Feed, LoadedContact, LoadedOutput
from ..circuit.poe_links import PoeLink
from ..circuit.releases import SwitchedCoil
from ..context import Context
from ..judging import Judge
from ..rulebook import Rule
from ..spec.model import Item, Opening, PowerSource
from . import sources
from .families import Families
from .listing import Told
from .signs import Likeness, Signs
from .tasks import Gathering, Workplace, dispatch
from .world import World

OPENING_SUBJECTS: Final = frozenset({Opening, Item, Feed, LoadedOutput, LoadedContact, SwitchedCoil, PoeLink})
"""Subjects of which every one, or all but those of power sources, belongs to one opening. An output of a power source
belongs to the opening that it feeds, if it feeds no other."""


@dataclass(frozen=True)
class Shared:
    """What openings share, or power sources. told: each with the bundles that hold for it. alone: for each rule, those
    that it is still to be applied to; those that share nothing are in none of them but in `apart`. whole: the outputs
    of sources that were judged with the one opening that they feed."""

    told: tuple[Told, ...] = ()
    alone: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    apart: tuple[str, ...] = ()
    whole: frozenset[str] = frozenset()


@dataclass
class Sharing:
    """The sharing of one review. With an executor the families that are not known yet are worked out there, while the
    caller goes on; what it does not bring back is worked out here."""

    families: Families
    likenesses: Sequence[Likeness]
    sources: Sequence[Likeness]
    judges: Mapping[str, Judge]
    source_judges: Mapping[str, Judge]
    world: World
    signs: Signs
    but: frozenset[str] = frozenset()
    gathering: Gathering = field(default_factory=Gathering)

    def begin(self, executor: Workplace | None, workers: int) -> None:
        """Send out what is not known yet."""
        if executor is None or not self.likenesses:
            return
        # the first opening tells which facts about the whole spec the rules ask for
        self.families.bundles(self.likenesses[0], self.judges, self.world)
        unknown = [each for each in self.likenesses if not self.families.known(each, self.world)]
        self.gathering = dispatch(executor, workers, unknown, self.judges, self.world.apart(self.families.facts))

    def of_sources(self, context: Context) -> Shared:
        """What all power sources share."""
        return self._shared(self.sources, self.source_judges, context.spec.power)

    def of_openings(self, context: Context, tell: Callable[[str, int, int], None]) -> Shared:
        """What all openings share; `tell` is told how far it is."""
        for found in self.gathering.families():
            self.families.take(found)

        def met() -> Iterator[Likeness]:
            for number, likeness in enumerate(self.likenesses):
                if number % 50 == 0:
                    tell("judging openings", number, len(self.likenesses))
                yield likeness

        return self._shared(met(), self.judges, (name for name in context.spec.openings if name not in self.but))

    def _shared(self, likenesses: Iterable[Likeness], judges: Mapping[str, Judge], names: Iterable[str]) -> Shared:
        told: list[Told] = []
        alone: dict[str, list[str]] = {}
        taken: set[str] = set()
        whole: set[str] = set()
        for likeness in likenesses:
            bundles = self.families.bundles(likeness, judges, self.world)
            family = self.families.found[likeness.key]
            if bundles is None or family is None:
                continue
            taken.add(likeness.id)
            told.append((likeness.names, bundles))
            whole.update(map(likeness.own_name, likeness.whole))
            for rule in family.alone:
                alone.setdefault(rule, []).append(likeness.id)
        apart = tuple(name for name in names if name not in taken)
        return Shared(tuple(told), {rule: tuple(found) for rule, found in alone.items()}, apart, frozenset(whole))


def sharing(
    families: Families,
    signs: Signs,
    judges: Sequence[Judge],
    world: World,
    least: int = 2,
    but: frozenset[str] = frozenset(),
) -> Sharing:
    """The sharing of those openings and power sources of which at least `least` are alike, or which are of a family
    that is known; `but` are openings to which no rule is applied."""
    families.outdated(world.facts)

    def taken(likenesses: list[Likeness]) -> list[Likeness]:
        sizes = Counter(each.key for each in likenesses)
        return [each for each in likenesses if sizes[each.key] >= least or each.key in families.found]

    def over(types: frozenset[type]) -> dict[str, Judge]:
        return {each.module.RULE.id: each for each in judges if each.module.RULE.over in types}

    openings = taken([each for each in signs.likenesses() if each.id not in but])
    power = taken(list(sources.likenesses(signs)))
    of_openings, of_sources = over(OPENING_SUBJECTS), over(frozenset({PowerSource}))
    return Sharing(families, openings, power, of_openings, of_sources, world, signs, but)


def opening_of(subject: Any, whole: frozenset[str]) -> str | None:
    """The opening that a part of its wiring belongs to; None for outputs and contacts of power sources, apart from the
    outputs in `whole`."""
    if isinstance(subject, Feed | SwitchedCoil | PoeLink):
        return subject.item.opening
    if isinstance(subject, LoadedOutput):
        if isinstance(subject.terminal.owner, PowerSource):
            return subject.feeds[0].item.opening if subject.identity in whole else None
        return subject.terminal.owner.opening
    owner = subject.use.owner
    return None if isinstance(owner, PowerSource) else owner.opening


@dataclass
class Subjects:
    """The subjects of a spec by the opening that they belong to, and its power sources. but: openings to which no rule
    is applied."""

    context: Context
    but: frozenset[str] = frozenset()
    _by: dict[type[Any], dict[str | None, list[Any]]] = field(default_factory=dict)

    def left(self, rule: Rule, shared: Shared) -> Iterator[Any]:
        """The subjects that a rule is still to be applied to. KeyError for a rule over what is no subject."""
        over: Any = rule.over
        listed = self.context.subjects[over]
        spec = self.context.spec
        of: Mapping[str, Any] = spec.power if over is PowerSource else spec.openings
        if shared.told:
            names = (*shared.apart, *shared.alone.get(rule.id, ()))
        else:
            names = tuple(name for name in of if name not in self.but or over is PowerSource)
        if not (shared.told or self.but) or over not in OPENING_SUBJECTS | {PowerSource}:
            yield from listed
        elif over is Opening or over is PowerSource:
            yield from map(of.__getitem__, names)
        elif over is Item:
            yield from (item for name in names for item in spec.openings[name].items.values())
        else:
            if over not in self._by:
                self._by[over] = {}
                for subject in listed:
                    self._by[over].setdefault(opening_of(subject, shared.whole), []).append(subject)
            for each in (None, *names):
                yield from self._by[over].get(each, ())
