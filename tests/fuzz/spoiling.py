"""Real specs with some of their nodes deleted, doubled, moved, or given another value."""

from __future__ import annotations

import copy
from typing import Any

from . import corpus
from .sources import Source, chance, pick
from .trees import dimensions
from .values import EXTREME, odd, quantity


def spoilt(source: Source) -> Any:
    """The tree of a real spec after one to six changes."""
    tree = copy.deepcopy(pick(source, corpus.trees()))
    for _ in range(1 + source.below(6)):
        _change(source, tree)
    return tree


def _change(source: Source, tree: Any) -> None:
    here = _container(source, tree)
    if not here:
        return
    keys: list[Any] = list(here) if isinstance(here, dict) else list(range(len(here)))
    key = pick(source, keys)
    what = source.below(10)
    if what == 0:
        del here[key]
    elif what == 1:
        _put(here, f"{key}2", copy.deepcopy(here[key]))
    elif what == 2:
        _put(_container(source, tree) or here, key, copy.deepcopy(here[key]))
    elif what == 3:
        other = pick(source, keys)
        here[key], here[other] = here[other], here[key]
    elif what == 4:
        here[key] = odd(source)
    elif what == 5:
        here[key] = "unknown"
    elif what == 6 and isinstance(here[key], str) and here[key][:1].isdigit():
        number, _, unit = here[key].partition(" ")
        here[key] = f"{pick(source, EXTREME)} {unit}" if chance(source, 80) else f"{number}{unit}"
    elif what == 7:
        dimension = pick(source, dimensions())
        here[key] = quantity(source, dimension, pick(source, ("quantity", "band", "wire")), [])
    elif what == 8 and isinstance(here, dict):
        name = pick(source, sorted(corpus.values()))
        here[name] = copy.deepcopy(pick(source, corpus.values()[name]))
    else:
        choices = corpus.values().get(str(key), ("unknown",))
        here[key] = copy.deepcopy(pick(source, choices))


def _container(source: Source, tree: Any) -> Any:
    """A mapping or list anywhere in the tree."""
    here = tree
    while True:
        children = [child for child in (here.values() if isinstance(here, dict) else here)
                    if isinstance(child, dict | list) and child]  # fmt: skip
        if not children or chance(source, 25):
            return here
        here = pick(source, children)


def _put(here: Any, key: Any, value: Any) -> None:
    if isinstance(here, dict):
        here[str(key)] = value
    else:
        here.append(value)
