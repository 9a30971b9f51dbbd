"""An input set up for another form of contact than the device has."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, ok
from doorlint.rulebook import Rule
from doorlint.spec import Undecided, known
from doorlint.spec.model import Item

RULE = Rule(
    "inputs/contact-form-differs",
    title="The input is set up for the other form of contact",
    level=Level.ERROR,
    over=Item,
    applies=lambda item: item.programmed_as is not None,
    scope="devices whose input is stated",
    basis=(
        Practice(
            "input and contact are of one form", physics="a contact of the other form is closed when it should be open"
        ),
    ),
    why="Open is reported as closed, and closed as open.",
    cure="Set the input up for the contact that the device has.",
    limits="The form is that of the contact with the leaf open, as data sheets give it. A change-over "
    "contact can be wired either way.",
)


def check(item: Item, context: Context) -> Iterator[Verdict]:
    sheet = item.sheet
    if sheet is None:
        raise Undecided("product", item.at("product"), stated=item.product is not None)
    programmed, at = known(item, "programmed_as", str), item.at("programmed_as")
    forms = [(contact, known(contact, "form", str)) for contact in sheet.contacts.values()]
    if not forms:
        raise Undecided("contacts", sheet.place.key, stated=False)
    if any(form in ("spdt", programmed) for _, form in forms):
        yield ok(f"{item.name} has a contact of form {programmed}", at)
    else:
        text = f"the input of {item.name} is set up as {programmed}, and its contact is {forms[0][1]}"
        yield failed(text, at, related=(Related(forms[0][0].at("form"), "its form"),))
