"""A reading worth taking: what it costs, what it should show on a healthy unit, and what each outcome would mean."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from halfsplit.diagnosis.gain import count_outcomes, is_count
from halfsplit.diagnosis.outlook import Column, Outlook
from halfsplit.diagnosis.posterior import Posterior
from halfsplit.diagnosis.predictive import Hypotheses, Nodes, Target
from halfsplit.diagnosis.scale import Array, MeterAccuracy, noise, scale_of

SECOND = 0.34  # a label is named beside the first when its odds are a third of it
FAR = 1e-3  # weight, against the heaviest, of drawn units that a good twin's readings leave out
ENDS = (0.025, 0.975)  # of the drawn healthy units lie in the band, before it is widened
RARE = 0.005  # outcomes rarer than this are not shown apart


@dataclass(frozen=True)
class Prices:
    """Minutes beside the reading itself. now: state the set is in. change: state -> minutes to get there, with discharge
    and verifying. hazard: class -> minutes that its care and its risk are worth (bench estimates, common practice:
    a power cycle with discharge 2 min, precautions on the live hot side 1.5 min)."""

    now: str = ""
    change: Mapping[str, float] = field(default_factory=dict)
    hazard: Mapping[str, float] = field(default_factory=lambda: {"H0": 0.0, "H1": 0.2, "H2": 0.7, "H3": 1.5})
    cycle: float = 2.0

    def of(self, column: Column) -> float:
        """Price of one reading. [min]"""
        there = 0.0 if not self.now or column.state == self.now else self.change.get(column.state, self.cycle)
        return max(column.minutes + there + self.hazard.get(column.hazard, 1.5), 1e-3)


@dataclass(frozen=True)
class Outcome:
    """Values from low to high (both inf: OL) would mean these parts, each with its odds after that; chance of the outcome."""

    low: float
    high: float
    means: tuple[tuple[str, float], ...]
    chance: float


@dataclass(frozen=True)
class Proposal:
    """One reading to take. gain [bit], price [min], healthy band in the column's unit, None where it cannot be said."""

    column: int
    gain: float
    price: float
    healthy: tuple[float, float] | None
    outcomes: tuple[Outcome, ...]

    @property
    def rate(self) -> float:
        """Bits a minute: what proposals are ordered by."""
        return self.gain / self.price


def healthy_band(outlook: Outlook, post: Posterior, column: int) -> tuple[float, float] | None:
    """What a healthy unit may show: the healthy row's draws, widened by meter and drawn circuit. (x, inf) reaches to OL."""
    if post.healthy is None:
        return None
    col, x = outlook.columns[column], outlook.value[post.healthy, column]
    weight = np.ones(len(x)) if post.units is None else np.exp(post.units - post.units.max())
    like = weight > FAR
    return band_of(col, x[like], weight[like], bool(outlook.pulsing[post.healthy, column]), post.setting.meter)


def band_of(col: Column, x: Array, weight: Array, pulsing: bool, meter: MeterAccuracy) -> tuple[float, float] | None:
    """What these units may show, widened by meter and drawn circuit; None where it cannot be said. x, weight (units,)."""
    x, weight = x[~np.isnan(x)], weight[~np.isnan(x)]
    if not len(x):
        return None
    finite = x[np.isfinite(x)]
    if not len(finite):
        return (col.limit if math.isfinite(col.limit) else math.inf, math.inf)
    scale, ends = scale_of(col), quantiles(finite, weight[np.isfinite(x)], ENDS)
    width = noise(col, ends, pulsing, meter).total / scale.slope(ends)
    low, high = float(ends[0] - 1.645 * width[0]), float(ends[1] + 1.645 * width[1])
    if np.isinf(x).any():
        high = math.inf
    return (max(low, 0.0) if scale.kind == "decades" else low, high)


def quantiles(x: Array, weight: Array, at: Sequence[float]) -> Array:
    """(at,) values below which so much of the units lies, by their weights. x, weight (units,), all of them finite."""
    if (weight == weight[0]).all():
        return np.asarray(np.quantile(x, at))
    order = np.argsort(x)
    below = np.cumsum(weight[order]) - 0.5 * weight[order]
    return np.asarray(np.interp(at, below / weight.sum(), x[order]))


