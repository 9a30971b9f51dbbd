"""Normally open or normally closed against the way in which the lock fails."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint.circuit.feeds import ContactUse, Feed
from doorlint.circuit.substitutes import as_yaml
from doorlint.context import Context
from doorlint.outcome import Change, Level, Practice, Related, Repair, Verdict, failed, not_applicable, ok, undecided
from doorlint.rulebook import Rule
from doorlint.spec import Coil, Item, Undecided

from ..release.fail_safe_held_by_poe_alone import HOLDERS, fail_mode

BY_HAND = ("exit_button", "emergency_release", "touch_bar")

RULE = Rule(
    "contact/form-against-fail-mode",
    title="Normally open or closed contradicts the way the lock fails",
    level=Level.ERROR,
    over=Feed,
    applies=lambda feed: (
        isinstance(feed.load, Coil) and feed.item.sheet is not None and feed.item.sheet.kind in HOLDERS
    ),
    scope="the coils of locks",
    basis=(
        Practice(
            "a contact that closes (normally open) releases a fail-secure lock, one that opens (normally closed) a "
            "fail-safe lock; a relay that is energised at rest turns that round and only suits release devices",
            physics="a fail-secure lock opens with current, a fail-safe one without",
        ),
    ),
    evidence=("fail mode", "terminal used", "what the contact is for"),
    why="The door works the wrong way round, or unlocks whenever the controller is off.",
    cure="Use the other terminal of the contact; where unlocking when the controller is lost is meant, say so in a "
    "waiver.",
    limits="Whether a sensor's or fire alarm's relay is energised at rest is taken from the terminal used.",
    life_safety=True,
)


def check(feed: Feed, context: Context) -> Iterator[Verdict]:
    if not feed.contacts:
        yield not_applicable(f"no contact is in the feed of {feed.item.name}")
        return
    mode = fail_mode(feed.item)
    if mode == "as_is":
        yield not_applicable(f"{feed.item.name} keeps its state: either contact can suit its drive")
        return
    for use in feed.contacts:
        yield _verdict(feed, use, mode)


def _verdict(feed: Feed, use: ContactUse, mode: str) -> Verdict:
    lock = feed.item.name
    closed = _closed_at_rest(use)
    if closed is None:
        text = f"cannot be decided: {_label(use)} has both terminals; say which is used, .no or .nc"
        return undecided(text, (use.why,), use.place)
    word = "closed" if closed else "open"
    problem = _problem(use, mode, closed)
    if not problem and mode == "safe" and not closed:
        return ok(f"{_label(use)} is held closed by its own relay: its loss releases {lock}", use.place)
    if not problem:
        return ok(f"{_label(use)} is normally {word}, as {lock}, fail-{mode}, asks for", use.place)
    sheet = feed.item.sheet
    assert sheet is not None
    fail_at = feed.item.at("fail") if feed.item.fail is not None else sheet.at("fail")
    text = f"{_label(use)} is normally {word} in the feed of {lock}, which is fail-{mode}: {problem}"
    return failed(text, use.place, related=(Related(fail_at, f"fail-{mode}"),), repairs=tuple(_repairs(use, closed)))


def _closed_at_rest(use: ContactUse) -> bool | None:
    """Whether the contact passes current at rest; None where both terminals exist and none is named."""
    if use.terminal:
        return use.terminal == "nc"
    if use.contact.form in ("no", "nc"):
        return use.contact.form == "nc"
    if use.contact.rest in ("open", "closed"):
        return use.contact.rest == "closed"
    if use.contact.form == "spdt":
        return None
    raise Undecided("form", use.contact.at("form"), stated=use.contact.form is not None)


def _problem(use: ContactUse, mode: str, closed: bool) -> str:
    kind = use.owner.sheet.kind if isinstance(use.owner, Item) and use.owner.sheet is not None else use.owner
    device = use.owner.name if isinstance(use.owner, Item) else use.owner.id
    if mode == "safe" and not closed:
        if use.why == "switched_by":
            return f"it is held only while {device} keeps its relay pulled, and opens whenever that is off or restarts"
        return "it gets current only while somebody operates that" if kind in BY_HAND else ""
    if mode == "secure" and closed:
        if use.why == "switched_by":
            return f"it is open at rest, and whenever {device} is off or restarts"
        return "breaking its feed does not open it" if kind != "fire_alarm_relay" else ""
    return ""


def _label(use: ContactUse) -> str:
    owner = use.owner.name if isinstance(use.owner, Item) else use.owner.id
    return f"{owner}.{use.name}" + (f".{use.terminal}" if use.terminal else "")


def _repairs(use: ContactUse, closed: bool) -> Iterator[Repair]:
    if use.contact.form == "spdt" and use.terminal:
        owner = use.owner.name if isinstance(use.owner, Item) else use.owner.id
        other = "no" if closed else "nc"
        change = Change(use.place, as_yaml(f"{owner}.{use.name}.{other}"))
        yield Repair(f"use the terminal {other} of {owner}.{use.name}", (change,), life_safety=True)
