"""Offsets and positions, held to the Language Server Protocol 3.17 (Microsoft, section Text Documents) and to Python's
own codecs."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint.editor.buffers import Buffer
from doorlint.editor.carry import carry
from doorlint.editor.positions import Encoding, Lines

CODECS: dict[Encoding, tuple[str, int]] = {
    "utf-8": ("utf-8", 1),
    "utf-16": ("utf-16-le", 2),
    "utf-32": ("utf-32-le", 4),
}
# letters of one to four bytes, a combining mark, tabs, and every character at which some program breaks lines
TEXTS = st.text(st.sampled_from("aé漢𐐀\u0301\t \n\r\x0b\x0c\x85\u2028"), max_size=40)
ENCODINGS = st.sampled_from(sorted(CODECS))


def units(text: str, encoding: Encoding) -> int:
    """The length of a text, by Python's codecs."""
    codec, size = CODECS[encoding]
    return len(text.encode(codec, "surrogatepass")) // size


def test_the_example_of_the_protocol() -> None:
    # LSP 3.17, Text Documents: in a𐐀b the offset of a is 0, of 𐐀 1, of b 3 in UTF-16
    assert [Lines("a𐐀b", "utf-16").position(offset) for offset in range(4)] == [(0, 0), (0, 1), (0, 3), (0, 4)]
    assert Lines("a𐐀b", "utf-8").position(2) == (0, 5)
    assert Lines("a𐐀b", "utf-32").position(2) == (0, 2)


def test_lines_end_as_in_the_protocol_and_nowhere_else() -> None:
    # LSP 3.17: EOL is '\n', '\r\n' and '\r'
    lines = Lines("a\nb\r\nc\rd\x0be\x0cf\x85g\u2028h", "utf-16")
    assert len(lines) == 4
    assert [lines.bounds(line) for line in range(4)] == [(0, 1), (2, 3), (5, 6), (7, 16)]


@pytest.mark.parametrize(
    ("line", "character", "offset"), [(0, 99, 2), (9, 0, 5), (0, -1, 0), (-1, 3, 0), (1, 1, 4), (0, 0, 0)]
)
def test_a_position_that_is_none_is_the_nearest_one(line: int, character: int, offset: int) -> None:
    # LSP 3.17, Position: a character beyond the line is the line's length
    assert Lines("ab\ncd", "utf-16").offset(line, character) == offset


def test_half_a_character_is_its_start() -> None:
    assert Lines("𐐀", "utf-16").offset(0, 1) == 0
    assert Lines("é", "utf-8").offset(0, 1) == 0


@given(TEXTS, ENCODINGS)
def test_positions_are_what_the_codecs_count(text: str, encoding: Encoding) -> None:
    lines = Lines(text, encoding)
    broken = text.replace("\r\n", "\n\0").replace("\r", "\n")
    for offset in range(len(text) + 1):
        if offset and text[offset - 1 : offset + 1] == "\r\n":
            assert lines.position(offset)[0] == broken[: offset - 1].count("\n")
            continue
        before = broken[:offset]
        line = before.replace("\0", "").count("\n")
        start = before.rfind("\n") + 1
        start += 1 if broken[start : start + 1] == "\0" else 0
        assert lines.position(offset) == (line, units(text[start:offset], encoding))
        assert lines.offset(*lines.position(offset)) == offset


@given(TEXTS, ENCODINGS, st.data())
@settings(max_examples=60)
def test_a_change_replaces_what_lies_between_its_positions(text: str, encoding: Encoding, data: st.DataObject) -> None:
    lines = Lines(text, encoding)
    places = [o for o in range(len(text) + 1) if text[max(o - 1, 0) : o + 1] != "\r\n"]
    start, end = sorted(data.draw(st.tuples(st.sampled_from(places), st.sampled_from(places))))
    new = data.draw(TEXTS)
    buffer = Buffer("untitled:1", None, 1, text)
    changed = buffer.changed([(lines.position(start), lines.position(end), new)], 2, encoding)
    assert changed.text == text[:start] + new + text[end:]
    assert (changed.version, buffer.text) == (2, text)


def test_changes_build_on_each_other_and_a_whole_text_replaces_all() -> None:
    buffer = Buffer("untitled:1", None, 1, "ab")
    edits = [((0, 1), (0, 1), "\n"), ((1, 0), (1, 1), "𐐀c"), ((1, 2), (1, 3), "d")]
    assert buffer.changed(edits, 2, "utf-16").text == "a\n𐐀d"
    assert buffer.changed(["x", ((0, 1), (0, 1), "y")], 3, "utf-16").text == "xy"


@given(TEXTS, TEXTS, TEXTS, TEXTS)
def test_what_is_carried_reads_the_same(front: str, old: str, new: str, back: str) -> None:
    before, after = f"{front}1{old}1{back}", f"{front}2{new}2{back}"
    way = carry(before, after)
    for start in range(len(before) + 1):
        for end in (start, min(start + 2, len(before))):
            found = way.region(start, end)
            if found is not None:
                assert after[found[0] : found[1]] == before[start:end]
            else:
                assert before != after
    # all of the front and of the back is found again
    assert way.region(0, len(front)) == (0, len(front))
    found = way.region(len(before) - len(back), len(before))
    assert found is not None and after[slice(*found)] == back
    for offset in range(len(after) + 1):
        then = way.back(offset)
        assert then is not None or len(front) < offset < len(after) - len(back)
        assert then is None or way.region(then, then) == (offset, offset)


def test_equal_texts_carry_every_place_to_itself() -> None:
    assert carry("abc", "abc").region(1, 2) == (1, 2)
    assert carry("abc", "abc").back(3) == 3
