"""What an earlier run has found out of like openings serves a later one, and changes no outcome."""

from __future__ import annotations

import pickle
import random
import shutil
import time
import zlib
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
import yaml
from bench import portfolio
from typical.test_sharing import CHANGES

from doorlint.outcome import Outcome
from doorlint.reviewing import Kept, Result, review_root
from doorlint.rulebook import collect
from doorlint.store import code, families
from doorlint.store.folder import Store
from doorlint.typical.families import Families, Family, Group

BOOK = collect()


@pytest.fixture(scope="module")
def files() -> dict[str, Any]:
    """An invented portfolio of 18 openings."""
    return portfolio.portfolio(18, 3, 2, 3)


@pytest.fixture(autouse=True)
def small_specs_count(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "code").mkdir()
    (tmp_path / "code" / "rule.py").write_text("")
    monkeypatch.setattr(families, "LEAST_OPENINGS", 1)
    monkeypatch.setattr(code, "loaded", lambda: code.Code((str(tmp_path / "code"),), ()))
    monkeypatch.setattr(code, "_STARTED", time.time_ns() + 3_600_000_000_000)


@pytest.fixture
def worked_out(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The titles of the openings, and the names of the power sources, for which a stand-in was made."""
    made: list[str] = []
    home: Any = import_module("doorlint.typical.families")
    real = home.stand_in

    def noted(drawn: Any, whole: Any, world: Any) -> Any:
        made.append(drawn.power[0].id if drawn.entry is None else drawn.entry["title"])
        return real(drawn, whole, world)

    monkeypatch.setattr(home, "stand_in", noted)
    return made


def save(folder: Path, made: dict[str, Any]) -> Path:
    """Write a portfolio; the path of its root file."""
    for name, tree in made.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(yaml.dump(tree, Dumper=portfolio._Dumper, sort_keys=False))
    return folder / "project.yaml"


def told(result: Result) -> list[tuple[Outcome, object]]:
    return [(outcome, outcome.repairs) for outcome in result.outcomes]


def run(root: Path, store: Store | None) -> Result:
    """What a command does: a review, and what it leaves."""
    kept = Kept(store=store)
    found = review_root(root, BOOK, kept=kept)
    kept.store_families()
    return found


def stored(store: Store) -> list[Path]:
    return sorted(store.folder.glob("*.families")) if store.folder.exists() else []


def test_a_second_run_works_out_little(tmp_path: Path, files: dict[str, Any], worked_out: list[str]) -> None:
    root, store = save(tmp_path / "spec", files), Store(tmp_path / "reviews")
    first = run(root, store)
    anew = len(worked_out)
    worked_out.clear()
    again = run(root, store)
    assert told(again) == told(first)
    # a few are worked out again, since the rules tell with them how to find out the facts that they ask for
    assert len(worked_out) <= 4 < anew
    worked_out.clear()
    assert told(run(root, Store(store.folder, fresh=True))) == told(first)
    assert len(worked_out) == anew


def _state_a_sequence(made: dict[str, Any], _: random.Random) -> None:
    first = next(iter(made["openings/area-001.yaml"]["openings"].values()))
    first["sequence"] = "An invented sequence: the card unlocks the door for 5 s."


def _change_a_product(made: dict[str, Any], _: random.Random) -> None:
    for product in made["common/products.yaml"]["products"].values():
        if "coil" in product:
            product["coil"]["current"] = "777 mA"


def _change_a_set(made: dict[str, Any], _: random.Random) -> None:
    first = next(iter(made["common/sets.yaml"]["hardware_sets"].values()))
    first["items"].pop(next(iter(first["items"])))


def _drop_an_opening(made: dict[str, Any], _: random.Random) -> None:
    openings = made["openings/area-001.yaml"]["openings"]
    openings.pop(next(iter(openings)))


def _change_openings(made: dict[str, Any], chance: random.Random) -> None:
    for name in ("openings/area-001.yaml", "openings/area-002.yaml"):
        for entry in made[name]["openings"].values():
            if chance.random() < 0.4:
                chance.choice(CHANGES)(entry, chance)


def _leave_a_product_open(made: dict[str, Any], _: random.Random) -> None:
    first = next(iter(made["openings/area-001.yaml"]["openings"].values()))
    first["items"]["invented"] = {"product": "unknown"}


def _set_a_figure(made: dict[str, Any], _: random.Random) -> None:
    made["project.yaml"]["project"]["codes"] = "unknown"


@pytest.mark.parametrize(
    "change",
    [
        _state_a_sequence, _leave_a_product_open, _change_a_product, _change_a_set, _drop_an_opening, _change_openings,
        _set_a_figure,
    ],
)
def test_after_a_change_all_is_as_if_nothing_was_kept(
    tmp_path: Path, files: dict[str, Any], change: Callable[[dict[str, Any], random.Random], None]
) -> None:
    store = Store(tmp_path / "reviews")
    root = save(tmp_path / "spec", files)
    before = told(run(root, store))
    assert stored(store)
    made = pickle.loads(pickle.dumps(files))
    change(made, random.Random(5))
    save(tmp_path / "spec", made)
    expected = told(run(root, None))
    assert expected != before
    assert told(run(root, store)) == expected


def test_facts_that_hold_no_more_are_forgotten_for_good(tmp_path: Path, files: dict[str, Any]) -> None:
    store = Store(tmp_path / "reviews")
    root = save(tmp_path / "spec", files)
    run(root, store)
    made = pickle.loads(pickle.dumps(files))
    _state_a_sequence(made, random.Random())
    save(tmp_path / "spec", made)
    kept = run(root, store).kept
    assert kept is not None
    assert kept.known.refuted > 0
    kept = run(root, store).kept
    assert kept is not None
    assert kept.known.refuted == 0


def test_openings_elsewhere_share_them_too(tmp_path: Path, files: dict[str, Any], worked_out: list[str]) -> None:
    store = Store(tmp_path / "reviews")
    run(save(tmp_path / "spec", files), store)
    shutil.copytree(tmp_path / "spec", tmp_path / "copy")
    expected = told(run(tmp_path / "copy" / "project.yaml", None))
    assert told(run(tmp_path / "copy" / "project.yaml", store)) == expected


def test_other_code_knows_nothing_of_them(tmp_path: Path, files: dict[str, Any], worked_out: list[str]) -> None:
    root, store = save(tmp_path / "spec", files), Store(tmp_path / "reviews")
    run(root, store)
    anew = len(worked_out)
    (tmp_path / "code" / "rule.py").write_text("x = 1\n")
    worked_out.clear()
    run(root, store)
    assert len(worked_out) == anew
    assert len(stored(store)) == 2


def test_no_more_than_a_certain_amount_is_left(
    tmp_path: Path, files: dict[str, Any], worked_out: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    root, store = save(tmp_path / "spec", files), Store(tmp_path / "reviews")
    first = told(run(root, store))
    (path,) = stored(store)
    whole = len(families.read(store, path.name).found)
    monkeypatch.setattr(families, "MOST_BYTES", 400_000)
    kept = Kept(store=Store(store.folder, fresh=True))
    review_root(root, BOOK, kept=kept)
    kept.store_families()
    assert 0 < len(families.read(store, path.name).found) < whole
    assert told(run(root, store)) == first


def test_code_that_is_newer_than_the_run_leaves_nothing(
    tmp_path: Path, files: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(code, "_STARTED", 0)
    store = Store(tmp_path / "reviews")
    run(save(tmp_path / "spec", files), store)
    assert stored(store) == []


def test_a_small_spec_leaves_nothing(
    tmp_path: Path, files: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(families, "LEAST_OPENINGS", 19)
    store = Store(tmp_path / "reviews")
    run(save(tmp_path / "spec", files), store)
    assert stored(store) == []


class _Harmful:
    """Would be called by an unpickler that takes what it is given."""

    def __reduce__(self) -> tuple[object, tuple[object, ...]]:
        return shutil.rmtree, ("precious",)


FORGED: dict[str, Any] = {
    "a call": {b"key": _Harmful()},
    "no mapping": [1],
    "no key": {"key": None},
    "no family": {b"key": 1},
    "a group that is none": {b"key": Family(groups=[1])},  # type: ignore[list-item]
    "a group of nothing": {b"key": Family(groups=[Group((), (), {(): 1})])},  # type: ignore[dict-item]
    "no groups": {b"key": Family(groups=None)},  # type: ignore[arg-type]
    "found nowhere": {b"key": Family(groups=[Group((), (), None)])},  # type: ignore[arg-type]
    "another class": {b"key": Path()},
}


def _framed(data: Any) -> bytes:
    """What is stored of families, whatever they are."""
    packed = [zlib.compress(pickle.dumps(each)) for each in (data.items() if isinstance(data, dict) else data)]
    return b"".join(len(each).to_bytes(4) + each for each in packed)


@pytest.mark.parametrize("data", FORGED.values(), ids=FORGED)
def test_what_is_no_family_is_not_read(tmp_path: Path, data: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    precious = tmp_path / "precious"
    precious.mkdir()
    monkeypatch.chdir(tmp_path)
    store = Store(tmp_path / "reviews")
    store.put("a.families", _framed(data))
    assert families.read(store, "a.families") == Families()
    assert precious.is_dir()


def test_garbage_is_not_read(tmp_path: Path, files: dict[str, Any]) -> None:
    store = Store(tmp_path / "reviews")
    run(save(tmp_path / "spec", files), store)
    (path,) = stored(store)
    whole = store.get(path.name)
    assert whole is not None
    assert families.read(store, path.name).found
    size = 4 + int.from_bytes(whole[:4])  # of the first family
    for cut in range(1, size, max(1, size // 40)):
        store.put("a.families", whole[:cut])
        assert families.read(store, "a.families") == Families()
    store.put("a.families", whole[:size])
    assert len(families.read(store, "a.families").found) == 1
    chance = random.Random(7)
    for _ in range(60):  # a forger who knows the checksum
        data = bytearray(whole)
        for _ in range(3):
            data[chance.randrange(len(data))] = chance.randrange(256)
        store.put("a.families", bytes(data))
        assert isinstance(families.read(store, "a.families"), Families)
