"""The second run over the same bytes gives the same report without a review, and any change brings a review."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

from doorlint import cli
from doorlint.store import code, report
from doorlint.store.folder import VARIABLE, Store, at_user
from doorlint.store.report import Report, Run

reviewing = import_module("doorlint.reviewing")

ROOT = """\
doorlint: 1
project: {name: Invented}
include: ["parts/*.yaml"]
"""
PRODUCTS = """\
doorlint: 1
products:
  strike:
    kind: electric_strike
    fail: secure
    coil: {supply: dc, voltage: 12 V, current: 450 mA, built_in_suppression: none}
power:
  psu: {kind: power_supply, supply: dc, voltage: 24 V, current: 20 A}
"""
OPENINGS = "doorlint: 1\nopenings:\n" + "".join(
    f'  "{number}":\n    items: {{lock: {{product: strike, fed_from: psu}}}}\n' for number in range(1, 25)
)
DAY = 1_800_000_000


@dataclass
class Desk:
    """Somebody who runs the command in a folder. reviews: how many reviews were really made."""

    folder: Path
    capsys: pytest.CaptureFixture[str]
    reviews: list[object] = field(default_factory=list)

    def run(self, *arguments: str) -> tuple[str, int]:
        """Standard output and exit status."""
        status = cli.run(["review", *arguments])
        said = self.capsys.readouterr()
        assert said.err == ""
        return said.out, status

    def told(self, *arguments: str) -> tuple[tuple[str, int], bool]:
        """What the command gives, checked against a run without any store; and whether it made a review."""
        before = len(self.reviews)
        found = self.run(*arguments)
        made = len(self.reviews) > before
        kept = os.environ.pop(VARIABLE)
        os.environ[VARIABLE] = ""
        assert self.run(*arguments) == found
        os.environ[VARIABLE] = kept
        return found, made


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Iterator[Desk]:
    spec = tmp_path / "work" / "spec"
    (spec / "parts").mkdir(parents=True)
    (spec / "project.yaml").write_text(ROOT)
    (spec / "parts" / "products.yaml").write_text(PRODUCTS)
    (spec / "parts" / "openings.yaml").write_text(OPENINGS)
    monkeypatch.chdir(tmp_path / "work")
    monkeypatch.setenv(VARIABLE, str(tmp_path / "cache"))
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(DAY))
    # whoever works on doorlint while its tests run changes its code; the last tests here are about that
    (tmp_path / "code").mkdir()
    (tmp_path / "code" / "rule.py").write_text("")
    (tmp_path / "helper.py").write_text("")
    monkeypatch.setattr(
        code, "loaded", lambda: code.Code((str(tmp_path / "code"),), (str(tmp_path / "helper.py"),))
    )
    monkeypatch.setattr(code, "_STARTED", time.time_ns() + 3_600_000_000_000)
    made = Desk(spec, capsys)
    real = reviewing.review_all

    def counted(*given: Any, **more: Any) -> Any:
        made.reviews.append(given)
        return real(*given, **more)

    monkeypatch.setattr(reviewing, "review_all", counted)
    yield made


def entries() -> dict[str, Path]:
    """The files in the store by their ending."""
    store = at_user()
    assert store is not None
    return {path.suffix[1:]: path for path in store.folder.iterdir()} if store.folder.exists() else {}


@pytest.mark.parametrize("form", ["text", "json", "sarif", "junit", "html"])
def test_every_format_is_found_again(desk: Desk, form: str) -> None:
    first, made = desk.told("spec", "--format", form)
    assert made
    again, made = desk.told("spec", "--format", form)
    assert not made
    assert again == first
    assert first[1] == 1


def test_a_root_file_and_a_report_file_do_as_well(desk: Desk, tmp_path: Path) -> None:
    target = tmp_path / "report.txt"
    assert desk.told("spec/project.yaml", "--output", str(target)) == (("", 1), True)
    written = target.read_text()
    target.unlink()
    assert desk.told("spec/project.yaml", "--output", str(target)) == (("", 1), False)
    assert target.read_text() == written


def test_a_report_that_is_found_overwrites_no_part_either(desk: Desk) -> None:
    desk.run("spec")
    assert cli.run(["review", "spec", "--output", "spec/parts/products.yaml"]) == 2
    assert "it is a file of the spec" in desk.capsys.readouterr().err
    assert (desk.folder / "parts" / "products.yaml").read_text() == PRODUCTS
    assert len(desk.reviews) == 1


def _write(path: str, text: str) -> Any:
    return lambda folder: (folder / path).write_text(text)


CHANGES = {
    "a product": _write("parts/products.yaml", PRODUCTS.replace("450 mA", "460 mA")),
    "a comment that moves all lines": _write("parts/openings.yaml", f"# invented\n{OPENINGS}"),
    "the root": _write("project.yaml", ROOT.replace("Invented", "Invented too")),
    "a part that is added": _write("parts/more.yaml", 'doorlint: 1\nopenings: {"99": {}}\n'),
    "a part that goes": lambda folder: (folder / "parts" / "openings.yaml").unlink(),
    "a part under another name": lambda folder: (folder / "parts/openings.yaml").rename(folder / "parts/other.yaml"),
    "another root beside it": _write("second.yaml", "doorlint: 1\nproject: {name: Second}\n"),
    "a link among the parts": lambda folder: (folder / "parts" / "linked.yaml").symlink_to(folder / "project.yaml"),
}


@pytest.mark.parametrize("change", CHANGES.values(), ids=CHANGES)
def test_a_change_of_the_spec_is_reviewed(desk: Desk, change: Any) -> None:
    _, made = desk.told("spec")
    assert made
    change(desk.folder)
    _, made = desk.told("spec")
    assert made


def test_what_was_changed_back_is_found_again(desk: Desk) -> None:
    first, _ = desk.told("spec")
    products = desk.folder / "parts" / "products.yaml"
    products.write_text(PRODUCTS.replace("450 mA", "460 mA"))
    second, _ = desk.told("spec")
    assert second != first
    products.write_text(PRODUCTS)
    assert desk.told("spec") == (first, False)


def test_a_root_that_links_elsewhere_is_followed(desk: Desk) -> None:
    other = desk.folder.parent / "other"
    shutil.copytree(desk.folder, other)
    (other / "parts" / "products.yaml").write_text(PRODUCTS.replace("450 mA", "30 A"))
    link = desk.folder.parent / "link.yaml"
    link.symlink_to(desk.folder / "project.yaml")
    first, _ = desk.told("link.yaml")
    link.unlink()
    link.symlink_to(other / "project.yaml")
    second, made = desk.told("link.yaml")
    assert made
    assert second != first


def test_another_place_with_the_same_bytes_says_the_same_of_itself(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.told("spec")
    other = desk.folder.parent.parent / "other"
    shutil.copytree(desk.folder.parent, other)
    monkeypatch.chdir(other)
    desk.told("spec")
    monkeypatch.chdir(desk.folder.parent.parent)
    (text, _), made = desk.told("work/spec")
    assert made
    assert "work/spec/parts/openings.yaml:" in text


@pytest.mark.parametrize(
    "more", [["--failing-level", "error"], ["--show", "pass"], ["--format", "json"], ["spec/project.yaml"], ["--fresh"]]
)
def test_what_is_asked_otherwise_is_answered_otherwise(desk: Desk, more: list[str]) -> None:
    desk.told("spec")
    _, made = desk.told("spec", *more)
    assert made


def test_the_next_day_is_another_day(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    waiver = "waivers:\n- {rule: RULE, opening: '1', reason: invented, until: 2027-01-20}\n"
    (text, _), _ = desk.told("spec")
    rule = text.splitlines()[0].rpartition("[")[2].rstrip("]")
    (desk.folder / "parts" / "waivers.yaml").write_text("doorlint: 1\n" + waiver.replace("RULE", rule))
    (before, _), _ = desk.told("spec")
    assert "expired" not in before
    assert desk.told("spec")[1] is False
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(DAY + 86_400 * 10))
    (after, _), made = desk.told("spec")
    assert made
    assert "expired on 2027-01-20" in after


def test_a_small_spec_leaves_nothing(desk: Desk) -> None:
    (desk.folder / "parts" / "openings.yaml").write_text('doorlint: 1\nopenings: {"1": {}}\n')
    desk.told("spec")
    assert entries() == {}


@pytest.mark.parametrize(
    "flaw", ["]", 'include: ["none/*.yaml"]', "include: [gone.yaml]", "openings: {}\nopenings: {}"]
)
def test_a_review_with_trouble_in_reading_is_made_again(desk: Desk, flaw: str) -> None:
    (desk.folder / "parts" / "flaw.yaml").write_text(f"doorlint: 1\n{flaw}\n")
    first, _ = desk.told("spec")
    again, _ = desk.told("spec")
    assert again == first


def test_a_part_is_reviewed_with_its_spec_every_time(desk: Desk) -> None:
    first, made = desk.told("spec/parts/products.yaml")
    assert made
    assert desk.told("spec/parts/products.yaml") == (first, True)
    assert "trail" not in entries()


# --- what is done to the store ---


def test_any_damage_brings_a_review_and_no_word_of_it(desk: Desk) -> None:
    desk.run("spec")
    store, asked = at_user(), Run(("spec",), {"format": "text", "failing": "warning", "shown": []})
    assert store is not None
    whole = report.find(store, asked)
    assert whole is not None
    for path in entries().values():
        data = path.read_bytes()
        for at in range(0, len(data), 7):
            path.write_bytes(data[:at] + bytes([data[at] ^ 0x55]) + data[at + 1 :])
            assert report.find(store, asked) is None, (path.name, at)
        for size in range(0, len(data), 31):
            path.write_bytes(data[:size])
            assert report.find(store, asked) is None, (path.name, size)
        path.write_bytes(data)
    assert report.find(store, asked) == whole


TRAILS: dict[str, Any] = {
    "no mapping": [],
    "nothing": {},
    "no specs": {"folders": [], "files": [], "specs": []},
    "numbers": {"folders": 1, "files": 2, "specs": 3},
    "texts": {"folders": ["x"], "files": ["y"], "specs": ["z"]},
    "no documents": {"folders": [], "files": [], "specs": [{"root": "spec", "documents": [], "patterns": []}]},
    "a nul": {"folders": ["\0"], "files": [], "specs": [{"root": "\0", "documents": [["a", "\0"]], "patterns": []}]},
    "patterns": {
        "folders": [],
        "files": [],
        "specs": [{"root": "spec/project.yaml", "documents": [["a", "DOCUMENT"]], "patterns": [["", ""], [1, 2], 3]}],
    },
    "surrogates": {"folders": ["\udc80"], "files": [], "specs": []},
}


@pytest.mark.parametrize("trail", TRAILS.values(), ids=TRAILS)
def test_a_trail_that_somebody_made_up_leads_nowhere(desk: Desk, trail: Any) -> None:
    store, asked = at_user(), Run(("spec",), {"format": "text", "failing": "warning", "shown": []})
    assert store is not None
    written = json.dumps(trail).replace("DOCUMENT", str(desk.folder / "project.yaml"))
    store.put(asked.trail, written.encode())
    assert report.find(store, asked) is None


def test_a_trail_that_leaves_out_a_file_leads_nowhere(desk: Desk) -> None:
    desk.run("spec")
    store, asked = at_user(), Run(("spec",), {"format": "text", "failing": "warning", "shown": []})
    assert store is not None
    written = store.get(asked.trail)
    assert written is not None
    for short in ("documents", "patterns"):
        trail = json.loads(written)
        del trail["specs"][0][short][-1]
        store.put(asked.trail, json.dumps(trail).encode())
        assert report.find(store, asked) is None
    for short in ("folders", "files"):
        trail = json.loads(written)
        del trail[short][-1]
        store.put(asked.trail, json.dumps(trail).encode())
        assert report.find(store, asked) is None


@pytest.mark.parametrize(
    "data",
    [b"", b"{}\ntext", b"[]\n", b'{"status": "x", "names": []}\n', b"\xff\n", b'{"status": 0, "names": 1}\n'],
)
def test_a_report_that_is_none_is_not_taken(desk: Desk, data: bytes) -> None:
    desk.run("spec")
    store, asked = at_user(), Run(("spec",), {"format": "text", "failing": "warning", "shown": []})
    assert store is not None
    store.put(entries()["report"].name, data)
    assert report.find(store, asked) is None


# --- what changes while a run goes on ---


@pytest.mark.parametrize("changed", ["parts/products.yaml", "second.yaml", "parts/more.yaml"])
def test_a_file_that_changes_during_the_run_is_not_mistaken(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, changed: str
) -> None:
    counted = reviewing.review_all

    def meanwhile(*given: Any, **more: Any) -> Any:
        found = counted(*given, **more)
        (desk.folder / changed).write_text("doorlint: 1\nproject: {name: Meanwhile}\n")
        return found

    monkeypatch.setattr(reviewing, "review_all", meanwhile)
    desk.run("spec")
    assert "report" not in entries()


def test_code_that_changes_during_the_run_is_not_mistaken(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(code, "_STARTED", 0)
    desk.run("spec")
    assert entries() == {}


def test_a_change_of_a_loaded_module_or_a_folder_of_code_changes_the_stamp(tmp_path: Path) -> None:
    package = tmp_path / "package"
    (package / "values").mkdir(parents=True)
    (package / "rule.py").write_text("LIMIT = 1\n")
    helper = tmp_path / "helper.py"
    helper.write_text("")
    known = code.Code((str(package),), (str(helper),))
    seen = [code.stamp(known)]
    assert code.stamp(known) == seen[0]
    same = (package / "rule.py").stat()
    for change in (
        lambda: (package / "rule.py").write_text("LIMIT = 2\n"),
        lambda: os.utime(package / "rule.py", ns=(same.st_atime_ns, same.st_mtime_ns)),  # the time is set back
        lambda: (package / "values" / "more.yaml").write_text(""),
        (package / "rule.py").unlink,
        lambda: helper.write_text("x = 1\n"),
    ):
        time.sleep(0.02)  # times of files are coarse
        change()
        now = code.stamp(known)
        assert now not in seen
        seen.append(now)
    (package / "__pycache__").mkdir()
    (package / "__pycache__" / "rule.pyc").write_bytes(b"")
    assert code.stamp(known) == seen[-1]  # Python makes these anew by itself


def test_the_code_that_counts_is_all_that_is_loaded() -> None:
    found = code.loaded()
    folders = {Path(folder).name for folder in found.folders}
    assert {"doorlint", "rules", "schemas"} <= folders or folders == {"doorlint"}  # a clone, or installed
    assert any(Path(file).parent.name == "yaml" for file in found.files)
    assert not any(Path(file).name == "os.py" for file in found.files)


# --- the command as it is installed ---

WATCH = """
import sys
from doorlint import cli
status = cli.run(sys.argv[1:])
sys.stdout.flush()
print("reviewed" if "doorlint.reviewing" in sys.modules else "found", file=sys.stderr)
sys.exit(status)
"""
PLUGIN = """
import house_words
from doorlint import Level, Practice, Rule, hookimpl, ok
from doorlint.spec.model import Project
RULE = Rule("house/always", title="Invented", level=Level.NOTE, over=Project, basis=(Practice("invented"),))
def check(subject, context):
    yield ok(house_words.TEXT)
