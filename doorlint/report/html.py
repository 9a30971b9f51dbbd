"""The report as one HTML file that needs no network: Jinja2 lays out what `html_view` makes of the results.

Hostile text stays text: autoescape is on, control and bidi characters are spelt out as in the text report, ids and
classes never come from the spec, and the page's own policy allows only its one style and one script, by hash.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from datetime import date
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from .. import __version__
from ..today import today
from .html_data import KIND_MEANS, KIND_WORDS, KINDS, Limits
from .html_view import view
from .text import CAUTIONS, plain

if TYPE_CHECKING:
    from ..reviewing import Result


def render(results: Sequence[Result], *, limits: Limits | None = None, on: date | None = None) -> str:
    """The report on one spec or several as the text of an HTML file.

    limits: what it holds at most. on: the day of the review, today without it.
    """
    views = [view(result, f"s{number}", limits) for number, result in enumerate(results, 1)]
    style, script = _own("report.css"), _own("report.js")
    title = f"Door review: {views[0].name}" if len(views) == 1 else f"Door review of {len(views)} specifications"
    return _environment().get_template("report.html.j2").render(
        specs=views,
        title=title,
        on=(on or today()).isoformat(),
        version=__version__,
        cautions=CAUTIONS,
        kinds=KINDS,
        kind_words=KIND_WORDS,
        kind_means=KIND_MEANS,
        style=Markup(style),
        script=Markup(script),
        policy=f"default-src 'none'; style-src {_hash(style)}; script-src {_hash(script)}; "
        "base-uri 'none'; form-action 'none'",
    )  # fmt: skip


@cache
def _environment() -> Environment:
    # once: to compile the templates takes longer than to lay out a report
    return Environment(
        loader=PackageLoader("doorlint.report", "templates"),
        autoescape=True,
        finalize=_spelt,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def _spelt(value: Any) -> Any:
    """Every text that a template prints passes here; what the templates made themselves is Markup and stays."""
    return plain(value) if isinstance(value, str) and not isinstance(value, Markup) else value


def _own(name: str) -> str:
    return files("doorlint.report").joinpath("templates", name).read_text(encoding="utf-8")


def _hash(text: str) -> str:
    """How a Content Security Policy names an inline style or script (W3C CSP Level 3, hash sources)."""
    return "'sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii") + "'"
