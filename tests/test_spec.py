"""From files to the typed model: includes and their limits, hardware sets and what an opening overrides, references."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import FrozenInstanceError, fields
from fractions import Fraction
from pathlib import Path

import pytest

from doorlint.outcome import Outcome, Place
from doorlint.quantity import Band, Quantity
from doorlint.reviewing import Result, review, review_text
from doorlint.rulebook import Rulebook
from doorlint.schema import schema_text
from doorlint.spec import UNKNOWN, Coil, Item, Product, Undecided, known
from doorlint.spec import model as model_module
from doorlint.spec.fields import Part
from doorlint.spec.files import Overlay, SpecError, find_roots, is_root, read_files
from doorlint.spec.read import Node, OpeningReader

NONE = Rulebook()
ROOT = "doorlint: 1\nproject: {name: Case}\n"


def folder(tmp_path: Path, files: Mapping[str, str]) -> Path:
    for name, text in files.items():
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return tmp_path


def reviewed(tmp_path: Path, files: Mapping[str, str], root: str = "spec.yaml") -> Result:
    return review(folder(tmp_path, files) / root, rulebook=NONE)


def text_of(result: Result, place: Place) -> str:
    return result.documents[place.file].source(result.region(place))


def only(result: Result) -> Outcome:
    (found,) = result.outcomes
    return found


# -- includes --------------------------------------------------------------------------------------


def test_the_parts_of_a_spec_are_one_spec(tmp_path: Path) -> None:
    result = reviewed(
        tmp_path,
        {
            "spec.yaml": ROOT + "include: [products/*.yaml, doors.yaml]\n",
            "products/locks.yaml": "doorlint: 1\nproducts: {strike: {kind: electric_strike}}\n",
            "products/readers.yaml": "doorlint: 1\nproducts: {reader: {kind: reader}}\n",
            "doors.yaml": "doorlint: 1\nopenings:\n"
            "  D1: {items: {lock: {product: strike}, reader: {product: reader}}}\n",
        },
    )
    assert result.outcomes == ()
    assert result.spec is not None
    assert list(result.spec.products) == ["strike", "reader"]
    item = result.spec.openings["D1"].items["lock"]
    assert item.sheet is result.spec.products["strike"]
    assert [Path(name).name for name in result.documents] == ["spec.yaml", "locks.yaml", "readers.yaml", "doors.yaml"]
    assert Path(item.place.file).name == "doors.yaml"


def test_includes_resolve_from_the_file_that_they_stand_in(tmp_path: Path) -> None:
    result = reviewed(
        tmp_path,
        {
            "spec.yaml": ROOT + "include: sets/all.yaml\n",
            "sets/all.yaml": "doorlint: 1\ninclude: [more/*.yaml]\n",
            "sets/more/a.yaml": "doorlint: 1\nproducts: {strike: {kind: electric_strike}}\n",
        },
    )
    assert result.outcomes == ()
    assert result.spec is not None
    assert list(result.spec.products) == ["strike"]


def test_a_file_included_twice_is_read_once(tmp_path: Path) -> None:
    result = reviewed(
        tmp_path,
        {
            "spec.yaml": ROOT + "include: [a.yaml, '*.yaml']\n",
            "a.yaml": "doorlint: 1\nproducts: {strike: {kind: electric_strike}}\n",
        },
    )
    assert result.outcomes == ()
    assert len(result.documents) == 2


@pytest.mark.parametrize("pattern", ["../other.yaml", "parts/../../other.yaml", "/etc/hostname"])
def test_an_include_may_not_lead_out_of_the_folder(tmp_path: Path, pattern: str) -> None:
    folder(tmp_path, {"other.yaml": "doorlint: 1\n"})
    found = only(reviewed(tmp_path / "spec", {"spec.yaml": ROOT + f"include: ['{pattern}']\n"}))
    assert found.rule == "include/outside"


def test_a_link_that_leads_out_of_the_folder_is_not_followed(tmp_path: Path) -> None:
    secret = "doorlint: 1\nproducts: {secret: {kind: reader}}\n"
    folder(tmp_path, {"secret.yaml": secret, "spec/spec.yaml": ROOT + "include: parts/*.yaml\n"})
    (tmp_path / "spec/parts").mkdir()
    (tmp_path / "spec/parts/a.yaml").symlink_to(tmp_path / "secret.yaml")
    result = review(tmp_path / "spec/spec.yaml", rulebook=NONE)
    assert only(result).rule == "include/outside"
    assert "secret" not in (result.spec.products if result.spec else {})
    assert len(result.documents) == 1


def test_a_link_within_the_folder_is_followed(tmp_path: Path) -> None:
    part = "doorlint: 1\nproducts: {strike: {kind: electric_strike}}\n"
    folder(tmp_path, {"spec.yaml": ROOT + "include: link.yaml\n", "real/a.yaml": part})
    (tmp_path / "link.yaml").symlink_to(tmp_path / "real/a.yaml")
    result = review(tmp_path / "spec.yaml", rulebook=NONE)
    assert result.outcomes == ()


def test_a_circle_of_includes_is_told_with_both_places(tmp_path: Path) -> None:
    result = reviewed(
        tmp_path,
        {
            "spec.yaml": ROOT + "include: a.yaml\n",
            "a.yaml": "doorlint: 1\ninclude: b.yaml\n",
            "b.yaml": "doorlint: 1\ninclude: a.yaml\n",
        },
    )
    found = only(result)
    assert found.rule == "include/cycle"
    assert Path(found.place.file).name == "b.yaml"
    assert text_of(result, found.place) == "a.yaml"
    assert [Path(related.place.file).name for related in found.related] == ["a.yaml"]


def test_a_missing_file_and_a_pattern_that_matches_nothing(tmp_path: Path) -> None:
    result = reviewed(tmp_path, {"spec.yaml": ROOT + "include: [gone.yaml, 'none/*.yaml']\n"})
    assert [found.rule for found in result.outcomes] == ["include/missing", "include/missing"]
    assert [text_of(result, found.place) for found in result.outcomes] == ["gone.yaml", "'none/*.yaml'"]


def test_a_part_that_cannot_be_read_makes_the_review_incomplete(tmp_path: Path) -> None:
    folder(tmp_path, {"spec.yaml": ROOT + "include: a.yaml\n"})
    (tmp_path / "a.yaml").write_bytes(b"products: {caf\xe9: 1}\n")
    result = review(tmp_path / "spec.yaml", rulebook=NONE)
    assert [found.rule for found in result.outcomes] == ["document/unreadable"]
    assert result.status() == 2


def test_a_broken_part_keeps_what_stands_before_the_fault(tmp_path: Path) -> None:
    result = reviewed(
        tmp_path,
        {
            "spec.yaml": ROOT + "include: a.yaml\n",
            "a.yaml": "doorlint: 1\nproducts:\n  strike: {kind: electric_strike}\n  lock: {kind: [\n",
        },
    )
    assert "document/syntax" in {found.rule for found in result.outcomes}
    assert result.spec is not None
    assert "strike" in result.spec.products
    assert result.status() == 2


def test_a_text_in_the_editor_stands_in_for_the_file(tmp_path: Path) -> None:
    folder(tmp_path, {"spec.yaml": ROOT + "include: a.yaml\n", "a.yaml": "doorlint: 1\n"})
    unsaved = Overlay({(tmp_path / "a.yaml").resolve(): "doorlint: 1\nproducts: {strike: {kind: electric_strike}}\n"})
    result = review(tmp_path / "spec.yaml", rulebook=NONE, overlay=unsaved)
    assert result.spec is not None
    assert list(result.spec.products) == ["strike"]


def test_a_part_that_exists_only_in_the_editor_is_included_by_a_pattern(tmp_path: Path) -> None:
    folder(tmp_path, {"spec.yaml": ROOT + "include: parts/*.yaml\n"})
    unsaved = Overlay({(tmp_path / "parts/new.yaml").resolve(): "doorlint: 1\nproducts: {strike: {kind: reader}}\n"})
    result = review(tmp_path / "spec.yaml", rulebook=NONE, overlay=unsaved)
    assert result.outcomes == ()
    assert result.spec is not None
    assert list(result.spec.products) == ["strike"]


# -- which spec a file belongs to ------------------------------------------------------------------


def test_a_part_belongs_to_the_root_above_it_that_includes_it(tmp_path: Path) -> None:
    here = folder(tmp_path, {"spec.yaml": ROOT + "include: parts/*.yaml\n", "parts/a.yaml": "doorlint: 1\n"})
    assert [root.resolve() for root in find_roots(here / "parts/a.yaml")] == [(here / "spec.yaml").resolve()]
    assert find_roots(here) == (here / "spec.yaml",)
    assert find_roots(here / "spec.yaml") == (here / "spec.yaml",)


def test_a_file_that_no_root_includes_is_refused_in_one_line(tmp_path: Path) -> None:
    here = folder(tmp_path, {".git/config": "", "spec.yaml": ROOT, "a.yaml": "doorlint: 1\n", "empty/x.txt": ""})
    for path in (here / "a.yaml", here / "empty", here / "gone.yaml"):
        with pytest.raises(SpecError) as caught:
            find_roots(path)
        assert "\n" not in str(caught.value)


def test_a_root_holds_a_project_at_its_top_level(tmp_path: Path) -> None:
    here = folder(tmp_path, {"a.yaml": "x:\n  project: no\n", "b.yaml": "# note\nproject: {}\n"})
    assert not is_root(here / "a.yaml")
    assert is_root(here / "b.yaml")
    assert not is_root(here)
    assert not is_root(here / "gone.yaml")


def test_a_root_that_cannot_be_read_is_a_spec_error(tmp_path: Path) -> None:
    for path in (tmp_path, tmp_path / "gone.yaml"):
        with pytest.raises(SpecError):
            read_files(path)


# -- the model -------------------------------------------------------------------------------------


def test_the_model_has_the_keys_of_the_schema_and_no_others() -> None:
    """One word for one thing: what an editor offers is what the model reads."""
    import json

    defs = json.loads(schema_text("spec"))["$defs"]
    own = {"items", "omit", "codes", "title"}  # read by hand, or an annotation
    compared = 0
    for name, part in vars(model_module).items():
        if not (isinstance(part, type) and issubclass(part, Part) and part is not Part):
            continue
        key = "".join(f"_{c.lower()}" if c.isupper() else c for c in name).lstrip("_")
        if key not in defs or "properties" not in defs[key]:
            continue
        read = {f.name.rstrip("_") for f in fields(part) if "read" in f.metadata}
        assert read - own == set(defs[key]["properties"]) - own, name
        compared += 1
    assert compared > 15


def test_quantities_are_exact_and_keep_their_text() -> None:
    text = ROOT + "products: {s: {kind: electric_strike, coil: {voltage: 24 V +-10 %, current: 0.1 A}}}\n"
    spec = review_text(text, "case.yaml", rulebook=NONE).spec
    assert spec is not None
    coil = spec.products["s"].coil
    assert isinstance(coil, Coil)
    assert coil.current == Quantity(Fraction(1, 10), "current", "0.1 A")
    assert coil.voltage == Band(Fraction("21.6"), Fraction("26.4"), Fraction(24), "voltage", "")


def test_the_model_is_frozen() -> None:
    spec = review_text(ROOT + "products: {s: {kind: reader}}\n", "case.yaml", rulebook=NONE).spec
    assert spec is not None
    with pytest.raises(FrozenInstanceError):
        spec.products["s"].kind = "keypad"  # type: ignore[misc]


def test_not_stated_unknown_and_unreadable_are_told_apart() -> None:
    text = ROOT + "products:\n  s:\n    kind: electric_strike\n    coil: {voltage: unknown, current: 450, peak: lots}\n"
    result = review_text(text, "case.yaml", rulebook=NONE)
    assert result.spec is not None
    coil = result.spec.products["s"].coil
    assert isinstance(coil, Coil)
    assert coil.inductance is None
    assert (coil.voltage, coil.current, coil.peak) == (UNKNOWN, UNKNOWN, UNKNOWN)
    assert sorted(text_of(result, found.place) for found in result.outcomes) == ["450", "lots"]
    for name, stated in (("voltage", True), ("inductance", False)):
        with pytest.raises(Undecided) as gap:
            known(coil, name, Quantity)
        assert (gap.value.name, gap.value.stated) == (name, stated)


def test_a_word_that_the_format_does_not_know_reads_as_unknown() -> None:
    text = ROOT + (
        "products: {s: {kind: electric_strike, fail: sometimes, coil: {supply: steam}}}\n"
        "openings: {D1: {exposure: outdoors, items: {lock: {product: s, side: left}}}}\n"
    )
    result = review_text(text, "case.yaml", rulebook=NONE)
    assert result.spec is not None
    sheet, opening = result.spec.products["s"], result.spec.openings["D1"]
    assert sheet.fail is UNKNOWN
    assert isinstance(sheet.coil, Coil)
    assert sheet.coil.supply is UNKNOWN
    assert opening.items["lock"].side is UNKNOWN
    assert getattr(opening.exposure, "secured", None) is UNKNOWN
    assert len(result.outcomes) == 4


def test_a_list_with_a_word_outside_the_format_or_with_unknown_reads_as_unknown() -> None:
    text = ROOT + (
        "products:\n  a: {kind: reader, credentials: [pin, password], monitors: [tamper, unknown], feedback: [light]}\n"
        "  b: {kind: reader, credentials: [pin], listings: [UL 294, unknown]}\n"
        "openings: {D1: {alarms: [loud, forced]}, D2: {alarms: [forced]}}\n"
    )
    result = review_text(text, "case.yaml", rulebook=NONE)
    assert result.spec is not None
    a, b = result.spec.products["a"], result.spec.products["b"]
    assert (a.credentials, a.monitors, a.feedback) == (UNKNOWN, UNKNOWN, ("light",))
    assert (b.credentials, b.listings) == (("pin",), UNKNOWN)
    assert [one.alarms for one in result.spec.openings.values()] == [UNKNOWN, ("forced",)]
    assert [text_of(result, found.place) for found in result.outcomes] == ["password", "loud"]


def test_known_refuses_a_value_of_another_type() -> None:
    product = Product(place=Place("f", "/p"), id="p", kind="reader")
    with pytest.raises(TypeError, match=r"Product\.kind is a str"):
        known(product, "kind", int)


# -- hardware sets ---------------------------------------------------------------------------------

SET = """\
doorlint: 1
project: {name: Case}
products:
  strike: {kind: electric_strike}
  other: {kind: electric_strike}
