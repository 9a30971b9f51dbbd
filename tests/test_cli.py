"""The command: what it prints where, its exit status, and that no misuse or fault shows a traceback."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
import textwrap
from importlib import import_module, resources
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator

import doorlint
from doorlint import cli
from doorlint.document import parse
from doorlint.outcome import Cited, Kind, Level, Outcome, Place, Practice
from doorlint.report import pages
from doorlint.report.text import CAUTIONS
from doorlint.reviewing import Result, SpecError
from doorlint.rulebook import Rule, Rulebook, Trouble

reviewing = import_module("doorlint.reviewing")
rulebook = import_module("doorlint.rulebook")

SPEC = "project: {name: Invented}\nproducts: {strike: {coil: {current: 900 mA}}}\n"
RULE = Rule(
    "relay/current-over-rating",
    title="Lock draws more than its output is rated for",
    level=Level.ERROR,
    over=Outcome,
    basis=(
        Practice("a contact carries what it is rated for", physics="contact heating"),
        Cited("IEC 60947-5-1", "2016", "utilization categories", from_memory=True),
    ),
    needs=("output.current",),
    applies=lambda _: True,
    scope="locks on an output",
    evidence=("load current", "rating"),
    why="The contact welds or burns, and the lock no longer releases.",
    cure="Switch the lock through a relay of higher rating.",
    limits="Does not know the contact's age.",
    life_safety=True,
)


def outcome(kind: Kind = Kind.FAIL, level: Level = Level.ERROR, **more: Any) -> Outcome:
    place = Place("door.yaml", "/products/strike/coil/current")
    message = more.pop("message", "load current 900 mA is above the limit")
    return Outcome(RULE.id, kind, level, "114A/lock", message, place, basis=RULE.basis, **more)


def result(*outcomes: Outcome, **more: Any) -> Result:
    module: Any = SimpleNamespace(RULE=RULE, check=None)
    return Result("door.yaml", outcomes, {"door.yaml": parse(SPEC, "door.yaml")}, Rulebook((module,)), **more)


@pytest.fixture
def reviewed(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Let the review give the results passed, so that each test fixes what the command is about."""

    def fix(*results: Result) -> None:
        monkeypatch.setattr(reviewing, "review_all", lambda _, **_more: results)
        monkeypatch.setattr(reviewing, "review", lambda _: results[0])

    return fix


@pytest.fixture
def book(monkeypatch: pytest.MonkeyPatch) -> Any:
    """Let the rulebook hold RULE alone, beside the findings of the format."""

    def fix(*troubles: Trouble, source: str | None = None) -> None:
        module: Any = ModuleType("rule")
        module.RULE, module.check, module.__file__ = RULE, None, source
        monkeypatch.setattr(rulebook, "collect", lambda: Rulebook((module,), troubles))

    return fix


def python(*arguments: str, **more: Any) -> subprocess.CompletedProcess[bytes]:
    """Run this Python in a process of its own."""
    return subprocess.run([sys.executable, *arguments], capture_output=True, timeout=60, check=False, **more)


# --- review ---


@pytest.mark.parametrize(
    ("outcomes", "options", "status"),
    [
        ((), (), 0),
        ((outcome(),), (), 1),
        ((outcome(level=Level.WARNING),), (), 1),
        ((outcome(level=Level.NOTE),), (), 0),
        ((outcome(level=Level.NOTE),), ("--failing-level", "note"), 1),
        ((outcome(level=Level.WARNING),), ("--failing-level", "error"), 0),
        ((outcome(Kind.OPEN), outcome(Kind.REVIEW), outcome(Kind.PASS)), (), 0),
        ((outcome(waived="accepted"),), (), 0),
    ],
)
@pytest.mark.parametrize("form", ["text", "json"])
def test_exit_status(
    reviewed: Any,
    capsys: pytest.CaptureFixture[str],
    outcomes: tuple[Outcome, ...],
    options: tuple[str, ...],
    status: int,
    form: str,
) -> None:
    reviewed(result(*outcomes))
    assert cli.run(["review", "door.yaml", "--format", form, *options]) == status
    assert capsys.readouterr().err == ""


