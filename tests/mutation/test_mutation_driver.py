"""The mutation tests' own machinery: it kills what a test holds, reports what none holds, and never passes empty."""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from . import __main__ as command
from .mutants import Mutant, mutants_of, mutated
from .population import ROOT, TARGETS, TESTS, distance, every, files_of, sample
from .reasons import reasons, stale
from .running import Fate, Result

SAMPLE = '''\
"""A module that is mutated."""

from dataclasses import dataclass, field
from functools import cache

LIMIT_A = 5 * 2
HALF_A = LIMIT_A / 2


def over(current_a: float) -> bool:
    """Whether a current is over the limit: 10 is not."""
    return current_a > LIMIT_A


@cache
def kept(number: int) -> int:
    return number * 3


def loose(width: int) -> int:
    if width > 100:
        return 100
    return width


def ends(items: list[int]) -> int:
    total = 0
    while True:
        if not items:
            break
        total += items.pop()
    return total


def unused(one: int) -> int:
    return one + 1


def told(value: int) -> str:
    more = " and others" if value > 3 else ""
    return f"{value + 1} A{more}"


JUDGES = {"over": lambda value: value > HALF_A}
NEAR, FAR = 2, 3


@dataclass(frozen=True, slots=True)
class Wire:
    length_m: int = NEAR
    cores: int = 5
    note: str = field(default="", compare=False)


SHORT = Wire()


def reach() -> int:
    return NEAR + FAR


def _table() -> dict[str, int]:
    return {"a": _entry(1)}


def _entry(value: int) -> int:
    return value * 7


TABLE = _table()
'''
TESTS_OF_SAMPLE = """\
import pytest
from sampled import JUDGES, LIMIT_A, SHORT, TABLE, Wire, ends, kept, loose, over, reach

FIRST = kept(2)

@pytest.mark.parametrize(("current", "found"), [(9.9, False), (10, False), (10.1, True)])
def test_over(current, found):
    assert over(current) is found
    assert LIMIT_A == 10

def test_kept():
    assert kept(2) == 6

def test_judges():
    assert JUDGES["over"](5.1) and not JUDGES["over"](5)

def test_loose():
    assert loose(30) == 30
    assert loose(200) == 100

def test_ends():
    assert ends([1, 2, 3]) == 6

def test_wire():
    assert (SHORT.length_m, Wire(3).cores, reach()) == (2, 5, 5)
    assert Wire(2, note="red") == Wire(2)

def test_table():
    assert TABLE["a"] == 7
"""
SCRIPT = """\
import json, sys
from pathlib import Path
from tests.mutation import __main__ as command
from tests.mutation.population import every
root = Path(sys.argv[1])
mutants = [one for many in every(["sampled.py"], root).values() for one in many]
results, faults = command.run(mutants, 4.0, root, ["test_sampled.py"], {})
said = [[r.mutant.at, r.mutant.name[2], str(r.fate), r.by] for r in results]
print("\\n@" + json.dumps({"results": said, "faults": faults}))
"""


def driven(folder: Path, tests: str) -> Any:
    """What the driver makes of the sample, in a process of its own."""
    (folder / "sampled.py").write_text(SAMPLE, encoding="utf-8")
    (folder / "test_sampled.py").write_text(tests, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(folder)], cwd=ROOT, capture_output=True, text=True, check=False, timeout=120
    )
    last = done.stdout.rpartition("\n@")[2]
    assert last.startswith("{"), done.stdout + done.stderr
    return json.loads(last)


@pytest.fixture(scope="module")
def fates(tmp_path_factory: pytest.TempPathFactory) -> dict[tuple[str, str], tuple[str, str]]:
    """Place and change of each mutant of the sample: what became of it, and by what."""
    found = driven(tmp_path_factory.mktemp("sample"), TESTS_OF_SAMPLE)
    assert found["faults"] == []
    return {(at, change): (fate, by) for at, change, fate, by in found["results"]}


def test_a_boundary_that_a_test_stands_on_is_killed(fates: dict[tuple[str, str], tuple[str, str]]) -> None:
    fate, by = fates["over", "current_a > LIMIT_A -> current_a >= LIMIT_A"]
    assert fate == Fate.KILLED
    assert by.endswith("test_over[10-False]")


