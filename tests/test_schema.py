"""The format: its schemas, their agreement with the model, and how faults are told."""

from __future__ import annotations

import copy
import dataclasses
import json
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from doorlint.document import parse
from doorlint.format_rules import FORMAT_RULES
from doorlint.quantity import parse_band, parse_quantity, parse_wire_size
from doorlint.schema import SchemaFinding, _Maker, check, schema_text
from doorlint.spec import model
from doorlint.spec.fields import Part, Reader
from doorlint.spelling import distance, nearest

SCHEMAS = {name: json.loads(schema_text(name)) for name in ("spec", "cases", "house")}
SPEC = SCHEMAS["spec"]
DEFS = SPEC["$defs"]

GOOD = """\
doorlint: 1
project:
  name: Gull Point Ferry Terminal
  codes: {building: IBC-2021, electrical: NFPA-70-2023}
  site: {ambient: -25..40 degC, setting: marine}
include: [products/*.yaml]
products:
  strike-12:
    kind: electric_strike
    fail: secure
    coil: {supply: dc, voltage: 12 V, current: 450 mA, inductance: unknown, built_in_suppression: none}
    ip: IP54
    listings: [UL 1034]
  rc-poe:
    kind: reader_controller
    inputs: {poe: {poe_class: 3}, dc: {voltage: 12 V +-10 %, current: 180 mA}}
    outputs: {lock: {switch: solid_state, voltage: 12 V, current: 750 mA, leakage: 0.1 mA}}
    contacts: {relay: {form: no, switch: relay, current: 2 A, category: DC-13}}
    output_limit: 750 mA
    isolated: true
  mag: {kind: electromagnetic_lock, coils: {12 V: {current: 500 mA}, 24 V: {current: 250 mA}}}
  hinge: {kind: power_transfer, transfer: {conductors: 8, conductor: 24 AWG}}
  diode-1a: {kind: suppressor, suppressor: {type: diode, stand_off: 400 V}}
power:
  sw-1: {kind: poe_switch, standard: 802.3at, port_class: 4, budget: 370 W, backup: 4 h}
  psu-1:
    kind: power_supply
    voltage: 24 V
    load_share: 80 %
    battery: {chemistry: lead_acid, voltage: 24 V, capacity: 7 Ah}
cables:
  cat6: {kind: category, category: 6, conductor: 23 AWG}
  18/2: {kind: multiconductor, conductor: 18 AWG, conductors: 2, twisted: unknown}
hardware_sets:
  HW-04:
    items:
      rc: {product: rc-poe, side: unsecured, fed_from: sw-1, cable: cat6}
      lock: {product: strike-12, fed_from: [rc.lock], cable: 18/2, suppression: diode-1a}
openings:
  114A:
    set: HW-04
    from: 110
    to: exterior
    exposure: {unsecured: exposed, secured: interior}
    occupancy: {group: A-3, load: 120}
    egress: {side: from, by: lever}
    leaf: {count: 1, width: 36 in, swing: out}
    items:
      rc: {length: 62 m}
      lock: {length: 9 m, suppression: [{product: diode-1a, location: at_lock, cathode: to_positive}]}
      sounder: {omit: true}
  115: {exposure: interior, items: {mag: {product: mag, coil_setting: 12 V, suppression: none}}}
waivers:
  - {rule: relay/current-over-rating, opening: 114A, reason: replaced in phase 2, until: 2027-06-30}
"""


def tree_of(text: str) -> Any:
    return parse(text).tree


def findings(text: str, name: str = "spec") -> tuple[SchemaFinding, ...]:
    document = parse(text)
    assert not document.problems
    return check(document, name)


# -- the schemas themselves ------------------------------------------------------------------------


@pytest.mark.parametrize("name", SCHEMAS)
def test_schema_is_valid_draft_2020_12(name: str) -> None:
    """Against the meta-schema of JSON Schema, draft 2020-12 (json-schema.org), as the jsonschema library carries it."""
    schema = SCHEMAS[name]
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert schema["$id"] == f"https://doorlint.invalid/schemas/{name}.schema.json"
    Draft202012Validator.check_schema(schema)


