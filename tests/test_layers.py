"""The house rules that keep the project simple: who may import whom, and that only parts/ knows what a part is."""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCE = ROOT / "src" / "halfsplit"


def lint_imports(source: Path) -> subprocess.CompletedProcess[str]:
    """Run the project's own import contracts on the package under `source`."""
    command: list[str | Path] = [Path(sys.executable).parent / "lint-imports", "--no-logo", "--no-cache", ROOT / "pyproject.toml"]
    env = os.environ | {"PYTHONPATH": str(source), "NO_COLOR": "1", "PYTHONUTF8": "1"}
    return subprocess.run(command, cwd=ROOT, env=env, capture_output=True, text=True, timeout=120)


def test_outer_layers_import_inner_ones_and_never_the_reverse() -> None:
    """The contracts of pyproject.toml (layers, drawing, libraries) are kept."""
    done = lint_imports(ROOT / "src")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "3 kept, 0 broken" in done.stdout


@pytest.mark.parametrize(
    ("file", "line"),
    [
        ("errors.py", "import halfsplit.jobs"),
        ("parts/base.py", "from halfsplit.circuit import model"),
        ("diagnosis/outlook.py", "def later():\n    import rich"),
        ("newcomer.py", ""),
    ],
)
def test_the_contracts_would_notice_a_breach(tmp_path: Path, file: str, line: str) -> None:
    """A reversed import, a forbidden library (also inside a function) and a module without a place are each refused."""
    copy = tmp_path / "halfsplit"
    shutil.copytree(SOURCE, copy, ignore=shutil.ignore_patterns("__pycache__"))
    with (copy / file).open("a", encoding="utf-8") as out:
        out.write(f"\n\n{line}\n")
    done = lint_imports(tmp_path)
    assert done.returncode != 0, done.stdout


def family_names() -> frozenset[str]:
    """The part families, from the first column of the table in docs/families.md ("npn, pnp" are two)."""
    rows = re.findall(r"^\| ([a-z][a-z, -]*?) \| ", (ROOT / "docs" / "families.md").read_text(encoding="utf-8"), re.MULTILINE)
    return frozenset(name for row in rows for name in row.split(", ")) - {"family"}


def last_name(node: ast.expr) -> str:
    """The last word of a name: `family` for x.family, also for x.family.name and x["family"]; else nothing."""
    match node:
        case ast.Attribute(value=inner, attr="name"):
            return last_name(inner) or "name"
        case ast.Attribute(attr=word) | ast.Name(id=word) | ast.Subscript(slice=ast.Constant(value=str(word))):
            return word
    return ""


def literals(node: ast.AST) -> frozenset[str]:
    """Every text constant in an expression or pattern."""
    return frozenset(n.value for n in ast.walk(node) if isinstance(n, ast.Constant) and isinstance(n.value, str))


def asks_for_family(sides: list[ast.expr], names: frozenset[str]) -> bool:
    """Whether a comparison tells one family from another: `.family` beside a text or a named set, `.kind` beside a family."""
    words = {last_name(side) for side in sides}
    texts = frozenset().union(*(literals(side) for side in sides))
    # A capitalised name (SWITCHES) is a set of families by another name; a registry is looked up by its families() or get.
    constants = any(word.isupper() and word != "FAMILIES" for word in words)
    return ("family" in words and (bool(texts) or constants)) or (bool(words & {"kind", "name"}) and bool(texts & names))


def family_tests(code: str, names: frozenset[str]) -> Iterator[int]:
    """The lines at which code decides by the name of a part family."""
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.Compare) and asks_for_family([node.left, *node.comparators], names):
            yield node.lineno
        elif isinstance(node, ast.Match) and last_name(node.subject) in {"family", "kind"}:
            if any(literals(case.pattern) & names for case in node.cases):
                yield node.lineno


def test_no_file_outside_parts_decides_by_the_name_of_a_family() -> None:
    """The solver, the suspects and the substitutes read the family's data; none of them asks what a part is."""
    names = family_names()
    files = [path for path in sorted(SOURCE.rglob("*.py")) if path.relative_to(SOURCE).parts[0] != "parts"]
    assert len(names) > 25 and "electrolytic" in names and "pnp" in names
    assert len(files) > 10
    found = [f"{path.relative_to(ROOT)}:{line}" for path in files for line in family_tests(path.read_text("utf-8"), names)]
    assert found == [], "decides by a family's name; put what differs into the family's own file under parts/"


@pytest.mark.parametrize(
    "code",
    [
        'if part.family == "fuse": pass',
        'x = [p for p in parts if p.family in ("fet", "npn")]',
        'ok = "capacitor" != family',
        'if part.family.name == "relay": pass',
        'if row["kind"] == "zener": pass',
        "if part.family not in SWITCHES: pass",
        'match part.family:\n    case "fuse" | "lamp":\n        pass',
    ],
)
def test_a_decision_by_family_name_is_found_in_any_dress(code: str) -> None:
    """The search for such decisions sees comparisons, membership, patterns and sets behind a name."""
    assert list(family_tests(code, family_names())) == [1]


@pytest.mark.parametrize(
    "code",
    [
        'if way.kind == "short": pass',
        'if card.kind == "end": pass',
        "if part.family == other.family: pass",
        "if part.family not in known: pass",
        'part = Part("C1", family="electrolytic")',
    ],
)
def test_what_is_no_decision_by_family_name_passes(code: str) -> None:
    """A way of failing, a card, a look-up, and a part as data are none of it."""
    assert list(family_tests(code, family_names())) == []
