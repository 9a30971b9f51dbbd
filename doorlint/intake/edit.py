"""Changing single values of a YAML file so that all else stays as its author wrote it.

New words go into the places of the old ones, and new keys below or beside the others, by the regions of the document:
this is all that mostly has to be done, and it is fast. Where an opening is written in some other way, it is cut out,
edited with ruamel.yaml's round trip and put back: the rest of the file stays byte for byte. Where that cannot be, the
whole file goes through the round trip. Either way the new text is read again before anybody writes it: its data have
to be the old ones with the wished changes and nothing else, and every comment has to be there.
"""

from __future__ import annotations

import io
import re
from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from ..document import Document, parse
from .records import IntakeProblem, Value
from .yaml_text import Node, entry, flow, is_plain, scalar

if TYPE_CHECKING:
    from ruamel.yaml import YAML

_COMMENT: Final = re.compile(r"(?:^|(?<=\s))#.*$")
_QUOTED: Final = re.compile(r'(?<=[\s,\[{:])(?:"(?:[^"\\]|\\.)*"|\'(?:[^\']|\'\')*\')')


@dataclass(slots=True)
class Edits:
    """What is to change in one file. `fields`: opening -> path below it -> value. `entries`: section of the top level
    (`openings`, `hardware_sets`) -> new entries."""

    fields: dict[str, dict[str, Value]] = field(default_factory=dict)
    entries: dict[str, dict[str, dict[str, Node]]] = field(default_factory=lambda: defaultdict(dict))

    def __bool__(self) -> bool:
        return bool(self.fields) or any(self.entries.values())


def edited(document: Document, edits: Edits) -> str:
    """The document's text with the edits. Raises IntakeProblem where that cannot be done without touching more."""
    _need_ruamel()
    wished = _wished(document.tree, edits)
    for made in (_by_regions, _by_lines, _whole):
        try:
            text = made(document, edits)
        except _Unfit:
            continue
        if _faithful(document, text, wished):
            return text
    raise IntakeProblem(
        f"{document.name}: cannot be edited without touching more than the source changed; nothing was written "
        "(anchors and aliases in openings are the usual reason: write them out)"
    )


def _need_ruamel() -> None:
    try:
        import ruamel.yaml  # noqa: F401
    except ModuleNotFoundError as error:
        raise IntakeProblem(
            "merging into a spec needs ruamel.yaml, which is not installed: pip install 'doorlint[intake]'"
        ) from error


class _Unfit(Exception):  # noqa: N818 - a signal between two functions of this module
    """This way of editing does not fit the text."""


def _wished(tree: Any, edits: Edits) -> Any:
    """The data as they are to be."""
    wished = _apart(tree)
    for opening, values in edits.fields.items():
        if not isinstance(wished["openings"][opening], dict):
            wished["openings"][opening] = {}
        for path, value in values.items():
            _set(wished["openings"][opening], path, value)
    for section, entries in edits.entries.items():
        if not isinstance(wished.get(section), dict):
            wished[section] = {}
        wished[section].update(entries)
    return wished


def _apart(tree: Any) -> Any:
    """A copy in which no two values are one: a change of one changes no other."""
    if isinstance(tree, dict):
        return {key: _apart(value) for key, value in tree.items()}
    return [_apart(value) for value in tree] if isinstance(tree, list) else tree


def _set(body: Any, path: str, value: Value) -> None:
    *above, last = path.split(".")
    for name in above:
        if not isinstance(body.get(name), dict):
            body[name] = {}
        body = body[name]
    body[last] = value


def _faithful(document: Document, text: str, wished: Any) -> bool:
    again = parse(text, document.name)
    if again.problems or again.tree != wished:
        return False
    return not _comments(document.text) - _comments(text)


def _comments(text: str) -> Counter[str]:
    """The comments of a text; signs within quotes begin none."""
    lines = (_QUOTED.sub("", line) for line in text.splitlines() if "#" in line)
    return Counter(found[0].strip() for line in lines if (found := _COMMENT.search(line)))


# ----------------------------------------------------------------------------------------------------
# By regions, and opening by opening

_Piece: TypeAlias = tuple[int, int, str]
"""Where a text begins and ends that gives place to a new one."""


def _by_regions(document: Document, edits: Edits) -> str:
    return _pieced(document, edits, by_regions=True)


def _by_lines(document: Document, edits: Edits) -> str:
    return _pieced(document, edits, by_regions=False)


def _pieced(document: Document, edits: Edits, *, by_regions: bool) -> str:
    pieces: list[_Piece] = []
    for opening, values in edits.fields.items():
        placed = _placed(document, opening, values) if by_regions else None
        pieces += placed or [_opening(document, opening, values)]
    for section, entries in edits.entries.items():
        if entries:
            pieces.append(_added(document, section, entries))
    kept: list[str] = []
    reached = 0
    for start, end, new in sorted(pieces, key=lambda piece: piece[:2]):
        if start < reached:
            raise _Unfit
        kept += (document.text[reached:start], new)
        reached = end
    return "".join((*kept, document.text[reached:]))


