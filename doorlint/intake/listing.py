"""The file that lists what of a source was not understood, written anew at each intake."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from .records import NotUnderstood
from .yaml_text import scalar

_HEAD: Final = """\
# What doorlint did not understand of {source} at the last intake: where it stands, what was read, what was expected.
# It is `unknown` in the spec, or left out. doorlint writes this file anew at each intake and never reads it.
"""


def render(source: str, missed: Iterable[NotUnderstood]) -> str:
    """The list as YAML, an entry for each text."""
    shown = "".join(char if char.isprintable() else " " for char in source)
    lines = [
        f"  - at: {scalar(one.place)}\n"
        + (f"    opening: {scalar(one.opening)}\n" if one.opening else "")
        + f"    text: {scalar(one.text)}\n    why: {scalar(one.why)}\n"
        for one in missed
    ]
    return f"{_HEAD.format(source=shown)}not_understood:{chr(10) if lines else ' []' + chr(10)}{''.join(lines)}"
