"""Where next: the reading that tells most about what to change, per minute, with the care of hazards counted as minutes."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np

from halfsplit.diagnosis.facts import fresh
from halfsplit.diagnosis.gain import count_information, information, is_count, rough_information
from halfsplit.diagnosis.outlook import Outlook
from halfsplit.diagnosis.posterior import Posterior
from halfsplit.diagnosis.predictive import Hypotheses, Nodes, Target, by_part, common_units, components, hypotheses, nodes
from halfsplit.diagnosis.proposal import Prices, Proposal, healthy_band, meaning

PREFILTER, FEWER = 24, 10  # columns that get the full quadrature; fewer while more than 32 rows are looked at
ELSEWHERE = 2  # columns of other states than the best one's that are looked at closely in any case
WORTH = 0.02  # a reading below this many bits decides nothing


def next_readings(
    outlook: Outlook,
    post: Posterior,
    *,
    prices: Prices | None = None,
    available: Sequence[int] | None = None,
    again: Collection[int] = (),
    target: Target = by_part,
    most: int = 6,
) -> tuple[Proposal, ...]:
    """The readings worth most per minute, best first.

    Parameters
    ----------
    available : columns that may be proposed at all (hazards that are forbidden are left out here, not priced). None: all.
    again : columns read already that may be asked for once more; those read with a shaky hand always may.
    target : what is to be found out about a row; which part it is, unless told otherwise.
    """
    prices = Prices() if prices is None else prices
    done = {r.column for r in post.readings if not r.shaky} - set(again)
    columns = [int(c) for c in (range(len(outlook.columns)) if available is None else available) if int(c) not in done]
    hyp = hypotheses(post, target=target)
    columns = fresh(outlook, hyp.rows, columns, sorted(done))
    exact = [c for c in columns if is_count(outlook, c)]
    measured = _prefiltered(outlook, post, hyp, [c for c in columns if not is_count(outlook, c)], prices)
    grid, bits = _measured(outlook, post, hyp, measured)
    gains = dict(zip(measured, (float(b) for b in bits), strict=True))
    gains |= {c: count_information(outlook, post, c, target) for c in exact}
    order = sorted(gains, key=lambda c: (-gains[c] / prices.of(outlook.columns[c]), c))[:most]
    place = {c: k for k, c in enumerate(measured)}
    return tuple(
        Proposal(
            c,
            gains[c],
            prices.of(outlook.columns[c]),
            healthy_band(outlook, post, c),
            meaning(outlook, post, hyp, grid, place.get(c, 0), c, target),
        )
        for c in order
    )


def _prefiltered(outlook: Outlook, post: Posterior, hyp: Hypotheses, columns: list[int], prices: Prices) -> list[int]:
    keep = PREFILTER if len(hyp.rows) <= 32 else FEWER
    if len(columns) <= keep:
        return columns
    price = np.array([prices.of(outlook.columns[c]) for c in columns])
    rate = rough_information(outlook, post, hyp, columns) / price
    order = [columns[i] for i in np.argsort(-rate, kind="stable")]
    # the best of another state too, so that a round knows what it keeps waiting
    elsewhere = [c for c in order if outlook.columns[c].state != outlook.columns[order[0]].state][:ELSEWHERE]
    return sorted({*order[:keep], *elsewhere})


def _measured(outlook: Outlook, post: Posterior, hyp: Hypotheses, columns: list[int]) -> tuple[Nodes | None, np.ndarray]:
    if not columns:
        return None, np.zeros(0)
    common = common_units(outlook, post, hyp, columns)
    comp = components(outlook, hyp.rows, post.draws, columns, post.setting.meter, common=common)
    grid = nodes(outlook, hyp, comp, columns, slips=post.setting.slips)
    return grid, information(grid, hyp)
