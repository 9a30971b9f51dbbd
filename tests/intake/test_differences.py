"""A spec compared with its model.

The hand is checked against geometry: ISO 16739-1 lets a leaf open into the positive y axis of its door and tells left
and right along that axis (IfcDoorTypeOperationEnum), which is laid out here as points in a plan.
"""

from __future__ import annotations

import itertools
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from model_samples import FOOT, door, model, properties

from doorlint import cli
from doorlint.intake.differences import Difference, compare
from doorlint.intake.models import FLAGS, LABELS, read_doors
from doorlint.model_rules import MODEL_RULES
from doorlint.outcome import Cited, Kind, Level
from doorlint.reviewing import review, review_text
from doorlint.rulebook import Rulebook

ROOT = Path(__file__).parent.parent.parent
EXAMPLE = ROOT / "examples" / "gull_point_ferry_terminal"
MODELS = ROOT / "examples" / "intake"

Compared = Callable[..., list[Difference]]


@pytest.fixture
def compared(tmp_path: Path) -> Compared:
    """Compare an opening D1, given as YAML lines below its id, with a model of these instances."""

    def run(opening: str, *lines: str, unit: str = "") -> list[Difference]:
        text = "doorlint: 1\nproject: {name: Gull Point}\n"
        text += "products: {closer-3: {kind: closer}, strike: {kind: electric_strike}}\nopenings:\n  D1:\n"
        text += "".join(f"    {line}\n" for line in ("set: none", *opening.splitlines()))
        spec = review_text(text, str(tmp_path / "spec.yaml"), rulebook=Rulebook()).spec
        assert spec is not None
        more = {"unit": unit} if unit else {}
        return list(compare(spec, read_doors(model(tmp_path / "m.ifc", *lines, **more))))

    return run


def _of(found: list[Difference], rule: str) -> Difference | None:
    named = [one for one in found if one.outcome.rule == f"model/{rule}"]
    assert len(named) <= 1
    return named[0] if named else None


def _kind(found: list[Difference], rule: str) -> Kind | None:
    one = _of(found, rule)
    return None if one is None else one.outcome.kind


# -- ratings, sizes and flags ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("spec", "label", "kind"),
    [
        ("90 min", "IFCLABEL('90')", Kind.PASS),
        ("90 min", "IFCLABEL('1 1/2 HR')", Kind.PASS),
        ("none", "IFCLABEL('NR')", Kind.PASS),
        ("EI2 30-C5", "IFCLABEL('EI2 30-C5')", Kind.PASS),
        ("90 min", "IFCLABEL('60 min')", Kind.FAIL),
        ("none", "IFCLABEL('20')", Kind.FAIL),
        ("20 min", "IFCLABEL('-')", Kind.FAIL),
        ("EI2 30", "IFCLABEL('E 30')", Kind.FAIL),
        ("30 min", "IFCLABEL('EI2 30-C5')", Kind.OPEN),
        ("90 min", "IFCLABEL('as drawn')", Kind.OPEN),
        ("90 min", "$", Kind.OPEN),
        ("unknown", "IFCLABEL('90')", Kind.OPEN),
        ("unknown", "$", None),
    ],
)
def test_fire_rating(spec: str, label: str, kind: Kind | None, compared: Compared) -> None:
    found = compared(f"fire_rating: {spec}", door(), properties(FireRating=label))
    assert _kind(found, "fire-rating") is kind


@pytest.mark.parametrize(
    ("leaf", "width", "kind"),
    [
        ("count: 1, width: 36 in", "914.4", Kind.PASS),
        ("count: 1, width: 36 in", "914", Kind.PASS),
        ("count: 1, width: 36 in", "916.4", Kind.PASS),  # at the rounding of 2 mm
        ("count: 1, width: 36 in", "916.5", Kind.OPEN),  # above it: a little of a frame
        ("count: 1, width: 36 in", "1044.4", Kind.OPEN),  # at what a usual frame takes, 130 mm
        ("count: 1, width: 36 in", "1044.5", Kind.FAIL),
        ("count: 1, width: 36 in", "912.3", Kind.FAIL),  # no door is smaller than its leaf
        ("count: 2, width: 36 in", "1828.8", Kind.PASS),
        ("count: 2, width: 36 in", "914.4", Kind.FAIL),
        ("width: 36 in", "914.4", Kind.OPEN),
        ("count: 1", "914.4", Kind.OPEN),
        ("count: 1, width: 36 in", "$", Kind.OPEN),
        ("count: 1", "$", None),
    ],
)
def test_width(leaf: str, width: str, kind: Kind | None, compared: Compared) -> None:
    found = compared(f"leaf: {{{leaf}}}", door(width=width, height="$", operation="$"))
    assert _kind(found, "size") is kind


