"""Puts a mutant into the interpreter that runs, so that nothing has to be imported again.

A mutant in a function takes the place of the function's code, wherever the function is held: under an imported name, in
a declaration, in a table. One on the module's level is the assignment made again, and what was built on the value with
it. Meant for a process that ends afterwards: what was there before is not kept.
"""

from __future__ import annotations

import ast
import functools
import gc
import inspect
import sys
from collections import defaultdict
from collections.abc import Iterator, Mapping, Set
from types import CodeType, FunctionType, MemberDescriptorType, ModuleType
from typing import Any

from doorlint import outcome

from .mutants import Mutant, mutated


class PlacingError(ValueError):
    """The mutant could not be put into the interpreter; it says nothing of the tests."""


_Key = tuple[str, tuple[object, ...]]


class Running:
    """The functions and modules of some source files, as they are held at this moment.

    files: absolute path of each file to its text at the time when it was imported.
    """

    def __init__(self, files: Mapping[str, str]) -> None:
        self.files = files
        self.functions: dict[str, dict[_Key, list[FunctionType]]] = {path: defaultdict(list) for path in files}
        self.modules: dict[str, ModuleType] = {}
        self.caches: list[Any] = []
        for thing in gc.get_objects():
            if isinstance(thing, FunctionType) and thing.__code__.co_filename in files:
                self.functions[thing.__code__.co_filename][_key(thing.__code__)].append(thing)
            elif isinstance(thing, functools._lru_cache_wrapper):
                self.caches.append(thing)
        for module in list(sys.modules.values()):
            path = getattr(module, "__file__", None)
            if isinstance(path, str) and path in files:
                self.modules[path] = module

    def forget(self) -> None:
        """Empty the caches of the functions that a mutant may change, and of the tests."""
        for cache in self.caches:
            code = getattr(inspect.unwrap(cache), "__code__", None)
            if code is not None and (code.co_filename in self.files or "test_" in code.co_filename):
                cache.cache_clear()

    def put(self, path: str, mutant: Mutant) -> None:
        """Make the mutant of a file count. PlacingError where the file's function or name is not held.

        Whatever the mutant itself raises when its module is loaded comes through.
        """
        tree = mutated(self.files[path], mutant)
        module = self.modules[path]
        for name in ("at_most", "at_least"):
            vars(module).setdefault(name, getattr(outcome, name))
        if mutant.warm:
            self._functions(path, tree)
            _assigned(module, tree, "", _called_while_loading(tree, mutant.at.partition(".")[0]))
        else:
            _assigned(module, tree, mutant.at)
        self.forget()

    def _functions(self, path: str, tree: ast.Module) -> None:
        old = list(_functions_in(compile(self.files[path], path, "exec", dont_inherit=True)))
        new = list(_functions_in(compile(tree, path, "exec", dont_inherit=True)))
        if len(old) != len(new):
            raise PlacingError(f"{path}: the mutant has {len(new)} functions in place of {len(old)}")
        put = 0
        for before, after in zip(old, new, strict=True):
            if _same(before, after):
                continue
            for function in self.functions[path].get(_key(before), ()):
                function.__code__ = after
                put += 1
        if not put:
            raise PlacingError(f"{path}: nobody holds the function that the mutant changes")


def _same(before: CodeType, after: CodeType) -> bool:
    """Whether two codes do the same, with what they hold."""
    if (before.co_code, before.co_names, len(before.co_consts)) != (
        after.co_code,
        after.co_names,
        len(after.co_consts),
    ):
        return False
    for one, other in zip(before.co_consts, after.co_consts, strict=True):
        if isinstance(one, CodeType) and isinstance(other, CodeType):
            if not _same(one, other):
                return False
        elif type(one) is not type(other) or repr(one) != repr(other):
            return False
    return True


def _key(code: CodeType) -> _Key:
    return code.co_qualname, tuple(code.co_positions())


def _functions_in(code: CodeType) -> Iterator[CodeType]:
    """The functions and lambdas of a module's or class's code, outermost ones only, in the order of the code."""
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            if constant.co_flags & inspect.CO_OPTIMIZED:
                yield constant
            else:
                yield from _functions_in(constant)


