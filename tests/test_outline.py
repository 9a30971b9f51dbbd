"""The outline of a text says what YAML's parser says of it, or nothing.

The parser is libyaml (or PyYAML's own), by YAML 1.2.2's rules for block mappings (section 8.2.2), plain scalars
(section 7.3.3) and line folding (sections 6.5 and 7.3.3).
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from bench.portfolio import write
from hypothesis import example, given
from hypothesis import strategies as st

from doorlint import document as documents
from doorlint.document import Document, Limits, Region, parse
from doorlint.outline import MOST_LEVELS

ROOT = Path(__file__).parent.parent


def by_parser(text: str) -> Document:
    """The document as the parser alone reads it."""
    built = documents._built(text, Limits())
    return Document("a.yaml", text, built.tree, tuple(built.problems), built.nodes)


def pointers(tree: Any, base: str = "") -> Iterator[str]:
    """The pointer of every value of a tree."""
    yield base
    if isinstance(tree, dict):
        for key, value in tree.items():
            yield from pointers(value, f"{base}/{key.replace('~', '~0').replace('/', '~1')}")
    elif isinstance(tree, list):
        for number, value in enumerate(tree):
            yield from pointers(value, f"{base}/{number}")


def key_region(document: Document, pointer: str) -> Region | None:
    try:
        return document.region(pointer, "key")
    except KeyError:
        return None


def assert_same(text: str) -> bool:
    """That both ways say the same of a text, places and all; whether it has an outline."""
    found, expected = parse(text, "a.yaml"), by_parser(text)
    assert repr(found.tree) == repr(expected.tree)
    assert found.problems == expected.problems
    for pointer in pointers(expected.tree):
        assert found.region(pointer) == expected.region(pointer), pointer
        assert key_region(found, pointer) == key_region(expected, pointer), pointer
        assert found.has(pointer)
        assert found.has(pointer, "key") == (key_region(expected, pointer) is not None)
        assert found.alias_site(pointer) == expected.alias_site(pointer)
    return found._outline is not None


PLAIN = """\
---
# A remark.
doorlint: 1

project:
  name: Harbour office   # invented
  codes: {IBC: 2021, "NFPA 101": 2024}
  empty:
  nothing: ~
  note: |
    two lines

    # no remark
  folded: >-
    one
    text
  quoted: "it's: fine # here"
  long: words that
    go on
  half: .5
  many: 12
openings:
  114A:
    listings:
    - UL 294
    - {a: [1, 2], b: 'x'}
    items:
      lock:
        fed_from:
          - psu.1
          - psu.2
        length: -5..20 degC
  "0101": {}
  last:
