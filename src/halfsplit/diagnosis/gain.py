"""How many bits a reading would tell about what to change: I(part; reading)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfsplit.diagnosis.outlook import Outlook
from halfsplit.diagnosis.posterior import Posterior
from halfsplit.diagnosis.predictive import (
    Components,
    Hypotheses,
    Nodes,
    Target,
    by_part,
    common_units,
    components,
    hypotheses,
    stratified,
)
from halfsplit.diagnosis.scale import Array, scale_of

RESAMPLED = 8  # draws a row in the first, rough pass over all columns
GAP = 3.0  # widths between two rows before a reading tells them apart


def information(nodes: Nodes, hyp: Hypotheses) -> Array:
    """(C,) mutual information of label and outcome by quadrature. [bit]"""
    after = nodes.label_posterior(hyp)
    before = np.maximum(hyp.label_odds, 1e-300)
    with np.errstate(divide="ignore"):
        bits = np.log2(np.maximum(after, 1e-300) / before)
    weight = (nodes.chance * hyp.odds) @ hyp.one_hot
    most = float(-(before * np.log2(before)).sum())  # no reading tells more than there is to be told
    return np.asarray(np.clip((weight * bits).sum(axis=(1, 2)), 0.0, most))


def rough_information(outlook: Outlook, post: Posterior, hyp: Hypotheses, columns: Sequence[int]) -> Array:
    """(C,) what sorting the rows into clusters by gaps would tell; cheap enough for every column. [bit]"""
    comp = _resampled(outlook, post, hyp, columns)
    odds = hyp.mix.T @ hyp.odds
    if not odds.sum() > 0:  # all the odds lie off the sheet: no row says what a reading would show
        return np.zeros(len(columns))
    odds = odds / odds.sum()
    width = np.sqrt((comp.width**2).mean(axis=2) + comp.sd**2)
    open_at = comp.mean.max(axis=0) + 10.0 * GAP * width.max(axis=0)
    mean = np.where(comp.ol > 0.5, open_at, comp.mean)
    width = np.where(comp.unknown > 0.5, np.inf, width)  # what cannot be said bridges every gap
    order = np.argsort(mean, axis=0)
    m, w = np.take_along_axis(mean, order, axis=0), np.take_along_axis(width, order, axis=0)
    cut = np.diff(m, axis=0) > GAP * np.hypot(w[1:], w[:-1])
    cluster = np.concatenate([np.zeros((1, m.shape[1]), dtype=int), np.cumsum(cut, axis=0)], axis=0)
    masses = np.zeros((m.shape[0], m.shape[1]))
    np.add.at(masses, (cluster, np.arange(m.shape[1])[None, :]), odds[order])
    clusters = -(masses * np.log2(np.maximum(masses, 1e-300))).sum(axis=0)
    # Wide rows overlap and make no gap; how far the means lie apart says something all the same.
    centre = (odds[:, None] * comp.mean).sum(axis=0)
    between = (odds[:, None] * (comp.mean - centre) ** 2).sum(axis=0)
    within = (odds[:, None] * np.where(np.isfinite(width), width, 0.0) ** 2).sum(axis=0)
    return np.asarray(np.maximum(clusters, 0.5 * np.log2(1.0 + between / np.maximum(within, 1e-300))))


def _resampled(outlook: Outlook, post: Posterior, hyp: Hypotheses, columns: Sequence[int]) -> Components:
    """Components from a few draws of each row, resampled by weight in even steps."""
    common = common_units(outlook, post, hyp, columns)
    index = stratified(np.exp(post.draws[hyp.rows]), RESAMPLED)[:, None, :]
    if common is not None:
        index = np.where(common[0][:, :, None], stratified(common[1][None], RESAMPLED), index)
    few = outlook.value[hyp.rows[:, None, None], np.asarray(columns)[None, :, None], index]
    small = Outlook(
        tuple(outlook.rows[r] for r in hyp.rows),
        tuple(outlook.columns[c] for c in columns),
        few,
        outlook.pulsing[np.ix_(hyp.rows, np.asarray(columns))],
    )
    equal = np.full((len(hyp.rows), RESAMPLED), -np.log(RESAMPLED))
    return components(small, np.arange(len(hyp.rows)), equal, range(len(columns)), post.setting.meter, keep=1)


def count_outcomes(outlook: Outlook, post: Posterior, column: int, target: Target = by_part) -> tuple[Array, Array, Hypotheses]:
    """Every value a counting column can show, with P(value | hypothesis) (values + 1, H); the last line is "another value".

    A row that cannot say spreads evenly over the column's span, which is never less than the values other rows show.
    """
    hyp = hypotheses(post, target=target, everything=True)
    x, weight = outlook.value[hyp.rows, column, :], np.exp(post.draws[hyp.rows])
    values = np.unique(x[np.isfinite(x)])
    each = np.stack([(weight * (x == v)).sum(axis=1) for v in values]) if len(values) else np.zeros((0, len(hyp.rows)))
    span = max(float(outlook.columns[column].span), float(len(values)), 1.0)
    anything = hyp.flat + hyp.mix @ (weight * np.isnan(x)).sum(axis=1)
    known = each @ hyp.mix.T + anything / span
    other = anything * (1.0 - len(values) / span)
    return values, np.concatenate([known, other[None]]), hyp


def count_information(outlook: Outlook, post: Posterior, column: int, target: Target = by_part) -> float:
    """Mutual information of label and an exact count, by enumeration. [bit]"""
    _, chance, hyp = count_outcomes(outlook, post, column, target)
    joint = (chance * hyp.odds) @ hyp.one_hot
    before = hyp.label_odds
    total = joint.sum(axis=1, keepdims=True)
    ratio = joint / np.maximum(total * before, 1e-300)
    return float((joint * np.log2(np.where(joint > 0, ratio, 1.0))).sum())


def is_count(outlook: Outlook, column: int) -> bool:
    """Whether a column shows an exact value, which is enumerated and not integrated."""
    return scale_of(outlook.columns[column]).idle == ""
