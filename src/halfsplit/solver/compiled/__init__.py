"""The room where clarity was paid for speed: the loops that numba compiles, eight variants side by side.

lanes: the vector of eight doubles that all others compute with. devices: equations of the nonlinear devices. elimination: sparse LU along a tape.
newton: one solution of the network. shooting: one mains cycle, and the periodic state. cold: readings of a dead circuit. spots: impedances.

What is compiled is kept in a folder named after all the sources together: the compiler's own cache looks at one file at a time, and would go on using
a loop into which the old version of a changed neighbour is built.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from pathlib import Path

from numba.core import config

HERE = Path(__file__).parent


def _folder() -> Path:
    """Where compiled code of exactly these sources is kept; those of other sources beside it are thrown away."""
    digest = hashlib.sha256()
    for source in sorted(HERE.glob("*.py")):
        digest.update(source.read_bytes())
    base = HERE / "__pycache__"
    if not (os.access(base, os.W_OK) if base.exists() else os.access(HERE, os.W_OK)):
        home = os.environ.get("XDG_CACHE_HOME") or str(Path.home() / ".cache")
        base = Path(home) / "halfsplit"
        if not os.access(home, os.W_OK):
            base = Path(tempfile.gettempdir()) / f"halfsplit-{os.getuid() if hasattr(os, 'getuid') else 0}"
    folder = base / f"loops-{digest.hexdigest()[:16]}"
    if not folder.exists():
        for old in base.glob("loops-*"):
            shutil.rmtree(old, ignore_errors=True)
    return folder


if not os.environ.get("NUMBA_CACHE_DIR"):
    setattr(config, "CACHE_DIR", str(_folder()))  # noqa: B010  # a name that numba makes at run time
