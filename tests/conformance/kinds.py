"""The kinds of outcome that a rule can give, read from its declaration and from the code that its check can reach."""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Iterator
from functools import cache
from types import FunctionType, ModuleType
from typing import Any

from doorlint import outcome
from doorlint.outcome import Kind
from doorlint.spec import fields

BUILT_BY: dict[object, set[Kind]] = {
    outcome.ok: {Kind.PASS},
    outcome.failed: {Kind.FAIL},
    outcome.undecided: {Kind.OPEN},
    outcome.to_authority: {Kind.REVIEW},
    outcome.not_applicable: {Kind.NOT_APPLICABLE},
    outcome.at_most: {Kind.PASS, Kind.FAIL},
    outcome.at_least: {Kind.PASS, Kind.FAIL},
    fields.known: {Kind.OPEN},
}
"""What each function of `doorlint.outcome` makes; `known` makes the outcome open where the field is not stated."""


def reached(check: FunctionType) -> Iterator[tuple[FunctionType, ast.AST]]:
    """The functions of the rules that a check names, itself first, each with its syntax tree.

    Functions of the package outside the rules are named in the trees and not gone into.
    """
    waiting, seen = [check], set()
    while waiting:
        function = waiting.pop()
        if function in seen:
            continue
        seen.add(function)
        tree = _tree(function)
        yield function, tree
        for name in _names(tree):
            found = _found(function, name)
            if isinstance(found, FunctionType) and found.__module__.startswith("doorlint.rules."):
                waiting.append(found)


def derived(module: Any) -> frozenset[Kind]:
    """The kinds that a rule can give, as far as its text tells: never more than it can."""
    rule = module.RULE
    kinds: set[Kind] = set()
    if rule.applies is not None:
        kinds.add(Kind.NOT_APPLICABLE)
    if rule.needs or rule.incomplete is not None:
        kinds.add(Kind.OPEN)
    for function, tree in reached(module.check):
        for name in _names(tree):
            found = _found(function, name)
            if isinstance(found, FunctionType):
                kinds |= BUILT_BY.get(found, set())
            if found is fields.Undecided:
                kinds.add(Kind.OPEN)
        compared = {part for node in ast.walk(tree) if isinstance(node, ast.Compare) for part in ast.walk(node)}
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "Kind":
                kinds |= {Kind[node.attr]} if node not in compared else set()
            # a setting of the codes makes the verdict itself, `judge` asks all of them: where one lacks it is open
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "judge":
                kinds |= {Kind.PASS, Kind.FAIL, Kind.OPEN}
    return frozenset(kinds)


@cache
def _tree(function: FunctionType) -> ast.AST:
    return ast.parse(textwrap.dedent(inspect.getsource(function)))


def _names(tree: ast.AST) -> Iterator[str]:
    """Every name used in a tree, and dotted ones as they stand."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            yield node.id
        elif isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
            yield f"{node.value.id}.{node.attr}"


def _found(function: FunctionType, name: str) -> object:
    first, _, rest = name.partition(".")
    found = function.__globals__.get(first)
    return getattr(found, rest, None) if rest and isinstance(found, ModuleType) else (None if rest else found)


