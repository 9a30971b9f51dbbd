"""What stands under the cursor, found in the parsed document and from the lines alone: both have to agree."""

from __future__ import annotations

import pytest
from editing import EXAMPLES, SPEC, at

from doorlint.document import parse
from doorlint.editor.spot import Spot, pointer, spot_at, tokens_of, value_at, walk
from doorlint.editor.typing_at import typing_at

FILES = sorted(EXAMPLES.glob("*/**/*.yaml"))
LAYOUTS = """\
a:
- b: {c: [1, {d: e}], "f g": 'h: i'}
  j:
    - k
    - l: m   # n: o
p: {
  q: r,
  s: {t: u},
}
v:

  w: "x # y"
"""


def listed(tokens: tuple[str, ...]) -> tuple[str, ...]:
    """A way whose indices are all 0: from the lines alone they are not counted."""
    return tuple("0" if token.isdecimal() else token for token in tokens)


@pytest.mark.parametrize("text", [SPEC, LAYOUTS, *(path.read_text() for path in FILES)], ids=lambda text: text[-20:])
def test_the_lines_tell_the_same_place_as_the_parser(text: str) -> None:
    document = parse(text)
    spots = [spot for spot in walk(document) if spot.start < spot.end and text[spot.start] != "|"]
    assert spots
    for spot in spots[:: max(1, len(spots) // 400)]:
        found = typing_at(text, spot.end)
        assert found is not None, spot
        inside = spot.part == "value" and not spot.tokens[-1].isdecimal()
        way = (*found.path, found.key) if inside else found.path
        expected = spot.tokens if spot.part == "value" else spot.tokens[:-1]
        if spot.part == "value" and spot.tokens[-1].isdecimal():
            way = found.path
        assert listed(way) == listed(expected), (spot, found)
        assert (found.start, found.end) == (spot.start, spot.end), (spot, found)


@pytest.mark.parametrize("text", [SPEC, LAYOUTS], ids=["spec", "layouts"])
def test_every_key_and_scalar_is_found_at_each_of_its_characters(text: str) -> None:
    document = parse(text)
    for spot in walk(document):
        for offset in range(spot.start, spot.end + 1):
            assert spot_at(document, offset) == spot


def test_between_the_words_there_is_nothing() -> None:
    document = parse("a:   b\n\n# c\nd: e\n")
    assert spot_at(document, 3) is None
    assert spot_at(document, 9) is None
    assert spot_at(parse(""), 0) is None
    assert spot_at(parse("a: *b\nb: &b {c: d}\n"), 4) == Spot(("a",), "value", 3, 5, None)


def test_ways_and_pointers_are_the_same() -> None:
    # RFC 6901, section 3: ~ is written ~0, / is written ~1
    assert pointer(("a/b", "m~n", "0")) == "/a~1b/m~0n/0"
    assert tokens_of("/a~1b/m~0n/0") == ("a/b", "m~n", "0")
    assert value_at({"a/b": {"m~n": [7]}}, ("a/b", "m~n", "0")) == 7
    assert value_at({"a": 1}, ("a", "b")) is None


CASES = {
    "a key on a line of its own": ("openings:\n  A1:\n    se|\n", ("openings", "A1"), "key", "", "se"),
    "a key on an empty line": ("openings:\n  A1:\n    set: X\n    |\n", ("openings", "A1"), "key", "", ""),
    "a value": ("openings:\n  A1:\n    set: H|W\n", ("openings", "A1"), "value", "set", "HW"),
    "a value right behind the colon": ("openings:\n  A1:\n    set:|\n", ("openings", "A1"), "value", "set", ""),
    "a bracket left open": ("a:\n  b: {c: d, e|\n  f: g\n", ("a", "b"), "key", "", "e"),
    "a value in a bracket left open": ("a:\n  b: {c: d, e: f|\n  g: h\n", ("a", "b"), "value", "e", "f"),
    "a bracket over lines": ("a:\n  b: {\n    c: d,\n    e: |\n  }\n", ("a", "b"), "value", "e", ""),
    "a list in a bracket": ("a: {b: [c, d|]}\n", ("a", "b", "1"), "value", "b", "d"),
    "an entry of a list": ("a:\n  - b: c\n    d: e|\n", ("a", "0"), "value", "d", "e"),
    "a list at the edge": ("a:\n- b: c\n  d|\n", ("a", "0"), "key", "", "d"),
    "a quote left open": ('a:\n  b: "c|\nd: e\n', ("a",), "value", "b", '"c'),
    "after lines that are no YAML": ("a:\n  b: {c\n  }} :\n  d:\n    e|\n", ("a", "d"), "key", "", "e"),
}


@pytest.mark.parametrize("case", CASES)
def test_what_is_being_written(case: str) -> None:
    marked, path, what, key, word = CASES[case]
    text = marked.replace("|", "")
    found = typing_at(text, at(text, marked) if marked.count("|") == 1 else 0)
    assert found is not None
    assert (found.path, found.what, found.key, text[found.start : found.end]) == (path, what, key, word)


@pytest.mark.parametrize("line_end", ["\n", "\r\n", "\r"])
def test_line_ends_change_nothing(line_end: str) -> None:
    marked = "openings:\n  A1:\n    title: x\n    set: H|\n    note: y\n".replace("\n", line_end)
    found = typing_at(marked.replace("|", ""), marked.index("|"))
    assert found is not None
    assert (found.path, found.key, found.siblings) == (("openings", "A1"), "set", {"title": "x", "note": "y"})


def test_the_other_keys_of_a_mapping_are_known() -> None:
    text = "a:\n  b: c\n  d: {e: f}\n  g\n  h: i\nj: k\n"
    found = typing_at(text, text.index("g") + 1)
    assert found is not None and found.siblings == {"b": "c", "d": "{e: f}", "h": "i"}
    text = "a: {b: c, d, e: {f: g}, h: i}\n"
    found = typing_at(text, text.index("d") + 1)
    assert found is not None and set(found.siblings) == {"b", "e", "h"}


def test_in_a_comment_nothing_is_written() -> None:
    assert typing_at("a: b # c", 7) is None
    assert typing_at("a: b#c", 6) is not None


def test_no_text_breaks_it() -> None:
    for path in FILES[:4]:
        text = path.read_text()[:4000]
        for offset in range(0, len(text), 7):
            typing_at(text[:offset], offset)
            typing_at(text[offset:], 0)
            typing_at(text[:offset] + "{" + text[offset + 3 :], offset + 1)
