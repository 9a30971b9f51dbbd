"""Makes mutants of a module: each one small change to its code, such as a boundary of a comparison.

Left alone are what people read (docstrings, f-strings, the text of an exception, the prose of a rule's declaration),
annotations and imports: a mutant of those says nothing about what the tests hold.
"""

from __future__ import annotations

import ast
import copy
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass

_COMPARED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot,
    ast.IsNot: ast.Is,
    ast.In: ast.NotIn,
    ast.NotIn: ast.In,
}
_REVERSED: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.GtE,
    ast.LtE: ast.Gt,
    ast.Gt: ast.LtE,
    ast.GtE: ast.Lt,
}
_ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.Pow: ast.Mult,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}
_PAIRS = (
    ("min", "max"),
    ("any", "all"),
    ("at_most", "at_least"),
    ("low", "high"),
    ("lowest", "highest"),
    ("minimum", "maximum"),
    ("floor", "ceil"),
    ("union", "intersection"),
    ("values", "keys"),
    ("sources", "loads"),
    ("rising", "falling"),
    ("voltage", "current"),
    ("width", "height"),
    ("locked", "unlocked"),
)
_SWAPPED = {**dict(_PAIRS), **{second: first for first, second in _PAIRS}}
"""Names that the code has in pairs; one taken for the other is the mistake that an author makes."""

_PROSE = frozenset(("id", "title", "why", "cure", "limits", "scope", "evidence", "basis", "since", "level"))
"""What a declaration says to people; the rule book shows it."""

_TOLD = frozenset(("limit_name", "name", "text", "formula", "what", "message"))
"""Arguments whose value is wording."""


@dataclass(frozen=True, slots=True, order=True)
class Mutant:
    """One change: `file` from the project's root, `at` the outermost function (dotted in a class, `lambda` in a
    declaration) or the assigned name on the module's level, `change` as `text -> text`, `nth` of those that read the
    same in one place (from 1). `line` and `index` find it in this state of the file alone and are no part of its name.
    """

    file: str
    at: str
    change: str
    nth: int
    line: int
    index: int
    warm: bool
    """Lies in a function, so that a running interpreter takes it by a change of the function's code."""

    @property
    def name(self) -> tuple[str, str, str]:
        """What the mutant is called as long as its place in the code reads the same."""
        return self.file, self.at, self.change if self.nth == 1 else f"{self.change} (#{self.nth})"


@dataclass(frozen=True, slots=True)
class _Site:
    """A node that can be changed: `become` makes the changed node from a copy of it."""

    node: ast.AST
    become: Callable[[ast.AST], ast.AST]
    change: str
    at: str
    warm: bool


def mutants_of(file: str, source: str) -> tuple[Mutant, ...]:
    """Every mutant of a module, in the order of the code."""
    seen: Counter[tuple[str, str]] = Counter()
    found = []
    for index, site in enumerate(_sites(ast.parse(source), source)):
        seen[site.at, site.change] += 1
        line = getattr(site.node, "lineno", 0)
        found.append(Mutant(file, site.at, site.change, seen[site.at, site.change], line, index, site.warm))
    return tuple(found)


def mutated(source: str, mutant: Mutant) -> ast.Module:
    """The module's tree with the mutant in it. ValueError where the source is not the one that it was made of."""
    tree = ast.parse(source)
    for index, site in enumerate(_sites(tree, source)):
        if index == mutant.index:
            if site.change != mutant.change:
                break
            new = ast.copy_location(site.become(copy.copy(site.node)), site.node)
            _Replaced(site.node, new).visit(tree)
            return ast.fix_missing_locations(tree)
    raise ValueError(f"{mutant.file} has no {mutant.change!r} at number {mutant.index}; it was changed meanwhile")


class _Replaced(ast.NodeTransformer):
    def __init__(self, old: ast.AST, new: ast.AST) -> None:
        self.old, self.new = old, new

    def visit(self, node: ast.AST) -> ast.AST:
        return self.new if node is self.old else self.generic_visit(node)


