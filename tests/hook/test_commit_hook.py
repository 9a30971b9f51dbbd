"""The commit hook as a consumer meets it: pre-commit installs this checkout and runs it in another repository.

Only package registries are reached. Each `try-repo` installs doorlint anew, as pre-commit does; all other tests
share one environment. How long a first and a repeated run take stands in the properties of the test report.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from working_copy import ROOT, clean_environment, copy_into, git, repository

PARTS = {
    "boat house/project.yaml": "doorlint: 1\nproject: {name: Invented boathouse}\ninclude: ['*.yaml', 'doors/*.yml']\n",
    "boat house/products.yaml": """\
doorlint: 1
products:
  strike:
    kind: electric_strike
    fail: secure
    coil: {supply: dc, voltage: 12 V, current: 450 mA, built_in_suppression: diode}
""",
    "boat house/power.yaml": """\
doorlint: 1
power:
  psu: {kind: power_supply, supply: dc, voltage: 12 V, current: 2 A}
""",
    "boat house/doors/büro.yml": """\
doorlint: 1
openings:
  D1:
    items: {lock: {product: strike, fed_from: psu}}
""",
}
SOUND, FAULT = ("voltage: 12 V, current: 2 A", "voltage: 24 V, current: 2 A")
OTHERS = {
    "compose.yaml": "project: {name: a web service}\nservices: {door: {image: invented}}\n",
    ".github/workflows/check.yml": "on: push\njobs: {}\n",
    "notes.yaml": "tools:\n  doorlint: 1\n",
    "empty.yaml": "",
    "README.md": "doorlint: 1\n",
}
ORPHAN = {"store/orphan.yaml": "doorlint: 1\nopenings: {}\n"}


@dataclass(frozen=True)
class Ran:
    """What a run of pre-commit gave."""

    status: int
    text: str
    seconds: float

    def findings(self, rule: str) -> list[str]:
        """The lines of the report about a rule."""
        return [line for line in self.text.splitlines() if line.endswith(f"[{rule}]")]


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where pre-commit keeps its environments for all tests of this module."""
    return tmp_path_factory.mktemp("pre-commit")


