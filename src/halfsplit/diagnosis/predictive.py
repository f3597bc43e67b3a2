"""What a column not read yet would show, under each explanation that still counts.

The draws of a row are weighted by the readings taken; eight stratified ones stand for it, each a small Gaussian as wide
as meter, drawn circuit and spacing make it. Pairs and "not on the sheet" are mixtures of rows and of anything at all.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfsplit.diagnosis.cells import NO_CONTACT
from halfsplit.diagnosis.joint import KERNEL
from halfsplit.diagnosis.outlook import Column, Outlook, Row
from halfsplit.diagnosis.pairs import AS_HEALTHY, NEITHER, ONE_OF_TWO
from halfsplit.diagnosis.posterior import Posterior
from halfsplit.diagnosis.scale import JUNK, TAIL, Array, MeterAccuracy, Scale, noise, scale_of, span_on_scale

Bools = NDArray[np.bool_]
Target = Callable[[Row], str]
NOT_ON_SHEET = "something not on the sheet"
HEAVY = 28  # rows looked at; what is lighter changes no choice
HEAVIEST, MASS = 64, 0.95  # so early that 28 rows are not most of the odds, more are looked at
NODES = 8
NEGLIGIBLE = -60.0  # log of a density beside its own peak, below which it is nought
STRAY = 0.35  # share of readings in which an undrawn thing shows
PAIRS, PLACES = 3, 4  # of two faults, and of something not on the sheet, that are looked at
# Normal quantiles at (k + 1/2)/8, shuffled so that node and noise are not in step.
OFFSETS = np.array([-0.1573, 1.0100, -1.0100, 0.4888, -1.5341, 0.1573, 1.5341, -0.4888])


def by_part(row: Row) -> str:
    """What the repair hangs on: which part."""
    return row.part


@dataclass(frozen=True)
class Hypotheses:
    """rows (I,): indices into the outlook. mix (H, I): how much of each hypothesis acts like each row; the rest, flat (H,),
    like anything. odds (H,) sum to one. label (H,): index into labels, what it would mean."""

    rows: NDArray[np.int64]
    mix: Array
    flat: Array
    odds: Array
    label: NDArray[np.int64]
    labels: tuple[str, ...]

    @property
    def label_odds(self) -> Array:
        return np.asarray(np.bincount(self.label, weights=self.odds, minlength=len(self.labels)), dtype=np.float64)

    @property
    def one_hot(self) -> Array:
        return np.eye(len(self.labels))[self.label]


def heavy_rows(post: Posterior) -> list[int]:
    """The rows that carry most of the odds, heaviest first: 28, and up to 64 while these are not most of the odds."""
    order = np.argsort(-post.row_odds, kind="stable")
    sums = np.cumsum(post.row_odds[order])
    enough = int(np.searchsorted(sums, MASS * sums[-1])) + 1
    return [int(i) for i in order[: min(max(enough, HEAVY), HEAVIEST)] if post.row_odds[i] > 0]


def hypotheses(post: Posterior, *, target: Target = by_part, everything: bool = False) -> Hypotheses:
    """The explanations that still count, and what each would mean. everything: every row that is not impossible."""
    chosen = [int(i) for i in np.flatnonzero(post.row_odds > 0)] if everything else heavy_rows(post)
    pairs = [p for p in post.pairs[:PAIRS] if p.odds > 0.003]
    places = [(u, odds) for u, odds in post.undrawn[:PLACES] if odds > 0.01]
    extra = [r for p in pairs for r in ((p.a, p.b) if p.row is None else (p.row,))] + [u.row for u, _ in places]
    extra += [] if post.healthy is None else [post.healthy]
    single = len(chosen)
    chosen += [r for r in dict.fromkeys(extra) if r not in chosen]
    at = {r: i for i, r in enumerate(chosen)}
    mix, flat = [list(row) for row in np.eye(len(chosen))], [0.0] * len(chosen)
    odds, names = [float(post.row_odds[r]) for r in chosen], [target(post.rows[r]) for r in chosen]
    for pair in pairs:
        line = np.zeros(len(chosen))
        if pair.row is not None:
            line[at[pair.row]] = 1.0
        else:
            line[[at[pair.a], at[pair.b]]] += ONE_OF_TWO / 2
            if post.healthy is not None:
                line[at[post.healthy]] += AS_HEALTHY
        mix.append(list(line))
        flat.append(NEITHER if pair.row is None and post.healthy is not None else 1.0 - float(line.sum()))
        odds.append(pair.odds)
        names.append(f"{target(post.rows[pair.a])} + {target(post.rows[pair.b])}")
    for undrawn, share in places:
        mix.append([float(i == at[undrawn.row]) for i in range(len(chosen))])
        flat.append(0.0)
        odds.append(share)
        names.append(f"{NOT_ON_SHEET}, {undrawn.place}")
    rest = post.not_on_sheet - sum(share for _, share in places)
    if rest > 1e-4:
        alike = np.array(odds[: len(chosen)]) * (np.arange(len(chosen)) < single)
        mix.append(list((1 - STRAY) * alike / max(alike.sum(), 1e-300)))
        flat.append(STRAY)
        odds.append(rest)
        names.append(NOT_ON_SHEET)
    labels = tuple(dict.fromkeys(names))
    weight = np.array(odds)
    return Hypotheses(
        np.array(chosen, dtype=np.int64),
        np.array(mix).reshape(len(odds), len(chosen)),
        np.array(flat),
        weight / weight.sum(),
        np.array([labels.index(n) for n in names]),
        labels,
    )


def common_units(outlook: Outlook, post: Posterior, hyp: Hypotheses, columns: Sequence[int]) -> tuple[Bools, Array] | None:
    """Cells (I, C) that a row leaves as the healthy units show them, and one weight (D,) of each unit for all of these.

    Each row weights the units by what was read, a few of them heavily, and not the same ones as its neighbour: compared with weights
    of their own, rows would seem to differ in readings that concern neither.
    """
    if post.healthy is None:
        return None
    at = np.asarray(columns, dtype=np.int64)
    x, healthy = outlook.value[np.ix_(hyp.rows, at)], outlook.value[post.healthy, at]
    same = ((x == healthy) | (np.isnan(x) & np.isnan(healthy))).all(axis=2)
    odds = post.row_odds[hyp.rows]
    return same, np.asarray(odds @ np.exp(post.draws[hyp.rows]) / max(float(odds.sum()), 1e-300))


@dataclass(frozen=True)
class Components:
    """Numbers a column would show, on its scale. z, width (I, C, K); ol, unknown (I, C): probability of OL and of cells
    that cannot be said; mean, sd (I, C) of the numbers."""

    z: Array
    width: Array
    ol: Array
    unknown: Array
    mean: Array
    sd: Array


def components(
    outlook: Outlook,
    rows: NDArray[np.int64],
    draws: Array,
    columns: Sequence[int],
    meter: MeterAccuracy,
    *,
    keep: int = NODES,
    common: tuple[Bools, Array] | None = None,
) -> Components:
    """Stratified draws of each row in each column; draws (R, D) log weights. common: cells (I, C) that the healthy units stand
    for, and the weights (D,) that they have in all of them."""
    x = outlook.value[np.ix_(rows, np.asarray(columns, dtype=np.int64))]
    weight = np.broadcast_to(np.exp(draws[rows])[:, None, :], x.shape)
    if common is not None:
        weight = np.where(common[0][:, :, None], common[1], weight)
    ol, unknown = (weight * np.isinf(x)).sum(axis=2), (weight * np.isnan(x)).sum(axis=2)
    finite = np.isfinite(x)
    z = _by_column(outlook, columns, x, lambda c, v: scale_of(c).forward(v))
    order = np.argsort(np.where(finite, z, np.inf), axis=2)
    z = np.take_along_axis(np.where(finite, z, 0.0), order, axis=2)
    w = np.take_along_axis(weight * finite, order, axis=2)
    cum = np.cumsum(w, axis=2)
    mass = np.maximum(cum[:, :, -1:], 1e-300)
    steps = (np.arange(keep) + 0.5) / keep
    index = (cum[:, :, None, :] < (mass * steps)[:, :, :, None]).sum(axis=3).clip(0, x.shape[2] - 1)
    picked = np.take_along_axis(z, index, axis=2)
    mean = (w * z).sum(axis=2) / mass[:, :, 0]
    sd = np.sqrt(np.maximum((w * (z - mean[:, :, None]) ** 2).sum(axis=2) / mass[:, :, 0], 0.0))
    moves = outlook.pulsing[np.ix_(rows, np.asarray(columns, dtype=np.int64))]
    width = np.empty_like(picked)
    for at in _of_one_function(outlook, columns):
        column = outlook.columns[columns[at[0]]]  # how far a reading may be off hangs on its kind alone
        width[:, at] = noise(column, scale_of(column).back(picked[:, at]), moves[:, at, None], meter).total
    return Components(picked, np.sqrt(width**2 + (KERNEL * sd[:, :, None]) ** 2 + 1e-18), ol, unknown, mean, sd)


def stratified(weight: Array, keep: int) -> NDArray[np.int64]:
    """(I, keep) draws in even steps of their weights (I, D)."""
    cum = np.cumsum(weight, axis=1)
    steps = (np.arange(keep) + 0.5) / keep * cum[:, -1:]
    return np.asarray((cum[:, None, :] < steps[:, :, None]).sum(axis=2).clip(0, cum.shape[1] - 1), dtype=np.int64)


def _by_column(outlook: Outlook, columns: Sequence[int], x: Array, f: Callable[[Column, Array], Array]) -> Array:
    """f on the columns of x (I, C, ...), all columns of one function at once."""
    out = np.empty_like(x)
    for at in _of_one_function(outlook, columns):
        out[:, at] = f(outlook.columns[columns[at[0]]], x[:, at])
    return out


def _of_one_function(outlook: Outlook, columns: Sequence[int]) -> list[list[int]]:
    """Places among these columns, those of one function together; volts straight across a part are a function of their own."""
    kinds: dict[tuple[str, Scale], list[int]] = {}
    for k, c in enumerate(columns):
        kinds.setdefault((outlook.columns[c].function, scale_of(outlook.columns[c])), []).append(k)
    return list(kinds.values())


@dataclass(frozen=True)
class Nodes:
    """Where each column's outcome is looked at. at (C, N): value on the scale; the last node stands for OL.
    hypothesis (C, N, H): density there under each. chance (C, N, H): share of each hypothesis's outcomes it stands for."""

    at: Array
    hypothesis: Array
    chance: Array

    def only(self, k: int) -> Nodes:
        """The nodes of one column."""
        return Nodes(self.at[k : k + 1], self.hypothesis[k : k + 1], self.chance[k : k + 1])

    def label_posterior(self, hyp: Hypotheses) -> Array:
        """(C, N, labels) odds of each label, were this node the outcome."""
        joint = (self.hypothesis * hyp.odds) @ hyp.one_hot
        return np.asarray(joint / np.maximum(joint.sum(axis=2, keepdims=True), 1e-300))


