"""What the cells of the outlook say to the readings taken: numbers to compare, and events (OL, unknown, exact counts).

Everything here has the axes rows, readings, draws.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from halfsplit.diagnosis.elsewhere import Elsewhere
from halfsplit.diagnosis.facts import numbered
from halfsplit.diagnosis.outlook import Column, Outlook, Reading
from halfsplit.diagnosis.scale import JUNK, METER, PULSE_SHOWN, VOLTS, Array, MeterAccuracy, Scale, noise, scale_of, span_on_scale
from halfsplit.diagnosis.sizes import sized_density
from halfsplit.diagnosis.slips import Slip, Way
from halfsplit.errors import InputError

Bools = NDArray[np.bool_]
NO_CONTACT = 0.008  # per reading: the probe did not touch
NO_TOUCH, NONSENSE = "no contact", "nonsense"
SHAKY = 8.0  # how much likelier both are when the hand was not sure (bench estimate)
_erf = np.frompyfunc(math.erf, 1, 1)


def upper_tail(t: Array) -> Array:
    """P(standard normal > t)."""
    return 0.5 - 0.5 * np.asarray(_erf(np.asarray(t) / math.sqrt(2.0)), dtype=np.float64)


@dataclass(frozen=True)
class Slips:
    """chance (n,): probability that a reading says nothing about its column. mass (R, n): that, times the density it then has
    under each row. span (n,): width nonsense falls in. [1, 1/scale, scale]"""

    chance: Array
    mass: Array
    span: Array


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
        return replace(self, slips=replace(self.slips, mass=self.slips.mass[some]), **kept)

    def only(self, some: Sequence[int]) -> Cells:
        """These readings alone, in this order."""
        j = list(some)
        kept = {k: getattr(self, k)[:, j] for k in ("predicted", "number", "event", "steady", "gain", "model", "own")}
        s = self.slips
        slips = Slips(s.chance[j], s.mass[:, j], s.span[j])
        function = tuple(self.function[i] for i in j)
        return replace(self, found=self.found[j], function=function, fact=self.fact[j], slips=slips, **kept)


@dataclass(frozen=True)
class Slipped:
    """One way in which one reading may be wrong. mass (R,): its chance times the density the reading then has. slip, way: None of
    no contact and nonsense."""

    name: str
    mass: Array
    slip: Slip | None = None
    way: Way | None = None


def slipped(outlook: Outlook, reading: Reading, named: Sequence[Slip], elsewhere: Elsewhere) -> tuple[list[Slipped], float]:
    """Every way in which a reading may be wrong, and the chance of all. A hand that was not sure slips more often in any way."""
    column, rows = outlook.columns[reading.column], len(outlook.rows)
    times = SHAKY if reading.shaky else 1.0
    idle = idle_density(scale_of(column), reading.value)
    out = [
        Slipped(NO_TOUCH, np.full(rows, times * NO_CONTACT * idle)),
        Slipped(NONSENSE, np.full(rows, times * JUNK / span_on_scale(column))),
    ]
    chance = times * (NO_CONTACT + JUNK)
    for slip in named:
        for way in slip.ways.get(reading.column, ()):
            if abs(reading.value / way.factor) < way.least:
                continue
            mine = times * slip.chance * way.share
            chance += mine
            out.append(Slipped(slip.name, mine * elsewhere.density(reading, way.column, way.factor), slip, way))
    return out, chance


def slips_of(outlook: Outlook, readings: Sequence[Reading], on: bool, named: Sequence[Slip], elsewhere: Elsewhere) -> Slips:
    """Chance and mass of being wrong for each reading; all nought when slips are switched off."""
    span = np.array([span_on_scale(outlook.columns[r.column]) for r in readings])
    chance, mass = np.zeros(len(span)), np.zeros((len(outlook.rows), len(span)))
    if on:
        for j, reading in enumerate(readings):
            ways, chance[j] = slipped(outlook, reading, named, elsewhere)
            mass[:, j] = np.sum([w.mass for w in ways], axis=0)
    return Slips(chance, mass, span)


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
    named: Sequence[Slip] = (),
    elsewhere: Elsewhere | None = None,
) -> Cells:
    """Compare readings with the table. named: slips that may lie behind one reading, beside no contact and nonsense; elsewhere:
    what readings say at other places, kept by the caller."""
    check(outlook, readings)
    where = [r.column for r in readings]
    columns = [outlook.columns[c] for c in where]
    nonsense = slips_of(outlook, readings, slips, named, elsewhere or Elsewhere(outlook, meter))
    shape = (len(outlook.rows), len(where), outlook.value.shape[2])
    out = {k: np.zeros(shape[:2]) for k in ("steady", "gain", "model", "own")}
    predicted, event, number = np.zeros(shape), np.zeros(shape), np.zeros(shape, dtype=bool)
    found = np.zeros(len(where))
    for j, (column, reading) in enumerate(zip(columns, readings, strict=True)):
        x, moves = outlook.value[:, where[j], :], outlook.pulsing[:, where[j]]
        near = nearest(x, reading.value, column.limit)
        n = noise(column, near, moves | reading.pulsing, meter)
        out["gain"][:, j], out["model"][:, j], out["own"][:, j] = n.gain, n.model, n.own
        if column.function in VOLTS and slips:
            shown = np.where(moves, PULSE_SHOWN[True], PULSE_SHOWN[False])
            out["steady"][:, j] = np.log(shown if reading.pulsing else 1.0 - shown)
        found[j] = scale_of(column).forward(reading.value)
        predicted[:, j, :] = scale_of(column).forward(x)
        if reading.sized is None or math.isinf(reading.value):
            number[:, j, :] = np.isfinite(x) & np.isfinite(reading.value) & (column.function != "count")
            event[:, j, :] = event_log(column, x, reading.value, n.total[:, None], nonsense, j)
        else:
            core = sized_density(column, x, reading.value, n.total[:, None], reading.sized)
            event[:, j, :] = _mixed(np.where(np.isnan(x), 1.0 / nonsense.span[j], core), nonsense, j)
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
    return _mixed(np.where(np.isnan(x), 1.0 / slips.span[j], core), slips, j)


def _mixed(core: Array, slips: Slips, j: int) -> Array:
    """(R, D) log of a density with every way of being wrong beside it."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.log((1.0 - slips.chance[j]) * core + slips.mass[:, j, None]))
