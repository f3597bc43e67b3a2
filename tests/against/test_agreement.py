"""A sample of boards that changes every week, readings of every kind: the solver and the judge say the same of them."""

from __future__ import annotations

import os
import sys
from datetime import date
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "perf"))
sys.path.insert(0, str(Path(__file__).parent))

import agreement
import bars
import sweep
from comparing import Cell, compare, different, left_out, line, share
from judge_side import NONE, Shown, shown

from halfsplit.diagnosis.columns import make_column
from halfsplit.jobs.weigh import make_suspects

VARIABLE = "HALFSPLIT_SAMPLE_SEED"
FAULTS, COLUMNS = 4, 12
# perf/agreement.py compares everything: what differs there has its reason in perf/agreement-reasons.csv. A sample of these same readings is held
# to that table: what has no reason there agrees in 99.5 %. What has one comes in whole boards, so a sample of twenty boards (some 700 settled
# readings) has 98.9 to 99.3 % in the middle and 96.9 % once in a thousand (1500 samples drawn from the table); 13 % left out as rarely.
UNEXPLAINED, ALL, LEFT_OUT = 0.995, 0.965, 0.15


def seed() -> int:
    """The number in HALFSPLIT_SAMPLE_SEED, to repeat a run; without it year and week."""
    year, week, _ = date.today().isocalendar()
    return int(os.environ.get(VARIABLE, 100 * year + week))


@pytest.mark.parametrize("names", [tuple(sweep.STARTS), sweep.SHEETS], ids=["starts", "sheets"])
def test_the_solver_and_the_judge_read_a_board_alike(names: tuple[str, ...]) -> None:
    """Of every starting (shipped) sheet some faults and readings, drawn by lot, agree within 1 % or 2 counts, AC and ripple within 3 %."""
    cells: list[Cell] = []
    fresh: list[Cell] = []
    reasons = agreement.read_reasons(agreement.REASONS)
    print(f"{VARIABLE}={seed()}")
    for at, name in enumerate(names):
        circuit = sweep.circuit_of(name)
        every = [(s.row.part, s.row.way) for s in make_suspects(circuit) if s.part is not None]
        rng = np.random.default_rng([seed(), at])
        faults = [every[i] for i in rng.permutation(len(every))[:FAULTS]]
        own = compare(circuit, faults=faults, columns=COLUMNS, seed=seed())
        assert {c.fault for c in own} == {NONE, *faults}
        print(f"{name}: {share(own):.4f} of {len(own)}", *(line(c) for c in different(own)), sep="\n    ")
        cells += own
        fresh += [c for c in different(own) if agreement.reason_of(name, c, reasons) == agreement.UNEXPLAINED]
    said = f"{VARIABLE}={seed()} repeats this: {[line(c) for c in fresh]}"
    counted = sum(c.counts for c in cells)
    assert counted > 300
    assert 1.0 - len(fresh) / counted >= UNEXPLAINED, said
    assert share(cells) >= ALL, said
    assert left_out(cells) <= LEFT_OUT, said


def test_readings_that_differ_do_not_count_as_agreeing() -> None:
    """OL against a number, a per cent too much, a moving display against a still one, and what cannot be said all differ."""
    volts = make_column("v", "a", "b", "on", where="a")
    assert bars.same("r", 100.9, 100.0) and not bars.same("r", 101.1, 100.0)
    assert bars.same("ac", 10.29, 10.0) and not bars.same("ac", 10.31, 10.0)
    assert bars.same("v", 0.0019, 0.0) and not bars.same("v", 0.0021, 0.0)
    assert not bars.same("r", np.inf, 1e6) and bars.same("r", np.inf, 59.9e6) and bars.same("r", np.inf, np.inf)
    assert not bars.same("v", np.nan, np.nan)
    still = Shown(12.0, True, False)
    assert Cell(NONE, volts, 12.1, still).agrees and not Cell(NONE, volts, 12.2, still).agrees
    assert not Cell(NONE, volts, 12.0, still, our_pulse=True).agrees


def test_a_reading_that_moves_or_failed_is_left_out_whatever_our_side_says() -> None:
    """Settled is what the judge's own last two looks say: within a thousandth or a count of each other."""
    said = {"dc": 12.0, "before_dc": 12.011, "ac": 0.5, "before_ac": 0.5, "pulsing": False, "ac_pulsing": False, "settled": True, "bursts": False,
            "ac_min": 0.5, "ac_max": 0.5, "pp": 1.0, "before_pp": 1.0, "min": 12.0, "max": 12.0}  # fmt: skip
    assert shown("v", said).stands and not shown("v", said | {"before_dc": 12.013}).stands
    assert not shown("v", said | {"settled": False}).stands
    assert not shown("v", said | {"pulsing": True}).stands
    assert shown("v", said | {"bursts": True}).stands and not shown("pp", said | {"bursts": True}).stands
    assert not shown("v", {"failed": "no end"}).stands and np.isnan(shown("v", {"failed": "no end"}).value)
    assert shown("r", {"value": 1e5, "before": 1e5 - 249.0}).stands and not shown("r", {"value": 1e5, "before": 1e5 - 252.0}).stands
    assert shown("r", {"value": np.inf, "before": np.inf}).stands and not shown("r", {"value": np.inf, "before": 5e7}).stands
