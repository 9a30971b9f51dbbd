"""What the test report says at its end: the mutations of the worked openings, and the starred faults."""

from __future__ import annotations

import os
from typing import Any


def pytest_configure(config: Any) -> None:
    """Nothing is kept in the user's cache folder, by these tests or by the commands that they start: every review is
    made anew. The tests of the store name a folder of their own."""
    os.environ["DOORLINT_CACHE"] = ""


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """One line for each mutation and each seeded fault that was run, with what it brought."""
    _faults(terminalreporter)
    rows = _recorded(terminalreporter, "mutation")
    if not rows:
        return
    terminalreporter.section("mutations of the worked openings")
    widths = [max(len(row[column]) for row in rows) for column in (0, 1)]
    for opening, name, found in rows:
        terminalreporter.line(f"{opening:<{widths[0]}}  {name:<{widths[1]}}  {', '.join(found)}")


def _recorded(terminalreporter: Any, what: str) -> list[Any]:
    """What the tests that passed recorded under a name."""
    return [
        value
        for report in terminalreporter.stats.get("passed", ())
        for name, value in report.user_properties
        if name == what
    ]


def _faults(terminalreporter: Any) -> None:
    """The seeded faults against the findings that they give, and how many more follow from each."""
    rows = _recorded(terminalreporter, "starred")
    if not rows:
        return
    terminalreporter.section("seeded faults against findings")
    width = max(len(name) for name, _, _ in rows)
    for name, found, follows in rows:
        more = f" (and {follows} that follow from it)" if follows else ""
        terminalreporter.line(f"{name:<{width}}  {', '.join(found)}{more}")
    terminalreporter.line(f"{len(rows)} faults, each found; the clean example gives none")