def test_a_lining_that_is_stated_explains_its_own_size_only(compared: Compared) -> None:
    lining = (
        "#30=IFCDOORLININGPROPERTIES('0000000000000000000030',$,$,$,$,50.,$,$,$,$,$,$,$,$,$,$,$);",
        "#31=IFCDOORTYPE('0000000000000000000031',$,'T',$,$,(#30),$,$,$,.DOOR.,.SINGLE_SWING_LEFT.,$,$);",
        "#32=IFCRELDEFINESBYTYPE('0000000000000000000032',$,$,$,(#10),#31);",
    )
    for width, kind in (("1014.4", Kind.PASS), ("990", Kind.FAIL)):
        found = compared("leaf: {count: 1, width: 36 in}", door(width=width, height="$"), *lining)
        assert _kind(found, "size") is kind


def test_a_model_in_feet(compared: Compared) -> None:
    found = compared("leaf: {count: 1, width: 36 in, height: 7 ft}", door(width="3.", height="7."), unit=FOOT)
    assert [one.outcome.kind for one in found if one.outcome.rule == "model/size"] == [Kind.PASS, Kind.PASS]


@pytest.mark.parametrize(
    ("rule", "name", "yes", "no"),
    [
        ("smoke-control", "SmokeStop", "smoke_control: true", "smoke_control: false"),
        ("accessible-route", "HandicapAccessible", "accessible_route: true", "accessible_route: false"),
        ("external", "IsExternal", "exposure: exposed", "exposure: interior"),
        ("external", "IsExternal", "{from: hall, to: exterior}", "exposure: interior"),
        ("self-closing", "SelfClosing", "items: {closer: {product: closer-3}}", "items: {lock: {product: strike}}"),
    ],
)
def test_flags(rule: str, name: str, yes: str, no: str, compared: Compared) -> None:
    lines = {True: yes.strip("{}").replace(", ", "\n") if yes.startswith("{") else yes, False: no}
    for spec, said in itertools.product((True, False), repeat=2):
        value = "IFCBOOLEAN(.T.)" if said else "IFCBOOLEAN(.F.)"
        found = compared(lines[spec], door(), properties(10, 20, **{name: value}))
        assert _kind(found, rule) is (Kind.PASS if spec is said else Kind.FAIL), (spec, said)
    unsaid = compared("note: nothing said", door(), properties(10, 20, **{name: "IFCBOOLEAN(.T.)"}))
    assert _kind(unsaid, rule) is Kind.OPEN
    silent = _kind(compared(yes.strip("{}").replace(", ", "\n") if yes.startswith("{") else yes, door()), rule)
    assert silent is (None if rule == "self-closing" else Kind.OPEN)


@pytest.mark.parametrize(
    ("egress", "said", "kind"),
    [
        ("egress: {side: from, by: lever}", ".T.", Kind.PASS),
        ("egress: {side: none}", ".T.", Kind.FAIL),
        ("egress: {side: none}", ".F.", Kind.PASS),
        ("egress: {side: from, by: lever}", ".F.", Kind.PASS),  # a way out of a room, no exit
        ("egress: {side: from, by: bar}\nmain_entrance: true", ".F.", Kind.FAIL),
        ("egress: {side: from, by: bar}\nstair_discharge: true", ".F.", Kind.FAIL),
        ("egress: {side: unknown}", ".T.", Kind.OPEN),
        ("note: nothing said", ".T.", Kind.OPEN),
    ],
)
def test_fire_exit(egress: str, said: str, kind: Kind, compared: Compared) -> None:
    found = compared(egress, door(), properties(FireExit=f"IFCBOOLEAN({said})"))
    assert _kind(found, "fire-exit") is kind


