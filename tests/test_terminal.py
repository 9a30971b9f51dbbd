"""The report on a terminal: in colour, the same text; plain in a pipe; a bar only when it takes long."""

from __future__ import annotations

import io
import os
import pty
import re
import select
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pyte
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorlint import cli
from doorlint.report import terminal
from doorlint.report.text import plain

SPEC = """\
doorlint: 1
project: {name: Invented}
products:
  strike: {kind: electric_strike, fail: secure, coil: {supply: dc, voltage: 12 V, current: 450 mA, built_in_suppression: none}}
power:
  psu: {kind: power_supply, supply: dc, voltage: 24 V, current: 2 A}
openings:
  "1":
    title: "[bold]not markup[/bold] :smile: \\u65e5\\u672c"
    items: {lock: {product: strike, fed_from: psu}}
"""  # noqa: E501
COLUMNS, LINES = 240, 400
_CODES = re.compile(r"\x1b\[[0-9;]*m")


class Tty(io.StringIO):
    """A stream that says that it is a terminal."""

    def isatty(self) -> bool:
        return True


def command(spec: Path) -> list[str]:
    return [sys.executable, "-m", "doorlint", "review", spec.name]


def environment(**more: str) -> dict[str, str]:
    kept = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "FORCE_COLOR", "COLORTERM", "TERM")}
    return {**kept, "TERM": "xterm-256color", "COLUMNS": "60", "PYTHONPATH": str(Path(cli.__file__).parents[1]), **more}


def on_terminal(spec: Path, *, stream: str = "stdout", **more: str) -> tuple[str, str]:
    """What the command writes where `stream` is a terminal: that, and what goes to the other one, a pipe."""
    master, slave = pty.openpty()
    streams = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, stream: slave}
    process = subprocess.Popen(command(spec), cwd=spec.parent, env=environment(**more), **streams)  # type: ignore[call-overload]
    os.close(slave)
    seen = b""
    while True:
        # the terminal closes with the process; until then reading on keeps its buffer from filling up
        if not select.select([master], [], [], 30)[0]:
            break
        try:
            part = os.read(master, 65536)
        except OSError:
            break
        if not part:
            break
        seen += part
    out, err = process.communicate(timeout=30)
    os.close(master)
    return seen.decode(), ((err if stream == "stdout" else out) or b"").decode()


