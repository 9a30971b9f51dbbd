"""The same spec gives the same report: whatever the environment, byte for byte; in whatever order it is written, every
outcome.

What has to be equal, exactly:

- environment (hash seed, locale, time zone, encoding, user, the order in which a folder lists its files) and count of
  workers: the bytes of every report and document;
- order of the keys in a mapping, of the files under `include`, of the openings over the files: of every outcome the
  rule, kind, level, subject, figures, missing fields, grounds, waiver, and the figures of its working. Line and column
  differ, and with them the order in the report; a message names devices in the order in which the spec has them, and
  where it names the first few of many, they may be others.

The day of a review is in the HTML report and ends waivers. It is the day in UTC, or that of SOURCE_DATE_EPOCH (a
convention of reproducible-builds.org).
"""

from __future__ import annotations

import os
import random
import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest
import yaml

from doorlint.reviewing import Result, review, review_all, review_root
from doorlint.rulebook import collect
from doorlint.today import today

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "examples"
SEEDED, CLEAN = EXAMPLES / "gull_point_ferry_terminal", EXAMPLES / "gull_point_ferry_terminal_clean"
EVERY_REPORT = Path(__file__).with_name("every_report.py")

SPEC = {
    "root.yaml": """\
doorlint: 1
# invented for the tests
project: {name: Bootshaus Grüße, codes: {building: IBC-2021}, site: {ambient: -20..40 degC}}
include: [parts/*.yaml]
power:
  psu: {kind: power_supply, supply: dc, voltage: 12 V, current: 1 A, furnished_by: electrician}
openings:
  "114A":
    title: Straße 👋
    items:
      lock: {product: strike, fed_from: psu, cable: pair, length: 40 m}
      reader: {product: unknown, side: unsecured}
  "115": {items: {lock: {product: magnet, side: secured, fed_from: psu, length: unknown, suppression: diode}}}
waivers:
  - {rule: supply/voltage-below-minimum, opening: "114A", reason: measured, until: 2030-06-30}
""",
    "parts/b.yaml": """\
doorlint: 1
products:
  strike:
    kind: electric_strike
    fail: secure
    coil: {supply: dc, voltage: 12 V, current: 900 mA, built_in_suppression: none}
""",
    "parts/a.yaml": """\
doorlint: 1
products:
  magnet:
    kind: electromagnetic_lock
    fail: safe
    coil: {supply: dc, voltage: 12 V, current: 500 mA, built_in_suppression: none}
  diode: {kind: suppressor, suppressor: {type: diode, stand_off: 400 V}}
cables: {pair: {kind: multiconductor, conductor: 22 AWG, conductors: 2}}
""",
}
MOMENT = "1900000000"  # the 17th of March 2030 in UTC, far in the east the 18th
ENVIRONMENTS: dict[str, dict[str, str]] = {
    "plain": {"PYTHONHASHSEED": "0", "TZ": "UTC", "LC_ALL": "C.UTF-8"},
    "another hash seed, far east, another language": {
        "PYTHONHASHSEED": "4711", "TZ": "Pacific/Kiritimati", "LC_ALL": "de_DE.UTF-8", "LANG": "tr_TR.UTF-8",
        "USER": "x", "COLUMNS": "40",
    },
    "any hash seed, far west, no locale": {
        "PYTHONHASHSEED": "random", "TZ": "Etc/GMT+12", "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0",
        "PYTHONIOENCODING": "ascii",
    },
}  # fmt: skip
NOT_SET = ("PYTHONHASHSEED", "TZ", "LC_ALL", "LANG", "COLUMNS", "NO_COLOR", "TERM", "SOURCE_DATE_EPOCH")


def lay_out(folder: Path, files: dict[str, str], names: list[str]) -> None:
    """Write the files in this order, which is the order in which many file systems list them."""
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(files[name], encoding="utf-8")


