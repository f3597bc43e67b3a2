"""What is wrong: the odds of every row of the outlook, given what was read and seen.

Beside the rows stand "something not on the sheet" (a copy of the whole table that acts like a row at most places and
not at some), two faults at once, and mistakes at the bench. The odds are always rebuilt from all readings: a struck
entry is left out, never subtracted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from halfsplit.diagnosis.blends import jointly
from halfsplit.diagnosis.cells import Cells, cells_of
from halfsplit.diagnosis.doubts import doubts_of_runs, doubts_of_slips, worth_a_look
from halfsplit.diagnosis.elsewhere import Elsewhere
from halfsplit.diagnosis.joint import Joint, equal_draws, joint
from halfsplit.diagnosis.likelihood import Density, density
from halfsplit.diagnosis.mistakes import Doubt, Mistake, Run, standard_mistakes
from halfsplit.diagnosis.outlook import Outlook, Reading, Row, Undrawn
from halfsplit.diagnosis.pairs import Pair, best_pairs, fitting_row, pair_fit, pair_prior
from halfsplit.diagnosis.scale import METER, Array, MeterAccuracy
from halfsplit.diagnosis.slips import Slip
from halfsplit.errors import InputError, ModelLimit

STRAYS = (0.15, 0.35, 0.6)  # share of readings in which the undrawn thing shows
LIKE_HEALTHY = 0.3  # prior that what is not drawn leaves the rest healthy


@dataclass(frozen=True)
class Setting:
    """What is believed beforehand, and what is let in. All probabilities. slips=False: readings are exact (textbook logic)."""

    meter: MeterAccuracy = field(default_factory=lambda: METER)
    slips: bool = True
    not_on_sheet: float = 0.05
    undrawn: float = 0.04  # of it, where single places were tried
    two_at_once: float = 0.05
    mistakes: float = 0.01


DEFAULT = Setting()
LOGIC = Setting(slips=False, not_on_sheet=0.0, two_at_once=0.0, mistakes=0.0)


@dataclass(frozen=True)
class Posterior:
    """Odds that sum to one over rows, not_on_sheet and two_at_once; mistakes are summed out.

    row_odds (R,). in_pair (R,): odds of each row as one of two at once. pairs: the heaviest. evidence (R,): log likelihood
    of the readings and looks, mistakes in it. g (R, n): each reading alone. draws (R, D): log weight of each draw.
    doubts: mistakes that may have been made, likeliest first. undrawn: places where something is that is not on the sheet, with
    odds, heaviest first; they are part of not_on_sheet. Rows of the outlook after the single ones have no odds here.
    units (D,): log weight of each drawn healthy unit for the bands that are shown, from a good twin; None: all alike.
    """

    rows: tuple[Row, ...]
    readings: tuple[Reading, ...]
    setting: Setting
    row_odds: Array
    not_on_sheet: float
    two_at_once: float
    pairs: tuple[Pair, ...]
    in_pair: Array
    doubts: tuple[Doubt, ...]
    evidence: Array
    g: Array
    draws: Array
    undrawn: tuple[tuple[Undrawn, float], ...] = ()
    units: Array | None = None

    @cached_property
    def part_odds(self) -> dict[str, float]:
        """Part -> odds that it alone is at fault, heaviest first."""
        sums: dict[str, float] = {}
        for row, odds in zip(self.rows, self.row_odds, strict=True):
            if row.part and row.prior > 0:
                sums[row.part] = sums.get(row.part, 0.0) + float(odds)
        return dict(sorted(sums.items(), key=lambda item: -item[1]))

    @cached_property
    def involved(self) -> dict[str, float]:
        """Part -> odds that it is at fault, alone or with another."""
        sums = dict(self.part_odds)
        for row, odds in zip(self.rows, self.in_pair, strict=True):
            if row.part and odds:
                sums[row.part] += float(odds)
        roots = dict(self.part_odds)  # of two that died together the one that killed the other comes first
        for pair in self.pairs:
            if pair.root is not None:
                roots[self.rows[pair.root].part] += pair.odds
        return dict(sorted(sums.items(), key=lambda item: (-round(item[1], 2), -roots[item[0]])))

    @cached_property
    def nothing_wrong(self) -> float:
        """Odds that the unit is healthy."""
        return float(sum(o for r, o in zip(self.rows, self.row_odds, strict=True) if not r.part))

    @property
    def healthy(self) -> int | None:
        """Index of the healthy row, None where the outlook has none."""
        return healthy_row(self.rows)

    @property
    def mistaken(self) -> float:
        """Odds that some mistake was made at the bench."""
        return min(1.0, sum(d.odds for d in self.doubts))


def healthy_row(rows: tuple[Row, ...]) -> int | None:
    """Index of the row "nothing wrong", None where there is none."""
    return next((i for i, row in enumerate(rows) if not row.part), None)


def _log_prior(outlook: Outlook, looks: Array | None) -> Array:
    prior = np.array([row.prior for row in outlook.rows], dtype=np.float64)
    if not (prior >= 0).all() or not prior.sum() > 0:
        bad = next((r for r in outlook.rows if not r.prior >= 0), outlook.rows[0] if outlook.rows else None)
        raise InputError(f"row {bad!r} has no usable prior; priors are >= 0 and not all nought")
    if looks is not None and np.shape(looks) != prior.shape:
        raise InputError(f"looks have the shape {np.shape(looks)}, but there are {len(prior)} rows; give one log odds a row")
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(prior / prior.sum()))


def posterior(
    outlook: Outlook,
    readings: Sequence[Reading],
    *,
    looks: Array | None = None,
    setting: Setting = DEFAULT,
    mistakes: Sequence[Mistake | Slip] | None = None,
) -> Posterior:
    """Weigh every explanation by all that was read and seen.

    Parameters
    ----------
    readings : in the order in which they were taken (a mistake lasts for a run of them).
    looks : (R,) log odds of what was seen and smelt, each row against a row with nothing to see. None: nothing looked at.
    mistakes : which to consider, and which slips of single readings; None for the standard ones.

    Raises
    ------
    InputError : a reading has no column, or shapes do not fit. ModelLimit : nothing at all explains exact readings.
    """
    log_prior = _log_prior(outlook, looks)
    seen = np.zeros(len(log_prior)) if looks is None else np.asarray(looks, dtype=np.float64)
    healthy = healthy_row(outlook.rows)
    equal = equal_draws(len(log_prior), outlook.value.shape[2])
    count = outlook.singles
    kinds = standard_mistakes(outlook) if mistakes is None else tuple(mistakes)
    named, elsewhere = tuple(m for m in kinds if isinstance(m, Slip)), Elsewhere(outlook, setting.meter)
    cells = cells_of(outlook, readings, meter=setting.meter, slips=setting.slips, named=named, elsewhere=elsewhere)
    plain, single = joint(cells, equal), density(cells, equal)
    lasting = [m for m in kinds if isinstance(m, Mistake)]
    runs = worth_a_look(readings, single.g, log_prior + seen, lasting, setting.mistakes, elsewhere)
    evidence, draws, doubts = _with_mistakes(outlook.rows, cells, plain, runs, equal, setting, log_prior + seen)
    alone = 1.0 - setting.not_on_sheet - setting.two_at_once
    with np.errstate(divide="ignore"):
        log_rows = log_prior + seen + evidence + np.log(alone)
        log_not = np.log(setting.not_on_sheet)
        log_undrawn = np.full(len(outlook.undrawn), -np.inf)
        log_pairs = np.full((count, count), -np.inf)
        if setting.not_on_sheet > 0:
            log_not += _not_on_sheet(cells, single, log_prior, healthy)
            share = np.log([u.share for u in outlook.undrawn])
            log_undrawn = np.log(setting.undrawn) + share + evidence[np.array([u.row for u in outlook.undrawn], np.int64)]
        if setting.two_at_once > 0:
            # Looks of both parts count, but the priors sum to one before them.
            prior = pair_prior(outlook.rows[:count], log_prior[:count], outlook.kills) + np.log(setting.two_at_once)
            prior = prior + seen[:count, None] + seen[None, :count]
            screened = prior + pair_fit(single.g[:count], cells.slips.span, healthy)
            for double in outlook.doubles:
                screened[double.a, double.b] = -np.inf
            log_pairs = _pairs_jointly(screened, cells, single, healthy)
            for double in outlook.doubles:
                log_pairs[double.a, double.b] = prior[double.a, double.b] + evidence[double.row]
    log_two = float(np.logaddexp.reduce(log_pairs, axis=None))
    log_not = float(np.logaddexp.reduce(np.concatenate([[log_not], log_undrawn])))
    log_all = float(np.logaddexp.reduce(np.concatenate([log_rows, [log_not, log_two]])))
    if not np.isfinite(log_all):
        raise ModelLimit("no row explains these readings, exactly taken; let slips in, or add the missing explanation as a row")
    places = sorted(zip(outlook.undrawn, np.exp(log_undrawn - log_all), strict=True), key=lambda item: -item[1])
    row_odds = np.exp(log_rows - log_all)
    if setting.slips:
        before = log_prior + seen + np.log(alone)
        doubts += doubts_of_slips(outlook, readings, cells, single.g, before, row_odds, log_all, named, elsewhere)
    return Posterior(
        rows=outlook.rows,
        readings=tuple(readings),
        setting=setting,
        row_odds=row_odds,
        not_on_sheet=float(np.exp(log_not - log_all)),
        two_at_once=float(np.exp(log_two - log_all)),
        pairs=best_pairs(log_pairs, log_all, outlook.doubles, outlook.kills) if setting.two_at_once else (),
        in_pair=np.concatenate([_in_pair(log_pairs, log_all), np.zeros(len(outlook.rows) - count)]),
        doubts=tuple(sorted((d for d in doubts if d.odds >= 0.01), key=lambda d: -d.odds)),
        evidence=evidence + seen,
        g=single.g,
        draws=draws,
        undrawn=tuple((u, float(odds)) for u, odds in places),
    )


def _pairs_jointly(screened: Array, cells: Cells, single: Density, healthy: int | None) -> Array:
    """(R, R) the screened pairs on the density that single rows are weighed by."""
    count = len(screened)

    def rows_of(pairs: np.ndarray) -> np.ndarray:
        return fitting_row(single.g, pairs // count, pairs % count, healthy)

    return jointly(screened.reshape(-1), cells, single.g, rows_of).reshape(count, count)


def _in_pair(log_pairs: Array, log_all: float) -> Array:
    odds = np.exp(log_pairs - log_all)
    return np.asarray(odds.sum(axis=0) + odds.sum(axis=1))


def _not_on_sheet(cells: Cells, single: Density, log_prior: Array, healthy: int | None) -> float:
    """Log density of all readings under "acts like some row at most places and not at some"."""
    prior = np.exp(log_prior)
    if healthy is not None:
        prior = prior * (1 - LIKE_HEALTHY) / max(1.0 - prior[healthy], 1e-12)
        prior[healthy] = LIKE_HEALTHY
    count = len(prior)
    with np.errstate(divide="ignore"):
        each = np.concatenate([np.log((1 - q) * single.g + q * single.broad).sum(axis=1) + np.log(prior) for q in STRAYS])

    def rows_of(some: np.ndarray) -> np.ndarray:
        row, q = some % count, np.array(STRAYS)[some // count, None]
        return np.where((1 - q) * single.g[row] >= q * single.broad, row[:, None], -1)

    return float(np.logaddexp.reduce(jointly(each, cells, single.g, rows_of)) - np.log(len(STRAYS)))


def _with_mistakes(
    rows: Sequence[Row],
    cells: Cells,
    plain: Joint,
    runs: list[tuple[Run, float]],
    equal: Array,
    setting: Setting,
    log_odds: Array,
) -> tuple[Array, Array, tuple[Doubt, ...]]:
    """Row evidence, draw weights and doubts, once each run's readings are taken out of the joint and put where they belong."""
    if not runs:
        return plain.log_row, plain.draws, ()
    logs, weights = [plain.log_row + np.log1p(-setting.mistakes)], [plain.draws]
    for run, share in runs:
        other = joint(cells.only([j for j in range(len(cells.found)) if j not in run.readings]), equal)
        logs.append(other.log_row + run.inside + run.prior + share)
        weights.append(other.draws)
    stack = np.array(logs)
    evidence = np.logaddexp.reduce(stack, axis=0)
    doubts = doubts_of_runs(runs, rows, stack + log_odds)
    share_of = np.exp(stack - np.where(np.isfinite(evidence), evidence, 0.0))[:, :, None]
    with np.errstate(divide="ignore"):
        draws = np.log((np.exp(np.array(weights)) * share_of).sum(axis=0))
    draws -= np.logaddexp.reduce(draws, axis=1)[:, None]
    return evidence, draws, doubts
