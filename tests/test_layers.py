"""The layers of the package: imports go down, never up, and only the command and the reports speak to the user."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "doorlint"

# From the ground up. A module may import what stands in its own layer or below.
LAYERS: tuple[tuple[str, ...], ...] = (
    (
        *("document", "outline", "quantity", "spelling", "files", "today", "patterns", "plain", "foreign", "processes"),
        "cluster",
    ),
    ("outcome", "verdicts"),
    ("spec.fields", "spec.model", "spec"),
    ("rulebook", "schema", "fingerprint"),
    ("format_rules", "model_rules"),
    ("spec.files", "spec.read"),
    ("circuit", "codes", "mechanics"),
    ("egress", "events", "exposure", "facts", "house"),
    ("context", "uncounted"),
    ("judging",),
    ("typical",),
    ("store",),
    ("keeping",),
    ("reviewing",),
    ("glance", "repair", "cases", "questions"),
    ("report", "documents", "intake"),
    ("editor",),
    ("cli", "__main__"),
)


def _rank(module: str) -> int:
    """The layer of a module: that of the longest name listed which it equals or lies in."""
    found = [
        (len(name), rank)
        for rank, names in enumerate(LAYERS)
        for name in names
        if module == name or module.startswith(f"{name}.")
    ]
    if not found:
        raise KeyError(module)
    return max(found)[1]


def _name(path: Path) -> str:
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(part for part in parts if part != "__init__")


def _imports(path: Path) -> set[str]:
    """The modules of doorlint that a file imports, as names below `doorlint`; type-checking imports left out."""
    module = _name(path)
    package = module.split(".") if path.name == "__init__.py" else module.split(".")[:-1]
    tree = ast.parse(path.read_text())
    skipped = {
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
        for inner in ast.walk(node)
    }
    found = set()
    for node in ast.walk(tree):
        if node in skipped:
            continue
        if isinstance(node, ast.ImportFrom) and node.level:
            base = package[: len(package) - node.level + 1]
            target = ".".join([*base, *(node.module.split(".") if node.module else [])])
            found |= {target} if target else {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "doorlint":
            found.add(node.module.partition(".")[2])
    return found - {""}


MODULES = sorted(path for path in PACKAGE.rglob("*.py") if path != PACKAGE / "__init__.py")


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_imports_go_down(path: Path) -> None:
    own = _rank(_name(path))
    upward = {name for name in _imports(path) if name != "__version__" and _rank(name) > own}
    assert not upward


@pytest.mark.parametrize("path", MODULES, ids=_name)
def test_only_the_command_speaks(path: Path) -> None:
    if _name(path).startswith(("cli", "__main__")):
        return
    calls = [node for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.Call)]
    assert not [call.lineno for call in calls if ast.unparse(call.func) in ("print", "sys.stdout.write", "sys.exit")]


def test_rules_import_only_model_and_analyses() -> None:
    allowed = (
        "outcome",
        "quantity",
        "rulebook",
        "context",
        "spec",
        "circuit",
        "codes",
        "mechanics",
        "egress",
        "events",
        "exposure",
        "uncounted",
    )
    for path in sorted((ROOT / "rules").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("doorlint"):
                name = node.module.partition(".")[2]
                for part in [name.split(".")[0]] if name else [alias.name for alias in node.names]:
                    assert part in allowed, f"{path.name} imports {node.module}.{part}"
            if isinstance(node, ast.Call):
                assert ast.unparse(node.func) not in ("open", "print"), f"{path.name} does input or output"