def written(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture(scope="module")
def reports(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, bytes]]:
    """Every report of one spec, by the environment in which it was written."""
    made = {}
    for number, (name, environment) in enumerate(ENVIRONMENTS.items()):
        work = tmp_path_factory.mktemp("somewhere" * (number + 1))
        names = sorted(SPEC, reverse=number % 2 == 1)
        lay_out(work / "spec", SPEC, names)
        lay_out(work / "earlier", {**SPEC, "root.yaml": SPEC["root.yaml"].replace("40 m", "4 m")}, names)
        kept = {key: value for key, value in os.environ.items() if key not in NOT_SET}
        command = [sys.executable, str(EVERY_REPORT), "spec", "earlier", "114A", "out"]
        whole = {**kept, "SOURCE_DATE_EPOCH": MOMENT, **environment}
        done = subprocess.run(command, cwd=work, env=whole, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        made[name] = written(work / "out")
    return made


@pytest.mark.parametrize("name", list(ENVIRONMENTS)[1:])
def test_the_environment_changes_no_byte(name: str, reports: dict[str, dict[str, bytes]]) -> None:
    plain, other = reports["plain"], reports[name]
    assert plain.keys() == other.keys()
    assert [path for path in plain if plain[path] != other[path]] == []


def test_every_report_says_something(reports: dict[str, dict[str, bytes]]) -> None:
    plain = reports["plain"]
    assert len(plain) > 40
    assert all(plain.values()), [name for name, text in plain.items() if not text]
    assert b"2030-03-17" in plain["review.html"]
    assert "Straße 👋".encode() in plain["review.html"]


# -- the day ---------------------------------------------------------------------------------------


def test_the_day_is_the_same_everywhere(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    assert abs(today() - datetime.now(UTC).date()).days <= 1  # midnight may pass between the two
    monkeypatch.setenv("SOURCE_DATE_EPOCH", MOMENT)
    assert today() == date(2030, 3, 17)
    for nonsense in ("", "tomorrow", "1e9", "9" * 40, "-" + "9" * 40):
        monkeypatch.setenv("SOURCE_DATE_EPOCH", nonsense)
        assert abs(today() - datetime.now(UTC).date()).days <= 1


def test_a_waiver_ends_by_that_day(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    lay_out(tmp_path, SPEC, sorted(SPEC))
    ends = int(datetime(2030, 7, 1, tzinfo=UTC).timestamp())  # valid until the 30th of June, that day included
    for moment, waived in ((ends - 1, True), (ends, False)):
        monkeypatch.setenv("SOURCE_DATE_EPOCH", str(moment))
        result = review(tmp_path)
        found = [o for o in result.outcomes if o.rule == "supply/voltage-below-minimum" and o.subject == "114A/lock"]
        assert [bool(outcome.waived) for outcome in found] == [waived]


# -- the order of what is written ------------------------------------------------------------------

BOOK = collect()


def told(result: Result) -> list[str]:
    """What has to be equal of a review, whatever the order of its spec."""
    return sorted(
        repr((
            (o.rule, o.kind.value, o.level.value, o.subject, o.missing, o.waived, sorted(map(str, o.basis))),
            (str(o.measured), str(o.limit), str(o.margin), o.relation),
            sorted((step.name, str(step.result)) for step in o.working),
        ))
        for o in result.outcomes
    )  # fmt: skip


def trees(folder: Path) -> Iterator[tuple[str, dict[str, Any]]]:
    for path in sorted(folder.rglob("*.yaml")):
        yield str(path.relative_to(folder)), yaml.safe_load(path.read_text("utf-8"))


def shuffled(tree: Any, dice: random.Random) -> Any:
    """The same tree with the keys of every mapping in another order; lists keep theirs."""
    if isinstance(tree, dict):
        keys = list(tree)
        dice.shuffle(keys)
        return {key: shuffled(tree[key], dice) for key in keys}
    return [shuffled(one, dice) for one in tree] if isinstance(tree, list) else tree


@pytest.fixture(scope="module")
def as_it_stands() -> list[str]:
    return told(review(SEEDED, rulebook=BOOK))


@pytest.mark.parametrize("seed", range(3))
def test_the_order_of_keys_and_files_changes_no_outcome(seed: int, as_it_stands: list[str], tmp_path: Path) -> None:
    dice, folder = random.Random(seed), tmp_path
    for name, tree in trees(SEEDED):
        if "include" in tree:
            names = [found.relative_to(SEEDED).as_posix() for found in SEEDED.rglob("*.yaml")]
            tree["include"] = dice.sample([one for one in names if one != name], len(names) - 1)
        text = yaml.safe_dump(shuffled(tree, dice), sort_keys=False, allow_unicode=True, width=10_000)
        lay_out(folder, {name: text}, [name])
    assert told(review(folder, rulebook=BOOK)) == as_it_stands


def test_openings_spread_over_other_files_give_the_same_outcomes(
    as_it_stands: list[str], tmp_path: Path
) -> None:
    """One file for each opening, product and source, named so that they come in another order."""
    for name, tree in trees(SEEDED):
        if "include" in tree:
            root = {**tree, "include": ["*/*.yaml"]}
            lay_out(tmp_path, {name: yaml.safe_dump(root, sort_keys=False)}, [name])
            continue
        for group in tree.keys() - {"doorlint"}:
            for number, (key, entry) in enumerate(reversed(tree[group].items())):
                part = f"{group}/{Path(name).stem}-{number}.yaml"
                lay_out(tmp_path, {part: yaml.safe_dump({"doorlint": 1, group: {key: entry}}, sort_keys=False)}, [part])
    assert told(review(tmp_path, rulebook=BOOK)) == as_it_stands


def test_the_order_of_arguments_is_that_of_the_results_and_changes_nothing_else() -> None:
    there, back = (review_all(paths, rulebook=BOOK) for paths in ([SEEDED, CLEAN], [CLEAN, SEEDED]))
    assert [result.root for result in there] == [result.root for result in reversed(back)]
    assert [told(result) for result in there] == [told(result) for result in reversed(back)]


def test_a_second_review_in_the_same_process_says_the_same() -> None:
    first, second = (review(CLEAN, rulebook=BOOK) for _ in range(2))
    assert first.outcomes == second.outcomes


@pytest.mark.parametrize("workers", [1, 3])
def test_any_count_of_workers_says_the_same(workers: int) -> None:
    alone = review_root(CLEAN / "project.yaml", BOOK)
    with ProcessPoolExecutor(workers) as executor:
        assert review_root(CLEAN / "project.yaml", BOOK, executor=executor, workers=workers).outcomes == alone.outcomes
