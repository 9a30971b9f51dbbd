"""The invented ferry terminal as one tree, its openings cut out with all that they lean on, and reviews of such trees.

A change of the tree is a change of the spec; what the review makes of it is compared without places and wording.
"""

from __future__ import annotations

import copy
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from doorlint.format_rules import FORMAT_RULES
from doorlint.outcome import Kind, Outcome
from doorlint.reviewing import Result, review_text
from doorlint.rulebook import Rulebook, collect

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
BOOK = collect()
Tree = dict[str, Any]
Path_ = tuple[str | int, ...]
Judged = Mapping[tuple[str, str], Counter[Kind]]

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_DUMPER = getattr(yaml, "CSafeDumper", yaml.SafeDumper)


@cache
def _whole(name: str) -> Tree:
    tree: Tree = {}
    for path in sorted((EXAMPLES / name).rglob("*.yaml")):
        for key, value in yaml.load(path.read_text("utf-8"), Loader=_LOADER).items():
            if isinstance(value, dict):
                tree.setdefault(key, {}).update(value)
            elif key != "include":
                tree[key] = value
    return tree


def whole(clean: bool) -> Tree:
    """The example as one tree: the clean one, or the one with its mistakes."""
    return copy.deepcopy(_whole("gull_point_ferry_terminal" + ("_clean" if clean else "")))


def alone(tree: Tree, openings: Iterable[str]) -> Tree:
    """The spec of these openings alone: of products, sources, cables and sets only those that are named."""
    kept = {name: tree["openings"][name] for name in openings}
    sets = {one["set"] for one in kept.values() if one.get("set") in tree["hardware_sets"]}
    found: Tree = {key: tree[key] for key in ("doorlint", "project")}
    found["openings"] = kept
    found["hardware_sets"] = {name: one for name, one in tree["hardware_sets"].items() if name in sets}
    words = set(_words([kept, found["hardware_sets"]]))
    while True:
        named = {name: one for name, one in tree["power"].items() if name in words or name.partition(".")[0] in words}
        more = words | set(_words(named))
        if more == words:
            break
        words = more
    found["power"] = named
    for key in ("products", "cables"):
        found[key] = {name: one for name, one in tree[key].items() if name in words}
    return copy.deepcopy(found)


def _words(tree: Any) -> Iterator[str]:
    """Every text of a tree, and the part before the dot of one like `psu.out`."""
    if isinstance(tree, dict):
        for value in tree.values():
            yield from _words(value)
    elif isinstance(tree, list):
        for value in tree:
            yield from _words(value)
    elif isinstance(tree, str):
        yield from (tree, tree.partition(".")[0])


def written(tree: Tree) -> str:
    """The tree as YAML."""
    text: str = yaml.dump(tree, Dumper=_DUMPER, sort_keys=False, width=10_000, allow_unicode=True)
    return text


def reviewed(tree: Tree, book: Rulebook = BOOK) -> Result:
    """The review of a tree. A rule that breaks is a fault of ours, whatever the spec."""
    result = review_text(written(tree), "spec.yaml", rulebook=book)
    broken = [outcome.message for outcome in result.outcomes if outcome.rule.startswith("rulebook/")]
    assert not broken, broken
    return result


def judged(result: Result, which: Callable[[Outcome], bool] | None = None) -> Judged:
    """How many outcomes of each kind each rule gives for each subject, what is found while reading left out."""
    found: dict[tuple[str, str], Counter[Kind]] = {}
    for outcome in result.outcomes:
        if outcome.rule not in FORMAT_RULES and (which is None or which(outcome)):
            found.setdefault((outcome.rule, outcome.subject), Counter())[outcome.kind] += 1
    return found


def told(result: Result) -> list[tuple[Any, ...]]:
    """All that a review says apart from places: figures in words, messages, cures."""
    return sorted(
        (o.rule, o.kind.value, o.level.value, o.subject, o.message, o.what, str(o.measured), str(o.limit), o.relation,
         str(o.margin), o.missing, tuple(map(str, o.basis)), o.waived, tuple(related.caption for related in o.related),
         tuple((step.name, step.formula, str(step.result), step.ground) for step in o.working))
        for o in result.outcomes
    )  # fmt: skip


def leaves(tree: Any, path: Path_ = ()) -> Iterator[tuple[Path_, Any]]:
    """Every value of a tree that is no mapping, with its path. A list is one value."""
    if isinstance(tree, dict):
        for key, value in tree.items():
            yield from leaves(value, (*path, key))
    else:
        yield path, tree


def replaced(tree: Tree, path: Path_, value: Any) -> Tree:
    """A copy of the tree with another value at a path."""
    made = copy.deepcopy(tree)
    at(made, path[:-1])[path[-1]] = value
    return made


def without(tree: Tree, path: Path_) -> Tree:
    """A copy of the tree without what stands at a path."""
    made = copy.deepcopy(tree)
    del at(made, path[:-1])[path[-1]]
    return made


def at(tree: Any, path: Path_) -> Any:
    """What stands at a path."""
    for key in path:
        tree = tree[key]
    return tree
