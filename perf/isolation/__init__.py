"""The score bench of honest inference: boards of every kind, what the tool claims of them, and whether the claims hold."""

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
KIT = ROOT / "examples" / "bench-kit.yaml"
# The robot's own modules are plain files that import each other by name.
for _path in (ROOT / "tests" / "robot", ROOT / "src"):
    if str(_path) not in sys.path:
        sys.path.insert(0, str(_path))
