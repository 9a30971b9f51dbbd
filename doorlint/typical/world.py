"""What all openings of a spec have around them: its project, products, cables and sets, and the sources sets name."""

from __future__ import annotations

import marshal
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

from ..circuit.voltages import Problems
from ..document import held, tokens_of
from ..facts import Fact, Facts
from ..outcome import Place
from ..spec.files import Files
from ..spec.model import Spec
from ..spec.read import Node, OpeningReader, set_nodes
from .signs import OPENING_FILE, Drawn, Signs, file_sign


@dataclass(frozen=True)
class World:
    """spec: without openings, and with those power sources alone that sets name. trees: the files without openings and
    other sources. facts: of the whole spec; without the spec itself a world can be sent to another process. problems:
    what is solved of circuits, for the whole review.
    """

    spec: Spec
    sets: Mapping[str, Node]
    faulty: frozenset[Place]
    trees: Mapping[str, Any]
    facts: Facts
    problems: Problems = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def reader(self) -> OpeningReader:
        """Reads stand-ins; what they share of a set is read once."""
        return OpeningReader(self.spec.products, self.spec.cables, self.sets)

    def apart(self, asked: Mapping[str, Fact]) -> World:
        """The world without the whole spec, with the facts of it that are asked for."""
        return replace(self, facts=self.facts.told(asked), problems={})

    def holds(self, place: Place, drawn: Drawn) -> bool:
        """Whether a place that is told in the signs of an opening is in the spec."""
        if place.span is not None:
            return True
        tokens = tokens_of(place.pointer)
        if place.file == OPENING_FILE and drawn.entry is not None:
            return tokens[:1] == ["openings"] and held(drawn.entry, tokens[2:], place.part, keyed=True)
        for source in drawn.power:
            if place.file == file_sign(source.sign):
                return tokens[:1] == ["power"] and held(source.entry, tokens[2:], place.part, keyed=True)
        return place.file in self.trees and held(self.trees[place.file], tokens, place.part, keyed=not tokens)

    def mark(self) -> bytes:
        """Equal for worlds in which like openings have equal outcomes."""
        return marshal.dumps([(name, tree) for name, tree in self.trees.items()], 2)


def world(
    files: Files, spec: Spec, signs: Signs, faulty: frozenset[Place], facts: Facts, problems: Problems
) -> World:
    """The world of a spec."""
    named = signs.named_by_sets()
    kept = {name: source for name, source in spec.power.items() if name in named}
    trees = {}
    for name, document in files.parts.items():
        tree = document.tree
        if isinstance(tree, dict):
            tree = {section: entries for section, entries in tree.items() if section not in ("openings", "power")}
            power = document.tree.get("power")
            if isinstance(power, dict):
                tree["power"] = {each: entry for each, entry in power.items() if each in named}
            trees[name] = tree
    small = replace(spec, openings={}, power=kept, waivers=())
    return World(small, set_nodes(files), faulty, trees, facts, problems)
