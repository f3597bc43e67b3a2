"""Compiled code is kept by its sources, and one can ask beforehand whether it is there."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from halfsplit.solver import loops


def test_the_folder_follows_every_source(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another folder as soon as any of the sources changes, the same where none did; what was kept of others goes."""
    here = tmp_path / "compiled"
    here.mkdir()
    (here / "a.py").write_text("x = 1")
    (here / "b.py").write_text("y = 1")
    monkeypatch.setattr(loops, "HERE", here)
    monkeypatch.delenv("NUMBA_CACHE_DIR", raising=False)
    first = loops.folder()
    assert loops.folder() == first and not loops.ready()
    (first / "deep").mkdir(parents=True)
    (first / "deep" / "shooting.periodic_batch-1.py311.1.nbc").write_bytes(b"code")
    assert loops.ready()
    (here / "b.py").write_text("y = 2")
    second = loops.folder()
    assert second != first and second.parent == first.parent and not loops.ready()
    loops.clear_old(second)
    assert not first.exists()


def test_asking_loads_no_compiler() -> None:
    """`ready` is asked before a line is shown; loading the compiler for that would cost a second."""
    code = "import sys; from halfsplit.solver import loops; loops.ready(); print('numba' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
