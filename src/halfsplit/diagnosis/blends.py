"""Explanations that act like one row at some readings and like another at others: two faults, something not on the sheet.

They are screened reading by reading, from the matrix g alone. But a product over readings is not the density that single
rows are weighed by (one draw is one unit, so readings that agree count for less, or for more, than their product): the
heaviest blends are therefore put together from their rows' own cells and weighed jointly, like any row.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from halfsplit.diagnosis.cells import Cells
from halfsplit.diagnosis.joint import equal_draws, joint
from halfsplit.diagnosis.scale import Array

SOLVED = 32  # blends weighed jointly; the others take over the heaviest ones' mean difference


def blended(cells: Cells, pick: NDArray[np.int64]) -> Cells:
    """Cells of rows put together: reading j of blend k is what row pick[k, j] shows; -1: the blend says nothing of it.

    pick (K, n). Returns cells with K rows.
    """
    at, j = np.maximum(pick, 0), np.arange(pick.shape[1])[None, :]
    says = (pick >= 0)[:, :, None]
    return replace(
        cells,
        predicted=cells.predicted[at, j],
        number=cells.number[at, j] & says,
        event=np.where(says, cells.event[at, j], 0.0),
        steady=np.where(says[:, :, 0], cells.steady[at, j], 0.0),
        gain=cells.gain[at, j],
        model=cells.model[at, j],
        own=cells.own[at, j],
        slips=replace(cells.slips, mass=cells.slips.mass[at, j]),
    )


def jointly(screened: Array, cells: Cells, g: Array, pick: Callable[[NDArray[np.int64]], NDArray[np.int64]]) -> Array:
    """Screened log weights (M,) of blends, corrected from the product density to the joint one.

    g (R, n): density of each reading alone. pick: indices of blends (K,) -> the row each takes each reading from (K, n).
    """
    heavy = np.argsort(-screened, kind="stable")[:SOLVED]
    heavy = heavy[np.isfinite(screened[heavy])]
    if not len(heavy) or not g.shape[1]:
        return screened
    rows = pick(heavy)
    with np.errstate(divide="ignore"):
        alone = np.where(rows >= 0, np.log(g[np.maximum(rows, 0), np.arange(g.shape[1])[None, :]]), 0.0).sum(axis=1)
    gap = joint(blended(cells, rows), equal_draws(len(rows), cells.predicted.shape[2])).log_row - alone
    gap = np.where(np.isfinite(gap), gap, 0.0)
    share = np.exp(screened[heavy] - screened[heavy].max())
    out = screened + float((share * gap).sum() / share.sum())
    out[heavy] = screened[heavy] + gap
    return np.asarray(out)