@pytest.mark.parametrize("exposure", ["sheltered", "wash_down"])
def test_what_may_be_inside_or_outside_is_open(exposure: str, compared: Compared) -> None:
    for said in (".T.", ".F."):
        found = compared(f"exposure: {exposure}", door(), properties(IsExternal=f"IFCBOOLEAN({said})"))
        assert _kind(found, "external") is Kind.OPEN


# -- the hand, against geometry --------------------------------------------------------------------


def _hand_seen_from(observer: float, hinge: float) -> str:
    """The side on which a hinge at (hinge, 0) lies for somebody at (0, observer) who looks at the door at (0, 0): left
    where the cross product of the view and the way to the hinge points up."""
    view = (0.0, -observer)
    to_hinge = (hinge, -observer)
    return "left" if view[0] * to_hinge[1] - view[1] * to_hinge[0] > 0 else "right"


@pytest.mark.parametrize("operation", ["SINGLE_SWING_LEFT", "SINGLE_SWING_RIGHT"])
@pytest.mark.parametrize("swing", ["in", "out"])
@pytest.mark.parametrize("unsecured", ["from", "to"])
def test_hand_against_geometry(operation: str, swing: str, unsecured: str, compared: Compared) -> None:
    # the model: the leaf opens into +y; along +y the hinge is at the left (-x) or at the right (+x)
    hinge = -1.0 if operation.endswith("LEFT") else 1.0
    # the spec: the space that the leaf swings into (in: `from`, out: `to`) is therefore the one at +y
    at_plus_y = "from" if swing == "in" else "to"
    expected = _hand_seen_from(1.0 if unsecured == at_plus_y else -1.0, hinge)
    for hand in ("left", "right"):
        spec = f"unsecured_side: {unsecured}\nleaf: {{count: 1, swing: {swing}, hand: {hand}}}"
        found = compared(spec, door(operation=f".{operation}."))
        assert _kind(found, "hand") is (Kind.PASS if hand == expected else Kind.FAIL)


@pytest.mark.parametrize(
    ("spec", "operation", "kind"),
    [
        ("leaf: {swing: out, hand: left}", ".SINGLE_SWING_LEFT.", Kind.OPEN),
        ("unsecured_side: both\nleaf: {swing: out, hand: left}", ".SINGLE_SWING_LEFT.", Kind.OPEN),
        ("unsecured_side: to\nleaf: {hand: left}", ".SINGLE_SWING_LEFT.", Kind.OPEN),
        ("unsecured_side: to\nleaf: {swing: out}", ".SINGLE_SWING_LEFT.", Kind.OPEN),
        ("unsecured_side: to\nleaf: {swing: both, hand: left}", ".SINGLE_SWING_LEFT.", Kind.FAIL),
        ("unsecured_side: to\nleaf: {swing: out, hand: left}", ".DOUBLE_SWING_LEFT.", Kind.FAIL),
        ("unsecured_side: to\nleaf: {swing: both, hand: left}", ".DOUBLE_SWING_LEFT.", Kind.OPEN),
        ("unsecured_side: to\nleaf: {swing: out, hand: left}", "$", Kind.OPEN),
        ("unsecured_side: to\nleaf: {swing: out, hand: left}", ".SLIDING_TO_LEFT.", None),
    ],
)
def test_hand_that_cannot_be_told(spec: str, operation: str, kind: Kind | None, compared: Compared) -> None:
    assert _kind(compared(spec, door(operation=operation)), "hand") is kind


@pytest.mark.parametrize(("count", "kind"), [("1", Kind.FAIL), ("2", Kind.PASS), ("unknown", Kind.OPEN)])
def test_leaf_count(count: str, kind: Kind, compared: Compared) -> None:
    found = compared(f"leaf: {{count: {count}}}", door(operation=".DOUBLE_DOOR_SINGLE_SWING."))
    assert _kind(found, "leaf-count") is kind


