"""Readings worth taking together: all cold ones of one state and function in one go, or a single live one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from halfsplit.diagnosis.cells import NO_CONTACT
from halfsplit.diagnosis.gain import is_count
from halfsplit.diagnosis.outlook import Outlook
from halfsplit.diagnosis.planner import WORTH, next_readings
from halfsplit.diagnosis.posterior import Posterior
from halfsplit.diagnosis.predictive import (
    Components,
    Hypotheses,
    Target,
    by_part,
    common_units,
    components,
    hypotheses,
    stratified,
)
from halfsplit.diagnosis.proposal import Prices, Proposal
from halfsplit.diagnosis.scale import JUNK, Array, span_on_scale

LONGEST = 6  # readings in one round; more can't be kept in the head
CANDIDATES = 10
MOST = 3 * CANDIDATES  # readings looked through for them
PARTICLES = 6  # draws that stand for a row in the joint outcome
MIN_RATE = 0.05  # bits a minute below which one reading more is not worth its time
PATIENCE = 0.4  # of the rate that waits in another state: a round doesn't go on with readings worth less (bench estimate)
SEED = 20  # of the noise in the imagined outcomes: the same question gets the same answer


def round_of(
    outlook: Outlook,
    post: Posterior,
    *,
    prices: Prices | None = None,
    available: Sequence[int] | None = None,
    target: Target = by_part,
    min_rate: float = MIN_RATE,
    found: Sequence[Proposal] | None = None,
) -> tuple[Proposal, ...]:
    """What to read before thinking again; empty when no reading tells anything.

    A live reading stands alone. Cold ones in the same state with the same function are added as long as each still
    tells enough beside those before it: its gain is the added one, and its price leaves out the change of state. Enough is
    measured by what waits in another state too: nobody reads six legs of small parts while one reading of the set switched on
    would decide.
    found: what next_readings gave for the same question, MOST of them; None: it is asked here.
    """
    prices = Prices() if prices is None else prices
    if found is None:
        found = next_readings(outlook, post, prices=prices, available=available, target=target, most=MOST)
    if not found or found[0].gain <= 0:
        return ()
    first = outlook.columns[found[0].column]
    if first.live or is_count(outlook, found[0].column):
        return (found[0],)
    there = replace(prices, now=first.state)
    alike = [
        p
        for p in found
        if (outlook.columns[p.column].state, outlook.columns[p.column].function) == (first.state, first.function)
        and not outlook.columns[p.column].live
    ][:CANDIDATES]
    logs, label = _imagined(outlook, post, hypotheses(post, target=target), [p.column for p in alike])
    price = [there.of(outlook.columns[p.column]) for p in alike]
    waiting = max((p.rate for p in found if outlook.columns[p.column].state != first.state), default=0.0)
    order, gains = _greedy(logs, label, price, max(min_rate, PATIENCE * waiting))
    later = [replace(alike[k], gain=g, price=price[k]) for k, g in zip(order, gains, strict=True)]
    return (found[0], *later[1:])


def best_together(
    outlook: Outlook, post: Posterior, columns: Sequence[int], most: int, *, prices: Prices, target: Target = by_part
) -> tuple[int, ...]:
    """Columns that together tell most for their price when read at one and the same moment; the first of those in question is
    taken as given, and each after it adds something."""
    some = list(columns)[:CANDIDATES]
    if len(some) < 2:
        return tuple(some)
    logs, label = _imagined(outlook, post, hypotheses(post, target=target), some)
    order, _ = _greedy(logs, label, [prices.of(outlook.columns[c]) for c in some], min_rate=MIN_RATE)
    return tuple(some[k] for k in order[:most])


def _imagined(outlook: Outlook, post: Posterior, hyp: Hypotheses, columns: list[int]) -> tuple[Array, tuple[Array, Array]]:
    """(columns, outcomes, particles) log density of imagined outcomes, one outcome a particle; labels (particles, labels)
    and log odds (particles,) of the particles. A particle is one draw of one row, the same in all columns."""
    rng = np.random.default_rng(SEED)
    each = _particles(post, hyp)
    draw = each[1][:, None]
    common = common_units(outlook, post, hyp, columns)
    if common is not None:  # what a row leaves as it is shows the same units as its neighbours
        draw = np.where(common[0][each[0]], np.tile(stratified(common[1][None], PARTICLES)[0], len(hyp.rows))[:, None], draw)
    few = outlook.value[hyp.rows[each[0]][:, None], np.asarray(columns)[None, :], draw]
    small = Outlook(
        tuple(outlook.rows[hyp.rows[i]] for i in each[0]),
        tuple(outlook.columns[c] for c in columns),
        few[:, :, None],
        outlook.pulsing[np.ix_(hyp.rows[each[0]], np.asarray(columns))],
    )
    comp = components(small, np.arange(len(few)), np.zeros((len(few), 1)), range(len(columns)), post.setting.meter, keep=1)
    share = hyp.mix.T @ hyp.odds
    odds = share[each[0]] / PARTICLES
    logs = np.stack([_column_logs(comp, k, span_on_scale(outlook.columns[c]), rng) for k, c in enumerate(columns)])
    # Each row's share of the labels: a pair or an undrawn thing lends its odds to the rows that it acts like.
    labels = (hyp.mix.T * hyp.odds) @ hyp.one_hot
    labels = labels / np.maximum(labels.sum(axis=1, keepdims=True), 1e-300)
    return logs, (labels[each[0]], odds / odds.sum())


def _particles(post: Posterior, hyp: Hypotheses) -> tuple[np.ndarray, np.ndarray]:
    draw = stratified(np.exp(post.draws[hyp.rows]), PARTICLES)
    return np.repeat(np.arange(len(hyp.rows)), PARTICLES), draw.reshape(-1)


def _column_logs(comp: Components, k: int, span: float, rng: np.random.Generator) -> Array:
    z, width = comp.z[:, k, 0], comp.width[:, k, 0]
    ol, unknown = comp.ol[:, k] > 0.5, comp.unknown[:, k] > 0.5
    y = z + width * rng.standard_normal(len(z))
    number = np.exp(-0.5 * ((y[:, None] - z[None]) / width[None]) ** 2) / (width[None] * np.sqrt(2 * np.pi))
    number = np.where(unknown[None], 1.0 / span, np.where(ol[None], 0.0, number))
    opened = np.where(unknown, 1.0 / span, ol.astype(float))[None]
    core = np.where(ol[:, None], opened, number)
    slip = NO_CONTACT + JUNK
    logs = np.log((1 - slip) * core + slip / span)
    return np.where(unknown[:, None], 0.0, logs)  # an outcome that cannot be imagined tells nothing


def _greedy(logs: Array, label: tuple[Array, Array], price: list[float], min_rate: float) -> tuple[list[int], list[float]]:
    each = np.exp(logs - logs.max(axis=2, keepdims=True))
    together = each[0]
    told = _bits(together, label)
    order, gains = [0], [told]
    while len(order) < min(LONGEST, len(logs)):
        rest = [k for k in range(len(logs)) if k not in order]
        added = [(_bits(together * each[k], label) - told) for k in rest]
        best = max(range(len(rest)), key=lambda i: added[i] / price[rest[i]])
        if added[best] < WORTH or added[best] / price[rest[best]] < min_rate:
            break
        order.append(rest[best])
        gains.append(added[best])
        told, together = told + added[best], together * each[rest[best]]
        together = together / together.max(axis=1, keepdims=True)
    return order, gains


def _bits(together: Array, label: tuple[Array, Array]) -> float:
    """Mutual information of label and the joint outcome, averaged over the imagined outcomes; together (outcomes, particles): their
    density, each line to a scale of its own. [bit]"""
    labels, odds = label
    weight = together @ (odds[:, None] * np.concatenate([labels, np.ones((len(odds), 1))], axis=1))
    after = weight[:, :-1] / np.maximum(weight[:, -1:], 1e-300)
    before = odds @ labels
    left = -(after * np.log2(np.maximum(after, 1e-300))).sum(axis=1)
    return float(-(before * np.log2(np.maximum(before, 1e-300))).sum() - odds @ left)