"""


def test_a_plain_text_has_an_outline_that_says_what_the_parser_says() -> None:
    assert assert_same(PLAIN)
    assert assert_same(PLAIN.replace("\n", "\r\n"))
    assert assert_same(PLAIN.removesuffix("\n"))


def test_portfolios_and_examples_have_outlines(tmp_path: Path) -> None:
    write(tmp_path, openings=60, sets=20, files=2, seed=5)
    texts = [path.read_text("utf-8") for path in sorted(tmp_path.rglob("*.yaml"))]
    texts += [path.read_text("utf-8") for path in sorted((ROOT / "examples").rglob("*.yaml"))]
    assert len(texts) > 10
    assert [text[:200] for text in texts if not assert_same(text)] == []


@pytest.mark.parametrize(
    "text",
    [
        "a: &x 1\nb: *x\n",
        "a: {b: &x 1}\nc: 2\n",
        "a: !!str 5\n",
        "a: 1\na: 2\n",
        "a:\n  b: 1\n  b: 2\n",
        "a:\tb\n",
        "a: 1\n---\nb: 2\n",
        "a: 1\n...\n",
        "? a\n: b\n",
        "a b: c: d\n",
        "a: [1\nb: 2\n",
        "a: 'x\nb: 2\n",
        "a: {b: 1\nc: 2}\n",
        "a:\n    b: 1\n  c: 2\n",
        "a: |\n  x\n# remark\n  y\n",
        "a: |+\n  x\n\n\nb: 1\n",
        "a: |\n  x",
        "a: - b\n",
        "- a\n- b\n",
        "a: b\n  c: d\n",
        "<<: {a: 1}\n",
        "a: \x07\n",
        "\ufeffa: 1\n",
        "a: b\u2028c\n",
        "a: x\r\nb: y\n",
        "",
        "# nothing\n",
        "a:\n  - |\n    x\n    # y\nb: 1\n",
        "a: @b\n",
        "a: `b`\n",
        "a: %b\n",
        f"{'k' * 1100}: 1\n",
        f"a: {'[' * 150}{']' * 150}\n",
        "".join(f"{'  ' * depth}k:\n" for depth in range(MOST_LEVELS + 5)),
        "a: {b: 1, b: 2}\n",
        "a: {b: c: d}\n",
    ],
)
def test_what_is_not_plain_is_left_to_the_parser(text: str) -> None:
    assert not assert_same(text)


SCALARS = st.sampled_from(
    [
        "x", "1", ".5", "-3", "5..20", "~", "null", "true", "a#b", "a:b", "'it''s'", '"q"', "{}", "[]", "-", "-x",
        "|", ">", "|-", ">+", "|2", "&", "*", "!", "%", "@", "?", ",", "{a:1}", "[a,b]", "0o17", "0x1F", "1e400",
        ".inf", ".nan", "2026-01-01", "é", "12:30", "a,b", "{a:", "}", "[a,", "'open", "12 V", '"a: b"', "[a, b]",
        "{a: 1}", "{a: 1, 'b c': [x]}", "{a: {b: c}}", "{a: é°}", "{a: 1,}", "{a: b c}", "{a: -}", "{a: - b}",
        "two words", "a  b", "x # remark", "x #", "# remark", "{a: b} # remark", "a: b", "- a", " x", "x ",
    ]
)
KEYS = st.sampled_from(["a", "b", "c d", '"e"', "'f g'", "1", "-", "? a", "a:b", "a/b", "<<", "k~", "x #y", "- a"])
LINES = st.builds(
    lambda indent, dash, key, colon, value: " " * indent + dash + key + colon + value,
    st.sampled_from([0, 0, 2, 2, 4, 4, 6, 1, 3]),
    st.sampled_from(["", "", "", "", "", "- ", "-"]),
    KEYS,
    st.sampled_from([": ", ": ", ": ", ":", "", " : ", ":  "]),
    st.one_of(st.just(""), SCALARS),
)
OTHERS = st.sampled_from(
    ["", "  ", "# remark", "    # remark", "      deeper text", "---", "...", "  - x", "  'q'", "}", "  ]", "\t"]
)
ENDS = st.sampled_from(["\n", "\n", "\r\n", "\r"])
TREES = st.recursive(
    st.sampled_from([1, "x", "a: b", None, "two\nlines\n", "# no", True, 0.5, "é", "- x"]),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["a", "b c", "d", "0101", "e-f"]), inner, max_size=4),
    ),
    max_leaves=12,
)


@st.composite
def spoilt(draw: st.DrawFn) -> str:
    """The plain text with a few lines put in, taken out, moved to the side or written otherwise."""
    lines = PLAIN.split("\n")
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, len(lines) - 1))
        change = draw(st.sampled_from(["in", "out", "left", "right", "value", "value", "character"]))
        if change == "in":
            lines.insert(at, draw(st.one_of(LINES, OTHERS)))
        elif change == "out":
            del lines[at]
        elif change == "left":
            lines[at] = lines[at].removeprefix("  ")
        elif change == "right":
            lines[at] = f"  {lines[at]}"
        elif change == "value":
            lines[at] = lines[at].partition(":")[0] + ": " + draw(SCALARS)
        else:
            column = draw(st.integers(0, len(lines[at])))
            lines[at] = lines[at][:column] + draw(st.sampled_from(" :-#'\"{}[],|>&*\t\u00e9x1")) + lines[at][column:]
    return "\n".join(lines)


@given(spoilt(), st.booleans())
def test_a_spoilt_text_says_what_the_parser_says(text: str, windows: bool) -> None:
    assert_same(text.replace("\n", "\r\n") if windows else text)


@given(st.lists(st.one_of(LINES, LINES, LINES, LINES, OTHERS), max_size=9), ENDS, st.booleans())
@example(["a: |", "    # x", "b: 1"], "\n", True)
@example(["a:", "- |", "  # x", "b: 1"], "\n", True)
@example(["a: x", "", "  y", "b: 1"], "\n", True)
def test_any_lines_say_what_the_parser_says(lines: list[str], end: str, closed: bool) -> None:
    assert_same(end.join(lines) + (end if closed else ""))


@given(TREES, st.sampled_from([None, True, False]))
def test_what_a_dumper_writes_is_read_as_the_parser_reads_it(tree: Any, flow: bool | None) -> None:
    text = yaml.safe_dump({"root": {"entry": tree}}, default_flow_style=flow, sort_keys=False, allow_unicode=True)
    assert_same(text)
