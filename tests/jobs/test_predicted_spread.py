"""What a place would show: the healthy spread is the card's, what was read lies in it, and nothing is solved by a second
model."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from halfsplit.diagnosis.columns import Condition, make_column
from halfsplit.diagnosis.scale import METER, scale_of
from halfsplit.jobs.examples import DEMO
from halfsplit.jobs.job import Job
from halfsplit.jobs.predicted_spread import AT, DOTS, shape_of, spread
from halfsplit.jobs.table import Acts
from job_support import sure

Maker = Callable[..., Job]


def plain(job: Job, *args: Any, **more: Any) -> dict[str, Any]:
    """The picture, which has to go through JSON as it is."""
    return dict(json.loads(json.dumps(spread(job, *args, **more), allow_nan=False)))


def dead(job: Job) -> Job:
    assert job.advice is not None
    sure(job, "dead 9V " + " ".join(f"{c} 0.3V" for c in job.advice.card["caps"]), "OL OL")
    return job


@pytest.fixture
def on(new_job: Maker) -> Job:
    """A set that is on, with three readings."""
    job = dead(new_job())
    sure(job, "fuse 0.2 r", "on", "raw 17.6", "+12 11.9")
    return job


def test_the_healthy_band_is_that_of_the_card_for_every_probe(new_job: Maker) -> None:
    """A card and the picture beside it never disagree; and its middle 95 of 100 lie in the band."""
    job = dead(new_job())
    assert job.advice is not None
    seen = 0
    while seen < 3:
        card = job.advice.card
        assert card["kind"] == "round", card
        for probe in card["probes"]:
            got = plain(job, probe["red"], probe["black"], probe["function"], probe["alone"], state=card["state"])
            low, high = (math.inf if x == "OL" else x for x in got["healthy"]["band"])
            assert (low, high) == tuple(probe["healthy"])
            if got["healthy"]["quantiles"]:
                q = got["healthy"]["quantiles"]
                assert low <= q[0] <= q[2] <= q[4] <= high
            seen += 1
        sure(job, " ".join("0.2" if p["function"] in ("r", "esr") else "0.6" for p in card["probes"]))


def test_the_band_is_the_quantiles_widened_by_meter_and_drawn_circuit(on: Job) -> None:
    """5 % either way beyond the middle 95 %: 1.645 standard deviations of the stated errors, in quadrature."""
    got = plain(on, "raw", "0V", "v")
    fraction, counts = on.kit.ranges["v"].percent, METER["v"][1]
    share, floor = scale_of(make_column("v", "raw", "0V", "on", where="raw")).discrepancy
    quantiles = got["healthy"]["quantiles"]
    for end, quantile, sign in zip(got["healthy"]["band"], (quantiles[0], quantiles[-1]), (-1, 1)):
        sd = math.sqrt((fraction * quantile / math.sqrt(3)) ** 2 + (share * quantile) ** 2 + floor**2 + counts**2)
        assert end == pytest.approx(quantile + sign * 1.645 * sd, rel=1e-6)


def test_found_and_picture_expect_the_same(on: Job) -> None:
    """`expected` of what was read is the band of the picture there, and the value read stands in it."""
    assert on.advice is not None
    nets = {"fuse": ("inlet", "live"), "raw": ("raw", "0V"), "+12": ("+12", "0V"), "L to 0V": ("L", "0V"), "N to 0V": ("N", "0V")}
    for found in on.advice.found:
        red, black = nets[found["where"]]
        got = plain(on, red, black, found["function"])
        assert tuple(math.inf if x == "OL" else x for x in got["healthy"]["band"]) == tuple(found["expected"])
        assert [math.inf if x == "OL" else x for x in got["read"]] == [found["value"]]
        assert "Read: " in got["text"]
    assert len(on.advice.found) == 5


def test_a_display_that_moves_is_said_to_and_what_it_passes_is_no_contradiction(new_job: Maker) -> None:
    """A suspect whose display would wander between two states is not said to disagree with a value between them."""
    job = dead(new_job(lines=(*DEMO.lines[:3], "off")))
    got = plain(job, "vcc", "hot-", "v", state="on")
    moving = [s for s in got["suspects"] if s["moves"]]
    assert [s["name"] for s in moving] == ["out-load short"] and ", moving" in got["text"]
    assert moving[0]["band"][0] < moving[0]["quantiles"][0] and moving[0]["band"][1] > moving[0]["quantiles"][-1] + 1.0
    assert not got["healthy"]["moves"]


def test_quantiles_are_those_of_the_tables_own_column(on: Job) -> None:
    """No second model: the healthy row's draws, as the table has them."""
    assert on.table is not None
    block = on.table.live(Condition(True))
    at = next(i for i, c in enumerate(block.columns) if (c.function, c.red) == ("v", "+12"))
    got = plain(on, "+12", "0V", "v")
    np.testing.assert_allclose(got["healthy"]["quantiles"], np.quantile(block.value[0, at], AT), rtol=1e-9)
    assert len(got["healthy"]["dots"]) == DOTS and got["healthy"]["dots"] == sorted(got["healthy"]["dots"])
    assert set(got["healthy"]["dots"]) <= set(block.value[0, at])


