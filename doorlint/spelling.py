"""The nearest right spelling of a word that is none of those allowed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

_LONGEST = 60  # a longer word is no misspelling, and the distance costs the product of both lengths


def plain(word: str) -> str:
    """A word without the differences that do not matter when one looks for it: case, hyphens, blanks."""
    return "_".join(word.casefold().replace("-", " ").replace("_", " ").split())


def distance(a: str, b: str) -> int:
    """How many letters to add, drop, change or swap with their neighbour until `a` reads `b`.

    Optimal string alignment distance, the restricted form of Damerau's (Communications of the ACM 7, 1964).
    """
    before: list[int] = []
    row = list(range(len(b) + 1))
    for i, letter in enumerate(a, 1):
        following = [i]
        for j, other in enumerate(b, 1):
            cost = min(row[j] + 1, following[j - 1] + 1, row[j - 1] + (letter != other))
            if i > 1 and j > 1 and letter == b[j - 2] and a[i - 2] == other:
                cost = min(cost, before[j - 2] + 1)
            following.append(cost)
        before, row = row, following
    return row[-1]


def nearest(word: str, choices: Iterable[str], synonyms: Mapping[str, str] | None = None) -> str:
    """The choice that `word` was most likely meant to be, "" where none is near.

    A synonym counts before a likeness. Of equally near choices the first is taken. At most one fault in three
    letters is forgiven, so that short words do not turn into each other.
    """
    if len(word) > _LONGEST:
        return ""
    sought = plain(word)
    offered = list(choices)
    for choice in offered:
        if plain(choice) == sought:
            return choice
    meant = (synonyms or {}).get(sought)
    if meant is not None and meant in offered:
        return meant
    best, forgiven = "", min(3, len(sought) // 3)
    for choice in offered:
        other = plain(choice)
        if abs(len(other) - len(sought)) <= forgiven:
            faults = distance(sought, other)
            if faults <= forgiven:
                best, forgiven = choice, faults - 1
    return best
