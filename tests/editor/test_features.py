"""Hover, completion, navigation, renaming, repairs and figures, on an invented spec and on the example."""

from __future__ import annotations

from pathlib import Path

import pytest
from editing import SPEC, Room, at, between, kiosk, pieces, terminal
from hypothesis import given
from hypothesis import strategies as st

from doorlint.document import parse
from doorlint.editor import actions, completion, hints, hover, navigation, rename
from doorlint.editor.markdown import code, flow, without, words, written
from doorlint.editor.view import View
from doorlint.reviewing import review


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> tuple[Room, Path]:
    """The invented spec, reviewed. No test may change it."""
    return kiosk(tmp_path_factory.mktemp("kiosk"))


@pytest.fixture(scope="module")
def view(shop: tuple[Room, Path]) -> View:
    """The view of the invented spec."""
    return shop[0].view(shop[1])


@pytest.fixture(scope="module")
def quay(tmp_path_factory: pytest.TempPathFactory) -> tuple[Room, Path]:
    """The example with one part open, reviewed. No test may change it."""
    part = terminal(tmp_path_factory.mktemp("terminal")) / "openings" / "operations.yaml"
    return Room().open(part).settle(), part


def shown(view: View, marked: str) -> str:
    """The hover at the bar."""
    found = hover.hover(view, at(view.buffer.text, marked))
    return found.markdown if found is not None else ""


def offered(folder: Path, old: str, marked: str) -> list[str]:
    """What is offered at the bar when the stretch `old` of the spec is written as `marked`."""
    room, path = kiosk(folder)
    new = SPEC.replace(old, marked.replace("|", ""), 1)
    room.write(path, new)
    offset = SPEC.index(old) + marked.index("|")
    return [offer.label for offer in completion.complete(room.view(path), offset)]


# -- hover -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("marked", "expected"),
    [
        # rounded to four digits. 1 in = 25.4 mm and 1 ft = 0.3048 m exactly: international agreement of 1959 on yard
        # and pound
        ("rc: {length: 62| m}", ["62000 mm", "203.4 ft", "2441 in"]),
        # 0 degC = 32 degF = 273.15 K: BIPM, SI Brochure, 9th edition, 2.3.1; NIST SP 811, B.8
        ("ambient: 0..|40 degC", ["32 degF to 104 degF", "273.2 K to 313.2 K"]),
        ("current: 450| mA", ["0.45 A"]),
        # 18 AWG: 0.0403 in, 0.823 mm2 by ASTM B258, table of solid round wires
        ("conductor: 18| AWG", ["0.823 mm2"]),
    ],
)
def test_hover_tells_a_quantity_in_other_units(view: View, marked: str, expected: list[str]) -> None:
    text = shown(view, marked)
    for one in expected:
        assert one in text


def test_hover_says_how_to_write_what_is_no_quantity(view: View) -> None:
    assert "no unit" in shown(view, "switched_by: rc.relay.no, length: |9")


def test_hover_on_a_key_tells_what_the_format_says(view: View) -> None:
    text = shown(view, "fail|: secure")
    assert "Fail" in text and "Example: `secure`" in text


def test_hover_on_a_word_tells_its_meaning(view: View) -> None:
    assert "people need a credential" in shown(view, "product: rc-poe, side: un|secured")


def test_hover_on_an_id_shows_what_stands_under_it(view: View) -> None:
    assert "voltage: 12 V" in shown(view, "product: strike|-12, side")
    assert "budget: `370 W`" in shown(view, "fed_from: sw-|1, cable")
    assert "conductor: `18 AWG`" in shown(view, 'cable: "18|/2", supp')
    assert "current: `750 mA`" in shown(view, "fed_from: rc.lo|ck")
    assert "rc-poe" in shown(view, "fed_from: r|c.lock")
    assert "set: `HW-1`" in shown(view, "interlocked_with: [114|A]")


def test_hover_on_a_waiver_shows_the_rule_and_its_ground(view: View) -> None:
    text = shown(view, "rule: suppression/|missing")
    assert "ground:" in text and "error" in text