def _sites(tree: ast.Module, source: str) -> Iterator[_Site]:
    for statement in tree.body:
        yield from _Finder(source).statement(statement, "", warm=False)


class _Finder:
    """Walks through a module and gives the places that can be changed, with the name of where they stand."""

    def __init__(self, source: str) -> None:
        self.source = source

    def statement(self, node: ast.stmt, at: str, *, warm: bool) -> Iterator[_Site]:
        if isinstance(node, ast.Import | ast.ImportFrom | ast.Raise | ast.Assert):
            return
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            return
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
            if node.name in ("__repr__", "__str__"):
                return
            inner = at if warm else f"{at}.{node.name}".lstrip(".")
            for part in node.body:
                yield from self.statement(part, inner, warm=warm or not isinstance(node, ast.ClassDef))
            return
        if not warm and not at and isinstance(node, ast.Assign | ast.AnnAssign):
            target = node.targets[0] if isinstance(node, ast.Assign) else node.target
            at = ast.unparse(target)
            if at == "__all__" or node.value is None:
                return
        yield from self._removed(node, at, warm)
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.stmt):
                yield from self.statement(child, at, warm=warm)
            elif isinstance(child, ast.ExceptHandler | ast.match_case):
                for within in child.body:
                    yield from self.statement(within, at, warm=warm)
                if isinstance(child, ast.match_case) and child.guard is not None:
                    yield from self._expression(child.guard, at, warm)
            elif isinstance(child, ast.expr) and child is not getattr(node, "annotation", None):
                if isinstance(node, ast.Expr) and isinstance(child, ast.Constant):
                    continue  # a docstring
                yield from self._expression(child, at, warm)

    def _removed(self, node: ast.stmt, at: str, warm: bool) -> Iterator[_Site]:
        """Statements left out, and tests turned round."""
        text = self._text(node)
        if isinstance(node, ast.Return) and node.value is not None and _is_wording(node.value):
            return
        if isinstance(node, ast.Return) and warm:
            if node.value is None:
                yield _Site(node, lambda _: ast.Pass(), "return -> pass", at, warm)
            elif not (isinstance(node.value, ast.Constant) and node.value.value is None):
                yield _Site(node, lambda _: ast.Return(ast.Constant(None)), f"{text} -> return None", at, warm)
        elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Yield | ast.YieldFrom):
            nothing = ast.Expr(ast.YieldFrom(ast.Tuple([], ast.Load())))  # stays a generator
            yield _Site(node, lambda _: nothing, f"{text} -> nothing", at, warm)
        elif isinstance(node, ast.Expr) and isinstance(node.value, ast.Call):
            yield _Site(node, lambda _: ast.Pass(), f"{text} -> nothing", at, warm)
        elif isinstance(node, ast.Break):
            yield _Site(node, lambda _: ast.Continue(), "break -> continue", at, warm)
        elif isinstance(node, ast.Continue):
            yield _Site(node, lambda _: ast.Break(), "continue -> break", at, warm)
        elif isinstance(node, ast.AugAssign) and type(node.op) in _ARITHMETIC:
            yield from self._operator(node, _ARITHMETIC[type(node.op)], at, warm)
        test = node.test if isinstance(node, ast.If | ast.While) else None
        if isinstance(test, ast.Name | ast.Attribute | ast.Call | ast.Subscript):
            yield _Site(test, _negated, f"if {self._text(test)} -> if not", at, warm)

    def _expression(self, node: ast.expr, at: str, warm: bool) -> Iterator[_Site]:
        if _is_wording(node) or _is_cut_for_people(node):
            return
        if isinstance(node, ast.Lambda):
            inner = at if warm else f"{at}.lambda".lstrip(".")
            yield from self._expression(node.body, inner, True)
            return
        yield from self._here(node, at, warm)
        if isinstance(node, ast.Call):
            yield from self._call(node, at, warm)
            return
        for child in ast.iter_child_nodes(node):
            if isinstance(child, ast.expr):
                yield from self._expression(child, at, warm)
            elif isinstance(child, ast.comprehension):
                for inside in (child.target, child.iter, *child.ifs):
                    yield from self._expression(inside, at, warm)
                for test in child.ifs:
                    if isinstance(test, ast.Name | ast.Attribute | ast.Call | ast.Subscript):
                        yield _Site(test, _negated, f"if {self._text(test)} -> if not", at, warm)

    def _call(self, node: ast.Call, at: str, warm: bool) -> Iterator[_Site]:
        """What a call is given, without what is told to people."""
        name = ast.unparse(node.func)
        if name.endswith(("Error", "Undecided", "cast", "TypeVar")):
            return
        yield from self._expression(node.func, at, warm)
        for argument in node.args:
            yield from self._expression(argument, at, warm)
        told = _PROSE | _TOLD if name in ("Rule", "Parameter", "Cited", "Practice") else _TOLD
        if name == "zip":
            told |= {"strict"}  # says that the lengths agree; where they do, nothing can tell
        for keyword in node.keywords:
            if keyword.arg not in told:
                yield from self._expression(keyword.value, at, warm)

    def _here(self, node: ast.expr, at: str, warm: bool) -> Iterator[_Site]:
        """The changes of one node itself."""
        text = self._text(node)
        if isinstance(node, ast.Compare):
            for place, op in enumerate(node.ops):
                for table in (_COMPARED, _REVERSED):
                    if type(op) in table:
                        yield from self._comparison(node, place, table[type(op)], at, warm)
        elif isinstance(node, ast.BinOp) and type(node.op) in _ARITHMETIC:
            if not any(isinstance(side, ast.JoinedStr) or _is_text(side) for side in (node.left, node.right)):
                yield from self._operator(node, _ARITHMETIC[type(node.op)], at, warm)
        elif isinstance(node, ast.BoolOp):
            other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
            new = ast.BoolOp(other, node.values)
            yield _Site(node, lambda _: new, f"{text} -> {ast.unparse(new)}", at, warm)
            for place, value in enumerate(node.values):
                rest = [*node.values[:place], *node.values[place + 1 :]]
                less = rest[0] if len(rest) == 1 else ast.BoolOp(node.op, rest)
                yield _Site(node, _always(less), f"{text} -> without {self._text(value)}", at, warm)
        elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not | ast.USub):
            yield _Site(node, _always(node.operand), f"{text} -> {self._text(node.operand)}", at, warm)
        elif isinstance(node, ast.IfExp) and isinstance(node.test, ast.Name | ast.Attribute | ast.Call | ast.Subscript):
            yield _Site(node.test, _negated, f"if {self._text(node.test)} -> if not", at, warm)
        elif isinstance(node, ast.Constant):
            yield from self._constant(node, at, warm)
        elif isinstance(node, ast.Name) and node.id in _SWAPPED and isinstance(node.ctx, ast.Load):
            # only what has its other of the pair at hand: builtins and imported functions
            if node.id in ("min", "max", "any", "all", "at_most", "at_least"):
                other_name = ast.Name(_SWAPPED[node.id], ast.Load())
                yield _Site(node, _always(other_name), f"{text} -> {other_name.id}", at, warm)
        elif isinstance(node, ast.Attribute) and node.attr in _SWAPPED and isinstance(node.ctx, ast.Load):
            swapped = ast.Attribute(node.value, _SWAPPED[node.attr], ast.Load())
            yield _Site(node, _always(swapped), f"{text} -> {ast.unparse(swapped)}", at, warm)
        elif isinstance(node, ast.Set | ast.Tuple | ast.List) and not warm:
            yield from self._elements(node, at, warm)

    def _elements(self, node: ast.Set | ast.Tuple | ast.List, at: str, warm: bool) -> Iterator[_Site]:
        """A list of words on the module's level, with each word left out."""
        if len(node.elts) < 2 or not all(_is_text(one) for one in node.elts):
            return
        for place, one in enumerate(node.elts):
            rest = [*node.elts[:place], *node.elts[place + 1 :]]
            new = ast.Set(rest) if isinstance(node, ast.Set) else type(node)(rest, ast.Load())
            yield _Site(node, _always(new), f"{at} -> without {self._text(one)}", at, warm)

    def _comparison(self, node: ast.Compare, place: int, op: type[ast.cmpop], at: str, warm: bool) -> Iterator[_Site]:
        ops = [*node.ops[:place], op(), *node.ops[place + 1 :]]
        new = ast.Compare(node.left, ops, node.comparators)
        yield _Site(node, _always(new), f"{self._text(node)} -> {ast.unparse(new)}", at, warm)
        if op in _COMPARED and op not in _REVERSED:  # membership and equality with a word: another word
            for side_place, side in enumerate((node.left, *node.comparators)):
                if isinstance(side, ast.Constant) and isinstance(side.value, str) and side.value:
                    other = ast.Constant(side.value + "_")
                    sides = [node.left, *node.comparators]
                    sides[side_place] = other
                    changed = ast.Compare(sides[0], node.ops, sides[1:])
                    yield _Site(node, _always(changed), f"{self._text(node)} -> {ast.unparse(changed)}", at, warm)
                elif isinstance(side, ast.Tuple | ast.Set) and len(side.elts) > 1 and all(map(_is_text, side.elts)):
                    for left_out in side.elts:
                        rest = [one for one in side.elts if one is not left_out]
                        less = ast.Tuple(rest, ast.Load()) if isinstance(side, ast.Tuple) else ast.Set(rest)
                        sides = [node.left, *node.comparators]
                        sides[side_place] = less
                        changed = ast.Compare(sides[0], node.ops, sides[1:])
                        yield _Site(node, _always(changed), f"{self._text(node)} -> {ast.unparse(changed)}", at, warm)

    def _operator(
        self, node: ast.BinOp | ast.AugAssign, op: type[ast.operator], at: str, warm: bool
    ) -> Iterator[_Site]:
        new = copy.copy(node)
        new.op = op()
        yield _Site(node, _always(new), f"{self._text(node)} -> {ast.unparse(new)}", at, warm)

    def _constant(self, node: ast.Constant, at: str, warm: bool) -> Iterator[_Site]:
        value = node.value
        if isinstance(value, bool):
            yield _Site(node, _always(ast.Constant(not value)), f"{value} -> {not value}", at, warm)
        elif isinstance(value, int | float):
            other = value + 1 if isinstance(value, int) else (value * 1.1 if value else 0.1)
            yield _Site(node, _always(ast.Constant(other)), f"{value} -> {other!r}", at, warm)

    def _text(self, node: ast.AST) -> str:
        """The code of a node on one line, cut where it is long."""
        text = " ".join(ast.unparse(node).split())
        return text if len(text) <= 90 else f"{text[:60]} ... {text[-25:]}"


