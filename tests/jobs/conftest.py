"""A job on a small linear supply with a fixed clock and the example bench kit."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from halfsplit.jobs.job import Job
from halfsplit.jobs.kit import read_kit
from job_support import KIT, THREE, FakeClock


@pytest.fixture
def clock() -> FakeClock:
    return FakeClock()


@pytest.fixture
def new_job(tmp_path: Path, clock: FakeClock) -> Callable[..., Job]:
    """Opens a job, by default with its three lines entered and the plug pulled."""

    def make(name: str = "job", lines: tuple[str, ...] = (*THREE, "off")) -> Job:
        job = Job(tmp_path / name, kit=read_kit(KIT.read_text(encoding="utf-8")), clock=clock)
        job.first()
        for line in lines:
            answer = job.send(line)
            assert answer["ok"], answer["refused"]
        return job

    return make