def test_a_constant_counts_wherever_it_was_imported_or_built_upon(
    fates: dict[tuple[str, str], tuple[str, str]],
) -> None:
    assert fates["LIMIT_A", "5 * 2 -> 5 / 2"][0] == Fate.KILLED
    assert fates["HALF_A", "LIMIT_A / 2 -> LIMIT_A * 2"][0] == Fate.KILLED


def test_a_function_counts_in_a_table_and_behind_a_filled_cache(
    fates: dict[tuple[str, str], tuple[str, str]],
) -> None:
    assert fates["JUDGES.lambda", "value > HALF_A -> value >= HALF_A"][0] == Fate.KILLED
    assert fates["kept", "number * 3 -> number / 3"][0] == Fate.KILLED


def test_a_default_of_a_field_and_names_of_one_assignment_are_put_in_place(
    fates: dict[tuple[str, str], tuple[str, str]],
) -> None:
    for at, change in (("Wire", "5 -> 6"), ("Wire", "False -> True"), ("(NEAR, FAR)", "2 -> 3")):
        fate, by = fates[at, change]
        assert (fate, by.rpartition("::")[2]) == (Fate.KILLED, "test_wire")


def test_a_function_counts_that_made_a_table_while_the_module_was_loaded(
    fates: dict[tuple[str, str], tuple[str, str]],
) -> None:
    assert fates["_entry", "7 -> 8"][0] == fates["_table", "1 -> 2"][0] == Fate.KILLED


def test_what_no_test_holds_is_reported_alive(fates: dict[tuple[str, str], tuple[str, str]]) -> None:
    assert fates["loose", "width > 100 -> width >= 100"] == (Fate.SURVIVED, "9 tests")
    assert fates["loose", "100 -> 101"][0] == Fate.SURVIVED
    assert fates["unused", "one + 1 -> one - 1"][0] == Fate.SURVIVED


def test_a_mutant_that_never_ends_is_stopped(fates: dict[tuple[str, str], tuple[str, str]]) -> None:
    assert fates["ends", "break -> continue"][0] in (Fate.TIMED_OUT, Fate.KILLED)
    assert fates["ends", "not items -> items"][0] == Fate.KILLED


def test_what_people_read_is_no_mutant(fates: dict[tuple[str, str], tuple[str, str]]) -> None:
    assert not {change for at, change in fates if at == "told"}


def test_a_test_that_fails_without_any_mutant_is_told_and_nothing_is_run(tmp_path: Path) -> None:
    found = driven(tmp_path, TESTS_OF_SAMPLE.replace("== 6", "== 7"))
    assert found["results"] == []
    assert [fault.rpartition("::")[2] for fault in found["faults"]] == ["test_kept", "test_ends"]
    assert all(fault.startswith("fails without any mutant: ") for fault in found["faults"])


# -- what is judged --------------------------------------------------------------------------------

ONE = Mutant("doorlint/codes/values.py", "load", "a -> b", 1, 3, 0, True)


def test_a_run_without_mutants_fails(capsys: pytest.CaptureFixture[str]) -> None:
    assert command.judged([], {}) == ["no mutant ran"]
    assert command.main(["doorlint/exposure.py", "--only", "of this name there is none"]) == 1
    assert "no mutant ran" in capsys.readouterr().err


def test_a_survivor_needs_a_reason_and_a_reason_a_survivor() -> None:
    survived = [Result(ONE, Fate.SURVIVED)] + 9 * [Result(ONE, Fate.KILLED)]
    assert len(command.judged(survived, {})) == 1
    assert "neither killed nor given a reason" in command.judged(survived[:1], {})[0]
    assert "reason for a mutant that is killed" in command.judged(survived[1:2], {ONE.name: "it is equal"})[0]


def test_fewer_than_nine_of_ten_killed_fail_even_with_reasons() -> None:
    results = 2 * [Result(ONE, Fate.SURVIVED)] + 8 * [Result(ONE, Fate.TIMED_OUT)]
    told = [fault for fault in command.judged(results, {ONE.name: "it is equal"}) if "are asked" in fault]
    assert told == ["doorlint/codes: 8 of 10 killed, 90% are asked"]


