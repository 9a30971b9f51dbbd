"""The built-in rules: one folder per topic, one module per rule, its cases beside it.

They are offered through the same hook and entry point as anybody's.
"""

from __future__ import annotations

from collections.abc import Iterator
from importlib import import_module
from pkgutil import iter_modules
from typing import Any

from doorlint.rulebook import NotLoaded, hookimpl


def modules(package: Any = None) -> Iterator[Any]:
    """Every module below this package that declares a `RULE`, in alphabetical order; NotLoaded for one that breaks."""
    name = package.__name__ if package else __name__
    path = package.__path__ if package else __path__
    for found in sorted(iter_modules(path), key=lambda f: f.name):
        full = f"{name}.{found.name}"
        try:
            module = import_module(full)
        except Exception as error:  # the other rules still count
            yield NotLoaded(full, f"{type(error).__name__}: {error}")
            continue
        if found.ispkg:
            yield from modules(module)
        elif hasattr(module, "RULE"):
            yield module


@hookimpl
def doorlint_rules() -> list[Any]:
    """The built-in rule modules."""
    return list(modules())