def _pointer(*keys: str) -> str:
    return "".join("/" + key.replace("~", "~0").replace("/", "~1") for key in keys)


def _placed(document: Document, opening: str, values: Mapping[str, Value]) -> list[_Piece] | None:
    """The opening's edits by the regions of what stands there; None where it is written in a way that these do not
    tell enough of."""
    here = _pointer("openings", opening)
    body = document.tree["openings"][opening]
    if not isinstance(body, dict) or not body:
        return None
    pieces: list[_Piece | None] = []
    fresh: dict[str, Node] = {}
    inner: dict[str, dict[str, Node]] = {}
    for path, value in values.items():
        head, _, name = path.partition(".")
        if "." in name:
            return None
        part = body.get(head)
        if not name:
            if head in body:
                pieces.append(_worded(document, f"{here}{_pointer(head)}", value))
            else:
                fresh[head] = value
        elif isinstance(part, dict) and name in part:
            pieces.append(_worded(document, f"{here}{_pointer(head, name)}", value))
        else:
            inner.setdefault(head, {})[name] = value
    for head, entries in inner.items():
        if head not in body:
            fresh[head] = dict(entries)
        elif isinstance(body[head], dict):
            pieces.append(_put_in(document, f"{here}{_pointer(head)}", body[head], entries))
        else:
            pieces.append(_worded(document, f"{here}{_pointer(head)}", dict(entries)))
    if fresh:
        pieces.append(_put_in(document, here, body, fresh))
    return None if None in pieces else [piece for piece in pieces if piece is not None]


def _plain_source(document: Document, pointer: str) -> str | None:
    """What is written at a place, where it is no alias, tagged, anchored or block scalar."""
    if document.alias_site(pointer) is not None:
        return None
    written = document.source(document.region(pointer))
    return None if not written or written[0] in "|>&*!" else written


def _worded(document: Document, pointer: str, value: Node) -> _Piece | None:
    """New words in the place of a scalar."""
    written = _plain_source(document, pointer)
    if written is None or written[0] in "{[" or "\n" in written:
        return None
    region = document.region(pointer)
    return region.start, region.end, flow(value)


def _put_in(
    document: Document, pointer: str, body: Mapping[str, Any], entries: Mapping[str, Node]
) -> _Piece | None:
    """New keys at the end of a mapping, in its own style. Comments below it are left to what follows."""
    written = _plain_source(document, pointer)
    if written is None:
        return None
    region, text = document.region(pointer), document.text
    if written[0] == "{":
        inside = written[:-1].rstrip()
        if "\n" in written or written[-1] != "}" or inside[-1] == ",":
            return None
        added = ", ".join(f"{scalar(key)}: {flow(value)}" for key, value in entries.items())
        at = region.start + len(inside)
        return at, at, added if inside == "{" else f", {added}"
    key = document.region(f"{pointer}{_pointer(next(iter(body)))}", "key")
    indent = text[text.rfind("\n", 0, key.start) + 1 : key.start]
    last: str = pointer
    deepest: Any = body
    while isinstance(deepest, dict) and deepest and _plain_source(document, last) is not None:
        name = next(reversed(deepest))
        last, deepest = f"{last}{_pointer(name)}", deepest[name]
    below = _plain_source(document, last)
    if indent.strip(" ") or below is None or "\n" in below:
        return None
    end = text.find("\n", document.region(last).end)
    rest = text[document.region(last).end : end if end >= 0 else len(text)].strip(" }")
    if rest and not rest.startswith("#"):
        return None
    lines = "".join(f"{indent}{scalar(key)}: {flow(value)}\n" for key, value in entries.items())
    return (end + 1, end + 1, lines) if end >= 0 else (len(text), len(text), f"\n{lines}")


def _opening(document: Document, opening: str, values: Mapping[str, Value]) -> _Piece:
    """The lines of one opening, edited: where they begin and end, and what is to stand there."""
    pointer = _pointer("openings", opening)
    start, end, indent = _lines(document, pointer)
    cut = document.text[start:end]
    lines = cut.splitlines(keepends=True)
    if any(line.strip() and not line.startswith(indent) for line in lines if not line.lstrip().startswith("#")):
        raise _Unfit
    loose = "".join(line[len(indent) :] if line.startswith(indent) else line.lstrip(" ") for line in lines)
    try:
        handler = _handler(loose)
        data = handler.load(loose)
        key = next(iter(data))
    except Exception as error:  # ruamel has many errors; an alias to what stands outside is one of them
        raise _Unfit from error
    _change(data, key, values)
    made = _dumped(handler, data)
    return start, end, "".join(f"{indent}{line}" if line.strip() else line for line in made.splitlines(keepends=True))


