"""The locks and the `dev` script: what an install rests on."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
LOCKS = ("requirements.lock", "requirements-test.lock")
PIN = r"^([a-z0-9][a-z0-9.-]*)==(\S+?)(?: ; (.*?))? \\\n"
ENTRY = re.compile(PIN + r"((?:    --hash=sha256:[0-9a-f]{64}(?: \\)?\n)+)", re.MULTILINE)


def locked(name: str) -> dict[tuple[str, str], str]:
    """(package, condition) -> version of a lock."""
    text = (ROOT / name).read_text(encoding="utf-8")
    return {(m[1], m[3] or ""): m[2] for m in ENTRY.finditer(text)}


def wanted(*extras: str) -> set[str]:
    """The packages that pyproject.toml asks for, by their normal names."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    lines = [*project["dependencies"], *(line for extra in extras for line in project["optional-dependencies"][extra])]
    return {re.split(r"[<>=!~ ;\[]", line)[0].lower().replace("_", "-") for line in lines}


@pytest.mark.parametrize("name", LOCKS)
def test_every_locked_package_has_one_version_and_its_hashes(name: str) -> None:
    """No line of a lock is anything else than a pinned package, a hash or a comment: no option, no address."""
    text = (ROOT / name).read_text(encoding="utf-8")
    rest = re.sub(r"^\s*#.*\n", "", ENTRY.sub("", text), flags=re.MULTILINE)
    assert rest.strip() == ""
    assert "://" not in text


def test_the_locks_hold_what_the_project_asks_for() -> None:
    """What the program and its build need is in both locks, what the tests need in the test lock."""
    assert {name for name, _ in locked("requirements.lock")} >= wanted("build")
    assert {name for name, _ in locked("requirements-test.lock")} >= wanted("build", "test")


def test_the_test_lock_holds_all_of_the_other_lock() -> None:
    """At the same versions, so that the tests run with what a user gets, and one environment does for both."""
    assert locked("requirements.lock").items() <= locked("requirements-test.lock").items()


def bare_path(folder: Path, *, fakes: dict[str, str]) -> str:
    """A search path with the plain tools that dev uses, the given fakes, and nothing else."""
    for tool in ("sh", "dirname", "cat", "cksum", "grep", "mktemp", "rm", "env", "find"):
        real = shutil.which(tool)
        assert real is not None, tool
        (folder / tool).symlink_to(real)
    for name, body in fakes.items():
        (folder / name).write_text(f"#!/bin/sh\n{body}\n", encoding="utf-8")
        (folder / name).chmod(0o755)
    return str(folder)


def dev(tree: Path, *words: str, path: str) -> subprocess.CompletedProcess[str]:
    """Run a copy of dev in an otherwise empty tree."""
    shutil.copy(ROOT / "dev", tree / "dev")
    env = {"PATH": path, "HOME": os.devnull}
    return subprocess.run([tree / "dev", *words], env=env, capture_output=True, text=True, timeout=30, stdin=subprocess.DEVNULL)


def test_without_root_dev_prints_the_one_line_to_type(tmp_path: Path) -> None:
    """Where a package is missing and there is neither root nor sudo, all of them stand in one line, and nothing is run."""
    tools = tmp_path / "bin"
    tools.mkdir()
    path = bare_path(tools, fakes={"id": "echo 1000", "apt-get": "echo ran >&2; exit 1"})
    done = dev(tmp_path, "test", path=path)
    assert done.returncode == 1
    assert "apt-get install -y --no-install-recommends python3 python3-venv ca-certificates ngspice" in done.stderr
    assert "ran" not in done.stderr


def test_dev_fails_where_the_outside_check_cannot_be_installed(tmp_path: Path) -> None:
    """An apt that says yes but brings no simulator must not lead to tests without their outside check."""
    tools = tmp_path / "bin"
    tools.mkdir()
    path = bare_path(tools, fakes={"id": "echo 0", "apt-get": "exit 0", "python3": "exit 0"})
    done = dev(tmp_path, "test", path=path)
    assert done.returncode == 1
    assert "ngspice is missing after its install" in done.stderr


def test_a_word_that_dev_does_not_know_shows_the_usage(tmp_path: Path) -> None:
    """And exits with 2, as the program does for what the user can put right."""
    tools = tmp_path / "bin"
    tools.mkdir()
    done = dev(tmp_path, "dmeo", path=bare_path(tools, fakes={}))
    assert done.returncode == 2
    assert "./dev demo" in done.stderr and "./dev test" in done.stderr
