"""What is being written at the cursor, found from the lines alone.

A line in the middle of being written rarely is YAML, so nothing is parsed here: indentation says where the cursor
stands, as in the block style that specs are written in, and brackets do within a line or a few.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final, Literal

_KEY: Final = r"\"(?:[^\"\\]|\\.)*\"|'(?:[^']|'')*'|[^\s#\[\]{},\"'&*!|>%@`-][^#{}\[\],]*?|-[^\s#{}\[\],][^#{}\[\],]*?"
_ENTRY: Final = re.compile(rf"(?P<lead> *(?:- +)*)(?P<key>{_KEY})[ \t]*:(?=[ \t]|$)")
_LEAD: Final = re.compile(r" *(?:- +)*(?:-$)?")
_UP: Final = 400
"""Lines above the cursor that are looked at for the bracket which encloses it."""


@dataclass(frozen=True, slots=True)
class Typing:
    """`path`: the way to the mapping or list around the cursor. `what`: whether a key or a value is written; `key`: of
    which. `start` and `end`: the word that the cursor stands in. `siblings`: the other keys of the mapping, with their
    values where these are plain. `flow`: within brackets; `listed`: those of a list. `spaced`: whether a blank has to
    come before the word. `colon`: whether one follows.
    """

    path: tuple[str, ...]
    what: Literal["key", "value"]
    key: str
    start: int
    end: int
    siblings: dict[str, str] = field(default_factory=dict)
    flow: bool = False
    listed: bool = False
    spaced: bool = False
    colon: bool = False


@dataclass(slots=True)
class _Frame:
    """A bracket still open: its opening character, the key being given, where the present word starts."""

    opener: str
    start: int
    key: str | None = None
    index: int = 0
    entries: dict[str, str] = field(default_factory=dict)


def typing_at(text: str, offset: int) -> Typing | None:
    """What is written at an offset; None in a comment, or where nothing can be told."""
    start = _line_start(text, offset)
    if _in_comment(text[start:offset]):
        return None
    flow = _enclosing(text, start, offset)
    return _in_flow(text, flow, offset) if flow is not None else _in_block(text, start, offset)


def _line_start(text: str, offset: int) -> int:
    return max(text.rfind("\n", 0, offset), text.rfind("\r", 0, offset)) + 1


def _line_end(text: str, offset: int) -> int:
    ends = [end for end in (text.find("\n", offset), text.find("\r", offset)) if end >= 0]
    return min(ends, default=len(text))


def _in_comment(prefix: str) -> bool:
    quote = ""
    for index, char in enumerate(prefix):
        if quote:
            quote = "" if char == quote else quote
        elif char in "\"'" and (index == 0 or prefix[index - 1] in " \t[{,:"):
            quote = char
        elif char == "#" and (index == 0 or prefix[index - 1] in " \t"):
            return True
    return False


def _unquoted(word: str) -> str:
    word = word.strip()
    if len(word) > 1 and word[0] == word[-1] and word[0] in "\"'":
        return word[1:-1]
    return word.lstrip("\"'")


# -- within brackets -------------------------------------------------------------------------------


def _enclosing(text: str, line: int, offset: int) -> tuple[int, int] | None:
    """(start of the line of the entry, where its value begins) whose bracket is still open at the cursor."""
    here, indent = line, 1 << 30
    for _ in range(_UP):
        whole = text[here : _line_end(text, here)]
        stripped = whole.lstrip(" ")
        depth = len(whole) - len(stripped)
        if stripped and not stripped.startswith("#") and (depth < indent or here == line):
            entry = _ENTRY.match(whole)
            begin = here + (entry.end() if entry else _indent(text, here))
            frames = _frames(text, min(begin, offset), offset)
            if frames:
                return here, begin
            if entry and here != line:
                return None
            indent = min(indent, depth)
        if here == 0:
            return None
        here = _line_start(text, here - 1 if text[here - 2 : here] != "\r\n" else here - 2)
    return None


def _frames(text: str, start: int, end: int) -> list[_Frame]:
    """The brackets that are open at `end`, of those opened since `start`."""
    frames: list[_Frame] = []
    index = start
    while index < end:
        char = text[index]
        top = frames[-1] if frames else None
        fresh = top is not None and not text[top.start : index].strip()
        if char in "\"'" and (fresh or top is None):
            index = _closing(text, index, end)
            continue
        if char == "#" and text[index - 1 : index] in (" ", "\t", "\n", "\r"):
            index = min(_line_end(text, index), end)
            continue
        if char in "{[" and (fresh or (top is None and not text[start:index].strip())):
            frames.append(_Frame(char, index + 1))
        elif top is not None and char in "}]":
            _ended(text, top, index)
            frames.pop()
            if frames:
                frames[-1].start = index + 1
            else:
                start = index + 1
        elif top is not None and char == ",":
            _ended(text, top, index)
            top.start, top.key, top.index = index + 1, None, top.index + 1
        elif top is not None and char == ":" and top.key is None and _is_colon(text, top, index):
            top.key, top.start = _unquoted(text[top.start : index]), index + 1
        index += 1
    return frames


def _is_colon(text: str, frame: _Frame, index: int) -> bool:
    word = text[frame.start : index].strip()
    return text[index + 1 : index + 2] in ("", " ", "\t", "\n", "\r", ",", "}", "]") or word[-1:] in "\"'"


def _closing(text: str, quote: int, end: int) -> int:
    """Behind the quote that closes; the end of the line where none does, so that one left open spoils one line only."""
    closing = text.find(text[quote], quote + 1, end)
    stop = min(_line_end(text, quote), end)
    return closing + 1 if 0 <= closing < stop else stop


def _ended(text: str, frame: _Frame, index: int) -> None:
    word = text[frame.start : index]
    if frame.key is not None:
        frame.entries[frame.key] = _unquoted(word)
    elif word.strip():
        frame.entries[_unquoted(word)] = ""


def _in_flow(text: str, found: tuple[int, int], offset: int) -> Typing | None:
    line, begin = found
    frames = _frames(text, begin, offset)
    outer = _in_block(text, line, line + _indent(text, line))
    entry = _ENTRY.match(text, line, _line_end(text, line))
    if outer is None:
        return None
    path = outer.path + ((_unquoted(entry["key"]),) if entry else ())
    for frame in frames[:-1]:
        path += (str(frame.index),) if frame.opener == "[" else (frame.key,) if frame.key is not None else ()
    top = frames[-1]
    start = top.start + len(text[top.start : offset]) - len(text[top.start : offset].lstrip())
    end = _word_end(text, offset)
    following = _following(text, top, end)
    siblings = {**top.entries, **following}
    if top.opener == "[":
        key = path[-1] if path else ""
        return Typing((*path, str(top.index)), "value", key, start, end, siblings, flow=True, listed=True)
    if top.key is None:
        colon = text[end : end + 1] == ":" or text[end:].lstrip(" ").startswith(":")
        return Typing(path, "key", "", start, end, siblings, flow=True, colon=colon)
    spaced = start == offset and text[offset - 1 : offset] == ":"
    return Typing(path, "value", top.key, start, max(end, start), siblings, flow=True, spaced=spaced)


def _word_end(text: str, offset: int) -> int:
    """The end of the word in a flow collection that the cursor stands in."""
    end = offset
    while end < len(text) and text[end] not in ",{}[]\n\r#":
        if text[end] == ":" and text[end + 1 : end + 2] in ("", " ", "\t", "\n", "\r", ",", "}"):
            break
        end += 1
    return offset + len(text[offset:end].rstrip())


def _following(text: str, top: _Frame, end: int) -> dict[str, str]:
    """The entries of the same bracket behind the cursor, up to the end of the line or the bracket."""
    stop = _line_end(text, end)
    frame = _Frame(top.opener, end)
    depth, index, first = 0, end, True
    while index < stop:
        char = text[index]
        if char in "\"'" and not text[frame.start : index].strip():
            index = _closing(text, index, stop)
            continue
        if char in "{[":
            depth += 1
        elif char in "}]":
            if depth == 0:
                break
            depth -= 1
        elif char == "," and depth == 0:
            if not first:
                _ended(text, frame, index)
            frame.start, frame.key, first = index + 1, None, False
        elif char == ":" and depth == 0 and frame.key is None and _is_colon(text, frame, index):
            frame.key, frame.start = _unquoted(text[frame.start : index]), index + 1
        index += 1
    if not first:
        _ended(text, frame, index)
    return frame.entries


# -- by indentation --------------------------------------------------------------------------------


def _indent(text: str, line: int) -> int:
    """Where the words of a line begin, behind blanks and dashes."""
    found = _LEAD.match(text, line, _line_end(text, line))
    return found.end() - line if found else 0


def _in_block(text: str, line: int, offset: int) -> Typing | None:
    end = _line_end(text, line)
    whole = text[line:end]
    column = offset - line
    content = _indent(text, line)
    if (column < content and whole.strip()) or not whole.strip():
        content = column
    path, found = _parents(text, line, content)
    if not found and content > 0:
        return None
    path = path + _lists(whole, content)
    siblings = _siblings(text, line, content)
    entry = _ENTRY.match(whole)
    if entry and column > entry.end("key"):
        colon = whole.index(":", entry.end("key"))
        if column <= colon:
            return None
        behind = whole[colon + 1 :]
        start = colon + 1 + len(behind) - len(behind.lstrip(" \t"))
        start = min(start, column)
        siblings.pop(_unquoted(entry["key"]), None)
        stop = column + len(_before_comment(whole[column:]).rstrip())
        spaced = column == colon + 1
        key = _unquoted(entry["key"])
        return Typing(path, "value", key, line + start, line + stop, siblings, spaced=spaced)
    word = entry["key"] if entry else _before_comment(whole[content:]).rstrip()
    stop = line + max(column, content + len(word))
    return Typing(path, "key", "", line + min(content, column), stop, siblings, colon=entry is not None)


def _before_comment(text: str) -> str:
    found = re.search(r"(?:^|[ \t])#", text)
    return text[: found.start()] if found else text


def _lists(whole: str, content: int) -> tuple[str, ...]:
    """The list levels that dashes open on a line before a column."""
    return ("0",) * whole[:content].count("-") if not whole[:content].strip(" -") else ()


def _lines_up(text: str, line: int) -> Iterator[str]:
    """The lines above one that hold anything, the nearest first."""
    while line > 0:
        before = line - 2 if text[line - 2 : line] == "\r\n" else line - 1
        line = _line_start(text, before)
        whole = text[line:before]
        if whole.strip() and not whole.lstrip().startswith("#"):
            yield whole


def _parents(text: str, line: int, content: int) -> tuple[tuple[str, ...], bool]:
    """The keys and lists that a line stands under, and whether any line holds it."""
    whole = text[line : _line_end(text, line)]
    dash = whole.find("-", 0, content) if not whole[:content].strip(" -") else -1
    limit = dash + 1 if dash >= 0 else content
    path: list[str] = []
    for above in _lines_up(text, line):
        if limit <= 0:
            break
        entry = _ENTRY.match(above)
        lead = entry["lead"] if entry else (_LEAD.match(above) or [""])[0]
        if entry and len(lead) < limit:
            path.append(_unquoted(entry["key"]))
            limit = len(lead)
        elif len(lead) >= limit and "-" not in lead[:limit]:
            continue
        for column in range(min(len(lead), limit) - 1, -1, -1):
            if lead[column] == "-" and column + 1 < limit:
                path.append("0")
                limit = column + 1
        if entry is None and len(lead) < limit and "-" not in lead:
            limit = min(limit, len(lead))
    return tuple(reversed(path)), bool(path)


def _siblings(text: str, line: int, content: int) -> dict[str, str]:
    """The other keys of the block mapping that a line belongs to, with what stands on their lines."""
    found: dict[str, str] = {}
    whole = text[line : _line_end(text, line)]
    if "-" not in whole[:content]:
        for above in _lines_up(text, line):
            if _collected(above, content, found) or "-" in above[:content]:
                break
    here = _line_end(text, line)
    while here < len(text):
        here += 2 if text[here : here + 2] == "\r\n" else 1
        below = text[here : _line_end(text, here)]
        here += len(below)
        if not below.strip() or below.lstrip().startswith("#"):
            continue
        if "-" in below[:content] or _collected(below, content, found):
            break
    return found


def _collected(line: str, content: int, found: dict[str, str]) -> bool:
    """Take the key of a line in the column; whether the line ends the mapping."""
    entry = _ENTRY.match(line)
    column = len(entry["lead"]) if entry else len(line) - len(line.lstrip(" -"))
    if column < content:
        return True
    if entry and column == content:
        found.setdefault(_unquoted(entry["key"]), _unquoted(_before_comment(line[entry.end() :])))
    return False