def test_hover_on_a_finding_shows_title_ground_and_working(quay: tuple[Room, Path]) -> None:
    room, path = quay
    text = shown(room.view(path), "fed_from: psu-24.|14")
    assert "supply/voltage-mismatch" in text
    assert "ground: practice" in text
    assert "voltage taken = 12 V" in text and "controllers.yaml:" in text


def test_hover_on_a_number_shows_the_calculations_that_it_enters(quay: tuple[Room, Path]) -> None:
    room, path = quay
    view = room.view(path)
    where = view.buffer.text.index("length: 22 m") + 9
    found = hover.hover(view, where)
    assert found is not None
    text = found.markdown
    assert "O01/rc" in text and "poe/channel-resistance-above-class" in text
    assert "operations.yaml:22" in text
    assert view.buffer.text.splitlines()[21].count("length: 22 m") == 1


def test_hover_outside_of_words_is_nothing(view: View) -> None:
    assert hover.hover(view, at(SPEC, "project: {name: Invented kiosk,| site")) is None


def test_hover_goes_on_while_the_text_is_broken(tmp_path: Path) -> None:
    room, path = kiosk(tmp_path)
    where = between(SPEC, "openings:\n|  |114A")
    room.write(path, (*where, "  {{{\n  "))
    assert "voltage: 12 V" in shown(room.view(path), "product: strike|-12, side")
    assert "203.4 ft" in shown(room.view(path), "rc: {length: 62| m}")


def test_workings_show_the_figures_of_the_command(quay: tuple[Room, Path]) -> None:
    """The voltage that the report tells stands in the hover too."""
    room, path = quay
    view = room.view(path)
    assert view.result is not None
    told = next(o for o in view.result.outcomes if o.subject == "O01/lock" and o.rule == "supply/voltage-below-minimum")
    offset = view.buffer.text.index("length: 5 m") + 9
    found = hover.hover(view, offset)
    assert found is not None and str(told.measured) in found.markdown


# -- completion ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "marked", "first", "absent"),
    [
        ("product: rc-poe, side: un", "product: |", ["strike-12", "rc-poe", "diode-1a", "unknown"], ["sw-1"]),
        ("fed_from: sw-1, cable: cat6", "fed_from: |", ["lock", "sw-1", "psu-1.1", "psu-1.2"], ["rc.lock", "cat6"]),
        ("fed_from: rc.lock", "fed_from: r|", ["rc.lock", "sw-1"], ["lock"]),
        ('cable: "18/2"', "cable: |", ["cat6", "18/2", "unknown"], ["sw-1"]),
        ("suppression: diode-1a", "suppression: |", ["diode-1a", "none"], ["strike-12"]),
        ("switched_by: rc.relay.no", "switched_by: |", ["rc.relay.no", "rc.relay.nc", "rc.aux.no"], ["rc.aux.nc"]),
        ("set: HW-1\n    inter", "set: |\n    inter", ["HW-1", "none"], ["114A"]),
        ("interlocked_with: [114A]", "interlocked_with: [|]", ["114A"], ["114B"]),
        ("side: unsecured", "side: |", ["unsecured", "secured", "boundary", "remote", "unknown"], ["strike-12"]),
        ("opening: 114B, item: bell", "opening: 114B, item: |", ["rc", "lock", "bell"], ["unknown"]),
        ("rule: suppression/missing", "rule: |", ["suppression/missing"], ["unknown"]),
        ("opening: 114B, item", "opening: |, item", ["114A", "114B"], []),
        ("fail: secure", "fail: |", ["secure", "safe"], []),
    ],
)
def test_values_are_offered(tmp_path: Path, old: str, marked: str, first: list[str], absent: list[str]) -> None:
    labels = offered(tmp_path, old, marked)
    assert [label for label in first if label not in labels and label != "lock"] == []
    assert [label for label in absent if label in labels] == []


