"""doorlint as others install and use it: a consultant's script, a package of rules of their own, broken packages.

All of it runs in a virtual environment of its own, with doorlint installed from a copy of this checkout.
"""

from __future__ import annotations

import csv
import json
import subprocess
import sys
import venv
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from working_copy import ROOT, clean_environment, copy_into

MAGNETS = """\
doorlint: 1
project: {name: Invented office}
products:
  magnet: {kind: electromagnetic_lock, coil: {supply: dc, voltage: 12 V, current: 500 mA}}
power:
  psu: {kind: power_supply, supply: dc, voltage: 24 V, current: 2 A}
openings:
  D1: {items: {lock: {product: magnet, fed_from: psu, length: 45 m}}}
  D2: {items: {lock: {product: magnet, fed_from: psu, length: 12 m}}}
  D3: {items: {lock: {product: magnet, fed_from: psu}}}
"""
OFFICE = "office/magnet-far-from-supply"


@dataclass(frozen=True)
class Environment:
    """A virtual environment with doorlint and the office's rules in it."""

    folder: Path

    def run(self, program: str, *arguments: str | Path, more_packages: Path | None = None) -> Any:
        """Run a program of the environment, with packages of `more_packages` installed besides."""
        added = {"PYTHONPATH": str(more_packages)} if more_packages else {}
        return subprocess.run(
            [self.folder / "bin" / program, *arguments],
            cwd=self.folder, env=clean_environment({"PYTHONUTF8": "1", **added}),
            capture_output=True, text=True, check=False,
        )  # fmt: skip


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Environment:
    copy = copy_into(tmp_path_factory.mktemp("source") / "doorlint")
    folder = tmp_path_factory.mktemp("environment") / "environment"
    venv.create(folder, with_pip=True)
    environment = Environment(folder)
    done = environment.run("python", "-m", "pip", "install", "-q", copy, copy / "tests/data/plugin_package")
    assert done.returncode == 0, done.stderr
    (folder / "magnets.yaml").write_text(MAGNETS)
    return environment


def outcomes(report: str) -> list[dict[str, Any]]:
    (review,) = json.loads(report)["reviews"]
    return list(review["outcomes"])


# -- a package of rules of one's own -----------------------------------------------------------------


def test_a_rule_of_an_installed_package_judges_like_the_built_in_ones(installed: Environment) -> None:
    done = installed.run("doorlint", "review", "--format", "json", "magnets.yaml")
    assert done.returncode == 1, done.stderr
    found = outcomes(done.stdout)
    of_office = {one["subject"]: one["kind"] for one in found if one["rule"] == OFFICE}
    assert of_office == {"D1/lock": "fail", "D2/lock": "pass", "D3/lock": "open"}
    assert {one["rule"] for one in found} > {OFFICE, "supply/voltage-mismatch"}


def test_the_rules_and_their_pages_show_it(installed: Environment) -> None:
    listed = installed.run("doorlint", "rules")
    assert listed.returncode == 0, listed.stderr
    (line,) = [line for line in listed.stdout.splitlines() if line.startswith(f"{OFFICE} ")]
    title = "The electromagnetic lock hangs on more cable than the office allows"
    assert line.split(maxsplit=2)[1:] == ["warning", title]
    page = installed.run("doorlint", "basis", OFFICE)
    assert page.returncode == 0, page.stderr
    for part in ("practice: an invented office keeps", "A case that is found: beyond the limit", "30.1 m", "29.9 m"):
        assert part in page.stdout


def test_its_cases_run(installed: Environment) -> None:
    code = """
import doorlint, json
from doorlint.cases import cases_path
book = doorlint.collect()
(module,) = [module for module in book.modules if module.RULE.id == "office/magnet-far-from-supply"]
cases = doorlint.load_cases(cases_path(module))
print(json.dumps({case.name: [case.kind, doorlint.run_case(case, book)] for case in cases}))
"""
    done = installed.run("python", "-c", code)
    assert done.returncode == 0, done.stderr
    ran = json.loads(done.stdout)
    assert not [differs for _, differs in ran.values() if differs]
    assert {kind for kind, _ in ran.values()} == {"fail", "pass", "open", "notApplicable"}


# -- types -------------------------------------------------------------------------------------------

CONSUMER = """\
import doorlint
from doorlint import Kind, Level, Outcome, Rulebook


def errors(path: str, book: Rulebook) -> tuple[Outcome, ...]:
    result: doorlint.Result = doorlint.review(path, rulebook=book)
    if result.spec is None:
        raise doorlint.SpecError(path)
    return result.findings(Level.ERROR)


def margins(outcomes: tuple[Outcome, ...]) -> list[str]:
    return [str(one.margin) for one in outcomes if one.kind is Kind.PASS and one.margin is not None]
"""
WRONG = """
doorlint.review(3)
doorlint.review_text("doorlint: 1", rulebook=None).findings("error")
text: int = errors("spec.yaml", doorlint.collect())[0].message
doorlint.Rule("topic/name", title="t", level="error", over=None, basis=())
doorlint.anything
"""


