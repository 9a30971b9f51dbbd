"""Reviews of open texts: unsaved parts, broken ones, files that come and go, and runs that are given up."""

from __future__ import annotations

from pathlib import Path

import pytest
from editing import SPEC, Room, between, book, kiosk, pieces, quiet, terminal

from doorlint.editor.run import review, run
from doorlint.editor.schedule import Superseded
from doorlint.outcome import Kind
from doorlint.reviewing import review as review_from_disk


def codes(room: Room, path: Path) -> list[str]:
    return [finding.code for finding in room.findings(path)]


def test_an_open_part_shows_what_the_command_finds_there(tmp_path: Path) -> None:
    folder = terminal(tmp_path)
    part = folder / "openings" / "operations.yaml"
    room = Room().open(part).settle()
    result = review_from_disk(folder)
    for path in sorted(folder.rglob("*.yaml")):
        expected = {
            (outcome.rule, document.source(result.region(outcome.place)))
            for outcome in result.findings()
            if (document := result.documents[outcome.place.file]) and Path(outcome.place.file).resolve() == path
        }
        shown = {
            (finding.code, room.shown_text(path, finding))
            for finding in room.findings(path)
            if finding.severity != "information"
        }
        assert shown == {(rule, text.splitlines()[0]) for rule, text in expected}, path


def test_findings_say_their_level_their_kind_and_their_other_places(tmp_path: Path) -> None:
    room, path = kiosk(tmp_path)
    assert room.session.state.reviewed
    by_severity = {finding.severity for finding in room.findings(path)}
    assert {"error", "information", "hint"} <= by_severity
    for finding in room.findings(path):
        opened = finding.message.startswith(("open: ", "for the authority to decide: "))
        assert opened == (finding.severity == "information")
        assert finding.message.startswith("waived: ") == (finding.severity == "hint")
    (waived,) = [finding for finding in room.findings(path) if finding.severity == "hint"]
    assert waived.code == "consistency/interlock-one-sided" and "one drawing" in waived.message
    assert any(finding.beside for finding in room.findings(path))


def test_an_unsaved_part_counts_in_the_other_files(tmp_path: Path) -> None:
    _, sheets, doors = pieces(tmp_path)
    room = Room().open(sheets).open(doors).settle()
    assert "reference/unknown-id" not in codes(room, doors)
    text = sheets.read_text()
    room.write(sheets, (*between(text, "\n  |cat6|:"), "cat6-old")).settle()
    assert "reference/unknown-id" in codes(room, doors)
    room.write(sheets, text).settle()
    assert "reference/unknown-id" not in codes(room, doors)


def test_a_broken_text_keeps_what_was_found_before(tmp_path: Path) -> None:
    room, path = kiosk(tmp_path)
    before = {(finding.code, room.shown_text(path, finding)) for finding in room.findings(path)}
    where = between(SPEC, "    set: HW-1\n    |inter|locked")
    room.write(path, (where[0], where[0], "bro: {ken\n    "))
    assert room.view(path).part.stale
    assert room.view(path).result is not None, "features go on from the last review"
    room.settle()
    after = {(finding.code, room.shown_text(path, finding)) for finding in room.findings(path)}
    assert ("document/syntax") in {code for code, _ in after}
    assert before - after == set(), "all others stand at their text, though it has moved"
    room.write(path, SPEC).settle()
    assert {(f.code, room.shown_text(path, f)) for f in room.findings(path)} == before


def test_a_broken_part_does_not_make_the_others_look_wrong(tmp_path: Path) -> None:
    _, sheets, doors = pieces(tmp_path)
    room = Room().open(doors).open(sheets).settle()
    before = [(f.code, f.start, f.message) for f in room.findings(doors)]
    room.write(sheets, "doorlint: 1\nproducts:\n  strike-12: {kind: [").settle()
    assert [(f.code, f.start, f.message) for f in room.findings(doors)] == before
    assert codes(room, sheets).count("document/syntax") == 1


def test_a_text_broken_from_the_start_is_taken_as_saved(tmp_path: Path) -> None:
    path = (tmp_path / "kiosk.yaml").resolve()
    path.write_text(SPEC)
    room = Room().open(path, SPEC.replace("    set: HW-1\n    inter", "    {set: HW-1\n    inter")).settle()
    assert "document/syntax" in codes(room, path)
    assert len(codes(room, path)) > 3
    path.unlink()
    room = Room().open(path, "doorlint: 1\nproject: {name: x\n").settle()
    assert set(codes(room, path)) == {"document/syntax"}


def test_a_root_that_is_not_saved_yet_is_reviewed_with_its_parts(tmp_path: Path) -> None:
    root, part = tmp_path.resolve() / "new.yaml", tmp_path.resolve() / "doors.yaml"
    room = Room().open(part, "doorlint: 1\nopenings: {A1: {set: HW-9}}\n").settle()
    assert codes(room, part) == ["include/missing"]
    room.open(root, "doorlint: 1\nproject: {name: x}\ninclude: doors.yaml\n").settle()
    assert "reference/unknown-id" in codes(room, part)
    room.write(root, "doorlint: 1\nproject: {name: x}\n").settle()
    assert codes(room, part) == ["include/missing"]


