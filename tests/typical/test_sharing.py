"""What like openings share is what each of them would have got by itself: the same outcomes to the letter."""

from __future__ import annotations

import random
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from bench.portfolio import dump, portfolio, write
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from doorlint.outcome import Kind, Outcome
from doorlint.reviewing import Kept, Result, review_root
from doorlint.rulebook import collect
from doorlint.typical.signs import Drawn
from doorlint.typical.stand_in import StandIn, stand_in

ROOT = Path(__file__).parents[2]
BOOK = collect()
SPECS = sorted((ROOT / "examples").glob("gull_point_ferry_terminal*"))


def one_by_one(root: Path) -> Result:
    """The review in which every opening is judged by itself."""
    return review_root(root, BOOK, judged=lambda _context, _subject: True)


def told(result: Result) -> list[tuple[Outcome, object]]:
    """All that is said; repairs take no part in the equality of outcomes, so they stand beside."""
    return [(outcome, outcome.repairs) for outcome in result.outcomes]


def save(folder: Path, files: dict[str, Any]) -> Path:
    for name, tree in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(dump(tree), "utf-8")
    return folder / "project.yaml"


@pytest.mark.parametrize("folder", SPECS, ids=lambda path: path.name)
def test_examples(folder: Path) -> None:
    root = folder / "project.yaml"
    kept = Kept()
    assert told(review_root(root, BOOK, kept=kept)) == told(one_by_one(root))


def test_a_portfolio_is_shared_and_told_the_same(tmp_path: Path) -> None:
    root = write(tmp_path, openings=60, sets=6, files=3, seed=4)
    kept = Kept()
    shared = review_root(root, BOOK, kept=kept)
    alone = one_by_one(root)
    assert told(shared) == told(alone)
    assert shared.counts() == alone.counts()
    assert shared.of_kinds(Kind.FAIL) == alone.of_kinds(Kind.FAIL)
    families = [family for family in kept.known.found.values() if family is not None]
    assert 0 < len(families) < 30  # 60 openings of 6 sets: at most a few families a set


def test_a_second_review_with_what_was_kept_is_the_same(tmp_path: Path) -> None:
    root = write(tmp_path, openings=30, sets=4, files=2, seed=1)
    kept = Kept()
    first = told(review_root(root, BOOK, kept=kept))
    assert told(review_root(root, BOOK, kept=kept)) == first


# Changes that openings of one portfolio make to each other's likeness, one way or another.


def _drop(entry: dict[str, Any], chance: random.Random) -> None:
    entry.pop(chance.choice(list(entry)))


def _unknown(entry: dict[str, Any], chance: random.Random) -> None:
    entry[chance.choice(list(entry))] = "unknown"


def _length(entry: dict[str, Any], chance: random.Random) -> None:
    for item in entry.get("items", {}).values():
        if isinstance(item, dict) and "length" in item:
            item["length"] = chance.choice(["5 m", "400 m", "unknown", "0 m", "12 ft", "3 km", "long"])


def _suppression(entry: dict[str, Any], chance: random.Random) -> None:
    items = entry.setdefault("items", {})
    if isinstance(items, dict):
        items.setdefault("lock", {})["suppression"] = chance.choice(["none", "unknown", "diode-1a"])


def _omit(entry: dict[str, Any], chance: random.Random) -> None:
    items = entry.setdefault("items", {})
    if isinstance(items, dict):
        items[chance.choice(["closer", "lock", "panel", "rc"])] = {"omit": True}


def _fire(entry: dict[str, Any], chance: random.Random) -> None:
    entry["fire_rating"] = chance.choice(["90 min", "none", "unknown", "nonsense"])


def _outside(entry: dict[str, Any], chance: random.Random) -> None:
    entry["exposure"] = chance.choice(["exposed", "wash_down", {"unsecured": "sheltered", "secured": "interior"}])


def _same_output(entry: dict[str, Any], chance: random.Random) -> None:
    for item in entry.get("items", {}).values():
        if isinstance(item, dict) and "fed_from" in item:
            head = str(item["fed_from"]).partition(".")[0]
            item["fed_from"] = chance.choice([f"{head}.1", f"{head}.99", "nowhere", head])


def _interlock(entry: dict[str, Any], chance: random.Random) -> None:
    entry["interlocked_with"] = [chance.choice(["D00001", "D00002", "D99999"])]


def _words(entry: dict[str, Any], chance: random.Random) -> None:
    words = ("Strike of the lobby", "Pair with a maglock", "90 min door, 24 V", "Yard", "unknown", "114", "Fail-safe")
    entry[chance.choice(["title", "from", "to", "note", "sequence"])] = chance.choice(words)