def _lines(document: Document, pointer: str) -> tuple[int, int, str]:
    """The whole lines that a block entry fills, and its indentation. Raises _Unfit where it shares a line."""
    if document.alias_site(pointer) is not None:
        raise _Unfit
    key, value = document.region(pointer, "key"), document.region(pointer)
    start = document.text.rfind("\n", 0, key.start) + 1
    indent = document.text[start : key.start]
    end = document.text.find("\n", max(key.end, value.end))
    end = len(document.text) if end < 0 else end + 1
    rest = document.text[value.end : end].strip()
    if indent.strip(" ") or (value.end > key.end and rest and not rest.startswith("#")):
        raise _Unfit
    return start, end, indent


def _added(document: Document, section: str, entries: Mapping[str, dict[str, Node]]) -> _Piece:
    """New entries below the last one of a block section."""
    tree = document.tree.get(section) if isinstance(document.tree, dict) else None
    if not isinstance(tree, dict) or not tree:
        raise _Unfit
    _, end, indent = _lines(document, _pointer(section, list(tree)[-1]))
    if not indent or document.text[document.region(_pointer(section)).start] == "{":
        raise _Unfit
    made = "".join(entry(name, body, indent) for name, body in entries.items())
    return end, end, made if document.text[:end].endswith("\n") else f"\n{made}"


# ----------------------------------------------------------------------------------------------------
# The round trip


def _whole(document: Document, edits: Edits) -> str:
    try:
        handler = _handler(document.text)
        data = handler.load(document.text)
    except Exception as error:
        raise _Unfit from error
    names = {str(key): key for key in data.get("openings") or {}}
    for opening, values in edits.fields.items():
        if opening not in names:
            raise _Unfit
        _change(data["openings"], names[opening], values)
    for section, entries in edits.entries.items():
        if not entries:
            continue
        if not isinstance(data.get(section), dict):
            data[section] = _map({})
        for name, body in entries.items():
            data[section][_scalar(name)] = _map(body)
    return _dumped(handler, data)


def _handler(text: str) -> YAML:
    """A round trip that keeps quotes, long lines and, as far as it can be told, the indentation."""
    from ruamel.yaml import YAML

    handler = YAML(typ="rt")
    handler.preserve_quotes = True
    handler.width = 1_000_000
    handler.allow_duplicate_keys = False
    step = re.search(r"^[^\s#-].*:[ \t]*(?:#.*)?\n(?:\s*(?:#.*)?\n)*( +)[^\s#-]", text, re.MULTILINE)
    wide = re.search(r"^( *)[^\s#-].*:[ \t]*(?:#.*)?\n( *)- ", text, re.MULTILINE)
    deeper = len(wide[2]) - len(wide[1]) if wide else 0
    handler.indent(mapping=len(step[1]) if step else 2, sequence=deeper + 2, offset=deeper)
    return handler


def _dumped(handler: YAML, data: Any) -> str:
    target = io.StringIO()
    try:
        handler.dump(data, target)
    except Exception as error:
        raise _Unfit from error
    return target.getvalue()


def _change(openings: Any, key: Any, values: Mapping[str, Value]) -> None:
    if not isinstance(openings[key], dict):
        openings[key] = _map({})
    for path, value in values.items():
        body = openings[key]
        *above, last = path.split(".")
        for name in above:
            if not isinstance(body.get(name), dict):
                _insert(body, name, _map({}, flow=True))
            body = body[name]
        _insert(body, last, _scalar(value))


def _insert(body: Any, name: str, value: Any) -> None:
    """Set a key; a new one goes to the end, but before a comment that stands above what comes after."""
    if name in body or not len(body):
        body[name] = value
        return
    keys = list(body)
    place = len(keys)
    while place and _leads_on(body, keys[place - 1]):
        place -= 1
    body.insert(place or len(keys), name, value)


def _leads_on(body: Any, key: Any) -> bool:
    """Whether comment lines of their own hang on the end of an entry: they mostly speak of what follows."""
    held = getattr(body, "ca", None)
    tokens = held.items.get(key, ()) if held is not None else ()
    if any(hasattr(token, "value") and token.value.strip("\n").count("\n") for token in tokens or ()):
        return True
    inner = body[key]
    return isinstance(inner, dict) and bool(inner) and _leads_on(inner, list(inner)[-1])


def _map(body: Mapping[str, Any], flow: bool = False) -> Any:
    from ruamel.yaml.comments import CommentedMap

    made = CommentedMap()
    for key, value in body.items():
        made[_scalar(key)] = _map(value, flow=True) if isinstance(value, Mapping) else _scalar(value)
    if flow:
        made.fa.set_flow_style()
    return made


def _scalar(value: Value) -> Any:
    from ruamel.yaml.scalarstring import DoubleQuotedScalarString

    return DoubleQuotedScalarString(value) if isinstance(value, str) and not is_plain(value) else value
