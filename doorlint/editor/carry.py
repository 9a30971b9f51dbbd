"""Places of one text found again in a later one: what stands before or behind the stretch that was changed has moved,
what was changed is not found."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache


@dataclass(frozen=True, slots=True)
class Carry:
    """`start`: where the changed stretch begins in both texts. It ends at `old_end` in the one, `new_end` in the
    other; what follows is the same."""

    start: int
    old_end: int
    new_end: int

    def region(self, start: int, end: int) -> tuple[int, int] | None:
        """A region of the old text in the new one; None where the change touches it."""
        if end <= self.start:
            return start, end
        if start >= self.old_end:
            moved = self.new_end - self.old_end
            return start + moved, end + moved
        return None

    def back(self, offset: int) -> int | None:
        """An offset of the new text in the old one; None where it stands in what was changed."""
        if offset <= self.start:
            return offset
        return offset - self.new_end + self.old_end if offset >= self.new_end else None


@lru_cache(maxsize=64)
def carry(old: str, new: str) -> Carry:
    """How places of `old` are found in `new`. Of texts that are equal every place is itself."""
    shorter = min(len(old), len(new))
    if old == new:
        return Carry(shorter, shorter, shorter)
    front = _same(lambda count: old[:count] == new[:count], shorter)
    back = _same(lambda count: old[len(old) - count :] == new[len(new) - count :], shorter - front)
    old_end, new_end = len(old) - back, len(new) - back
    # a line put before another that begins alike: the change is taken to begin with the line, not amid the like part
    alike = front - (max(old.rfind("\n", 0, front), old.rfind("\r", 0, front)) + 1)
    if alike and old_end >= alike <= new_end and old[old_end - alike : old_end] == new[new_end - alike : new_end]:
        return Carry(front - alike, old_end - alike, new_end - alike)
    return Carry(front, old_end, new_end)


def _same(equal: Callable[[int], bool], most: int) -> int:
    """The largest count up to `most` for which the texts are equal (a search by halves: slices compare fast)."""
    low, high = 0, most
    while low < high:
        middle = (low + high + 1) // 2
        if equal(middle):
            low = middle
        else:
            high = middle - 1
    return low
