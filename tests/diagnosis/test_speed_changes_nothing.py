"""The fast sums of slips, and the shared ones of the planner, against the plain ones they stand for.

BOUND  the same sums in another order: 1e-9 of every log density. Readings far off and OL among them, because what is left out is left
       out for being small beside the rest.
"""

from __future__ import annotations

import numpy as np
import pytest

from halfsplit.diagnosis import joint as fast
from halfsplit.diagnosis.cells import cells_of
from halfsplit.diagnosis.likelihood import density
from halfsplit.diagnosis.outlook import Column, Outlook, Reading, Row
from halfsplit.diagnosis.planner import next_readings
from halfsplit.diagnosis.posterior import posterior
from halfsplit.diagnosis.rounds import MOST, round_of
from halfsplit.diagnosis.scale import SQRT_2PI, TAIL

KINDS = ("v", "r", "d", "v", "ac", "r", "esr", "v", "c", "d")


def table(rows=90, draws=24, seed=5):
    """A row moves a third of its cells, some of them to OL in half of the draws."""
    rng = np.random.default_rng(seed)
    size = {"v": 10.0, "ac": 2.0, "r": 4e3, "d": 0.6, "esr": 0.5, "c": 1e-6}
    level = np.array([size[k] for k in KINDS])
    value = level[None, :, None] * np.exp(0.05 * rng.standard_normal((rows, len(KINDS), draws)))
    moved = rng.random((rows, len(KINDS))) < 0.33
    value *= np.where(moved, np.exp(rng.normal(0, 2, moved.shape)), 1.0)[:, :, None]
    open_too = moved & np.isin(KINDS, ["r", "d", "esr"])[None] & (rng.random(moved.shape) < 0.3)
    value[open_too, : draws // 2] = np.inf
    columns = tuple(Column(f"{k}{i}", k, f"n{i}", "0", f"n{i}", "s", span=30.0, limit=6e7) for i, k in enumerate(KINDS))
    names = (Row("", "nothing wrong", 0.1), *(Row(f"P{i}", "w", 1.0) for i in range(1, rows)))
    return Outlook(names, columns, value, np.zeros(moved.shape, dtype=bool))


def readings_of(outlook, wrong):
    shown = outlook.value[7, :, 3].copy()
    shown[list(wrong)] *= 40.0
    return [Reading(j, float(x)) for j, x in enumerate(shown)]


def plainly(cells, blocks, precision, logdet, resid):
    """No slip, then one at a time beside the worst, nothing left out and nothing shared."""
    slips, active = cells.slips, blocks.active.copy()
    chance, mass = np.broadcast_to(slips.chance, active.shape), np.broadcast_to(slips.mass, active.shape)
    good = np.log((1 - chance) * (1 - TAIL))
    out = np.empty((len(active), resid.shape[2]))
    for b in range(len(active)):
        p, on = precision[b].copy(), active[b].copy()
        pull = p @ resid[b]
        base = -0.5 * ((resid[b] * pull).sum(axis=0) + logdet[b] + on.sum() * np.log(2 * np.pi)) + (on * good[b]).sum()
        total = base
        for _ in range(min(fast.MOST_SLIPS, len(on))):
            k = np.diag(p)
            var = 1 / k + 8 * cells.width[b] ** 2
            step = 0.5 * pull**2 / k[:, None] + (0.5 * (np.log(2 * np.pi) - np.log(k)) - good[b])[:, None] + base
            tail = (1 - chance[b]) * TAIL / np.sqrt(2 * np.pi * var)
            log_tail = np.log(tail[:, None] * np.exp(-0.5 * (pull / (k * np.sqrt(var))[:, None]) ** 2) + mass[b][:, None])
            each = np.where(on[:, None], step + log_tail, -np.inf)
            total = np.logaddexp(total, np.logaddexp.reduce(each, axis=0)) if on.any() else total
            if not on.any():
                break
            top = np.where(on[:, None], step, -np.inf).max(axis=0)
            worst = int((np.exp(each - top) * np.exp(top - top.max())).sum(axis=1).argmax())
            base, on[worst] = step[worst] + log_tail[worst], False
            column = p[:, worst].copy()
            pull = pull - np.outer(column, pull[worst] / k[worst])
            p = p - np.outer(column, column / k[worst])
            p[worst, worst] = 1.0
        out[b] = total
    return out


@pytest.mark.parametrize("wrong", [(), (0,), (1, 7), (0, 2, 4, 9)])
def test_slips_are_summed_as_the_plain_loop_sums_them(wrong, monkeypatch):
    outlook = table()
    cells = cells_of(outlook, readings_of(outlook, wrong))
    equal = fast.equal_draws(len(outlook.rows), outlook.value.shape[2])
    got = fast.joint(cells, equal)
    monkeypatch.setattr(fast, "_without_slips_and_with", plainly)
    monkeypatch.setattr(fast, "CHUNK", 1000)
    want = fast.joint(cells, equal)
    np.testing.assert_allclose(got.log_row, want.log_row, rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(np.exp(got.draws), np.exp(want.draws), atol=1e-9)


def test_a_reading_by_itself_has_the_density_written_out(monkeypatch):
    """Kernel sum, tail and nonsense of a column of volts, cell by cell, in every chunk of rows."""
    outlook = table()
    cells = cells_of(outlook, readings_of(outlook, (0,)))
    got = density(cells, fast.equal_draws(len(outlook.rows), outlook.value.shape[2])).g[:, 0]
    z, width = cells.predicted[:, 0], cells.width[:, 0, None]
    mean = z.mean(axis=1, keepdims=True)
    off = cells.found[0] - mean - np.sqrt(1 - fast.KERNEL**2) * (z - mean)
    spread = fast.KERNEL**2 * z.var(axis=1, keepdims=True)

    def normal(s):
        return np.exp(-0.5 * (off / s) ** 2) / (SQRT_2PI * s)

    core = (1 - TAIL) * normal(np.sqrt(spread + width**2)) + TAIL * normal(np.sqrt(spread + 9 * width**2))
    chance, mass = np.broadcast_to(cells.slips.chance, cells.width.shape)[:, 0], np.broadcast_to(cells.slips.mass, cells.width.shape)[:, 0]
    want = ((1 - chance)[:, None] * core + mass[:, None]).mean(axis=1) * np.exp(cells.steady[:, 0])
    np.testing.assert_allclose(got, want, rtol=1e-9)


def test_a_round_is_the_same_whether_it_asks_or_is_told():
    outlook = table()
    post = posterior(outlook, readings_of(outlook, ())[:3])
    asked = round_of(outlook, post)
    assert asked and asked == round_of(outlook, post, found=next_readings(outlook, post, most=MOST))
