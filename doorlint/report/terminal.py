"""The text report on a terminal: the same lines in colour, and a bar on standard error while a review takes long.

Colour repeats what a word in the line says already; without it nothing is lost. The library for it is optional.
"""

from __future__ import annotations

import os
import re
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TextIO

if TYPE_CHECKING:
    from rich.text import Text

    from ..reviewing import Progress

ADVICE = "colour and a progress bar need a library that is not installed: pip install 'doorlint[terminal]'"
"""What to say where a terminal is there and the library is not."""

STYLES = {
    "error": "bold red",
    "warning": "bold yellow",
    "note": "bold cyan",
    "open": "bold magenta",
    "review": "bold blue",
    "pass": "bold green",
    "notApplicable": "bold",
    "waived": "bold",
}
"""The style of the word in a message line that says what it is."""

LONG_S = 1.0
"""A review longer than this shows how far it is."""
_REFRESH_S = 0.1

_MESSAGE = re.compile(rf"(?P<where>\S.*?:\d+:\d+): (?P<word>{'|'.join(STYLES)}): .*?(?P<rule> \[[^\[\]]+\])?$")
_MARK = re.compile(r"\s+=+(  to line \d+)?$")
_ASIDE = re.compile(r"\s+(?P<word>cure|waived): ")


def is_terminal(stream: TextIO | None) -> bool:
    """Whether somebody looks at this stream on a terminal that shows more than plain lines."""
    if stream is None or os.environ.get("TERM") == "dumb":
        return False
    try:
        return stream.isatty()
    except ValueError:  # closed
        return False


def wants_colour(stream: TextIO | None) -> bool:
    """Whether to colour what goes to this stream: a terminal, and NO_COLOR not set (https://no-color.org)."""
    return is_terminal(stream) and not os.environ.get("NO_COLOR")


def available() -> bool:
    """Whether the library for colour and bar is installed."""
    from importlib.util import find_spec

    return find_spec("rich") is not None


def coloured(lines: Iterable[str], stream: TextIO) -> str:
    """The lines as text with colour codes as the terminal behind `stream` takes them, and otherwise the same.

    ImportError where the library is not installed.
    """
    from rich.console import Console

    # no markup, no emoji: the lines are laid out already, and what the spec says is not ours to read
    console = Console(
        file=stream, force_terminal=True, markup=False, emoji=False, highlight=False, legacy_windows=False
    )
    with console.capture() as written:
        for line in lines:
            console.print(styled(line), soft_wrap=True)
    return written.get()


def styled(line: str) -> Text:
    """A line of the report with its styles."""
    from rich.text import Text

    text = Text(line)
    message = _MESSAGE.match(line)
    if message is not None:
        text.stylize("bold", *message.span("where"))
        text.stylize(STYLES[message["word"]], *message.span("word"))
        if message["rule"]:
            text.stylize("dim", *message.span("rule"))
    elif _MARK.match(line):
        text.stylize("bold")
    elif aside := _ASIDE.match(line):
        text.stylize("green" if aside["word"] == "cure" else "bold", *aside.span("word"))
    elif line.startswith(("Total: ", "rule  ", "Spec ")):
        text.stylize("bold")
    return text


@contextmanager
def bar(stream: TextIO | None, clock: Callable[[], float] = time.monotonic) -> Iterator[Progress | None]:
    """What to tell the progress of a review to; None where nobody would see it.

    The bar appears once the work has taken LONG_S, on `stream` alone, and is gone at the end. Nothing runs beside
    the review: the bar moves when it is told something.
    """
    if stream is None or not is_terminal(stream) or not available():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, TextColumn
    from rich.progress import Progress as Bar

    console = Console(file=stream, force_terminal=True, no_color=not wants_colour(stream), legacy_windows=False)
    columns = (TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn())
    shown = Bar(*columns, console=console, transient=True, auto_refresh=False, redirect_stdout=False,
                redirect_stderr=False)  # fmt: skip
    task = shown.add_task("", total=1)
    started = last = clock()
    running = False

    def tell(what: str, done: int, of: int) -> None:
        nonlocal running, last
        now = clock()
        if now - started < LONG_S or (running and now - last < _REFRESH_S):
            return
        last = now
        shown.update(task, description=what, completed=done, total=of)
        if not running:
            shown.start()
            running = True
        shown.refresh()

    try:
        yield tell
    finally:
        if running:
            shown.stop()
