"""Density of each reading alone under each row: the matrix g that mistakes, pairs and "not on the sheet" share."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from halfsplit.diagnosis.cells import Cells
from halfsplit.diagnosis.joint import CHUNK, KERNEL
from halfsplit.diagnosis.scale import TAIL, Array, gauss


@dataclass(frozen=True)
class Density:
    """g (R, n): density of each reading on its scale, nonsense and tail in it. broad (n,): what it has under a unit that
    behaves like no row in particular. [1/scale, or a probability for OL and exact counts]"""

    g: Array
    broad: Array


def density(cells: Cells, log_weight: Array) -> Density:
    """Each reading alone, averaged over the draws with weights log_weight (R, D)."""
    every = np.arange(len(log_weight))
    some = np.array_split(every, max(1, -(-len(every) // CHUNK)))
    parts = [_density(cells.rows(rows), log_weight[rows]) for rows in some]
    wide = np.concatenate([w for _, w in parts])
    return Density(np.concatenate([g for g, _ in parts]), 0.5 * wide.mean(axis=0) + 0.5 / cells.slips.span)


def _density(cells: Cells, log_weight: Array) -> tuple[Array, Array]:
    """(R, n) twice: g, and the same three times as wide."""
    slips, weight = cells.slips, np.exp(log_weight)[:, None, :]
    z = np.where(cells.number, cells.predicted, 0.0)
    share = np.maximum((weight * cells.number).sum(axis=2, keepdims=True), 1e-300)
    mean = (weight * z * cells.number).sum(axis=2, keepdims=True) / share
    centred = np.where(cells.number, z - mean, 0.0)
    spread = (weight * centred**2).sum(axis=2, keepdims=True) / share
    found = np.where(np.isfinite(cells.found), cells.found, 0.0)[None, :, None]
    resid = found - mean - np.sqrt(1 - KERNEL**2) * centred
    width = cells.width[:, :, None]
    core = gauss(resid, np.sqrt(KERNEL**2 * spread + width**2 + 1e-18))
    tail = gauss(resid, np.sqrt(KERNEL**2 * spread + 9.0 * width**2 + 1e-18))
    thick = TAIL if slips.chance.any() else 0.0
    chance = slips.chance[None, :, None]
    number = (1 - chance) * ((1 - thick) * core + thick * tail) + slips.mass[:, :, None]
    event = np.exp(cells.event)
    steady = np.exp(cells.steady)
    g = (weight * np.where(cells.number, number, event)).sum(axis=2) * steady
    wide = (weight * np.where(cells.number, tail, event)).sum(axis=2) * steady
    return g, wide