def checked(installed: Environment, *what: Path) -> tuple[int, list[str]]:
    """mypy's status and errors over files that use the installed package."""
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--config-file=", "--no-error-summary",
         "--python-executable", installed.folder / "bin" / "python",
         "--cache-dir", installed.folder / "types", *what],
        cwd=installed.folder, env=clean_environment({}), capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert not done.stderr, done.stderr
    return done.returncode, done.stdout.splitlines()


def test_users_are_told_their_mistakes_by_a_type_checker_and_nothing_else(installed: Environment) -> None:
    right, wrong = installed.folder / "right.py", installed.folder / "wrong.py"
    right.write_text(CONSUMER)
    wrong.write_text(CONSUMER + WRONG)
    script = ROOT / "examples" / "consultant_table.py"
    rules = ROOT / "tests" / "data" / "plugin_package" / "office_rules"
    assert checked(installed, right, script, *sorted(rules.glob("*.py"))) == (0, [])
    status, errors = checked(installed, wrong)
    first = len(CONSUMER.splitlines()) + 2
    assert status == 1
    flagged = {int(error.split(":")[1]) for error in errors if ": error: " in error}
    assert flagged == set(range(first, first + len(WRONG.splitlines()) - 1)), errors


# -- a consultant's script ---------------------------------------------------------------------------


def test_the_script_is_short() -> None:
    assert len((ROOT / "examples" / "consultant_table.py").read_text().splitlines()) < 80


def test_the_script_writes_what_the_review_found(installed: Environment, tmp_path: Path) -> None:
    table = tmp_path / "table.csv"
    script = ROOT / "examples" / "consultant_table.py"
    done = installed.run("python", script, "magnets.yaml", table, "--rules", "office")
    assert done.returncode == 1, done.stderr
    with table.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    found = outcomes(installed.run("doorlint", "review", "--format", "json", "magnets.yaml").stdout)
    expected = Counter(
        (one["subject"], one["rule"], one["kind"])
        for one in found
        if (one["rule"] == OFFICE and one["kind"] in ("fail", "open", "review"))
        or (one["rule"] != OFFICE and one["kind"] == "fail" and one["level"] == "error")
    )
    assert expected[("D1/lock", OFFICE, "fail")] == expected[("D3/lock", OFFICE, "open")] == 1
    written = Counter(("/".join(filter(None, (row["opening"], row["item"]))), row["rule"], row["kind"]) for row in rows)
    assert written == expected
    (far,) = [row for row in rows if row["rule"] == OFFICE and row["kind"] == "fail"]
    assert (far["from"], far["measured"], far["limit"], far["margin"]) == ("office", "45 m", "30 m", "-15 m")
    name, line, column = far["where"].split(":")
    assert (name, MAGNETS.splitlines()[int(line) - 1][int(column) - 1 :][:4]) == ("magnets.yaml", "45 m")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["gone.yaml", "{table}"], "gone.yaml: does not exist"),
        (["magnets.yaml", "{table}", "--rules", "elsewhere"], "no package of rules is installed under the name"),
    ],
)
def test_the_script_tells_what_it_cannot_do(
    arguments: list[str], told: str, installed: Environment, tmp_path: Path
) -> None:
    table = tmp_path / "table.csv"
    given = [argument.format(table=table) for argument in arguments]
    done = installed.run("python", ROOT / "examples" / "consultant_table.py", *given)
    assert done.returncode == 2
    assert told in done.stderr
    assert "Traceback" not in done.stderr
    assert not table.exists()


# -- packages that are broken ------------------------------------------------------------------------

