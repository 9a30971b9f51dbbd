"""No plan for the renewal of keys and of the lists that devices keep."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.context import Context
from doorlint.outcome import Level, Practice, Related, Verdict, failed, not_applicable, ok
from doorlint.rulebook import Rule
from doorlint.spec import UNKNOWN, known
from doorlint.spec.model import Credentials, Project

RULE = Rule(
    "reader/keys-never-renewed",
    title="Nobody has said when keys and stored lists are renewed",
    level=Level.WARNING,
    over=Project,
    basis=(Practice("who keeps lists of credentials in devices says how they stay current"),),
    why="A card that was withdrawn last month still opens the door whose controller is offline.",
    cure="State when lists and keys are renewed, and by whom.",
    limits="Whether the plan is kept is not seen.",
)


def check(project: Project, context: Context) -> Iterator[Verdict]:
    items = [item for opening in context.spec.openings.values() for item in opening.items.values()]
    keeping = [item for item in items if item.sheet is not None and item.sheet.offline == "local_list"]
    if not keeping:
        for item in items:
            if item.sheet is not None and item.sheet.offline is UNKNOWN:
                known(item.sheet, "offline", str)
        yield not_applicable("no device keeps a list of credentials")
        return
    related = (Related(keeping[0].place.key, f"{keeping[0].name} of {keeping[0].opening} keeps a list"),)
    plan = known(known(project, "credentials", Credentials), "renewal", str)
    at = known(project, "credentials", Credentials).at("renewal")
    if plan.strip().lower() in ("none", "never", "no"):
        yield failed("keys and lists are not renewed", at, related=related)
    else:
        yield ok(f"renewal: {plan}", at, related=related)