def _called_while_loading(tree: ast.Module, function: str) -> set[str]:
    """The names that are assigned, when the module is loaded, by a call of a function: directly, or through others."""
    through = {function}
    bodies = {one.name: one for one in tree.body if isinstance(one, ast.FunctionDef)}
    while more := {name for name, body in bodies.items() if name not in through and through & _called(body)}:
        through |= more
    return {target for one in tree.body if through & _called(one) for target in _targets(one)}


def _called(node: ast.AST) -> set[str]:
    """The names of the functions that are called in a part of the code, but for what a lambda calls later."""
    if isinstance(node, ast.Lambda):
        return set()
    own = {node.func.id} if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) else set()
    return own.union(*(_called(child) for child in ast.iter_child_nodes(node)))


def _assigned(module: ModuleType, tree: ast.Module, name: str, more: Set[str] = frozenset()) -> None:
    """Make an assignment again as the tree has it, and each later one that is built on what it changed. `name`: what
    the mutant calls it; `more`: names that are assigned again too.

    An assignment in the body of a class is a default of its fields: the class is made again, and the one that others
    hold takes over what its functions do.
    """
    changed = {name, name.partition(".")[0], *more}
    held: list[tuple[Any, Any]] = []
    for statement in tree.body:
        named = [node for node in ast.walk(statement) if isinstance(node, ast.Name)]
        used = {node.id for node in named if isinstance(node.ctx, ast.Load)}
        if isinstance(statement, ast.ClassDef):
            if statement.name in changed:
                _class_again(module, statement)
            continue
        targets = _targets(statement)
        if not targets or not (_target(statement) in changed or changed & {*targets, *used}):
            continue
        changed.update(targets)
        before = {target: vars(module)[target] for target in targets}
        # a lambda of a declaration stays the very function that others hold
        exec(compile(ast.Module([statement], []), str(module.__file__), "exec", dont_inherit=True), vars(module))
        for target, old in before.items():
            new = vars(module)[target]
            held.append((old, new))
            for other in list(sys.modules.values()):
                there = getattr(other, "__dict__", {})
                if other is not module and target in there and there[target] is old:
                    there[target] = new
    for function in [one for one in vars(module).values() if isinstance(one, FunctionType)]:
        for old, new in held:
            if function.__defaults__ and any(one is old for one in function.__defaults__):
                function.__defaults__ = tuple(new if one is old else one for one in function.__defaults__)
            if function.__kwdefaults__:
                for key, value in list(function.__kwdefaults__.items()):
                    if value is old:
                        function.__kwdefaults__[key] = new


def _class_again(module: ModuleType, statement: ast.ClassDef) -> None:
    """Make a class again, aside, and give its functions and their defaults to the class that is there. PlacingError
    where that changes nothing, as for a value that the class itself holds in a slot."""
    aside = dict(vars(module))
    exec(compile(ast.Module([statement], []), str(module.__file__), "exec", dont_inherit=True), aside)
    old, new = vars(module)[statement.name], aside[statement.name]
    put = False
    for key, after in vars(new).items():
        before = vars(old).get(key)
        if not isinstance(before, FunctionType) or not isinstance(after, FunctionType):
            continue
        same = _same(before.__code__, after.__code__) and before.__code__.co_varnames == after.__code__.co_varnames
        if same and (before.__defaults__, before.__kwdefaults__) == (after.__defaults__, after.__kwdefaults__):
            continue
        before.__code__ = after.__code__
        before.__defaults__, before.__kwdefaults__ = after.__defaults__, after.__kwdefaults__
        put = True
    for key in (target for part in statement.body for target in _targets(part)):
        before, after = vars(old).get(key), vars(new).get(key)
        if key in vars(old) and not isinstance(before, MemberDescriptorType) and before != after:
            setattr(old, key, after)
            put = True
    if not put:
        raise PlacingError(f"{module.__file__}: {statement.name} made again is the same as before")


def _target(statement: ast.stmt) -> str | None:
    if isinstance(statement, ast.Assign) and len(statement.targets) == 1:
        return ast.unparse(statement.targets[0])
    if isinstance(statement, ast.AnnAssign) and statement.value is not None:
        return ast.unparse(statement.target)
    return None


def _targets(statement: ast.stmt) -> tuple[str, ...]:
    """The names that an assignment gives a value; several in `A, B = ...`."""
    if _target(statement) is None:
        return ()
    assert isinstance(statement, ast.Assign | ast.AnnAssign)
    goal = statement.targets[0] if isinstance(statement, ast.Assign) else statement.target
    return tuple(node.id for node in ast.walk(goal) if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store))