def outcomes_of(outlook: Outlook, hyp: Hypotheses, nodes: Nodes, k: int, column: int) -> tuple[Outcome, ...]:
    """Contiguous ranges of values and what they would mean; k: the column's place among the nodes."""
    col = outlook.columns[column]
    scale, after = scale_of(col), nodes.only(k).label_posterior(hyp)[0]
    chance = nodes.chance[k] @ hyp.odds
    order = np.argsort(nodes.at[k, :-1], kind="stable")
    z, w, a = nodes.at[k, order], chance[order], after[order]
    groups = _merged(np.split(np.arange(len(z)), np.flatnonzero(np.diff(a.argmax(axis=1))) + 1), w, a)
    ends = [(z[g[-1]] + z[h[0]]) / 2 for g, h in zip(groups[:-1], groups[1:], strict=True)]
    edges = [float(x) for x in scale.back(np.array(ends))] if ends else []
    least = 0.0 if scale.kind == "decades" or col.function == "ac" else min(-float(col.span), float(scale.back(z[0])))
    most = col.limit if math.isfinite(col.limit) else max(float(col.span), float(scale.back(z[-1])))
    out = [
        Outcome(low, high, _means(hyp, w[g] @ a[g]), float(w[g].sum()))
        for g, low, high in zip(groups, [least, *edges], [*edges, most], strict=True)
    ]
    if chance[-1] > RARE:
        out.append(Outcome(math.inf, math.inf, _means(hyp, after[-1]), float(chance[-1])))
    return tuple(out)


def _merged(groups: list[np.ndarray], w: Array, a: Array) -> list[np.ndarray]:
    """Join neighbours that would mean the same, and lay rare ones to the likelier neighbour."""

    def names(g: np.ndarray) -> frozenset[int]:
        odds = w[g] @ a[g]
        return frozenset(int(i) for i in np.flatnonzero(odds >= SECOND * max(odds.max(), 1e-300)))

    groups = list(groups)
    while len(groups) > 1:
        mass = [float(w[g].sum()) for g in groups]
        rare = min(range(len(groups)), key=mass.__getitem__)
        same = next((i for i in range(len(groups) - 1) if names(groups[i]) == names(groups[i + 1])), None)
        if mass[rare] < RARE:
            left = rare > 0 and (rare == len(groups) - 1 or mass[rare - 1] >= mass[rare + 1])
            same = rare - 1 if left else rare
        if same is None:
            break
        groups[same : same + 2] = [np.concatenate(groups[same : same + 2])]
    return groups


def _means(hyp: Hypotheses, odds: Array) -> tuple[tuple[str, float], ...]:
    odds = odds / max(float(odds.sum()), 1e-300)
    order = np.argsort(-odds, kind="stable")
    return tuple((hyp.labels[i], float(odds[i])) for i in order if odds[i] >= SECOND * odds[order[0]])


def count_means(outlook: Outlook, post: Posterior, column: int, target: Target) -> tuple[Outcome, ...]:
    """One outcome for each exact value, and one, open to both sides, for any other."""
    values, chance, hyp = count_outcomes(outlook, post, column, target)
    joint = (chance * hyp.odds) @ hyp.one_hot
    total = joint.sum(axis=1)
    shown = [(float(v), float(v)) for v in values] + [(-math.inf, math.inf)]
    return tuple(
        Outcome(low, high, _means(hyp, joint[i]), float(total[i])) for i, (low, high) in enumerate(shown) if total[i] > 1e-9
    )


def meaning(
    outlook: Outlook, post: Posterior, hyp: Hypotheses, nodes: Nodes | None, k: int, column: int, target: Target
) -> tuple[Outcome, ...]:
    """Outcomes of a column, exact or measured."""
    if nodes is None or is_count(outlook, column):
        return count_means(outlook, post, column, target)
    return outcomes_of(outlook, hyp, nodes, k, column)