def _parts(schema: Any, where: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every schema inside a schema, without looking into examples."""
    if isinstance(schema, dict):
        yield where, schema
        for key in ("properties", "$defs"):
            for name, inner in schema.get(key, {}).items():
                yield from _parts(inner, f"{where}/{key}/{name}")
        for key in ("additionalProperties", "items", "if", "then", "not", "propertyNames"):
            yield from _parts(schema.get(key), f"{where}/{key}")
        for index, inner in enumerate(schema.get("allOf", ())):
            yield from _parts(inner, f"{where}/allOf/{index}")


def _described(name: str) -> list[tuple[str, dict[str, Any]]]:
    """The whole, its definitions and every property; conditions (`if`, `then`, `allOf`) describe nothing."""
    found = []
    for where, schema in _parts(SCHEMAS[name]):
        steps = where.split("/")
        if not {"if", "then", "not", "allOf"} & set(steps) and (not where or steps[-2] in ("properties", "$defs")):
            found.append((where, schema))
    return found


@pytest.mark.parametrize("name", SCHEMAS)
def test_every_property_has_title_description_and_valid_examples(name: str) -> None:
    described = _described(name)
    assert len(described) > {"spec": 250, "cases": 10, "house": 7}[name]
    for where, schema in described:
        assert schema.get("title"), where
        assert schema.get("description", "").endswith("."), where
        assert schema.get("examples"), where
        whole = {**schema, "$defs": SCHEMAS[name]["$defs"]}
        for example in schema["examples"]:
            errors = [error.message for error in Draft202012Validator(whole).iter_errors(example)]
            assert not errors, (where, example, errors)


def _quantity_defs() -> list[tuple[str, dict[str, Any]]]:
    return [(name, d) for name, d in DEFS.items() if "x-form" in d]


def test_every_quantity_example_is_one_that_the_reader_takes() -> None:
    seen = 0
    for where, schema in _parts(SPEC):
        form = DEFS.get(str(schema.get("$ref", "")).removeprefix("#/$defs/"), schema)
        if "x-form" not in form:
            continue
        for example in schema.get("examples", ()):
            text = str(example)
            seen += 1
            if form["x-form"] == "wire":
                assert parse_wire_size(text), where
            elif form["x-form"] == "band":
                assert parse_band(text, form["x-dimension"]), where
            else:
                assert parse_quantity(text, form["x-dimension"]), where
    assert seen > 100
    assert {d["x-form"] for _, d in _quantity_defs()} == {"quantity", "band", "wire"}


@pytest.mark.parametrize("name", SCHEMAS)
def test_every_word_of_a_closed_list_has_a_meaning(name: str) -> None:
    lists = 0
    for where, schema in _parts(SCHEMAS[name]):
        if "enum" in schema and "if" not in where.split("/") and all(isinstance(w, str) for w in schema["enum"]):
            lists += 1
            assert list(schema["x-words"]) == schema["enum"], where
            assert all(text.endswith(".") for text in schema["x-words"].values()), where
        for word in schema.get("x-synonyms", {}).values():
            words = schema.get("enum") or DEFS[schema["$ref"].removeprefix("#/$defs/")]["enum"]
            assert word in words, (where, word)
    assert lists > {"spec": 30, "cases": -1, "house": 0}[name]


def test_closed_sets_of_keys_are_closed_and_no_choice_is_left_to_guess() -> None:
    for name, schema in SCHEMAS.items():
        for where, inner in _parts(schema):
            assert not {"oneOf", "anyOf", "else", "dependentSchemas"} & set(inner), where
            if "x-name" in inner and "properties" in inner:
                assert inner["additionalProperties"] is False, (name, where)


def test_a_schema_cannot_demand_what_is_not_checked() -> None:
    with pytest.raises(ValueError, match="oneOf"):
        _Maker({}).shape({"type": "string", "oneOf": []})
    with pytest.raises(FileNotFoundError):
        schema_text("no-such-schema")


# -- one vocabulary --------------------------------------------------------------------------------

BLOCKS: dict[str, tuple[type[Part], set[str]]] = {
    # definition: (class, keys of the YAML that the class holds otherwise)
    "project": (model.Project, {"codes"}),
    "site": (model.Site, set()),
    "coil": (model.Coil, set()),
    "input": (model.Input, set()),
    "inputs": (model.Inputs, set()),
    "output": (model.Output, set()),
    "contact": (model.Contact, set()),
    "transfer": (model.Transfer, set()),
    "suppressor": (model.Suppressor, set()),
    "product": (model.Product, set()),
    "battery": (model.Battery, set()),
    "power_source": (model.PowerSource, set()),
    "cable": (model.Cable, set()),
    "suppression": (model.Suppression, set()),
    "item": (model.Item, {"omit"}),
    "occupancy": (model.Occupancy, set()),
    "egress": (model.Egress, set()),
    "interlock": (model.Interlock, set()),
    "leaf": (model.Leaf, set()),
    "exposure": (model.Exposure, set()),
    "building": (model.Building, set()),
    "electrical_room": (model.ElectricalRoom, set()),
    "opening": (model.Opening, {"items"}),
    "hardware_set": (model.HardwareSet, {"items"}),
    "applies_to": (model.AppliesTo, set()),
    "end_of_line": (model.EndOfLine, set()),
    "supervision": (model.Supervision, set()),
    "credentials": (model.Credentials, set()),
    "card_format": (model.CardFormat, set()),
    "waiver": (model.Waiver, set()),
}


def _fields(cls: type[Part]) -> dict[str, Reader]:
    return {f.name.rstrip("_"): f.metadata["read"] for f in dataclasses.fields(cls) if "read" in f.metadata}


@pytest.mark.parametrize("block", BLOCKS)
def test_model_and_schema_have_one_vocabulary(block: str) -> None:
    cls, more = BLOCKS[block]
    assert set(DEFS[block]["properties"]) == set(_fields(cls)) | more


def test_every_class_of_the_model_has_its_block() -> None:
    classes = {
        value
        for value in vars(model).values()
        if isinstance(value, type)
        and issubclass(value, Part)
        and value is not Part
        and value.__module__ == model.__name__
    }
    assert classes - {cls for cls, _ in BLOCKS.values()} <= {getattr(model, "Spec", None)}


@pytest.mark.parametrize("block", BLOCKS)
def test_schema_allows_what_the_model_reads(block: str) -> None:
    """Each field's reader and the schema of its key agree in kind: quantity and dimension, flag, number, list, part."""
    for key, reader in _fields(BLOCKS[block][0]).items():
        schema = DEFS[block]["properties"][key]
        target = {**DEFS.get(str(schema.get("$ref", "")).removeprefix("#/$defs/"), {}), **schema}
        types = {target["type"]} if isinstance(target["type"], str) else set(target["type"])
        where = f"{block}.{key}"
        if reader.what in ("quantity", "band", "wire"):
            assert target["x-form"] == reader.what, where
            assert target["x-dimension"] == (reader.of or "wire_size"), where
        elif reader.what == "flag":
            assert target["enum"] == [True, False, "unknown"], where
        elif reader.what == "number":
            assert (types, target["pattern"]) == ({"integer", "string"}, "^unknown$"), where
        elif reader.what == "words":
            entry = target["items"]
            entry = DEFS[entry["$ref"].removeprefix("#/$defs/")] if "$ref" in entry else entry
            assert (types, entry["type"]) == ({"string", "array"}, "string"), where
            # a closed list is closed for one word by itself as it is for one of several
            assert target.get("then") == (target["items"] if "enum" in entry else None), where
        elif reader.what == "part":
            assert "object" in types, where
            name = next(name for name, (cls, _) in BLOCKS.items() if cls is reader.of)
            assert schema["$ref"] == f"#/$defs/{name}", where
        elif reader.what == "parts":
            name = next(name for name, (cls, _) in BLOCKS.items() if cls is reader.of)
            assert target["additionalProperties"]["$ref"] == f"#/$defs/{name}", where
        elif reader.what == "list":
            name = next(name for name, (cls, _) in BLOCKS.items() if cls is reader.of)
            assert target["items"]["$ref"] == f"#/$defs/{name}", where
        else:
            assert reader.what == "word", where
            assert types <= {"string", "integer"}, where


def _may_be_unknown(schema: dict[str, Any]) -> bool:
    return not list(Draft202012Validator({**schema, "$defs": DEFS}).iter_errors("unknown"))


def test_unknown_is_legal_for_every_data_value() -> None:
    never = {"kind", "omit"}  # what the entry is, and what the author decides
    for block, (cls, _) in BLOCKS.items():
        for key, reader in _fields(cls).items():
            legal = _may_be_unknown(DEFS[block]["properties"][key])
            if key in never or reader.what == "parts" or (block, key) == ("waiver", "rule"):
                assert not legal, f"{block}.{key}"
            else:
                assert legal, f"{block}.{key}"


# -- the check -------------------------------------------------------------------------------------


def test_good_spec_has_no_findings_and_the_library_agrees() -> None:
    assert findings(GOOD) == ()
    assert not list(Draft202012Validator(SPEC).iter_errors(tree_of(GOOD)))


HEAD = "doorlint: 1\n"

MISTAKES = [
    # (spec text, rule, pointer, part, message, suggestion)
    (
        "products: {s: {kind: electric_strike, coil: {curent: 450 mA}}}",
        "format/unknown-key", "/products/s/coil/curent", "key",
        "`curent` is no key of a coil; did you mean `current`?", "current",
    ),
    (
        "products: {s: {kind: electric_strike, coil: {voltage: 12}}}",
        "format/wrong-type", "/products/s/coil/voltage", "value",
        "`12` has no unit; write for example `12 V`", "",
    ),
    (
        "products: {s: {kind: electric_strike, coil: {voltage: 12.0}}}",
        "format/wrong-type", "/products/s/coil/voltage", "value",
        "`12.0` has no unit; write for example `12.0 V`", "",
    ),
    (
        "products: {s: {kind: electric_strike, coil: {current: 450}}}",
        "format/wrong-type", "/products/s/coil/current", "value",
        "`450` has no unit; write for example `450 mA`", "",
    ),
    (
        "products: {s: {kind: electric_strike, coil: {current: [450 mA]}}}",
        "format/wrong-type", "/products/s/coil/current", "value",
        "a list stands where one value with its unit is due; write for example `450 mA`, or `unknown`", "",
    ),
    (
        "products: {s: {kind: electric_strike, coil: {voltage: }}}",
        "format/wrong-type", "/products/s/coil/voltage", "value",
        "`voltage` has no value; write for example `12 V +-10 %`, or `unknown`", "",
    ),
    (
        "products: {s: {kind: electric_strike, coil: 12 V}}",
        "format/wrong-type", "/products/s/coil", "value",
        "`12 V` stands where a coil is due; write for example `{voltage: 12 V, current: 450 mA}`, or `unknown`", "",
    ),
    (
        "products: {s: {kind: electric_strike, voltage: 12 V}}",
        "format/unknown-key", "/products/s/voltage", "key",
        "`voltage` is no key of a product; it stands under `coil`, `coils.<name>` or `inputs.poe`", "",
    ),
    (
        "products: {s: {kind: electic_strike}}",
        "format/word-not-allowed", "/products/s/kind", "value",
        "`electic_strike` is none of the words for `kind`; did you mean `electric_strike`?", "electric_strike",
    ),
    (
        "products: {s: {kind: maglock}}",
        "format/word-not-allowed", "/products/s/kind", "value",
        "`maglock` is none of the words for `kind`; did you mean `electromagnetic_lock`?", "electromagnetic_lock",
    ),
    (
        "products: {s: {kind: electric_strike, fail: fail-safe}}",
        "format/word-not-allowed", "/products/s/fail", "value",
        "`fail-safe` is none of the words for `fail`; did you mean `safe`? "
        "The words are safe, secure, as_is, selectable, unknown", "safe",
    ),
    (
        "products: {s: {kind: electric_strike, fail: true}}",
        "format/word-not-allowed", "/products/s/fail", "value",
        "`true` is none of the words for `fail`; the words are safe, secure, as_is, selectable, unknown", "",
    ),
    (
        "products: {s: {fail: safe}}",
        "format/missing-key", "/products/s", "key",
        "a product needs `kind`; write for example `kind: electric_strike`", "kind: electric_strike",
    ),
    (
        "products: {s: {knd: electric_strike}}",
        "format/unknown-key", "/products/s/knd", "key",
        "`knd` is no key of a product; did you mean `kind`?", "kind",
    ),
    (
        "products: {r: {kind: reader, transfer: {conductors: 8}}}",
        "format/does-not-belong", "/products/r/transfer", "key",
        "`transfer` does not belong to kind reader; it belongs to power_transfer", "",
    ),
    (
        "products: {c: {kind: cylinder, coil: {voltage: 12}}}",
        "format/does-not-belong", "/products/c/coil", "key",
        "`coil` does not belong to kind cylinder: it has no coil that moves or holds a lock", "",
    ),
    (
        "products: {s: {kind: electric_strike, coil: {current: 1 A}, coils: {12 V: {current: 1 A}}}}",
        "format/does-not-belong", "/products/s/coils", "key",
        "`coils` does not belong to a product that has `coil`: "
        "write `coils` alone where there are several voltage settings", "",
    ),
    (
        "products: {r: {kind: reader, inputs: {dc: {poe_class: 3}}}}",
        "format/does-not-belong", "/products/r/inputs/dc/poe_class", "key",
        "`poe_class` does not belong to a dc input; it belongs to a poe input", "",
    ),
    (
        "products: {r: {kind: reader, inputs: {poe: {poe_class: 9}}}}",
        "format/wrong-value", "/products/r/inputs/poe/poe_class", "value",
        "`9` is not from 0 to 8; write for example `3`, or `unknown`", "",
    ),
    (
        "products: {r: {kind: reader, conductors: 2.5}}",
        "format/wrong-type", "/products/r/conductors", "value",
        "`2.5` stands where a whole number is due; write for example `2`, or `unknown`", "",
    ),
    (
        "products: {r: {kind: reader, conductors: two}}",
        "format/wrong-type", "/products/r/conductors", "value",
        "`two` stands where a whole number is due; write for example `2`, or `unknown`", "",
    ),
    (
        "products: {r: {kind: reader, isolated: yes}}",
        "format/wrong-type", "/products/r/isolated", "value",
        "`yes` is neither true nor false; did you mean `true`?", "true",
    ),
    (
        "products: {r: {kind: reader, ip: ip 65}}",
        "format/wrong-value", "/products/r/ip", "value",
        "`ip 65` cannot be read as IP code; did you mean `IP65`?", "IP65",
    ),
    (
        "products: {r: {kind: reader, nema: Type 4x}}",
        "format/wrong-value", "/products/r/nema", "value",
        "`Type 4x` cannot be read as NEMA type; did you mean `4X`?", "4X",
    ),
    (
        "products: {r: {kind: reader, outputs: {rc.lock: {voltage: 12 V}}}}",
        "format/wrong-value", "/products/r/outputs/rc.lock", "key",
        "`rc.lock` cannot stand here: expected a short name without blank, dot or slash: a dot joins device and "
        "output (`rc.lock`), a slash joins opening and item (`114A/lock`)", "",
    ),
    (
        "products: {unknown: {kind: reader}}",
        "format/wrong-value", "/products/unknown", "key",
        "`unknown` cannot stand here: expected a name of your own choice by which the rest of the spec refers to the "
        "entry; not `unknown` and not `none`", "",
    ),
    (
        "power: {p: {kind: power_supply, budget: 370 W}}",
        "format/does-not-belong", "/power/p/budget", "key",
        "`budget` does not belong to kind power_supply; it belongs to poe_switch or poe_injector", "",
    ),
    (
        "power: {p: {kind: mains, fed_from: ups-1}}",
        "format/does-not-belong", "/power/p/fed_from", "key",
        "`fed_from` does not belong to kind mains: power enters the building there", "",
    ),
    (
        "power: {p: {kind: poe_switch, standard: 802.3}}",
        "format/word-not-allowed", "/power/p/standard", "value",
        "`802.3` is none of the words for `standard`; the words are 802.3af, 802.3at, 802.3bt, passive, unknown", "",
    ),
    (
        "cables: {c: {kind: category, category: 6a}}",
        "format/word-not-allowed", "/cables/c/category", "value",
        "`6a` is none of the words for `category`; did you mean `6A`? The words are 5e, 6, 6A, 7, unknown", "6A",
    ),
    (
        "hardware_sets: {H: {items: {lock: {fed_from: rc.lock}}}}",
        "format/missing-key", "/hardware_sets/H/items/lock", "key",
        "an item needs `product`; write for example `product: strike-12`", "product: strike-12",
    ),
    (
        "hardware_sets: {H: {items: {lock: {product: s, omit: true}}}}",
        "format/does-not-belong", "/hardware_sets/H/items/lock/omit", "key",
        "`omit` does not belong to a hardware set: only an opening leaves out an item", "",
    ),
    (
        "openings: {114A: {items: {lock: {length: 9 m}}}}",
        "format/missing-key", "/openings/114A/items/lock", "key",
        "an item needs `product`: the opening names no hardware set that would give it; "
        "write for example `product: strike-12`", "product: strike-12",
    ),
    (
        "openings: {114A: {items: [lock]}}",
        "format/wrong-type", "/openings/114A/items", "value",
        "a list stands where a mapping is due; write for example `{lock: {length: 9 m}}`", "",
    ),
    (
        "openings: {114A: {set: H, items: {lock: none}}}",
        "format/wrong-type", "/openings/114A/items/lock", "value",
        "`none` stands where an item is due; write for example `{length: 62 m}`", "",
    ),
    (
        "openings: {114A: {exposure: outdoor}}",
        "format/word-not-allowed", "/openings/114A/exposure", "value",
        "`outdoor` is none of the words for `exposure`; "
        "the words are interior, sheltered, exposed, wash_down, unknown", "",
    ),
    (
        "openings: {114A: {from: 010}}",
        "format/wrong-type", "/openings/114A/from", "value",
        '`010` is read as the number 10; write it in quotes: `"010"`', '"010"',
    ),
    (
        "project: {name: P, revision: 1.10}",
        "format/wrong-type", "/project/revision", "value",
        '`1.10` is read as a number; write it in quotes: `"1.10"`', '"1.10"',
    ),
    (
        "openings: {114A: {set: H, items: {lock: {fed_from: [12]}}}}",
        "format/wrong-type", "/openings/114A/items/lock/fed_from/0", "value",
        '`12` is read as a number; write it in quotes: `"12"`', '"12"',
    ),
    (
        "products: {s: {kind: electric_strike, monitors: [bond, lach]}}",
        "format/word-not-allowed", "/products/s/monitors/1", "value",
        "`lach` is none of the words for `monitors`; did you mean `latch`? The words are latch, bond, bolt, "
        "door_position, request_to_exit, tamper, key, other, unknown", "latch",
    ),
    (
        "openings: {114A: {alarms: loud}}",
        "format/word-not-allowed", "/openings/114A/alarms", "value",
        "`loud` is none of the words for `alarms`; the words are forced, held_open, none, unknown", "",
    ),
    (
        "project: {revision: A}",
        "format/missing-key", "/project", "key",
        "the project needs `name`; write for example `name: Gull Point Ferry Terminal`",
        "name: Gull Point Ferry Terminal",
    ),
    (
        "waivers: [{rule: a/b, opening: 114A}]",
        "format/missing-key", "/waivers/0", "value",
        "a waiver needs `reason`; write for example `reason: lock is replaced in phase 2`",
        "reason: lock is replaced in phase 2",
    ),
    (
        "waivers: [{rule: a/b, opening: 114A, reason: r, until: 30.06.2027}]",
        "format/wrong-value", "/waivers/0/until", "value",
        "`30.06.2027` cannot be read as Until; write for example `2027-06-30`, or `unknown`", "",
    ),
    (
        "doors: {}",
        "format/unknown-key", "/doors", "key",
        "`doors` is no key of a door spec; its keys are doorlint, project, include, products, power, cables, "
        "hardware_sets, openings, waivers", "",
    ),
]  # fmt: skip


@pytest.mark.parametrize("case", MISTAKES, ids=[case[0][:60] for case in MISTAKES])
def test_typical_mistake_gives_one_finding_in_plain_words(case: tuple[Any, ...]) -> None:
    text, *expected = case
    assert [dataclasses.astuple(f) for f in findings(HEAD + text)] == [
        (expected[0], expected[3], expected[1], expected[2], expected[4])
    ]
    assert expected[0] in FORMAT_RULES


def test_version_of_the_format() -> None:
    assert [f.message for f in findings("doorlint: 2\n")] == [
        "`2` is not what `doorlint` may be; write for example `1`"
    ]
    (lacking,) = findings("project: {name: P}\n")
    assert (lacking.pointer, lacking.part) == ("", "value")
    assert lacking.message == "a door spec needs `doorlint`; write for example `doorlint: 1`"
    assert [f.message for f in findings("")] == [lacking.message]


def test_cases_file() -> None:
    good = "rule: a/b\ncases:\n- name: one\n  show: true\n  spec: |\n    doorlint: 1\n  outcomes: {pass: 1}\n"
    assert findings(good, "cases") == ()
    (bad,) = findings(good.replace("pass: 1", "passes: 1"), "cases")
    assert bad.message == "`passes` is no key of the outcomes; did you mean `pass`?"
    (bad,) = findings("rule: a/b\ncases: []\n", "cases")
    assert (bad.rule, bad.pointer) == ("format/wrong-value", "/cases")


def test_keys_with_slash_and_tilde_are_escaped_as_rfc_6901_says() -> None:
    """RFC 6901, section 3: `~` is written ~0 and `/` is written ~1 in a JSON Pointer."""
    document = parse(HEAD + "cables: {18/2~x: {kind: category, conductor: 18}}")
    (found,) = check(document)
    assert found.pointer == "/cables/18~12~0x/conductor"
    assert document.source(document.region(found.pointer)) == "18"


def test_what_is_said_twice_is_faulty_at_both_places() -> None:
    """Equal lines, and what an anchor names, are one value in the tree; what held is not looked at again."""
    lines = (
        "doorlint: 1",
        "products:",
        "  a: &fine {kind: cylinder, title: 010}",
        "  b: {kind: electric_strike, coil: {voltage: 12}}",
        "  c: {kind: electric_strike, coil: {voltage: 12}}",
        "  d: *fine",
        "cables:",
        "  e: *fine",
    )
    for left_out in ((), ("  d: *fine", "  e: *fine", "cables:")):
        text = "\n".join(line for line in lines if line not in left_out).replace("&fine " if left_out else "none", "")
        found = {(fault.rule, fault.pointer) for fault in check(parse(text, "t.yaml"))}
        assert {("format/wrong-type", f"/products/{key}/coil/voltage") for key in "bc"} < found
        assert ("format/wrong-type", "/products/a/title") in found
        if not left_out:
            assert ("format/wrong-type", "/products/d/title") in found
            assert ("format/word-not-allowed", "/cables/e/kind") in found


def test_every_anchor_is_in_the_document() -> None:
    for text, *_ in MISTAKES:
        document = parse(HEAD + text)
        for found in check(document):
            document.region(found.pointer, found.part)


# -- never raises; agrees with a general validator --------------------------------------------------

WORDS = ["unknown", "none", "12 V", "kind", "electric_strike", "x", "IP65", "", "114A/lock", "\x00é"]
LEAVES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-3, 20),
    st.floats(allow_nan=False),
    st.sampled_from(WORDS),
    st.text(max_size=5),
)
KEYS = st.one_of(
    st.sampled_from(sorted({*SPEC["properties"], *(k for d in DEFS.values() for k in d.get("properties", {}))})),
    st.text(max_size=4),
)
TREES = st.recursive(
    LEAVES, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=4), max_leaves=15
)


