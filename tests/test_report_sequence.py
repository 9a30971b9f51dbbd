"""The sequence of operation: prose and table say what the matrix says, findings show their chain.

The worked doors are common practice, no source; the words for the states are held against the matrix, which has tests
of its own.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from doorlint import cli
from doorlint.events import EVENTS, Event
from doorlint.outcome import Kind
from doorlint.report.sequence import chains, prose, render, table
from doorlint.report.text import CAUTIONS
from doorlint.reviewing import Result, review, review_text

HERE = Path(__file__).parent
SPECS = HERE / "events" / "specs"
EXAMPLE = HERE.parent / "examples" / "gull_point_ferry_terminal_clean"
COLUMNS = ("event", "lock", "latch", "egress", "in without", "in with", "reported", "locks again")


def worked(name: str, *changes: tuple[str, str]) -> Result:
    text = (SPECS / f"{name}.yaml").read_text(encoding="utf-8")
    for before, after in changes:
        assert before in text
        text = text.replace(before, after)
    result = review_text(text, "door.yaml")
    assert result.spec is not None
    return result


def only(result: Result) -> str:
    assert result.spec is not None
    (name,) = result.spec.openings
    return name


def paragraphs(result: Result) -> list[str]:
    assert result.spec is not None
    assert result.context is not None
    return list(prose(result.spec.openings[only(result)], result.context))


def told(result: Result, event: Event) -> str:
    """The paragraph about an event."""
    (found,) = (p for p in paragraphs(result) if p.lower().startswith(event.title.lower()))
    return found


@pytest.mark.parametrize("name", sorted(path.stem for path in SPECS.glob("*.yaml")))
def test_the_table_says_what_the_matrix_says(name: str) -> None:
    result = worked(name)
    assert result.context is not None
    assert result.spec is not None
    matrix = result.context.matrix(result.spec.openings[only(result)])
    head, *lines = table(matrix)
    assert tuple(re.split(r"\s{2,}", head)) == COLUMNS
    assert len(lines) == len(EVENTS)
    for line, row in zip(lines, matrix.rows, strict=True):
        cells = dict(zip(COLUMNS, re.split(r"\s{2,}", line), strict=True))
        assert cells["event"] == row.event.value.replace("_", " ")
        states = (row.lock, row.latch, row.egress, row.ingress_without, row.ingress_with)
        assert [cells[c] for c in COLUMNS[1:6]] == [str(state.value) for state in states if state is not None]
        assert (cells["reported"] == "yes") == bool(row.alarms)
        assert cells["locks again"] == (row.relock or "-")


@pytest.mark.parametrize("name", sorted(path.stem for path in SPECS.glob("*.yaml")))
def test_the_prose_tells_every_event_once(name: str) -> None:
    text = "\n".join(paragraphs(worked(name))).lower()
    for event in EVENTS:
        if event not in (Event.NORMAL, Event.CREDENTIAL, Event.EGRESS_ACTION):
            assert text.count(event.title.lower()) == 1, event
    assert text.count("normal operation, secured hours:") == text.count("entry:") == text.count("egress:") == 1


def test_a_stair_door_in_the_words_of_the_trade() -> None:
    result = worked("stair_reentry")
    text = paragraphs(result)
    assert text[0].startswith("Arrangement: stair reentry; the way into the stair is free by lock;")
    assert "Electric locks: lock (electrified mortise lock, fail-safe)." in text
    assert any(p.startswith("Normal operation, secured hours: locked and latched; people get out freely") for p in text)
    entry = next(p for p in text if p.startswith("Entry:"))
    assert entry == (
        "Entry: a valid credential unlocks the door; it locks again 5 s after the grant; the latch stays engaged until "
        "lever or bar is used."
    )
    fire = told(result, Event.FIRE_ALARM)
    assert "the door unlocks; it stays latched; people get out freely" in fire
    assert fire.endswith("locks again after manual reset of the fire alarm.")
    assert "; the door stays locked;" in told(result, Event.POE_PORT_LOST).replace(": ", "; ", 1)


def test_a_strike_lets_the_latch_go_and_a_magnet_has_none() -> None:
    strike = next(p for p in paragraphs(worked("server_room")) if p.startswith("Entry:"))
    assert strike.endswith("the latch is let go as well.")
    magnet = next(p for p in paragraphs(worked("storefront_magnet")) if p.startswith("Entry:"))
    assert "latch" not in magnet
    egress = next(p for p in paragraphs(worked("storefront_magnet")) if p.startswith("Egress:"))
    assert "the way out unlocks the door, which locks again 30 s after the last use" in egress


def test_unlocked_hours_are_told_with_how_they_begin() -> None:
    schedule = "Unlocked hours: rods_active, rods_inactive held unlocked by schedule for at most 10 h without a break"
    begins = {"true": ", beginning when the first person has come in.", "false": ", beginning by the clock."}
    for value, end in begins.items():
        result = worked("storefront_pair", ("first_person_in: true", f"first_person_in: {value}"))
        assert f"{schedule}{end}" in paragraphs(result)
    result = worked("storefront_pair", ("    first_person_in: true\n", ""))
    assert f"{schedule}." in paragraphs(result)


def test_care_is_told_with_staff_and_lockdown_with_what_it_leaves() -> None:
    text = paragraphs(worked("memory_care"))
    assert any(p.startswith("Normal operation") and "people get out only with staff" in p for p in text)


def test_what_is_open_names_the_field_it_waits_for() -> None:
    result = worked("server_room", ("    offline: local_list\n", ""))
    found = told(result, Event.NETWORK_LOST)
    assert "whether the door is locked is open" in found
    assert "open until stated: offline" in found
    page = render(result, "server")
    assert re.search(r"^network lost +open +open +free +open +open", page, re.MULTILINE)
    assert "Open cells wait for:\n  network lost: offline\n" in page


def test_a_finding_comes_with_its_shortest_chain() -> None:
    result = worked(
        "storefront_magnet", ("panel: {product: panel, side: remote", "panel: {product: panel, side: unsecured")
    )
    page = render(result, "front")
    assert "  failure/outside-device-opens [error]\n      what hangs on the unsecured side is torn off" in page
    start = page.index("failure/outside-device-opens")
    links = page[start:].split("\n\n")[0].splitlines()
    assert all(line.startswith(("   -> ", "      ")) for line in links[1:])
    assert links[-1] == "   -> anybody walks in"
    by_rule = {outcome.rule: outcome for outcome, _ in chains(result, "front")}
    for rule, outcome in by_rule.items():
        same = [o for o in result.outcomes if o.rule == rule and o.kind is Kind.FAIL and " -> " in o.message]
        assert outcome.message.count(" -> ") == min(o.message.count(" -> ") for o in same)


def test_a_trapping_chain_names_the_event_and_the_findings_are_counted() -> None:
    keys = "[fire.relay.no, waterflow.relay.no, nurse_key.turn.nc, door_key.turn.nc]"
    result = worked("memory_care", (keys, "[fire.relay.no, waterflow.relay.no]"))
    page = render(result, "care")
    by_rule = {outcome.rule: (outcome, more) for outcome, more in chains(result, "care")}
    trapped, _ = by_rule["egress/impossible-in-an-event"]
    assert "   -> egress impossible" in page
    assert trapped.message.split(" -> ")[0] in page
    # port lost, controller dead, controller hung: one of three is shown
    assert by_rule["failure/controller-failure-traps"][1] == 2
    assert "failure/controller-failure-traps [error] (2 longer or equal not shown)" in page


def test_a_critical_door_shows_the_pair_of_faults_that_traps() -> None:
    feed = "[fire.relay.no, button.press.nc, sensor.relay.no]"
    soft = (feed, "[fire.relay.no, sensor.relay.no]")
    page = render(worked("storefront_magnet", soft), "front")
    pair = page[page.index("egress/impossible-in-an-event") :]
    assert pair.index("the controller hangs") < pair.index("sensor does not react") < pair.index("-> egress impossible")
    quiet = render(worked("storefront_magnet", soft, ("    critical: true\n", "")), "front")
    assert "two faults" not in quiet


def test_the_page_carries_title_project_and_cautions() -> None:
    result = review(EXAMPLE)
    assert result.spec is not None
    for name, opening in result.spec.openings.items():
        page = render(result, name)
        first, second, *_ = page.splitlines()
        assert first == f"Sequence of operation, opening {name}: {opening.title}"
        assert second == f"Project: {result.spec.project.name}"
        flat = " ".join(page.split())
        assert all(caution in flat for caution in CAUTIONS)
        assert "What keeps people in" not in page  # the clean example has no such finding
        assert max(len(line) for line in page.split("\n\nLock, latch")[0].splitlines()[2:]) <= 100


def test_text_of_the_spec_cannot_steer_the_terminal() -> None:
    result = worked("server_room", ("from: server room", 'from: "server\\u202e\\u001b[31m room"'))
    page = render(result, "server")
    assert "\x1b" not in page
    assert "\u202e" not in page


def test_an_opening_that_is_not_there() -> None:
    with pytest.raises(KeyError):
        render(worked("server_room"), "none")


def test_an_opening_without_a_lock() -> None:
    text = "doorlint: 1\nproject: {name: Case}\nopenings: {D1: {from: hall, to: yard}}\n"
    page = render(review_text(text, "door.yaml"), "D1")
    assert "Electric locks: none." in page
    assert "Open cells wait for:" in page


def test_the_command_writes_the_page_and_says_what_is_wrong(capsys: pytest.CaptureFixture[str]) -> None:
    spec = str(SPECS / "server_room.yaml")
    assert cli.run(["sequence", "server", spec]) == 0
    out, err = capsys.readouterr()
    assert out == render(review(spec), "server")
    assert err == ""
    assert cli.run(["sequence", "sever", spec]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "has no opening 'sever'; did you mean 'server'?" in err