def nodes(outlook: Outlook, hyp: Hypotheses, comp: Components, columns: Sequence[int], *, slips: bool) -> Nodes:
    """Quadrature nodes of each column with every hypothesis's density at them."""
    count = len(columns)
    span = np.array([span_on_scale(outlook.columns[c]) for c in columns])
    own = comp.z + OFFSETS * comp.width
    low, high = own.min(axis=(0, 2)), own.max(axis=(0, 2))
    reach = np.maximum(high - low, 0.2 * span)
    flat_at = (low + high)[:, None] / 2 + reach[:, None] * ((np.arange(NODES) + 0.5) / NODES - 0.5)
    at = np.concatenate([own.transpose(1, 0, 2).reshape(count, -1), flat_at], axis=1)
    number = 1.0 - comp.ol - comp.unknown
    each = _row_density(comp, at, TAIL if slips else 0.0)
    density = each * number.T[:, None, :]
    anything = hyp.flat[None, :] + comp.unknown.T @ hyp.mix.T
    full = density @ hyp.mix.T + (anything / span[:, None])[:, None, :]
    open_mass = comp.ol.T @ hyp.mix.T
    # A wide row's own nodes miss a narrow row's peak inside it; the narrow row's do not. So every hypothesis is averaged over
    # the nodes of all, each weighed by its density against that of all who put a node there (deterministic mixture).
    placed = NODES * (each.sum(axis=2) + 1.0 / reach[:, None])
    chance = full / placed[:, :, None]
    total = chance.sum(axis=1, keepdims=True)
    # A hypothesis that shows OL here has no number at all: rounding over rounding must not become its share.
    share = np.clip(1.0 - open_mass, 0.0, 1.0)[:, None, :]
    chance *= np.where(total > 1e-12, share / np.maximum(total, 1e-12), 0.0)
    opened = open_mass
    if slips:
        full, open_mass = _slipped(outlook, columns, at, span, full, open_mass)
    return Nodes(
        np.concatenate([at, np.full((count, 1), np.inf)], axis=1),
        np.concatenate([full, open_mass[:, None, :]], axis=1),
        np.concatenate([chance, opened[:, None, :]], axis=1),
    )


