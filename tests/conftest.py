"""What the test report says at its end: the table of the mutations of the worked openings."""

from __future__ import annotations

from typing import Any


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """One line for each mutation that was run, with what it brought."""
    rows = [
        value
        for report in terminalreporter.stats.get("passed", ())
        for name, value in report.user_properties
        if name == "mutation"
    ]
    if not rows:
        return
    terminalreporter.section("mutations of the worked openings")
    widths = [max(len(row[column]) for row in rows) for column in (0, 1)]
    for opening, name, found in rows:
        terminalreporter.line(f"{opening:<{widths[0]}}  {name:<{widths[1]}}  {', '.join(found)}")
