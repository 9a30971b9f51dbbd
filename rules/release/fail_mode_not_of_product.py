"""A fail mode asked of a lock that its product does not have."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, known

from .fail_safe_held_by_poe_alone import HOLDERS

KINDS = (*HOLDERS, "latch_retraction_exit_device", "delayed_egress_device")

RULE = Rule(
    "release/fail-mode-not-of-product",
    title="The lock does not fail the way that is asked of it",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: item.sheet is not None and item.sheet.kind in KINDS,
    scope="locks",
    basis=(
        Practice(
            "a lock that keeps its state without power is neither fail-safe nor fail-secure, and breaking its feed "
            "releases nothing",
            physics="a motor without power or stored energy does not move",
        ),
    ),
    evidence=("fail mode of the product", "fail mode asked for"),
    why="The door stays unlocked over a weekend without power, or locked when the fire alarm cuts its feed.",
    cure="Use a lock of the fail mode asked for, or one whose return is driven by a spring or stored energy.",
    limits="A drive that returns the lock from stored energy is only known where the sheet gives the fail mode so.",
    life_safety=True,
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    sheet = item.sheet
    assert sheet is not None
    broken_by = [
        use
        for feed in context.wiring.by_item.get(item.identity, ())
        for use in feed.contacts
        if use.why == "released_by"
    ]
    if item.fail is None and not broken_by:
        yield not_applicable(f"nothing but its product says how {item.name} fails, and no contact releases it")
        return
    has = known(sheet, "fail", str)
    related = (Related(sheet.at("fail"), f"{item.product} is fail-{has.replace('_', '-')}"),)
    if item.fail is not None:
        asked = known(item, "fail", str)
        if has not in ("selectable", asked):
            text = f"{item.name} is to be {_words(asked)}, and {item.product} {_does(has)}"
            yield failed(text, item.at("fail"), related=related)
            return
        has = asked
    if has == "as_is" and broken_by:
        names = ", ".join(use.name for use in broken_by)
        text = f"{item.name} keeps its state without power: {names} in its feed releases nothing"
        yield failed(text, broken_by[0].place, related=related)
        return
    yield ok(f"{item.name} is {_words(has)}, as its product is", item.at("fail"), related=related)


def _words(mode: str) -> str:
    return {"safe": "fail-safe", "secure": "fail-secure", "as_is": "left as it is"}.get(mode, mode)


def _does(mode: str) -> str:
    return "keeps its state without power" if mode == "as_is" else f"is {_words(mode)}"
