"""Input made to hurt, given to the command: each is answered in words, in time, with an exit status that is no 0.

What YAML and XML allow is checked against YAML 1.2.2 (section 5.1, characters; section 5.2, encodings) and XML 1.0
(production 2, Char; by the parser of the standard library).
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from doorlint import cli

from .through import check_printable

HEAD = "doorlint: 1\nproject: {name: Invented}\n"
DOOR = HEAD + "openings: {D1: {title: one}}\n"
LONG = 10_000_000
Command = Callable[..., tuple[int, str, str]]


class Blocked(BaseException):
    """The command waits for something that does not come."""


@pytest.fixture(autouse=True)
def in_time() -> Iterator[None]:
    """Nothing may take more than a minute, nor wait for ever."""

    def stop(*_: Any) -> None:
        raise Blocked

    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(60)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


@pytest.fixture
def command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Command:
    """Run the command in an empty folder: (exit status, standard output, standard error), none of them a traceback."""
    monkeypatch.chdir(tmp_path)

    def run(*arguments: str) -> tuple[int, str, str]:
        status = cli.run(arguments)
        told = capsys.readouterr()
        for text in (told.out, told.err):
            assert "Traceback" not in text
            assert "itself broke" not in text, text
        return status, told.out, told.err

    return run


def bomb() -> str:
    """Nine to the power of nine values, from nine aliases of nine."""
    lines = [HEAD + "a0: &a0 [x, x, x, x, x, x, x, x, x]"]
    lines += [f"a{n}: &a{n} [{', '.join([f'*a{n - 1}'] * 9)}]" for n in range(1, 10)]
    return "\n".join(lines)


UNREADABLE: dict[str, tuple[str | bytes, str]] = {
    # name: (what the file holds, the rule that says so)
    "aliases that multiply": (bomb(), "document/over-limit"),
    "an alias of itself": (HEAD + "openings: &a {D1: *a}\n", "document/over-limit"),
    "brackets a hundred thousand deep": (HEAD + "openings: " + "[" * 100_000, "document/syntax"),
    "braces that are closed again": (HEAD + "openings: " + "{a: " * 5000 + "1" + "}" * 5000, "document/"),
    "blocks two thousand deep": (
        HEAD + "openings:\n" + "".join(" " * n + "a:\n" for n in range(1, 2000)), "document/over-limit"
    ),
    "dashes in a row": (HEAD + "openings:\n " + "- " * 20_000 + "x", "document/over-limit"),
    "a name of ten megabytes": ("doorlint: 1\nproject: {name: " + "n" * LONG + "}\n", "document/over-limit"),
    "quotes of ten megabytes": (
        HEAD + 'openings: {D1: {title: "' + "a\\n" * (LONG // 3) + '"}}', "document/over-limit"
    ),
    "a text block of ten megabytes": (
        HEAD + "openings:\n  D1:\n    note: |\n" + ("      " + "b" * 70 + "\n") * (LONG // 77), "document/over-limit"
    ),
    "an id of ten megabytes": (
        HEAD + "openings:\n  ? " + "k" * LONG + "\n  : {items: {lock: {product: p}}}\n", "document/over-limit"
    ),
    "a reference of ten megabytes": (
        HEAD + "openings: {D1: {items: {lock: {product: " + "p" * LONG + "}}}}", "document/over-limit"
    ),
    "a unit of ten megabytes": (
        HEAD + "products: {p: {kind: reader, response_time: 12 " + "s" * LONG + "}}", "document/over-limit"
    ),
    "a pattern of ten megabytes": (HEAD + "include: '" + "*" * LONG + "'", "document/over-limit"),
    "quotes that are never closed": (HEAD + 'openings: "' + "x\n" * 50_000, "document/syntax"),
    "a NUL": (DOOR.replace("one", "o\0e"), "document/unreadable"),
    "an escape": (DOOR.replace("one", "\x1b]0;title\x07\x1b[2J"), "document/unreadable"),
    "a lone surrogate in UTF-8": (DOOR.encode().replace(b"one", b"\xed\xa0\x80"), "document/unreadable"),
    "bytes that are no UTF-8": (DOOR.encode().replace(b"one", b"\xff\xfe\x80"), "document/unreadable"),
    "bytes of another code page": (DOOR.replace("one", "Grüße").encode("cp1252"), "document/unreadable"),
    "UTF-16 that breaks off": (DOOR.encode("utf-16")[:-1], "document/unreadable"),
    "UTF-32 out of range": (DOOR.encode("utf-32")[:40] + b"\xff\xff\xff\x7f", "document/unreadable"),
}  # fmt: skip


@pytest.mark.parametrize("name", UNREADABLE)
def test_what_cannot_be_read_is_told_and_never_clean(name: str, command: Command) -> None:
    held, rule = UNREADABLE[name]
    Path("door.yaml").write_bytes(held if isinstance(held, bytes) else held.encode("utf-8", "surrogatepass"))
    began = time.process_time()
    status, out, err = command("review", "door.yaml")
    assert time.process_time() - began < 10
    assert (status, err) == (2, "")
    assert rule in out
    assert "The review is incomplete" in out
    check_printable("text", out)
    assert max(map(len, out.splitlines())) < 2000
    if len(held) >= LONG // 2:
        return  # the reports see what the text does: a text that is left out
    for form, limit in (("json", 10**6), ("junit", 10**6), ("sarif", 10**7)):
        status, out, err = command("review", "door.yaml", "--format", form)
        assert (status, err) == (2, "")
        assert len(out) < limit
        _ = ET.fromstring(out) if form == "junit" else json.loads(out)


READABLE: dict[str, str | bytes] = {
    "a byte order mark": b"\xef\xbb\xbf" + DOOR.encode(),
    "UTF-16, low byte first": b"\xff\xfe" + DOOR.encode("utf-16-le"),
    "UTF-16, high byte first": b"\xfe\xff" + DOOR.encode("utf-16-be"),
    "UTF-32, low byte first": b"\xff\xfe\x00\x00" + DOOR.encode("utf-32-le"),
    "UTF-32, high byte first": b"\x00\x00\xfe\xff" + DOOR.encode("utf-32-be"),
    "line ends of three sorts": "doorlint: 1\r\nproject: {name: Invented}\ropenings:\n  D1:\r\n    title: one\r",
    "an old line break in a text": DOOR.replace("one", "o\x85n\u2028e"),
    "ten megabytes of comment": DOOR + "# " + "c" * LONG,
    "ten megabytes of blank lines": DOOR + "\n" * LONG,
}


@pytest.mark.parametrize("name", READABLE)
def test_what_yaml_allows_is_read(name: str, command: Command) -> None:
    held = READABLE[name]
    Path("door.yaml").write_bytes(held if isinstance(held, bytes) else held.encode("utf-8"))
    status, out, err = command("review", "door.yaml")
    assert (status, err) == (0, "")
    check_printable("text", out)
    status, plain, _ = command("sequence", "D1", "door.yaml")
    assert (status, "D1" in plain) == (0, True)


HIDDEN = {
    "right to left": "\u202elarevoC\u202c",
    "an isolate": "\u2067abc\u2069",
    "a zero-width space": "a\u200bb",
    "a mark inside": "a\ufeffb",
    "a tag character": "a\U000e0041b",
    "delete": "a\x7fb",  # YAML 1.2.2, 5.1: DEL is no c-printable, and is told as such
    "a C1 control": "a\x9bb",
    "no character": "a\ufffeb",
    "a line separator": "a\u2028b",
}


@pytest.mark.parametrize("name", HIDDEN)
def test_what_steers_a_terminal_is_shown_as_code_point(name: str, command: Command) -> None:
    """In every report of text, and the XML can be read back."""
    text = HEAD + f"openings: {{D1: {{set: '{HIDDEN[name]}', title: '{HIDDEN[name]}', from: '{HIDDEN[name]}'}}}}\n"
    Path("door.yaml").write_text(text, encoding="utf-8")
    for arguments in (["review"], ["budget"], ["questions"], ["questions", "--format", "csv"], ["house"],
                      ["sequence", "D1"], ["working", "D1"], ["compare", "door.yaml"]):  # fmt: skip
        _, out, err = command(*arguments, "door.yaml")
        check_printable(" ".join(arguments), out)
        check_printable(" ".join(arguments), err)
    _, out, _ = command("review", "door.yaml", "--format", "junit")
    assert "reference/unknown-id" in str(ET.tostring(ET.fromstring(out)))
    _, out, _ = command("review", "door.yaml", "--format", "html")
    check_printable("html", out)
    status, _, _ = command("documents", "door.yaml", "--into", "handover")
    assert Path("handover").exists() == (status == 0)
    for file in Path("handover").glob("*"):
        check_printable(file.name, file.read_text(encoding="utf-8"))


def test_a_name_on_the_command_line_is_escaped_too(command: Command) -> None:
    status, _, err = command("review", "\x1b[31m\u202eno.yaml")
    assert status == 2
    check_printable("err", err)
    assert "<U+001B>" in err and "<U+202E>" in err


NUMBERS = (
    "1e400 V", "1e-400 V", "9" * 150 + " V", "1e99999999999 V", "-1e15 V", "nan V", "inf V", "0x10 V", "1_0 V",
    ".inf", ".nan", "-.inf", "1e400", "9" * 99, "9" * 5000, "0o17", "1e308",
)  # fmt: skip


@pytest.mark.parametrize("number", NUMBERS, ids=lambda text: text[:12])
def test_a_number_that_is_none_is_a_finding_and_what_hangs_on_it_open(number: str, command: Command) -> None:
    Path("door.yaml").write_text(
        HEAD + f"products: {{s: {{kind: electric_strike, coil: {{supply: dc, voltage: {number}, current: 450 mA}}}}}}\n"
        "power: {psu: {kind: power_supply, supply: dc, voltage: 12 V}}\n"
        "openings: {D1: {items: {lock: {product: s, fed_from: psu, length: 3 m}}}}\n"
    )
    status, out, err = command("review", "door.yaml")
    assert (status, err) == (1, "")
    assert "[format/" in out
    for form in ("json", "sarif"):
        _, out, _ = command("review", "door.yaml", "--format", form)
        json.loads(out, parse_constant=lambda word: pytest.fail(f"the report holds {word}"))


@pytest.mark.parametrize("count", ["0", "-1", "9" * 30, "9" * 99, "1e99", "2.0"])
def test_a_count_out_of_range_never_breaks_a_rule(count: str, command: Command) -> None:
    Path("door.yaml").write_text(
        HEAD + f"products: {{s: {{kind: electronic_lock, battery_operations: {count}, cycles: {count}}}, "
        f"x: {{kind: power_transfer, conductors: {count}}}}}\n"
        f"cables: {{c: {{kind: multiconductor, conductor: 18 AWG, conductors: {count}}}}}\n"
        f"power: {{psu: {{kind: power_supply, supply: dc, voltage: 12 V, current: 2 A, ports: {count}}}}}\n"
        f"openings: {{D1: {{leaf: {{count: {count}}}, occupancy: {{load: {count}}}, peak_flow: {count}, items: {{lock: "
        f"{{product: s, fed_from: psu, cable: c, length: 3 m, operations_per_day: {count}, splices: {count}, "
        f"parallel_conductors: {count}, through_transfer: x}}, x: {{product: x}}}}}}}}\n"
    )
    status, out, _ = command("review", "door.yaml")
    assert status == 1
    assert "rule-broke" not in out


# -- files -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pattern", "rule"),
    [
        ("../outside.yaml", "include/outside"),
        ("a/../../outside.yaml", "include/outside"),
        ("/etc/hostname", "include/outside"),
        ("~/outside.yaml", "include/missing"),
        ("out.yaml", "include/outside"),  # a link that leads out
        ("into/outside.yaml", "include/outside"),  # a folder that leads out
        ("round/*.yaml", "include/missing"),  # a link that leads to itself
        ("gone.yaml", "include/missing"),  # a link that leads nowhere
        ("folder.yaml", "include/missing"),
        ("pipe.yaml", "include/missing"),
        ("full.yaml", "include/missing"),  # a device
        ("", "include/missing"),
        (".", "include/missing"),
        ("a\\0b", "include/missing"),
        ("[", "include/missing"),
        ("**", "include/missing"),
        ("**/**/**/**/*.yml", "include/missing"),
        ("x" * 5000, "include/missing"),
        ("a/" * 3000, "include/missing"),
    ],
)
def test_an_include_stays_below_its_folder_and_waits_for_nothing(pattern: str, rule: str, command: Command) -> None:
    Path("outside.yaml").write_text("doorlint: 1\nopenings: {SECRET: {}}\n")
    spec = Path("spec")
    (spec / "folder.yaml").mkdir(parents=True)
    (spec / "out.yaml").symlink_to("../outside.yaml")
    (spec / "into").symlink_to("..")
    (spec / "round").symlink_to("round")
    (spec / "gone.yaml").symlink_to("nowhere")
    (spec / "full.yaml").symlink_to("/dev/full")
    os.mkfifo(spec / "pipe.yaml")
    (spec / "project.yaml").write_text(HEAD + f'include: "{pattern}"\n')
    status, out, _ = command("review", "spec/project.yaml")
    assert status in (1, 2)
    assert f"[{rule}]" in out
    assert "SECRET" not in out


def test_a_folder_full_of_links_to_itself_ends(command: Command) -> None:
    Path("loop").mkdir()
    for number in range(6):
        Path(f"loop/{number}").symlink_to(".")
    Path("door.yaml").write_text(HEAD + "include: '**/*.yaml'\nopenings: {D1: {}}\n")
    status, out, _ = command("review", "door.yaml")
    assert status in (0, 1)
    assert "D1" in command("sequence", "D1", "door.yaml")[1]
    Path("loop/part.yaml").write_text("doorlint: 1\nopenings: {D2: {}}\n")
    assert "D2" in command("sequence", "D2", "door.yaml")[1]
    assert out.count("include/") == 0


def test_files_that_include_each_other_are_told(command: Command) -> None:
    Path("door.yaml").write_text(HEAD + "include: a.yaml\n")
    Path("a.yaml").write_text("doorlint: 1\ninclude: b.yaml\n")
    Path("b.yaml").write_text("doorlint: 1\ninclude: a.yaml\n")
    status, out, _ = command("review", "door.yaml")
    assert (status, "[include/cycle]" in out) == (1, True)


def special(name: str) -> str:
    """The path of something that is no file."""
    if name == "pipe":
        os.mkfifo("pipe.yaml")
        return "pipe.yaml"
    if name == "folder":
        Path("folder.yaml").mkdir()
        return "folder.yaml"
    if name == "link to itself":
        Path("round.yaml").symlink_to("round.yaml")
        return "round.yaml"
    if name == "link to nowhere":
        Path("gone.yaml").symlink_to("nowhere.yaml")
        return "gone.yaml"
    return {"zeros": "/dev/zero", "nothing": "/dev/null", "under a file": "door.yaml/below.yaml",
            "NUL": "a\0b", "long": "x" * 5000, "folder of devices": "/dev/fd/999"}[name]  # fmt: skip


SPECIAL = ("pipe", "folder", "link to itself", "link to nowhere", "zeros", "nothing", "under a file", "NUL", "long",
           "folder of devices")  # fmt: skip


@pytest.mark.parametrize("name", SPECIAL)
def test_a_path_that_is_no_file_is_refused_by_every_command(name: str, command: Command) -> None:
    Path("door.yaml").write_text(DOOR)
    Path("door.csv").write_text("door,width\nD1,3 ft\n")
    path = special(name)
    for arguments in (
        ["review", path], ["review", "door.yaml", "--format", "sarif", "--earlier", path], ["house", path],
        ["questions", path], ["budget", path], ["sequence", "D1", path], ["working", "D1", path],
        ["compare", path, "door.yaml"], ["compare", "door.yaml", path], ["documents", path, "--into", "made"],
        ["model", path, path], ["model", "door.yaml", path], ["intake", path, "--into", "taken"],
        ["intake", "door.csv", "--columns", path, "--into", "taken"], ["review", "--only-specs", path],
    ):  # fmt: skip
        status, out, err = command(*arguments)
        assert (status, out) == (2, ""), arguments
        assert err.startswith("doorlint: ") and err.count("\n") == 1, (arguments, err)
        check_printable("err", err)
    assert not Path("made").exists() and not Path("taken").exists()


def test_a_file_that_vanishes_while_it_is_read_is_told(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    Path("part.yaml").write_text("doorlint: 1\nopenings: {D1: {}}\n")
    Path("door.yaml").write_text(HEAD + "include: part.yaml\n")
    read = Path.read_bytes

    def vanishing(path: Path) -> bytes:
        path.unlink()
        return read(path)

    monkeypatch.setattr(Path, "read_bytes", lambda path: vanishing(path) if path.name == "part.yaml" else read(path))
    status, out, _ = command("review", "door.yaml")
    assert status == 2
    assert "included file part.yaml does not exist" in out
    monkeypatch.setattr(Path, "read_bytes", lambda path: vanishing(path) if path.name == "door.yaml" else read(path))
    status, out, err = command("review", "door.yaml")
    assert (status, out, err) == (2, "", "doorlint: door.yaml: does not exist\n")


def test_what_may_not_be_read_or_written_is_told(tmp_path: Path, command: Command) -> None:
    Path("door.yaml").write_text(HEAD + "include: parts/*.yaml\n")
    Path("closed.yaml").write_text(DOOR)
    Path("parts").mkdir()
    Path("parts/part.yaml").write_text("doorlint: 1\n")
    Path("closed").mkdir()
    command("review", "door.yaml", "--output", "report.txt")  # all of the program is imported while it may be read
    Path("parts/part.yaml").chmod(0)
    Path("closed.yaml").chmod(0)
    Path("closed").chmod(0)
    tmp_path.chmod(0o755)
    opened = []
    for folder in tmp_path.parents:
        mode = folder.stat().st_mode
        if folder.stat().st_uid == os.geteuid() and mode & 0o011 != 0o011:
            opened.append((folder, mode))
            folder.chmod(mode | 0o011)
    user = os.geteuid()
    try:
        if user == 0:
            os.seteuid(65534)  # permissions do not hold for root
        status, out, _ = command("review", "door.yaml")
        assert status == 2, out
        assert "included file parts/part.yaml may not be read (permission)" in out
        assert command("review", "closed.yaml") == (2, "", "doorlint: closed.yaml: may not be read (permission)\n")
        assert command("review", "closed/door.yaml")[0] == 2
        assert command("review", "closed") == (2, "", "doorlint: closed: may not be read (permission)\n")
        status, out, err = command("review", "door.yaml", "--output", "closed/report.txt")
        assert (status, out) == (2, "")
        assert "no permission to write there" in err
    finally:
        os.seteuid(user)
        for folder, mode in opened:
            folder.chmod(mode)
        Path("closed").chmod(0o755)


@pytest.mark.parametrize(
    ("output", "told"),
    [
        ("missing/report.txt", "its folder does not exist"),
        ("folder", "it is a folder"),
        ("door.yaml", "it is a file of the spec"),
        ("link.yaml", "it is a file of the spec"),
        ("door.yaml/report.txt", "a part of its path is no folder"),
        ("/dev/full", "it is no regular file"),
        ("pipe", "it is no regular file"),
        ("round", "not written"),
        ("x" * 5000, "not written"),
        ("a\0b", "this is no file name"),
    ],
    ids=lambda text: text[:20].replace("\0", "NUL"),
)
@pytest.mark.parametrize("asked", ["review", "compare", "questions"])
def test_a_report_that_cannot_be_written_leaves_everything_as_it_was(
    asked: str, output: str, told: str, command: Command
) -> None:
    Path("door.yaml").write_text(DOOR)
    Path("link.yaml").symlink_to("door.yaml")
    Path("round").symlink_to("round")
    Path("folder").mkdir()
    os.mkfifo("pipe")
    before = sorted(Path().iterdir())
    paths = ["door.yaml", "door.yaml"] if asked == "compare" else ["door.yaml"]
    status, out, err = command(asked, *paths, "--output", output)
    assert (status, out) == (2, "")
    assert told in err and err.count("\n") == 1
    assert sorted(Path().iterdir()) == before
    assert Path("door.yaml").read_text() == DOOR


@pytest.mark.parametrize("into", ["door.yaml", "door.yaml/below", "/dev/full", "/dev/full/x", "pipe", "round", "a\0b"])
def test_a_folder_that_is_a_file_takes_no_documents(into: str, command: Command) -> None:
    Path("door.yaml").write_text(DOOR)
    Path("round").symlink_to("round")
    os.mkfifo("pipe")
    before = sorted(Path().iterdir())
    status, out, err = command("documents", "door.yaml", "--into", into)
    assert (status, out) == (2, "")
    assert err.count("\n") == 1
    assert sorted(Path().iterdir()) == before


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="the system has no device that is always full")
@pytest.mark.parametrize(
    "arguments", [["review", "door.yaml"], ["rules"], ["review", "door.yaml", "--format", "sarif"]]
)
def test_a_disk_that_is_full_is_told_and_no_traceback(arguments: list[str], tmp_path: Path) -> None:
    """Standard output goes to the full device, as with a redirection."""
    (tmp_path / "door.yaml").write_text(DOOR)
    with Path("/dev/full").open("w") as full:
        ended = subprocess.run(
            [sys.executable, "-m", "doorlint", *arguments],
            stdout=full, stderr=subprocess.PIPE, text=True, cwd=tmp_path, timeout=60, check=False,
        )  # fmt: skip
    assert ended.returncode == 2
    assert ended.stderr.startswith("doorlint: standard output: not written: no space left")
    assert "Traceback" not in ended.stderr


SARIF = {
    "deep": "[" * 100_000,
    "deep and closed": "[" * 50_000 + "]" * 50_000,
    "no JSON": "{",
    "NaN": '{"version": "2.1.0", "runs": NaN}',
    "huge number": '{"version": "2.1.0", "runs": [' + "9" * 5000 + "]}",
    "null runs": '{"version": "2.1.0", "runs": [null, 1, "x", [], {}]}',
    "another tool": '{"version": "2.1.0", "runs": [{"tool": {"driver": {"name": "another"}}, "results": []}]}',
    "odd results": '{"version": "2.1.0", "runs": [{"tool": {"driver": {"name": "doorlint"}}, "results": [1, {}]}]}',
    "a lone surrogate": '{"version": "2.1.0", "runs": "\\ud800"}',
}  # fmt: skip


@pytest.mark.parametrize("name", SARIF)
def test_an_earlier_report_that_is_none_is_refused(name: str, command: Command) -> None:
    Path("door.yaml").write_text(DOOR)
    Path("before.sarif").write_text(SARIF[name])
    for arguments in (
        ["review", "door.yaml", "--format", "sarif", "--earlier", "before.sarif"],
        ["compare", "before.sarif", "door.yaml"],
    ):
        status, out, err = command(*arguments)
        assert (status, out) == (2, ""), err
        assert err.startswith("doorlint: before.sarif") and err.count("\n") == 1
