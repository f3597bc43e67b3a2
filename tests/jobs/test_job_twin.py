"""A good twin in a job: bands tighten, odds and gates don't see it, and a twin that is none is told."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from halfsplit.jobs.job import Job
from job_support import THREE, sure

Maker = Callable[..., Job]
DEAD = "dead 9V reservoir 0.3V out-cap 0.3V"
DOUBTED = (*THREE[:2], THREE[2], "parts: C1 reservoir 2200u?; D1 load 47R?", "off")


def band(answer: dict, where: str) -> float:
    low, high = next(f["expected"] for f in answer["found"] if f["where"] == where)
    return high - low


def test_the_good_ones_volts_and_ohms_prove_nothing_of_this_set(new_job: Maker) -> None:
    """0 V read on the twin's capacitors is no proof of dead, and OL from its mains to its 0 V no isolation; nor do they move the odds."""
    job = new_job()
    sure(job, "meter 9V", "twin")
    assert job.prompt().count("on the twin") == 1
    assert not job.send("reservoir 4k r")["ok"]  # this set is not dead: no ohms, wherever the leads are said to be
    sure(job, "twin off", DEAD, "twin")
    before = job.advice.odds.copy()  # type: ignore[union-attr]
    answer = sure(job, "L to 0V OL r", "N to 0V OL r", "reservoir 0.0 v")
    assert any("nothing here says whether it is dead" in w for w in answer["warn"])
    assert len(job.standing.of_twin) == 3 and not job.standing.readings
    assert not job._gate().isolated
    sure(job, "twin off")
    assert not job.standing.twin and answer["found"] == []
    np.testing.assert_allclose(job.advice.odds, before, atol=0.02)  # type: ignore[union-attr]


def test_a_good_reading_tightens_the_band_where_values_are_not_known(new_job: Maker) -> None:
    """A sheet with question marks: the band of the reservoir's farads narrows once its good twin was read; the odds stay to the bit.

    By a tenth at least: a fifth either way is the electrolytic's own tolerance, which no twin shares."""
    plain = new_job("plain", DOUBTED)
    one = sure(plain, DEAD, "OL OL", "reservoir 2000u c")
    job = new_job("twin", DOUBTED)
    told = sure(job, DEAD, "OL OL", "reservoir 2000u c twin 2050u")
    assert band(told, "reservoir") < 0.9 * band(one, "reservoir")
    np.testing.assert_array_equal(job.advice.odds, plain.advice.odds)  # type: ignore[union-attr]


def test_a_good_one_that_no_set_of_this_sheet_can_be_is_told(new_job: Maker) -> None:
    """24 V on the 12 V rail of the good one: said with its line, and the bands stay."""
    job = new_job("other", DOUBTED)
    before = sure(job, DEAD, "OL OL", "on", "+12 12.0")
    told = sure(job, "+12 12.0 twin 24.0")
    assert any("no set that this sheet allows does" in w for w in told["warn"])
    assert band(told, "+12") == band(before, "+12")