@pytest.mark.parametrize(
    ("old", "marked", "present", "absent"),
    [
        ("rc: {length: 62 m}", "rc: {length: 62 m, |}", ["cable", "side"], ["length", "kind"]),
        ("    set: HW-1\n    inter", "    set: HW-1\n    |\n    inter", ["title", "exposure"], ["set", "items"]),
        ("    items: {rc: {length: 62 m}, lock: {length: 9 m}}", "    items: {rc: {length: 62 m}, |", ["lock"], ["rc"]),
        ("    kind: electric_strike\n", "    kind: electric_strike\n    |\n", ["ip"], ["fail", "suppressor"]),
        ("{kind: suppressor, ", "{kind: suppressor, |", ["ip"], ["coil", "fail", "inputs"]),
        ("cables:\n", "|cables:\n", ["include"], ["openings", "project"]),
        ("  - {rule: supp", "  - {|rule: supp", ["approved_by", "until"], ["opening", "reason"]),
    ],
)
def test_keys_are_offered(tmp_path: Path, old: str, marked: str, present: list[str], absent: list[str]) -> None:
    labels = offered(tmp_path, old, marked)
    assert [label for label in present if label not in labels] == []
    assert [label for label in absent if label in labels] == []


def test_every_offer_makes_a_text_that_says_it(tmp_path: Path) -> None:
    """Taken, each id reads back as itself, and all offers of one answer replace the same stretch."""
    room, path = kiosk(tmp_path)
    for old, way in (
        ('cable: "18/2"', ("hardware_sets", "HW-1", "items", "lock", "cable")),
        ("fed_from: psu-1.2", ("openings", "114B", "items", "bell", "fed_from")),
    ):
        offset = SPEC.index(old) + len(old) - 2
        offers = completion.complete(room.view(path), offset)
        assert offers and len({(offer.start, offer.end) for offer in offers}) == 1
        for offer in offers:
            text = SPEC[: offer.start] + offer.text + SPEC[offer.end :]
            tree = parse(text).tree
            for token in way:
                tree = tree[token]
            assert tree == offer.label
        assert SPEC[offers[0].start : offers[0].end] == old.partition(": ")[2]


def test_a_value_is_offered_with_its_blank_right_behind_the_colon(tmp_path: Path) -> None:
    room, path = kiosk(tmp_path, SPEC.replace("    set: HW-1\n    inter", "    set:\n    inter"))
    offers = completion.complete(room.view(path), at(room.view(path).buffer.text, "set:|\n    inter"))
    assert " HW-1" in [offer.text for offer in offers]


def test_completion_goes_on_while_the_text_is_broken(tmp_path: Path) -> None:
    room, path = kiosk(tmp_path)
    room.write(path, SPEC + "openings2: {{\n  x: [\n").settle()
    view = room.view(path)
    labels = [o.label for o in completion.complete(view, at(view.buffer.text, "product: strike|-12, side"))]
    assert "diode-1a" in labels


def test_before_the_first_review_the_file_itself_is_known(tmp_path: Path) -> None:
    path = tmp_path.resolve() / "kiosk.yaml"
    view = Room().open(path, SPEC).view(path)
    assert view.result is None
    assert "rc-poe" in [o.label for o in completion.complete(view, at(SPEC, "product: strike|-12, side"))]
    assert hints.hints(view, 0, len(SPEC)) == () and actions.actions(view, 0, len(SPEC)) == ()


# -- navigation ------------------------------------------------------------------------------------


def reached(view: View, marked: str) -> list[str]:
    """The lines that a definition leads to."""
    found = navigation.definition(view, at(view.buffer.text, marked))
    lines = []
    for target in found:
        text = view.parts[target.file].text
        assert text[target.start : target.end].strip("'\"")
        lines.append(text[text.rfind("\n", 0, target.start) + 1 : text.find("\n", target.end)].strip())
    return lines


@pytest.mark.parametrize(
    ("marked", "lines"),
    [
        ("product: strike|-12, side", ["strike-12:"]),
        ("fed_from: sw|-1", ["sw-1: {kind: poe_switch, title: Switch of the kiosk, "
                             "standard: 802.3at, port_class: 4, budget: 370 W}"]),
        ('cable: "18|/2"', ['"18/2": {kind: multiconductor, conductor: 18 AWG, conductors: 2}']),
        ("set: HW|-1\n    inter", ["HW-1:"]),
        ("interlocked_with: [114|A]", ["114A:"]),
        ("fed_from: rc.lo|ck", ["outputs: {lock: {supply: dc, switch: solid_state, voltage: 12 V, current: 750 mA}}"]),
        ("fed_from: psu-1.|2", ['outputs: {"1": {current: 2 A}, "2": {current: 2 A}}']),
        ("fed_from: psu|-1.2", ["psu-1:"]),
        ("switched_by: rc.rel|ay.no", ["contacts: {relay: {form: spdt}, aux: {form: no}}"]),
        ("suppression: dio|de-1a", ["diode-1a: {kind: suppressor, suppressor: {type: diode, stand_off: 400 V}}"]),
        ("item: be|ll", ["bell: {product: strike-12, fed_from: psu-1.2, switched_by: rc.relay.no, length: 9}"]),
        # a device of the set: at the opening what it overrides, then the set's own entry
        ("switched_by: r|c.relay", ["rc: {length: 5 m}",
                                    "rc: {product: rc-poe, side: unsecured, fed_from: sw-1, cable: cat6}"]),
        ("title: Switch of| the", []),
    ],
)  # fmt: skip
def test_definitions(view: View, marked: str, lines: list[str]) -> None:
    assert reached(view, marked) == lines


