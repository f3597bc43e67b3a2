"""The wrong starting sheet is named where the readings fit another, a right one is left in peace, and nothing is changed by itself.

SOURCE  units drawn from the engine's own table of the sheet that is true (`perf/other_starts.py`, which measures more of them). Computed.
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

sys.path.append(str(Path(__file__).parents[2] / "perf"))
from other_starts import UNIT, Sheet, entries

from halfsplit.jobs import other_starts
from halfsplit.jobs.fold import fold
from halfsplit.jobs.kit import default_kit
from halfsplit.jobs.log import LogLine
from halfsplit.jobs.read_again import standing_under
from halfsplit.jobs.weigh import weigh

UNITS = 6


@pytest.fixture(scope="module")
def sheets():
    return {"dropper": Sheet("dropper, 24V relay board"), "linear": Sheet("linear 24V 1A")}


def answer(here, true, seed):
    lines, _ = entries(here, true, np.random.default_rng(seed), wide=False)
    texts = [f"unit: {UNIT}", "symptom: dead", f"start: {here.line}", *lines]
    log = tuple(LogLine(n + 1, datetime(2030, 1, 1, tzinfo=UTC), t) for n, t in enumerate(texts))
    standing = fold(log)
    assert not standing.lost
    return other_starts.better_start(standing, weigh(standing, here.table, default_kit(), here.blocks), log)


@pytest.mark.parametrize(("here", "true", "least"), [("linear", "dropper", 5), ("dropper", "linear", 2)])
def test_a_wrong_sheet_is_named(sheets, here, true, least):
    """Of six units; fewer of a linear set, of which the dropper has few places to read."""
    found = [answer(sheets[here], sheets[true], seed) for seed in range(UNITS)]
    right = [f for f in found if f is not None and f.line.startswith(true)]
    assert len(right) >= least
    for f in right:
        assert f.odds > other_starts.SAY
        assert f"`start: {f.line}`" in f.text()
        assert len(f.checks) >= 2


@pytest.mark.parametrize("name", ["linear", "dropper"])
def test_a_right_sheet_is_left_in_peace(sheets, name):
    assert [answer(sheets[name], sheets[name], seed) for seed in range(UNITS)] == [None] * UNITS


def test_nothing_is_solved_for_others_where_the_sheet_explains_what_was_read(sheets, monkeypatch):
    """A healthy set, read at its own nominal values."""
    here = sheets["linear"]
    (block, live) = here.blocks
    texts = [f"unit: {UNIT}", "symptom: dead", f"start: {here.line}", "off"]
    texts += [f"{c.where} {block.value[0, j, 0]:.4g} r" for j, c in enumerate(block.columns) if c.where in ("fuse", "load", "lead")]
    texts += ["on", *(f"{c.where} {live.value[0, j, 0]:.4g}" for j, c in enumerate(live.columns) if c.where in ("raw", "+24"))]
    log = tuple(LogLine(n + 1, datetime(2030, 1, 1, tzinfo=UTC), t) for n, t in enumerate(texts))
    standing = fold(log)
    weighed = weigh(standing, here.table, default_kit(), here.blocks)
    assert len(weighed.post.readings) >= 5

    def never(circuit):
        raise AssertionError("another sheet was solved though this one explains the readings")

    monkeypatch.setattr(other_starts, "_trial", never)
    assert other_starts.better_start(standing, weighed, log) is None


def test_the_log_read_again_keeps_what_fits_and_leaves_out_what_does_not():
    """A binding to a place that the other sheet hasn't got falls away, its readings with it; the rest is read with its words."""
    texts = (
        "unit: set, 230V 50Hz, class II, 30W",
        "start: linear 24V 1A",
        "parts: C5 reservoir 2200u 50V; U1 regulator",
        "parts: T1 transformer",
        "off",
        "C5 900u",
        "T1 120r",
        "on",
        "+24 23.8",
        "raw 32.0",
    )
    log = tuple(LogLine(n + 1, datetime(2030, 1, 1, tzinfo=UTC), t) for n, t in enumerate(texts))
    here = fold(log)
    there = standing_under("flyback with controller; out 24V 1A", here.circuit, log)
    assert [(t.entry.red_net, t.line) for t in there.readings][-2:] == [("out", 9), ("bulk", 10)]
    assert 7 in {t.line for t in there.readings} or any(n == 7 for n, _ in there.lost)
    assert here.circuit.start.startswith("linear")


def test_readings_that_no_sheet_can_show_name_none(sheets, monkeypatch):
    """Where every sheet is ruled out there are no odds to compare, and nothing breaks."""
    monkeypatch.setattr(other_starts, "log_evidence", lambda post: -np.inf)
    monkeypatch.setattr(other_starts, "evidence_under", lambda *rest: -np.inf)
    monkeypatch.setattr(other_starts, "unexplained", lambda weighed: True)
    assert answer(sheets["linear"], sheets["linear"], 0) is None