def test_a_file_that_is_deleted_while_open_still_counts(tmp_path: Path) -> None:
    room, path = kiosk(tmp_path)
    before = room.findings(path)
    path.unlink()
    room.write(path, ((0, 0), (0, 0), "# gone\n")).settle()
    assert [finding.code for finding in room.findings(path)] == [finding.code for finding in before]
    room.close(path).settle()
    assert room.findings(path) == []


def test_a_part_deleted_on_disk_is_missed(tmp_path: Path) -> None:
    root, sheets, doors = pieces(tmp_path)
    room = Room().open(doors).settle()
    sheets.unlink()
    room.write(doors, ((0, 0), (0, 0), "# x\n")).settle()
    assert "include/missing" in codes(room, root)


def test_a_file_changed_on_disk_is_read_again_and_another_is_not(tmp_path: Path) -> None:
    root, sheets, doors = pieces(tmp_path)
    room = Room().open(doors).settle()
    before = room.view(doors).result
    sheets.write_text(sheets.read_text().replace("  cat6:", "  cat6-old:"))
    room.write(doors, ((0, 0), (0, 0), "# x\n")).settle()
    assert "reference/unknown-id" in codes(room, doors)
    after = room.view(doors).result
    assert before is not None and after is not None
    assert after.documents[root.as_posix()] is before.documents[root.as_posix()]


def test_closing_the_last_part_clears_the_spec_and_closing_another_does_not(tmp_path: Path) -> None:
    _, sheets, doors = pieces(tmp_path)
    room = Room().open(doors).open(sheets).settle()
    found = room.findings(doors)
    assert found
    room.close(sheets).settle()
    assert room.findings(doors) == found
    room.close(doors).settle()
    assert room.session.shown() == {}


def test_other_yaml_is_left_alone(tmp_path: Path) -> None:
    path = tmp_path.resolve() / "other.yaml"
    path.write_text("services: {db: {image: x}}\n")
    assert Room().open(path).settle().findings(path) == []


def test_a_stray_part_is_checked_against_the_format(tmp_path: Path) -> None:
    path = tmp_path.resolve() / "stray.yaml"
    path.write_text("doorlint: 1\nopenings: {A1: {sett: HW-1}}\n")
    room = Room().open(path).settle()
    assert codes(room, path) == ["include/missing", "format/unknown-key"]
    room.write(path, "doorlint: 1\nopenings: {A1: {set: HW-1}}\n").settle()
    assert codes(room, path) == ["include/missing"]


def test_a_link_within_the_folder_is_reviewed_from_the_open_text(tmp_path: Path) -> None:
    _, _, doors = pieces(tmp_path)
    kept = doors.with_name("kept.yml")
    doors.rename(kept)
    doors.symlink_to(kept)
    room = Room().open(doors, kept.read_text().replace("cable: cat6", "cable: cat-of-nobody")).settle()
    shown = [f.message for found in room.session.shown().values() for _, f in found.found]
    assert any("cat-of-nobody" in message for message in shown)
    assert room.view(doors).result is not None


def test_a_run_stops_once_it_is_not_wanted(tmp_path: Path) -> None:
    room, path = kiosk(tmp_path)
    asked: list[str] = []

    def progress(what: str, done: int, of: int) -> None:
        asked.append(what)
        if len(asked) == 3:
            raise Superseded

    state = room.session.state
    with pytest.raises(Superseded):
        run(state, room.session.files, [path], False, book(), progress, quiet)
    assert len(asked) == 3
    assert room.session.state is state


def test_a_fault_of_ours_in_one_spec_leaves_the_others_reviewed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _, _, doors = pieces(tmp_path)
    other = tmp_path.resolve() / "a" / "kiosk.yaml"
    other.parent.mkdir()
    other.write_text(SPEC)
    room = Room().open(other).open(doors)

    def breaks(root: Path, *rest: object) -> object:
        if root == other:
            raise RuntimeError("seeded")
        return review(root, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr("doorlint.editor.run.review", breaks)
    with pytest.raises(AssertionError, match="seeded"):
        room.settle()
    assert room.findings(doors) and not room.findings(other)
    assert [root for root, _ in room.troubles] == [other]


def test_a_finding_over_several_lines_is_shown_on_its_first(tmp_path: Path) -> None:
    room, path = kiosk(tmp_path, SPEC.replace("\n", "\r\n"))
    for finding in room.findings(path):
        text = room.shown_text(path, finding)
        assert text and "\n" not in text and "\r" not in text


def test_the_findings_of_like_openings_come_once(tmp_path: Path) -> None:
    room, path = kiosk(tmp_path)
    result = room.view(path).result
    assert result is not None
    told = [(f.code, f.start, f.message) for f in room.findings(path)]
    assert len(told) == len(set(told))
    places = [o.place for o in result.of_kinds(Kind.OPEN) if o.place.pointer.startswith("/hardware_sets")]
    assert len(places) > len(set(places)), "two openings share the set"
