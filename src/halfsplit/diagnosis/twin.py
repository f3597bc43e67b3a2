"""A good twin's readings: the other channel, or a unit of the same kind that works.

A twin shares what is not known of the design (a value nobody could read is the same in both), and not its tolerances. So its
readings say nothing of a fault here; they say which of the drawn units is built like this one. Each healthy unit is weighed by the
density of the twin's readings, as wide as the meter and the tolerances make it, and the bands that are shown tighten. The odds
are left alone: weighed so, the few draws of each fault starve, and they got worse (docs/notes/weighing.md).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.diagnosis.outlook import Outlook, Reading
from halfsplit.diagnosis.posterior import healthy_row
from halfsplit.diagnosis.scale import METER, Array, MeterAccuracy, noise, scale_of

UNLIKE = 4.0  # widths to the nearest drawn unit from which on this is no twin, or was read elsewhere
LEAST = 8.0  # units that are to be left, so that a band is not one unit's luck (bench estimate)


@dataclass(frozen=True)
class Twin:
    """units (draws,): log weight of each drawn unit, summing to one. unlike: readings, counted from 0, that no unit shows."""

    units: Array
    unlike: tuple[int, ...]


def units_like(outlook: Outlook, readings: Sequence[Reading], apart: Array, *, meter: MeterAccuracy = METER) -> Twin | None:
    """Which drawn units are built like the twin; None where nothing it shows can be compared.

    readings: of the twin, in the outlook's columns. apart (readings,): what tolerances alone make of each, standard deviation on
    the scale.
    """
    healthy = healthy_row(outlook.rows)
    if healthy is None or not readings:
        return None
    count = outlook.value.shape[2]
    log, unlike, compared = np.zeros(count), [], 0
    for j, reading in enumerate(readings):
        x = outlook.value[healthy, reading.column]
        if np.isnan(x).all() or not np.isfinite(x).any() and np.isinf(reading.value):
            continue
        distance = _distance(
            outlook, reading, x, float(apart[j]), bool(outlook.pulsing[healthy, reading.column]) or reading.pulsing, meter
        )
        if not np.nanmin(distance) < UNLIKE:
            unlike.append(j)
            continue
        compared += 1
        log -= 0.5 * np.minimum(np.where(np.isnan(distance), UNLIKE, distance), 2 * UNLIKE) ** 2
    if not compared:
        return Twin(_one(np.zeros(count)), tuple(unlike)) if unlike else None
    return Twin(_one(_tempered(log) * log), tuple(unlike))


def _distance(outlook: Outlook, reading: Reading, x: Array, apart: float, pulsing: bool, meter: MeterAccuracy) -> Array:
    """(draws,) widths between the reading and each unit; inf where one of them is open and the other is not."""
    column = outlook.columns[reading.column]
    scale, finite = scale_of(column), np.isfinite(x)
    if np.isinf(reading.value):
        return np.where(np.isnan(x), np.nan, np.where(np.isinf(x), 0.0, np.inf))
    near = np.where(finite, x, 0.0)
    width = np.hypot(noise(column, near, pulsing, meter).total, np.sqrt(2.0) * apart)  # the twin's tolerances and the unit's
    off = np.abs(scale.forward(reading.value) - scale.forward(near)) / width
    return np.where(finite, off, np.where(np.isnan(x), np.nan, np.inf))


def _one(log: Array) -> Array:
    return np.asarray(log - np.logaddexp.reduce(log))


def _tempered(log: Array) -> float:
    """Largest power, up to 1, of the weights that leaves enough units (effective number, Kish; recalled)."""
    low, high = 0.0, 1.0
    for first in (True, *([False] * 20)):
        power = 1.0 if first else 0.5 * (low + high)
        enough = 1.0 / float((np.exp(_one(power * log)) ** 2).sum()) >= min(LEAST, len(log))
        low, high = (power, high) if enough else (low, power)
        if low == 1.0:
            break
    return low
