"""An exit button that only tells a controller, where it should break the lock's current itself."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.context import Context
from doorlint.events import Egress as Way
from doorlint.events import Event
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, known
from doorlint.spec.model import Opening

from .lists import BY_HAND, CAUTION, add_contact, case_of, chain, in_series, nothing_holds, row_of

RULE = Rule(
    "egress/button-through-controller",
    title="An exit button works only through a controller",
    level=Level.ERROR,
    over=Opening,
    basis=(
        Cited(
            "International Building Code",
            "2015 to 2024",
            "sensor release of electrically locked egress doors, manual unlocking device",
            "clause by edition",
        ),
        Practice(
            "a button that lets people out breaks the lock's current itself",
            physics="an input of a controller that hangs or has no power has no effect on the lock",
        ),
    ),
    evidence=("button", "feed of the lock", "what happens when the controller hangs"),
    why="The button is there, it is lit, and it does nothing on the day the controller hangs.",
    cure="Take a contact of the button into the feed of the lock; let a second contact tell the controller.",
    limits="Buttons that unlock doors with free egress by hardware are a convenience and are not judged. " + CAUTION,
    life_safety=True,
    incomplete=uncounted.where_unknown("items.timer"),
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    case = case_of(opening, context)
    buttons = case.of_kind(*BY_HAND)
    if not buttons:
        case.insist_on_devices()
        yield not_applicable("no button lets people out")
        return
    if not case.holding:
        yield not_applicable(nothing_holds(case))
        return
    for button in buttons:
        wired = {
            use.owner.identity
            for item in case.holding
            for use in in_series(case, item, BY_HAND)
            if isinstance(use.owner, Item)
        }
        if button.identity in wired:
            if button.timer == "electronic" and any(
                known(contact, "rest", str) == "closed"
                for contact in (button.sheet.contacts.values() if button.sheet else ())
            ):
                text = f"{button.name} has an electronic timer that keeps the lock fed when it is dead"
                yield failed(text, button.at("timer"))
                continue
            yield ok(f"{button.name} breaks the lock's feed itself", button.at("product"))
            continue
        row = row_of(case, Event("controller_hung"))
        shown = f"; {chain(row, 'egress impossible')}" if row.egress is Way("impossible") else ""
        via = f" and only tells {button.signals}" if isinstance(button.signals, str) else ""
        text = f"{button.name} is not in the feed of {case.holding[0].name}{via}{shown}"
        related = (Related(case.holding[0].at("fed_from"), f"the feed of {case.holding[0].name}"),)
        cures = add_contact(case.holding[0], button) if len(case.holding) == 1 else ()
        yield failed(text, button.at("signals"), related=related, repairs=cures)
