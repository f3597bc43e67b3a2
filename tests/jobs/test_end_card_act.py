"""What an end card says of a group and of the act that would still tell something."""

from __future__ import annotations

from types import SimpleNamespace

from halfsplit.diagnosis.columns import ALONE, make_column
from halfsplit.diagnosis.proposal import Outcome, Proposal
from halfsplit.diagnosis.verdict import Verdict
from halfsplit.jobs.cards import _act_text, _outputs, _shared
from halfsplit.jobs.gate import Gate
from job_support import THREE, sure

DEAD = "dead 9V reservoir 0.1 out-cap 0.02 9V"
FITTED = (*THREE, "off", DEAD, "OL OL", "L to N OL r", "fuse OL r", "fit fuse")


def weighed():
    column = make_column("r", "a", "b", ALONE, where="R1", part="R1")
    return SimpleNamespace(outlook=SimpleNamespace(columns=(column,)), post=SimpleNamespace(part_odds={"relay": 0.57, "micro": 0.31}))


def test_the_act_is_named_with_its_minutes_and_what_it_would_tell():
    sides = (Outcome(0.0, 200.0, (("", 0.9),), 0.7), Outcome(200.0, 1e9, (("R1", 0.95),), 0.3))
    text = _act_text(weighed(), Proposal(0, 0.1, 6.25, None, sides))
    assert "R1 out or a leg of it up" in text and "6 min" in text
    assert "70 % nothing wrong" in text and "30 % R1" in text


def test_members_of_a_group_are_told_with_odds_and_share():
    text = _shared(weighed(), Verdict("group", ("relay", "micro"), (1, 2), 0.88, like=(1.0, 0.8)))
    assert text == ["relay 57 %; micro 31 %, reads like it 80 %."]
    assert _shared(weighed(), Verdict("convicted", ("relay",), (1,), 0.97)) == []


def test_a_place_read_before_a_part_was_fitted_is_asked_for_once_after(new_job):
    job = new_job(lines=FITTED)
    asked = [(p["where"], p["function"]) for p in job.advice.card["probes"]]
    assert len(asked) == len(set(asked))
    assert ("L to N", "r") in asked


def test_a_repaired_set_that_is_on_is_told_what_its_outputs_should_show(new_job):
    """The load's own rail with its band, until it was read; nothing where nothing was fitted."""
    job = new_job(lines=(*FITTED, "fuse 0.3 r", "L to N 122 r", "reservoir 9.6k r", "out-cap 12k r"))

    def told():
        weighed = job.advice.weighed
        return _outputs(Gate(job.standing, job.table, job.kit, weighed.safe_odds, job.clock().timestamp()), weighed)

    assert told() == []
    sure(job, "on")
    (text,) = told()
    assert "+12 11." in text and "before it is handed back" in text
    sure(job, "+12 12.0")
    assert told() == []