def _containers(tree: Any) -> Iterator[Any]:
    if isinstance(tree, dict | list):
        yield tree
        for child in tree.values() if isinstance(tree, dict) else tree:
            yield from _containers(child)


@st.composite
def broken(draw: st.DrawFn) -> Any:
    """The good spec with up to three things changed, added or dropped."""
    tree = copy.deepcopy(tree_of(GOOD))
    for _ in range(draw(st.integers(1, 3))):
        place = draw(st.sampled_from(list(_containers(tree))))
        if isinstance(place, list):
            place.append(draw(TREES))
            continue
        if place and draw(st.booleans()):
            key = draw(st.sampled_from(list(place)))
            value = place.pop(key)
            if draw(st.booleans()):
                place[draw(KEYS)] = value  # renamed
            elif draw(st.booleans()):
                place[key] = draw(TREES)
        else:
            place[draw(KEYS)] = draw(TREES)
    return tree


def _stricter(tree: Any) -> bool:
    """Whether the tree holds one of the two things in which the check is stricter than JSON Schema."""
    if isinstance(tree, dict | list):
        return any(_stricter(child) for child in (tree.values() if isinstance(tree, dict) else tree))
    return isinstance(tree, float) and tree.is_integer()


def _agrees(tree: Any) -> None:
    document = parse(json.dumps(tree))
    tree = document.tree
    found = check(document)
    assert found == check(document)
    for finding in found:
        document.region(finding.pointer, finding.part)
        assert finding.rule in FORMAT_RULES
        assert "\n" not in finding.message
    if not _stricter(tree) and isinstance(tree, dict):
        assert bool(found) == (not Draft202012Validator(SPEC).is_valid(tree))


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(broken())
def test_agrees_with_the_jsonschema_library_on_broken_specs(tree: Any) -> None:
    _agrees(tree)


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(TREES)
def test_never_raises_on_any_tree(tree: Any) -> None:
    _agrees(tree)


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=80))
def test_never_raises_on_any_text(text: str) -> None:
    for name in SCHEMAS:
        check(parse(text), name)


@settings(max_examples=100, deadline=None)
@given(st.text("abc", max_size=6), st.text("abc", max_size=6), st.text("abc", max_size=6))
def test_distance_is_symmetric_and_zero_only_for_equal_words(a: str, b: str, c: str) -> None:
    assert distance(a, b) == distance(b, a)
    assert (distance(a, b) == 0) == (a == b)
    assert abs(len(a) - len(b)) <= distance(a, b) <= max(len(a), len(b))
    assert distance(a + c, b + c) <= distance(a, b)


def test_nearest_forgives_little_in_short_words() -> None:
    assert nearest("dc", ["ac"]) == ""
    assert nearest("DC-filtered", ["dc", "dc_filtered"]) == "dc_filtered"
    assert nearest("curernt", ["current", "peak"]) == "current"
    assert nearest("x" * 10_000, ["x" * 10_000]) == ""
