"""Mistakes at the bench that last for a run of readings, until the state changes: mains off at the strip, the meter on the wrong
kind of volts or with a flat battery, the set in another state than was said.

They cost no solve: under a mistake a reading is another column of the same outlook, a value that was worked out already, or
nothing at all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from halfsplit.diagnosis.elsewhere import Elsewhere, Really
from halfsplit.diagnosis.outlook import Outlook, Reading
from halfsplit.diagnosis.scale import VOLTS, Array
from halfsplit.diagnosis.slips import Slip, Way, written_wrong

STAYS = 0.75  # a mistake stays on from one touched reading to the next
STARTS_FIRST = 0.5  # it is there from the first reading it touches, else from any later one
LEAST = 1.0  # log: a run has to gain as much somewhere before it is looked at
FLAT = (1.05, 1.09, 1.13, 1.18, 1.24, 1.30)  # how much too high a meter reads whose battery is flat (bench estimate)
FLAT_READS = frozenset({"r", "d", "v", "ac", "max", "min"})


@dataclass(frozen=True)
class Mistake:
    """elsewhere: column read -> what was really there: a column, one value a row (R,), or None for nothing (about 0 V).

    factor: how many times what is there was shown. share: how often it is made beside the others (bench estimates).
    ask: the question; type: the line that owns up to it, empty where the entries themselves have to be struck.
    """

    name: str
    ask: str
    elsewhere: Mapping[int, Really] = field(default_factory=dict)
    factor: float = 1.0
    share: float = 1.0
    type: str = ""


@dataclass(frozen=True)
class Doubt:
    """A mistake that may lie behind some readings. odds: that it was made. readings: which entries, counted from 0.

    decides: the likeliest part is another one if it was made. way: where a single reading was really taken. type: as of Mistake.
    """

    name: str
    ask: str
    odds: float
    readings: tuple[int, ...]
    decides: bool = False
    single: bool = False
    way: Way | None = None
    type: str = ""


@dataclass(frozen=True)
class Run:
    """One mistake over one run of readings. inside (R,): log density of those readings. prior: log odds of this very run,
    given the mistake. weight: log of its evidence over all rows, reading by reading, the run's prior in it."""

    mistake: Mistake
    readings: tuple[int, ...]
    inside: Array
    prior: float
    weight: float


def standard_mistakes(outlook: Outlook) -> tuple[Mistake | Slip, ...]:
    """What follows from the columns themselves: mains off at the strip, the meter on the wrong kind of volts, its battery flat;
    and of single readings the prefix misread and the leads swapped."""
    columns = outlook.columns
    place = {(c.function, c.red, c.black, c.state): i for i, c in enumerate(columns)}
    live: dict[int, Really] = {i: None for i, c in enumerate(columns) if c.live and c.function in VOLTS}
    other = {"v": "ac", "ac": "v"}
    # Only where the other kind was worked out too: a reading of nothing is what mains off already explains.
    swap = {i: place.get((other[c.function], c.red, c.black, c.state)) for i, c in enumerate(columns) if c.function in other}
    swapped: dict[int, Really] = {i: really for i, really in swap.items() if really is not None}
    metered: dict[int, Really] = {i: i for i, c in enumerate(columns) if c.function in FLAT_READS}
    battery = "is the meter's battery flat? read a known source"
    return (
        Mistake("mains off", "is the set getting mains? read AC volts at its inlet", live, share=6.0),
        Mistake("wrong kind of volts", "was the meter on DC for a DC reading, and on AC for AC?", swapped, share=2.0),
        *(Mistake("flat meter battery", battery, metered, factor=f, share=0.5 / len(FLAT)) for f in FLAT),
        *written_wrong(outlook),
    )


def best_run(mistake: Mistake, readings: Sequence[Reading], plain: Array, log_prior: Array, elsewhere: Elsewhere) -> Run | None:
    """The run of readings that this mistake explains best, over all rows; None when it touches none or gains nowhere.

    plain (R, n): log density of each reading as entered. log_prior (R,): log odds of the rows.
    """
    touched = [j for j, r in enumerate(readings) if r.column in mistake.elsewhere]
    if not touched:
        return None
    found = [(readings[j], mistake.elsewhere[readings[j].column]) for j in touched]
    density = [elsewhere.density(r, really, mistake.factor) * elsewhere.steady(r, really) for r, really in found]
    with np.errstate(divide="ignore"):
        inside = np.maximum(np.log(np.stack(density, axis=1)), -700.0)
    each = inside - plain[:, touched]
    if np.maximum(each, 0.0).sum(axis=1).max() < LEAST:
        return None
    outside = plain.sum(axis=1) + log_prior
    gain = np.cumsum(np.concatenate([np.zeros((len(plain), 1)), each], axis=1), axis=1)
    first, last = np.triu_indices(len(touched))
    priors = np.array([_run_prior(int(i), int(k), len(touched)) for i, k in zip(first, last, strict=True)])
    logs = outside[:, None] + gain[:, last + 1] - gain[:, first]
    top = logs.max()
    if not np.isfinite(top):
        return None
    with np.errstate(divide="ignore"):
        weights = top + np.log(np.exp(logs - top).sum(axis=0)) + priors
    best = int(weights.argmax())
    i, k = int(first[best]), int(last[best])
    every = float(np.logaddexp.reduce(weights))
    return Run(mistake, tuple(touched[i : k + 1]), inside[:, i : k + 1].sum(axis=1), float(priors[best]), every)


def _run_prior(first: int, last: int, touched: int) -> float:
    start = 1.0 if touched == 1 else STARTS_FIRST if first == 0 else (1 - STARTS_FIRST) / (touched - 1)
    ends = 1.0 if last == touched - 1 else 1.0 - STAYS
    return float(np.log(start * STAYS ** (last - first) * ends))