def test_a_place_that_no_card_asks_for_is_solved_as_a_typed_reading_is(on: Job) -> None:
    """Across the secondary: no block has it; what is typed there afterwards is compared with the very same numbers."""
    before = plain(on, "sec-a", "sec-b", "ac")
    assert before["read"] == [] and before["place"]["state"] == "on"
    answer = sure(on, "sec-a to sec-b 15.2ac")
    assert tuple(answer["found"][0]["expected"]) == tuple(before["healthy"]["band"])
    after = plain(on, "sec-a", "sec-b", "ac")
    assert after["read"] == [15.2] and after["healthy"]["quantiles"] == before["healthy"]["quantiles"]


def test_suspects_are_weighted_by_what_was_read(new_job: Maker) -> None:
    """A regulator that lets its input through shows what the reservoir has, and after both were read its spread is narrower than
    that of all drawn units: those that agree with what was read count. The healthy one stays where it was."""
    job = dead(new_job())
    sure(job, "fuse 0.2 r", "on", "raw 17.6", "+12 15.9")
    got = plain(job, "+12", "0V", "v")
    assert [(s["part"], s["way"]) for s in got["suspects"]][0] == ("regulator", "through")
    assert got["suspects"][0]["quantiles"][0] > got["healthy"]["band"][1]
    assert 11.0 < got["healthy"]["quantiles"][2] < 13.0
    assert job.table is not None and job.advice is not None and job.advice.weighed is not None
    assert got["suspects"][0]["odds"] == pytest.approx(max(job.advice.weighed.odds))
    block = job.table.live(Condition(True))
    at = next(i for i, c in enumerate(block.columns) if (c.function, c.red) == ("v", "+12"))
    row = next(i for i, s in enumerate(job.table.suspects) if (s.row.part, s.row.way) == ("regulator", "through"))
    every = np.quantile(block.value[row, at], AT)
    assert np.ptp(got["suspects"][0]["quantiles"]) < 0.7 * np.ptp(every)


def test_an_open_fuse_is_all_ol_and_a_good_one_none(new_job: Maker) -> None:
    """The share that reads OL is said apart from the numbers."""
    job = dead(new_job())
    sure(job, "fuse OL r")
    got = plain(job, "inlet", "live", "r")
    assert got["read"] == ["OL"] and (got["suspects"][0]["part"], got["suspects"][0]["way"]) == ("fuse", "open")
    assert got["suspects"][0]["open"] == pytest.approx(1.0) and got["suspects"][0]["quantiles"] is None
    assert got["healthy"]["open"] == 0.0 and got["healthy"]["quantiles"][-1] < 10.0
    assert "fuse open" in got["text"] and "would show OL" in got["text"] and "Read: OL, as with fuse open" in got["text"]


def test_a_part_off_the_board_is_said_and_solved_so(new_job: Maker) -> None:
    """With the load off the secondary side the ohms from +12 are others than with it, and the picture says which it shows."""
    job = dead(new_job())
    whole = plain(job, "+12", "0V", "r", state="dead")
    sure(job, "lift load.+")
    lifted = plain(job, "+12", "0V", "r", state="dead")
    assert whole["place"]["without"] == [] and lifted["place"]["without"] == ["load"]
    assert lifted["healthy"]["quantiles"][0] > 3 * whole["healthy"]["quantiles"][-1]
    assert "load off the board" in lifted["text"]
    assert job.table is not None
    column = make_column("r", "+12", "0V", "dead", where="+12")
    solved = job.table.extra(column, Condition(False), Acts(frozenset({("load", "+")})))
    np.testing.assert_allclose(lifted["healthy"]["quantiles"], np.quantile(solved.value[0, 0], AT), rtol=1e-9)


def test_what_comes_and_goes_is_shown_while_it_is_there(new_job: Maker) -> None:
    """An open fuse joint is open in the picture, though half of its odds are on a moment when it isn't."""
    job = dead(new_job(lines=("unit: radio, 230V 50Hz, class II, 25W", "symptom: dead sometimes", "start: linear 12V 1A", "off")))
    sure(job, "bad: fuse OL r")
    got = plain(job, "inlet", "live", "r")
    first = got["suspects"][0]
    assert (first["part"], first["way"]) == ("fuse", "open") and first["open"] == pytest.approx(1.0)
    assert got["read"] == ["OL"] and got["healthy"]["open"] == 0.0


def test_dots_and_quantiles_follow_the_weights() -> None:
    """Three quarters of the weight on one value: so are the dots, and OL takes its share of them."""
    got = shape_of(np.array([1.0, 2.0, np.inf, np.nan]), np.array([0.375, 0.125, 0.25, 0.25]))
    assert got["open"] == 0.25 and got["unsaid"] == 0.25
    assert got["dots"].count(1.0) == 24 and got["dots"].count(2.0) == 8
    none = shape_of(np.array([np.inf, np.inf]), np.array([0.5, 0.5]))
    assert none["quantiles"] is None and none["dots"] == []


def test_what_cannot_be_shown_is_refused_in_words(new_job: Maker) -> None:
    """No such net, a state that the set does not have, nothing weighed yet."""
    fresh = new_job("fresh")
    assert "Nothing is weighed yet" in spread(fresh, "raw", "0V", "v")["refused"]
    job = dead(new_job())
    assert "nowhere" in spread(job, "nowhere", "0V", "v")["refused"]
    assert "on+bake" in spread(job, "raw", "0V", "v", state="on+bake")["refused"]
