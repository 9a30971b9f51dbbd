"""No text breaks a feature: an invented spec cut, doubled and overwritten at random, every feature asked at random."""

from __future__ import annotations

from pathlib import Path

import pytest
from editing import SPEC, Room, kiosk
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from doorlint.document import parse
from doorlint.editor import actions, completion, hints, hover, navigation, rename

PIECES = st.sampled_from(
    ["", " ", "\n", "\r\n", "\t", ":", ": ", "- ", "{", "}", "[", "]", ",", "\"", "'", "#", "&a ", "*a", "|\n",
     "? ", "!x ",
     "e\u0301", "\U0001f6aa", "\ufeff", "\x00", "\ud800", "\u2028", "unknown", "1e400", "-", "---\n", "114A", "rc."]
)  # fmt: skip
OFFSETS = st.integers(0, len(SPEC) + 40)
EDITS = st.lists(st.tuples(OFFSETS, st.integers(0, 12), PIECES), min_size=1, max_size=5)


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> tuple[Room, Path]:
    """The invented spec, reviewed."""
    return kiosk(tmp_path_factory.mktemp("kiosk"))


@given(EDITS, st.lists(OFFSETS, min_size=1, max_size=4))
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_every_feature_has_an_answer(
    shop: tuple[Room, Path], edits: list[tuple[int, int, str]], offsets: list[int]
) -> None:
    room, path = shop
    text = SPEC
    for start, length, piece in edits:
        text = text[:start] + piece + text[start + length :]
    room.write(path, text)
    view = room.view(path)
    size = len(text)
    for offset in (min(offset, size) for offset in offsets):
        seen = hover.hover(view, offset)
        assert seen is None or 0 <= seen.start <= seen.end <= size
        offers = completion.complete(view, offset)
        assert all(0 <= offer.start <= offset <= max(offer.end, offer.start) <= size for offer in offers)
        for target in (*navigation.definition(view, offset), *navigation.references(view, offset, True)):
            assert 0 <= target.start <= target.end <= len(view.parts[target.file].text)
        try:
            changes = rename.rename(view, offset, "another")
        except rename.NoRename:
            changes = ()
        if changes:
            after = text
            for change in sorted(changes, key=lambda one: one.target.start, reverse=True):
                after = after[: change.target.start] + change.text + after[change.target.end :]
            assert parse(after).problems == parse(text).problems or len(parse(after).problems) <= len(edits)
    for symbol in navigation.symbols(view):
        assert 0 <= symbol.start <= symbol.name_start <= symbol.name_end <= symbol.end <= size
    assert all(0 <= hint.offset <= size for hint in hints.hints(view, 0, size))
    assert all(0 <= action.start <= action.end <= size for action in actions.actions(view, 0, size))


@given(EDITS)
@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_every_text_is_reviewed(shop: tuple[Room, Path], edits: list[tuple[int, int, str]]) -> None:
    room, path = shop
    text = SPEC
    for start, length, piece in edits:
        text = text[:start] + piece + text[start + length :]
    room.write(path, text).settle()
    for finding in room.findings(path):
        assert 0 <= finding.start <= finding.end <= len(text)
    room.write(path, SPEC).settle()
