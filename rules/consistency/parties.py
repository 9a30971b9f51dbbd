"""Who furnishes, installs and connects what: one party, several, or nobody. No rule here."""

from __future__ import annotations

import re

from doorlint.context import Context
from doorlint.outcome import Related, Verdict, failed, not_applicable, ok
from doorlint.spec import known
from doorlint.spec.model import Cable, Item, PowerSource, Product

Bearer = Item | PowerSource | Cable | Product

NOBODY = re.compile(
    r"\s*(by\s+)?(others?|nobody|none|tbd|tba|to be (decided|determined|confirmed)|n\.?/?a\.?|\?+|-+)\s*", re.I
)
SEVERAL = re.compile(r"\s(or|and)\s|[/,;&+]", re.I)

DOES = {"furnished_by": "furnishes", "installed_by": "installs", "wired_by": "connects"}


def responsibilities_stated(context: Context, field: str) -> bool:
    """Whether the project says of anything at all who does this. One that says nothing has its list elsewhere."""
    return context.stated_anywhere(field)


def one_party(name: str, field: str, parts: tuple[Bearer | None, ...], context: Context) -> Verdict:
    """Whether exactly one party does this for `name`. The first of `parts` that states it counts.

    Raises Undecided where it is given as unknown.
    """
    if not responsibilities_stated(context, field):
        return not_applicable(f"the spec does not say who {DOES[field]} anything: such a list is kept elsewhere")
    listed = [part for part in parts if part is not None]
    stating = next((part for part in listed if getattr(part, field) is not None), None)
    if stating is None:
        return failed(f"nobody {DOES[field]} {name}: others are named for other things", listed[0].place.key)
    party, at = known(stating, field, str), stating.at(field)
    related = () if stating is listed[0] else (Related(listed[0].place.key, name),)
    if NOBODY.fullmatch(party):
        return failed(f"nobody {DOES[field]} {name}: {party!r} names no party", at, related=related)
    if SEVERAL.search(party):
        return failed(f"more than one party {DOES[field]} {name}: {party}", at, related=related)
    return ok(f"{party} {DOES[field]} {name}", at, related=related)
