"""What a value or a connection that nobody has seen would be worth to know, from the draws that are there already.

A doubted value is drawn wide in every row, and the readings have weighed the draws: how they lie in each row says what that value
would tell about the rows. Nothing is solved for it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfsplit.diagnosis.build import Drawn
from halfsplit.diagnosis.outlook import Outlook
from halfsplit.diagnosis.posterior import Posterior
from halfsplit.diagnosis.scale import Array, span_on_scale

BINS = 4
CONTROLS = 20  # splits by chance: few draws seem to tell something where there is nothing
LEAST_SPREAD = 0.05  # relative; a value drawn nearer than this either way is known
TOGETHER = 0.2  # of its whole reach: how near a unit's value has to be to that of its moved cells
WRONG_CONNECTION = 0.15  # share of what is not on the sheet that lies in an assumed connection of no read net (bench estimate)


def _wide(x: Array) -> bool:
    return bool(x.min() > 0 and np.log(x.max() / x.min()) >= 2 * LEAST_SPREAD)


def _together(z: Array, own: int) -> NDArray[np.bool_]:
    """Units whose value is that of their moved cells as well: those were solved with the unit modulo own."""
    return np.asarray(np.abs(z - z[np.arange(len(z)) % own]) <= TOGETHER * np.ptp(z))


def _information(joint: Array) -> float:
    """Mutual information of the two axes [bit]; joint sums to what is looked at of the odds."""
    whole = max(float(joint.sum()), 1e-300)
    p = joint / whole
    apart = p.sum(axis=0, keepdims=True) * p.sum(axis=1, keepdims=True)
    return whole * float((p * np.log2(np.maximum(p, 1e-300) / np.maximum(apart, 1e-300))).sum())


def _by_bin(z: Array, weight: Array, own: int) -> float:
    """Information between the label of a row and the quantile bin of z, weight (labels, units)."""
    some = _together(z, own)
    bins = np.argsort(np.argsort(z, kind="stable"), kind="stable") * BINS // len(z)
    joint = np.stack([weight[:, some & (bins == b)].sum(axis=1) for b in range(BINS)], axis=1)
    # what a label keeps after the units that hang between two values are left out, brought back to its odds
    kept = joint.sum(axis=1, keepdims=True)
    return _information(np.where(kept > 0, joint / np.maximum(kept, 1e-300), 1.0 / BINS) * weight.sum(axis=1, keepdims=True))


def value_gain(post: Posterior, drawn: Drawn, ref: str, param: str) -> float:
    """How much knowing this value would tell about which part is at fault [bit].

    Nought where it is known well enough, where nothing was read, and where a split by chance would seem to tell as much.
    """
    x = drawn.healthy[ref][param]
    if not post.readings or not _wide(x):
        return 0.0
    labels = list(dict.fromkeys(row.part for row in post.rows))
    each = post.row_odds[:, None] * np.exp(post.draws)
    weight = np.zeros((len(labels), each.shape[1]))
    np.add.at(weight, [labels.index(row.part) for row in post.rows], each)
    z, own, rng = np.log(x), drawn.draws, np.random.default_rng(len(post.readings))
    chance = [_by_bin(_shuffled(z, own, rng), weight, own) for _ in range(CONTROLS)]
    return max(0.0, _by_bin(z, weight, own) - max(chance))


def _shuffled(z: Array, own: int, rng: np.random.Generator) -> Array:
    """The same values in another order of the units, lot by lot as they were drawn."""
    return np.concatenate([rng.permutation(z[k : k + own]) for k in range(0, len(z), own)])


def connection_gain(outlook: Outlook, post: Posterior, nets: frozenset[str], among: int = 1) -> float:
    """How much it would tell to see an assumed connection at these nets [bit]: what nothing on the sheet explains may lie there.

    The odds of "not on the sheet" go to the places by how badly their readings fit the rows. among: how many unseen things share
    them there.
    """
    more = post.not_on_sheet - post.setting.not_on_sheet  # what was believed before any reading points nowhere
    if not post.readings or more <= 0.0:
        return 0.0
    odds = post.row_odds / max(float(post.row_odds.sum()), 1e-300)
    columns = [outlook.columns[r.column] for r in post.readings]
    flat = np.array([1.0 / span_on_scale(c) for c in columns])
    stray = flat / (flat + odds @ post.g)
    here = np.array([bool({c.red, c.black} & nets) for c in columns])
    share = (1.0 - WRONG_CONNECTION) * float((stray * here).sum() / max(stray.sum(), 1e-300)) + WRONG_CONNECTION / max(
        len(columns), 1
    )
    chance = min(more * share / max(among, 1), 1.0)
    return float(-(chance * np.log2(chance) + (1 - chance) * np.log2(1 - chance))) if 0.0 < chance < 1.0 else 0.0


@dataclass(frozen=True)
class Guess:
    """What the readings make of a value: best, and the span that holds eight in ten; told: how much narrower than before (0..1)."""

    best: float
    low: float
    high: float
    told: float


def value_guess(post: Posterior, drawn: Drawn, ref: str, param: str, likely: Mapping[float, float]) -> Guess | None:
    """The likeliest value of a doubted parameter given the readings, SI units; None where it was not drawn wide.

    likely: standard value -> weight beforehand; no other value is considered.
    """
    x = drawn.healthy[ref][param]
    if not _wide(x):
        return None
    z = np.log(x)
    weight = (post.row_odds[:, None] * np.exp(post.draws)).sum(axis=0) * _together(z, drawn.draws)
    weight = weight / max(float(weight.sum()), 1e-300)
    narrow = float(np.sqrt(weight @ (z - weight @ z) ** 2))
    values = np.array([v for v in sorted(likely) if x.min() * 0.95 <= v <= x.max() * 1.05])
    if not len(values) or not weight.sum() > 0:
        return None
    few = 1.0 / float(weight @ weight)  # so many draws carry the weight: the fewer, the wider each has to stand for (Silverman)
    kernel = max(1.06 * narrow * few**-0.2, 0.02)
    odds = np.exp(-0.5 * ((np.log(values)[:, None] - z) / kernel) ** 2) @ weight * np.array([likely[float(v)] for v in values])
    cum = np.cumsum(odds) / max(float(odds.sum()), 1e-300)
    low, high = (int(np.searchsorted(cum, q).clip(0, len(values) - 1)) for q in (0.1, 0.9))
    told = max(0.0, 1.0 - narrow / max(float(np.std(z)), 1e-12))
    return Guess(float(values[np.argmax(odds)]), float(values[low]), float(values[high]), told)