@hookimpl
def doorlint_rules():
    import sys
    return [sys.modules[__name__]]
"""


def test_new_rules_values_and_packages_are_met(desk: Desk, tmp_path: Path) -> None:
    here = Path(cli.__file__).parent
    site = tmp_path / "site"
    rules = next(iter(import_module("doorlint.rules").__path__))
    schemas = next(iter(import_module("doorlint.schemas").__path__))
    plain = shutil.ignore_patterns("__pycache__")
    shutil.copytree(here, site / "doorlint", ignore=plain)
    shutil.copytree(rules, site / "doorlint" / "rules", ignore=plain, dirs_exist_ok=True)
    shutil.copytree(schemas, site / "doorlint" / "schemas", ignore=plain, dirs_exist_ok=True)
    more = {"PYTHONPATH": str(site), "DOORLINT_CACHE": str(tmp_path / "cache"), "PYTHONDONTWRITEBYTECODE": "1"}

    def run(store: bool = True) -> tuple[str, str]:
        environment = {**os.environ, **more} if store else {**os.environ, **more, "DOORLINT_CACHE": ""}
        time.sleep(0.3)  # what has only just been changed is not kept
        done = subprocess.run(
            [sys.executable, "-c", WATCH, "review", "spec", "--show", "pass"],
            cwd=desk.folder.parent, env=environment, capture_output=True, text=True, check=False,
        )  # fmt: skip
        return done.stdout, done.stderr.strip()

    first, how = run()
    assert how == "reviewed"
    assert run() == (first, "found")
    plugin = site / "house_rules.py"
    plugin.write_text(PLUGIN)
    (site / "house_words.py").write_text("TEXT = 'an invented text'\n")
    about = site / "house_rules-1.dist-info"
    about.mkdir()
    (about / "METADATA").write_text("Metadata-Version: 2.1\nName: house-rules\nVersion: 1\n")
    (about / "entry_points.txt").write_text("[doorlint]\nhouse = house_rules\n")
    second, how = run()
    assert how == "reviewed"
    assert "an invented text" in second
    assert run() == (second, "found")
    (site / "house_words.py").write_text("TEXT = 'another invented text'\n")
    third, how = run()
    assert how == "reviewed"
    assert "another invented text" in third
    rule = site / "doorlint" / "rules" / "consistency" / "codes_not_stated.py"
    rule.write_text(rule.read_text() + "\n")
    assert run() == (third, "reviewed")
    value = next((site / "doorlint" / "rules" / "values").rglob("*.yaml"))
    value.write_text(value.read_text() + "# invented\n")
    assert run() == (third, "reviewed")
    assert run() == (third, "found")
    assert run(store=False) == (third, "reviewed")


def test_what_is_kept_is_what_was_reported(tmp_path: Path) -> None:
    data = Report("line \u2028 end\n", 1, ("a.yaml", "b\udc80.yaml"))
    store = Store(tmp_path / "reviews")
    head = json.dumps({"status": data.status, "names": data.names})
    store.put("key.report", f"{head}\n{data.text}".encode())
    assert report._found(store, "key") == data
