"""Which mutants are run: all of some modules, or a sample of each that a seed settles.

A mutant's rank in the sample comes from the seed and its own name, so that a change in one function leaves the sample
of all the others as it was.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from pathlib import Path

from .mutants import Mutant, mutants_of

ROOT = Path(__file__).parents[2]
TARGETS = ("doorlint/circuit", "doorlint/events", "doorlint/exposure.py", "doorlint/codes", "rules")
PER_RULE, PER_MODULE, SHARE = 3, 12, 0.06
"""A sample takes so many of each module at the least, and the share of a large one."""

TESTS: tuple[str, ...] = (
    "tests/circuit",
    "tests/events",
    "tests/mechanics",
    "tests/properties/test_unknown_data.py",
    "tests/published",
    "tests/rules",
    "tests/test_codes.py",
    "tests/test_codes_deciding.py",
    "tests/test_house.py",
    "tests/test_lines.py",
    "tests/test_mutations.py",
    "tests/test_poe_links.py",
    "tests/test_releases.py",
    "tests/test_rule_cases.py",
    "tests/test_supplies.py",
    "tests/test_voltages.py",
    "tests/test_wiring.py",
)
"""The tests that hold the targets. Left out are those of other rooms (reports, reading, editor, intake), and those that
review the whole example for each of its faults: seconds for one test, where a case takes milliseconds."""

LEFT_OUT = (
    "test_no_rule_breaks_on_a_case",  # all rules on each case; the case itself is run by its rule
    "test_a_case_stays_short",  # this and the next are about what is written, not about what is computed
    "test_the_file_of_cases_names_its_rule",
    "test_id_and_title_name_what_was_found",
    "test_one_failing_and_one_passing_case_are_shown",
    "test_every_kind_of_outcome_that_a_rule_can_give_has_a_case",
    "test_every_ground_says_something",
    "test_order_of_keys_comments_and_style_never_change_an_outcome",  # compares the program with itself
    "test_restating_every_quantity_in_another_unit_never_changes_an_outcome",
    "test_any_value_of",
    "test_what_is_open_is_never_passed_by_another_unknown",
    "test_no_number_breaks_a_rule",  # many specs for one assertion: too slow to be run for each mutant
    "test_no_wiring_raises_or_breaks_a_rule_and_each_contradiction_names_both_places",
)


def files_of(targets: Iterable[str], root: Path = ROOT) -> tuple[str, ...]:
    """The Python files of some folders and files, named from the root. FileNotFoundError for a target that is none."""
    found: list[Path] = []
    for target in targets:
        path = root / target
        if not path.exists():
            raise FileNotFoundError(f"{target}: there is no such folder or file in the project")
        found += sorted(path.rglob("*.py")) if path.is_dir() else [path]
    return tuple(dict.fromkeys(path.relative_to(root).as_posix() for path in found))


def every(files: Iterable[str], root: Path = ROOT) -> Mapping[str, tuple[Mutant, ...]]:
    """All mutants of each file."""
    return {file: mutants_of(file, (root / file).read_text(encoding="utf-8")) for file in files}


def rank(seed: int, mutant: Mutant) -> bytes:
    """Where a mutant stands in the sample of a seed; the lowest are taken."""
    return hashlib.sha256("\0".join((str(seed), *mutant.name)).encode()).digest()


def sample(population: Mapping[str, Sequence[Mutant]], seed: int) -> tuple[Mutant, ...]:
    """The mutants of each file that a seed settles on, in the order of the code."""
    taken: list[Mutant] = []
    for file, mutants in population.items():
        least = PER_RULE if file.startswith("rules/") else PER_MODULE
        count = max(least, round(SHARE * len(mutants)))
        by_line: dict[int, list[Mutant]] = defaultdict(list)
        for mutant in sorted(mutants, key=lambda one: rank(seed, one)):
            by_line[mutant.line].append(mutant)
        # one of each line before a second of any: twenty changes of one long condition say little
        order = sorted((place, rank(seed, one), one) for many in by_line.values() for place, one in enumerate(many))
        taken += sorted((one for _, _, one in order[:count]), key=lambda one: one.index)
    return tuple(taken)


def distance(file: str, test: str) -> int:
    """How far a test is from a file that it runs, from 0: the nearest are run first.

    The record of all figures (`tests/rules/record.py`) comes late, so that what it alone notices can be told apart.
    """
    path = Path(file)
    stem, folder = path.stem, path.parent.name
    if file.startswith("rules/"):
        rule = _rule_of(file)
        if RECORD in test:
            return 3 if f"[{rule}]" in test else 5
        if f"[{rule}: " in test:
            return 0
        return 1 if f"[{rule}" in test else 2 if f"tests/rules/test_{folder}" in test else 4
    if any(part in test for part in (f"test_{stem}.py", *_NEAR.get(stem, ()))):
        return 0
    if any(part in test for part in (f"published_{stem}", *_ROOMS.get(folder, ()))):
        return 1
    if RECORD in test:
        return 3
    return 4 if "test_rule_cases" in test else 2


@cache
def _rule_of(file: str) -> str:
    """The id of a rule by the file of its cases; its module may be called otherwise. "" for what is no rule."""
    cases = (ROOT / file).with_suffix(".cases.yaml")
    return cases.read_text(encoding="utf-8").partition("rule: ")[2].split("\n", 1)[0].strip() if cases.is_file() else ""


RECORD = "tests/rules/test_record.py"
_NEAR: Mapping[str, tuple[str, ...]] = {
    "poe_links": ("test_poe",),
    "poe_cures": ("test_poe",),
    "values": ("test_codes",),
    "asking": ("test_codes",),
    "setting": ("test_codes",),
}
_ROOMS: Mapping[str, tuple[str, ...]] = {
    "circuit": ("tests/circuit/",),
    "events": ("tests/events/",),
    "codes": ("test_codes", "published_codes"),
}