def _row_density(comp: Components, at: Array, thick: float) -> Array:
    """(C, N, I) density of numbers at the nodes: core from the draws, a tail three times as wide."""
    z, width = comp.z.transpose(1, 0, 2), comp.width.transpose(1, 0, 2)
    t = (at[:, :, None, None] - z[:, None]) * (1.0 / width)[:, None]
    t *= t
    t *= -0.5
    near = t > NEGLIGIBLE  # most rows lie far from most nodes
    core = np.einsum("cnik,cik->cni", np.exp(t, out=np.zeros_like(t), where=near), 1.0 / (width * np.sqrt(2 * np.pi) * z.shape[2]))
    wide = np.sqrt(9.0 * (width**2).mean(axis=2) + comp.sd.T**2)
    s = (at[:, :, None] - comp.mean.T[:, None, :]) / wide[:, None, :]
    s *= -0.5 * s
    tail = np.exp(s, out=np.zeros_like(s), where=s > NEGLIGIBLE) / (np.sqrt(2 * np.pi) * wide)[:, None, :]
    return np.asarray((1 - thick) * core + thick * tail)


def _slipped(
    outlook: Outlook, columns: Sequence[int], at: Array, span: Array, full: Array, open_mass: Array
) -> tuple[Array, Array]:
    """Mix nonsense into densities and OL: without it a repeat would never be worth proposing."""
    idle = [scale_of(outlook.columns[c]).idle for c in columns]
    ol = np.array([1.0 if i == "ol" else 0.0 for i in idle])
    near_zero = np.zeros_like(at)
    for k, word in enumerate(idle):
        if word == "zero":
            scale = scale_of(outlook.columns[columns[k]])
            wide = 0.06 * float(scale.slope(0.0)) if scale.kind == "signed" else 0.3
            near_zero[k] = np.exp(-0.5 * ((at[k] - scale.forward(0.0)) / wide) ** 2) / (wide * np.sqrt(2 * np.pi))
    good = 1.0 - NO_CONTACT - JUNK
    full = good * full + (NO_CONTACT * near_zero + JUNK / span[:, None])[:, :, None]
    return full, good * open_mass + (NO_CONTACT * ol)[:, None]
