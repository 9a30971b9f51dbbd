"""Rules on consistency over several files, and the helpers they stand on."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from importlib import import_module
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import doorlint
from doorlint import Kind, Outcome, Place
from doorlint.quantity import parse_band, parse_quantity
from doorlint.reviewing import review_text
from doorlint.rulebook import Rulebook, collect

# the package of the built-in rules is mapped onto a folder of another name, which a type checker does not follow
parties = import_module("doorlint.rules.consistency.parties")
plausible = import_module("doorlint.rules.consistency.plausible")
strength = import_module("doorlint.rules.tamper.lock_weaker_than_its_door")

BOOK = collect()
TOPIC = Rulebook(tuple(m for m in BOOK.modules if m.RULE.id.startswith("consistency/")))
NAMES = {module.RULE.id: Rulebook((module,)) for module in BOOK.modules}

ROOT = """\
doorlint: 1
project: {name: Case, revision: B}
include: [parts/*.yaml]
"""


def file_of(place: Place) -> str:
    """The name of a file below the folder of the spec."""
    return place.file.rpartition("/")[2]


def found(folder: Path, files: Mapping[str, str], rule: str) -> list[Outcome]:
    """What one rule says of a spec of several files, apart from passes and what does not concern it."""
    (folder / "parts").mkdir(exist_ok=True)
    (folder / "project.yaml").write_text(files.get("project.yaml", ROOT), "utf-8")
    for name, text in files.items():
        if name != "project.yaml":
            (folder / "parts" / name).write_text(f"doorlint: 1\n{text}", "utf-8")
    result = doorlint.review(folder, rulebook=NAMES[rule])
    told = [o for o in result.outcomes if o.kind in (Kind.FAIL, Kind.OPEN, Kind.REVIEW)]
    assert all(o.rule == rule for o in told), told
    return told


def test_a_set_that_a_title_in_another_file_contradicts_is_shown_in_the_set(tmp_path: Path) -> None:
    told = found(
        tmp_path,
        {
            "products.yaml": "products: {s: {kind: electric_strike, fail: secure}}\n",
            "sets.yaml": "hardware_sets: {H: {title: fail-safe strike, items: {lock: {product: s}}}}\n",
            "openings.yaml": "openings: {D1: {set: H}, D2: {set: H}}\n",
        },
        "consistency/fail-mode-against-text",
    )
    assert {(o.subject, file_of(o.place), o.place.pointer) for o in told} == {
        ("D1", "sets.yaml", "/hardware_sets/H/title"),
        ("D2", "sets.yaml", "/hardware_sets/H/title"),
    }


def test_two_addresses_in_two_files_name_each_other(tmp_path: Path) -> None:
    told = found(
        tmp_path,
        {
            "products.yaml": "products: {r: {kind: reader}}\n",
            "a.yaml": "openings: {A: {items: {r: {product: r, network_address: 10.0.0.4}}}}\n",
            "b.yaml": "openings: {B: {items: {r: {product: r, network_address: 10.0.0.4}}}}\n",
        },
        "consistency/address-used-twice",
    )
    assert {(o.subject, file_of(o.related[0].place)) for o in told} == {("A/r", "b.yaml"), ("B/r", "a.yaml")}


def test_a_party_named_in_one_file_asks_for_a_party_of_each_device_in_the_others(tmp_path: Path) -> None:
    files = {
        "products.yaml": "products: {s: {kind: electric_strike}, r: {kind: reader}}\n",
        "openings.yaml": "openings: {D1: {items: {lock: {product: s}, reader: {product: r}}}}\n",
    }
    rule = "consistency/nobody-furnishes-device"
    assert found(tmp_path, files, rule) == []
    files["products.yaml"] = "products: {s: {kind: electric_strike, furnished_by: supplier}, r: {kind: reader}}\n"
    told = found(tmp_path, files, rule)
    assert [o.subject for o in told] == ["D1/reader"]


def test_a_party_of_the_set_stands_for_each_opening_and_one_of_the_opening_goes_before_it(tmp_path: Path) -> None:
    files = {
        "products.yaml": "products: {s: {kind: electric_strike, furnished_by: by others}}\n",
        "sets.yaml": "hardware_sets: {H: {items: {lock: {product: s, furnished_by: hardware supplier}}}}\n",
        "openings.yaml": "openings: {D1: {set: H}, D2: {set: H, items: {lock: {furnished_by: tbd}}}}\n",
    }
    told = found(tmp_path, files, "consistency/nobody-furnishes-device")
    assert [(o.subject, file_of(o.place)) for o in told] == [("D2/lock", "openings.yaml")]


def test_a_set_that_only_a_mistyped_opening_would_use_is_not_used(tmp_path: Path) -> None:
    files = {
        "sets.yaml": "hardware_sets: {HW-01: {items: {}}, HW-02: {items: {}}}\n",
        "openings.yaml": "openings: {D1: {set: HW-01}}\n",
    }
    told = found(tmp_path, files, "consistency/set-not-used")
    assert [(o.subject, file_of(o.place)) for o in told] == [("HW-02", "sets.yaml")]


def test_a_set_checked_for_an_older_revision_shows_the_revision_of_the_project(tmp_path: Path) -> None:
    files = {"sets.yaml": "hardware_sets: {H: {revision: A, items: {}}}\n"}
    (told,) = found(tmp_path, files, "consistency/set-of-other-revision")
    assert file_of(told.related[0].place) == "project.yaml"
    assert file_of(told.place) == "sets.yaml"


def test_each_opening_with_a_set_is_judged_for_itself(tmp_path: Path) -> None:
    """A typical detail says nothing of the door that differs from it."""
    files = {
        "sets.yaml": "hardware_sets: {H: {applies_to: {fire_rating: 60 min}, items: {}}}\n",
        "openings.yaml": "openings: {D1: {set: H, fire_rating: 1 h}, D2: {set: H, fire_rating: 90 min}}\n",
    }
    told = found(tmp_path, files, "consistency/set-does-not-fit")
    assert [(o.subject, o.place.pointer) for o in told] == [("D2", "/openings/D2/fire_rating")]


def test_a_unit_mistaken_by_a_thousand_is_cured_by_the_other_unit() -> None:
    spec = "doorlint: 1\nproject: {name: Case}\nproducts: {s: {kind: electric_strike, coil: {current: 450 A}}}\n"
    result = review_text(spec, "case.yaml", rulebook=TOPIC)
    (told,) = (o for o in result.findings() if o.rule == "consistency/data-sheet-value-implausible")
    assert [change.text for repair in told.repairs for change in repair.changes] == ["450 mA"]


@pytest.mark.parametrize(
    ("group", "path", "value"),
    [
        # IEEE Std 802.3-2018 with 802.3bt: class 1 takes 3.84 W, class 8 takes 71.3 W at the device
        ("product", "input.power", "3.84 W"),
        ("product", "input.power", "71.3 W"),
        # UL 1034, static strength levels (from memory)
        ("product", "holding_force", "500 lbf"),
        ("product", "holding_force", "1500 lbf"),
        # NFPA 80: latch throw of 1/2 to 3/4 in (from memory)
        ("product", "latch_throw", "1/2 in"),
        ("product", "latch_throw", "3/4 in"),
        # IBC 1010: clear width of 32 in, height of 80 in
        ("opening", "leaf.width", "34 in"),
        ("opening", "leaf.height", "80 in"),
        # IEEE Std 802.3: a channel of 100 m
        ("opening", "item.length", "100 m"),
    ],
)
def test_published_figures_lie_within_the_ranges(group: str, path: str, value: str) -> None:
    unit = {"input.power": "power", "holding_force": "force"}.get(path, "length")
    band = parse_band(plausible.ranges(group)[path], unit)
    assert band.low <= parse_quantity(value, unit).value <= band.high


def test_a_pound_force_is_that_of_the_published_conversion() -> None:
    """NIST Special Publication 811 (2008), appendix B: 1 lbf = 4.448 222 N."""
    assert abs(strength.POUND_FORCE - Fraction("4.448222")) < Fraction(1, 10**6)
    assert parse_quantity("1 lbf", "force").value == strength.POUND_FORCE


@pytest.mark.parametrize("text", ["others", "by others", "Others", "TBD", "n/a", "to be decided", "?", "none"])
def test_words_that_name_no_party(text: str) -> None:
    assert parties.NOBODY.fullmatch(text)


@pytest.mark.parametrize(
    "text", ["integrator or electrician", "integrator / electrician", "door fitter and integrator"]
)
def test_words_that_name_several_parties(text: str) -> None:
    assert parties.SEVERAL.search(text)


@settings(max_examples=50)
@given(st.from_regex(r"[a-z]{4,12}( [a-z]{4,12})?", fullmatch=True))
def test_a_plain_name_is_one_party(name: str) -> None:
    assert (parties.SEVERAL.search(name) is None) == (not {"or", "and"} & set(name.split()))
    assert not parties.NOBODY.fullmatch(name) or name.split()[-1] in {"other", "others", "nobody", "none"}


@settings(max_examples=25, deadline=None)
@given(first=st.integers(1, 50), last=st.integers(1, 50), other_first=st.integers(1, 50), other_last=st.integers(1, 50))
def test_card_numbers_collide_where_ranges_share_a_number(
    first: int, last: int, other_first: int, other_last: int
) -> None:
    spec = (
        "doorlint: 1\nproject:\n  name: Case\n  credentials:\n    formats:\n"
        f"      a: {{bits: 26, site_code: 1, first: {first}, last: {last}}}\n"
        f"      b: {{bits: 26, site_code: 1, first: {other_first}, last: {other_last}}}\n"
    )
    result = review_text(spec, "case.yaml", rulebook=NAMES["reader/card-numbers-collide"])
    shared = set(range(first, last + 1)) & set(range(other_first, other_last + 1))
    assert bool(result.findings()) == bool(shared)
