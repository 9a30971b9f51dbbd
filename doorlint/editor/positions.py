"""Offsets in a text, and the lines and characters by which an editor names them.

The Language Server Protocol 3.17 breaks lines at LF, CR LF and CR only, and counts characters of a line in units of
the encoding agreed on: UTF-16 unless both sides settle on another.
"""

from __future__ import annotations

import re
from array import array
from bisect import bisect_right
from typing import Final, Literal, TypeAlias

Encoding: TypeAlias = Literal["utf-8", "utf-16", "utf-32"]

_BREAK: Final = re.compile(r"\r\n|\n|\r")


def width(char: str, encoding: Encoding) -> int:
    """How many units a character takes. Half a surrogate pair counts as the character that it stands for alone."""
    code = ord(char)
    if encoding == "utf-16":
        return 2 if code > 0xFFFF else 1
    if encoding == "utf-8":
        return 1 if code < 0x80 else 2 if code < 0x800 else 3 if code < 0x10000 else 4
    return 1


class Lines:
    """The lines of one text. Lines and characters count from 0."""

    __slots__ = ("_ends", "_starts", "encoding", "text")

    def __init__(self, text: str, encoding: Encoding) -> None:
        self.text = text
        self.encoding = encoding
        self._starts = array("q", [0])
        self._ends = array("q")
        for match in _BREAK.finditer(text):
            self._ends.append(match.start())
            self._starts.append(match.end())
        self._ends.append(len(text))

    def __len__(self) -> int:
        return len(self._starts)

    def bounds(self, line: int) -> tuple[int, int]:
        """Start and end of a line, its break left out. A line beyond the last is the end of the text."""
        if line >= len(self._starts):
            return len(self.text), len(self.text)
        return self._starts[max(line, 0)], self._ends[max(line, 0)]

    def offset(self, line: int, character: int) -> int:
        """The offset of a position. A character beyond its line is the line's end; one within a character its start."""
        start, end = self.bounds(line)
        if line < 0 or character <= 0:
            return start
        if self.encoding == "utf-32" or self.text[start:end].isascii():
            return min(start + character, end)
        left = character
        for offset in range(start, end):
            left -= width(self.text[offset], self.encoding)
            if left < 0:
                return offset
        return end

    def position(self, offset: int) -> tuple[int, int]:
        """The line and character of an offset; one beyond the text is its end."""
        offset = min(max(offset, 0), len(self.text))
        line = bisect_right(self._starts, offset) - 1
        # between CR and LF there is no position: it is the end of the line
        before = self.text[self._starts[line] : min(offset, self._ends[line])]
        if self.encoding == "utf-32" or before.isascii():
            return line, len(before)
        return line, sum(width(char, self.encoding) for char in before)
