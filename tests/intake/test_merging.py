"""Several intakes into one spec: from one source that changes, from several sources, with an author at work between.

The merge is checked against a plain model of what it promises (`_Promise`), which knows nothing of files: for each
field the source's word, the author's word, and who spoke last.
"""

from __future__ import annotations

import random
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint.cli import run
from doorlint.document import parse
from doorlint.intake.edit import Edits, edited
from doorlint.intake.records import Cell, IntakeProblem, Record, Value, Written
from doorlint.intake.run import take_in
from doorlint.intake.write import write_spec

HEAD = "Door No,From,To,Fire rating,Set"


def _csv(path: Path, *rows: str, head: str = HEAD) -> str:
    path.write_text("\n".join((head, *rows)) + "\n", encoding="utf-8")
    return str(path)


def _openings(folder: Path) -> Any:
    return parse((folder / "openings.yaml").read_text(encoding="utf-8")).tree["openings"]


def _bytes(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


# -- several sources ---------------------------------------------------------------------------------


def test_two_schedules_with_other_columns_feed_one_spec(tmp_path: Path) -> None:
    into = tmp_path / "spec"
    north = _csv(tmp_path / "north.csv", "N1,hall,office,20,A", "N2,hall,store,-,A")
    south = _csv(tmp_path / "south.csv", "S1;60;12;yard", head="Mark;Fire label (min);Occupant load;Room from")
    take_in(north, str(into))
    take_in(south, str(into))
    openings = _openings(into)
    assert list(openings) == ["N1", "N2", "S1"]
    assert openings["S1"]["fire_rating"] == "60 min" and openings["S1"]["from"] == "yard"
    assert {"north.columns.yml", "south.columns.yml"} <= set(_bytes(into))
    # each again, changed: its own columns, its own openings, nothing of the other
    _csv(tmp_path / "north.csv", "N1,hall,office,45,A", "N2,hall,store,-,A")
    report, clear = take_in(north, str(into))
    assert clear and "no longer" not in report
    assert _openings(into)["N1"]["fire_rating"] == "45 min"
    before = _bytes(into)
    assert take_in(south, str(into))[1] and take_in(north, str(into))[1]
    assert _bytes(into) == before


def test_another_file_name_is_asked_about_and_never_guessed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    into = tmp_path / "spec"
    take_in(_csv(tmp_path / "doors.csv", "1,hall,office,20,A", "2,hall,store,-,A"), str(into))
    revised = _csv(tmp_path / "doors rev B.csv", "1,hall,lab,20,A", "3,hall,store,-,A")
    before = _bytes(into)
    assert run(["intake", revised, "--into", str(into)]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert "1 of its 2 openings came from 'doors.csv' before" in error
    assert '--source doors.csv; if it is a schedule of its own: --source "doors rev B.csv"' in error
    assert _bytes(into) == before
    assert run(["intake", revised, "--into", str(into), "--source", "doors.csv"]) == 1
    assert "2: the source no longer has this opening" in capsys.readouterr().out
    assert _openings(into)["1"]["to"] == "lab"
    # known from now on
    _csv(tmp_path / "doors rev B.csv", "1,hall,office,20,A", "3,hall,store,-,A")
    assert run(["intake", revised, "--into", str(into), "--settled"]) == 0
    assert _openings(into)["1"]["to"] == "office"


def test_another_schedule_of_the_same_file_name_is_asked_about(tmp_path: Path) -> None:
    into = tmp_path / "spec"
    for wing in ("north", "south"):
        (tmp_path / wing).mkdir()
    take_in(_csv(tmp_path / "north" / "doors.csv", "N1,hall,office,20,A"), str(into))
    other = _csv(tmp_path / "south" / "doors.csv", "S1,hall,office,20,A")
    with pytest.raises(IntakeProblem, match=r"none of the 1 openings that it had.*--source NAME"):
        take_in(other, str(into))
    take_in(other, str(into), source="south")
    assert list(_openings(into)) == ["N1", "S1"]
    assert {"doors.columns.yml", "south.columns.yml"} <= set(_bytes(into))


def test_sources_that_differ_are_shown_and_neither_wins(tmp_path: Path) -> None:
    into = tmp_path / "spec"
    take_in(_csv(tmp_path / "a.csv", "1,hall,office,20,A"), str(into))
    report, clear = take_in(_csv(tmp_path / "b.csv", "1,hall,office,45,A"), str(into), source="b")
    assert not clear and "fire_rating: the source and 'a.csv' differ" in report
    assert _openings(into)["1"]["fire_rating"] == "20 min"
    # a new word of the first does not settle it
    report, clear = take_in(_csv(tmp_path / "a.csv", "1,hall,office,60,A"), str(into))
    assert not clear and "the source and 'b' differ" in report
    assert _openings(into)["1"]["fire_rating"] == "20 min"
    # when both say the same, it is taken
    assert not take_in(_csv(tmp_path / "b.csv", "1,hall,office,60,A"), str(into), source="b")[1]
    file = into / "openings.yaml"
    file.write_text(file.read_text().replace("20 min", "60 min"))
    assert take_in(str(tmp_path / "a.csv"), str(into))[1] and take_in(str(tmp_path / "b.csv"), str(into))[1]


def test_what_one_source_drops_stays_while_another_says_it(tmp_path: Path) -> None:
    into = tmp_path / "spec"
    take_in(_csv(tmp_path / "a.csv", "1,hall,office,20,A"), str(into))
    assert take_in(_csv(tmp_path / "b.csv", "1,hall,office,20,A"), str(into), source="b")[1]
    take_in(_csv(tmp_path / "a.csv", "1,hall,office,TBD,A"), str(into))
    assert _openings(into)["1"]["fire_rating"] == "20 min"
    take_in(_csv(tmp_path / "b.csv", "1,hall,office,TBD,A"), str(into))
    assert _openings(into)["1"]["fire_rating"] == "unknown"  # nobody says it any more: open, never in order


def test_a_model_and_a_schedule_of_one_name_are_two_sources(tmp_path: Path) -> None:
    record = Record("1", {"to": Cell("x", "x", "p")}, "p")
    write_spec([record], "p", tmp_path / "spec", kind="schedule", origin="doors")
    made = write_spec([record], "p", tmp_path / "spec", kind="model", origin="doors")
    assert made.source == "doors (model)" and not made.conflicts
    with pytest.raises(IntakeProblem, match="is the name of a schedule; this is a model"):
        write_spec([record], "p", tmp_path / "spec", kind="model", origin="m", source="doors")


def test_settled_conflicts_come_back_with_a_new_word_only(tmp_path: Path) -> None:
    into = tmp_path / "spec"
    source = _csv(tmp_path / "a.csv", "1,hall,office,20,A", "2,hall,store,-,A")
    take_in(source, str(into))
    file = into / "openings.yaml"
    text = file.read_text().replace("to: office", "to: our office")
    file.write_text(text[: text.index('  "2":')])  # the author takes a door out
    _csv(tmp_path / "a.csv", "1,hall,lab,20,A", "2,hall,store,-,A")
    report, clear = take_in(source, str(into))
    assert not clear and "--settled" in report and "the spec no longer has this opening" in report
    report, clear = take_in(source, str(into), settled=True)
    assert clear and "1 opening left out of the spec, as was settled" in report
    assert take_in(source, str(into))[1]
    assert _openings(into) == {**_openings(into), "1": {**_openings(into)["1"], "to": "our office"}}
    _csv(tmp_path / "a.csv", "1,hall,attic,20,A", "2,hall,cellar,-,A")
    report, clear = take_in(source, str(into))
    assert not clear and "spec: 'our office', source: 'attic', source before: 'lab'" in report
    assert list(_openings(into)) == ["1"]


def test_the_list_of_what_was_not_understood_is_that_of_the_last_intake(tmp_path: Path) -> None:
    into = tmp_path / "spec"
    source = _csv(tmp_path / "a.csv", "1,hall,office,soon,A", "2,hall,office,never,A")
    take_in(source, str(into))
    listed = into / "a.not-understood.yml"
    told = parse(listed.read_text()).tree["not_understood"]
    assert [(one["at"], one["opening"], one["text"]) for one in told] == [("a!D2", "1", "soon"), ("a!D3", "2", "never")]
    _csv(tmp_path / "a.csv", "1,hall,office,20,A", "2,hall,office,=1,A")
    take_in(source, str(into))
    assert [one["text"] for one in parse(listed.read_text()).tree["not_understood"]] == ["=1"]
    _csv(tmp_path / "a.csv", "1,hall,office,20,A", "2,hall,office,20,A")
    take_in(source, str(into))
    assert parse(listed.read_text()).tree["not_understood"] == []


def test_a_new_column_is_shown_with_the_line_for_the_mapping(tmp_path: Path) -> None:
    into = tmp_path / "spec"
    source = _csv(tmp_path / "a.csv", "1,hall,office,20,A")
    take_in(source, str(into))
    _csv(tmp_path / "a.csv", "1,hall,office,20,A,yes", head=f"{HEAD},Smoke")
    report, _ = take_in(source, str(into))
    line = re.search(r"add the line `(F: .*)`", report)
    assert line is not None
    mapping = into / "a.columns.yml"
    mapping.write_text(f"{mapping.read_text().rstrip()}\n      {line[1]}\n")
    take_in(source, str(into))
    assert _openings(into)["1"]["smoke_control"] is True


@pytest.mark.parametrize("spoiled", ["", "[]", "{}", '{"format": 2, "sources": []}', '{"format": 1, "sources": {}}',
    '{"format": 2, "sources": {"a": {"kind": "schedule", "short": "../a", "files": [], "taken": {}, "pending": {}, '
    '"left_out": [], "gone": []}}}', "[" * 100_000])  # fmt: skip
def test_a_state_that_is_not_doorlints_is_refused(spoiled: str, tmp_path: Path) -> None:
    into = tmp_path / "spec"
    source = _csv(tmp_path / "a.csv", "1,hall,office,20,A")
    take_in(source, str(into))
    (into / "intake-state.json").write_text(spoiled)
    before = _bytes(into)
    with pytest.raises(IntakeProblem, match="cannot be read as what the last intake said"):
        take_in(source, str(into))
    assert _bytes(into) == before


# -- where new words and new keys go -----------------------------------------------------------------

_STYLES = {
    "lines": "openings:\n  D1:\n    set: A   # ours\n    leaf:\n      width: 3 ft  # wide\n"
    "    # above\n  # next\n  D2: {set: B}\n",
    "braces": "openings:\n  D1: {set: A, leaf: {width: 3 ft}}  # ours\n  D2: {set: B}\n",
    "unknown part": "openings:\n  D1:\n    set: A\n    leaf: unknown  # ask\n",
    "last line": "openings:\n  D1:\n    set: A",
    "braces over lines": "openings:\n  D1: {set: A,\n    leaf: {width: 3 ft,}}\n  D2: {set: B}\n",
    "block scalar": "openings:\n  D1:\n    set: A\n    note: |\n      one\n      two\n  D2: {set: B}\n",
    "folded plain": "openings:\n  D1:\n    set: A\n    note: one\n      two\n",
    "quoted key": 'openings:\n  "D1":\n    "set": \'A\'\n',
    "flow section": "openings: {D1: {set: A}, D2: {set: B}}\n",
    "empty braces": "openings:\n  D1: {}\n",
    "nothing": "openings:\n  D1:\n  D2: {set: B}\n",
    "list last": "openings:\n  D1:\n    set: A\n    holes: [a, b]\n",
    "signs in quotes": "openings:\n  D1:\n    set: 'it''s # none'  # one\n    to: \"a # b\"\n",
    "no indent": "openings:\n    D1:\n          set: A\n          leaf: {}\n",
}


@pytest.mark.parametrize("style", _STYLES)
@pytest.mark.parametrize(
    "wanted",
    [
        {"set": "B"},
        {"to": "hall"},
        {"leaf.height": "7 ft"},
        {"leaf.width": "42 in", "leaf.height": "7 ft", "to": "a: b # c", "occupancy.load": 4, "stair": True},
    ],
    ids=["word", "key", "inner key", "all"],
)
def test_an_edit_changes_what_it_should_and_keeps_every_comment(style: str, wanted: dict[str, Value]) -> None:
    text = f"# head\ndoorlint: 1\n{_STYLES[style]}"
    document = parse(text, "s.yaml")
    assert not document.problems
    made = edited(document, Edits(fields={"D1": wanted}))
    before, after = document.tree["openings"], parse(made).tree["openings"]
    body = dict(before["D1"] or {})
    for path, value in wanted.items():
        head, _, name = path.partition(".")
        body[head] = value if not name else {**(body[head] if isinstance(body.get(head), dict) else {}), name: value}
    assert after == {**before, "D1": body}
    for mark in ("# head", "# ours", "# wide", "# above", "# next", "# ask", "# one"):
        assert made.count(mark) == text.count(mark)
    # lines without a change stay byte for byte
    assert [line for line in text.splitlines() if "D2" in line and "D1" not in line] == [
        line for line in made.splitlines() if "D2" in line and "D1" not in line
    ]


# -- random histories --------------------------------------------------------------------------------

_PATHS = ("to", "leaf.width", "leaf.material")
_OPENINGS = ("D1", "2.10")
# few, so that sources and author often speak of the same field, and often say the same
_WORDS = st.sampled_from(["3 ft", "=on # no comment", "ü: {"])
_SAID = st.dictionaries(st.sampled_from(_PATHS), st.one_of(_WORDS, _WORDS, st.none()), max_size=3)
_SOURCE = st.dictionaries(st.sampled_from(_OPENINGS), _SAID, min_size=1, max_size=2)
_EDIT = st.tuples(st.sampled_from(_OPENINGS), st.sampled_from(_PATHS), _WORDS)
_NAMES = st.sampled_from(["one", "two"])
_STEP = st.one_of(
    st.tuples(st.just("intake"), _NAMES, _SOURCE),
    st.tuples(st.just("intake again"), _NAMES, st.none()),
    st.tuples(st.just("edit"), st.just(""), st.lists(_EDIT, min_size=1, max_size=3)),
)


@dataclass
class _Promise:
    """What is promised of each field: `spec` as it must stand, `said` by each source, `base` when they agreed last."""

    spec: dict[tuple[str, str], str] = field(default_factory=dict)
    base: dict[str, dict[tuple[str, str], str]] = field(default_factory=dict)
    said: dict[str, dict[tuple[str, str], str]] = field(default_factory=dict)
    openings: set[str] = field(default_factory=set)

    def intake(self, name: str, source: Mapping[str, Mapping[str, str | None]]) -> set[tuple[str, str]]:
        """The fields that must be shown as conflicts."""
        base = self.base.setdefault(name, {})
        words = {(o, p): w for o, fields in source.items() for p, w in fields.items() if w is not None}
        self.said[name] = words
        others = [one for other, one in self.said.items() if other != name]
        conflicts = set()
        for opening in source:
            fresh = opening not in self.openings
            self.openings.add(opening)
            for path in _PATHS:
                at = (opening, path)
                word, before, there = words.get(at), base.get(at), self.spec.get(at)
                differ = any(at in one and one[at] != word for one in others)
                if word is None and before is None:
                    continue
                if word is None:
                    if there is not None and there == before and not any(one.get(at) == there for one in others):
                        self.spec.pop(at)
                        base.pop(at)
                    elif there is None or any(one.get(at) == there for one in others):
                        base.pop(at)
                    else:
                        conflicts.add(at)
                elif word == there:
                    base[at] = word
                elif word == before:
                    continue
                elif (there is None or there == before) and (fresh or not differ) and not (
                    there is None and before is not None
                ):
                    self.spec[at] = base[at] = word
                else:
                    conflicts.add(at)
        return conflicts


def _records(source: Mapping[str, Mapping[str, str | None]]) -> list[Record]:
    return [
        Record(opening, {path: Cell(word or "?", word, "S!A1") for path, word in fields.items()}, "S!A1")
        for opening, fields in source.items()
    ]


def _stands(folder: Path) -> dict[tuple[str, str], str]:
    """The fields of the spec that say something."""
    found = {}
    for opening, body in _openings(folder).items():
        for path in _PATHS:
            here: Any = body
            for name in path.split("."):
                here = here.get(name) if isinstance(here, dict) else None
            if here is not None and here != "unknown":
                found[opening, path] = here
    return found


def test_a_source_that_has_lost_an_opening_has_no_say_in_it(tmp_path: Path) -> None:
    into = tmp_path / "spec"
    take_in(_csv(tmp_path / "a.csv", "1,hall,office,20,A", "2,hall,store,-,A"), str(into))
    assert take_in(_csv(tmp_path / "b.csv", "1,hall,office,20,A"), str(into), source="b")[1]
    report, clear = take_in(_csv(tmp_path / "a.csv", "2,hall,store,-,A"), str(into))
    assert not clear and "1: the source no longer has this opening" in report
    assert take_in(_csv(tmp_path / "b.csv", "1,hall,office,45,A"), str(into))[1]
    assert _openings(into)["1"]["fire_rating"] == "45 min"


@settings(max_examples=80, deadline=None)
@given(_SOURCE, st.lists(_STEP, min_size=3, max_size=8), st.randoms(use_true_random=False))
def test_random_histories_keep_the_promises(
    tmp_path_factory: pytest.TempPathFactory, first: Any, steps: Any, chance: random.Random
) -> None:
    into = tmp_path_factory.mktemp("history") / "spec"
    promise = _Promise()
    comments: list[str] = []

    def take(name: str, source: Any) -> Written:
        return write_spec(_records(source), "invented", into, origin=name, source=name)

    take("one", first)
    promise.intake("one", first)
    latest = {"one": first, "two": first}
    for kind, name, said in steps:
        what = latest[name] if kind == "intake again" else said
        if kind != "edit":
            latest[name] = what
            expected = promise.intake(name, what)
            made = take(name, what)
            assert {(one.opening, one.path) for one in made.conflicts if one.path} == expected
            for one in made.conflicts:
                if one.path and one.source is not None:
                    assert promise.said[name][one.opening, one.path] == one.source
            # again without change: the same bytes, and the conflicts are still shown
            before = _bytes(into)
            again = take(name, what)
            assert not again.changes and not again.files and _bytes(into) == before
            assert {(one.opening, one.path) for one in again.conflicts if one.path} == expected
            promise.intake(name, what)
        else:
            file = into / "openings.yaml"
            document = parse(file.read_text(encoding="utf-8"), "openings.yaml")
            for opening, path, word in what:
                if opening not in promise.openings:
                    continue
                document = parse(edited(document, Edits(fields={opening: {path: word}})), "openings.yaml")
                promise.spec[opening, path] = word
            lines = document.text.splitlines(keepends=True)
            comments.append(f"# the author's word {len(comments)}")
            lines.insert(chance.randint(1, len(lines)), f"{comments[-1]}\n")
            file.write_text("".join(lines), encoding="utf-8")
        assert _stands(into) == promise.spec
        text = (into / "openings.yaml").read_text(encoding="utf-8")
        assert [comment for comment in comments if text.count(f"{comment}\n") != 1] == []
