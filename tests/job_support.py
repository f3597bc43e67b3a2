"""What several tests of jobs share."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

from halfsplit.jobs.job import Job
from tool import BenchTime

KIT = Path(__file__).parents[1] / "examples" / "bench-kit.yaml"
THREE = ("unit: radio, 230V 50Hz, class II, 25W", "symptom: dead", "start: linear 12V 1A")


def sure(job: Job, *lines: str) -> dict[str, Any]:
    """The answer to the last of these lines, each of which has to be taken."""
    for line in lines:
        answer = job.send(line)
        assert answer["ok"], (line, answer["refused"])
    return answer


class FakeClock(BenchTime):
    """Moves on a second with each look."""

    tick = timedelta(seconds=1)
