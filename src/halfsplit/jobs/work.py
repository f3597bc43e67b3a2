"""The work loop as an object: what other programs, the page and the benchmarks use."""

from __future__ import annotations

from halfsplit.jobs.job import Job, open_job

Work = Job

__all__ = ["Job", "Work", "open_job"]
