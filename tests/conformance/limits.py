"""Where a rule compares numbers, and on which side of each limit its cases lie.

A rule's module is read again with every ordering comparison replaced by a call that notes how the two sides stood. The
comparisons that `at_most`, `at_least` and the settings of the codes make are noted at the place that asks for them.
"""

from __future__ import annotations

import ast
import inspect
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from fractions import Fraction
from types import ModuleType
from typing import Any, cast
from unittest.mock import patch

from doorlint import outcome
from doorlint.codes.setting import Setting
from doorlint.outcome import Measure, Verdict
from doorlint.quantity import Band, Quantity

_ORDERS: dict[str, Callable[[Any, Any], bool]] = {
    "Lt": lambda a, b: bool(a < b),
    "LtE": lambda a, b: bool(a <= b),
    "Gt": lambda a, b: bool(a > b),
    "GtE": lambda a, b: bool(a >= b),
}


@dataclass
class Seen:
    """For each limit, by the text that names it, the sides on which a value was seen: -1, 0, 1. `inexact`: limits that
    were met with floats, which a solved circuit never reaches exactly."""

    sides: dict[str, set[int]] = field(default_factory=lambda: defaultdict(set))
    inexact: set[str] = field(default_factory=set)

    def note(self, where: str, one: object, other: object) -> None:
        """Two numbers were compared. What is no number, such as a set or a text, is no limit."""
        if not (_number(one) and _number(other)):
            return
        a, b = cast("Any", one), cast("Any", other)
        self.sides[where].add((a > b) - (a < b))
        if isinstance(a, float) or isinstance(b, float):
            self.inexact.add(where)

    def lacking(self) -> dict[str, list[str]]:
        """The limits on which not every side was seen, with the sides that lack."""
        names = {-1: "below", 0: "at", 1: "above"}
        found = {}
        for where, sides in self.sides.items():
            wanted = {-1, 1} if where in self.inexact else {-1, 0, 1}
            if not wanted <= sides:
                found[where] = [names[side] for side in sorted(wanted - sides)]
        return found


def _number(value: object) -> bool:
    return isinstance(value, int | float | Fraction) and not isinstance(value, bool)


class _Noting(ast.NodeTransformer):
    """`a <= b` becomes `_compared("a <= b", ["LtE"], [lambda: a, lambda: b])`, but for comparisons that are no limit:
    those that only choose a repair, that count what is listed, or that keep a figure above zero."""

    def visit_FunctionDef(self, node: ast.FunctionDef) -> ast.AST:
        if node.returns is None or "Repair" not in ast.unparse(node.returns):
            self.generic_visit(node)
        return node

    def visit_Compare(self, node: ast.Compare) -> ast.AST:
        self.generic_visit(node)
        if not all(type(op).__name__ in _ORDERS for op in node.ops):
            return node
        zero = any(isinstance(side, ast.Constant) and side.value == 0 for side in node.comparators)
        if zero or any(_called(part) == "len" for part in ast.walk(node)):
            return node
        sides = [node.left, *node.comparators]
        nothing = ast.arguments(posonlyargs=[], args=[], kwonlyargs=[], kw_defaults=[], defaults=[])
        call = ast.Call(
            func=ast.Name("_compared", ast.Load()),
            args=[
                ast.Constant(ast.unparse(node)),
                ast.List([ast.Constant(type(op).__name__) for op in node.ops], ast.Load()),
                ast.List([ast.Lambda(nothing, side) for side in sides], ast.Load()),
            ],
            keywords=[],
        )
        return ast.copy_location(call, node)


def _called(node: ast.AST) -> str:
    return node.func.id if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) else ""


def watched(module: ModuleType, seen: Seen) -> ModuleType:
    """The rule's module again, noting its comparisons into `seen`."""

    def compared(where: str, ops: list[str], sides: list[Callable[[], Any]]) -> bool:
        left = sides[0]()
        for op, side in zip(ops, sides[1:], strict=True):
            right = side()
            seen.note(where, left, right)
            if not _ORDERS[op](left, right):
                return False
            left = right
        return True

    def measured(compare: Callable[..., Verdict]) -> Callable[..., Verdict]:
        def noting(what: str, value: Measure, limit: Measure, at: Any, **more: Any) -> Verdict:
            caller = inspect.currentframe()
            assert caller is not None
            assert caller.f_back is not None
            seen.note(f"{compare.__name__} in {caller.f_back.f_code.co_name}", value.value, limit.value)
            return compare(what, value, limit, at, **more)

        return noting

    tree = _Noting().visit(ast.parse(inspect.getsource(module)))
    made = ModuleType(module.__name__)
    made.__dict__.update(
        __file__=module.__file__, __package__=module.__package__, __spec__=module.__spec__, _compared=compared
    )
    exec(compile(ast.fix_missing_locations(tree), str(module.__file__), "exec"), made.__dict__)
    for name in ("at_most", "at_least"):
        if name in made.__dict__:
            made.__dict__[name] = measured(getattr(outcome, name))
    return made


@contextmanager
def settings_noted(seen: Seen) -> Iterator[None]:
    """Notes what is compared with a figure of the codes, under the name of its value file."""
    before = Setting.admits, Setting.triggers

    def noting(ask: Callable[[Setting, Any], Any]) -> Callable[[Setting, Any], Any]:
        def asked(self: Setting, measured: Any) -> Any:
            limit, value = self.value, measured
            if isinstance(limit, Quantity) and isinstance(value, Quantity):
                seen.note(self.name, value.value, limit.value)
            elif isinstance(limit, Band) and isinstance(value, Quantity):
                seen.note(f"{self.name}, lower end", value.value, limit.low)
                seen.note(f"{self.name}, upper end", value.value, limit.high)
            else:
                seen.note(self.name, value, limit)
            return ask(self, measured)

        return asked

    with patch.object(Setting, "admits", noting(before[0])), patch.object(Setting, "triggers", noting(before[1])):
        yield
