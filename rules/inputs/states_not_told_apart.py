"""Resistors and cable that the supervised input does not take for the state that they stand for."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.inputs import USUAL_TOLERANCE, Span, cable_loop_ohm, line_ohm, states
from doorlint.context import Context
from doorlint.events.door import signals_to
from doorlint.outcome import Level, Practice, Related, Step, Term, Verdict, failed, ok
from doorlint.quantity import Band, Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Undecided, known
from doorlint.spec.model import EndOfLine, Item, Supervision

RULE = Rule(
    "inputs/states-not-told-apart",
    title="The supervised input does not see the state that the contact is in",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: item.end_of_line is not None,
    scope="devices with end-of-line resistors",
    basis=(
        Practice(
            "each state lies within its range with tolerance, cable and contact, and a shorted line lies outside both",
            physics="Ohm's law of resistors in series",
        ),
    ),
    evidence=(
        "resistance seen",
        "range of the input",
    ),
    why="The input shows a fault for ever, or takes a shorted line for a closed door.",
    cure="Use the resistors of the controller's manual, of 1 %, and a thicker or shorter cable.",
    limits="Moisture between the wires, which lowers what the controller sees, is not computed.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    panel = context.opening(item).items.get(signals_to(item))
    if panel is None or panel.sheet is None:
        raise Undecided("signals", item.at("signals"), stated=item.signals is not None)
    windows = known(panel.sheet, "supervision", Supervision)
    closed, opened = known(windows, "contact_closed", Band), known(windows, "contact_open", Band)
    ends = known(item, "end_of_line", EndOfLine)
    series, parallel = known(ends, "series", Quantity), known(ends, "parallel", Quantity)
    tolerance = USUAL_TOLERANCE if ends.tolerance is None else float(known(ends, "tolerance", Quantity).value)
    line = line_ohm(cable_loop_ohm(item, context.opening(item), context.spec))
    seen = states(float(series.value), float(parallel.value), tolerance, line)
    terms = (
        Term("series", series.text, ends.at("series")),
        Term("parallel", parallel.text, ends.at("parallel")),
        Term("tolerance", f"{tolerance:.0%}", ends.at("tolerance")),
        Term("line", _text(line), item.at("length")),
    )
    steps = (
        Step("contact closed", "series * (1 -+ tolerance) + line", _text(seen.closed), terms),
        Step("contact open", "(series + parallel) * (1 -+ tolerance) + line", _text(seen.open), terms),
    )
    more = {"related": (Related(windows.place, f"ranges of {panel.name}"),), "working": steps}
    for name, span, band in (("closed", seen.closed, closed), ("open", seen.open, opened)):
        text = f"with the contact {name} the input sees {_text(span)} and takes {band.text} for {name}"
        verdict = ok if span.within(Span(float(band.low), float(band.high))) else failed
        yield verdict(text, item.at("end_of_line"), **more)
    if seen.shorted.high >= float(closed.low):
        text = f"a shorted line is {_text(seen.shorted)} and is taken for a closed contact"
        yield failed(text, item.at("end_of_line"), **more)


def _text(span: Span) -> str:
    return f"{span.low:.0f} to {span.high:.0f} ohm"
