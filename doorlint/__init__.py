"""doorlint reviews a YAML door specification for IP-based access control by computing.

The public interface is what this module names; everything else may change without notice.

    import doorlint
    result = doorlint.review("examples/gull_point_ferry_terminal")
    for outcome in result.findings():
        print(outcome.subject, outcome.message)

`review(path)` reviews one spec, `review_all(paths)` every spec that the paths belong to, `review_text(text)` a spec
given as text; each gives a `Result`. Rules of your own are modules with a `Rule` named `RULE` and a `check`; offer them
through the hook `doorlint_rules` (marked with `hookimpl`) or pass them with `collect([plugin])`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .context import Context
    from .outcome import Cited, Kind, Level, Measure, Outcome, Place, Practice, Verdict
    from .reviewing import Result, SpecError, review, review_all, review_text
    from .rulebook import Rule, Rulebook, collect, hookimpl

__version__ = "0.1.0"

# Imported when first asked for, so that `import doorlint` and a command's help stay quick.
_HOMES = {
    "Cited": "outcome",
    "Context": "context",
    "Kind": "outcome",
    "Level": "outcome",
    "Measure": "outcome",
    "Outcome": "outcome",
    "Place": "outcome",
    "Practice": "outcome",
    "Result": "reviewing",
    "Rule": "rulebook",
    "Rulebook": "rulebook",
    "SpecError": "reviewing",
    "Verdict": "outcome",
    "collect": "rulebook",
    "hookimpl": "rulebook",
    "review": "reviewing",
    "review_all": "reviewing",
    "review_text": "reviewing",
}

__all__ = [
    "Cited",
    "Context",
    "Kind",
    "Level",
    "Measure",
    "Outcome",
    "Place",
    "Practice",
    "Result",
    "Rule",
    "Rulebook",
    "SpecError",
    "Verdict",
    "__version__",
    "collect",
    "hookimpl",
    "review",
    "review_all",
    "review_text",
]


def __getattr__(name: str) -> Any:
    home = _HOMES.get(name)
    if home is None:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f".{home}", __name__), name)
