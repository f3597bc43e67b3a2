"""Two faults at once, screened from single rows without a solve: a reading of a pair is what one of its two rows shows.

Deviations are never added: in simulated pairs that held in 4-7 % of cells, "one of the two" in 94-97 %.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfsplit.diagnosis.outlook import Double, Row
from halfsplit.diagnosis.scale import Array

ONE_OF_TWO, AS_HEALTHY, NEITHER = 0.90, 0.06, 0.04
CHUNK = 24  # readings multiplied before a logarithm is taken: 24 factors of 1e-8 stay far above the smallest float


@dataclass(frozen=True)
class Pair:
    """Two rows together, by index; odds among everything. row: where the two were solved together, None where only screened.
    root: which of the two killed the other, None where neither is known to."""

    a: int
    b: int
    odds: float
    row: int | None = None
    root: int | None = None


def pair_prior(rows: tuple[Row, ...], log_odds: Array, kills: Array | None = None) -> Array:
    """(R, R) log prior of every pair, above the diagonal, together one; -inf where a pair makes no sense.

    log_odds (R,): prior and looks of each row. What the complaint says is asked of the pair, which does what either would do:
    it counts once. kills (R, R): how much likelier the second comes with the first than by chance.
    """
    count = len(rows)
    parts = np.array([row.part for row in rows])
    sense = (parts[:, None] != parts[None, :]) & (parts != "")[:, None] & (parts != "")[None, :]
    sense &= np.triu(np.ones((count, count), dtype=bool), 1)
    if not sense.any():
        return np.full((count, count), -np.inf)
    with np.errstate(divide="ignore", invalid="ignore"):
        heard = np.log([1.0 if row.unheard is None else row.prior / row.unheard for row in rows])
    prior = log_odds[:, None] + log_odds[None, :]
    prior = np.where(sense, prior - np.minimum(heard[:, None], heard[None, :]), -np.inf)
    if kills is not None:
        prior = prior + np.log(np.maximum(kills, kills.T))
    top = prior.max()
    return np.asarray(prior - (top + np.log(np.exp(prior - top).sum())))


def pair_fit(g: Array, span: Array, healthy: int | None) -> Array:
    """(R, R) log likelihood of every pair, screened reading by reading."""
    total = np.zeros((len(g), len(g)))
    rest = (AS_HEALTHY * g[healthy] if healthy is not None else AS_HEALTHY / span) + NEITHER / span
    for start in range(0, g.shape[1], CHUNK):
        total += _log_products(g[:, start : start + CHUNK], rest[start : start + CHUNK])
    return total


def _log_products(g: Array, rest: Array) -> Array:
    scale = ONE_OF_TWO * g.max(axis=0) + rest
    half, rest = ONE_OF_TWO / 2 * g / scale, np.maximum(rest / scale, 1e-12)
    out = np.ones((len(g), len(g)))
    for j in range(g.shape[1]):
        out *= half[:, j, None] + (half[:, j] + rest[j])[None, :]
    return np.asarray(np.log(out) + np.log(scale).sum())


def fitting_row(g: Array, a: NDArray[np.int64], b: NDArray[np.int64], healthy: int | None) -> NDArray[np.int64]:
    """(K, n) the row of each pair (a, b (K,)) that shows each reading best: one of the two, or the healthy one."""
    three = np.stack([a, b, a if healthy is None else np.full_like(a, healthy)])
    share = np.array([ONE_OF_TWO / 2, ONE_OF_TWO / 2, 0.0 if healthy is None else AS_HEALTHY])
    best = (share[:, None, None] * g[three]).argmax(axis=0)
    return np.asarray(np.take_along_axis(three[:, :, None], best[None], axis=0)[0])


def best_pairs(
    log: Array, log_all: float, doubles: Sequence[Double] = (), kills: Array | None = None, most: int = 24
) -> tuple[Pair, ...]:
    """The heaviest pairs, heaviest first. log_all: log of the sum over everything."""
    solved = {(d.a, d.b): d.row for d in doubles}
    flat = np.argsort(log, axis=None)[::-1][:most]
    out = []
    for i in flat:
        a, b = (int(x) for x in np.unravel_index(i, log.shape))
        if np.isfinite(log[a, b]):
            root = None if kills is None or kills[a, b] == kills[b, a] else a if kills[a, b] > kills[b, a] else b
            out.append(Pair(a, b, float(np.exp(log[a, b] - log_all)), solved.get((a, b)), root))
    return tuple(out)