@pytest.fixture(scope="module")
def origin(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """This checkout with its changes, as a repository of its own with nothing left to commit."""
    return repository(copy_into(tmp_path_factory.mktemp("origin") / "doorlint"))


@pytest.fixture(scope="module")
def consumer(tmp_path_factory: pytest.TempPathFactory, origin: Path) -> Path:
    """Somebody's repository: two specs, a part without a root, and YAML of other programs, hooked to `origin`. It lets
    warnings pass, so that a rule added to doorlint does not change what these tests are about."""
    folder = tmp_path_factory.mktemp("consumer") / "repository"
    for name, text in {**PARTS, **OTHERS, **ORPHAN}.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    shutil.copytree(ROOT / "examples" / "gull_point_ferry_terminal_clean", folder / "terminal")
    revision = git(origin, "rev-parse", "HEAD").strip()
    (folder / ".pre-commit-config.yaml").write_text(
        f"repos: [{{repo: {origin}, rev: {revision}, hooks: [{{id: doorlint, args: [--failing-level, error]}}]}}]\n"
    )
    return repository(folder)


@pytest.fixture
def pre_commit(consumer: Path, home: Path) -> Callable[..., Ran]:
    def run(*arguments: str) -> Ran:
        started = time.perf_counter()
        done = subprocess.run(
            [sys.executable, "-m", "pre_commit", *arguments, "--color", "never"],
            cwd=consumer, env=clean_environment({"PRE_COMMIT_HOME": str(home), "PYTHONUTF8": "1"}),
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8", check=False,
        )  # fmt: skip
        return Ran(done.returncode, done.stdout, time.perf_counter() - started)

    return run


@pytest.fixture
def faulty(consumer: Path) -> Iterator[Path]:
    """The part of the boathouse that holds the fault; as it was when the test is over."""
    part = consumer / "boat house" / "power.yaml"
    before = part.read_text()
    part.write_text(before.replace(SOUND, FAULT))
    yield part
    part.write_text(before)


def test_try_repo_of_a_clean_clone_passes_on_the_clean_twin(
    pre_commit: Callable[..., Ran], origin: Path, consumer: Path, tmp_path: Path
) -> None:
    clone = tmp_path / "clone"
    git(tmp_path, "clone", "--quiet", "--depth=1", origin.as_uri(), str(clone))  # as a build server has it
    parts = sorted(path.relative_to(consumer).as_posix() for path in (consumer / "terminal").rglob("*.yaml"))
    ran = pre_commit("try-repo", str(clone), "doorlint", "--verbose", "--files", *parts)
    assert ran.status == 0, ran.text
    assert re.search(r"review door specs\.+Passed", ran.text), ran.text
    assert ran.text.count("\nTotal: fail 0 ") == 1, "one review of one spec, and it did review"


def test_try_repo_of_a_checkout_with_changes_fails_at_the_place_of_the_fault(
    pre_commit: Callable[..., Ran], origin: Path, faulty: Path, tmp_path: Path
) -> None:
    changed = tmp_path / "changed"
    git(tmp_path, "clone", "--quiet", str(origin), str(changed))
    hooks = changed / ".pre-commit-hooks.yaml"
    hooks.write_text(hooks.read_text().replace("name: review door specs", "name: review with what is not committed"))
    ran = pre_commit("try-repo", str(changed), "doorlint", "--files", "boat house/power.yaml")
    assert ran.status == 1, ran.text
    assert re.search(r"review with what is not committed\.+Failed", ran.text), ran.text
    (found,) = ran.findings("supply/voltage-mismatch")
    assert "error: D1/lock" in found
    assert git(changed, "status", "--short") == " M .pre-commit-hooks.yaml\n", "the checkout tried is left as it was"


def test_a_first_run_installs_and_a_repeated_one_does_not(
    pre_commit: Callable[..., Ran], record_property: Callable[[str, object], None]
) -> None:
    first, again = (pre_commit("run", "--files", "boat house/power.yaml") for _ in range(2))
    assert (first.status, again.status) == (0, 0), first.text
    assert "Installing environment" in first.text
    assert "Installing environment" not in again.text
    record_property("hook: first run, seconds", round(first.seconds, 2))
    record_property("hook: repeated run, seconds", round(again.seconds, 2))


@pytest.mark.parametrize(
    "changed",
    [
        ["boat house/power.yaml"],
        ["boat house/doors/büro.yml"],
        ["boat house/project.yaml"],
        [*PARTS, *OTHERS],
    ],
    ids=["the faulty part", "another part", "the root", "every file"],
)
def test_a_spec_is_reviewed_once_whichever_of_its_parts_changed(
    changed: list[str], pre_commit: Callable[..., Ran], faulty: Path
) -> None:
    ran = pre_commit("run", "--files", *changed)
    assert ran.status == 1, ran.text
    assert ran.text.count("\nTotal: ") == 1
    assert "\nSpec " not in ran.text, "the report heads each spec only where there are several"
    (found,) = ran.findings("supply/voltage-mismatch")
    name, line, column, level, subject, *_ = re.split(r": ?", found)
    assert (level, subject) == ("error", "D1/lock")
    text = (faulty.parents[1] / name).read_text().splitlines()[int(line) - 1]
    assert re.match(r"(12|24) V|strike|psu|products|\{|lock", text[int(column) - 1 :]), found
    related = [row for row in ran.text.splitlines() if re.match(r"    boat house/power\.yaml:3:\d+: ", row)]
    assert name == "boat house/power.yaml" or related, "the faulty part is shown"


def test_specs_of_several_parts_are_each_reviewed_once(pre_commit: Callable[..., Ran], faulty: Path) -> None:
    ran = pre_commit("run", "--files", "terminal/power.yaml", "boat house/power.yaml", "terminal/project.yaml")
    assert ran.status == 1, ran.text
    assert re.findall(r"^Spec (.*)$", ran.text, re.MULTILINE) == ["terminal/project.yaml", "boat house/project.yaml"]


def test_yaml_that_is_no_door_spec_is_passed_over(pre_commit: Callable[..., Ran]) -> None:
    ran = pre_commit("run", "--verbose", "--files", *OTHERS)
    assert ran.status == 0, ran.text
    assert re.search(r"review door specs\.+Passed", ran.text), ran.text
    assert "Total" not in ran.text, "nothing was reviewed, and nothing says so"


def test_a_part_that_no_root_includes_is_an_error_with_the_way_out(pre_commit: Callable[..., Ran]) -> None:
    ran = pre_commit("run", "--files", *ORPHAN)
    assert ran.status == 1, ran.text
    assert "- exit code: 2" in ran.text
    (told,) = [line for line in ran.text.splitlines() if line.startswith("doorlint: ")]
    assert told.startswith("doorlint: store/orphan.yaml: is part of no spec: ")
    assert "a root file holds `project: {name: ...}`" in told
    assert "Traceback" not in ran.text


def test_a_commit_is_refused_until_the_fault_is_mended(
    pre_commit: Callable[..., Ran], consumer: Path, home: Path, faulty: Path
) -> None:
    installed = pre_commit("install")
    assert installed.status == 0, installed.text
    before = git(consumer, "rev-parse", "HEAD")
    env = {"PRE_COMMIT_HOME": str(home), "PYTHONUTF8": "1"}
    with pytest.raises(subprocess.CalledProcessError) as refused:
        git(consumer, "commit", "--all", "--message", "a supply of 24 V", env=env)
    assert "[supply/voltage-mismatch]" in refused.value.stderr + refused.value.stdout
    assert git(consumer, "rev-parse", "HEAD") == before
    faulty.write_text(faulty.read_text().replace(FAULT, SOUND) + "# looked through\n")
    git(consumer, "commit", "--all", "--message", "a supply of 12 V", env=env)
    assert git(consumer, "rev-parse", "HEAD") != before