# -- doors on one side only ------------------------------------------------------------------------


def test_missing_on_either_side(compared: Compared) -> None:
    found = compared("note: drawn elsewhere", door(10, "'D2'"))
    assert [(one.outcome.rule, one.outcome.subject, one.outcome.kind) for one in found] == [
        ("model/not-in-model", "D1", Kind.FAIL),
        ("model/not-in-spec", "D2", Kind.FAIL),
    ]
    assert found[0].model is None
    assert found[1].model is not None
    assert found[1].model.instance == 10


def test_the_name_serves_where_the_tag_is_another_number(compared: Compared) -> None:
    found = compared("fire_rating: 90 min", door(10, "'345678'", name="'D1'"), properties(FireRating="IFCLABEL('90')"))
    assert _kind(found, "fire-rating") is Kind.PASS
    assert _of(found, "not-in-model") is None


def test_doors_called_alike_are_each_compared(compared: Compared) -> None:
    found = compared("fire_rating: 90 min", door(10), door(11), properties(11, FireRating="IFCLABEL('20')"))
    assert _kind(found, "called-alike") is Kind.FAIL
    ratings = [one for one in found if one.outcome.rule == "model/fire-rating"]
    rated = [(one.model.instance, one.outcome.kind) for one in ratings if one.model is not None]
    assert rated == [(10, Kind.OPEN), (11, Kind.FAIL)]


def test_the_grounds_name_properties_of_the_standard() -> None:
    cited = [b for rule in MODEL_RULES.values() for b in rule.basis if isinstance(b, Cited) and "Pset" in b.clause]
    assert {one.clause for one in cited} <= {f"Pset_DoorCommon.{name}" for name in (*FLAGS, *LABELS)}
    assert len(cited) == 7


# -- house standards ---------------------------------------------------------------------------------


def _with_house(tmp_path: Path, rules: str) -> Path:
    (tmp_path / "office.yaml").write_text(f"doorlint: 1\nrules:\n{rules}")
    spec = tmp_path / "spec.yaml"
    spec.write_text(
        "doorlint: 1\nproject: {name: p, house: office.yaml}\nopenings:\n"
        "  D1: {set: none, fire_rating: 90 min, leaf: {count: 1, width: 36 in}}\n"
    )
    model(tmp_path / "m.ifc", door(width="700"), properties(FireRating="IFCLABEL('60')"))
    return spec


