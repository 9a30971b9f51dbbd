"""Reads the worked openings beside this file: a spec, a change of its text, its matrix in the trade's letters."""

from __future__ import annotations

from pathlib import Path

from doorlint.context import Context
from doorlint.events import Event, Matrix, Row
from doorlint.reviewing import review_text
from doorlint.rulebook import Rulebook
from doorlint.spec.model import Opening

SPECS = Path(__file__).parent / "specs"

LETTERS = {
    "locked": "L",
    "unlocked": "U",
    "latched": "T",
    "unlatched": "N",
    "free": "F",
    "delayed": "D",
    "staff": "S",
    "impossible": "X",
    "no": "n",
    "yes": "y",
    "granted": "t",
    "key": "k",
    None: "?",
}

ORDER = {
    "E0": Event.NORMAL,
    "E1": Event.CREDENTIAL,
    "E2": Event.EGRESS_ACTION,
    "E3": Event.NETWORK_LOST,
    "E4": Event.POE_PORT_LOST,
    "E5": Event.MAINS_LOST,
    "E6": Event.STANDBY_EXHAUSTED,
    "E7a": Event.CONTROLLER_DEAD,
    "E7b": Event.CONTROLLER_HUNG,
    "E7c": Event.OUTPUT_STUCK,
    "E8": Event.FIRE_ALARM,
    "E9": Event.LOCK_CABLE_CUT,
    "E10": Event.OUTSIDE_DEVICE_TORN_OFF,
    "E11": Event.SENSOR_POWER_LOST,
    "E12": Event.DOOR_POSITION_FAULT,
    "E13": Event.LOCKDOWN,
    "E14": Event.ALARM_RESET,
}
"""The short names of events in this folder's tables, in the order of a matrix."""


def opened(text: str, *, sound: bool = True) -> tuple[Opening, Context]:
    """The one opening of a spec given as text, with its context. `sound`: nothing may be wrong with the text."""
    result = review_text(text, rulebook=Rulebook())
    if sound:
        assert not result.findings(), [outcome.message for outcome in result.findings()]
    assert result.spec is not None and result.context is not None
    (opening,) = result.spec.openings.values()
    return opening, result.context


def changed(name: str, *changes: tuple[str, str]) -> str:
    """The text of a worked spec with each change made; every change must meet its text."""
    text = (SPECS / f"{name}.yaml").read_text(encoding="utf-8")
    for before, after in changes:
        assert before in text, f"{name}: {before!r} is not in the spec"
        text = text.replace(before, after)
    return text


def letters(row: Row) -> str:
    """One row as lock, latch, egress, ingress without and with credential, such as `L N F n y`."""
    cells = (row.lock, row.latch, row.egress, row.ingress_without, row.ingress_with)
    return " ".join(LETTERS[None if cell is None else cell.value] for cell in cells)


def table(matrix: Matrix) -> dict[str, str]:
    """Every row of a matrix in letters, by short name."""
    return {short: letters(matrix.row(event)) for short, event in ORDER.items()}