def test_references_are_all_uses_and_nothing_else(view: View) -> None:
    found = navigation.references(view, at(SPEC, "  strike|-12:\n"), definitions=True)
    assert [SPEC[one.start : one.end] for one in found] == ["strike-12"] * SPEC.count("strike-12")
    without_definition = navigation.references(view, at(SPEC, "  strike|-12:\n"), definitions=False)
    assert len(without_definition) == len(found) - 1
    devices = navigation.references(view, at(SPEC, "fed_from: r|c.lock"), definitions=True)
    assert [SPEC[one.start : one.end] for one in devices] == ["rc"] * 5


def test_references_reach_the_other_files(quay: tuple[Room, Path]) -> None:
    room, path = quay
    view = room.view(path)
    found = navigation.references(view, at(view.buffer.text, "product: strike-12|\n        side"), definitions=True)
    everywhere = sum(part.text.count("strike-12") for part in view.parts.values())
    assert {view.parts[one.file].text[one.start : one.end] for one in found} == {"strike-12"}
    assert len({one.file for one in found}) == 4
    longer = sum(part.text.count("strike-12-") for part in view.parts.values())
    assert len(found) == everywhere - longer


def test_symbols_are_the_openings_with_their_items(view: View) -> None:
    found = {symbol.name: symbol for symbol in navigation.symbols(view)}
    assert list(found) == ["Project", "Products", "Power", "Cables", "Hardware sets", "Openings", "Waivers"]
    openings = found["Openings"].children
    assert [opening.name for opening in openings] == ["114A", "114B"]
    assert [(item.name, item.detail) for item in openings[1].children] == [("rc", ""), ("bell", "strike-12")]
    for symbol in (*openings, *openings[1].children):
        assert SPEC[symbol.name_start : symbol.name_end] == symbol.name
        assert symbol.start <= symbol.name_start <= symbol.name_end <= symbol.end
    assert [name for name, *_ in navigation.entries_named(view, "14b")] == ["114B"]


# -- renaming --------------------------------------------------------------------------------------


def renamed(view: View, marked: str, name: str) -> str:
    """The text of the spec after a renaming at the bar."""
    text = view.buffer.text
    changes = rename.rename(view, at(text, marked), name)
    for change in sorted(changes, key=lambda one: one.target.start, reverse=True):
        text = text[: change.target.start] + change.text + text[change.target.end :]
    return text


@pytest.mark.parametrize(
    ("marked", "old", "new"),
    [
        ("  strike|-12:\n", "strike-12", "strike-of-12-V"),
        ("fed_from: sw|-1", "sw-1", "sw-9"),
        ("fed_from: psu|-1.2", "psu-1", "psu-two"),
        ('cable: "18|/2"', "18/2", "16/2"),
        ("set: HW|-1\n    inter", "HW-1", "HW 1: 'new' #1"),
        ("interlocked_with: [114|A]", "114A", "010"),
        ("suppression: dio|de-1a", "diode-1a", "true"),
    ],
)
def test_after_a_renaming_the_spec_means_the_same(
    view: View, tmp_path: Path, marked: str, old: str, new: str
) -> None:
    text = renamed(view, marked, new)
    path = tmp_path / "kiosk.yaml"
    path.write_text(text)
    result = review(path)
    assert view.result is not None and result.spec is not None

    def told(outcomes: object, swap: bool) -> list[tuple[str, str, str]]:
        found = []
        for outcome in outcomes:  # type: ignore[attr-defined]
            subject = outcome.subject.replace(old, new) if swap else outcome.subject
            found.append((outcome.rule, outcome.kind.value, subject))
        return sorted(found)

    assert told(result.outcomes, False) == told(view.result.outcomes, True)


