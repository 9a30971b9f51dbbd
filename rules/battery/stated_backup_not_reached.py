"""The standby time that a supply states against the time that its battery really carries what is on at rest."""

from __future__ import annotations

from collections.abc import Iterator

from doorlint import uncounted
from doorlint.circuit.supplies import Supplies
from doorlint.context import Context
from doorlint.outcome import Level, Measure, Practice, Related, Step, Verdict, at_least, not_applicable, undecided
from doorlint.quantity import Quantity
from doorlint.rulebook import Rule
from doorlint.spec import Battery, PowerSource, known

RULE = Rule(
    "battery/stated-backup-not-reached",
    title="The battery does not last for the time that the spec states",
    level=Level.ERROR,
    over=PowerSource,
    applies=lambda source: source.kind == "power_supply" and source.battery is not None and source.backup is not None,
    scope="power supplies with a battery that state how long they go on",
    basis=(
        Practice(
            "a stated time holds for what is really energised at rest: a fail-safe lock draws its full current then, "
            "a fail-secure one none",
            physics="conservation of charge",
        ),
    ),
    evidence=("current at rest", "time that the battery lasts", "time stated", "margin"),
    why="A magnet counted like a strike, with nothing at rest, makes four hours on paper of one in the outage.",
    cure="Correct the time, use a larger battery, or locks that draw nothing at rest.",
    limits="The same shares as for the capacity; times below half an hour need the maker's discharge table.",
    incomplete=uncounted.together(uncounted.loads, uncounted.schedules),
)


def check(source: PowerSource, context: Context) -> Iterator[Verdict]:
    supplies = context.supplies
    if not supplies.carries(source):
        uncounted.insist(uncounted.loads(source, context))
        yield not_applicable(f"nothing is fed from {source.id}")
        return
    battery = known(source, "battery", Battery)
    stated = known(source, "backup", Quantity).value
    capacity = known(battery, "capacity", Quantity).value
    need = supplies.need(source, stated, source.at("backup"))
    enough = need.covered_by(capacity)
    if enough is None:
        doubt = need.doubts[0]
        yield undecided(f"cannot be decided: {doubt.why}", (doubt.name,), doubt.place, working=need.working)
        return
    # To whole minutes below, so it may fall just short of a time that is proved to be reached.
    lasts = supplies.computed_autonomy(source, "most" if enough else "least")
    step = _lasting(lasts, supplies, source, enough)
    yield at_least(
        f"time that the battery of {source.id} lasts",
        Measure(max(lasts, stated) if enough else lasts, "time"),
        Measure(stated, "time"),
        source.at("backup"),
        limit_name="time stated",
        related=(Related(battery.at("capacity"), "capacity of the battery"),),
        working=step,
    )


def _lasting(lasts: object, supplies: Supplies, source: PowerSource, enough: bool) -> tuple[Step, ...]:
    profile = supplies.profile(source, "most" if enough else "least")
    formula = "longest time for which the capacity needed stays within the capacity, to whole minutes below"
    return (profile.step, Step("time that the battery lasts", formula, Measure(lasts, "time")))  # type: ignore[arg-type]