def test_worst_status_of_several_specs_counts(reviewed: Any, capsys: pytest.CaptureFixture[str]) -> None:
    reviewed(result(), result(broken=True), result(outcome()))
    assert cli.run(["review", "a", "b", "c"]) == 2
    assert "incomplete" in capsys.readouterr().out


def test_text_report(reviewed: Any, capsys: pytest.CaptureFixture[str]) -> None:
    reviewed(result(outcome()))
    cli.run(["review", "door.yaml"])
    out = capsys.readouterr().out.splitlines()
    assert out[0] == (
        "door.yaml:2:37: error: 114A/lock: load current 900 mA is above the limit [relay/current-over-rating]"
    )
    assert tuple(out[-2:]) == CAUTIONS


def test_show_chooses_what_is_listed(reviewed: Any, capsys: pytest.CaptureFixture[str]) -> None:
    reviewed(result(*(outcome(kind) for kind in Kind)))

    def words(*options: str) -> list[str]:
        cli.run(["review", "door.yaml", *options])
        out = capsys.readouterr().out
        return [line.split(": ")[1] for line in out.splitlines() if line.startswith("door.yaml:")]

    assert words() == ["error", "open", "review"]
    assert words("--show", "fail") == ["error"]
    assert words("--show", "pass", "--show", "notApplicable") == ["pass", "error", "notApplicable"]


def test_json_report_is_valid(reviewed: Any, capsys: pytest.CaptureFixture[str]) -> None:
    reviewed(result(outcome(), outcome(Kind.PASS)))
    assert cli.run(["review", "door.yaml", "--format", "json"]) == 1
    data = json.loads(capsys.readouterr().out)
    schema = json.loads(resources.files("doorlint.schemas").joinpath("findings.schema.json").read_text("utf-8"))
    Draft202012Validator(schema).validate(data)
    assert [o["kind"] for o in data["reviews"][0]["outcomes"]] == ["fail", "pass"]


