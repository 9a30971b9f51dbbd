"""Reading YAML text: places, kinds of value, and texts that are wrong."""

from __future__ import annotations

import math
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import example, given, settings
from hypothesis import strategies as st

from doorlint import document
from doorlint.document import HAVE_LIBYAML, Document, Limits, Region, load, parse, read_text

SPEC = """\
# an invented door
doorlint: 1
project: {name: Ferry Terminal, built: 2026-01-01}
openings:
  "114A":                 # the key looks like text
    set: HW-04
    load: 120
    hold_open: false
    rating:
    note: |
      two lines
      of text

    # a comment after the text
    items:
    - 62 m
    - &run {length: 9 m, spare: ~}
  101: *run
"""


@pytest.fixture(params=[True, False], ids=["libyaml", "pure"])
def either_parser(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Run a test with both of PyYAML's parsers; one is the oracle of the other."""
    if request.param and not HAVE_LIBYAML:
        pytest.skip("this PyYAML has no libyaml")
    monkeypatch.setattr(document, "HAVE_LIBYAML", request.param)


def pointers(tree: Any, pointer: str = "") -> Iterator[tuple[str, Any]]:
    yield pointer, tree
    if isinstance(tree, dict):
        for key, value in tree.items():
            yield from pointers(value, pointer + "/" + key.replace("~", "~0").replace("/", "~1"))
    elif isinstance(tree, list):
        for number, value in enumerate(tree):
            yield from pointers(value, f"{pointer}/{number}")


def check_places(read: Document) -> None:
    """Every value has a place inside the text, every child inside its parent (unless an alias led there)."""
    for pointer, _ in pointers(read.tree):
        region = read.region(pointer)
        assert 0 <= region.start <= region.end <= len(read.text)
        line, column = read.position(region.start)
        assert read.line_text(line)[column - 1 :].startswith(read.source(region).split("\n")[0].split("\r")[0])
        if pointer:
            parent = read.region(pointer.rpartition("/")[0])
            assert parent.start <= region.start
            assert region.end <= parent.end
    for problem in read.problems:
        assert 0 <= problem.region.start <= problem.region.end <= len(read.text)
        for _, region in problem.related:
            assert 0 <= region.start <= region.end <= len(read.text)


def codes(read: Document) -> list[str]:
    return [problem.code for problem in read.problems]


# -- places --------------------------------------------------------------------------------------------------


@pytest.mark.usefixtures("either_parser")
@pytest.mark.parametrize(
    ("pointer", "source"),
    [
        ("/doorlint", "1"),
        ("/project", "{name: Ferry Terminal, built: 2026-01-01}"),
        ("/project/built", "2026-01-01"),
        ("/openings/114A/set", "HW-04"),
        ("/openings/114A/load", "120"),
        ("/openings/114A/hold_open", "false"),
        ("/openings/114A/rating", ""),
        ("/openings/114A/note", "|\n      two lines\n      of text"),
        ("/openings/114A/items", "- 62 m\n    - &run {length: 9 m, spare: ~}"),
        ("/openings/114A/items/0", "62 m"),
        ("/openings/114A/items/1", "{length: 9 m, spare: ~}"),
        ("/openings/114A/items/1/spare", "~"),
        ("/openings/101", "*run"),
        ("/openings/101/length", "*run"),
    ],
)
def test_value_region(pointer: str, source: str) -> None:
    read = parse(SPEC)
    assert read.problems == ()
    assert read.source(read.region(pointer)) == source


@pytest.mark.usefixtures("either_parser")
def test_key_regions_and_positions() -> None:
    read = parse(SPEC)
    assert read.source(read.region("/openings/114A", "key")) == '"114A"'
    assert read.source(read.region("/openings/101", "key")) == "101"
    assert read.source(read.region("/openings/101/length", "key")) == "*run"
    rating = read.region("/openings/114A/rating")
    assert rating.start == rating.end == read.region("/openings/114A/rating", "key").end + 1
    assert read.position(read.region("/openings/114A/load").start) == (7, 11)
    assert read.line_text(7) == "    load: 120"
    assert read.region("").end == read.region("/openings/101").end


def test_alias_knows_both_places() -> None:
    read = parse(SPEC)
    site = read.alias_site("/openings/101")
    assert site is not None
    assert read.source(site) == "{length: 9 m, spare: ~}"
    inside = read.alias_site("/openings/101/length")
    assert inside is not None
    assert read.source(inside) == "9 m"
    assert read.alias_site("/openings/114A/items/1") is None
    assert read.tree["openings"]["101"] is read.tree["openings"]["114A"]["items"][1]


def test_pointer_that_does_not_exist_is_a_key_error() -> None:
    read = parse("a: [1, {b/c~d: 2}]")
    assert read.source(read.region("/a/1/b~1c~0d")) == "2"
    assert read.has("/a/0")
    for wrong in ("/x", "/a/2", "/a/-1", "/a/01", "/a/0/x", "a", "/"):
        assert not read.has(wrong)
        with pytest.raises(KeyError):
            read.region(wrong)
    for keyless in ("", "/a/0"):
        with pytest.raises(KeyError):
            read.region(keyless, "key")


@pytest.mark.usefixtures("either_parser")
@pytest.mark.parametrize("lead", ["", "\ufeff", "\ufeff\ufeff"])
@pytest.mark.parametrize("line_break", ["\n", "\r\n", "\r"])
def test_places_survive_marks_astral_characters_and_line_breaks(lead: str, line_break: str) -> None:
    text = lead + f'a: "\U0001f6aa \u00e9"{line_break}b:{line_break}  - \U0001f511 # x{line_break}  - 7{line_break}'
    read = parse(text)
    assert read.problems == ()
    assert read.tree == {"a": "\U0001f6aa \u00e9", "b": ["\U0001f511", 7]}
    assert read.source(read.region("/a")) == '"\U0001f6aa \u00e9"'
    assert read.source(read.region("/b/1")) == "7"
    assert read.position(read.region("/b/1").start) == (4, 5)
    assert read.line_text(3) == "  - \U0001f511 # x"


@pytest.mark.usefixtures("either_parser")
@pytest.mark.parametrize(
    ("text", "pointer", "source"),
    [
        ("a: !!str  7", "/a", "7"),
        ("a: &x\n  b: 1\nc: *x", "/a", "b: 1"),
        ("a: &x # why\n  - 1\n\n# end\n", "/a", "- 1"),
        ("{a, b : , c: }", "/a", ""),
        ("{a, b : , c: }", "/b", ""),
        ("[a: 1 , b]", "/0", "a: 1"),
        ("? a\n: 1\n", "/a", "1"),
        ("a: x\n  y\n\nb: 1", "/a", "x\n  y"),
        ("a: |\n\nb: 1", "/a", "|"),
        ("a: >-\n  x\n\n\nb: 1", "/a", ">-\n  x"),
        ("- - 1\n  - 2\n# end", "/0", "- 1\n  - 2"),
    ],
)
def test_harder_places(text: str, pointer: str, source: str) -> None:
    read = parse(text)
    assert codes(read) == []
    assert read.source(read.region(pointer)) == source


class Written:
    """YAML text in the making that remembers where each key and value was put: the oracle of the property test."""

    def __init__(self, line_break: str) -> None:
        self.line_break = line_break
        self.text = ""
        self.values: dict[str, str] = {}
        self.keys: dict[str, str] = {}

    def put(self, text: str) -> str:
        self.text += text
        return text


WORDS = st.text("abcxyz\u00e9\u4e2d\U0001f6aa", min_size=1, max_size=6)
SCALARS = st.one_of(st.integers(-999, 9999), st.booleans(), st.none(), WORDS, WORDS.map(lambda w: f"{w} {w}/~'"))
TREES = st.recursive(
    SCALARS,
    lambda inner: (
        st.lists(inner, min_size=1, max_size=4)
        | st.dictionaries(
            st.one_of(WORDS, st.sampled_from(["12", "a/b", "~x", "true", "a b"])), inner, min_size=1, max_size=4
        )
    ),
    max_leaves=20,
)


@st.composite
def written_documents(draw: st.DrawFn) -> tuple[Any, Written]:
    tree = draw(TREES)
    out = Written(draw(st.sampled_from(["\n", "\r\n"])))

    def scalar_text(value: str | bool | int | None) -> str:
        if value is None:
            return draw(st.sampled_from(["~", "null", "Null", ""]))
        if isinstance(value, bool):
            return draw(st.sampled_from([str(value), str(value).lower(), str(value).upper()]))
        if isinstance(value, int):
            return draw(st.sampled_from([str(value), hex(value) if value >= 0 else str(value)]))
        doubled = "'" + value.replace("'", "''") + "'"
        return draw(st.sampled_from([value, f'"{value}"', doubled]))

    def key_text(key: str) -> str:
        return draw(st.sampled_from([key, f'"{key}"', f"'{key}'"]))

    def comment() -> None:
        if draw(st.booleans()):
            out.put("  # [not: data")
        out.put(out.line_break)
        if draw(st.integers(0, 3)) == 0:
            out.put(out.line_break)

    def child(pointer: str, key: str) -> str:
        return pointer + "/" + key.replace("~", "~0").replace("/", "~1")

    def flow(value: Any, pointer: str) -> None:
        start = len(out.text)
        if isinstance(value, dict | list):
            out.put("{" if isinstance(value, dict) else "[")
            pairs = value.items() if isinstance(value, dict) else enumerate(value)
            for number, (key, inner) in enumerate(pairs):
                out.put(", " if number else "")
                at = child(pointer, str(key))
                if isinstance(value, dict):
                    out.keys[at] = out.put(key_text(str(key)))
                    out.put(": ")
                flow(inner, at)
            out.put("}" if isinstance(value, dict) else "]")
        else:
            out.put(scalar_text(value) or "~")
        out.values[pointer] = out.text[start:]

    def block(value: Any, pointer: str, indent: int) -> None:
        """Write below a key or dash; the caller has put no line break yet."""
        if not isinstance(value, dict | list):
            text = scalar_text(value)
            out.put(" " if text else "")
            out.values[pointer] = out.put(text)
            comment()
            return
        if draw(st.integers(0, 3)) == 0:
            out.put(" ")
            flow(value, pointer)
            comment()
            return
        comment()
        start = end = -1
        pairs = value.items() if isinstance(value, dict) else enumerate(value)
        for key, inner in pairs:
            at = child(pointer, str(key))
            out.put(" " * indent)
            start = len(out.text) if start < 0 else start
            if isinstance(value, dict):
                out.keys[at] = out.put(key_text(str(key)))
                out.put(":")
            else:
                out.put("-")
            before = len(out.text)
            block(inner, at, indent + 2)
            # The last value ends the collection: comments and blank lines after it do not belong to it.
            lead = out.text[before:].index(out.values[at]) if out.values[at] else 0
            end = before + lead + len(out.values[at])
        out.values[pointer] = out.text[start:end]

    if isinstance(tree, dict | list):
        out.put("---")
        block(tree, "", 0)
    else:
        out.values[""] = out.put(scalar_text(tree) or "~")
    return tree, out


@settings(max_examples=150, deadline=None)
@given(written_documents())
def test_every_region_slices_back_to_its_source(made: tuple[Any, Written]) -> None:
    tree, out = made
    read = parse(out.text)
    assert read.problems == ()
    assert read.tree == tree
    assert {pointer: read.source(read.region(pointer)) for pointer in out.values} == out.values
    assert {pointer: read.source(read.region(pointer, "key")) for pointer in out.keys} == out.keys
    assert {pointer for pointer, _ in pointers(tree)} == set(out.values)
    check_places(read)


@settings(max_examples=100, deadline=None)
@given(
    TREES,
    st.sampled_from([True, False, None]),
    st.sampled_from([None, '"', "'"]),
    st.sampled_from(["\n", "\r\n"]),
    st.integers(2, 6),
    st.booleans(),
)
def test_content_and_marks_agree_with_pyyaml(
    tree: Any, flow: bool | None, style: str | None, line_break: str, indent: int, unicode: bool
) -> None:
    """Oracles: PyYAML's own loader for the content, its pure composer for the marks of scalars."""
    text: str = yaml.safe_dump(
        tree,
        default_flow_style=flow,
        default_style=style,
        line_break=line_break,
        indent=indent,
        allow_unicode=unicode,
        width=30,
    )
    read = parse(text)
    assert read.problems == ()
    assert read.tree == yaml.safe_load(text)

    def compare(node: yaml.Node, pointer: str) -> None:
        if isinstance(node, yaml.ScalarNode):
            region = read.region(pointer)
            if node.tag == "tag:yaml.org,2002:str" or not text[node.start_mark.index :].startswith("!"):
                assert (region.start, region.end) == (node.start_mark.index, node.end_mark.index)
            else:  # PyYAML counts the tag in, we do not
                assert node.start_mark.index < region.start
                assert region.end == node.end_mark.index
        elif isinstance(node, yaml.SequenceNode):
            for number, inner in enumerate(node.value):
                compare(inner, f"{pointer}/{number}")
        elif isinstance(node, yaml.MappingNode):
            for key, inner in node.value:
                at = pointer + "/" + key.value.replace("~", "~0").replace("/", "~1")
                region = read.region(at, "key")
                if not text[key.start_mark.index :].startswith(("!", "?")):
                    assert (region.start, region.end) == (key.start_mark.index, key.end_mark.index)
                compare(inner, at)

    root = yaml.compose(text, Loader=yaml.SafeLoader)
    assert root is not None
    compare(root, "")


# -- kinds of value: the core schema of YAML 1.2.2 -----------------------------------------------------------


@pytest.mark.usefixtures("either_parser")
@pytest.mark.parametrize(
    ("written", "value"),
    [
        # What YAML 1.1 readers make of these: 750, True, False, 8, text, a date.
        ("12:30", "12:30"),
        ("on", "on"),
        ("no", "no"),
        ("010", 10),
        ("1e3", 1000.0),
        ("2026-01-01", "2026-01-01"),
        # YAML 1.2.2, section 10.3.2
        ("null", None),
        ("~", None),
        ("NULL", None),
        ("nUll", "nUll"),
        ("TRUE", True),
        ("False", False),
        ("tRue", "tRue"),
        ("0o17", 15),
        ("0x1F", 31),
        ("-0x1F", "-0x1F"),
        ("0b11", "0b11"),
        ("+12", 12),
        ("1_000", "1_000"),
        ("-.5", -0.5),
        ("7.", 7.0),
        (".", "."),
        ("-", ["-"]),
        ("+", "+"),
        ("12 V", "12 V"),
        (".inf", math.inf),
        ("-.Inf", -math.inf),
        # Kept as written: no float holds them
        ("1e400", "1e400"),
        ("9" * 101, "9" * 101),
        ("'12'", "12"),
        ('"true"', "true"),
        ("=", "="),
    ],
)
def test_plain_scalars(written: str, value: object) -> None:
    read = parse(f"a: {written}")
    if value == ["-"]:  # a dash alone opens a list item
        assert codes(read) == ["syntax"]
        return
    assert read.problems == ()
    assert read.tree == {"a": value}
    assert type(read.tree["a"]) is type(value)
    assert read.source(read.region("/a")) == written


def test_not_a_number() -> None:
    assert math.isnan(parse(".nan").tree)


@pytest.mark.usefixtures("either_parser")
def test_keys_are_their_text() -> None:
    read = parse("101: a\non: b\n1.50: c\n~: d\n<<: {e: 1}\n2026-01-01: f\n")
    assert list(read.tree) == ["101", "on", "1.50", "~", "<<", "2026-01-01"]
    assert read.problems == ()


@pytest.mark.usefixtures("either_parser")
@pytest.mark.parametrize(
    ("written", "value", "problems"),
    [
        ("!!str 12", "12", []),
        ("! 12", "12", []),
        ('!!int "12"', 12, []),
        ("!!float 12", 12.0, []),
        ("!!bool true", True, []),
        ("!!null ''", None, []),
        ("!!int true", "true", ["tag"]),
        ("!!int twelve", "twelve", ["tag"]),
        ("!!timestamp 2026-01-01", "2026-01-01", ["tag"]),
        ("!door 12", 12, ["tag"]),
        ("!door {b: 1}", {"b": 1}, ["tag"]),
        ("!!map {b: 1}", {"b": 1}, []),
        ("!!set {b: }", {"b": None}, ["tag"]),
    ],
)
def test_tags(written: str, value: object, problems: list[str]) -> None:
    read = parse(f"a: {written}")
    assert codes(read) == problems
    assert read.tree == {"a": value}
    assert type(read.tree["a"]) is type(value)


# -- what is wrong -------------------------------------------------------------------------------------------


@pytest.mark.usefixtures("either_parser")
def test_second_of_two_equal_keys_is_reported_and_the_first_kept() -> None:
    read = parse("a: 1\nb: &x {c: 2}\n'a': &y {d: 3}\ne: *y\n")
    (problem,) = read.problems
    assert problem.code == "duplicate-key"
    assert '"a"' in problem.message
    assert read.source(problem.region) == "'a'"
    ((_, first),) = problem.related
    assert first == Region(0, 1)
    assert read.tree == {"a": 1, "b": {"c": 2}, "e": {"d": 3}}
    site = read.alias_site("/e/d")
    assert site is not None
    assert read.source(site) == "3"
    check_places(read)


@pytest.mark.usefixtures("either_parser")
@pytest.mark.parametrize(
    ("text", "at", "tree"),
    [
        ("a: 1\nb: [1, 2\nc: 3\n", ":", {"a": 1}),
        ("a: {b: 1}\nc: {d: 2, e\n", "", {"a": {"b": 1}}),
        ("a:\n  b: 1\n c: 2\n", "c:", {"a": {"b": 1}}),
        ("a: 1\nb: 'x\nc: 2\n", "'x", {"a": 1}),
        ("a: 1\nb: x: y\n", ":", {"a": 1}),
        ("a: 1\nb\nc: 2\n", "b", {"a": 1}),
        ("a: 1\nb:\n\tc: 2\n", "\t", {"a": 1}),
        ("a: 1\nb: @x\n", "@x", {"a": 1}),
        ("a: 1\nb: 'x' y\n", "y", {"a": 1}),
        ('a: 1\nb: "\\q"\n', '\\q"', {"a": 1}),
        ("a: 1\nb: 2\n  c: 3\n", ":", {"a": 1}),
        ("- 1\n- - 2\n- {a: 1}\n- 3\nb\n", "b", [1, [2], {"a": 1}, 3]),
        (
            "openings:\n  x: {a: 1}\n  y:\n    set: HW\n    from: 'u' v\n",
            "v",
            {"openings": {"x": {"a": 1}, "y": {"set": "HW"}}},
        ),
    ],
)
def test_syntax_error_keeps_the_readable_prefix(text: str, at: str, tree: object) -> None:
    read = parse(text)
    (problem,) = read.problems
    assert problem.code == "syntax"
    assert read.source(problem.region) == at
    assert "expected" in problem.message
    assert read.tree == tree
    check_places(read)


def test_text_that_ran_on_is_not_trusted() -> None:
    """`b` swallows the list item below it before the error shows."""
    read = parse("a:\n  x: 1\n  b: 2\n   - tag\n   c: 3\n")
    assert codes(read) == ["syntax"]
    assert read.tree == {"a": {"x": 1}}


@pytest.mark.usefixtures("either_parser")
def test_keys_that_are_no_text() -> None:
    read = parse("? [a, b]\n: {c: &x 1}\nd: *x\n? *x\n: 2\n?\n: 3\ne: 4\n")
    assert codes(read) == ["key", "key", "key"]
    assert [read.source(problem.region) for problem in read.problems] == ["[a, b]", "*x", ""]
    assert read.tree == {"d": 1, "e": 4}
    assert read.source(read.region("/e")) == "4"


@pytest.mark.usefixtures("either_parser")
def test_one_document_per_file() -> None:
    read = parse("a: 1\n---\nb: 2\n")
    assert codes(read) == ["documents"]
    assert read.tree == {"a": 1}
    assert parse("%YAML 1.2\n---\na: 1\n...\n").problems == ()


@pytest.mark.usefixtures("either_parser")
def test_aliases_without_value() -> None:
    read = parse("a: *nowhere\nb: &loop [1, *loop]\nc: &k 5\nd: &k 6\ne: *k\n")
    assert codes(read) == ["alias", "alias"]
    assert read.source(read.problems[1].region) == "*loop"
    assert read.tree == {"a": None, "b": [1, None], "c": 5, "d": 6, "e": 6}


def test_anchor_on_a_key() -> None:
    read = parse("&k 12: 1\nb: *k\n")
    assert read.tree == {"12": 1, "b": 12}
    assert read.problems == ()
    check_places(parse("b: {&k 12: 1, c: *k}"))


# -- limits --------------------------------------------------------------------------------------------------


def expanded(tree: Any) -> int:
    inner = tree.values() if isinstance(tree, dict) else tree if isinstance(tree, list) else ()
    return 1 + sum(map(expanded, inner))


def test_alias_bomb_is_cut() -> None:
    lines = ["a0: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{i}: &a{i} [" + ", ".join([f"*a{i - 1}"] * 10) + "]" for i in range(1, 12)]
    read = parse("\n".join(lines), limits=Limits(expansion=10_000))
    assert set(codes(read)) == {"limit"}
    assert expanded(read.tree) <= 10_000 + 500


def test_limit_on_expansion_is_exact() -> None:
    text = "a: &x [1, 2]\nb: *x\nc: *x\n"
    assert parse(text, limits=Limits(expansion=4)).problems == ()
    read = parse(text, limits=Limits(expansion=3))
    assert codes(read) == ["limit"]
    assert read.tree == {"a": [1, 2], "b": [1, 2], "c": None}


def depth(tree: Any) -> int:
    inner = tree.values() if isinstance(tree, dict) else tree if isinstance(tree, list) else None
    return 0 if inner is None else 1 + max(map(depth, inner), default=0)


@pytest.mark.parametrize("text", ["[" * 20 + "]" * 20, "- " * 20 + "x", "{a: " * 20 + "x" + "}" * 20])
def test_limit_on_depth_is_exact(text: str) -> None:
    assert parse(text, limits=Limits(depth=20)).problems == ()
    read = parse(text + "\n", limits=Limits(depth=19))
    assert codes(read) == ["limit"]
    assert depth(read.tree) == 19
    check_places(read)


def test_aliases_cannot_nest_deeper_than_the_limit() -> None:
    lines = ["a0: &a0 [x]"] + [f"a{i}: &a{i} [*a{i - 1}]" for i in range(1, 500)]
    read = parse("\n".join(lines))
    assert depth(read.tree) == Limits().depth
    assert "limit" in codes(read)


def test_limits_on_scalars_are_exact() -> None:
    """A key as long as YAML 1.2.2 (section 8.2.2) allows one without `?`; those behind it have no limit there."""
    text = "a: 12345\n? " + "k" * 6 + "\n: b\nc: |\n  123456\n"
    assert parse(text, limits=Limits(scalar=7, key=6)).problems == ()
    read = parse(text, limits=Limits(scalar=6, key=5))
    assert codes(read) == ["limit", "limit"]
    assert read.tree == {"a": 12345, "c": None}
    assert [read.source(problem.region) for problem in read.problems] == ["kkkkkk", "|\n  123456"]
    for longest, style in ((1024, '"'), (1024, "'"), (1024, "")):
        key = "k" * longest
        assert parse(f"? {style}{key}{style}\n: 1").tree == {key: 1}
        assert parse(f"? {style}{key}k{style}\n: 1").tree == {}
    assert codes(parse("a: &x " + "v" * 20 + "\nb: *x\n", limits=Limits(scalar=19))) == ["limit", "alias"]


def test_limits_on_nodes_and_size() -> None:
    text = "[1, 2, 3]"
    assert parse(text, limits=Limits(nodes=4)).problems == ()
    read = parse(text, limits=Limits(nodes=3))
    assert codes(read) == ["limit"]
    assert read.tree == [1, 2]
    assert parse(text, limits=Limits(size=9)).problems == ()
    assert codes(parse(text, limits=Limits(size=8))) == ["limit"]


def test_problems_are_not_listed_without_end() -> None:
    read = parse("\n".join(f"a: {i}" for i in range(1000)))
    assert len(read.problems) == 201
    assert read.problems[-1].code == "limit"
    assert read.problems[150].related[0][1] == Region(0, 1)


def test_first_places_of_many_equal_keys() -> None:
    text = "".join(f"k{i}: {{v: 1}}\n" for i in range(90))
    read = parse(text + "new: 1\n" + text + "new: 2\n")
    assert len(read.problems) == 91
    for problem in read.problems:
        ((_, first),) = problem.related
        assert read.source(first) == read.source(problem.region)
        assert first.start < problem.region.start
    assert first.start == len(text)


# -- characters and files ------------------------------------------------------------------------------------


def test_control_characters_are_told_of_in_plain_ascii_too() -> None:
    """YAML 1.2.2, section 5.1: of the ASCII range a text may hold tab, LF, CR and what is printable."""
    for code in range(128):
        allowed = code in (0x09, 0x0A, 0x0D) or 0x20 <= code <= 0x7E
        for text in (f"a: x{chr(code)}y\nb: 2\n", f"a: 1\n# a remark {chr(code)}\nb: 2\n"):
            assert ("encoding" in codes(parse(text))) == (not allowed), hex(code)


@pytest.mark.usefixtures("either_parser")
def test_forbidden_characters_are_reported_where_they_stand() -> None:
    read = parse("a: x\x00y\nb: \ud800\nc: 3\n")
    assert codes(read) == ["encoding", "encoding"]
    assert [problem.region.start for problem in read.problems] == [4, 10]
    assert "U+0000" in read.problems[0].message
    assert read.tree == {"a": "x\ufffdy", "b": "\ufffd", "c": 3}


@pytest.mark.usefixtures("either_parser")
def test_nel_and_the_separators_break_no_line() -> None:
    """YAML 1.2.2, section 5.4; PyYAML follows 1.1 and would see new keys here."""
    read = parse("a: b\x85c: d\nx: y\u2028z\nq: \u2029\n".replace("c: d", "cd"))
    assert read.problems == ()
    assert read.tree == {"a": "b\x85cd", "x": "y\u2028z", "q": "\u2029"}
    assert read.position(read.region("/x").start) == (2, 4)


def test_files(tmp_path: Path) -> None:
    path = tmp_path / "door.yaml"
    text = "a: \u00e9\u4e2d\U0001f6aa\n"
    for encoding in ("utf-8", "utf-8-sig", "utf-16", "utf-32"):
        path.write_bytes(text.encode(encoding))
        read = load(path)
        assert read.problems == ()
        assert read.tree == {"a": "\u00e9\u4e2d\U0001f6aa"}
        assert read.source(read.region("/a")) == "\u00e9\u4e2d\U0001f6aa"
    path.write_bytes("a: 1\nb: \u00e9\n".encode("latin-1"))
    read = load(path)
    assert codes(read) == ["encoding"]
    assert read.tree is None
    assert read.position(read.problems[0].region.start) == (2, 4)
    assert codes(load(path, Limits(size=3))) == ["limit"]
    with pytest.raises(OSError, match="absent"):
        load(tmp_path / "absent.yaml")


@pytest.mark.parametrize("text", ["", "\n", "# nothing\n", "---\n", "\ufeff"])
def test_empty_texts(text: str) -> None:
    read = parse(text)
    assert read.tree is None
    assert read.problems == ()
    assert read.has("")
    assert read.source(read.region("")) == ""
    assert read.position(0) == (1, 1)


# -- no text makes it raise ----------------------------------------------------------------------------------

# fmt: off
FRAGMENTS = st.lists(
    st.sampled_from([
        "a", "b", ": ", ":", "\n", "\n  ", "\n    ", "- ", "[", "]", "{", "}", ", ", '"', "'", "|", ">-\n", "#c", "? ",
        "&a ", "*a ", "&b ", "*b ", "!x ", "!!int ", "!<a> ", "~", "<<", "12", "1e400", "\\", "@", "---", "...",
        "%YAML 1.2", "%YAML 99999999999999999999.1", "%TAG ! a", '"\\u12"', '"\\UFFFFFFFF"', '"\\ud83d"',
        "\t", "\r\n", "\x85", "\u2028", "\ufeff", "\x00", "\ud800", "\U0001f6aa",
    ]),
    max_size=30,
).map("".join)
# fmt: on


def mutated(text: str, cuts: list[tuple[int, int, str]]) -> str:
    for place, length, put in cuts:
        start = place % (len(text) + 1)
        text = text[:start] + put + text[start + length :]
    return text


MUTATED = st.lists(
    st.tuples(
        st.integers(0, 600), st.integers(0, 8), st.sampled_from(["", " ", "\n", ":", "[", "'", "\t", "- ", "&a"])
    ),
    max_size=4,
).map(lambda cuts: mutated(SPEC, cuts))
ANY_TEXT = st.one_of(st.text(st.characters(exclude_categories=[])), FRAGMENTS, MUTATED)
SMALL = st.builds(Limits, nodes=st.integers(0, 9), depth=st.integers(0, 4), expansion=st.integers(0, 5))


@pytest.mark.parametrize("libyaml", [True, False])
@settings(max_examples=250, deadline=None)
@given(text=ANY_TEXT, limits=st.one_of(st.just(Limits()), SMALL))
@example(text="? [a", limits=Limits())
@example(text="%YAML 1." + "9" * 5000, limits=Limits())
@example(text='"\\UFFFFFFFF"', limits=Limits())
@example(text='{"\\ud83d": "\\udc00"}', limits=Limits())
def test_no_text_makes_it_raise(libyaml: bool, text: str, limits: Limits) -> None:
    if libyaml and not HAVE_LIBYAML:
        pytest.skip("this PyYAML has no libyaml")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(document, "HAVE_LIBYAML", libyaml)
        read = parse(text, limits=limits)
    check_places(read)
    for problem in read.problems:
        problem.message.encode()
    for pointer, value in pointers(read.tree):
        assert read.has(pointer)
        pointer.encode()
        str(value).encode()


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=60))
@example(b"\xff\xfea")
@example(b"\xff\xfe\x00\x00a")
def test_no_bytes_make_it_raise(data: bytes) -> None:
    check_places(read_text(data))
