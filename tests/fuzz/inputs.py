"""The kinds of input, each made from a source of choices."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from . import corpus, texts
from .sources import Source
from .spoiling import spoilt
from .trees import tree
from .writing import written

Input = str | bytes


def raw(source: Source) -> Input:
    """Raw text or bytes."""
    return texts.text(source, corpus.texts())


def by_schema(source: Source) -> Input:
    """A spec that the schema allows."""
    return written(tree(source), source)


def real(source: Source) -> Input:
    """A real spec, spoilt."""
    return written(spoilt(source), source)


KINDS: Final[Mapping[str, Callable[[Source], Input]]] = {"text": raw, "schema": by_schema, "real": real}
