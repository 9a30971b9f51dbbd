"""Equal locks of one opening at different coil settings."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.substitutes import as_yaml
from doorlint.context import Context
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import Item, Opening

RULE = Rule(
    "supply/coil-settings-mixed",
    title="Equal devices of one opening have different coil settings",
    level=Level.WARNING,
    over=Opening,
    basis=(Practice("one voltage for equal devices of an opening: whoever replaces one looks at the other"),),
    evidence=("settings",),
    why="The wrong one of two equal locks gets the higher voltage when they are exchanged or rewired.",
    cure="One voltage for both.",
    limits="Compares items of the same product in one opening; different products may need different voltages.",
)


def check(opening: Opening, context: Context) -> Iterator[Verdict]:
    first: dict[str, Item] = {}
    judged = False
    for item in opening.items.values():
        if item.sheet is None or not item.sheet.coils or not isinstance(item.coil_setting, str):
            continue
        other = first.setdefault(item.sheet.id, item)
        if other is item:
            continue
        judged = True
        if other.coil_setting == item.coil_setting:
            yield ok(f"{other.name} and {item.name} are both set to {item.coil_setting}", item.at("coil_setting"))
        else:
            text = (
                f"{item.name} is set to {item.coil_setting} and {other.name}, the same product, to {other.coil_setting}"
            )
            place = item.at("coil_setting")
            change = Change(place, as_yaml(str(other.coil_setting)))
            repair = Repair(f"set {item.name} to {other.coil_setting} too, and feed it so", (change,))
            related = (Related(other.at("coil_setting"), f"setting of {other.name}"),)
            yield failed(text, place, related=related, repairs=(repair,))
    if not judged:
        yield not_applicable("no two items of one product with a stated coil setting")
