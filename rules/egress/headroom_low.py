"""The clear height below hardware at the head of the frame."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import codes
from doorlint.context import Context
from doorlint.outcome import Cited, Kind, Level, Measure, Step, Term, Verdict
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import known
from doorlint.spec.model import Opening

from .lists import CAUTION, case_of

HEAD_MOUNTED = ("electromagnetic_lock", "closer", "swing_operator")  # a magnet that holds open stands at wall or floor

RULE = Rule(
    "egress/headroom-low",
    title="Hardware at the head leaves too little height to pass",
    level=Level.ERROR,
    over=Opening,
    applies=lambda opening: opening.headroom is not None,
    scope="openings whose clear height is stated",
    basis=(
        Cited(
            "International Building Code",
            "2015 to 2024",
            "size of doors, projections into clear height",
            "clause by edition",
        ),
        Cited("ADA Standards for Accessible Design", "2010", "404.2.3", "clear width and height", from_memory=True),
    ),
    evidence=("clear height", "limit"),
    why="Tall people strike their head on the magnet, most of all when they run.",
    cure="Use a shear lock in the head, or set the device where it leaves the height.",
    limits="The clear height is as stated; the reduced limit holds below closers, stops and magnets only. " + CAUTION,
    life_safety=True,
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    height = known(opening, "headroom", Quantity)
    case = case_of(opening, context)
    below = case.of_kind(*HEAD_MOUNTED)
    value = "door/headroom_at_devices" if below else "door/headroom"
    under = f" under {below[0].name}" if below else ""
    at = opening.at("headroom")
    step = Step("clear height", "as stated", Measure(height.value, "length"), (Term("headroom", height.text, at),))
    verdict = codes.judge(case.project, value, f"clear height{under}", height, at, working=(step,))
    if not below and verdict.kind is Kind.FAIL:
        at_devices = codes.judge(case.project, "door/headroom_at_devices", "clear height", height, at)
        if at_devices.kind is not Kind.FAIL:  # enough below such a device, and nobody knows whether there is one
            case.insist_on_devices()
    yield verdict