cables: {c: {kind: multiconductor}}
hardware_sets:
  S1:
    items:
      reader: {product: strike, side: unsecured, length: 10 m}
      lock: {product: strike, cable: c, fail: secure}
openings:
"""


def with_set(opening: str) -> Result:
    return review_text(f"{SET}  D1: {opening}\n", "case.yaml", rulebook=NONE)


def items_of(result: Result) -> Mapping[str, Item]:
    assert result.spec is not None
    return result.spec.openings["D1"].items


def test_an_opening_has_the_items_of_its_set() -> None:
    result = with_set("{set: S1}")
    items = items_of(result)
    assert list(items) == ["reader", "lock"]
    assert items["lock"].identity == "D1/lock"
    assert items["lock"].cable_sheet is not None
    assert items["lock"].at("fail").pointer == "/hardware_sets/S1/items/lock/fail"


def test_an_opening_overrides_single_fields_and_each_keeps_its_own_place() -> None:
    result = with_set("{set: S1, items: {lock: {fail: safe, product: other}}}")
    lock = items_of(result)["lock"]
    assert (lock.fail, lock.product, lock.cable) == ("safe", "other", "c")
    assert lock.sheet is not None
    assert lock.sheet.id == "other"
    assert lock.at("fail").pointer == "/openings/D1/items/lock/fail"
    assert lock.at("cable").pointer == "/hardware_sets/S1/items/lock/cable"
    assert lock.at("length") == lock.place.key
    assert lock.place.pointer == "/openings/D1/items/lock"


def test_an_opening_leaves_out_and_adds_items() -> None:
    result = with_set("{set: S1, items: {reader: {omit: true}, bolt: {product: other}}}")
    assert list(items_of(result)) == ["lock", "bolt"]
    assert result.outcomes == ()


def test_an_override_does_not_change_other_openings() -> None:
    result = with_set("{set: S1, items: {lock: {fail: safe}}}\n  D2: {set: S1}")
    assert result.spec is not None
    assert result.spec.openings["D2"].items["lock"].fail == "secure"


# -- references ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("opening", "text", "near"),
    [
        ("{set: S1x}", "S1x", "S1"),
        ("{items: {lock: {product: strke}}}", "strke", "strike"),
        ("{items: {lock: {product: strike, cable: zz}}}", "zz", None),
        ("{items: {lock: {product: strike, suppression: othr}}}", "othr", "other"),
        ("{items: {lock: {product: strike, suppression: [{product: othr}]}}}", "othr", "other"),
    ],
)
def test_an_id_that_is_not_defined_is_told_with_the_nearest_one(opening: str, text: str, near: str | None) -> None:
    result = with_set(opening)
    found = only(result)
    assert found.rule == "reference/unknown-id"
    assert text_of(result, found.place) == text
    assert [text_of(result, related.place) for related in found.related] == ([near] if near else [])
    assert (near is None) == ("did you mean" not in found.message)


def test_a_fault_in_a_set_is_told_once_not_once_for_each_opening() -> None:
    text = SET.replace("product: strike, cable: c", "product: gone, cable: c, length: ten")
    result = review_text(f"{text}  D1: {{set: S1}}\n  D2: {{set: S1}}\n", "case.yaml", rulebook=NONE)
    assert sorted(found.rule for found in result.outcomes) == ["format/not-a-quantity", "reference/unknown-id"]


def test_an_id_that_is_defined_in_two_files_is_told_with_both_places(tmp_path: Path) -> None:
    result = reviewed(
        tmp_path,
        {
            "spec.yaml": ROOT + "include: a.yaml\nproducts: {strike: {kind: electric_strike}}\n",
            "a.yaml": "doorlint: 1\nproducts: {strike: {kind: reader}}\n",
        },
    )
    found = only(result)
    assert found.rule == "reference/defined-twice"
    assert Path(found.place.file).name == "a.yaml"
    assert text_of(result, found.place) == "strike"
    assert [Path(related.place.file).name for related in found.related] == ["spec.yaml"]
    assert result.spec is not None
    assert result.spec.products["strike"].kind == "electric_strike", "the first counts"


def test_an_id_may_look_like_a_number_or_hold_a_slash() -> None:
    text = ROOT + 'products: {"114/a~b": {kind: reader}}\nopenings: {101: {items: {r: {product: "114/a~b"}}}}\n'
    result = review_text(text, "case.yaml", rulebook=NONE)
    assert result.outcomes == ()
    assert result.spec is not None
    item = result.spec.openings["101"].items["r"]
    assert item.sheet is not None
    assert text_of(result, item.sheet.place) == "{kind: reader}"


def test_whole_numbers_as_editions_are_kept() -> None:
    result = review_text("doorlint: 1\nproject: {name: Case, codes: {electrical: 2023}}\n", "c.yaml", rulebook=NONE)
    assert result.spec is not None
    assert result.spec.project.codes == {"electrical": "2023"}


def test_a_fault_of_a_set_is_told_for_every_opening_that_is_read_by_itself() -> None:
    sets = {
        "fine": {"items": {"lock": {"product": "magnet", "length": "3 m"}}},
        "faulty": {"items": {"lock": {"product": "magnet", "length": "3 cubits"}}},
    }
    nodes = {name: Node(value, Place("s.yaml", f"/hardware_sets/{name}")) for name, value in sets.items()}
    reader = OpeningReader({"magnet": Product(place=Place("s.yaml", "/products/magnet"), id="magnet")}, {}, nodes)
    told = []
    for number, name in enumerate(("fine", "faulty", "fine", "faulty", "faulty")):
        place = Place("s.yaml", f"/openings/{number}")
        opening, findings = reader.read(str(number), {"set": name}, place, frozenset())
        lock = opening.items["lock"]
        assert (lock.opening, lock.sheet) == (str(number), reader.products["magnet"])
        assert (lock.length is UNKNOWN) == (name == "faulty")
        told.append((name, [each.rule for each in findings]))
    assert told == [(name, ["format/not-a-quantity"] if name == "faulty" else []) for name, _ in told]