def test_output_goes_to_the_file_alone(
    reviewed: Any, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    reviewed(result(outcome()))
    target = tmp_path / "report.json"
    assert cli.run(["review", "door.yaml", "--format", "json", "--output", str(target)]) == 1
    assert json.loads(target.read_text())["format"] == 1
    assert capsys.readouterr() == ("", "")


def test_output_that_cannot_be_written(
    reviewed: Any, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    reviewed(result())
    assert cli.run(["review", "door.yaml", "--output", str(tmp_path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err == f"doorlint: {tmp_path}: not written: it is a folder; a file name is expected\n"


@pytest.mark.parametrize("path", ["door.yaml", "other.yaml"])
def test_output_never_overwrites_the_spec(
    reviewed: Any, capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, path: str
) -> None:
    """Neither a file named, nor one that the review read besides."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "door.yaml").write_text(SPEC)
    (tmp_path / "link.yaml").symlink_to("door.yaml")
    reviewed(result())
    assert cli.run(["review", path, "--output", "link.yaml"]) == 2
    assert "it is a file of the spec" in capsys.readouterr().err
    assert (tmp_path / "door.yaml").read_text() == SPEC


# --- when things go wrong ---


def test_spec_that_cannot_be_reviewed_is_one_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(paths: object, **_more: object) -> None:
        raise SpecError("door\x1b.yaml: does not exist")

    monkeypatch.setattr(reviewing, "review_all", fail)
    assert cli.run(["review", "door.yaml"]) == 2
    assert capsys.readouterr() == ("", "doorlint: door<U+001B>.yaml: does not exist\n")


@pytest.mark.parametrize("error", [RuntimeError("two\nlines"), RecursionError(), MemoryError(), KeyError("x")])
def test_fault_of_doorlint_is_one_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    def fail(paths: object, **_more: object) -> None:
        raise error

    monkeypatch.setattr(reviewing, "review_all", fail)
    assert cli.run(["review", "door.yaml"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert type(error).__name__ in err
    assert "doorlint --trace" in err
    assert "Traceback" not in err

    assert cli.run(["--trace", "review", "door.yaml"]) == 2
    assert "Traceback" in capsys.readouterr().err


def test_stopped_from_the_keyboard(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def stop(paths: object, **_more: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(reviewing, "review_all", stop)
    assert cli.run(["review", "door.yaml"]) == 130
    assert capsys.readouterr() == ("", "doorlint: stopped\n")


@pytest.mark.parametrize(
    "arguments", [["review"], ["revue", "x"], ["review", "x", "--format", "xml"], ["basis"], ["--no-such"]]
)
def test_misuse_is_told_without_a_traceback(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    assert cli.run(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "Error: " in err
    assert "Traceback" not in err


def test_a_rule_that_prints_does_not_spoil_the_report(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def noisy(paths: object, **_more: object) -> tuple[Result, ...]:
        print("hello from a rule")
        return (result(),)

    monkeypatch.setattr(reviewing, "review_all", noisy)
    assert cli.run(["review", "door.yaml", "--format", "json"]) == 0
    out, err = capsys.readouterr()
    json.loads(out)
    assert err == "hello from a rule\n"


def test_missing_libyaml_is_noted_on_standard_error(
    reviewed: Any, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("doorlint.document.HAVE_LIBYAML", False)
    reviewed(result())
    assert cli.run(["review", "door.yaml"]) == 0
    out, err = capsys.readouterr()
    assert "libyaml" in err
    assert err.count("\n") == 1
    assert "libyaml" not in out


def test_encoding_that_lacks_a_character(reviewed: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="ascii"))
    reviewed(result(outcome(message="margin ≤ 1")))
    assert cli.run(["review", "door.yaml"]) == 1
    assert b"114A/lock: margin ? 1 [" in raw.getvalue()


def test_closed_standard_output_is_told(
    reviewed: Any, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    reviewed(result())
    monkeypatch.setattr(sys, "stdout", None)
    assert cli.run(["review", "door.yaml"]) == 2
    assert capsys.readouterr().err == "doorlint: standard output is closed; redirect it to a file\n"


def test_closed_standard_error_leaves_standard_output_clean(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(_: object, **_more: object) -> None:
        raise SpecError("door.yaml: does not exist")

    monkeypatch.setattr(reviewing, "review_all", fail)
    monkeypatch.setattr(sys, "stderr", None)
    assert cli.run(["review", "door.yaml"]) == 2
    assert capsys.readouterr().out == ""


# --- rules and basis ---


def test_rules_lists_rules_and_format_findings(book: Any, capsys: pytest.CaptureFixture[str]) -> None:
    book()
    assert cli.run(["rules"]) == 0
    rows = [line.split(maxsplit=2) for line in capsys.readouterr().out.splitlines()]
    assert [RULE.id, "error", RULE.title] in rows
    assert ["document/syntax", "error", "The file is not readable YAML"] in rows
    assert rows == sorted(rows)


def test_rules_as_json(book: Any, capsys: pytest.CaptureFixture[str]) -> None:
    book()
    assert cli.run(["rules", "--format", "json"]) == 0
    listed = {rule["id"]: rule for rule in json.loads(capsys.readouterr().out)}
    assert listed[RULE.id]["basis"][1].endswith("[from memory]")
    assert listed[RULE.id]["needs"] == ["output.current"]
    assert listed["document/syntax"]["judges"] == ""


def test_broken_package_of_rules_is_told_and_fails(book: Any, capsys: pytest.CaptureFixture[str]) -> None:
    book(Trouble("house", "package of rules 'house' does not load"))
    assert cli.run(["rules"]) == 2
    out, err = capsys.readouterr()
    assert RULE.id in out
    assert err == "doorlint: package of rules 'house' does not load\n"


def test_page_of_a_rule(book: Any, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    cases = """\
        rule: relay/current-over-rating
        cases:
          - name: a case not chosen for the page
            spec: "x: 1 # expect: relay/current-over-rating"
          - name: 900 mA on an output for 750 mA
            show: true
            spec: |
              current: 900 mA  # expect: relay/current-over-rating "900 mA"
          - name: at the limit
            outcomes: {pass: 1}
            spec: |
              current: 750 mA
          - name: no output
            outcomes: {notApplicable: 1}
            spec: |
              nothing: here
        """
    (tmp_path / "rule.cases.yaml").write_text(textwrap.dedent(cases))
    book(source=str(tmp_path / "rule.py"))
    assert cli.run(["basis", RULE.id]) == 0
    page = capsys.readouterr().out
    assert page.startswith(f"{RULE.id}\n{RULE.title}\n")
    for part in (
        "Level    error; touches life safety",
        "Judges   each outcome",
        "Scope    only locks on an output",
        "The contact welds or burns",
        "- practice: a contact carries what it is rated for (physics: contact heating)",
        "- IEC 60947-5-1 (2016), utilization categories [from memory]",
        "output.current. Where one is missing, the outcome is open",
        "A case that is found: 900 mA on an output for 750 mA\n"
        '    current: 900 mA  # found here: "900 mA"\n',
        "A case that is in order: at the limit\n    current: 750 mA\n",
        "Switch the lock through a relay",
        "Does not know the contact's age.",
    ):
        assert part in page, part
    assert "not chosen" not in page
    assert "nothing: here" not in page
    assert not any(line != line.rstrip() or len(line) > 96 for line in page.splitlines())


def test_page_of_a_format_finding(book: Any, capsys: pytest.CaptureFixture[str]) -> None:
    book()
    assert cli.run(["basis", "document/syntax"]) == 0
    assert "Judges   the spec's files, before any rule" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("written", "hint"),
    [
        ("relay/curent-over-ratng", "; did you mean 'relay/current-over-rating'?"),
        ("current-over-rating", "; did you mean 'relay/current-over-rating'?"),
        ("zzz", ""),
    ],
)
def test_misspelt_rule(book: Any, capsys: pytest.CaptureFixture[str], written: str, hint: str) -> None:
    book()
    assert cli.run(["basis", written]) == 2
    expected = f"doorlint: there is no rule '{written}'{hint} (`doorlint rules` lists them all)\n"
    assert capsys.readouterr() == ("", expected)


@pytest.mark.parametrize(
    ("entry", "kind"),
    [
        ('spec: "a: 1 # expect: relay/current-over-rating \\"1\\""', Kind.FAIL),
        ('spec: "a: 1 # expect open: relay/current-over-rating"', Kind.OPEN),
        ('spec: "a: 1 # expect review: relay/current-over-rating"', Kind.REVIEW),
        ('spec: "a: 1 # expect: relay/current-over-rating-peak"\n    outcomes: {pass: 1}', Kind.PASS),
        ('spec: "a: 1"\n    outcomes: {pass: 2, fail: 1}', Kind.FAIL),
        ('spec: "a: 1"\n    outcomes: {pass: 0, notApplicable: 1}', Kind.NOT_APPLICABLE),
    ],
)
def test_what_a_case_shows(entry: str, kind: Kind) -> None:
    cases = pages.read_cases(f"cases:\n  - name: n\n    {entry}\n", RULE.id)
    assert [case.kind for case in cases] == [kind]


@pytest.mark.parametrize("text", ["", "cases: 1", "[", "- 1", "cases: [1, {name: x}, {spec: 1}]", "\0"])
def test_unreadable_cases_are_no_cases(text: str) -> None:
    assert pages.read_cases(text, RULE.id) == ()


# --- working and budget ---


@pytest.fixture
def renderer(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stand-ins that show what the command hands to the renderings."""
    for name in ("working", "budget"):
        module: Any = ModuleType(f"doorlint.report.{name}")
        module.render = lambda result, *more: " ".join([result.root, *more])
        monkeypatch.setitem(sys.modules, module.__name__, module)


def _spec(*openings: str) -> Any:
    return SimpleNamespace(openings=dict.fromkeys(openings))


@pytest.mark.usefixtures("renderer")
def test_working_and_budget(reviewed: Any, capsys: pytest.CaptureFixture[str]) -> None:
    reviewed(result(spec=_spec("114A")))
    assert cli.run(["working", "114A", "door.yaml"]) == 0
    assert cli.run(["budget", "door.yaml"]) == 0
    assert capsys.readouterr() == ("door.yaml 114A\ndoor.yaml\n", "")


@pytest.mark.usefixtures("renderer")
def test_working_of_an_incomplete_review_fails(reviewed: Any, capsys: pytest.CaptureFixture[str]) -> None:
    reviewed(result(spec=_spec("114A"), broken=True))
    assert cli.run(["working", "114A", "door.yaml"]) == 2
    assert capsys.readouterr().err.startswith("doorlint: the spec could not be read whole")


@pytest.mark.parametrize(
    ("spec", "message"),
    [
        (None, "door.yaml: the spec could not be read; `doorlint review` says why"),
        (_spec("114A", "115"), "door.yaml has no opening '114B'; did you mean '114A'?"),
        (_spec("900", "901"), "door.yaml has no opening '114B'; it has 900, 901"),
        (_spec(), "door.yaml has no opening '114B'; it has none"),
    ],
)
def test_opening_that_is_not_there(
    reviewed: Any, capsys: pytest.CaptureFixture[str], spec: Any, message: str
) -> None:
    reviewed(result(spec=spec))
    assert cli.run(["working", "114B", "door.yaml"]) == 2
    assert capsys.readouterr() == ("", f"doorlint: {message}\n")


# --- help, imports, processes ---


@pytest.mark.parametrize("command", [[], ["review"], ["rules"], ["basis"], ["working"], ["budget"]])
def test_help(command: list[str]) -> None:
    shown = CliRunner().invoke(cli.doorlint, [*command, "--help"], prog_name="doorlint")
    assert shown.exit_code == 0
    assert shown.output.startswith("Usage: doorlint ")


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.run(["--version"]) == 0
    assert capsys.readouterr().out == f"doorlint {doorlint.__version__}\n"


def test_help_imports_nothing_that_it_does_not_need() -> None:
    code = (
        "import sys; from doorlint.cli import run; assert run(['--help']) == 0; "
        "print(*sorted(sys.modules), sep='\\n', file=sys.stderr)"
    )
    done = python("-c", code)
    assert done.returncode == 0
    loaded = set(done.stderr.decode().split())
    assert "doorlint.cli" in loaded
    ours = {name for name in loaded if name.startswith("doorlint")}
    assert ours <= {"doorlint", "doorlint.cli"}
    assert not {"pint", "jsonschema", "yaml", "pluggy", "decimal", "fractions"} & loaded


def test_process_reviews_a_real_spec(tmp_path: Path) -> None:
    """End to end in a process of its own: report on standard output, schema valid, status as the findings."""
    (tmp_path / "door.yaml").write_text("doorlint: 1\nproject: {name: Invented}\nopenngs: {}\n")
    done = python("-m", "doorlint", "review", "door.yaml", "--format", "json", cwd=tmp_path)
    assert done.stderr == b""
    data = json.loads(done.stdout)
    schema = json.loads(resources.files("doorlint.schemas").joinpath("findings.schema.json").read_text("utf-8"))
    Draft202012Validator(schema).validate(data)
    found = [o for o in data["reviews"][0]["outcomes"] if o["rule"] == "format/unknown-key"]
    assert [(o["place"]["text"], o["place"]["start"]["line"]) for o in found] == [("openngs", 3)]
    assert done.returncode == 1


def test_process_told_of_a_file_that_is_not_there(tmp_path: Path) -> None:
    done = python("-m", "doorlint", "review", "no-such.yaml", cwd=tmp_path)
    assert (done.returncode, done.stdout) == (2, b"")
    assert done.stderr.decode().splitlines() == ["doorlint: no-such.yaml: does not exist"]


@pytest.mark.skipif(os.name != "posix", reason="pipes of a POSIX shell")
def test_reader_that_leaves_early_is_no_fault(tmp_path: Path) -> None:
    """A closed pipe gives no traceback, and the status still tells what was found."""
    (tmp_path / "door.yaml").write_text("doorlint: 1\nproject: {name: Invented}\nopenngs: {}\n")
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = subprocess.run(
            [sys.executable, "-m", "doorlint", "review", "door.yaml"],
            stdout=writer, stderr=subprocess.PIPE, cwd=tmp_path, timeout=60, check=False,
        )  # fmt: skip
    finally:
        os.close(writer)
    assert done.stderr == b""
    assert done.returncode == 1


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_full_device_on_standard_output_is_one_line(tmp_path: Path) -> None:
    (tmp_path / "door.yaml").write_text("doorlint: 1\nproject: {name: Invented}\n")
    with Path("/dev/full").open("wb") as full:
        done = subprocess.run(
            [sys.executable, "-m", "doorlint", "review", "door.yaml"],
            stdout=full, stderr=subprocess.PIPE, cwd=tmp_path, timeout=60, check=False,
        )  # fmt: skip
    assert done.stderr.decode().splitlines() == [
        "doorlint: standard output: not written: no space left on device"
    ]
    assert done.returncode == 2
