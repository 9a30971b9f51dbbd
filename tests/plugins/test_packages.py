"""Packages of rules as they are installed: what breaks is told with their name, and they replace nothing of ours."""

from __future__ import annotations

import json
import subprocess
import sys
import types
from fractions import Fraction
from importlib.metadata import EntryPoint, distributions
from pathlib import Path
from typing import Any

import pytest
from working_copy import ROOT, clean_environment

from doorlint import rulebook
from doorlint.outcome import Level, Practice
from doorlint.rulebook import Parameter, Rule, Rulebook, RuleError, built_in, collect, hookimpl
from doorlint.spec import Item

SPEC = """\
doorlint: 1
project: {name: Invented}
products:
  strike: {kind: electric_strike, fail: secure, coil: {supply: dc, voltage: 12 V, current: 500 mA}}
power:
  psu: {kind: power_supply, supply: dc, voltage: 24 V, current: 2 A}
openings:
  D1: {items: {lock: {product: strike, fed_from: psu, length: 45 m}}}
  D2: {items: {lock: {product: strike, fed_from: psu, length: 12 m}}}
"""
RULE = """\
from doorlint import Item, Level, Practice, Rule, hookimpl, ok
import sys

@hookimpl
def doorlint_rules():
    return [sys.modules[__name__]]

RULE = Rule("{rule}", title="Something was found", level=Level.ERROR, over=Item, basis=(Practice("invented"),))

def check(item, context):
"""
TAKEN = "supply/voltage-mismatch"


def install(folder: Path, name: str, text: str, points: str = "") -> None:
    """A package as an installer leaves it: a module, and the metadata with its entry point."""
    (folder / f"{name}.py").write_text(text)
    metadata = folder / f"{name}-1.0.dist-info"
    metadata.mkdir()
    (metadata / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n")
    (metadata / "entry_points.txt").write_text(points or f"[doorlint]\n{name} = {name}\n")


def run(folder: Path, *arguments: str) -> tuple[int, str, str]:
    """doorlint with the packages of a folder installed besides its own rules."""
    (folder / "spec.yaml").write_text(SPEC)
    done = subprocess.run(
        [sys.executable, "-m", "doorlint", *arguments],
        cwd=folder, env=clean_environment({"PYTHONPATH": f"{ROOT}:{folder}", "PYTHONUTF8": "1"}),
        capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip
    return done.returncode, done.stdout, done.stderr


def outcomes(report: str) -> list[dict[str, Any]]:
    (review,) = json.loads(report)["reviews"]
    return list(review["outcomes"])


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, Any]]:
    status, out, err = run(tmp_path_factory.mktemp("alone"), "review", "--format", "json", "spec.yaml")
    assert status == 1, err
    return outcomes(out)


def test_broken_packages_at_once_are_each_told_and_change_nothing(tmp_path: Path, alone: list[Any]) -> None:
    sound = RULE.format(rule="office/sound") + "    yield ok('in order', item.place)\n"
    install(tmp_path, "sound", sound)
    install(tmp_path, "changes", RULE.format(rule="office/changes") + "    context.spec.openings.clear()\n    yield\n")
    install(tmp_path, "raises", RULE.format(rule="office/raises") + "    raise BaseException('odd')\n    yield\n")
    install(tmp_path, "prints", RULE.format(rule="office/prints") + "    print('{')\n    yield 3\n")
    install(tmp_path, "takes", RULE.format(rule=TAKEN) + "    yield ok('in order')\n")
    install(tmp_path, "a_first", sound, "[doorlint]\nbuilt-in = a_first\n")
    install(tmp_path, "leaves", "raise GeneratorExit\n")
    install(tmp_path, "garbled", "", "[doorlint]\nthis is no entry point\n")
    install(tmp_path, "wrong", RULE.format(rule="office/wrong").replace("over=Item", "over='Item'") + "    yield\n")
    status, out, err = run(tmp_path, "review", "--format", "json", "spec.yaml")
    assert status == 2, err
    assert "Traceback" not in err
    found = outcomes(out)
    rest = [one for one in found if not one["rule"].startswith(("rulebook/", "office/"))]
    assert rest == alone
    told = {one["subject"]: one["message"] for one in found if one["rule"].startswith("rulebook/")}
    assert all(one["level"] == "error" for one in found if one["rule"].startswith("rulebook/"))
    expected = {
        "office/changes": "of package 'changes' broke on D1/lock: TypeError: the spec cannot be changed",
        "office/raises": "of package 'raises' broke on D1/lock: BaseException: odd",
        "office/prints": "of package 'prints' broke on D1/lock: TypeError: check yielded a int",
        "takes": f"package of rules 'takes': rule {TAKEN} is offered twice, by built-in and by takes; the first counts",
        "leaves": "package of rules 'leaves' (leaves) does not load: GeneratorExit",
        "wrong": "package of rules 'wrong' (wrong) does not load: RuleError: rule office/wrong: over is 'Item'",
        "sound": "rule office/sound is offered twice, by built-in (a_first) and by sound; the first counts",
    }
    for subject, text in expected.items():
        assert text in told.pop(subject)
    assert [key for key in told if "garbled" not in key] == []
    sound_ones = [one["kind"] for one in found if one["rule"] == "office/sound"]
    assert sound_ones == ["pass", "pass"]


