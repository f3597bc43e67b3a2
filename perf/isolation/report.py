"""Tables from the lines of a run."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any


def write_report(lines: Sequence[dict[str, Any]], out: Path, *, seed: int) -> None:
    (out / "isolation.md").write_text(f"{len(lines)} boards, seed {seed}\n", encoding="utf-8")
