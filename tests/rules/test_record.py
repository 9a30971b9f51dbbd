"""What every rule gives over its cases is what the record says."""

from __future__ import annotations

from typing import Any

import pytest
from record import FOLDER, lines_of, recorded, rules

RULES = rules()


@pytest.mark.parametrize("module", RULES, ids=lambda module: module.RULE.id)
def test_figures_working_and_repairs_are_those_of_the_record(module: Any) -> None:
    known = recorded(module.RULE.id.partition("/")[0]).get(module.RULE.id, ())
    again = "changed? run `python -m tests.rules.record` and read the difference"
    assert lines_of(module) == known, again


def test_the_record_names_no_rule_that_is_gone() -> None:
    named = {rule for path in FOLDER.glob("*.txt") for rule in recorded(path.stem)}
    assert named == {module.RULE.id for module in RULES}
