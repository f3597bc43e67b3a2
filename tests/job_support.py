"""What several tests of jobs share."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

KIT = Path(__file__).parents[1] / "examples" / "bench-kit.yaml"
THREE = ("unit: radio, 230V 50Hz, class II, 25W", "symptom: dead", "start: linear 12V 1A")


class FakeClock:
    """Moves on a second with each look, or as told."""

    def __init__(self) -> None:
        self.now = datetime(2030, 1, 2, 3, 4, 5, tzinfo=UTC)

    def __call__(self) -> datetime:
        self.now += timedelta(seconds=1)
        return self.now

    def wait(self, seconds: float) -> None:
        self.now += timedelta(seconds=seconds)
