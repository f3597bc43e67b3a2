"""What must not stand in any file of the project: addresses of package registries, paths of one machine, loose ends.

The words looked for are put together from halves, so that this file does not find itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
# Made by tools, never part of the project (.gitignore says the same).
TOOL_CACHES = {".pytest_cache", ".hypothesis", ".mypy_cache", ".ruff_cache", ".import_linter_cache"}
LEFT_OUT = TOOL_CACHES | {".git", ".venv", "node_modules", "__pycache__", "dist"}

REGISTRY_HOSTS = (
    "py" + "pi.org", "pythonhosted" + ".org", "registry.npm" + "js", "deb.debian" + ".org", "packages." + "cloud.",
    "node" + "source.com", "proxy.golang" + ".org", "crates" + ".io",
)  # fmt: skip
REGISTRY_OPTIONS = ("--index" + "-url", "--extra-index" + "-url", "--find" + "-links", "--trusted" + "-host")
MACHINE_PATHS = tuple(f"/{name}" + "/" for name in ("work", "root", "home", "Users", "opt"))
WORDS = ("trans" + "cript", "chat" + "bot", "language " + "model", "work" + "place", "TO" + "DO", "FIX" + "ME", "XX" + "X")

PATTERNS = {
    "package registry": re.compile("|".join(map(re.escape, REGISTRY_HOSTS)), re.IGNORECASE),
    "registry option": re.compile("|".join(map(re.escape, REGISTRY_OPTIONS))),
    "address with a login": re.compile(r"https?://[^\s/@]+@"),
    # Not inside a longer path or an address: those belong to something else.
    "machine path": re.compile(r"(?<![\w./:-])(?:" + "|".join(map(re.escape, MACHINE_PATHS)) + ")"),
    "loose end": re.compile(r"\b(?:" + "|".join(WORDS) + r")\b"),
}
# The lock's options are named where it is told how to make it; that one is the option which keeps addresses out.
ALLOWED = re.compile(r"--no-emit-index" + r"-url")
DOCUMENT = re.compile(r"\b[A-Z][A-Z_]+\.md\b")


def files() -> tuple[Path, ...]:
    """Every file of the project; the tree is walked, so that it also works where git is not installed."""
    found = (path for path in sorted(ROOT.rglob("*")) if not LEFT_OUT & set(path.relative_to(ROOT).parts))
    return tuple(path for path in found if path.is_file() and not any(p.endswith(".egg-info") for p in path.parts))


def findings(text: str) -> Iterator[tuple[int, str]]:
    """The line, counted from 1, and the kind of everything in a text that must not stand there."""
    for number, line in enumerate(text.splitlines(), start=1):
        clean = ALLOWED.sub("", line)
        yield from ((number, name) for name, pattern in PATTERNS.items() if pattern.search(clean))


def read(path: Path) -> str | None:
    """The text of a file, None where it is no text."""
    data = path.read_bytes()
    return None if b"\0" in data else data.decode("utf-8")


def test_no_file_names_a_registry_a_machine_or_leaves_a_loose_end() -> None:
    """All text files are searched; the report names file, line and kind."""
    found = [f"{path.relative_to(ROOT)}:{line}: {kind}" for path in files() for line, kind in findings(read(path) or "")]
    assert found == []


def test_the_search_covers_the_project() -> None:
    """Source, tests, notes, locks and the scripts without a suffix are all among the files searched."""
    names = {str(path.relative_to(ROOT)) for path in files()}
    wanted = {"dev", ".ci/run", "README.md", "requirements.lock", "src/halfsplit/errors.py", "tests/test_text_hygiene.py"}
    assert wanted <= names
    assert not any(name.startswith((".venv", ".git/")) for name in names)


def test_every_document_that_is_named_exists() -> None:
    """A document named in capitals (README.md) lies in this project, so that a reader can open it."""
    here = {path.name for path in files()}
    found = {
        f"{path.relative_to(ROOT)}: {name}" for path in files() for name in DOCUMENT.findall(read(path) or "") if name not in here
    }
    assert sorted(found) == []


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        ("see https://files.pythonhosted" + ".org/x", "package registry"),
        ("pip install --extra-index" + "-url x", "registry option"),
        ("https://me:secret" + "@host/simple", "address with a login"),
        ("open('/wo" + "rk/main/x')", "machine path"),
        ("# TO" + "DO later", "loose end"),
    ],
)
def test_each_kind_is_found(line: str, kind: str) -> None:
    """Every pattern finds what it is there for."""
    assert list(findings(f"good\n{line}\n")) == [(2, kind)]


@pytest.mark.parametrize("line", ["a/work/b", "docs/notes/setup.md", "#!/usr/bin/env bash", "network/root/x", "homework/"])
def test_ordinary_text_passes(line: str) -> None:
    """Relative paths and system interpreters are nothing of one machine."""
    assert list(findings(line)) == []
