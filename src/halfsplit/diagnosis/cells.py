"""What the cells of the outlook say to the readings taken: numbers to compare, and events (OL, unknown, exact counts).

Everything here has the axes rows, readings, draws.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from halfsplit.diagnosis.facts import numbered
from halfsplit.diagnosis.outlook import Column, Outlook, Reading
from halfsplit.diagnosis.scale import METER, VOLTS, Array, MeterAccuracy, Scale, noise, scale_of, span_on_scale
from halfsplit.errors import InputError

Bools = NDArray[np.bool_]
NO_CONTACT = 0.008  # per reading: the probe did not touch
JUNK = 0.004  # per reading: wrong pin, wrong prefix, slip of the pen
SHAKY = 8.0  # how much likelier both are when the hand was not sure (bench estimate)
TAIL = 0.07  # share of readings three times as far off as stated
PULSE_SHOWN = {True: 0.6, False: 0.01}  # P(display moves | predicted to move or not)
_erf = np.frompyfunc(math.erf, 1, 1)


def upper_tail(t: Array) -> Array:
    """P(standard normal > t)."""
    return 0.5 - 0.5 * np.asarray(_erf(np.asarray(t) / math.sqrt(2.0)), dtype=np.float64)


@dataclass(frozen=True)
class Slips:
    """Per reading (n,): probability that it says nothing about its column, and the density it then has. [1, 1/scale]"""

    chance: Array
    density: Array
    span: Array

    @property
    def mass(self) -> Array:
        return self.chance * self.density


@dataclass(frozen=True)
class Cells:
    """found (n,) on the scale, finite where it is a number. predicted (R, n, D) on the scale; where `number` is False the
    cell speaks through `event` (R, n, D), its log probability with slips already in it. steady (R, n): log odds of the
    display standing as it stood. gain, model, own (R, n): standard deviations. function, fact (n,): which share errors."""

    found: Array
    predicted: Array
    number: Bools
    event: Array
    steady: Array
    gain: Array
    model: Array
    own: Array
    function: tuple[str, ...]
    fact: NDArray[np.int64]
    slips: Slips

    @property
    def width(self) -> Array:
        return np.asarray(np.sqrt(self.gain**2 + self.model**2 + self.own**2))

    def rows(self, some: NDArray[np.int64]) -> Cells:
        """These rows, in this order and as often as named."""
        kept = {k: getattr(self, k)[some] for k in ("predicted", "number", "event", "steady", "gain", "model", "own")}
        return replace(self, **kept)


def slips_of(columns: Sequence[Column], readings: Sequence[Reading], on: bool) -> Slips:
    """Chance and density of nonsense for each reading; all zero chance when slips are switched off."""
    span = np.array([span_on_scale(c) for c in columns])
    chance, density = np.zeros(len(span)), 1.0 / span
    if on:
        for j, (column, reading) in enumerate(zip(columns, readings, strict=True)):
            times = SHAKY if reading.shaky else 1.0
            idle = idle_density(scale_of(column), reading.value) * NO_CONTACT
            chance[j] = times * (NO_CONTACT + JUNK)
            density[j] = (idle + JUNK / span[j]) / (NO_CONTACT + JUNK)
    return Slips(chance, density, span)


def idle_density(scale: Scale, x: float) -> float:
    """Density on the scale of reading x with no probe touching: volts within 60 mV of zero, OL in ohms and diode test."""
    if scale.idle == "ol":
        return 0.0 if math.isfinite(x) else 1.0
    if scale.idle != "zero" or not math.isfinite(x):
        return 0.0
    if scale.kind == "signed":
        return math.exp(-0.5 * (x / 0.06) ** 2) / (0.06 * math.sqrt(2 * math.pi)) / float(scale.slope(x))
    off = float(scale.forward(x) - scale.forward(0.0))
    return math.exp(-0.5 * (off / 0.3) ** 2) / (0.3 * math.sqrt(2 * math.pi))


def check(outlook: Outlook, readings: Sequence[Reading]) -> None:
    """Raise InputError for a reading without a column or a table whose shape does not fit its names."""
    shape = (len(outlook.rows), len(outlook.columns))
    if outlook.value.shape[:2] != shape or outlook.pulsing.shape != shape:
        raise InputError(f"the outlook has {shape} rows and columns but a table of {outlook.value.shape}; build it anew")
    for reading in readings:
        if not 0 <= reading.column < shape[1]:
            raise InputError(f"a reading names column {reading.column}, but the outlook has {shape[1]}; build the outlook first")
        if math.isnan(reading.value):
            raise InputError(f"the reading at {outlook.columns[reading.column].key!r} is not a number; enter it again, or OL")


def cells_of(
    outlook: Outlook,
    readings: Sequence[Reading],
    *,
    meter: MeterAccuracy = METER,
    slips: bool = True,
    at: Sequence[int] | None = None,
    rows: NDArray[np.int64] | None = None,
) -> Cells:
    """Compare readings with the table. at: the column each reading really came from (default: the one it names)."""
    check(outlook, readings)
    where = [r.column for r in readings] if at is None else list(at)
    columns = [outlook.columns[c] for c in where]
    pick = np.arange(len(outlook.rows)) if rows is None else rows
    nonsense = slips_of(columns, readings, slips)
    shape = (len(pick), len(where), outlook.value.shape[2])
    out = {k: np.zeros(shape[:2]) for k in ("steady", "gain", "model", "own")}
    predicted, event, number = np.zeros(shape), np.zeros(shape), np.zeros(shape, dtype=bool)
    found = np.zeros(len(where))
    for j, (column, reading) in enumerate(zip(columns, readings, strict=True)):
        x, moves = outlook.value[pick, where[j], :], outlook.pulsing[pick, where[j]]
        near = nearest(x, reading.value, column.limit)
        n = noise(column, near, moves | reading.pulsing, meter)
        out["gain"][:, j], out["model"][:, j], out["own"][:, j] = n.gain, n.model, n.own
        if column.function in VOLTS and slips:
            shown = np.where(moves, PULSE_SHOWN[True], PULSE_SHOWN[False])
            out["steady"][:, j] = np.log(shown if reading.pulsing else 1.0 - shown)
        found[j] = scale_of(column).forward(reading.value)
        predicted[:, j, :] = scale_of(column).forward(x)
        number[:, j, :] = np.isfinite(x) & np.isfinite(reading.value) & (column.function != "count")
        event[:, j, :] = event_log(column, x, reading.value, n.total[:, None], nonsense, j)
    function = tuple(c.function for c in columns)
    return Cells(
        found,
        predicted,
        number,
        event,
        out["steady"],
        out["gain"],
        out["model"],
        out["own"],
        function,
        numbered(columns),
        nonsense,
    )


def nearest(x: Array, found: float, limit: float) -> Array:
    """(R,) the value at which a row's noise is taken: the found one where the row's draws reach it, else the draw
    nearest to it. One width a row keeps one Cholesky a row, and it is right where the density is not negligible."""
    finite = np.isfinite(x)
    top = float(limit if math.isfinite(limit) else 0.0) if math.isinf(found) else found
    low = np.where(finite, x, np.inf).min(axis=1)
    high = np.where(finite, x, -np.inf).max(axis=1)
    return np.where(finite.any(axis=1), np.clip(top, np.minimum(low, high), high), top)


def event_log(column: Column, x: Array, found: float, width: Array, slips: Slips, j: int) -> Array:
    """Log probability of the reading in cells that are not compared as numbers; nonsense already mixed in."""
    if column.function == "count":
        core = np.isclose(x, found, rtol=1e-9, atol=1e-9).astype(np.float64)
    elif math.isinf(found):
        core = np.where(np.isinf(x), 1.0, 0.0)
        if math.isfinite(column.limit):
            scale = scale_of(column)
            finite = np.isfinite(x)
            t = (scale.forward(column.limit) - scale.forward(np.where(finite, x, 0.0))) / width
            core = np.where(finite, upper_tail(t), core)
    else:
        core = np.zeros_like(x)  # an open reading predicted, a number found: only a slip makes that
    core = np.where(np.isnan(x), 1.0 / slips.span[j], core)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log((1.0 - slips.chance[j]) * core + slips.mass[j]))
