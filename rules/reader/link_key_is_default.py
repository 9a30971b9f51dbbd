"""Secure links that use the key that every device comes with."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.events.door import READERS, kind_of
from doorlint.outcome import Cited, Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, known
from doorlint.spec.model import Credentials, Project

RULE = Rule(
    "reader/link-key-is-default",
    title="The links to the readers use a key that everybody knows",
    level=Level.WARNING,
    over=Project,
    basis=(
        Cited("IEC 60839-11-5", "2020", "secure channel keys", from_memory=True),
        Practice("each project loads keys of its own and ends install mode"),
    ),
    why="The link is encrypted with a key that stands in the manual.",
    cure="Load a key of the project's own, and end the mode in which devices accept new keys.",
    limits="Whether it was done shows only at commissioning.",
)


def check(project: Project, context: Context) -> Iterator[Verdict]:
    items = [item for opening in context.spec.openings.values() for item in opening.items.values()]
    secured = [i for i in items if kind_of(i) in READERS and i.sheet is not None and i.sheet.authenticated_link is True]
    if not secured:
        for item in items:
            if kind_of(item) in READERS and item.sheet is not None and item.sheet.authenticated_link is UNKNOWN:
                known(item.sheet, "authenticated_link", bool)
        yield not_applicable("no reader has a link that is proven by a key")
        return
    credentials = known(project, "credentials", Credentials)
    related = (Related(secured[0].place.key, f"{secured[0].name} of {secured[0].opening} proves itself by a key"),)
    if known(credentials, "link_key", str) == "default":
        text = "the links use the key that the devices come with"
        yield failed(text, credentials.at("link_key"), related=related)
    elif credentials.install_mode is not None and known(credentials, "install_mode", bool):
        text = "devices still accept a new key over the link"
        yield failed(text, credentials.at("install_mode"), related=related)
    else:
        yield ok("the links use a key of the project's own", credentials.at("link_key"), related=related)
