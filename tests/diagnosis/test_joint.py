"""The joint likelihood against a slow judge that forms every sub-covariance anew and sums over all sets of slips.

BOUND  no slip and one slip are the same sums, so 1e-9; with two slips the fast way follows only the worst reading's
       pairs, so it may fall short of the full sum, never exceed it.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from halfsplit.diagnosis.cells import cells_of
from halfsplit.diagnosis.joint import KERNEL, SHRINK, joint
from halfsplit.diagnosis.outlook import Column, Outlook, Reading, Row
from halfsplit.diagnosis.scale import TAIL

NAMES = ("v", "v", "r", "d", "v")


def table(rows=4, draws=12, seed=3, names=NAMES):
    rng = np.random.default_rng(seed)
    columns = tuple(Column(f"{n}{i}", n, f"n{i}", "0", f"n{i}", "s", span=30.0) for i, n in enumerate(names))
    level = rng.uniform(0.3, 12, (rows, len(names), 1)) * np.exp(0.2 * rng.standard_normal((rows, 1, draws)))
    value = level * np.exp(0.05 * rng.standard_normal((rows, len(names), draws)))
    return Outlook(
        tuple(Row(f"P{i}" if i else "", "w", 1.0) for i in range(rows)), columns, value, np.zeros((rows, len(names)), dtype=bool)
    )


def normal_log(x, mean, cov):
    if not len(x):
        return 0.0
    d = x - mean
    return float(-0.5 * (d @ np.linalg.solve(cov, d) + np.linalg.slogdet(cov)[1] + len(x) * math.log(2 * math.pi)))


def kernel_width(spread, noise, draws):
    """The normal reference rule (Silverman 1986, 4.3), with each direction counted by the share of it that noise does not hide."""
    root = np.linalg.inv(np.linalg.cholesky(noise))
    seen = np.linalg.eigvalsh(root @ spread @ root.T)
    d = float((seen / (1 + seen)).sum())
    return min(max((4 / (d + 2)) ** (1 / (d + 4)) * draws ** (-1 / (d + 4)), KERNEL), 0.97)


def judge(cells, r, most_slips):
    """Log density of one row of numbers, by brute force over draws and sets of slipped readings."""
    z, n = cells.predicted[r], len(cells.found)
    mean, draws = z.mean(axis=1), z.shape[1]
    dev = z - mean[:, None]
    same = cells.fact[:, None] == cells.fact[None]
    kind = np.array([[a == b for b in cells.function] for a in cells.function])
    spread = (dev @ dev.T / draws) * np.where(same, 1.0, 1 - SHRINK)
    noise = np.where(kind, np.outer(cells.gain[r], cells.gain[r]), 0) + np.where(same, np.outer(cells.model[r], cells.model[r]), 0)
    noise = noise + np.diag(np.maximum(cells.own[r], 1e-3 * cells.width[r]) ** 2)
    h = kernel_width(spread, noise, draws)
    cov = h**2 * spread + noise
    e = cells.slips.chance
    good = np.log((1 - e) * (1 - TAIL)) if e.any() else np.zeros(n)
    logs = []
    for d in range(draws):
        at = mean + math.sqrt(1 - h**2) * dev[:, d]
        for k in range(most_slips + 1):
            for out in itertools.combinations(range(n), k):
                log, keep = 0.0, [i for i in range(n) if i not in out]
                for j in out:  # a slipped reading: nonsense, or the tail round what those kept let expect
                    tail = 0.0
                    if k == 1:
                        c = cov[np.ix_(keep, keep)]
                        line = cov[j, keep] @ np.linalg.inv(c) if keep else np.zeros(0)
                        m = at[j] + line @ (cells.found[keep] - at[keep])
                        var = cov[j, j] - line @ cov[keep, j] + 8 * cells.width[r, j] ** 2
                        tail = (1 - e[j]) * TAIL * math.exp(normal_log(cells.found[[j]], np.array([m]), np.array([[var]])))
                    log += math.log(cells.slips.mass[r, j] + tail)
                log += normal_log(cells.found[keep], at[keep], cov[np.ix_(keep, keep)]) + good[keep].sum()
                logs.append(log)
    return float(np.logaddexp.reduce(logs) - math.log(draws) + cells.steady[r].sum())


def readings_of(outlook, row, draw, wrong=()):
    out = [Reading(i, float(outlook.value[row, i, draw]) * 1.004) for i in range(len(outlook.columns))]
    return [Reading(r.column, 29.0 if r.column in wrong else r.value) for r in out]


def equal(outlook):
    return np.full((len(outlook.rows), outlook.value.shape[2]), -math.log(outlook.value.shape[2]))


def test_without_slips_it_is_the_kernel_sum():
    """Every row's density equals the sum over draws of full Gaussians, worked out one by one."""
    outlook = table()
    cells = cells_of(outlook, readings_of(outlook, 1, 3), slips=False)
    got = joint(cells, equal(outlook)).log_row
    np.testing.assert_allclose(got, [judge(cells, r, 0) for r in range(4)], rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("wrong", [(), (0,), (3,)])
def test_one_slip_is_summed_exactly(wrong, monkeypatch):
    """Held to one slip, every row has the judge's density, with and without a wrong entry."""
    outlook = table()
    cells = cells_of(outlook, readings_of(outlook, 1, 3, wrong))
    both = joint(cells, equal(outlook)).log_row[1]
    monkeypatch.setattr("halfsplit.diagnosis.joint.MOST_SLIPS", 1)
    got = joint(cells, equal(outlook)).log_row
    np.testing.assert_allclose(got, [judge(cells, r, 1) for r in range(4)], rtol=1e-9, atol=1e-9)
    assert got[1] < both < got[1] + 0.3  # second and third slips are rarer still


def test_two_wrong_entries_of_five_do_not_sink_the_row():
    """With two slips the row stands where two nonsense densities put it, not at a Gaussian twenty widths out."""
    outlook = table()
    cells = cells_of(outlook, readings_of(outlook, 1, 3, (0, 3)))
    got = joint(cells, equal(outlook)).log_row[1]
    assert judge(cells, 1, 1) < got - 10
    assert got == pytest.approx(judge(cells, 1, 2), abs=1.5)  # the judge leaves the tails out for two slips


def test_one_fact_read_five_times_counts_about_once():
    """Five dead rails behind one fuse: the joint density of all five falls short of one rail's by no more than the widths."""
    draws = 16
    alive = np.arange(draws) % 2 == 0
    value = np.where(alive, 12.0, 0.0) * np.ones((2, 5, draws))
    value[0] = 0.0
    names = tuple(Column(f"v{i}", "v", f"n{i}", "0", f"n{i}", "s", span=30.0) for i in range(5))
    outlook = Outlook((Row("A", "dead", 1.0), Row("B", "half", 1.0)), names, value, np.zeros((2, 5), dtype=bool))
    log = []
    for count in (1, 5):
        cells = cells_of(outlook, [Reading(i, 0.0) for i in range(count)], slips=False)
        both = joint(cells, equal(outlook)).log_row
        log.append(float(both[0] - both[1]))
    assert log[0] == pytest.approx(math.log(2), abs=0.6)
    assert log[1] < log[0] + 3.0  # the product of five would be ln 32 and more


def test_a_repeat_of_one_reading_is_not_a_second_fact():
    """The drawn circuit is off by the same at a repeat: slips apart, it moves the odds far less than a second place."""
    outlook = table(rows=2, names=("v", "v"))
    value = np.full((2, 2, 12), 10.0)
    value[1] = 10.5
    outlook = Outlook(outlook.rows, outlook.columns, value, outlook.pulsing)
    plain = [Reading(0, 10.0)]

    def for_row_0(readings):
        logs = joint(cells_of(outlook, readings, slips=False), equal(outlook)).log_row
        return logs[0] - logs[1]

    once, again, elsewhere = for_row_0(plain), for_row_0(plain * 2), for_row_0([Reading(0, 10.0), Reading(1, 10.0)])
    assert again - once < 0.1 * (elsewhere - once)


def test_open_and_number_in_one_row_are_weighed_draw_by_draw():
    """A leaky part near the meter's range: draws that show OL and draws that show a number each answer for their share."""
    value = np.zeros((2, 2, 8))
    value[0, 0], value[0, 1] = [np.inf] * 4 + [1e6] * 4, 5.0
    value[1, 0], value[1, 1] = 1e6, 5.0
    columns = (Column("r0", "r", "a", "b", "a", "s", span=2e7, limit=2e7), Column("v1", "v", "c", "0", "c", "s", span=30.0))
    outlook = Outlook((Row("A", "w", 1.0), Row("B", "w", 1.0)), columns, value, np.zeros((2, 2), dtype=bool))
    number = joint(cells_of(outlook, [Reading(0, 1e6), Reading(1, 5.0)]), equal(outlook))
    assert number.log_row[0] - number.log_row[1] == pytest.approx(math.log(0.5), abs=0.1)
    assert np.exp(number.draws[0, 4:]).sum() > 0.95
    opened = joint(cells_of(outlook, [Reading(0, np.inf), Reading(1, 5.0)]), equal(outlook))
    assert opened.log_row[0] - opened.log_row[1] > math.log(30)
    assert np.exp(opened.draws[0, :4]).sum() > 0.95


def test_draw_weights_sum_to_one_with_readings_far_from_everything():
    """Log space holds: readings a thousand widths off still give finite densities and weights that sum to 1 +- 1e-12."""
    outlook = table()
    cells = cells_of(outlook, [Reading(0, 1e5), Reading(1, -1e5), Reading(2, np.inf), Reading(4, 1e4)])
    got = joint(cells, equal(outlook))
    assert np.isfinite(got.log_row).all()
    np.testing.assert_allclose(np.exp(got.draws).sum(axis=1), 1.0, atol=1e-12)
