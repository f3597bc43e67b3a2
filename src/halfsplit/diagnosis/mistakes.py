"""Mistakes at the bench that last for a run of readings: mains off at the strip, AC for DC, black lead on the other ground.

They cost no solve: under a mistake a reading is another column of the same outlook, or nothing at all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from halfsplit.diagnosis.cells import cells_of
from halfsplit.diagnosis.likelihood import density
from halfsplit.diagnosis.outlook import Outlook, Reading
from halfsplit.diagnosis.scale import VOLTS, Array, MeterAccuracy, scale_of

STAYS = 0.75  # a mistake stays on from one touched reading to the next
STARTS_FIRST = 0.5  # it is there from the first reading it touches, else from any later one
NOTHING = 0.05  # volts read where there is nothing [V]


@dataclass(frozen=True)
class Mistake:
    """elsewhere: column read -> the column that was really read, or None for nothing there (about 0 V)."""

    name: str
    ask: str
    elsewhere: Mapping[int, int | None] = field(default_factory=dict)


@dataclass(frozen=True)
class Doubt:
    """A mistake that may lie behind some readings. odds: that it was made. readings: which entries, counted from 0."""

    name: str
    ask: str
    odds: float
    readings: tuple[int, ...]


@dataclass(frozen=True)
class Run:
    """One mistake over one run of readings. inside (R,): log density of those readings. prior: log odds of this very run,
    given the mistake. weight: log of its evidence over all rows, reading by reading, the run's prior in it."""

    mistake: Mistake
    readings: tuple[int, ...]
    inside: Array
    prior: float
    weight: float


def standard_mistakes(outlook: Outlook) -> tuple[Mistake, ...]:
    """Mains off at the strip, and the meter on the wrong kind of volts; both follow from the columns themselves."""
    columns = outlook.columns
    place = {(c.function, c.red, c.black, c.state): i for i, c in enumerate(columns)}
    live: dict[int, int | None] = {i: None for i, c in enumerate(columns) if c.live and c.function in VOLTS}
    other = {"v": "ac", "ac": "v"}
    # Only where the other kind was worked out too: a reading of nothing is what mains off already explains.
    swap = {i: place.get((other[c.function], c.red, c.black, c.state)) for i, c in enumerate(columns) if c.function in other}
    swapped: dict[int, int | None] = {i: really for i, really in swap.items() if really is not None}
    return (
        Mistake("mains off", "is the set getting mains? read AC volts at its inlet", live),
        Mistake("wrong kind of volts", "was the meter on DC for a DC reading, and on AC for AC?", swapped),
    )


def best_run(
    mistake: Mistake,
    outlook: Outlook,
    readings: Sequence[Reading],
    g: Array,
    draws: Array,
    log_prior: Array,
    *,
    meter: MeterAccuracy,
) -> Run | None:
    """The run of readings that this mistake explains best, over all rows; None when it touches none."""
    touched = [j for j, r in enumerate(readings) if r.column in mistake.elsewhere]
    if not touched:
        return None
    inside = _log_elsewhere(mistake, outlook, [readings[j] for j in touched], draws, meter)
    with np.errstate(divide="ignore"):
        plain = np.maximum(np.log(g), -700.0)  # an impossible reading still has to subtract from itself
    outside = plain.sum(axis=1) + log_prior
    gain = np.cumsum(np.concatenate([np.zeros((len(g), 1)), inside - plain[:, touched]], axis=1), axis=1)
    best, every = (-np.inf, 0, 0, 0.0), -np.inf
    for i in range(len(touched)):
        for k in range(i, len(touched)):
            prior = _run_prior(i, k, len(touched))
            weight = prior + float(np.logaddexp.reduce(outside + gain[:, k + 1] - gain[:, i]))
            every = float(np.logaddexp(every, weight))
            if weight > best[0]:
                best = (weight, i, k, prior)
    _, i, k, prior = best
    return Run(mistake, tuple(touched[i : k + 1]), inside[:, i : k + 1].sum(axis=1), prior, every)


def _run_prior(first: int, last: int, touched: int) -> float:
    start = 1.0 if touched == 1 else STARTS_FIRST if first == 0 else (1 - STARTS_FIRST) / (touched - 1)
    ends = 1.0 if last == touched - 1 else 1.0 - STAYS
    return float(np.log(start * STAYS ** (last - first) * ends))


def _log_elsewhere(mistake: Mistake, outlook: Outlook, readings: Sequence[Reading], draws: Array, meter: MeterAccuracy) -> Array:
    """(R, touched) log density of each reading where it was really taken."""
    out = np.empty((len(outlook.rows), len(readings)))
    for j, reading in enumerate(readings):
        really = mistake.elsewhere[reading.column]
        if really is not None:
            cells = cells_of(outlook, [_as_shown(reading, outlook, really)], meter=meter, at=[really])
            out[:, j] = np.log(density(cells, draws).g[:, 0])
            continue
        scale = scale_of(outlook.columns[reading.column])
        x = min(abs(reading.value), 1e6)
        log_normal = -0.5 * (x / NOTHING) ** 2 - np.log(NOTHING * np.sqrt(2 * np.pi))
        out[:, j] = max(float(log_normal - np.log(scale.slope(x))), -700.0)
    return out


def _as_shown(reading: Reading, outlook: Outlook, really: int) -> Reading:
    """An AC display has no sign: DC looked for and AC read is compared as its size."""
    if outlook.columns[really].function != "ac" or reading.value >= 0:
        return reading
    return Reading(reading.column, abs(reading.value), reading.pulsing, reading.shaky)
