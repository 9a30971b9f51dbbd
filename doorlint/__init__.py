"""doorlint reviews a YAML door specification for IP-based access control by computing.

    import doorlint
    result = doorlint.review("examples/gull_point_ferry_terminal")
    for outcome in result.findings():
        print(outcome.subject, outcome.message)

The public interface is what this module names; everything else may change without notice.

To review: `review(path)` reviews one spec, `review_all(paths)` every spec that the paths belong to, `review_text(text)`
a spec given as text. Each gives a `Result`: an `Outcome` for every requirement looked at, with its `Kind`, its `Level`,
a `Place` in the YAML, figures (`Measure`), working (`Step`, `Term`), ground (`Cited`, `Practice`), other places
(`Related`) and cures (`Repair`, `Change`). `SpecError` says that there was nothing to review. `__version__` is the
version of doorlint.

To write rules: a rule is a module with a `Rule` named `RULE` and a generator `check(subject, context)` over an `Item`,
an `Opening` or another type that `Context.subjects` holds. It asks with `known` for a `Quantity`, a `Band` or a word
that may be missing, and yields a `Verdict` made by `ok`, `failed`, `undecided`, `to_authority`, `not_applicable`,
`at_most` or `at_least`. A package offers its rules through a function `doorlint_rules` marked with `hookimpl` and an
entry point in the group `doorlint`, or they are passed with `collect([plugin])`, which gives a `Rulebook`.
`load_cases(path)` and `run_case(case)` try the cases that stand beside a rule.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .cases import load_cases, run_case
    from .context import Context
    from .outcome import (
        Change,
        Cited,
        Kind,
        Level,
        Measure,
        Outcome,
        Place,
        Practice,
        Related,
        Repair,
        Step,
        Term,
        Verdict,
        at_least,
        at_most,
        failed,
        not_applicable,
        ok,
        to_authority,
        undecided,
    )
    from .quantity import Band, Quantity
    from .reviewing import Result, SpecError, review, review_all, review_text
    from .rulebook import Rule, Rulebook, collect, hookimpl
    from .spec import Item, Opening, known

__version__ = "0.1.0"

# Imported when first asked for, so that `import doorlint` and a command's help stay quick.
_HOMES = {
    "Band": "quantity",
    "Change": "outcome",
    "Cited": "outcome",
    "Context": "context",
    "Item": "spec",
    "Kind": "outcome",
    "Level": "outcome",
    "Measure": "outcome",
    "Opening": "spec",
    "Outcome": "outcome",
    "Place": "outcome",
    "Practice": "outcome",
    "Quantity": "quantity",
    "Related": "outcome",
    "Repair": "outcome",
    "Result": "reviewing",
    "Rule": "rulebook",
    "Rulebook": "rulebook",
    "SpecError": "reviewing",
    "Step": "outcome",
    "Term": "outcome",
    "Verdict": "outcome",
    "at_least": "outcome",
    "at_most": "outcome",
    "collect": "rulebook",
    "failed": "outcome",
    "hookimpl": "rulebook",
    "known": "spec",
    "load_cases": "cases",
    "not_applicable": "outcome",
    "ok": "outcome",
    "review": "reviewing",
    "review_all": "reviewing",
    "review_text": "reviewing",
    "run_case": "cases",
    "to_authority": "outcome",
    "undecided": "outcome",
}

__all__ = [
    "Band",
    "Change",
    "Cited",
    "Context",
    "Item",
    "Kind",
    "Level",
    "Measure",
    "Opening",
    "Outcome",
    "Place",
    "Practice",
    "Quantity",
    "Related",
    "Repair",
    "Result",
    "Rule",
    "Rulebook",
    "SpecError",
    "Step",
    "Term",
    "Verdict",
    "__version__",
    "at_least",
    "at_most",
    "collect",
    "failed",
    "hookimpl",
    "known",
    "load_cases",
    "not_applicable",
    "ok",
    "review",
    "review_all",
    "review_text",
    "run_case",
    "to_authority",
    "undecided",
]


if not TYPE_CHECKING:  # else a type checker would take every name for one of ours, misspelt ones too

    def __getattr__(name: str) -> Any:
        home = _HOMES.get(name)
        if home is None:
            raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
        from importlib import import_module

        return getattr(import_module(f".{home}", __name__), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
