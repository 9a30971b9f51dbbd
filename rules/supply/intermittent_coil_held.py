"""A coil for intermittent duty that schedule, unlock time or fail mode keep energised."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.substitutes import other_products
from doorlint.context import Context
from doorlint.outcome import (
    Change,
    Level,
    Measure,
    Place,
    Practice,
    Related,
    Repair,
    Step,
    Term,
    Verdict,
    at_most,
    failed,
    not_applicable,
    ok,
)
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Coil, Item, Undecided, known
from doorlint.spec.read import chosen_coil

RULE = Rule(
    "supply/intermittent-coil-held",
    title="A coil for intermittent duty is kept energised for too long",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: chosen_coil(item) is not None,
    scope="devices with a coil",
    basis=(
        Practice(
            "a coil stays on for as long as its duty allows: a fail-secure lock while it is unlocked, by hand or by "
            "schedule, a fail-safe one all the time that it is locked",
            physics="a coil rated for short times does not reach its balance of heat before its insulation fails",
        ),
    ),
    evidence=("longest time energised", "longest time that the coil may be on"),
    why="Weeks after the opening the coil burns out or its keeper sticks.",
    cure="A coil for continuous duty, or a shorter time.",
    limits="Unlocking by hand again and again is not seen; nor is a release that somebody holds.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    coil = chosen_coil(item)
    assert coil is not None
    if coil.duty == "continuous":
        yield ok(f"the coil of {item.name} is for continuous duty", coil.at("duty"))
        return
    fail, place = _fail_mode(item)
    if fail == "as_is":
        yield not_applicable(f"{item.name} stays as it is without current: its coil moves it and is off again")
        return
    if fail == "secure" and coil.duty is None and item.unlock_schedule is None:
        yield not_applicable(f"{item.name} is energised only while a grant unlocks it; its sheet states no duty")
        return
    known(coil, "duty", str)
    related = (Related(coil.at("duty"), f"duty of the coil of {item.name}"),)
    if fail == "safe":
        text = f"{item.name} is fail-safe: its coil is on as long as it is locked, and it is for intermittent duty"
        repairs = tuple(other_products(item, context.spec))
        yield failed(text, place, related=related, repairs=repairs)
        return
    yield _timed(item, coil, context, related)


def _fail_mode(item: Item) -> tuple[str, Place]:
    """What the device does without current, and where that stands."""
    sheet = item.sheet
    assert sheet is not None
    if item.fail is not None:
        return known(item, "fail", str), item.at("fail")
    fail = known(sheet, "fail", str)
    if fail == "selectable":
        raise Undecided("fail", item.at("fail"), stated=False)
    return fail, item.at("product")


def _timed(item: Item, coil: Coil, context: Context, related: tuple[Related, ...]) -> Verdict:
    times = {name: known(item, name, Quantity) for name in ("unlock_schedule", "unlock_time") if _stated(item, name)}
    if not times:
        raise Undecided("unlock_time", item.at("unlock_time"), stated=False)
    name = max(times, key=lambda each: times[each].value)
    longest = known(coil, "longest_on", Quantity)
    terms = tuple(Term(each.replace("_", " "), times[each].text, item.at(each)) for each in times)
    on_for = Measure(times[name].value, "time")
    step = Step("longest time energised", "the longer of unlock time and scheduled unlocking", on_for, terms)
    repairs: tuple[Repair, ...] = ()
    if times[name].value > longest.value:
        change = Change(item.at(name), longest.text)
        title = f"keep {item.name} unlocked for at most {longest.text} ({name.replace('_', ' ')})"
        repairs = (*other_products(item, context.spec), Repair(title, (change,)))
    return at_most(
        f"time for which the coil of {item.name} is energised,",
        on_for,
        Measure(longest.value, "time"),
        item.at(name),
        limit_name="longest that it may be on,",
        related=related,
        working=(step,),
        repairs=repairs,
    )


def _stated(item: Item, name: str) -> bool:
    return getattr(item, name) is not None