@pytest.fixture(scope="module")
def spec(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("terminal") / "spec.yaml"
    path.write_text(SPEC)
    return path


@pytest.fixture(scope="module")
def piped(spec: Path) -> str:
    """What the command writes into a pipe."""
    done = subprocess.run(command(spec), cwd=spec.parent, env=environment(), capture_output=True, check=False)
    assert done.stderr == b""
    return done.stdout.decode()


def test_plain_in_a_pipe(piped: str) -> None:
    assert "\x1b" not in piped
    assert ": error: " in piped and "Total: " in piped


def test_a_terminal_shows_the_same_text(spec: Path, piped: str) -> None:
    seen, err = on_terminal(spec)
    assert err == ""
    assert _CODES.sub("", seen).replace("\r\n", "\n") == piped
    screen = pyte.Screen(COLUMNS, LINES)
    pyte.Stream(screen).feed(seen)
    shown = [line.rstrip() for line in screen.display]
    # a character of double width takes two columns of the screen
    assert [line for line in shown if line] == [line.rstrip() for line in piped.splitlines() if line and line.strip()]


def test_colour_by_level_beside_the_word(spec: Path) -> None:
    seen, _ = on_terminal(spec)
    screen = pyte.Screen(COLUMNS, LINES)
    pyte.Stream(screen).feed(seen)
    colours: dict[str, set[str]] = {}
    for row, line in enumerate(screen.display):
        if found := re.match(r"\S+:\d+:\d+: (\w+): ", line):
            cell = screen.buffer[row][found.start(1)]
            colours.setdefault(found[1], set()).add(cell.fg)
            assert cell.bold
    assert colours["error"] == {"red"}
    assert all(len(found) == 1 for found in colours.values())
    assert len({next(iter(found)) for found in colours.values()}) == len(colours)


@pytest.mark.parametrize("setting", [{"NO_COLOR": "1"}, {"TERM": "dumb"}])
def test_without_colour(setting: dict[str, str], spec: Path, piped: str) -> None:
    seen, err = on_terminal(spec, **setting)
    assert seen.replace("\r\n", "\n") == piped
    assert err == ""


def test_an_empty_no_color_is_not_set(spec: Path) -> None:
    assert "\x1b[" in on_terminal(spec, NO_COLOR="")[0]


def test_no_bar_on_a_short_run(spec: Path, piped: str) -> None:
    seen, out = on_terminal(spec, stream="stderr")
    # a slow machine may need more than a second, and then shows the bar and nothing else
    assert seen == "" or ("\x1b[?25l" in seen and ("judging" in seen or "cures" in seen))
    assert out == piped


def test_a_file_gets_no_colour(spec: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(spec.parent)
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    stream = Tty()
    monkeypatch.setattr(sys, "stdout", stream)
    assert cli.run(["review", spec.name, "--output", str(tmp_path / "report.txt")]) == 1
    assert stream.getvalue() == ""
    assert cli.run(["review", spec.name]) == 1
    assert "\x1b[" in stream.getvalue()
    assert (tmp_path / "report.txt").read_text() == _CODES.sub("", stream.getvalue())


def test_without_the_library_plain_and_one_line_of_advice(
    spec: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(spec.parent)
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    assert cli.run(["review", spec.name]) == 1
    piped = capsys.readouterr().out
    monkeypatch.setattr(terminal, "available", lambda: False)
    stream = Tty()
    monkeypatch.setattr(sys, "stdout", stream)
    assert cli.run(["review", spec.name]) == 1
    assert stream.getvalue() == piped
    err = capsys.readouterr().err
    assert "doorlint[terminal]" in err and err.count("\n") == 1


LINE = st.one_of(
    st.text(max_size=60),
    st.sampled_from(sorted(terminal.STYLES)).map(lambda word: f"a/b.yaml:3:14: {word}: 1/lock: [x/y] so [topic/rule]"),
    st.sampled_from(
        ["[red]x[/red]", ":smile:", "    ====", "    cure: do it", "Total: x", "e\u0301 \u65e5\u672c", "  x  "]
    ),
).map(plain)  # fmt: skip


@given(st.lists(LINE, max_size=8))
@settings(max_examples=100, deadline=None)
def test_colour_changes_no_text(lines: list[str]) -> None:
    environ = dict(os.environ)
    os.environ["TERM"] = "xterm-256color"
    try:
        text = terminal.coloured(lines, Tty())
    finally:
        os.environ.clear()
        os.environ.update(environ)
    assert _CODES.sub("", text) == "".join(f"{line}\n" for line in lines)


@pytest.mark.parametrize("word", list(terminal.STYLES))
def test_every_word_has_its_style(word: str) -> None:
    text = terminal.styled(f"door.yaml:1:2: {word}: 1: it is so [topic/rule]")
    (span,) = [span for span in text.spans if text.plain[span.start : span.end] == word]
    assert span.style == terminal.STYLES[word]


def test_source_lines_are_not_taken_for_messages() -> None:
    assert not terminal.styled("    x.yaml:1:1: error: from the spec [a/b]").spans


# --- the bar ---


def clock(*times: float) -> Iterator[float]:
    yield from times


@pytest.fixture
def terminal_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.setenv("COLUMNS", "80")


@pytest.mark.usefixtures("terminal_there")
def test_no_bar_within_the_first_second() -> None:
    stream, times = Tty(), clock(0.0, 0.2, 0.6, 0.99)
    with terminal.bar(stream, lambda: next(times)) as tell:
        assert tell is not None
        for number in range(3):
            tell("judging", number, 3)
    assert stream.getvalue() == ""


@pytest.mark.usefixtures("terminal_there")
def test_the_bar_shows_and_goes() -> None:
    stream, times = Tty(), clock(0.0, 0.5, 1.2, 1.25, 1.5)
    screen = pyte.Screen(80, 5)
    reader = pyte.Stream(screen)
    with terminal.bar(stream, lambda: next(times)) as tell:
        assert tell is not None
        tell("reading", 0, 1)
        tell("judging", 3, 10)
        reader.feed(stream.getvalue())
        assert "judging" in screen.display[0] and "3/10" in screen.display[0]
        tell("judging", 4, 10)  # too soon after the last
        length = len(stream.getvalue())
        tell("judging", 7, 10)
        assert len(stream.getvalue()) > length
    screen.reset()
    reader.feed(stream.getvalue())
    assert not "".join(screen.display).strip()
    assert not screen.cursor.hidden


@pytest.mark.usefixtures("terminal_there")
def test_the_bar_goes_when_the_review_breaks() -> None:
    stream, times = Tty(), clock(0.0, 2.0)
    with pytest.raises(ValueError, match="broke"), terminal.bar(stream, lambda: next(times)) as tell:
        assert tell is not None
        tell("judging", 1, 2)
        raise ValueError("broke")
    screen = pyte.Screen(80, 5)
    pyte.Stream(screen).feed(stream.getvalue())
    assert not "".join(screen.display).strip() and not screen.cursor.hidden


@pytest.mark.parametrize("stream", [io.StringIO(), None])
def test_no_bar_without_a_terminal(stream: io.StringIO | None) -> None:
    with terminal.bar(stream) as tell:
        assert tell is None


@pytest.mark.usefixtures("terminal_there")
def test_the_bar_has_no_colour_where_none_is_wanted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NO_COLOR", "1")
    stream, times = Tty(), clock(0.0, 2.0)
    with terminal.bar(stream, lambda: next(times)) as tell:
        assert tell is not None
        tell("judging", 1, 2)
    assert not re.search(r"\x1b\[(3|4|9)\d", stream.getvalue())


def test_a_closed_stream_is_no_terminal() -> None:
    stream = io.StringIO()
    stream.close()
    assert not terminal.is_terminal(stream)


def test_a_review_tells_how_far_it_is(spec: Path) -> None:
    from doorlint.reviewing import review_all

    told: list[tuple[str, int, int]] = []
    (result,) = review_all([spec], progress=lambda *step: told.append(step))
    judged = [step for step in told if step[0] == "judging"]
    assert [done for _, done, _ in judged] == list(range(len(result.rulebook.modules)))
    assert {of for *_, of in judged} == {len(result.rulebook.modules)}
