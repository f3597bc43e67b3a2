"""Ambiguity: which rows no available reading tells apart. Direct comparison, never "a like b, b like c, so a like c"."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from halfsplit.diagnosis.outlook import Outlook
from halfsplit.diagnosis.posterior import DEFAULT, Posterior, Setting
from halfsplit.diagnosis.predictive import components
from halfsplit.diagnosis.scale import scale_of

APART = 3.0  # widths


def alike(
    outlook: Outlook,
    rows: Sequence[int],
    columns: Sequence[int],
    *,
    setting: Setting = DEFAULT,
    draws: NDArray[np.float64] | None = None,
) -> NDArray[np.bool_]:
    """(rows, rows) whether no one of these columns tells the two rows apart by three widths, tolerance and severity in it.

    draws (R, D): log weights of the draws; None for equal ones.
    """
    at = np.asarray(rows, dtype=np.int64)
    if draws is None:
        draws = np.full((len(outlook.rows), outlook.value.shape[2]), -np.log(outlook.value.shape[2]))
    out = np.ones((len(at), len(at)), dtype=bool)
    if not len(columns):
        return out
    comp = components(outlook, at, draws, columns, setting.meter)
    noise2 = np.maximum((comp.width**2).mean(axis=2), 1e-18) + comp.sd**2
    number = 1.0 - comp.ol - comp.unknown
    for k, column in enumerate(columns):
        exact = scale_of(outlook.columns[column]).idle == ""
        gap = np.abs(comp.mean[:, None, k] - comp.mean[None, :, k])
        apart = gap > (1e-9 if exact else APART * np.sqrt(noise2[:, None, k] + noise2[None, :, k]))
        apart &= (number[:, None, k] > 0.9) & (number[None, :, k] > 0.9)
        opened = comp.ol[:, k]
        apart |= np.maximum(opened[:, None] * number[None, :, k], number[:, None, k] * opened[None]) > 0.9
        out &= ~apart
    return out


def group_of(
    outlook: Outlook,
    post: Posterior,
    row: int,
    columns: Sequence[int],
    *,
    within: Sequence[int] | None = None,
    every: float = 1e-4,
) -> tuple[int, ...]:
    """Rows that these columns do not tell from `row`, itself among them, heaviest first. within: rows to compare
    (default: those above `every`)."""
    rows = [int(i) for i in (np.flatnonzero(post.row_odds > every) if within is None else within) if int(i) != row]
    same = alike(outlook, [row, *rows], columns, setting=post.setting)[0]
    chosen = [r for r, s in zip([row, *rows], same, strict=True) if s]
    return tuple(sorted(chosen, key=lambda r: -post.row_odds[r]))
