"""A set that was read dead stays so, whatever the readings make of it: no card asks for the same volts again and again."""

from __future__ import annotations

from collections.abc import Callable

from halfsplit.jobs.job import Job
from job_support import sure

PURIFIER = ("unit: air purifier, 230V 50Hz, class II, 30W", "symptom: dead", "start: flyback with integrated switch; out 24V 1A", "off")


def test_readings_that_leave_nothing_charged_do_not_undo_the_proof(new_job: Callable[..., Job]) -> None:
    """A short across the mains leaves every likely explanation without a charged capacitor. The volts read before, on both sides, still count."""
    job = new_job("p", PURIFIER)
    sure(job, "dead 9V bulk-cap 0 out-cap 0 x-cap 0 9V", "L to 0V OL r", "N to 0V OL r")
    answer = sure(job, "varistor 6.1r", "L to N 6.4r", "bulk to hot- 474k r", "out to 0V 11.75k r", "x-cap 0.01esr")
    assert sum(s["odds"] for s in answer["suspects"] if s["part"] in ("x-cap", "varistor")) > 0.3
    assert answer["state"]["sides"] == {"hot": "dead", "cold": "dead"}
    assert not answer["card"].get("do", "").startswith("dead")