RULE = """\
from doorlint import Item, Level, Practice, Rule, hookimpl, ok
import sys

@hookimpl
def doorlint_rules():
    return [sys.modules[__name__]]

RULE = Rule("{rule}", title="Something was found", level=Level.ERROR, over=Item, basis=(Practice("invented"),))

def check(item, context):
"""
BODIES = {
    "raises": "    raise ZeroDivisionError('no ampere left')\n    yield ok('in order')\n",
    "yields_nothing": "    yield from ()\n",
    "yields_text": "    yield 'a failure, I think'\n",
    "changes_the_item": "    item.opening = 'another'\n    yield ok('in order')\n",
    "changes_the_product": "    item.sheet.kind = 'electric_strike'\n    yield ok('in order')\n",
    "changes_the_context": "    context.spec = None\n    yield ok('in order')\n",
}
"""Rules that break, by the package each stands in."""
PACKAGES = {
    "fails_to_import": "raise ImportError('a licence is missing')\n",
    "is_no_python": "def doorlint_rules(:\n",
    "gives_a_number": "from doorlint import hookimpl\n\n@hookimpl\ndef doorlint_rules():\n    return 7\n",
    "gives_no_rules": "from doorlint import hookimpl\n\n@hookimpl\ndef doorlint_rules():\n    return ['a rule']\n",
    "forgets_the_mark": "def doorlint_rules():\n    return []\n",
    "takes_an_id": RULE.format(rule="supply/voltage-mismatch") + "    yield ok('in order')\n",
    "takes_an_office_id": RULE.format(rule=OFFICE) + "    yield ok('in order')\n",
}
"""Packages that give no rules, or not theirs."""


def install(folder: Path, packages: dict[str, str]) -> Path:
    """Packages as an installer leaves them: a module, and the metadata with its entry point."""
    for name, text in packages.items():
        (folder / f"{name}.py").write_text(text)
        metadata = folder / f"{name}-1.0.dist-info"
        metadata.mkdir()
        (metadata / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n")
        (metadata / "entry_points.txt").write_text(f"[doorlint]\n{name} = {name}\n")
    return folder


@pytest.fixture(scope="module")
def reviewed_with_broken(installed: Environment, tmp_path_factory: pytest.TempPathFactory) -> tuple[int, list[Any]]:
    """Exit status and outcomes of a review with all broken packages at once: none may hide another."""
    rules = {name: RULE.format(rule=f"broken/{name.replace('_', '-')}") + body for name, body in BODIES.items()}
    folder = install(tmp_path_factory.mktemp("broken"), {**PACKAGES, **rules})
    done = installed.run("doorlint", "review", "--format", "json", "magnets.yaml", more_packages=folder)
    assert "Traceback" not in done.stderr
    return done.returncode, outcomes(done.stdout)


@pytest.mark.parametrize("package", PACKAGES)
def test_a_package_that_breaks_is_a_finding_of_its_own(
    package: str, reviewed_with_broken: tuple[int, list[Any]]
) -> None:
    status, found = reviewed_with_broken
    assert status == 2
    told = [one for one in found if one["rule"] == "rulebook/package-broke" and one["subject"] == package]
    assert len(told) == 1, told or [one["message"] for one in found if one["rule"].startswith("rulebook/")]
    assert (told[0]["kind"], told[0]["level"]) == ("fail", "error")
    if package.startswith("takes_"):
        assert " is offered twice, by " in told[0]["message"]


@pytest.mark.parametrize("package", BODIES)
def test_a_rule_that_breaks_is_a_finding_of_its_own(package: str, reviewed_with_broken: tuple[int, list[Any]]) -> None:
    status, found = reviewed_with_broken
    rule = f"broken/{package.replace('_', '-')}"
    (told,) = [one for one in found if one["rule"] == "rulebook/rule-broke" and rule in one["message"]]
    assert (told["kind"], told["level"], status) == ("fail", "error", 2)
    assert "D1/lock" in told["message"]
    if package.startswith("changes_"):
        assert "FrozenInstanceError" in told["message"]


def test_the_rest_of_the_review_is_complete(
    reviewed_with_broken: tuple[int, list[Any]], installed: Environment
) -> None:
    alone = outcomes(installed.run("doorlint", "review", "--format", "json", "magnets.yaml").stdout)
    _, found = reviewed_with_broken
    rest = [one for one in found if not one["rule"].startswith(("rulebook/", "broken/"))]
    assert rest == alone


@pytest.fixture
def alone(installed: Environment, tmp_path: Path) -> Callable[[str], Any]:
    def run(text: str) -> Any:
        folder = install(tmp_path, {"one_package": text})
        return installed.run("doorlint", "review", "magnets.yaml", more_packages=folder)

    return run


@pytest.mark.parametrize("where", ["import", "hook", "check"])
def test_a_package_that_leaves_the_program_is_never_a_clean_review(where: str, alone: Callable[[str], Any]) -> None:
    leaves = "raise SystemExit(0)\n"
    text = {
        "import": leaves,
        "hook": f"from doorlint import hookimpl\n\n@hookimpl\ndef doorlint_rules():\n    {leaves}",
        "check": RULE.format(rule="broken/leaves") + f"    {leaves}    yield ok('in order')\n",
    }[where]
    done = alone(text)
    assert done.returncode == 2
    assert "one_package" in done.stdout and "[rulebook/" in done.stdout
    assert "Traceback" not in done.stderr
