"""Of the invented example: a longer cable never raises the voltage at its load, a bigger conductor never adds a finding
on voltage, and leaving a suppressor out never cures a coil that needs one.

The random circuits of `tests/test_voltages.py` stand beside these: here it is whole doors, with all of their rules.
"""

from __future__ import annotations

import contextlib
import copy
from functools import cache
from typing import Any

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from invented import BOOK, Path_, alone, at, judged, leaves, replaced, reviewed, whole

from doorlint.outcome import Kind
from doorlint.reviewing import Result
from doorlint.rulebook import Rulebook
from doorlint.spec.fields import Undecided
from doorlint.spec.model import Coil

QUICK = settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
OPENINGS = tuple(whole(clean=False)["openings"])

VOLTAGE = {
    "supply/voltage-below-minimum",
    "supply/voltage-sags-at-peak",
    "supply/hot-coil-below-pull-in",
    "cable/drop-over-target",
    "cable/return-lifted-by-lock",
}
ON_VOLTAGE = Rulebook(tuple(module for module in BOOK.modules if module.RULE.id in VOLTAGE))
HOLDS_FIRST = "cable/drop-over-target"
"""The drop is judged once the circuit holds at all: a conductor that makes it hold may show its drop for the first
time."""


@cache
def tree_of(opening: str, clean: bool) -> dict[str, Any]:
    return alone(whole(clean), [opening])


def reaching(result: Result) -> dict[str, float | None]:
    """What reaches each device: the lowest voltage at its input, or over PoE the power; None where it collapses.
    What is not known is left out."""
    assert result.context is not None
    found: dict[str, float | None] = {}
    for feed in result.context.wiring.feeds:
        with contextlib.suppress(Undecided):
            if feed.supply == "poe":
                link = next(link for link in result.context.poe.links if link.feed is feed)
                found[f"{feed.identity}:poe"] = float(result.context.poe.available(link).power_w)
            else:
                found[f"{feed.identity}:{feed.supply}"] = result.context.voltages.steady(feed).worst_v
    return found


def lengths(tree: dict[str, Any]) -> list[Path_]:
    return [path for path, value in leaves(tree) if path[-1] == "length" and str(value).endswith(" m")]


@QUICK
@given(st.data())
def test_a_longer_cable_never_raises_a_voltage(data: st.DataObject) -> None:
    tree = tree_of(data.draw(st.sampled_from(OPENINGS)), data.draw(st.booleans()))
    path = data.draw(st.sampled_from(lengths(tree)))
    more = data.draw(st.integers(1, 60))
    longer = replaced(tree, path, f"{float(str(at(tree, path)).removesuffix(' m')) + more:g} m")
    before, after = (reaching(reviewed(one, Rulebook())) for one in (tree, longer))
    assert before.keys() == after.keys()
    fed = [name for name in after if name.startswith(f"{path[1]}/{path[3]}:")] if path[0] == "openings" else list(after)
    for name in fed:
        old, new = before[name], after[name]
        assert new is None or (old is not None and new <= old + 1e-9), name


def gauge(text: str) -> int | None:
    words = text.split()
    return int(words[0]) if len(words) == 2 and words[1] == "AWG" and words[0].isdigit() else None


@QUICK
@given(st.data())
def test_a_bigger_conductor_never_adds_a_finding_on_voltage(data: st.DataObject) -> None:
    tree = tree_of(data.draw(st.sampled_from(OPENINGS)), data.draw(st.booleans()))
    sized = [(path, size) for path, value in leaves(tree["cables"]) if (size := gauge(str(value))) is not None]
    assume(sized)
    path, size = data.draw(st.sampled_from(sized))
    # first so long and thin that there is something to find, then thicker
    far = tree
    factor = data.draw(st.sampled_from([1, 2, 4, 8]))
    for where in lengths(tree):
        far = replaced(far, where, f"{float(str(at(tree, where)).removesuffix(' m')) * factor:g} m")
    thin, thick = sorted((size, data.draw(st.integers(8, 24))), reverse=True)
    assume(thin != thick)
    found = []
    for awg in (thin, thick):
        result = reviewed(replaced(far, ("cables", *path), f"{awg} AWG"), ON_VOLTAGE)
        found.append({key for key, kinds in judged(result).items() if kinds[Kind.FAIL] and key[0] in VOLTAGE})
    before, after = found
    added = after - before
    if any(rule == "supply/voltage-below-minimum" for rule, _ in before):
        added = {key for key in added if key[0] != HOLDS_FIRST}
    assert not added, f"{path}: {thin} -> {thick} AWG"


@cache
def opening_alone(opening: str, clean: bool) -> Result:
    return reviewed(tree_of(opening, clean))


def suppressed(opening: str, clean: bool) -> list[str]:
    """The items of an opening to which a suppressor is fitted, by the opening or by its set."""
    spec = opening_alone(opening, clean).spec
    assert spec is not None
    return [name for name, item in spec.openings[opening].items.items() if item.suppression]


ABOUT_THE_PART = {
    "suppression/away-from-coil",
    "suppression/clamp-over-switch",
    "suppression/doubled",
    "suppression/energy-over-rating",
    "suppression/freewheel-across-magnet",
    "suppression/in-reader-cable",
    "suppression/polarised-on-ac",
    "suppression/reversed",
    "suppression/stand-off-below-supply",
    "release/slower-than-limit",
    "release/slower-than-walk",
}
"""What is wrong with a fitted part, or with the slow release by it, goes with the part. That the coil has none is then
the finding in its place, unless another part suppresses it."""


@settings(QUICK, max_examples=12)
@given(st.sampled_from(OPENINGS), st.booleans(), st.data())
def test_leaving_a_suppressor_out_never_cures_a_coil(opening: str, clean: bool, data: st.DataObject) -> None:
    names = suppressed(opening, clean)
    assume(names)
    name = data.draw(st.sampled_from(names))
    bare = copy.deepcopy(tree_of(opening, clean))
    bare["openings"][opening].setdefault("items", {}).setdefault(name, {})["suppression"] = "none"
    before, after = opening_alone(opening, clean), reviewed(bare)
    now = judged(after)
    for key, kinds in judged(before).items():
        if kinds[Kind.FAIL] and key[0] not in ABOUT_THE_PART:
            assert now[key][Kind.FAIL] >= kinds[Kind.FAIL], key
    need = now.get(("suppression/missing", f"{opening}/{name}"))
    if need is None or not need[Kind.FAIL]:
        assert after.spec is not None
        sheet = after.spec.openings[opening].items[name].sheet
        assert sheet is not None
        coils = [coil for coil in (sheet.coil, *sheet.coils.values()) if isinstance(coil, Coil)]
        protected = any(str(coil.built_in_suppression) not in ("None", "none") or coil.supply == "ac" for coil in coils)
        assert protected or (need is not None and need[Kind.OPEN]), name
