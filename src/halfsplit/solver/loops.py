"""Where the compiled loops are kept, and whether they are there already. Looked at without loading the compiler."""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from pathlib import Path

HERE = Path(__file__).parent / "compiled"


def folder() -> Path:
    """Where compiled code of exactly the present sources is kept."""
    digest = hashlib.sha256()
    for source in sorted(HERE.glob("*.py")):
        digest.update(source.read_bytes())
    base = HERE / "__pycache__"
    if not (os.access(base, os.W_OK) if base.exists() else os.access(HERE, os.W_OK)):
        home = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
        base = Path(home) / "halfsplit"
        if not os.access(home, os.W_OK):
            base = Path(tempfile.gettempdir()) / f"halfsplit-{os.getuid() if hasattr(os, 'getuid') else 0}"
    return base / f"loops-{digest.hexdigest()[:16]}"


def ready() -> bool:
    """Whether the loops were compiled on this machine before; if not, the first answer takes half a minute longer."""
    return bool(os.environ.get("NUMBA_CACHE_DIR")) or any(folder().rglob("shooting.periodic_batch*.nbc"))


def clear_old(kept: Path) -> None:
    """Throw away compiled code of other sources beside the folder that is kept."""
    for old in kept.parent.glob("loops-*"):
        if old != kept:
            shutil.rmtree(old, ignore_errors=True)