CHANGES: list[Callable[[dict[str, Any], random.Random], None]] = [
    _drop, _unknown, _length, _suppression, _omit, _fire, _outside, _same_output, _interlock, _words,
]  # fmt: skip


def _title(source: dict[str, Any], chance: random.Random) -> None:
    source["title"] = chance.choice(["Closet supply", "unknown", "Pair of doors, 24 V"])


def _upstream(source: dict[str, Any], chance: random.Random) -> None:
    source["fed_from"] = chance.choice(["unknown", "nowhere", "mains", str(source.get("fed_from")) + ".1"])


def _place(source: dict[str, Any], chance: random.Random) -> None:
    source["location"] = chance.choice(["unsecured", "unknown", "secured"])


def _battery(source: dict[str, Any], chance: random.Random) -> None:
    source["battery"] = chance.choice(["unknown", {"cut_off_voltage": "9 V", "voltage": "12 V"}])


SOURCE_CHANGES = [_drop, _unknown, _title, _upstream, _place, _battery]


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 10_000), share=st.sampled_from([0.2, 0.6, 1.0]))
def test_broken_portfolios_are_told_the_same(tmp_path_factory: pytest.TempPathFactory, seed: int, share: float) -> None:
    chance = random.Random(seed)
    files = portfolio(openings=12, sets=3, files=2, seed=seed)
    for tree in files.values():
        for entry in tree.get("openings", {}).values():
            if chance.random() < share:
                chance.choice(CHANGES)(entry, chance)
        for source in tree.get("power", {}).values():
            if chance.random() < share:
                chance.choice(SOURCE_CHANGES)(source, chance)
    openings = [entry for tree in files.values() for entry in tree.get("openings", {}).values()]
    openings[0]["title"] = openings[1].get("title")
    files["project.yaml"]["waivers"] = [
        {"rule": "consistency/title-used-twice", "opening": "D00001", "reason": "two names for one door"}
    ]
    root = save(tmp_path_factory.mktemp("broken"), files)
    kept = Kept(least=1)
    assert told(review_root(root, BOOK, kept=kept)) == told(one_by_one(root))
    assert any(family is not None for family in kept.known.found.values())  # something was shared


def test_like_sources_are_judged_once_by_what_asks_for_nothing_else(tmp_path: Path) -> None:
    files = portfolio(openings=48, sets=6, files=4, seed=5)
    sources = [source for tree in files.values() for source in tree.get("power", {}).values()]
    for number, source in enumerate(sources):
        source["title"] = f"Supply {number}"
    root = save(tmp_path, files)
    kept = Kept()
    shared = review_root(root, BOOK, kept=kept)
    assert told(shared) == told(one_by_one(root))
    assert kept.sharing is not None
    families = {each.key: kept.known.found[each.key] for each in kept.sharing.sources}
    assert len(families) < len(kept.sharing.sources) / 3
    alone = [family.alone for family in families.values() if family is not None]
    assert len(alone) == len(families)
    assert not any("consistency/nobody-provides-source" in rules for rules in alone)
    assert any("power/load-over-rating" in rules for rules in alone)  # it asks for the loads


def test_an_item_with_the_name_of_a_source_stays_what_it_is(tmp_path: Path) -> None:
    """The source feeds others here, and something is fed from what has its name: that is the item."""
    files = portfolio(openings=24, sets=2, files=1, seed=3)
    tree = files["openings/area-001.yaml"]
    feeders = {source["fed_from"].partition(".")[0] for source in tree["power"].values() if "fed_from" in source}
    product = next(iter(files["common/products.yaml"]["products"]))
    for entry in tree["openings"].values():
        for name in sorted(feeders):
            entry["items"][name] = {"product": product}
            entry["items"][f"behind-{name}"] = {"product": product, "fed_from": name}
    root = save(tmp_path, files)
    assert told(review_root(root, BOOK, kept=Kept())) == told(one_by_one(root))


def _change_a_source(files: dict[str, Any], chance: random.Random) -> None:
    """One field of one power source says something else: nothing, `unknown`, another number, what another says."""
    sources = [entry for tree in files.values() for entry in tree.get("power", {}).values()]
    entry = chance.choice(sources)
    name = chance.choice([key for key in entry if key != "kind"])
    others = [other[name] for other in sources if name in other]
    number = re.sub(r"\d+", lambda found: str(int(found[0]) * chance.choice([2, 10])), str(entry[name]), count=1)
    changed = chance.choice([None, "unknown", number, *others[:3]])
    if changed is None:
        del entry[name]
    else:
        entry[name] = changed


@settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(seed=st.integers(0, 10_000))
def test_what_is_kept_from_before_a_source_changed_is_told_the_same(
    tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    chance = random.Random(seed)
    files = portfolio(openings=12, sets=3, files=2, seed=seed)
    kept = Kept(least=1)
    folder = tmp_path_factory.mktemp("changed")
    review_root(save(folder, files), BOOK, kept=kept)
    for _ in range(4):
        _change_a_source(files, chance)
        assert told(review_root(save(folder, files), BOOK, kept=kept)) == told(one_by_one(folder / "project.yaml"))


@pytest.mark.parametrize(("field", "value", "asked"), [("budget", "371 W", False), ("voltage", "13 V", True)])
def test_openings_are_judged_anew_only_where_a_rule_asks_what_changed_of_their_source(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, field: str, value: str, asked: bool
) -> None:
    files = portfolio(openings=30, sets=6, files=1, seed=4)
    kept = Kept(least=1)
    review_root(save(tmp_path, files), BOOK, kept=kept)
    for entry in (entry for tree in files.values() for entry in tree.get("power", {}).values() if field in entry):
        entry[field] = value
    stood_in = []

    def counted(drawn: Drawn, *given: Any) -> StandIn:
        if drawn.entry is not None:  # sources that changed are judged anew themselves
            stood_in.append(drawn)
        return stand_in(drawn, *given)

    monkeypatch.setattr("doorlint.typical.families.stand_in", counted)
    assert told(review_root(save(tmp_path, files), BOOK, kept=kept)) == told(one_by_one(tmp_path / "project.yaml"))
    assert bool(stood_in) is asked


TEXT_RULES = frozenset(
    f"consistency/{name}"
    for name in ("lock-against-text", "voltage-against-text", "leaves-against-text", "outdoors-called-interior")
)


def test_texts_that_say_nothing_are_looked_at_once(tmp_path: Path) -> None:
    root = save(tmp_path, portfolio(openings=24, sets=2, files=1, seed=3))
    kept = Kept()
    review_root(root, BOOK, kept=kept)
    families = [family for family in kept.known.found.values() if family is not None]
    assert families
    assert all(TEXT_RULES.isdisjoint(family.alone) for family in families)


def test_texts_that_say_something_are_told_of_their_opening_alone(tmp_path: Path) -> None:
    files = portfolio(openings=24, sets=2, files=1, seed=3)
    openings = {name: entry for tree in files.values() for name, entry in tree.get("openings", {}).items()}
    said, other = [name for name, entry in openings.items() if entry["set"] == "T-01"][3:5]
    openings[said]["title"] = "Store with an electric bolt, 48 V"
    openings[said]["from"] = "yard"
    openings[other]["from"] = "unknown"
    root = save(tmp_path, files)
    shared = review_root(root, BOOK, kept=Kept())
    assert told(shared) == told(one_by_one(root))
    found = {(o.rule, o.subject) for o in shared.of_kinds(Kind.FAIL, Kind.OPEN) if o.rule in TEXT_RULES}
    assert {(f"consistency/{name}", said) for name in ("lock-against-text", "voltage-against-text")} <= found
    assert ("consistency/outdoors-called-interior", other) in found
    assert {subject for _, subject in found} <= {said, other}


def test_a_task_carries_its_openings_and_nothing_of_the_whole_spec(tmp_path: Path) -> None:
    root = write(tmp_path, openings=24, sets=3, files=2, seed=2)
    sent: list[Any] = []

    class Noting(ThreadPoolExecutor):
        def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Any:
            sent.extend(args)
            return super().submit(fn, *args, **kwargs)

    with Noting(1) as place:
        shared = review_root(root, BOOK, executor=place, workers=1)
    # what a scheduler walks through to name a task would otherwise hold every file
    assert sent
    assert all(isinstance(each.draw, Drawn) for task in sent for each in task.likenesses)
    assert told(shared) == told(one_by_one(root))


def test_lengths_in_their_usual_range_are_looked_at_once(tmp_path: Path) -> None:
    files = portfolio(openings=24, sets=2, files=1, seed=3)
    openings = files["openings/area-001.yaml"]["openings"]
    measured = [entry for entry in openings.values() for item in entry["items"].values() if "length" in item]
    for item in measured[3]["items"].values():
        item["length"] = "3 km"
    root = save(tmp_path, files)
    kept = Kept()
    shared = review_root(root, BOOK, kept=kept)
    assert told(shared) == told(one_by_one(root))
    assert any(o.rule == "consistency/dimension-implausible" for o in shared.of_kinds(Kind.FAIL))
    parts = [group for family in kept.known.found.values() if family is not None for group in family.groups]
    asking = [group for group in parts if ("consistency/dimension-implausible", 0) in group.parts]
    assert min(len(group.found) for group in asking) == 1  # of the set whose openings all are as usual