def test_a_mutant_that_no_test_runs_or_that_cannot_be_put_is_not_dead() -> None:
    assert [fate for fate in Fate if fate.dead] == [Fate.KILLED, Fate.TIMED_OUT]


def test_the_table_counts_each_module_and_all() -> None:
    results = [Result(ONE, Fate.KILLED), Result(ONE, Fate.SURVIVED)]
    lines = command.table({ONE.file: (ONE, ONE, ONE)}, results, {}).splitlines()
    assert lines[1].split() == ["doorlint/codes/values.py", "3", "2", "1", "0", "0", "50.0", "0", "1"]
    assert lines[2].split()[0] == "all"


# -- the mutants and the sample --------------------------------------------------------------------


def test_a_mutant_is_one_change_of_the_module() -> None:
    before = ast.unparse(ast.parse(SAMPLE)).splitlines()
    mutants = mutants_of("sampled.py", SAMPLE)
    assert len({mutant.name for mutant in mutants}) == len(mutants)
    for mutant in mutants:
        after = ast.unparse(mutated(SAMPLE, mutant)).splitlines()
        assert len(before) == len(after)
        assert len([1 for one, other in zip(before, after, strict=True) if one != other]) == 1


def test_that_lengths_agree_is_no_mutant() -> None:
    source = "def pairs(a: str, b: str) -> list[str]:\n    return list(zip(a, b, strict=True))\n"
    found = mutants_of("zipped.py", source)
    assert [mutant.change for mutant in found] == ["return list(zip(a, b, strict=True)) -> return None"]


def test_a_mutant_of_another_state_of_the_file_is_refused() -> None:
    mutant = mutants_of("sampled.py", SAMPLE)[-1]
    with pytest.raises(ValueError, match="changed meanwhile"):
        mutated(SAMPLE.replace("5 * 2", "10"), mutant)


def test_the_sample_takes_of_every_module_and_is_the_same_for_a_seed() -> None:
    population = every(files_of(TARGETS))
    taken = sample(population, 1)
    assert taken == sample(population, 1)
    assert taken != sample(population, 2)
    for file, mutants in population.items():
        count = sum(one.file == file for one in taken)
        assert count >= min(len(mutants), 3), file


def test_a_change_elsewhere_leaves_the_sample_of_a_module() -> None:
    file = "rules/battery/cut_off_too_low.py"
    source = (ROOT / file).read_text(encoding="utf-8")
    longer = f"{source}\n\ndef more() -> str:\n    return f'a'\n"
    first, second = ([one.name for one in sample({file: mutants_of(file, text)}, 1)] for text in (source, longer))
    assert len(set(first) & set(second)) >= len(first) - 1


def test_every_named_test_is_there_and_a_rule_is_run_by_its_own_cases_first() -> None:
    assert all((ROOT / test).exists() for test in TESTS)
    file = "rules/battery/cut_off_too_low.py"
    own = distance(file, "tests/test_rule_cases.py::test_x[battery/cut-off-too-low: a case]")
    record = distance(file, "tests/rules/test_record.py::test_y[battery/cut-off-too-low]")
    assert own < record < distance(file, "tests/rules/test_record.py::test_y[battery/other]")
    with pytest.raises(FileNotFoundError, match="there is no such"):
        files_of(["doorlint/nowhere"])


# -- the written reasons ---------------------------------------------------------------------------


def test_every_written_reason_speaks_of_a_mutant_of_today() -> None:
    known = reasons()
    assert stale(known, every({file for file, _, _ in known})) == ()


def test_a_reason_that_says_nothing_or_stands_twice_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "survivors.yaml"
    path.write_text("survivors: [{in: a.py, at: f, mutants: [x], reason: equal}]", encoding="utf-8")
    with pytest.raises(ValueError, match="says too little"):
        reasons(path)
    path.write_text(f"survivors: [{{in: a.py, at: f, mutants: [x, x], reason: {'word ' * 9}}}]", encoding="utf-8")
    with pytest.raises(ValueError, match="stands twice"):
        reasons(path)
    assert stale([("a.py", "f", "x")], {"a.py": ()}) == (("a.py", "f", "x"),)