@pytest.mark.parametrize("form", ["text", "sarif", "junit", "html"])
def test_no_report_of_a_broken_rule_is_clean(form: str, tmp_path: Path) -> None:
    install(tmp_path, "sole", RULE.format(rule="office/sole") + "    yield ok('x' * 10, item.place.child('gone'))\n")
    status, out, err = run(tmp_path, "review", "--format", form, "spec.yaml")
    assert status == 2
    assert "office/sole" in out
    assert "sole" in out
    assert "Traceback" not in err


def test_the_pages_of_rules_are_shown_with_a_broken_package_beside(tmp_path: Path) -> None:
    install(tmp_path, "falls", "raise ImportError('a licence is missing')\n")
    install(tmp_path, "odd_cases", RULE.format(rule="office/odd") + "    yield ok('in order')\n")
    (tmp_path / "odd_cases.cases.yaml").write_text("rule: [\n")
    for command in (["rules"], ["basis", "office/odd"], ["basis", TAKEN]):
        status, out, err = run(tmp_path, *command)
        assert "Traceback" not in err, err
        assert "a licence is missing" in err
        assert status in (0, 2)
        assert out or "odd_cases" in err


# -- collecting --------------------------------------------------------------------------------------


def declared(rule_id: str = "office/found", **more: Any) -> Rule:
    values = {"title": "Found", "level": Level.ERROR, "over": Item, "basis": (Practice("invented"),)}
    return Rule(rule_id, **{**values, **more})


def plugin(name: str, *modules: Any) -> Any:
    made = types.ModuleType(name)
    made.doorlint_rules = hookimpl(lambda: list(modules))  # type: ignore[attr-defined]
    return made


class Breaks:
    """An object that breaks when it is looked at."""

    def __getattribute__(self, name: str) -> Any:
        if name.startswith("__") and name != "__name__":
            return object.__getattribute__(self, name)
        raise RuntimeError(f"no {name}")


@pytest.mark.parametrize(
    ("offered", "told"),
    [
        (3, "3 is no rule"),
        ("office/rule", "'office/rule' is no rule"),
        (None, "None is no rule"),
        (object(), "an object of type object is no rule"),
        (Breaks(), "an object of type Breaks is no rule: RuntimeError: no RULE"),
        (types.SimpleNamespace(RULE=declared(), check=3), "is no rule: it needs"),
    ],
    ids=lambda value: type(value).__name__,
)
def test_what_is_no_rule_is_told_with_its_package(offered: Any, told: str) -> None:
    book = collect([plugin("office", offered, types.SimpleNamespace(RULE=declared(), check=print))], group="none")
    (trouble,) = book.troubles
    assert trouble.source == "office"
    assert trouble.message.startswith("package of rules 'office': ")
    assert told in trouble.message
    assert " at 0x" not in trouble.message
    assert [rule.id for rule in book.rules] == ["office/found"]


def test_ours_come_first_whatever_others_are_called(monkeypatch: pytest.MonkeyPatch) -> None:
    taken = types.ModuleType("aaa")
    taken.doorlint_rules = hookimpl(lambda: [types.SimpleNamespace(RULE=declared(TAKEN), check=print)])  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "aaa", taken)
    entries = [EntryPoint(name, "aaa", "doorlint") for name in ("built-in", "aaa", "")]
    entries.append(EntryPoint("zzz", "doorlint.rules", "doorlint"))
    monkeypatch.setattr(rulebook, "entry_points", lambda **_: entries)
    book = collect()
    (module,) = [module for module in book.modules if module.RULE.id == TAKEN]
    assert built_in(module)
    assert book.origins[TAKEN] == "zzz"
    assert [trouble.source for trouble in book.troubles] == ["", "aaa", "built-in (aaa)"]
    assert all("is offered twice, by zzz and by" in trouble.message for trouble in book.troubles)


