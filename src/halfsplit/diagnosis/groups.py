"""Ambiguity: which rows no available reading tells apart. Direct comparison, never "a like b, b like c, so a like c".

Two rows are alike as far as their units may show the same: the shared part of the two distributions, the integral of the smaller
density, is twice the chance of being wrong when either is as likely and the reading decides as well as it can (Kailath 1967 on bounds
of it; the identity is textbook). Means far apart prove nothing where severities are wide, and means on top of each other do not make
a narrow row and a wide one the same. Taken is the best single reading: several together may tell more, never less.
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from halfsplit.diagnosis.outlook import Outlook
from halfsplit.diagnosis.posterior import DEFAULT, Posterior, Setting
from halfsplit.diagnosis.predictive import Components, components
from halfsplit.diagnosis.scale import Array, scale_of

QUANTILES = np.array([NormalDist().inv_cdf((k + 0.5) / 16) for k in range(16)])  # where each draw's Gaussian is looked at
LIKE = 0.05  # rows that share this much in every reading are one group: a decision between them errs once in forty


def overlap(
    outlook: Outlook,
    row: int,
    rows: Sequence[int],
    columns: Sequence[int],
    *,
    setting: Setting = DEFAULT,
    draws: Array | None = None,
) -> Array:
    """(rows,) how much of what each may show `row` may show as well, in the column that tells them apart best: 1 the same, 0 never.

    draws (R, D): log weights of the draws; None for equal ones. Once a row shares less than a thousandth, no further column is looked at.
    """
    at = np.array([row, *rows], dtype=np.int64)
    if draws is None:
        draws = np.full((len(outlook.rows), outlook.value.shape[2]), -np.log(outlook.value.shape[2]))
    share = np.ones(len(rows))
    if not len(columns) or not len(rows):
        return share
    for column in columns:
        some = np.flatnonzero(share > 1e-3)
        x = outlook.value[at, column]
        moved = ~((x[1:][some] == x[0]) | (np.isnan(x[1:][some]) & np.isnan(x[0]))).all(axis=1)
        some = some[moved]  # cells that neither row moves are one and the same
        if not len(some):
            continue
        here = np.concatenate([at[:1], at[1:][some]])
        if scale_of(outlook.columns[column]).idle == "":
            both = _shared_counts(outlook.value[here, column], np.exp(draws[here]))
        else:
            both = _shared(components(outlook, here, draws, [column], setting.meter))
        share[some] = np.minimum(share[some], both)
    return share


def _shared(comp: Components) -> Array:
    """(rows,) what the first row of one column's components shares with each of the others: numbers, OL, and what cannot be said."""
    z, width = comp.z[:, 0], comp.width[:, 0]
    at = (z[:, :, None] + QUANTILES * width[:, :, None]).reshape(len(z), -1)
    mine, others = slice(0, 1), slice(1, None)

    def density(nodes: Array, of: slice) -> Array:
        t = (nodes[:, :, None] - z[of][:, None, :]) / width[of][:, None, :]
        return np.asarray((np.exp(np.maximum(-0.5 * t * t, -700.0)) / width[of][:, None, :]).mean(axis=2) + 1e-300)

    here = np.broadcast_to(at[mine], at[others].shape)
    a = np.minimum(1.0, density(here, others) / density(here, mine)).mean(axis=1)
    b = np.minimum(1.0, density(at[others], mine) / density(at[others], others)).mean(axis=1)
    number, ol, unknown = 1.0 - comp.ol[:, 0] - comp.unknown[:, 0], comp.ol[:, 0], comp.unknown[:, 0]
    shared = np.minimum(number[0], number[1:]) * 0.5 * (a + b) + np.minimum(ol[0], ol[1:])
    return np.asarray(np.minimum(1.0, shared + np.maximum(unknown[0], unknown[1:])))


def _shared_counts(x: Array, weight: Array) -> Array:
    """The same for exact values x (1 + rows, D)."""
    values = np.unique(x[np.isfinite(x)])
    each = np.stack([(weight * (x == v)).sum(axis=1) for v in values], axis=1) if len(values) else np.zeros((len(x), 1))
    unknown = (weight * np.isnan(x)).sum(axis=1)
    return np.asarray(np.minimum(1.0, np.minimum(each[0], each[1:]).sum(axis=1) + np.maximum(unknown[0], unknown[1:])))


def alike(
    outlook: Outlook,
    rows: Sequence[int],
    columns: Sequence[int],
    *,
    setting: Setting = DEFAULT,
    draws: Array | None = None,
) -> NDArray[np.bool_]:
    """(rows, rows) whether no one of these columns tells the two rows apart: they share LIKE or more in each."""
    shares = [overlap(outlook, r, rows, columns, setting=setting, draws=draws) >= LIKE for r in rows]
    return np.array(shares).reshape(len(rows), len(rows))


def shares_of(
    outlook: Outlook,
    post: Posterior,
    row: int,
    columns: Sequence[int],
    *,
    within: Sequence[int] | None = None,
    every: float = 1e-4,
) -> dict[int, float]:
    """Rows that these columns do not tell from `row`, itself among them, heaviest first, with what each shares with it. within: rows
    to compare (default: those above `every`)."""
    rows = [int(i) for i in (np.flatnonzero(post.row_odds > every) if within is None else within) if int(i) != row]
    both = overlap(outlook, row, rows, columns, setting=post.setting)
    found = {row: 1.0} | {r: float(s) for r, s in zip(rows, both, strict=True) if s >= LIKE}
    return dict(sorted(found.items(), key=lambda item: -post.row_odds[item[0]]))


def group_of(
    outlook: Outlook,
    post: Posterior,
    row: int,
    columns: Sequence[int],
    *,
    within: Sequence[int] | None = None,
    every: float = 1e-4,
) -> tuple[int, ...]:
    """The rows of shares_of."""
    return tuple(shares_of(outlook, post, row, columns, within=within, every=every))
