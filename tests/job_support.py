"""What several tests of jobs share."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from tool import BenchTime

KIT = Path(__file__).parents[1] / "examples" / "bench-kit.yaml"
THREE = ("unit: radio, 230V 50Hz, class II, 25W", "symptom: dead", "start: linear 12V 1A")


class FakeClock(BenchTime):
    """Moves on a second with each look."""

    tick = timedelta(seconds=1)
