"""What is seen on the board brings wrong parts up in the middle of a job, and a struck look takes them away again."""

from __future__ import annotations

import pytest

from halfsplit.diagnosis.wrong_part import LOOKS_NEW


def test_a_new_looking_part_brings_its_rows_and_a_struck_look_takes_them_back(new_job):
    job = new_job()
    before = len(job.table.suspects)
    answer = job.send("see regulator looks new")
    assert answer["ok"]
    wrong = [s.row for s in job.table.suspects if s.way is not None and s.way.kind == "wrong"]
    assert {row.part for row in wrong} == {"regulator"}
    assert len(job.table.suspects) == before + len(wrong)
    assert sum(job.advice.odds[-len(wrong) :]) == pytest.approx(LOOKS_NEW)
    job.send("no")
    assert len(job.table.suspects) == before
