"""Which mistakes and slips are worth a joint look, and how likely each is once everything was weighed."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from halfsplit.diagnosis.cells import NONSENSE, Cells, slipped
from halfsplit.diagnosis.elsewhere import Elsewhere
from halfsplit.diagnosis.joint import equal_draws, joint
from halfsplit.diagnosis.mistakes import Doubt, Mistake, Run, best_run
from halfsplit.diagnosis.outlook import Outlook, Reading, Row
from halfsplit.diagnosis.scale import Array
from halfsplit.diagnosis.slips import Slip

MOST_RUNS = 3  # looked at jointly: a joint look costs as much as all the rest
WORTH_RUN = 0.005  # odds, reading by reading, above which a run is
SUSPECT, MOST_SUSPECTS, HEAVY = 0.03, 4, 24  # the same for single readings, and over how many rows
PLAIN = {
    "no contact": "did the probe touch? read it again",
    NONSENSE: "read it again?",
}


def worth_a_look(
    readings: Sequence[Reading], g: Array, log_odds: Array, kinds: Sequence[Mistake], prior: float, elsewhere: Elsewhere
) -> list[tuple[Run, float]]:
    """Runs that explain, reading by reading, a good deal, with the log prior of each mistake. g (R, n), log_odds (R,).

    prior: of all mistakes together; those that touch a reading share it. Of several forms of one mistake the best stands.
    """
    some = [m for m in kinds if any(r.column in m.elsewhere for r in readings)]
    if not some or prior <= 0:
        return []
    with np.errstate(divide="ignore"):
        plain = np.maximum(np.log(g), -700.0)  # an impossible reading still has to subtract from itself
    without = float(np.logaddexp.reduce(plain.sum(axis=1) + log_odds))
    total = sum(m.share for m in some)
    best: dict[str, tuple[float, Run, float]] = {}
    for m in some:
        run = best_run(m, readings, plain, log_odds, elsewhere)
        share = float(np.log(prior * m.share / total))
        if run is None or run.weight + share - without <= np.log(WORTH_RUN):
            continue
        if m.name not in best or run.weight + share > best[m.name][0]:
            best[m.name] = (run.weight + share, run, share)
    order = sorted(best.values(), key=lambda item: -item[0])
    return [(run, share) for _, run, share in order[:MOST_RUNS]]


def doubts_of_runs(runs: Sequence[tuple[Run, float]], rows: Sequence[Row], totals: Array) -> tuple[Doubt, ...]:
    """totals (1 + runs, R): log weight of every row without a mistake, and with each."""
    weight = np.exp(totals - totals.max())
    odds = weight.sum(axis=1) / weight.sum()
    out = []
    for k, (run, _) in enumerate(runs, start=1):
        m = run.mistake
        decides = _first(rows, weight[k]) != _first(rows, weight.sum(axis=0) - weight[k])
        out.append(Doubt(m.name, m.ask, float(odds[k]), run.readings, decides, type=m.type))
    return tuple(out)


def doubts_of_slips(
    outlook: Outlook,
    readings: Sequence[Reading],
    cells: Cells,
    g: Array,
    log_before: Array,
    row_odds: Array,
    log_all: float,
    named: Sequence[Slip],
    elsewhere: Elsewhere,
) -> tuple[Doubt, ...]:
    """For each suspect reading the likeliest way in which it may be wrong, with the odds that it is wrong in any.

    g (R, n): each reading alone. log_before (R,): log weight of each row before the readings. row_odds (R,): and after them.
    log_all: log of the sum over everything.
    """
    share = np.minimum(cells.slips.mass / np.maximum(g, 1e-300), 1.0)
    suspicion = (row_odds[:, None] * share).sum(axis=0)
    heavy = np.argsort(-row_odds, kind="stable")[:HEAVY]
    at, few = [outlook.rows[i] for i in heavy], cells.rows(heavy)
    equal = equal_draws(len(heavy), cells.predicted.shape[2])
    out = []
    for j in [int(j) for j in np.argsort(-suspicion, kind="stable")[:MOST_SUSPECTS] if suspicion[j] > SUSPECT]:
        left = joint(few.only([i for i in range(len(readings)) if i != j]), equal).log_row
        ways, _ = slipped(outlook, readings[j], named, elsewhere)
        with np.errstate(divide="ignore"):
            logs = np.log(np.stack([w.mass[heavy] for w in ways])) + (log_before[heavy] + left - log_all)
        odds = np.minimum(np.exp(np.logaddexp.reduce(logs, axis=0)), row_odds[heavy])
        if odds.sum() < SUSPECT:
            continue
        best = ways[int(np.logaddexp.reduce(logs, axis=1).argmax())]
        there = "" if best.way is None else outlook.columns[best.way.column].where
        ask = PLAIN[best.name] if best.slip is None else best.slip.ask.format(there=there)
        decides = _first(at, odds) != _first(at, row_odds[heavy] - odds)
        out.append(Doubt(best.name, ask, float(odds.sum()), (j,), decides, single=True, way=best.way))
    return tuple(out)


def _first(rows: Sequence[Row], weight: Array) -> str:
    """The likeliest part."""
    sums: dict[str, float] = {}
    for row, w in zip(rows, weight, strict=True):
        sums[row.part] = sums.get(row.part, 0.0) + float(w)
    return max(sums, key=lambda part: sums[part])