def _negated(node: ast.AST) -> ast.AST:
    assert isinstance(node, ast.expr)
    return ast.UnaryOp(ast.Not(), node)


def _always(new: ast.AST) -> Callable[[ast.AST], ast.AST]:
    return lambda _: new


def _is_wording(node: ast.expr) -> bool:
    """Text for people: an f-string, words with a space, a list of names joined; also with an alternative."""
    return _pieces(node) == {"words"} or _pieces(node) == {"words", "word"}


def _pieces(node: ast.expr) -> set[str]:
    if isinstance(node, ast.IfExp):
        return _pieces(node.body) | _pieces(node.orelse)
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        return _pieces(node.left) | _pieces(node.right)
    if isinstance(node, ast.JoinedStr):
        return {"words"}
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return {"words" if " " in node.value.strip() else "word"}
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "join":
        return _pieces(node.func.value) - {"word"} or {"words"}
    return {"other"}


def _is_cut_for_people(node: ast.expr) -> bool:
    """The first few of a list, as in `related[:3]`: how many are shown."""
    part = node.slice if isinstance(node, ast.Subscript) else None
    upper = part.upper if isinstance(part, ast.Slice) and part.lower is None else None
    return isinstance(upper, ast.Constant) and isinstance(upper.value, int) and upper.value >= 2


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str)