def test_a_house_standard_sets_levels_and_switches_off(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    rules = "  model/size: {off: true, reason: sizes are settled by the survey}\n  model/fire-rating: {level: note}\n"
    spec = _with_house(tmp_path, rules + "  model/hand: {level: error}\n")
    assert cli.run(["model", str(spec), str(tmp_path / "m.ifc"), "--format", "json"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert not [one for one in data["compared"] if one["rule"] == "model/size"]
    assert data["off"] == {"model/size": "sizes are settled by the survey"}
    # it bears on life safety, so it is not lowered
    assert [one["level"] for one in data["compared"] if one["rule"] == "model/fire-rating"] == ["error"]
    cli.run(["model", str(spec), str(tmp_path / "m.ifc")])
    told = capsys.readouterr().out
    assert "Not compared, by the house standards: model/size (sizes are settled by the survey)" in told
    result = review(spec)
    assert [(one.rule, one.subject) for one in result.outcomes if one.rule.startswith("house/")] == [
        ("house/loosened", "model/fire-rating")
    ]
    assert result.settings.level(MODEL_RULES["model/hand"]) is Level.ERROR
    capsys.readouterr()
    cli.run(["house", str(spec)])
    shown = capsys.readouterr().out
    assert "model/size" in shown and "(default warning)" in shown


def test_a_rule_of_the_comparison_that_is_misspelt_is_told(tmp_path: Path) -> None:
    result = review(_with_house(tmp_path, "  model/sise: {level: error}\n"))
    found = [one for one in result.outcomes if one.rule == "house/unknown-rule"]
    assert len(found) == 1 and "did you mean model/size" in found[0].message


# -- the example and the command -------------------------------------------------------------------

_MEANT = {
    ("L03", "model/fire-rating"),
    ("L04", "model/hand"),
    ("O02", "model/size"),
    ("O03", "model/external"),
    ("X01", "model/not-in-spec"),
}


def test_the_example_differs_where_it_is_meant_to() -> None:
    result = review(EXAMPLE, rulebook=Rulebook())
    assert result.spec is not None
    found = compare(result.spec, read_doors(MODELS / "terminal_ifc4.ifc"))
    failed = {(one.outcome.subject, one.outcome.rule) for one in found if one.outcome.kind is Kind.FAIL}
    assert {one for one in failed if one[1] != "model/not-in-model"} == _MEANT
    drawn = {"L01", "L03", "L04", "O01", "O02", "O03"}
    assert {subject for subject, rule in failed if rule == "model/not-in-model"} == set(result.spec.openings) - drawn
    for one in found:
        result.region(one.outcome.place)  # every place is there


def test_the_command_writes_message_lines(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["model", str(EXAMPLE), str(MODELS / "terminal_ifc4.ifc")]) == 1
    out = capsys.readouterr().out
    line = next(one for one in out.splitlines() if "[model/fire-rating]" in one)
    assert ": error: L03: the spec says 90 min; the model says FireRating 60 " in line
    file, number, column = line.split(": ")[0].rsplit(":", 2)
    assert Path(file).read_text().splitlines()[int(number) - 1][int(column) - 1 :].startswith("90 min")
    note = out.splitlines()[out.splitlines().index(line) + 3]
    file, number, _ = note.strip().split(": ")[0].rsplit(":", 2)
    assert Path(file).read_text().splitlines()[int(number) - 1].startswith("#32=IFCDOOR(")


def test_the_command_writes_json_with_both_places(tmp_path: Path) -> None:
    target = tmp_path / "out.json"
    asked = ["model", str(EXAMPLE), str(MODELS / "terminal_ifc2x3.ifc"), "--format", "json", "--output", str(target)]
    assert cli.run(asked) == 1
    data = json.loads(target.read_text())
    rating = next(one for one in data["compared"] if one["rule"] == "model/fire-rating" and one["kind"] == "fail")
    assert rating["place"]["pointer"] == "/openings/L03/fire_rating"
    assert rating["place"]["start"]["line"] > 1
    assert (rating["model"]["name"], rating["model"]["global_id"]) == ("FireRating", "3Dd67st_bLgh_1fkuN0jHo")
    assert (rating["spec_says"], rating["model_says"]) == ("90 min", "60")
    assert sum(data["counts"].values()) == len(data["compared"])
    assert data["model"]["schema"] == "IFC2X3"


def test_the_exit_status(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    spec = tmp_path / "spec.yaml"
    spec.write_text("doorlint: 1\nproject: {name: p}\nopenings:\n  D1: {set: none, fire_rating: 90 min}\n")
    drawn = model(tmp_path / "m.ifc", door(), door(11, "'D2'"), properties(FireRating="IFCLABEL('90')"))
    assert cli.run(["model", str(spec), str(drawn)]) == 0  # a door that only the model has is a note
    assert cli.run(["model", str(spec), str(drawn), "--failing-level", Level.NOTE.value]) == 1
    model(tmp_path / "m.ifc", door(), properties(FireRating="IFCLABEL('60')"))
    assert cli.run(["model", str(spec), str(drawn)]) == 1
    (tmp_path / "m.ifc").write_text("nothing")
    capsys.readouterr()
    assert cli.run(["model", str(spec), str(drawn)]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.count("\n") == 1
    assert "is no IFC file" in told.err
    model(tmp_path / "m.ifc", door())
    spec.write_text("doorlint: 1\nproject: {name: p}\nopenings:\n  D1: {set: none, fire_rating: [\n")
    assert cli.run(["model", str(spec), str(drawn)]) == 2
    assert cli.run(["model", str(tmp_path / "none.yaml"), str(drawn)]) == 2
    assert cli.run(["model", str(spec), str(drawn), "--output", str(drawn)]) == 2