def test_an_item_is_renamed_in_its_set_and_wherever_it_is_overridden(view: View) -> None:
    tree = parse(renamed(view, "fed_from: r|c.lock", "controller")).tree
    assert list(tree["hardware_sets"]["HW-1"]["items"]) == ["controller", "lock"]
    assert tree["hardware_sets"]["HW-1"]["items"]["lock"]["fed_from"] == "controller.lock"
    assert list(tree["openings"]["114A"]["items"]) == ["controller", "lock"]
    assert tree["openings"]["114B"]["items"]["bell"]["switched_by"] == "controller.relay.no"
    tree = parse(renamed(view, "item: be|ll", "gong")).tree
    assert tree["waivers"][1]["item"] == "gong" and "gong" in tree["openings"]["114B"]["items"]


def test_an_output_is_renamed_on_the_sheet_and_in_the_feeds(view: View) -> None:
    tree = parse(renamed(view, "fed_from: rc.lo|ck", "strike")).tree
    assert list(tree["products"]["rc-poe"]["outputs"]) == ["strike"]
    assert tree["hardware_sets"]["HW-1"]["items"]["lock"]["fed_from"] == "rc.strike"
    assert list(tree["hardware_sets"]["HW-1"]["items"]) == ["rc", "lock"], "the item of that name stays"


@pytest.mark.parametrize(
    ("marked", "name", "why"),
    [
        ("  strike|-12:\n", "rc-poe", "already"),
        ("  strike|-12:\n", "unknown", "unknown"),
        ("  strike|-12:\n", " x", "cannot be"),
        ("fed_from: r|c.lock", "r.c", "dot"),
        ("fed_from: r|c.lock", "sw-1", "already"),
        ("fed_from: r|c.lock", "lock", "already"),
        ("fed_from: r|c.lock", "bell", "already"),
        ("fed_from: sw|-1", "rc", "already"),
        ("fed_from: sw|-1", "a/b", "slash"),
        ("rule: suppression/|missing", "mine", "rule"),
        ("name: Invented| kiosk", "x", "no id"),
    ],
)
def test_a_renaming_that_would_change_the_meaning_is_refused(view: View, marked: str, name: str, why: str) -> None:
    with pytest.raises(rename.NoRename, match=why):
        rename.rename(view, at(SPEC, marked), name)


def test_nothing_is_renamed_while_a_file_cannot_be_read(tmp_path: Path) -> None:
    _, sheets, doors = pieces(tmp_path)
    room = Room().open(sheets).open(doors).settle()
    room.write(doors, doors.read_text() + "  {{\n")
    view = room.view(sheets)
    with pytest.raises(rename.NoRename, match="cannot be read"):
        rename.rename(view, at(view.buffer.text, "  strike|-12:"), "other")


def test_what_is_renamed_is_the_part_under_the_cursor(view: View) -> None:
    for marked, text in (("fed_from: psu|-1.2", "psu-1"), ("fed_from: psu-1.|2", "2"), ('cable: "1|8/2"', "18/2")):
        target = rename.renamable(view, at(SPEC, marked))
        assert SPEC[target.start : target.end] == text


# -- repairs and figures ---------------------------------------------------------------------------


def test_a_repair_cures_the_finding(quay: tuple[Room, Path], tmp_path: Path) -> None:
    room, path = quay
    view = room.view(path)
    offset = at(view.buffer.text, "cathode: to_neg|ative")
    found = actions.actions(view, offset, offset)
    (action,) = [one for one in found if one.code == "suppression/reversed"]
    assert not action.refused and "turn the suppressor round" in action.title
    part = terminal(tmp_path) / "openings" / "operations.yaml"
    after = Room().open(part)
    for change in action.changes:
        assert change.target.file == path.as_posix()
        text = view.buffer.text
        after.write(part, text[: change.target.start] + change.text + text[change.target.end :])
    after.settle()
    assert "suppression/reversed" not in {finding.code for finding in after.findings(part)}
    assert "suppression/missing" in {finding.code for finding in after.findings(part)}