def test_every_rule_of_ours_is_known_as_such_and_no_other() -> None:
    book = collect([plugin("office", types.SimpleNamespace(RULE=declared(), check=print))])
    assert {rule for module in book.modules if not built_in(module) for rule in [module.RULE.id]} >= {"office/found"}
    assert sum(built_in(module) for module in book.modules) > 200
    pretends = types.ModuleType("doorlint.rules.of_another")
    assert not built_in(pretends)


@pytest.mark.parametrize("where", ["import", "hook", "list"])
def test_a_package_that_never_ends_is_told(where: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    endless = "while True:\n    pass\n"
    hook = "from doorlint import hookimpl\n\n@hookimpl\ndef doorlint_rules():\n"
    text = {
        "import": endless,
        "hook": hook + "    while True:\n        pass\n",
        "list": hook + "    while True:\n        yield from ()\n",
    }[where]
    name = f"never_ends_{where}"
    (tmp_path / f"{name}.py").write_text(text)
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setattr(rulebook, "LOADING_S", 0.3)
    monkeypatch.setattr(rulebook, "entry_points", lambda **_: [EntryPoint(name, name, "doorlint")])
    book = collect([plugin("office", types.SimpleNamespace(RULE=declared(), check=print))])
    (trouble,) = book.troubles
    assert name in trouble.message
    assert "took longer than 0.3 s" in trouble.message
    assert [rule.id for rule in book.rules] == ["office/found"]


def test_metadata_that_cannot_be_read_hides_no_other_package(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(**_: Any) -> Any:
        raise ValueError("not enough values to unpack")

    class Garbled:
        name = "garbled"

        @property
        def entry_points(self) -> Any:
            raise ValueError("not enough values")

    found = list(distributions())
    monkeypatch.setattr(rulebook, "entry_points", broken)
    monkeypatch.setattr(rulebook, "distributions", lambda: [Garbled(), *found])
    book = collect()
    (trouble,) = book.troubles
    assert trouble.source == "garbled"
    assert "package garbled: what it offers cannot be read" in trouble.message
    assert any(rule.id == TAKEN for rule in book.rules)


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"over": "Item"}, "a type of subject is expected"),
        ({"over": [Item]}, "a type of subject is expected"),
        ({"needs": "length"}, "needs is a tuple"),
        ({"needs": (3,)}, "tuples of texts"),
        ({"evidence": ["a"]}, "evidence is a tuple"),
        ({"basis": [Practice("invented")]}, "basis is a tuple"),
        ({"parameters": []}, "parameters is a tuple"),
        ({"why": None}, "why is None"),
        ({"cure": "half \ud800"}, "cure is"),
        ({"title": "two\nlines"}, "title is one line"),
        ({"title": 3}, "title is 3"),
        ({"applies": "doors", "scope": "doors"}, "applies is a function"),
        ({"incomplete": 3}, "incomplete is a function"),
        ({"life_safety": "yes"}, "life_safety is True or False"),
    ],
    ids=str,
)
def test_a_declaration_with_a_wrong_type_says_how_to_write_it(wrong: dict[str, Any], told: str) -> None:
    with pytest.raises(RuleError, match=told):
        declared(**wrong)


@pytest.mark.parametrize(
    "wrong",
    [{"dimension": "spirit"}, {"default": 0.1}, {"stricter": "more"}, {"basis": "because"}],
    ids=str,
)
def test_a_parameter_with_a_wrong_type_is_refused(wrong: dict[str, Any]) -> None:
    values = {"dimension": "voltage", "default": Fraction(1), "stricter": "lower", "basis": Practice("invented")}
    with pytest.raises(RuleError):
        Parameter("drop", title="drop", **{**values, **wrong})


def test_the_patience_of_a_rule_book_is_what_was_asked_for() -> None:
    assert collect([], group="none", patience=3).patience == 3
    assert Rulebook().patience == rulebook.PATIENCE_S