def test_a_repair_that_touches_life_safety_is_shown_only(quay: tuple[Room, Path]) -> None:
    room, path = quay
    view = room.view(path)
    (finding,) = [f for f in room.findings(path) if f.code == "release/fail-safe-held-by-poe-alone"]
    found = [one for one in actions.actions(view, finding.start, finding.end) if one.code == finding.code]
    assert found
    assert all(one.changes == () and "life safety" in one.refused for one in found)


def test_repairs_are_made_for_the_text_that_was_reviewed_only(tmp_path: Path) -> None:
    part = terminal(tmp_path) / "openings" / "operations.yaml"
    room = Room().open(part).settle()
    room.write(part, ((0, 0), (0, 0), "# new\n"))
    view = room.view(part)
    offset = at(view.buffer.text, "cathode: to_neg|ative")
    assert actions.actions(view, offset, offset) == ()


def test_a_misspelt_word_is_put_right(tmp_path: Path) -> None:
    room, path = kiosk(tmp_path, SPEC.replace("fail: secure", "fial: secure"))
    view = room.view(path)
    offset = at(view.buffer.text, "fi|al: secure")
    (action,) = actions.actions(view, offset, offset)
    assert [change.text for change in action.changes] == ["fail"]
    assert action.code == "format/unknown-key"
    assert actions.actions(view, 0, 3) == ()


def test_figures_stand_beside_devices_and_sources(quay: tuple[Room, Path]) -> None:
    room, path = quay
    view = room.view(path)
    assert view.result is not None
    found = hints.hints(view, 0, len(view.buffer.text))
    (lock,) = [h for h in found if h.about.startswith("O01/lock:")]
    line = view.buffer.text[: lock.offset].rsplit("\n", 1)[1]
    assert line == "      lock:"
    margins = {
        float(o.margin.value) / float(o.limit.value): o
        for o in view.result.outcomes
        if o.subject == "O01/lock" and o.rule in hints.AT_DEVICES and o.margin is not None and o.limit is not None
    }
    worst = margins[min(margins)]
    assert lock.text == f"{worst.measured}, margin +{worst.margin}"
    power = path.parents[1] / "power.yaml"
    room = Room().open(power).settle()
    view = room.view(power)
    sources = [h.about.partition(":")[0] for h in hints.hints(view, 0, len(view.buffer.text))]
    assert {"psu-24", "psu-12", "sw-1", "sw-2"} <= set(sources)


def test_figures_of_a_set_are_those_of_its_worst_opening(quay: tuple[Room, Path]) -> None:
    _, path = quay
    interior = path.parents[1] / "sets" / "interior.yaml"
    view = Room().open(interior).settle().view(interior)
    found = hints.hints(view, 0, len(view.buffer.text))
    assert found and all(" at " in hint.text for hint in found)


def test_the_rules_behind_the_figures_exist(quay: tuple[Room, Path]) -> None:
    room, path = quay
    result = room.view(path).result
    assert result is not None
    assert {*hints.AT_DEVICES, *hints.AT_SOURCES} <= {rule.id for rule in result.rulebook.rules}


# -- texts -----------------------------------------------------------------------------------------


@given(st.text(min_size=1, max_size=12))
def test_a_written_id_reads_back_as_itself(text: str) -> None:
    text = "".join(char for char in text if char.isprintable()) or "x"
    shown_as = written(text)
    assert parse(f"k: {shown_as}").tree == {"k": text}
    assert parse(f"{{k: {shown_as}, l: 1}}").tree == {"k": text, "l": 1}
    assert parse(f"{shown_as}: 1").tree == {text: 1}


def test_markdown_shows_texts_as_they_stand() -> None:
    assert words("a*b_[c]<d>\n e") == r"a\*b\_\[c\]\<d\> e"
    assert code("a`b") == "``a`b``"
    assert without(f"**{words('a*b')}** {code('c`d')} {words('<e>')}") == "a*b c`d <e>"
    assert flow({"a": [1, True, None, {"b": "c d"}]}) == "{a: [1, true, , {b: c d}]}"
    assert len(flow({"a": "x" * 500})) == 160
